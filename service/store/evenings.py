"""Evenings. Records are JSON, made and read by the use cases; days are ISO dates."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class EveningRow:
    id: int
    number: int
    revision: int
    day: str
    title: str
    record: str


_EVENING = "id, number, revision, day, title, record"


def evening_by_number(connection: sqlite3.Connection, group_id: int, number: int) -> EveningRow | None:
    row = connection.execute(
        f"SELECT {_EVENING} FROM evenings WHERE group_id = ? AND number = ?", (group_id, number)
    ).fetchone()
    return EveningRow(*row) if row else None


def evenings_before(
    connection: sqlite3.Connection, group_id: int, number: int, limit: int
) -> list[EveningRow]:
    """Those planned last come first."""
    rows = connection.execute(
        f"SELECT {_EVENING} FROM evenings WHERE group_id = ? AND number < ? ORDER BY number DESC LIMIT ?",
        (group_id, number, limit),
    )
    return [EveningRow(*row) for row in rows]


def add_evening(
    connection: sqlite3.Connection, group_id: int, day: str, title: str, record: str
) -> EveningRow:
    """Under the next number of the group."""
    row = connection.execute(
        "INSERT INTO evenings (group_id, number, revision, day, title, record) "
        "SELECT ?1, coalesce(max(number), 0) + 1, 1, ?2, ?3, ?4 FROM evenings WHERE group_id = ?1 "
        f"RETURNING {_EVENING}",
        (group_id, day, title, record),
    ).fetchone()
    return EveningRow(*row)


def drop_evening(connection: sqlite3.Connection, evening_id: int) -> None:
    """What was played on it stays played on that day."""
    connection.execute("DELETE FROM evenings WHERE id = ?", (evening_id,))


def change_evening(
    connection: sqlite3.Connection,
    evening_id: int,
    expected: int,
    day: str,
    title: str,
    record: str,
) -> EveningRow | None:
    """None if it has changed since revision ``expected``."""
    row = connection.execute(
        "UPDATE evenings SET day = ?, title = ?, record = ?, revision = revision + 1 WHERE id = ? AND revision = ? "
        f"RETURNING {_EVENING}",
        (day, title, record, evening_id, expected),
    ).fetchone()
    return EveningRow(*row) if row else None
