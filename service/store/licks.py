"""Licks and their revisions."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

import aiosqlite

from service.store.groups import pool_changed

IN_POOL, DRAFT, RETIRED, TAKEN_DOWN, ERASED = "pool", "draft", "retired", "taken-down", "erased"


@dataclass(frozen=True, slots=True)
class LickRow:
    number: int
    revision: int
    state: str
    body: str
    facts: str | None = None


_JOINED = (
    "SELECT l.number, r.revision, CASE WHEN l.erased IS NOT NULL THEN 'erased' WHEN t.number IS NOT NULL "
    "THEN 'taken-down' ELSE l.state END, r.body, f.body "
    "FROM licks l LEFT JOIN taken_down t ON t.group_id = l.group_id AND t.number = l.number "
    "JOIN lick_revisions r ON r.group_id = l.group_id AND r.number = l.number AND r.revision = {revision} "
    "LEFT JOIN lick_facts f ON f.group_id = r.group_id AND f.number = r.number AND f.revision = r.revision "
    "AND f.rules = ? "
)


def lick_by_number(
    connection: sqlite3.Connection, group_id: int, number: int, rules: int, revision: int | None = None
) -> LickRow | None:
    """The newest revision of a lick, or the one asked for, with its facts by this version of the rules."""
    if revision is None:
        row = connection.execute(
            _JOINED.format(revision="l.revision") + "WHERE l.group_id = ? AND l.number = ?",
            (rules, group_id, number),
        ).fetchone()
    else:
        row = connection.execute(
            _JOINED.format(revision="?") + "WHERE l.group_id = ? AND l.number = ?",
            (revision, rules, group_id, number),
        ).fetchone()
    return LickRow(*row) if row else None


async def licks_after(
    connection: aiosqlite.Connection,
    group_id: int,
    number: int,
    limit: int,
    rules: int,
    instrument: str | None = None,
    state: str | None = None,
) -> list[LickRow]:
    """Licks in a state (None: all but retired ones) with larger numbers, in order, with their facts by this version
    of the rules. Those taken down or erased are not among them.
    """
    rows = await connection.execute_fetchall(
        _JOINED.format(revision="l.revision")
        + "WHERE l.group_id = ? AND coalesce(l.state = ?, l.state <> 'retired') AND l.number > ? "
        "AND t.number IS NULL AND l.erased IS NULL "
        "AND (? IS NULL OR l.instrument = ?) "
        "ORDER BY l.number LIMIT ?",
        (rules, group_id, state, number, instrument, instrument, limit),
    )
    return [LickRow(*row) for row in rows]


@dataclass(frozen=True, slots=True)
class FirstChoice:
    """A lick of the pool, for whoever needs its name and level only."""

    number: int
    revision: int
    name: str
    level: int


def first_choices(
    connection: sqlite3.Connection, group_id: int, numbers: Sequence[int]
) -> dict[int, FirstChoice]:
    """Those of these licks that are in the pool, by number."""
    rows = connection.execute(
        "SELECT l.number, l.revision, json_extract(r.body, '$.name'), json_extract(r.body, '$.level') FROM licks l "
        "JOIN lick_revisions r ON r.group_id = l.group_id AND r.number = l.number AND r.revision = l.revision "
        f"WHERE l.group_id = ? AND l.state = 'pool' AND l.number IN ({', '.join('?' * len(numbers))})",
        (group_id, *numbers),
    )
    return {int(row[0]): FirstChoice(*row) for row in rows}


async def pool_revisions(
    connection: aiosqlite.Connection, group_id: int, instrument: str, tuning: str
) -> list[tuple[int, int]]:
    """(number, revision) of every lick in the pool for one instrument and tuning, in order of number."""
    rows = await connection.execute_fetchall(
        "SELECT number, revision FROM licks WHERE group_id = ? AND state = 'pool' AND instrument = ? "
        "AND tuning = ? ORDER BY number",
        (group_id, instrument, tuning),
    )
    return [(int(row[0]), int(row[1])) for row in rows]


async def lick_bodies(
    connection: aiosqlite.Connection, group_id: int, wanted: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], str]:
    """Bodies by (number, revision)."""
    found: dict[tuple[int, int], str] = {}
    for start in range(0, len(wanted), 400):
        part = wanted[start : start + 400]
        marks = ", ".join("(?, ?)" for _ in part)
        values = [group_id, *(value for pair in part for value in pair)]
        rows = await connection.execute_fetchall(
            f"SELECT number, revision, body FROM lick_revisions WHERE group_id = ? "
            f"AND (number, revision) IN (VALUES {marks})",
            values,
        )
        found.update({(int(row[0]), int(row[1])): str(row[2]) for row in rows})
    return found


def add_lick(
    connection: sqlite3.Connection,
    group_id: int,
    instrument: str,
    tuning: str,
    body: str,
    created: str,
    number: int | None = None,
    state: str = IN_POOL,
) -> int | None:
    """The new lick's number: the next free one, or ``number``, or None if that is taken."""
    if number is None:
        (number,) = connection.execute(
            "SELECT coalesce(max(number), 0) + 1 FROM licks WHERE group_id = ?", (group_id,)
        ).fetchone()
    done = connection.execute(
        "INSERT INTO licks (group_id, number, revision, instrument, tuning, state) "
        "VALUES (?, ?, 1, ?, ?, ?) ON CONFLICT DO NOTHING",
        (group_id, number, instrument, tuning, state),
    )
    if done.rowcount != 1:
        return None
    connection.execute(
        "INSERT INTO lick_revisions (group_id, number, revision, body, created) VALUES (?, ?, 1, ?, ?)",
        (group_id, number, body, created),
    )
    if state == IN_POOL:
        pool_changed(connection, group_id)
    return number


def change_lick(
    connection: sqlite3.Connection,
    group_id: int,
    number: int,
    instrument: str,
    tuning: str,
    body: str,
    created: str,
    expected: int,
    state: str = IN_POOL,
) -> int | None:
    """The new revision, in ``state``; None if ``expected`` is not the newest, or the lick is retired."""
    done = connection.execute(
        "UPDATE licks SET revision = revision + 1, instrument = ?, tuning = ?, state = ? "
        "WHERE group_id = ? AND number = ? AND revision = ? AND state IN ('pool', 'draft')",
        (instrument, tuning, state, group_id, number, expected),
    )
    if done.rowcount != 1:
        return None
    connection.execute(
        "INSERT INTO lick_revisions (group_id, number, revision, body, created) VALUES (?, ?, ?, ?, ?)",
        (group_id, number, expected + 1, body, created),
    )
    pool_changed(connection, group_id)
    return expected + 1


def retire_lick(connection: sqlite3.Connection, group_id: int, number: int, expected: int) -> bool:
    done = connection.execute(
        "UPDATE licks SET state = 'retired' "
        "WHERE group_id = ? AND number = ? AND revision = ? AND state IN ('pool', 'draft')",
        (group_id, number, expected),
    )
    if done.rowcount == 1:
        pool_changed(connection, group_id)
    return done.rowcount == 1


def take_into_pool(connection: sqlite3.Connection, group_id: int, number: int, expected: int) -> bool:
    """Move a draft into the pool; False if ``expected`` is not its newest revision or it is no draft."""
    done = connection.execute(
        "UPDATE licks SET state = 'pool' WHERE group_id = ? AND number = ? AND revision = ? AND state = 'draft'",
        (group_id, number, expected),
    )
    if done.rowcount == 1:
        pool_changed(connection, group_id)
    return done.rowcount == 1


def revisions_of(connection: sqlite3.Connection, group_id: int, number: int) -> list[tuple[int, str]]:
    """(revision, created) of a lick, newest first."""
    rows = connection.execute(
        "SELECT revision, created FROM lick_revisions WHERE group_id = ? AND number = ? ORDER BY revision DESC",
        (group_id, number),
    )
    return [(int(row[0]), str(row[1])) for row in rows]


def set_author(connection: sqlite3.Connection, group_id: int, number: int, member_id: int | None) -> None:
    """Who a lick is from."""
    connection.execute(
        "UPDATE licks SET member_id = ? WHERE group_id = ? AND number = ?", (member_id, group_id, number)
    )
