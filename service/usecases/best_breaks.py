"""The best breaks there are: smoothest, easiest, closest to the melody, or a mix of these."""

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.compose.best import Cost
from service.compose.seams import BySeam, Numbers, Shares, tempo_at
from service.compose.stock import Column, Stock
from service.compose.whole import Best, best_whole
from service.usecases.breaks import keep_break, recent_breaks
from service.usecases.composing import Composed, compose
from service.usecases.drawable import rungs
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.made_breaks import Break
from service.usecases.refusals import none_found
from service.usecases.wishes import Wish

# What a lick and a join cost, in whole numbers, by what is asked for; ours. The cheapest break is the best. Small costs beside
# the large ones settle what would be alike. A mix adds them up, each as often as it is named.
SCALE = 1000
STEPS, STEPS_WITH_MELODY = 60_000, 15_000  # of the search where only whole breaks can tell
MOST_SHARE = 10.0  # of the time there is; a seam that cannot be played at all counts so much
Mix = Mapping[str, int]  # how often "smooth", "easy" and "melody" count


@dataclass(frozen=True, slots=True)
class BestBreaks:
    """Best first; ``exact`` says that they were shown to be the best there are."""

    breaks: Sequence[Break]
    exact: bool


def lick_cost(of: Stock, by: str) -> Column:
    if by == "melody":
        return np.round(SCALE * (1 - of.column("recall"))).astype(np.int64) * of.ints("span")
    return of.ints("level") * (SCALE if by == "easy" else SCALE // 100)


def join_cost(shares: Shares, by: str) -> Numbers:
    """``shares`` of the time there is that seams take, to the hundredth; of no account for the easiest."""
    times = {"smooth": SCALE // 100, "melody": 1, "easy": 0}[by]
    return times * np.round(100 * np.minimum(shares, MOST_SHARE)).astype(np.int64)


async def best_breaks(
    house: House, caller: Caller, group_slug: str, slug: str, wish: Wish, mix: Mix, how_many: int
) -> BestBreaks:
    """The best breaks that keep to a teacher's rules, as far as those leave any; best first.

    Raises DomainError ``no-breaks``, or why what only whole breaks can have is met by none.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    others = recent_breaks(house, composed) if wish.differs_by is not None else []
    found = await asyncio.to_thread(_best, house, composed, wish, others, mix, how_many)
    kept = []
    for path in found.paths:
        kept.append(asyncio.create_task(keep_break(house, caller, composed, path, None)))
        await asyncio.sleep(0)  # others may be served between two
    return BestBreaks(await asyncio.gather(*kept), found.exact)


def _best(
    house: House,
    composed: Composed,
    wish: Wish,
    others: Sequence[frozenset[tuple[int, int]]],
    mix: Mix,
    how_many: int,
) -> Best:
    licks, seams = lick_costs(mix), seam_costs(composed, mix)
    demands = wish.demands(composed.form, others)
    most = STEPS if demands.melody is None else STEPS_WITH_MELODY
    lattices = rungs(house, composed, replace(wish, settled=False, favour=None))
    for lattice in lattices:
        found = best_whole(lattice, demands, licks, seams, how_many, most)
        if found.paths:
            return found
    raise none_found(lattices, demands)


def lick_costs(mix: Mix) -> Cost:
    def cost(of: Stock, phrase: int) -> Column:
        total = np.zeros(len(of), np.int64)
        for by, times in mix.items():
            total += times * lick_cost(of, by)
        return total

    return cost


def seam_costs(composed: Composed, mix: Mix) -> BySeam:
    def cost(shares: Shares) -> Numbers:
        total = np.zeros(shares.shape, np.int64)
        for by, times in mix.items():
            total += times * join_cost(shares, by)
        return total

    return tempo_at(composed.tune, composed.setting).costing(cost)
