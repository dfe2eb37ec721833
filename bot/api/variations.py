"""Asks about variations of a challenge, and votes."""

from collections.abc import Sequence

from bot.api.client import GroupClient, asked, in_path
from schemas.challenges import VariationIn, VariationList, VariationOut, VariationReviewIn

ANY_REVISION = "*"
MOST = 200  # on a page of the service


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


async def one_variation(here: GroupClient, number: int | str) -> VariationOut:
    return await here.get(f"/variations/{in_path(str(number))}", VariationOut)


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
