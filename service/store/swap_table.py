"""What groups share with all others, and what they borrowed."""

import sqlite3
from dataclasses import dataclass

import aiosqlite

from service.store.licks import Borrowed


@dataclass(frozen=True, slots=True)
class SharedRow:
    """A revision of a lick on the table; ``group`` is its group's name."""

    id: int
    group_id: int
    group: str
    lick: int
    revision: int
    body: str
    published: str


# What has left its group's pool (what is taken down has), or may be shared no more by its newest revision, is not on the table.
_ON_THE_TABLE = (
    "SELECT s.id, s.group_id, g.name, s.lick, s.revision, r.body, s.published FROM swap_table s "
    "JOIN groups g ON g.id = s.group_id "
    "JOIN licks l ON l.group_id = s.group_id AND l.number = s.lick AND l.state = 'pool' "
    "JOIN lick_revisions n ON n.group_id = l.group_id AND n.number = l.number AND n.revision = l.revision "
    "AND json_extract(n.body, '$.rights.may_share') "
    "JOIN lick_revisions r ON r.group_id = s.group_id AND r.number = s.lick AND r.revision = s.revision "
)


def shared(connection: sqlite3.Connection, shared_id: int) -> SharedRow | None:
    row = connection.execute(_ON_THE_TABLE + "WHERE s.id = ?", (shared_id,)).fetchone()
    return SharedRow(*row) if row else None


async def shared_before(
    connection: aiosqlite.Connection,
    before: int,
    limit: int,
    instrument: str | None = None,
    style: str | None = None,
    max_level: int | None = None,
) -> list[SharedRow]:
    """Newest first."""
    rows = await connection.execute_fetchall(
        _ON_THE_TABLE + "WHERE s.id < ? AND (? IS NULL OR json_extract(r.body, '$.instrument') = ?) "
        "AND (? IS NULL OR json_extract(r.body, '$.style') = ?) "
        "AND (? IS NULL OR json_extract(r.body, '$.level') <= ?) ORDER BY s.id DESC LIMIT ?",
        (before, instrument, instrument, style, style, max_level, max_level, limit),
    )
    return [SharedRow(*row) for row in rows]


def publish(connection: sqlite3.Connection, group_id: int, lick: int, revision: int, published: str) -> int:
    """Put a revision on the table, as the newest there, in place of another revision of the same lick. Returns its id."""
    withdraw(connection, group_id, lick)
    (shared_id,) = connection.execute(
        "INSERT INTO swap_table (group_id, lick, revision, published) VALUES (?, ?, ?, ?) RETURNING id",
        (group_id, lick, revision, published),
    ).fetchone()
    return int(shared_id)


def withdraw(connection: sqlite3.Connection, group_id: int, lick: int) -> bool:
    done = connection.execute("DELETE FROM swap_table WHERE group_id = ? AND lick = ?", (group_id, lick))
    return done.rowcount == 1


def keep_borrowed(
    connection: sqlite3.Connection, group_id: int, lick: int, from_group_id: int, borrowed: Borrowed
) -> None:
    connection.execute(
        "INSERT INTO borrowed (group_id, lick, from_group_id, from_name, from_lick, from_revision, rights, borrowed) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            group_id,
            lick,
            from_group_id,
            borrowed.group,
            borrowed.lick,
            borrowed.revision,
            borrowed.rights,
            borrowed.borrowed,
        ),
    )
