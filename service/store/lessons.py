"""Lessons: what a teacher sets for one member. Days are ISO dates."""

import sqlite3
from dataclasses import dataclass, replace
from typing import Any


@dataclass(frozen=True, slots=True)
class LessonRow:
    """``piece`` is what is practised; ``member_id`` whose it is, ``teacher_id`` who set it, with their numbers in the group."""

    id: int
    number: int
    member_id: int
    member: int
    teacher_id: int
    teacher: int
    piece: str
    due: str
    comment: str
    level: int | None
    shared: bool
    done: bool
    created: str


_LESSON = (
    "SELECT l.id, l.number, l.member_id, m.number, l.teacher_id, t.number, l.piece, l.due, l.comment, l.level, l.shared, "
    "l.done, l.created FROM lessons l JOIN members m ON m.id = l.member_id JOIN members t ON t.id = l.teacher_id "
)
# whoever sees a lesson: its teacher, its member, and everybody once it is shared
_SEEN = "(l.shared OR ?2 IN (l.member_id, l.teacher_id))"


def _row(row: Any) -> LessonRow:
    found = LessonRow(*row)
    return replace(found, shared=bool(found.shared), done=bool(found.done))


def lesson_seen_by(
    connection: sqlite3.Connection, group_id: int, viewer_id: int, number: int
) -> LessonRow | None:
    """None too where there is one that this member may not see."""
    row = connection.execute(
        _LESSON + f"WHERE l.group_id = ?1 AND {_SEEN} AND l.number = ?3", (group_id, viewer_id, number)
    ).fetchone()
    return _row(row) if row else None


def lessons_seen_by(
    connection: sqlite3.Connection,
    group_id: int,
    viewer_id: int,
    member: int | None,
    after: int,
    limit: int,
) -> list[LessonRow]:
    """In the order they were set; of one member, by number, if asked for."""
    rows = connection.execute(
        _LESSON
        + f"WHERE l.group_id = ?1 AND {_SEEN} AND (?3 IS NULL OR m.number = ?3) AND l.number > ?4 ORDER BY l.number LIMIT ?5",
        (group_id, viewer_id, member, after, limit),
    )
    return [_row(row) for row in rows]


def add_lesson(
    connection: sqlite3.Connection,
    group_id: int,
    member_id: int,
    teacher_id: int,
    piece: str,
    due: str,
    comment: str,
    level: int | None,
    created: str,
) -> int:
    """The new lesson's number: the next of the group."""
    (number,) = connection.execute(
        "INSERT INTO lessons (group_id, number, member_id, teacher_id, piece, due, comment, level, created) "
        "SELECT ?1, coalesce(max(number), 0) + 1, ?2, ?3, ?4, ?5, ?6, ?7, ?8 FROM lessons WHERE group_id = ?1 "
        "RETURNING number",
        (group_id, member_id, teacher_id, piece, due, comment, level, created),
    ).fetchone()
    return int(number)


def drop_lesson(connection: sqlite3.Connection, lesson_id: int) -> None:
    connection.execute("DELETE FROM lessons WHERE id = ?", (lesson_id,))


def change_lesson(
    connection: sqlite3.Connection, lesson_id: int, shared: bool | None, done: bool | None
) -> None:
    """None leaves it as it is."""
    connection.execute(
        "UPDATE lessons SET shared = coalesce(?, shared), done = coalesce(?, done) WHERE id = ?",
        (shared, done, lesson_id),
    )
