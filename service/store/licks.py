"""Licks and their revisions."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import aiosqlite

from service.store.groups import pool_changed

IN_POOL, DRAFT, REVIEWED, RETIRED = "pool", "draft", "reviewed", "retired"
TAKEN_DOWN, ERASED = "taken-down", "erased"
LIVING = (IN_POOL, DRAFT, REVIEWED)  # not retired


@dataclass(frozen=True, slots=True)
class Borrowed:
    """Where a borrowed lick comes from: a group's name, its lick and revision; ``rights`` is JSON, as they were then."""

    group: str
    lick: int
    revision: int
    rights: str
    borrowed: str


@dataclass(frozen=True, slots=True)
class LickRow:
    """``member_id`` and ``by`` are who sent it in; ``said`` what an organiser told them with the last decision."""

    number: int
    revision: int
    state: str
    body: str
    facts: str | None = None
    member_id: int | None = None
    by: str | None = None
    said: str | None = None
    borrowed: Borrowed | None = None


def _row(row: Sequence[Any]) -> LickRow:
    number, revision, state, body, facts, member_id, by, said, *borrowed = row
    came_from = None if borrowed[0] is None else Borrowed(*borrowed)
    return LickRow(number, revision, state, body, facts, member_id, by, said, came_from)


_JOINED = (
    "SELECT l.number, r.revision, CASE WHEN l.erased IS NOT NULL THEN 'erased' WHEN t.number IS NOT NULL "
    "THEN 'taken-down' ELSE l.state END, r.body, f.body, "
    "l.member_id, m.name, l.said, b.from_name, b.from_lick, b.from_revision, b.rights, b.borrowed "
    "FROM licks l LEFT JOIN taken_down t ON t.group_id = l.group_id AND t.number = l.number "
    "LEFT JOIN members m ON m.id = l.member_id "
    "LEFT JOIN borrowed b ON b.group_id = l.group_id AND b.lick = l.number "
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
    return _row(row) if row else None


@dataclass(frozen=True, slots=True)
class Sought:
    """What licks are looked for by; None is any."""

    instrument: str | None = None
    state: str | None = None
    role: str | None = None
    max_level: int | None = None
    style: str | None = None


async def licks_after(
    connection: aiosqlite.Connection,
    group_id: int,
    number: int,
    limit: int,
    rules: int,
    sought: Sought,
    among: Sequence[int] | None = None,
) -> list[LickRow]:
    """Licks in a state (None: all but retired ones) with larger numbers, in order, with their facts by this version
    of the rules; only some numbers with ``among``. Those taken down or erased are not among them.
    """
    told = (
        ("json_extract(r.body, '$.role') = ?", sought.role),
        ("json_extract(r.body, '$.level') <= ?", sought.max_level),
        ("json_extract(r.body, '$.style') = ?", sought.style),
    )
    asked = [(condition, value) for condition, value in told if value is not None]
    # what bodies tell is read from the index, before any lick is looked at
    table, first = "licks w", "w"
    if asked:
        table, first = (
            (
                "lick_revisions r INDEXED BY revisions_by_name CROSS JOIN licks w "
                "ON w.group_id = r.group_id AND w.number = r.number AND w.revision = r.revision AND r.body <> ''"
            ),
            "r",
        )
    start, given = f"{first}.number > ?", str(number)
    if among is not None:
        start, given = f"{first}.number IN (SELECT value FROM json_each(?))", f"[{','.join(map(str, among))}]"
    matching = " AND ".join((f"{first}.group_id = ?", start, *(condition for condition, _ in asked)))
    rows = await connection.execute_fetchall(
        _JOINED.format(revision="l.revision")
        + f"WHERE l.group_id = ? AND l.number IN (SELECT w.number FROM {table} WHERE {matching} "
        "AND coalesce(w.state = ?, w.state <> 'retired') AND w.erased IS NULL "
        "AND (? IS NULL OR w.instrument = ?) AND NOT EXISTS "
        "(SELECT 1 FROM taken_down d WHERE d.group_id = w.group_id AND d.number = w.number) "
        f"ORDER BY {first}.number LIMIT ?) ORDER BY l.number",
        (
            *(rules, group_id, group_id, given),
            *(value for _, value in asked),
            *(sought.state, sought.instrument, sought.instrument, limit),
        ),
    )
    return [_row(row) for row in rows]


NameRow = tuple[int, str]  # a lick's number and its name


async def names_since(
    connection: aiosqlite.Connection, group_id: int, written: int | None
) -> tuple[int, list[NameRow]]:
    """The newest row of a group's revisions, and the names in all that were written after row ``written``; None is all."""
    ((last,),) = await connection.execute_fetchall(
        "SELECT coalesce(max(rowid), 0) FROM lick_revisions INDEXED BY revisions_by_age WHERE group_id = ?",
        (group_id,),
    )
    # all names are read from an index that holds them, new ones from their rows
    index, since = ("revisions_by_name", -1) if written is None else ("revisions_by_age", written)
    rows = await connection.execute_fetchall(
        f"SELECT number, json_extract(body, '$.name') FROM lick_revisions INDEXED BY {index} "
        "WHERE group_id = ? AND rowid > ? AND body <> ''",
        (group_id, since),
    )
    return int(last), [(row[0], row[1]) for row in rows]


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
    member_id: int | None = None,
) -> int | None:
    """The new lick's number: the next free one, or ``number``, or None if that is taken."""
    if number is None:
        (number,) = connection.execute(
            "SELECT coalesce(max(number), 0) + 1 FROM licks WHERE group_id = ?", (group_id,)
        ).fetchone()
    done = connection.execute(
        "INSERT INTO licks (group_id, number, revision, instrument, tuning, state, member_id) "
        "VALUES (?, ?, 1, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
        (group_id, number, instrument, tuning, state, member_id),
    )
    if done.rowcount != 1:
        return None
    _add_revision(connection, group_id, number, 1, body, created, member_id)
    if state == IN_POOL:
        pool_changed(connection, group_id)
    return number


def _add_revision(
    connection: sqlite3.Connection,
    group_id: int,
    number: int,
    revision: int,
    body: str,
    created: str,
    member_id: int | None,
) -> None:
    connection.execute(
        "INSERT INTO lick_revisions (group_id, number, revision, body, created, member_id) VALUES (?, ?, ?, ?, ?, ?)",
        (group_id, number, revision, body, created, member_id),
    )


def change_lick(
    connection: sqlite3.Connection,
    group_id: int,
    number: int,
    instrument: str,
    tuning: str,
    body: str,
    created: str,
    expected: int,
    state: str,
    member_id: int | None,
    before: str,
) -> int | None:
    """The new revision, in ``state``; None if ``expected`` is not the newest, or the lick is not in the state ``before``."""
    done = connection.execute(
        "UPDATE licks SET revision = revision + 1, instrument = ?, tuning = ?, state = ?, "
        "said = CASE WHEN ? = 'pool' THEN NULL ELSE said END "
        "WHERE group_id = ? AND number = ? AND revision = ? AND state = ?",
        (instrument, tuning, state, state, group_id, number, expected, before),
    )
    if done.rowcount != 1:
        return None
    _add_revision(connection, group_id, number, expected + 1, body, created, member_id)
    pool_changed(connection, group_id)
    return expected + 1


def move_lick(
    connection: sqlite3.Connection,
    group_id: int,
    number: int,
    expected: int,
    state: str,
    among: Sequence[str],
    said: str | None = None,
) -> bool:
    """Put a lick that is in one of the states ``among`` into another; False if it is not, is taken down, or ``expected`` is
    not its newest revision.
    """
    done = connection.execute(
        "UPDATE licks SET state = ?, said = ? WHERE group_id = ? AND number = ? AND revision = ? "
        f"AND state IN ({', '.join('?' * len(among))}) AND NOT EXISTS (SELECT 1 FROM taken_down t "
        "WHERE t.group_id = licks.group_id AND t.number = licks.number)",
        (state, said, group_id, number, expected, *among),
    )
    if done.rowcount == 1:
        pool_changed(connection, group_id)
    return done.rowcount == 1


@dataclass(frozen=True, slots=True)
class RevisionRow:
    """``by`` is the name of the member who wrote it, if known."""

    revision: int
    created: str
    by: str | None


def revisions_of(connection: sqlite3.Connection, group_id: int, number: int) -> list[RevisionRow]:
    """Newest first."""
    rows = connection.execute(
        "SELECT r.revision, r.created, m.name FROM lick_revisions r LEFT JOIN members m ON m.id = r.member_id "
        "WHERE r.group_id = ? AND r.number = ? ORDER BY r.revision DESC",
        (group_id, number),
    )
    return [RevisionRow(*row) for row in rows]


def licks_of(connection: sqlite3.Connection, group_id: int, member_id: int) -> list[int]:
    """Numbers of the licks that a member sent in."""
    rows = connection.execute(
        "SELECT number FROM licks WHERE group_id = ? AND member_id = ? ORDER BY number", (group_id, member_id)
    )
    return [int(row[0]) for row in rows]
