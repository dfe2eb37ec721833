"""Breaks that have codes, and which were served."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class BreakRow:
    """A break for good; ``setting`` and ``licks`` are JSON."""

    code: str
    identity: bytes
    tune_id: int
    tune_revision: int
    setting: str
    licks: str


@dataclass(frozen=True, slots=True)
class NumberRow:
    """What number a break has in a snapshot: number and total are decimal digits of any length."""

    snapshot: str
    number: str
    total: str


_COLUMNS = "code, identity, tune_id, tune_revision, setting, licks"


def break_by_code(connection: sqlite3.Connection, group_id: int, code: str) -> BreakRow | None:
    row = connection.execute(
        f"SELECT {_COLUMNS} FROM breaks WHERE group_id = ? AND code = ?", (group_id, code)
    ).fetchone()
    return BreakRow(*row) if row else None


def latest_number(connection: sqlite3.Connection, group_id: int, code: str) -> NumberRow | None:
    """The number a break was last given."""
    row = connection.execute(
        "SELECT snapshot, number, total FROM break_numbers WHERE group_id = ? AND code = ? "
        "ORDER BY id DESC LIMIT 1",
        (group_id, code),
    ).fetchone()
    return NumberRow(*row) if row else None


def code_of_number(connection: sqlite3.Connection, group_id: int, snapshot: str, number: str) -> str | None:
    row = connection.execute(
        "SELECT code FROM break_numbers WHERE group_id = ? AND snapshot = ? AND number = ?",
        (group_id, snapshot, number),
    ).fetchone()
    return str(row[0]) if row else None


def keep_break(
    connection: sqlite3.Connection,
    group_id: int,
    codes: list[str],
    row: BreakRow,
    numbered: NumberRow,
    created: str,
) -> BreakRow:
    """Store a break under the first free of ``codes``, or find the one it has, and note its number."""
    kept = _known(connection, group_id, row.identity) or _added(connection, group_id, codes, row, created)
    if latest_number(connection, group_id, kept.code) != numbered:
        # a snapshot comes again when a lick is put back: its number is the last one given then
        connection.execute(
            "INSERT OR REPLACE INTO break_numbers (group_id, code, snapshot, number, total) VALUES (?, ?, ?, ?, ?)",
            (group_id, kept.code, numbered.snapshot, numbered.number, numbered.total),
        )
    return kept


def _known(connection: sqlite3.Connection, group_id: int, identity: bytes) -> BreakRow | None:
    row = connection.execute(
        f"SELECT {_COLUMNS} FROM breaks WHERE group_id = ? AND identity = ?", (group_id, identity)
    ).fetchone()
    return BreakRow(*row) if row else None


def _added(
    connection: sqlite3.Connection, group_id: int, codes: list[str], row: BreakRow, created: str
) -> BreakRow:
    for code in codes:
        done = connection.execute(
            f"INSERT INTO breaks (group_id, {_COLUMNS}, created) VALUES (?, ?, ?, ?, ?, ?, ?, ?) "
            "ON CONFLICT (group_id, code) DO NOTHING",
            (group_id, code, row.identity, row.tune_id, row.tune_revision, row.setting, row.licks, created),
        )
        if done.rowcount == 1:
            return replace(row, code=code)
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


def recent_breaks(connection: sqlite3.Connection, group_id: int, tune_id: int, most: int) -> list[str]:
    """The licks (JSON) of the breaks of a tune served last, the newest first."""
    rows = connection.execute(
        "SELECT b.licks FROM served s JOIN breaks b ON b.group_id = s.group_id AND b.code = s.code "
        "WHERE s.tune_id = ? AND s.group_id = ? ORDER BY s.id DESC LIMIT ?",
        (tune_id, group_id, most),
    )
    return [str(row[0]) for row in rows]


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


def forget_served(
    connection: sqlite3.Connection, tune_id: int, snapshot: str, numbers: Sequence[int]
) -> bool:
    """Let these breaks be served again; False if one of them was forgotten already."""
    done = connection.executemany(
        "DELETE FROM served WHERE tune_id = ? AND snapshot = ? AND number = ?",
        [(tune_id, snapshot, str(number)) for number in numbers],
    )
    return done.rowcount == len(numbers)
