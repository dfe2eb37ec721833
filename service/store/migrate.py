"""Numbered migrations, each applied and recorded in one transaction.

A file ``migrations/0002_votes.sql`` holds the statements of migration 2. Files already released are never
changed. ``executescript`` is avoided: it commits first and would leave half a migration behind.
"""

import re
import sqlite3
from collections.abc import Iterator
from importlib.resources import files

from service.errors import BreakwrightError

_NAME = re.compile(r"(\d{4})_(\w+)\.sql$")


class NewerDatabase(BreakwrightError):
    """The database was made by a newer release."""


def migrations() -> list[tuple[int, str, str]]:
    """(number, name, SQL) in order."""
    found = []
    for entry in files("service.store").joinpath("migrations").iterdir():
        match = _NAME.match(entry.name)
        if match:
            found.append((int(match.group(1)), match.group(2), entry.read_text(encoding="utf-8")))
    return sorted(found)


def statements(sql: str) -> Iterator[str]:
    """The single statements of a script; a trigger's inner semicolons do not split it."""
    pending = ""
    for line in sql.splitlines(keepends=True):
        pending += line
        if sqlite3.complete_statement(pending):
            if pending.strip():
                yield pending.strip()
            pending = ""
    if pending.strip():
        yield pending.strip()


def migrate(connection: sqlite3.Connection) -> list[str]:
    """Apply what is missing; returns the names applied. The connection is in autocommit mode.

    Raises NewerDatabase if the database knows migrations that this release does not.
    """
    connection.execute(
        "CREATE TABLE IF NOT EXISTS migrations "
        "(number INTEGER PRIMARY KEY, name TEXT NOT NULL, applied TEXT NOT NULL DEFAULT CURRENT_TIMESTAMP) STRICT"
    )
    known = migrations()
    newest = connection.execute("SELECT max(number) FROM migrations").fetchone()[0] or 0
    if known and newest > known[-1][0]:
        raise NewerDatabase("newer-database", newest=newest, known=known[-1][0])
    applied: list[str] = []
    for number, name, sql in known:
        connection.execute("BEGIN IMMEDIATE")
        try:
            done = connection.execute("SELECT 1 FROM migrations WHERE number = ?", (number,)).fetchone()
            if done is None:
                for statement in statements(sql):
                    connection.execute(statement)
                connection.execute("INSERT INTO migrations (number, name) VALUES (?, ?)", (number, name))
                applied.append(f"{number:04d}_{name}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
    return applied
