"""Asks about evenings, what was played on them, and who knows which tune."""

from collections.abc import Sequence

from bot.api.client import GroupClient, in_path
from schemas.evenings import (
    EveningIn,
    EveningList,
    EveningOut,
    KnownIn,
    KnownOut,
    KnownTuneList,
    PlayedIn,
    PlayedOut,
    PlayedThenIn,
    SharingIn,
)


async def plan(here: GroupClient, evening: EveningIn) -> EveningOut:
    return await here.post("/evenings", EveningOut, evening)


async def evenings(here: GroupClient, most: int) -> Sequence[EveningOut]:
    """Those planned last come first."""
    return (await here.get("/evenings", EveningList, {"limit": most})).items


async def one_evening(here: GroupClient, number: int) -> EveningOut:
    return await here.get(f"/evenings/{number}", EveningOut)


async def share(here: GroupClient, number: int, sharing: SharingIn) -> EveningOut:
    return await here.post(f"/evenings/{number}/sharing", EveningOut, sharing)


async def played_then(here: GroupClient, number: int, tune: str) -> PlayedOut:
    return await here.post(f"/evenings/{number}/played", PlayedOut, PlayedThenIn(tune=tune))


async def played(here: GroupClient, played: PlayedIn) -> PlayedOut:
    return await here.post("/played", PlayedOut, played)


async def stand(here: GroupClient, member: int, tune: str, known: KnownIn) -> KnownOut:
    """How a member stands with a tune."""
    return await here.put(f"/members/{member}/tunes/{in_path(tune)}", KnownOut, known)


async def known(here: GroupClient, key: str | None, least: int | None, most: int) -> KnownTuneList:
    return await here.get("/tunes/known", KnownTuneList, {"key": key, "least": least, "limit": most})


async def due(here: GroupClient, most: int) -> KnownTuneList:
    """Not played for long, longest ago first."""
    return await here.get("/tunes/due", KnownTuneList, {"limit": most})
