"""The swap table."""

from typing import Annotated

from litestar import Response, delete, get, post
from litestar.params import FromPath, JSONBody, QueryParameter

from schemas.licks import LickOut
from schemas.swap_table import SharedList, SharedOut, ShareIn
from service.music.passages import lick_passage
from service.notation.tab_writer import write_tab
from service.usecases import swap_table as usecases
from service.usecases.licks import KeptLick, get_lick
from service.usecases.once import Answered, Once
from service.usecases.swap_table import Shared
from service.web.charted import chords_line
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    Limit,
    answered,
    caller_of,
    house_of,
    once_of,
    page,
    problems,
    read_number_cursor,
)
from service.web.routes.licks import InstrumentFilter, LickNumber, sent_in
from service.web.routes.people import Id

StyleFilter = Annotated[str | None, QueryParameter(name="style", max_length=40)]
MaxLevel = Annotated[int | None, QueryParameter(name="max_level", ge=1, le=5, description="None harder.")]


def shared_out(found: Shared) -> SharedOut:
    row, record, rights = found.row, found.record, found.record.rights
    return SharedOut(
        id=row.id,
        group=row.group,
        own=found.own,
        lick=row.lick if found.own else None,
        published=row.published,
        name=record.name,
        instrument=record.instrument,
        tuning=record.tuning,
        hand_style=record.hand_style,
        style=record.style,
        meter=record.meter,
        key=record.key,
        role=record.role,
        level=record.level,
        chords=chords_line(found.lick.changes),
        tab=write_tab(lick_passage(found.lick)),
        origin=rights.origin,
        source=rights.source,
        year=rights.year,
        credit=rights.credit,
        licence=rights.licence,
    )


@get(
    "/v1/groups/{group:str}/swap-table",
    tags=["swap table"],
    summary="What all groups share, newest first",
    responses=problems(422),
)
async def every(
    request: Asked,
    group: FromPath[str],
    limit: Limit = PAGE,
    cursor: Cursor = None,
    instrument: InstrumentFilter = None,
    style: StyleFilter = None,
    max_level: MaxLevel = None,
) -> Response[SharedList]:
    found = await usecases.list_shared(
        house_of(request),
        caller_of(request),
        group,
        read_number_cursor(cursor) or None,
        limit + 1,
        instrument,
        style,
        max_level,
    )
    shown, following, headers = page(request, found, limit, lambda shared: shared.row.id)
    return Response(SharedList(items=[shared_out(one) for one in shown], next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/swap-table",
    tags=["swap table"],
    summary="Share a lick with all groups, as it is now",
    responses=problems(409, 422, 451, 503),
)
async def share(
    request: Asked, group: FromPath[str], data: JSONBody[ShareIn], idempotency_key: IdempotencyKey = None
) -> Response[SharedOut]:
    def made(found: Shared) -> tuple[SharedOut, int, dict[str, str]]:
        return shared_out(found), 201, {}

    house, caller = house_of(request), caller_of(request)
    try:
        found = await usecases.share(
            house, caller, group, data.lick, await once_of(request, idempotency_key, made)
        )
    except Answered as before:
        get_lick(house, caller, group, data.lick)  # it may be taken down since
        return answered(before)
    content, status, headers = made(found)
    return Response(content, status_code=status, headers=headers)


@delete(
    "/v1/groups/{group:str}/swap-table/{lick_number:int}",
    tags=["swap table"],
    summary="Share a lick no more; what was borrowed stays",
    responses=problems(503),
)
async def withdraw(request: Asked, group: FromPath[str], lick_number: LickNumber) -> None:
    await usecases.withdraw(house_of(request), caller_of(request), group, lick_number)


@post(
    "/v1/groups/{group:str}/swap-table/{shared:int}/borrowings",
    tags=["swap table"],
    summary="Borrow a lick: a copy in the group's own pool, judged like any other",
    responses=problems(409, 422, 451, 503),
)
async def borrow(
    request: Asked, group: FromPath[str], shared: Id, idempotency_key: IdempotencyKey = None
) -> Response[LickOut]:
    async def work(once: Once[KeptLick] | None) -> KeptLick:
        return await usecases.borrow(house_of(request), caller_of(request), group, shared, once)

    return await sent_in(request, group, idempotency_key, work)


ROUTES = [every, share, withdraw, borrow]
