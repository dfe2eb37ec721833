"""Licks taken down and put back."""

from litestar import Response, delete, get, put
from litestar.params import FromPath, JSONBody

from schemas.licks import TakenDownIn, TakenDownList, TakenDownOut
from service.usecases import taken_down as usecases
from service.usecases.taken_down import TakenDownLick
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IfMatch,
    Limit,
    caller_of,
    etag,
    house_of,
    page,
    problems,
    read_number_cursor,
    revision_from,
)
from service.web.routes.licks import LickNumber


def _out(found: TakenDownLick) -> TakenDownOut:
    return TakenDownOut(
        lick=found.number, revision=found.revision, reason=found.reason, created=found.created, by=found.by
    )


@get(
    "/v1/groups/{group:str}/licks/taken-down",
    tags=["licks"],
    summary="Licks that are taken down, by number; for organisers",
    responses=problems(),
)
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[TakenDownList]:
    found = usecases.list_taken_down(
        house_of(request), caller_of(request), group, read_number_cursor(cursor), limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda lick: lick.number)
    return Response(TakenDownList(items=[_out(lick) for lick in shown], next=following), headers=headers)


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/taken-down",
    tags=["licks"],
    summary="Why a lick was taken down; for organisers",
    responses=problems(),
)
async def one(request: Asked, group: FromPath[str], lick_number: LickNumber) -> Response[TakenDownOut]:
    found = usecases.get_taken_down(house_of(request), caller_of(request), group, lick_number)
    return Response(_out(found), headers=etag(found.revision))


@put(
    "/v1/groups/{group:str}/licks/{lick_number:int}/taken-down",
    tags=["licks"],
    summary="Take a lick down: nobody can see it, breaks made with it have a rest in its place",
    responses=problems(412, 428, 503),
)
async def take_down(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    data: JSONBody[TakenDownIn],
    if_match: IfMatch = None,
) -> Response[TakenDownOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.revision_to_take_down(house, caller, group, lick_number)
    )
    found = await usecases.take_down(house, caller, group, lick_number, revision, data.reason)
    return Response(_out(found), headers=etag(found.revision))


@delete(
    "/v1/groups/{group:str}/licks/{lick_number:int}/taken-down",
    tags=["licks"],
    summary="Put a lick that was taken down back where it was",
    responses=problems(412, 428, 503),
)
async def put_back(
    request: Asked, group: FromPath[str], lick_number: LickNumber, if_match: IfMatch = None
) -> None:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.get_taken_down(house, caller, group, lick_number).revision
    )
    await usecases.put_back(house, caller, group, lick_number, revision)


ROUTES = [every, one, take_down, put_back]
