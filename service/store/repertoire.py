"""Which tunes members know and sing, and when tunes were played. Days are ISO dates."""

import sqlite3
from dataclasses import dataclass

import aiosqlite

from service.store.tunes import TuneRow


@dataclass(frozen=True, slots=True)
class KnownRow:
    """A tune on a member's list; ``sings_in`` holds names of keys with spaces between them."""

    tune: str
    standing: str
    sings_in: str
    note: str


_KNOWN = "SELECT t.slug, k.standing, k.sings_in, k.note FROM known_tunes k JOIN tunes t ON t.id = k.tune_id "


def known_after(connection: sqlite3.Connection, member_id: int, slug: str, limit: int) -> list[KnownRow]:
    rows = connection.execute(
        _KNOWN + "WHERE k.member_id = ? AND t.slug > ? AND t.hidden IS NULL ORDER BY t.slug LIMIT ?",
        (member_id, slug, limit),
    )
    return [KnownRow(*row) for row in rows]


def keep_known(connection: sqlite3.Connection, member_id: int, tune_id: int, row: KnownRow) -> None:
    connection.execute(
        "INSERT INTO known_tunes (member_id, tune_id, standing, sings_in, note) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT DO UPDATE SET standing = excluded.standing, sings_in = excluded.sings_in, note = excluded.note",
        (member_id, tune_id, row.standing, row.sings_in, row.note),
    )


def drop_known(connection: sqlite3.Connection, member_id: int, tune_id: int) -> bool:
    done = connection.execute(
        "DELETE FROM known_tunes WHERE member_id = ? AND tune_id = ?", (member_id, tune_id)
    )
    return done.rowcount == 1


@dataclass(frozen=True, slots=True)
class KnowerRow:
    """A member who knows a tune or is learning it."""

    tune_id: int
    number: int
    name: str
    standing: str
    sings_in: str


async def knowers(connection: aiosqlite.Connection, group_id: int) -> list[KnowerRow]:
    """Of all tunes on the group's list: everybody who knows one or is learning it, by member number."""
    rows = await connection.execute_fetchall(
        "SELECT k.tune_id, m.number, m.name, k.standing, k.sings_in FROM known_tunes k "
        "JOIN tunes t ON t.id = k.tune_id JOIN members m ON m.id = k.member_id "
        "WHERE t.group_id = ? AND t.hidden IS NULL AND m.left_at IS NULL AND k.standing <> 'parked' ORDER BY m.number",
        (group_id,),
    )
    return [KnowerRow(*row) for row in rows]


async def every_tune(connection: aiosqlite.Connection, group_id: int) -> list[tuple[TuneRow, str | None]]:
    """All tunes on the group's list by name, each with the day on which it was last played."""
    rows = await connection.execute_fetchall(
        "SELECT t.id, t.slug, r.revision, r.body, (SELECT max(p.day) FROM played p WHERE p.tune_id = t.id) FROM tunes t "
        "JOIN tune_revisions r ON r.tune_id = t.id AND r.revision = t.revision "
        "WHERE t.group_id = ? AND t.hidden IS NULL ORDER BY t.slug",
        (group_id,),
    )
    return [(TuneRow(*row[:4]), row[4]) for row in rows]


def mark_played(connection: sqlite3.Connection, tune_id: int, day: str, evening_id: int | None) -> None:
    """Once a day is enough; the evening it belongs to is kept where one is named."""
    connection.execute(
        "INSERT INTO played (tune_id, day, evening_id) VALUES (?, ?, ?) "
        "ON CONFLICT DO UPDATE SET evening_id = coalesce(excluded.evening_id, evening_id)",
        (tune_id, day, evening_id),
    )


def not_played(connection: sqlite3.Connection, tune_id: int, day: str) -> bool:
    """Whether it was marked, and is no more."""
    done = connection.execute("DELETE FROM played WHERE tune_id = ? AND day = ?", (tune_id, day))
    return done.rowcount == 1


def played_on(connection: sqlite3.Connection, evening_id: int) -> list[str]:
    """The tunes of an evening that were played, by name."""
    rows = connection.execute(
        "SELECT t.slug FROM played p JOIN tunes t ON t.id = p.tune_id WHERE p.evening_id = ? ORDER BY t.slug",
        (evening_id,),
    )
    return [str(row[0]) for row in rows]
