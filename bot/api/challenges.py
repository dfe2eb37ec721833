"""Asks about challenges of the week."""

from collections.abc import Sequence

from bot.api.client import GroupClient
from schemas.challenges import (
    ChallengeIn,
    ChallengeList,
    ChallengeOut,
    FavouriteList,
    RoundUpOut,
)


async def current(here: GroupClient) -> ChallengeOut:
    """The one that is open. Raises Refused ``no-challenge-open``."""
    return await here.get("/challenges/current", ChallengeOut)


async def one_challenge(here: GroupClient, number: int) -> ChallengeOut:
    return await here.get(f"/challenges/{number}", ChallengeOut)


async def newest(here: GroupClient, most: int) -> Sequence[ChallengeOut]:
    return (await here.get("/challenges", ChallengeList, {"limit": most})).items


async def set_challenge(here: GroupClient, wish: ChallengeIn) -> ChallengeOut:
    return await here.post("/challenges", ChallengeOut, wish)


async def close(here: GroupClient, number: int) -> ChallengeOut:
    return await here.post(f"/challenges/{number}/close", ChallengeOut)


async def round_up(here: GroupClient, number: int) -> RoundUpOut:
    return await here.get(f"/challenges/{number}/round-up", RoundUpOut)


async def favourites(here: GroupClient, most: int) -> FavouriteList:
    return await here.get("/favourites", FavouriteList, {"limit": most})
