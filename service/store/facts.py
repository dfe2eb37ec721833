"""What was judged of licks, kept by revision and version of the rules."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

import aiosqlite

MOST_VALUES = 300  # rows asked for at once


@dataclass(frozen=True, slots=True)
class FactsRow:
    """``body`` is JSON; ``shape`` is what twins are found by, ``identity`` what two equal licks share; ``packed`` is what
    composing looks at."""

    number: int
    revision: int
    body: str
    shape: bytes
    identity: bytes
    packed: bytes = b""


Columns = list[
    tuple[int, int, bytes | None]
]  # (number, revision, packed) by rising number; None: not judged yet


async def lick_facts(
    connection: aiosqlite.Connection, group_id: int, rules: int, wanted: Sequence[tuple[int, int]]
) -> list[FactsRow]:
    """Facts of these (number, revision), as far as there are any of this version."""
    found: list[FactsRow] = []
    for start in range(0, len(wanted), MOST_VALUES):
        part = wanted[start : start + MOST_VALUES]
        marks = ", ".join("(?, ?)" for _ in part)
        rows = await connection.execute_fetchall(
            "SELECT number, revision, body, shape, identity FROM lick_facts WHERE group_id = ? AND rules = ? "
            f"AND (number, revision) IN (VALUES {marks})",
            [group_id, rules, *(value for pair in part for value in pair)],
        )
        found.extend(FactsRow(*row) for row in rows)
    return found


async def pool_shapes(
    connection: aiosqlite.Connection, group_id: int, instrument: str, rules: int
) -> dict[int, bytes]:
    """Shapes of every lick of the pool for an instrument, by number."""
    rows = await connection.execute_fetchall(
        "SELECT f.number, f.shape FROM lick_facts f JOIN licks l ON l.group_id = f.group_id "
        "AND l.number = f.number AND l.revision = f.revision "
        "WHERE f.group_id = ? AND f.rules = ? AND l.state = 'pool' AND l.instrument = ?",
        (group_id, rules, instrument),
    )
    return {int(row[0]): bytes(row[1]) for row in rows}


async def pool_columns(
    connection: aiosqlite.Connection, group_id: int, instrument: str, tuning: str, rules: int
) -> Columns:
    """Every lick of the pool for one instrument and tuning."""
    rows = await connection.execute_fetchall(
        "SELECT l.number, l.revision, c.packed FROM licks l LEFT JOIN lick_columns c ON c.group_id = l.group_id "
        "AND c.number = l.number AND c.revision = l.revision AND c.rules = ? "
        "WHERE l.group_id = ? AND l.state = 'pool' AND l.instrument = ? AND l.tuning = ? ORDER BY l.number",
        (rules, group_id, instrument, tuning),
    )
    return list(rows)  # type: ignore[arg-type]


async def judged_over(
    connection: aiosqlite.Connection, group_id: int, rules: int, ground: bytes
) -> list[tuple[int, int, bytes]]:
    """Everything judged over a ground, in order of number and revision."""
    rows = await connection.execute_fetchall(
        "SELECT number, revision, packed FROM phrase_facts WHERE group_id = ? AND ground = ? AND rules = ? "
        "ORDER BY number, revision",
        (group_id, ground, rules),
    )
    return list(rows)  # type: ignore[arg-type]


def keep_lick_facts(
    connection: sqlite3.Connection, group_id: int, rules: int, rows: Sequence[FactsRow]
) -> None:
    """Store facts, over those of another version."""
    connection.executemany(
        "INSERT OR REPLACE INTO lick_facts (group_id, number, revision, rules, body, shape, identity) "
        "SELECT ?, ?, ?, ?, ?, ?, ? WHERE EXISTS (SELECT 1 FROM lick_revisions "
        "WHERE group_id = ? AND number = ? AND revision = ?)",
        [
            (
                group_id,
                row.number,
                row.revision,
                rules,
                row.body,
                row.shape,
                row.identity,
                group_id,
                row.number,
                row.revision,
            )
            for row in rows
        ],
    )
    connection.executemany(
        "INSERT OR REPLACE INTO lick_columns (group_id, number, revision, rules, packed) "
        "SELECT ?, ?, ?, ?, ? WHERE EXISTS (SELECT 1 FROM lick_revisions "
        "WHERE group_id = ? AND number = ? AND revision = ?)",
        [
            (group_id, row.number, row.revision, rules, row.packed, group_id, row.number, row.revision)
            for row in rows
        ],
    )


def keep_phrase_facts(
    connection: sqlite3.Connection,
    group_id: int,
    rules: int,
    ground: bytes,
    rows: Sequence[tuple[int, int, bytes]],
) -> None:
    """Store what was judged over a ground, over that of another version: (number, revision, packed)."""
    connection.executemany(
        "INSERT OR REPLACE INTO phrase_facts (group_id, ground, number, revision, rules, packed) "
        "SELECT ?, ?, ?, ?, ?, ? WHERE EXISTS (SELECT 1 FROM lick_revisions "
        "WHERE group_id = ? AND number = ? AND revision = ?)",
        [
            (group_id, ground, number, revision, rules, packed, group_id, number, revision)
            for number, revision, packed in rows
        ],
    )


def same_lick(
    connection: sqlite3.Connection,
    group_id: int,
    identity: bytes,
    but: int | None,
    among: Sequence[str] = ("pool",),
) -> int | None:
    """The number of a lick in one of these states that is the same, note for note, other than ``but``."""
    row = connection.execute(
        "SELECT l.number FROM lick_facts f JOIN licks l ON l.group_id = f.group_id AND l.number = f.number "
        "AND l.revision = f.revision WHERE f.group_id = ? AND f.identity = ? "
        f"AND l.state IN ({', '.join('?' * len(among))}) AND l.number IS NOT ? ORDER BY l.number LIMIT 1",
        (group_id, identity, *among, but),
    ).fetchone()
    return int(row[0]) if row else None


async def last_group(connection: aiosqlite.Connection) -> int:
    """The highest id of a group; 0 where there is none."""
    ((last,),) = await connection.execute_fetchall("SELECT coalesce(max(id), 0) FROM groups")
    return int(last)


async def without_facts(
    connection: aiosqlite.Connection, rules: int, begins: str, first: int, last: int
) -> list[tuple[int, int, int]]:
    """(group id, number, revision) of licks in the pools of these groups that have no facts of this version, or whose facts
    (JSON) do not begin so."""
    rows = await connection.execute_fetchall(
        "SELECT l.group_id, l.number, l.revision FROM licks l LEFT JOIN lick_facts f ON f.group_id = l.group_id "
        "AND f.number = l.number AND f.revision = l.revision AND f.rules = ? AND substr(f.body, 1, length(?)) = ? "
        "WHERE l.group_id BETWEEN ? AND ? AND l.state = 'pool' AND f.number IS NULL ORDER BY l.group_id, l.number",
        (rules, begins, begins, first, last),
    )
    return [(int(row[0]), int(row[1]), int(row[2])) for row in rows]
