"""Evenings: planned, their breaks shared out, and what was played."""

from typing import Annotated

from litestar import Response, delete, get, post, put
from litestar.params import FromPath, JSONBody, PathParameter

from schemas.evenings import (
    BreakTurnOut,
    EveningIn,
    EveningList,
    EveningOut,
    EveningTuneOut,
    PlayedOut,
    PlayedThenIn,
    SharingIn,
    WhoOut,
)
from service.usecases import evenings as usecases
from service.usecases.audited import NEWEST
from service.usecases.evenings import Evening, ItemRecord, Joining, Plan, TurnRecord
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    IfMatch,
    Limit,
    caller_of,
    etag,
    house_of,
    language,
    page,
    problems,
    read_number_cursor,
    repeatable,
    revision_from,
)
from service.web.show import member_name

EveningNumber = Annotated[
    int, PathParameter(ge=1, le=9_999_999, description="An evening's number in the group.")
]


def plan_of(data: EveningIn) -> Plan:
    items = tuple(
        ItemRecord(
            item.tune,
            item.key or "",
            item.turns,
            item.kick_off,
            tuple(TurnRecord(turn.member, turn.instrument) for turn in item.breaks),
        )
        for item in data.tunes
    )
    return Plan(data.day, data.title, items)


def evening_out(evening: Evening, language: str) -> EveningOut:
    names = {number: member_name(name, language) for number, name in evening.names.items()}
    return EveningOut(
        number=evening.number,
        day=evening.plan.day,
        title=evening.plan.title,
        tunes=[
            EveningTuneOut(
                tune=item.tune,
                key=item.key,
                turns=item.turns,
                kick_off=None
                if item.kick_off not in names
                else WhoOut(member=item.kick_off, name=names[item.kick_off]),
                breaks=[
                    BreakTurnOut(member=turn.member, name=names[turn.member], instrument=turn.instrument)
                    for turn in item.breaks
                    if turn.member in names
                ],
            )
            for item in evening.plan.items
        ],
        played=list(evening.played),
        revision=evening.revision,
    )


def _answer(request: Asked, evening: Evening) -> Response[EveningOut]:
    return Response(evening_out(evening, language(request)), headers=etag(evening.revision))


@get(
    "/v1/groups/{group:str}/evenings",
    tags=["evenings"],
    summary="Evenings, those planned last first",
    responses=problems(),
)
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[EveningList]:
    before = read_number_cursor(cursor) or NEWEST
    found = usecases.list_evenings(house_of(request), caller_of(request), group, before, limit + 1)
    shown, following, headers = page(request, found, limit, lambda evening: evening.number)
    items = [evening_out(evening, language(request)) for evening in shown]
    return Response(EveningList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/evenings",
    tags=["evenings"],
    summary="Plan an evening",
    responses=problems(409, 422, 503),
)
async def add(
    request: Asked, group: FromPath[str], data: JSONBody[EveningIn], idempotency_key: IdempotencyKey = None
) -> Response[EveningOut]:
    def made(evening: Evening) -> tuple[EveningOut, int, dict[str, str]]:
        where = {"location": f"/v1/groups/{group}/evenings/{evening.number}"}
        return evening_out(evening, language(request)), 201, {**etag(evening.revision), **where}

    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.add_evening(house_of(request), caller_of(request), group, plan_of(data), once),
    )


@get(
    "/v1/groups/{group:str}/evenings/{evening:int}",
    tags=["evenings"],
    summary="One evening",
    responses=problems(),
)
async def one(request: Asked, group: FromPath[str], evening: EveningNumber) -> Response[EveningOut]:
    return _answer(request, usecases.get_evening(house_of(request), caller_of(request), group, evening))


@put(
    "/v1/groups/{group:str}/evenings/{evening:int}",
    tags=["evenings"],
    summary="Change an evening as a whole, the breaks by hand too",
    responses=problems(412, 422, 428, 503),
)
async def change(
    request: Asked,
    group: FromPath[str],
    evening: EveningNumber,
    data: JSONBody[EveningIn],
    if_match: IfMatch = None,
) -> Response[EveningOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.get_evening(house, caller, group, evening, "plan-evenings").revision
    )
    return _answer(
        request, await usecases.change_evening(house, caller, group, evening, revision, plan_of(data))
    )


@post(
    "/v1/groups/{group:str}/evenings/{evening:int}/sharing",
    tags=["evenings"],
    summary="Share the breaks out among those who play: as evenly over the evening as can be",
    status_code=200,
    responses=problems(412, 422, 503),
)
async def sharing(
    request: Asked, group: FromPath[str], evening: EveningNumber, data: JSONBody[SharingIn]
) -> Response[EveningOut]:
    joining = [Joining(one.member, one.instrument, one.learning) for one in data.players]
    return _answer(
        request, await usecases.share_breaks(house_of(request), caller_of(request), group, evening, joining)
    )


@post(
    "/v1/groups/{group:str}/evenings/{evening:int}/played",
    tags=["evenings"],
    summary="Say that a tune was played on that evening",
    responses=problems(422, 503),
)
async def played(
    request: Asked, group: FromPath[str], evening: EveningNumber, data: JSONBody[PlayedThenIn]
) -> PlayedOut:
    day = await usecases.mark_played(house_of(request), caller_of(request), group, evening, data.tune)
    return PlayedOut(tune=data.tune, day=day)


@delete(
    "/v1/groups/{group:str}/evenings/{evening:int}",
    tags=["evenings"],
    summary="Call an evening off; what was played on it stays played",
    responses=problems(503),
)
async def drop(request: Asked, group: FromPath[str], evening: EveningNumber) -> None:
    await usecases.drop_evening(house_of(request), caller_of(request), group, evening)


ROUTES = [every, add, one, change, sharing, played, drop]
