"""Breaks that have codes, and which were served."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BreakRow:
    """``setting`` and ``licks`` are JSON; number and total are decimal digits of any length."""

    code: str
    identity: bytes
    tune_id: int
    tune_revision: int
    setting: str
    licks: str
    snapshot: str
    number: str
    total: str


_COLUMNS = "code, identity, tune_id, tune_revision, setting, licks, snapshot, number, total"


def break_by_code(connection: sqlite3.Connection, group_id: int, code: str) -> BreakRow | None:
    row = connection.execute(
        f"SELECT {_COLUMNS} FROM breaks WHERE group_id = ? AND code = ?", (group_id, code)
    ).fetchone()
    return BreakRow(*row) if row else None


def break_by_number(
    connection: sqlite3.Connection, group_id: int, snapshot: str, number: str
) -> BreakRow | None:
    """A break by the number it was given in a snapshot."""
    row = connection.execute(
        f"SELECT {_COLUMNS} FROM breaks WHERE group_id = ? AND snapshot = ? AND number = ?",
        (group_id, snapshot, number),
    ).fetchone()
    return BreakRow(*row) if row else None


def keep_break(
    connection: sqlite3.Connection, group_id: int, codes: list[str], row: BreakRow, created: str
) -> BreakRow:
    """Store a break under the first free of ``codes``; the one it has already if it was stored before."""
    known = connection.execute(
        f"SELECT {_COLUMNS} FROM breaks WHERE group_id = ? AND identity = ?", (group_id, row.identity)
    ).fetchone()
    if known:
        return BreakRow(*known)
    for code in codes:
        done = connection.execute(
            f"INSERT INTO breaks (group_id, {_COLUMNS}, created) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
            "ON CONFLICT (group_id, code) DO NOTHING",
            (
                group_id,
                code,
                row.identity,
                row.tune_id,
                row.tune_revision,
                row.setting,
                row.licks,
                row.snapshot,
                row.number,
                row.total,
                created,
            ),
        )
        if done.rowcount == 1:
            return BreakRow(
                code,
                row.identity,
                row.tune_id,
                row.tune_revision,
                row.setting,
                row.licks,
                row.snapshot,
                row.number,
                row.total,
            )
    raise RuntimeError("every salted code of a break was taken")


def served_numbers(connection: sqlite3.Connection, tune_id: int, snapshot: str) -> list[int]:
    rows = connection.execute(
        "SELECT DISTINCT number FROM served WHERE tune_id = ? AND snapshot = ?", (tune_id, snapshot)
    )
    return [int(row[0]) for row in rows]


def was_served(connection: sqlite3.Connection, tune_id: int, snapshot: str, number: str) -> bool:
    row = connection.execute(
        "SELECT 1 FROM served WHERE tune_id = ? AND snapshot = ? AND number = ?", (tune_id, snapshot, number)
    )
    return row.fetchone() is not None


def remember_served(
    connection: sqlite3.Connection,
    group_id: int,
    tune_id: int,
    snapshot: str,
    number: str,
    code: str,
    created: str,
    keep: int,
) -> None:
    """Add to the history of a tune, forgetting the oldest beyond ``keep``."""
    connection.execute(
        "INSERT INTO served (group_id, tune_id, snapshot, number, code, created) VALUES (?, ?, ?, ?, ?, ?)",
        (group_id, tune_id, snapshot, number, code, created),
    )
    connection.execute(
        "DELETE FROM served WHERE tune_id = ? AND id <= ("
        "SELECT id FROM served WHERE tune_id = ? ORDER BY id DESC LIMIT 1 OFFSET ?)",
        (tune_id, tune_id, keep),
    )


def forget_served(connection: sqlite3.Connection, tune_id: int, snapshot: str) -> None:
    connection.execute("DELETE FROM served WHERE tune_id = ? AND snapshot = ?", (tune_id, snapshot))
