"""Challenges of the week, and the round-up."""

from typing import Annotated

from litestar import Response, get, post
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.challenges import ChallengeIn, ChallengeList, ChallengeOut, FavouriteList, RoundUpOut
from service.usecases import challenges as usecases
from service.usecases.challenges import Challenge, Wish
from service.usecases.voting import list_favourites
from service.web.parts import (
    PAGE,
    PAGE_MOST,
    Asked,
    Cursor,
    IdempotencyKey,
    Limit,
    caller_of,
    house_of,
    language,
    page,
    problems,
    read_number_cursor,
    repeatable,
)
from service.web.show_challenges import challenge_out, standing_out

ChallengeNumber = Annotated[
    int, PathParameter(ge=1, le=9_999_999, description="A challenge's number in its group.")
]
Most = Annotated[int, QueryParameter(name="limit", ge=1, le=PAGE_MOST, description="The first so many.")]


@get(
    "/v1/groups/{group:str}/challenges",
    tags=["challenges"],
    summary="Challenges, newest first",
    responses=problems(),
)
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[ChallengeList]:
    found = usecases.list_challenges(
        house_of(request), caller_of(request), group, read_number_cursor(cursor) or None, limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda one: one.row.number)
    items = [challenge_out(one, group) for one in shown]
    return Response(ChallengeList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/challenges",
    tags=["challenges"],
    summary="Set a challenge by hand",
    responses=problems(409, 422, 451, 503),
)
async def make(
    request: Asked, group: FromPath[str], data: JSONBody[ChallengeIn], idempotency_key: IdempotencyKey = None
) -> Response[ChallengeOut]:
    def made(found: Challenge) -> tuple[ChallengeOut, int, dict[str, str]]:
        where = {"location": f"/v1/groups/{group}/challenges/{found.row.number}"}
        return challenge_out(found, group), 201, where

    wish = Wish(
        data.tune,
        data.phrase,
        data.instrument,
        data.tuning,
        data.lick,
        data.note,
        data.opens == "next-week",
        data.secret,
    )
    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.make_challenge(house_of(request), caller_of(request), group, wish, once),
    )


@get(
    "/v1/groups/{group:str}/challenges/current",
    tags=["challenges"],
    summary="The challenge that is open",
    responses=problems(),
)
async def current(request: Asked, group: FromPath[str]) -> ChallengeOut:
    return challenge_out(usecases.get_challenge(house_of(request), caller_of(request), group, None), group)


@get(
    "/v1/groups/{group:str}/challenges/{challenge:int}",
    tags=["challenges"],
    summary="One challenge",
    responses=problems(),
)
async def one(request: Asked, group: FromPath[str], challenge: ChallengeNumber) -> ChallengeOut:
    found = usecases.get_challenge(house_of(request), caller_of(request), group, challenge)
    return challenge_out(found, group)


@post(
    "/v1/groups/{group:str}/challenges/{challenge:int}/close",
    tags=["challenges"],
    summary="Close a challenge before its time, or call a planned one off",
    status_code=200,
    responses=problems(409, 503),
)
async def close(request: Asked, group: FromPath[str], challenge: ChallengeNumber) -> ChallengeOut:
    found = await usecases.close_challenge(house_of(request), caller_of(request), group, challenge)
    return challenge_out(found, group)


@get(
    "/v1/groups/{group:str}/challenges/{challenge:int}/round-up",
    tags=["challenges"],
    summary="How a closed challenge came out",
    responses=problems(409),
)
async def round_up(request: Asked, group: FromPath[str], challenge: ChallengeNumber) -> RoundUpOut:
    found, placed = usecases.round_up(house_of(request), caller_of(request), group, challenge)
    return RoundUpOut(
        challenge=challenge_out(found, group),
        standings=[standing_out(entry.standing, entry.variation, language(request)) for entry in placed],
    )


@get(
    "/v1/groups/{group:str}/favourites",
    tags=["challenges"],
    summary="What the group has liked best in all its challenges",
    responses=problems(),
)
async def favourites(request: Asked, group: FromPath[str], limit: Most = PAGE) -> FavouriteList:
    found = list_favourites(house_of(request), caller_of(request), group, limit)
    return FavouriteList(
        items=[standing_out(one.standing, one.variation, language(request)) for one in found]
    )


ROUTES = [every, make, current, one, close, round_up, favourites]
