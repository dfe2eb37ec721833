"""Tunes that members know, tunes that are due again, and what was played."""

from collections.abc import Sequence
from datetime import date
from typing import Annotated

from litestar import Response, delete, get, post, put
from litestar.params import FromPath, JSONBody, QueryParameter

from schemas.evenings import (
    KnownIn,
    KnownList,
    KnownOut,
    KnownTuneList,
    KnownTuneOut,
    PlayedIn,
    PlayedOut,
    SungOut,
    WhoOut,
)
from service.store.repertoire import KnowerRow, KnownRow
from service.usecases import repertoire as usecases
from service.usecases.repertoire import KnownTune
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    Limit,
    caller_of,
    house_of,
    page,
    problems,
    read_cursor,
    read_number_cursor,
)
from service.web.routes.people import MemberNumber

KeyShown = Annotated[
    str | None, QueryParameter(name="key", max_length=12, description="Tunes that sound in this key.")
]
Least = Annotated[
    int, QueryParameter(name="least", ge=0, le=9_999_999, description="So many members know it at least.")
]


def known_out(row: KnownRow) -> KnownOut:
    return KnownOut(
        tune=row.tune,
        standing=row.standing,
        sings_in=row.sings_in.split() or None,
        note=row.note or None,
    )


@get(
    "/v1/groups/{group:str}/members/{member:int}/tunes",
    tags=["tunes"],
    summary="A member's list: what they know, are learning, or have parked",
    responses=problems(),
)
async def of_member(
    request: Asked, group: FromPath[str], member: MemberNumber, limit: Limit = PAGE, cursor: Cursor = None
) -> Response[KnownList]:
    found = usecases.list_of(
        house_of(request), caller_of(request), group, member, read_cursor(cursor), limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda row: row.tune)
    return Response(KnownList(items=[known_out(row) for row in shown], next=following), headers=headers)


@put(
    "/v1/groups/{group:str}/members/{member:int}/tunes/{tune:str}",
    tags=["tunes"],
    summary="Put a tune on one's list, or change what stands there; organisers for members on no platform",
    responses=problems(422, 503),
)
async def keep(
    request: Asked, group: FromPath[str], member: MemberNumber, tune: FromPath[str], data: JSONBody[KnownIn]
) -> KnownOut:
    row = await usecases.keep_on_list(
        house_of(request),
        caller_of(request),
        group,
        member,
        tune,
        data.standing,
        data.sings_in or (),
        data.note or "",
    )
    return known_out(row)


@delete(
    "/v1/groups/{group:str}/members/{member:int}/tunes/{tune:str}",
    tags=["tunes"],
    summary="Take a tune off one's list",
    responses=problems(503),
)
async def drop(request: Asked, group: FromPath[str], member: MemberNumber, tune: FromPath[str]) -> None:
    await usecases.drop_from_list(house_of(request), caller_of(request), group, member, tune)


def _who(knowers: Sequence[KnowerRow]) -> list[WhoOut]:
    return [WhoOut(member=knower.number, name=knower.name) for knower in knowers]


def known_tune_out(tune: KnownTune) -> KnownTuneOut:
    return KnownTuneOut(
        tune=tune.slug,
        name=tune.record.name,
        key=tune.record.key,
        know=_who(tune.know),
        learning=_who(tune.learning),
        sung=[SungOut(key=key, singers=singers) for key, singers in tune.sung.items()],
        last_played=tune.last_played,
    )


def _listed(
    request: Asked, found: Sequence[KnownTune], limit: int, cursor: str | None
) -> Response[KnownTuneList]:
    """A page of a list whose cursor is a place in it."""
    skipped = read_number_cursor(cursor)
    placed = list(enumerate(found[skipped : skipped + limit + 1], skipped + 1))
    shown, following, headers = page(request, placed, limit, lambda pair: pair[0])
    items = [known_tune_out(tune) for _, tune in shown]
    return Response(KnownTuneList(items=items, next=following), headers=headers)


@get(
    "/v1/groups/{group:str}/tunes/known",
    tags=["tunes"],
    summary="What most members know first, with who knows it and in which keys it is sung",
    responses=problems(422),
)
async def known(
    request: Asked,
    group: FromPath[str],
    key: KeyShown = None,
    least: Least = 1,
    limit: Limit = PAGE,
    cursor: Cursor = None,
) -> Response[KnownTuneList]:
    found = await usecases.known_tunes(house_of(request), caller_of(request), group, key, least)
    return _listed(request, found, limit, cursor)


@get(
    "/v1/groups/{group:str}/tunes/due",
    tags=["tunes"],
    summary="Tunes to play again, longest ago first, those never played last",
    responses=problems(),
)
async def due(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[KnownTuneList]:
    found = await usecases.due_tunes(house_of(request), caller_of(request), group)
    return _listed(request, found, limit, cursor)


@post(
    "/v1/groups/{group:str}/played",
    tags=["evenings"],
    summary="Say that a tune was played; once a day counts",
    responses=problems(422, 503),
)
async def played(request: Asked, group: FromPath[str], data: JSONBody[PlayedIn]) -> PlayedOut:
    day = await usecases.mark_played(house_of(request), caller_of(request), group, data.tune, data.day)
    return PlayedOut(tune=data.tune, day=day)


@delete(
    "/v1/groups/{group:str}/played/{tune:str}/{day:date}",
    tags=["evenings"],
    summary="It was not played on that day after all",
    responses=problems(503),
)
async def not_played(request: Asked, group: FromPath[str], tune: FromPath[str], day: FromPath[date]) -> None:
    await usecases.not_played(house_of(request), caller_of(request), group, tune, day)


ROUTES = [of_member, keep, drop, known, due, played, not_played]
