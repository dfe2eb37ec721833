"""Asks about breaks."""

from bot.api.client import GroupClient, in_path
from schemas.breaks import (
    BestIn,
    BestList,
    BreakList,
    BreakOut,
    CountOut,
    Filters,
    RandomIn,
    SwapIn,
    SwapList,
)


async def count(here: GroupClient, tune: str, filters: Filters) -> CountOut:
    return await here.post(f"/tunes/{in_path(tune)}/breaks/count", CountOut, filters)


async def random_break(here: GroupClient, tune: str, wish: RandomIn) -> BreakOut:
    return await here.post(f"/tunes/{in_path(tune)}/breaks/random", BreakOut, wish)


async def best_breaks(here: GroupClient, tune: str, wish: BestIn) -> BestList:
    return await here.post(f"/tunes/{in_path(tune)}/breaks/best", BestList, wish)


async def steps(here: GroupClient, tune: str, wish: Filters) -> BreakList:
    """From the plain break on, one lick changed at a time, the tag first."""
    return await here.post(f"/tunes/{in_path(tune)}/breaks/steps", BreakList, wish)


async def numbered(
    here: GroupClient, tune: str, number: str, snapshot: str, instrument: str | None
) -> BreakOut:
    """Number k of a snapshot."""
    query = {"snapshot": snapshot, "instrument": instrument}
    return await here.get(f"/tunes/{in_path(tune)}/breaks/number/{in_path(number)}", BreakOut, query)


async def swaps(here: GroupClient, code: str, phrase: int) -> SwapList:
    """Alternatives for a phrase of a break, best first."""
    return await here.post(f"/breaks/{in_path(code)}/swaps", SwapList, SwapIn(phrase=phrase))


async def swap(here: GroupClient, code: str, phrase: int, lick: int) -> BreakOut:
    """The break with another lick at a phrase."""
    return await here.post(f"/breaks/{in_path(code)}/swaps", BreakOut, SwapIn(phrase=phrase, lick=lick))


async def one_break(
    here: GroupClient, code: str, key: str | None = None, capo: int | None = None
) -> BreakOut:
    """With a key or capo set up as the same hands are for that."""
    return await here.get(f"/breaks/{in_path(code)}", BreakOut, {"key": key, "capo": capo})


async def tab(here: GroupClient, code: str, layout: str, width: int) -> str:
    return await here.text(f"/breaks/{in_path(code)}/tab.txt", {"layout": layout, "width": width})
