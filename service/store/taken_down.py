"""Licks that were taken down, and what they go back to."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from service.store.groups import pool_changed


@dataclass(frozen=True, slots=True)
class TakenDownRow:
    """``state`` is the one that the lick goes back to, ``by`` the name of the member who took it down."""

    number: int
    revision: int
    state: str
    reason: str
    created: str
    by: str | None


_JOINED = (
    "SELECT t.number, l.revision, t.state, t.reason, t.created, m.name FROM taken_down t "
    "JOIN licks l ON l.group_id = t.group_id AND l.number = t.number "
    "LEFT JOIN members m ON m.id = t.member_id "
)


def taken_down(connection: sqlite3.Connection, group_id: int, number: int) -> TakenDownRow | None:
    row = connection.execute(_JOINED + "WHERE t.group_id = ? AND t.number = ?", (group_id, number)).fetchone()
    return TakenDownRow(*row) if row else None


def taken_down_after(
    connection: sqlite3.Connection, group_id: int, number: int, limit: int
) -> list[TakenDownRow]:
    """Those with larger numbers, in order."""
    rows = connection.execute(
        _JOINED + "WHERE t.group_id = ? AND t.number > ? ORDER BY t.number LIMIT ?", (group_id, number, limit)
    )
    return [TakenDownRow(*row) for row in rows]


def first_taken_down(connection: sqlite3.Connection, group_id: int, numbers: Sequence[int]) -> int | None:
    """The least of these numbers whose lick is taken down or erased; None if none is."""
    return min(taken_down_among(connection, group_id, numbers), default=None)


def taken_down_among(connection: sqlite3.Connection, group_id: int, numbers: Sequence[int]) -> frozenset[int]:
    """Those of these numbers whose lick is taken down or erased."""
    wanted = sorted(set(numbers))
    marks = ", ".join("?" * len(wanted))
    rows = connection.execute(
        f"SELECT number FROM taken_down WHERE group_id = ? AND number IN ({marks}) "
        f"UNION SELECT number FROM licks WHERE group_id = ? AND number IN ({marks}) AND erased IS NOT NULL",
        (group_id, *wanted) * 2,
    )
    return frozenset(int(row[0]) for row in rows)


def same_lick_taken_down(
    connection: sqlite3.Connection, group_id: int, identity: bytes, but: int | None
) -> int | None:
    """The number of a lick that is the same, note for note, and is taken down, other than ``but``."""
    row = connection.execute(
        "SELECT t.number FROM lick_facts f JOIN licks l ON l.group_id = f.group_id AND l.number = f.number "
        "AND l.revision = f.revision JOIN taken_down t ON t.group_id = l.group_id AND t.number = l.number "
        "WHERE f.group_id = ? AND f.identity = ? AND t.number IS NOT ? ORDER BY t.number LIMIT 1",
        (group_id, identity, but),
    ).fetchone()
    return int(row[0]) if row else None


def take_down(
    connection: sqlite3.Connection,
    group_id: int,
    number: int,
    expected: int,
    reason: str,
    member_id: int | None,
    created: str,
) -> bool:
    """Take a lick down, or give another reason for one that is; False if ``expected`` is not its newest revision.

    The pool's version goes up in any case: breaks that hold the lick are made anew, also where it had been retired.
    """
    done = connection.execute(
        "INSERT INTO taken_down (group_id, number, state, reason, member_id, created) "
        "SELECT group_id, number, state, ?, ?, ? FROM licks WHERE group_id = ? AND number = ? AND revision = ? "
        "ON CONFLICT (group_id, number) DO UPDATE SET reason = excluded.reason, member_id = excluded.member_id",
        (reason, member_id, created, group_id, number, expected),
    )
    if done.rowcount != 1:
        return False
    connection.execute(
        "UPDATE licks SET state = 'retired' WHERE group_id = ? AND number = ?", (group_id, number)
    )
    pool_changed(connection, group_id)
    return True


def put_back(connection: sqlite3.Connection, group_id: int, number: int, state: str) -> None:
    """A lick that is taken down is so no more, and in ``state``."""
    connection.execute("DELETE FROM taken_down WHERE group_id = ? AND number = ?", (group_id, number))
    connection.execute(
        "UPDATE licks SET state = ? WHERE group_id = ? AND number = ?", (state, group_id, number)
    )
    pool_changed(connection, group_id)
