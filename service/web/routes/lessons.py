"""Lessons: between a teacher and a member, until the member shares them."""

from datetime import date
from typing import Annotated

from litestar import Response, delete, get, patch, post
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.practice import LessonIn, LessonList, LessonOut, LessonPatch
from service.store.lessons import LessonRow
from service.usecases import lessons as usecases
from service.usecases.identify import Caller
from service.usecases.lessons import Wanted
from service.usecases.pieces import read_piece, wished_piece
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    Limit,
    caller_of,
    house_of,
    page,
    problems,
    read_number_cursor,
    repeatable,
)

LessonNumber = Annotated[
    int, PathParameter(ge=1, le=9_999_999, description="A lesson's number in the group.")
]
OfMember = Annotated[
    int | None,
    QueryParameter(name="member", ge=1, le=9_999_999, description="Those of one member, by number."),
]


def lesson_out(row: LessonRow, caller: Caller) -> LessonOut:
    piece = read_piece(row.piece)
    between = caller.member_id in (row.member_id, row.teacher_id)
    return LessonOut(
        number=row.number,
        lick=piece.lick,
        break_=piece.code,
        phrase=piece.phrase,
        member=row.member,
        teacher=row.teacher,
        due=date.fromisoformat(row.due),
        comment=row.comment,
        level=row.level if between else None,
        shared=row.shared,
        done=row.done,
        created=row.created,
    )


@get(
    "/v1/groups/{group:str}/lessons",
    tags=["practice"],
    summary="Lessons that you may see: set for you, by you, or shared",
    responses=problems(),
)
async def every(
    request: Asked,
    group: FromPath[str],
    member: OfMember = None,
    limit: Limit = PAGE,
    cursor: Cursor = None,
) -> Response[LessonList]:
    caller = caller_of(request)
    found = usecases.list_lessons(
        house_of(request), caller, group, member, read_number_cursor(cursor), limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda row: row.number)
    items = [lesson_out(row, caller) for row in shown]
    return Response(LessonList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/lessons",
    tags=["practice"],
    summary="Set a lick or a break for a member by a day; members for themselves",
    responses=problems(409, 422, 451, 503),
)
async def add(
    request: Asked, group: FromPath[str], data: JSONBody[LessonIn], idempotency_key: IdempotencyKey = None
) -> Response[LessonOut]:
    caller = caller_of(request)

    def made(row: LessonRow) -> tuple[LessonOut, int, dict[str, str]]:
        return lesson_out(row, caller), 201, {"location": f"/v1/groups/{group}/lessons/{row.number}"}

    piece = wished_piece(data.lick, data.break_, data.phrase)
    wanted = Wanted(data.member, piece, data.due, data.comment, data.level)
    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.set_lesson(house_of(request), caller, group, wanted, once),
    )


@get(
    "/v1/groups/{group:str}/lessons/{lesson:int}",
    tags=["practice"],
    summary="One lesson",
    responses=problems(),
)
async def one(request: Asked, group: FromPath[str], lesson: LessonNumber) -> LessonOut:
    caller = caller_of(request)
    return lesson_out(usecases.get_lesson(house_of(request), caller, group, lesson), caller)


@patch(
    "/v1/groups/{group:str}/lessons/{lesson:int}",
    tags=["practice"],
    summary="Share a lesson of one's own, or say that it is done",
    responses=problems(503),
)
async def change(
    request: Asked, group: FromPath[str], lesson: LessonNumber, data: JSONBody[LessonPatch]
) -> LessonOut:
    caller = caller_of(request)
    row = await usecases.change_lesson(house_of(request), caller, group, lesson, data.shared, data.done)
    return lesson_out(row, caller)


@delete(
    "/v1/groups/{group:str}/lessons/{lesson:int}",
    tags=["practice"],
    summary="Take a lesson back: whoever set it, or whose it is",
    responses=problems(503),
)
async def drop(request: Asked, group: FromPath[str], lesson: LessonNumber) -> None:
    await usecases.drop_lesson(house_of(request), caller_of(request), group, lesson)


ROUTES = [every, add, one, change, drop]
