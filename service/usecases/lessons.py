"""Lessons: something to practise that a teacher sets for one member by a day. They are between the two until the member shares them;
so the trail of what organisers did does not tell of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Forbidden, NotFound
from service.store import lessons as rows
from service.store.lessons import LessonRow
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.once import Once, write_once
from service.usecases.people import find_member
from service.usecases.pieces import Piece, find_piece
from service.usecases.posting import post


@dataclass(frozen=True, slots=True)
class Wanted:
    """A lesson to set; ``level`` is what the teacher thinks of the member, for those two alone."""

    member: int
    piece: Piece
    due: date
    comment: str
    level: int | None


async def set_lesson(
    house: House, caller: Caller, group_slug: str, wanted: Wanted, once: Once[LessonRow] | None
) -> LessonRow:
    """An organiser sets it for anybody, members for themselves. Raises NotFound, TakenDown."""
    own = wanted.member == caller.member_number
    group = reach_group(house, caller, group_slug, "keep-own-lessons" if own else "set-lessons")
    teacher_id = member_of(caller)
    member = find_member(house.database.points, group.id, wanted.member)
    piece = find_piece(house, group, wanted.piece).piece
    now = stamp(house.clock())

    def unit(connection: Connection) -> LessonRow:
        number = rows.add_lesson(
            connection,
            group.id,
            member.id,
            teacher_id,
            piece.told,
            wanted.due.isoformat(),
            wanted.comment,
            wanted.level,
            now,
        )
        if not own and member.user_id is not None and member.platform == group.platform:
            params = {
                "lesson": number,
                "by": caller.member_number,
                "piece": piece.told,
                **piece.parts,
                "due": wanted.due.isoformat(),
            }
            post(connection, group, "lesson", params, now, recipient=member.user_id)
        return _seen(connection, group.id, teacher_id, number)

    return await write_once(house, caller, once, unit)


def _seen(connection: Connection, group_id: int, viewer_id: int, number: int) -> LessonRow:
    row = rows.lesson_seen_by(connection, group_id, viewer_id, number)
    if row is None:
        raise NotFound("not-found", what="lesson")
    return row


def get_lesson(house: House, caller: Caller, group_slug: str, number: int) -> LessonRow:
    """Raises NotFound for one that the caller may not see, too."""
    group = reach_group(house, caller, group_slug, "see-ones-own")
    return _seen(house.database.points, group.id, member_of(caller), number)


def list_lessons(
    house: House, caller: Caller, group_slug: str, member: int | None, after: int, limit: int
) -> Sequence[LessonRow]:
    """Those that the caller may see, in the order they were set."""
    group = reach_group(house, caller, group_slug, "see-ones-own")
    return rows.lessons_seen_by(house.database.points, group.id, member_of(caller), member, after, limit)


async def change_lesson(
    house: House, caller: Caller, group_slug: str, number: int, shared: bool | None, done: bool | None
) -> LessonRow:
    """Whose lesson it is shares it and says that it is done; None leaves that as it is. Raises Forbidden for anybody else."""
    group = reach_group(house, caller, group_slug, "keep-own-lessons")
    member_id = member_of(caller)

    def unit(connection: Connection) -> LessonRow:
        row = _seen(connection, group.id, member_id, number)
        if row.member_id != member_id:
            raise Forbidden("own-lesson")
        rows.change_lesson(connection, row.id, shared, done)
        return _seen(connection, group.id, member_id, number)

    return await house.database.write(unit)


async def drop_lesson(house: House, caller: Caller, group_slug: str, number: int) -> None:
    """Whoever set it, or whose it is, takes it back. Raises NotFound, Forbidden for anybody else."""
    group = reach_group(house, caller, group_slug, "keep-own-lessons")
    member_id = member_of(caller)

    def unit(connection: Connection) -> None:
        row = _seen(connection, group.id, member_id, number)
        if member_id not in (row.member_id, row.teacher_id):
            raise Forbidden("own-lesson")
        rows.drop_lesson(connection, row.id)

    await house.database.write(unit)
