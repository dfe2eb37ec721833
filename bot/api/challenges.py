"""Asks about challenges of the week, their variations, votes."""

from collections.abc import Sequence

from bot.api.client import GroupClient, asked
from schemas.challenges import (
    ChallengeIn,
    ChallengeList,
    ChallengeOut,
    FavouriteList,
    RoundUpOut,
    VariationIn,
    VariationList,
    VariationOut,
    VariationReviewIn,
)

ANY_REVISION = "*"
MOST = 200  # on a page of the service


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


async def variations(here: GroupClient, challenge: int) -> Sequence[VariationOut]:
    """All of them that whoever asks may see, by number."""
    found: list[VariationOut] = []
    cursor: str | None = None
    while True:
        page = await here.get(
            f"/challenges/{challenge}/variations", VariationList, {"limit": MOST, "cursor": cursor}
        )
        found += page.items
        cursor = page.next
        if cursor is None:
            return found


async def one_variation(here: GroupClient, number: int) -> VariationOut:
    return await here.get(f"/variations/{number}", VariationOut)


async def enter(here: GroupClient, challenge: int, sent: VariationIn) -> VariationOut:
    return await here.post(f"/challenges/{challenge}/variations", VariationOut, sent)


async def enter_recording(
    here: GroupClient, challenge: int, data: bytes, kind: str, name: str | None, comment: str
) -> VariationOut:
    query = asked({"name": name, "comment": comment or None})
    path = f"/challenges/{challenge}/variations/recordings{query}"
    return await here.upload("POST", path, data, kind, VariationOut)


async def revise(here: GroupClient, number: int, sent: VariationIn) -> VariationOut:
    return await here.put(f"/variations/{number}", VariationOut, sent, ANY_REVISION)


async def withdraw(here: GroupClient, number: int) -> None:
    await here.delete(f"/variations/{number}")


async def review(here: GroupClient, number: int, decision: VariationReviewIn) -> VariationOut:
    return await here.post(f"/variations/{number}/review", VariationOut, decision)


async def vote(here: GroupClient, number: int) -> VariationOut:
    return await here.put(f"/variations/{number}/vote", VariationOut)


async def take_vote_back(here: GroupClient, number: int) -> None:
    await here.delete(f"/variations/{number}/vote")
