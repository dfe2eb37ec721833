"""Practice logs, what members chose about them, and reminders. Days are ISO dates; a piece is what is practised."""

import sqlite3
from dataclasses import dataclass
from typing import Any

import aiosqlite


@dataclass(frozen=True, slots=True)
class LogRow:
    """``bpm`` counts ``unit``; ``id`` is 0 before it is kept."""

    id: int
    piece: str
    day: str
    bpm: int
    unit: str
    clean: bool
    passes: int
    without_tab: bool
    from_memory: bool
    minutes: int | None
    created: str


_COLUMNS = "piece, day, bpm, unit, clean, passes, without_tab, from_memory, minutes, created"
_LOG = f"SELECT id, {_COLUMNS} FROM practice_logs "


def _row(row: Any) -> LogRow:
    id_, piece, day, bpm, unit, clean, passes, without_tab, from_memory, minutes, created = row
    marks = (bool(without_tab), bool(from_memory))
    return LogRow(id_, piece, day, bpm, unit, bool(clean), passes, *marks, minutes, created)


def add_log(connection: sqlite3.Connection, member_id: int, row: LogRow) -> LogRow:
    kept = connection.execute(
        f"INSERT INTO practice_logs (member_id, {_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
        f"RETURNING id, {_COLUMNS}",
        (
            member_id,
            row.piece,
            row.day,
            row.bpm,
            row.unit,
            row.clean,
            row.passes,
            row.without_tab,
            row.from_memory,
            row.minutes,
            row.created,
        ),
    ).fetchone()
    return _row(kept)


def logs_before(connection: sqlite3.Connection, member_id: int, before: int, limit: int) -> list[LogRow]:
    """Newest first."""
    rows = connection.execute(
        _LOG + "WHERE member_id = ? AND id < ? ORDER BY id DESC LIMIT ?", (member_id, before, limit)
    )
    return [_row(row) for row in rows]


def last_logs(connection: sqlite3.Connection, member_id: int, piece: str, limit: int) -> list[LogRow]:
    """The latest of one piece, by day, oldest of them first."""
    rows = connection.execute(
        _LOG + "WHERE member_id = ? AND piece = ? ORDER BY day DESC, id DESC LIMIT ?",
        (member_id, piece, limit),
    ).fetchall()
    return [_row(row) for row in reversed(rows)]


async def every_log(connection: aiosqlite.Connection, member_id: int, piece: str | None) -> list[LogRow]:
    """All of a member's logs, or those of one piece, by day."""
    rows = await connection.execute_fetchall(
        _LOG + "WHERE member_id = ?1 AND (?2 IS NULL OR piece = ?2) ORDER BY day, id", (member_id, piece)
    )
    return [_row(row) for row in rows]


def minutes_on(connection: sqlite3.Connection, member_id: int, day: str) -> int:
    row = connection.execute(
        "SELECT coalesce(sum(minutes), 0) FROM practice_logs WHERE member_id = ? AND day = ?",
        (member_id, day),
    ).fetchone()
    return int(row[0])


def drop_log(connection: sqlite3.Connection, member_id: int, log_id: int) -> bool:
    done = connection.execute("DELETE FROM practice_logs WHERE member_id = ? AND id = ?", (member_id, log_id))
    return done.rowcount == 1


@dataclass(frozen=True, slots=True)
class ChoicesRow:
    """``shared``: the group may see how practice goes; ``reminders``: pieces known by heart come up again."""

    shared: bool
    reminders: bool


def choices(connection: sqlite3.Connection, member_id: int) -> ChoicesRow:
    """Private and quiet unless the member chose otherwise."""
    row = connection.execute(
        "SELECT shared, reminders FROM practice_choices WHERE member_id = ?", (member_id,)
    ).fetchone()
    return ChoicesRow(bool(row[0]), bool(row[1])) if row else ChoicesRow(False, False)


def keep_choices(connection: sqlite3.Connection, member_id: int, row: ChoicesRow) -> None:
    connection.execute(
        "INSERT INTO practice_choices (member_id, shared, reminders) VALUES (?, ?, ?) "
        "ON CONFLICT DO UPDATE SET shared = excluded.shared, reminders = excluded.reminders",
        (member_id, row.shared, row.reminders),
    )


@dataclass(frozen=True, slots=True)
class ReminderRow:
    piece: str
    step: int
    due: str


def reminder_of(connection: sqlite3.Connection, member_id: int, piece: str) -> ReminderRow | None:
    row = connection.execute(
        "SELECT piece, step, due FROM reminders WHERE member_id = ? AND piece = ?", (member_id, piece)
    ).fetchone()
    return ReminderRow(*row) if row else None


def reminders_until(connection: sqlite3.Connection, member_id: int, day: str) -> list[ReminderRow]:
    """What is due by a day, longest due first."""
    rows = connection.execute(
        "SELECT piece, step, due FROM reminders WHERE member_id = ? AND due <= ? ORDER BY due, piece",
        (member_id, day),
    )
    return [ReminderRow(*row) for row in rows]


def reminded(connection: sqlite3.Connection, group_id: int) -> list[int]:
    """Ids of the members of a group who keep something by heart."""
    rows = connection.execute(
        "SELECT DISTINCT member_id FROM reminders r JOIN members m ON m.id = r.member_id WHERE m.group_id = ? "
        "ORDER BY member_id",
        (group_id,),
    )
    return [int(row[0]) for row in rows]


def next_reminder(connection: sqlite3.Connection, member_id: int, after: str) -> str | None:
    """The first day after another on which something comes up."""
    (day,) = connection.execute(
        "SELECT min(due) FROM reminders WHERE member_id = ? AND due > ?", (member_id, after)
    ).fetchone()
    return None if day is None else str(day)


def keep_reminder(connection: sqlite3.Connection, member_id: int, row: ReminderRow) -> None:
    connection.execute(
        "INSERT INTO reminders (member_id, piece, step, due) VALUES (?, ?, ?, ?) "
        "ON CONFLICT DO UPDATE SET step = excluded.step, due = excluded.due",
        (member_id, row.piece, row.step, row.due),
    )


def drop_reminders(connection: sqlite3.Connection, member_id: int) -> None:
    connection.execute("DELETE FROM reminders WHERE member_id = ?", (member_id,))
