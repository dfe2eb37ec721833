"""The best breaks there are: smoothest, easiest, closest to the melody, or a mix of these."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.compose.matching import tempo_of
from service.compose.stock import Column, Stock
from service.compose.whole import Best, best_whole
from service.judge.hands import strain
from service.judge.joins import Edge, judge_join
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
STEPS = 150_000  # of the search where only whole breaks can tell
MOST_SHARE = 10.0  # of the time there is; a seam that cannot be played at all counts so much
Share = Callable[[Edge, Edge], float]
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


def join_cost(share: float, by: str) -> int:
    """``share`` of the time there is that a seam takes, to the hundredth; of no account for the easiest."""
    if by == "easy":
        return 0
    return round(100 * min(share, MOST_SHARE)) * (SCALE // 100 if by == "smooth" else 1)


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
    share = seam_share(composed)

    def cost(of: Stock, phrase: int) -> Column:
        total = np.zeros(len(of), np.int64)
        for by, times in mix.items():
            total += times * lick_cost(of, by)
        return total

    def joined(before: Edge, entry: Edge) -> int:
        taken = share(before, entry)
        return sum(times * join_cost(taken, by) for by, times in mix.items())

    demands = wish.demands(composed.form, others)
    lattices = rungs(house, composed, replace(wish, settled=False, favour=None))
    for lattice in lattices:
        found = best_whole(lattice, demands, cost, joined, how_many, STEPS)
        if found.paths:
            return found
    raise none_found(lattices, demands)


def seam_share(composed: Composed) -> Share:
    """What share of the time there is a seam takes at the tune's tempo."""
    bpm, beat = tempo_of(composed.tune)
    scale, slot = composed.setting.instrument.scale_mm, composed.tune.meter.slot_ticks

    def share(before: Edge, entry: Edge) -> float:
        return strain(judge_join(before, entry, scale).load / slot, bpm, beat)

    return share
