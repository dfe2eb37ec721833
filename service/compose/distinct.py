"""The best breaks with no lick twice, exactly.

Left alone, the cheapest break of a tune that repeats its parts takes the same licks again, and a search by cost alone opens
more breaks than can be looked at before it meets one without repeats. So every lick that is wanted twice is given a price
(a Lagrangian multiplier): with good prices the cheapest priced break hardly repeats. What a priced break costs, less all
prices, is never more than what any break without repeats costs that goes on from there; so the search goes on by that bound,
and a break is told once nothing left can be cheaper.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from heapq import heappop, heappush

from service.compose.best import BestBreaks, Cost, JoinCost
from service.compose.joined import Watch
from service.compose.lattice import Candidate, Pick

ROUNDS, SHRINK = 120, 0.96  # of raising and lowering prices, and how their steps shrink
Path = tuple[Pick, ...]


class NotFound(Exception):
    """No such break among the first ``tried`` that were looked at; there may be one."""

    def __init__(self, tried: int) -> None:
        super().__init__(tried)
        self.tried = tried


def best_distinct(
    candidates: Sequence[Sequence[Candidate]],
    cost: Cost,
    join_cost: JoinCost,
    how_many: int,
    most: int,
    fits: Callable[[Path], bool] = lambda path: True,
    watch: Watch | None = None,
) -> list[tuple[int, Path]]:
    """(cost, break) of the cheapest ``how_many`` that have no lick twice and ``fits``, cheapest first.

    Raises NotFound if they are not all found, or shown not to be there, within ``most`` steps of the search.
    """
    prices = _prices(candidates, cost, join_cost, watch)
    total = sum(prices.values())

    def priced(candidate: Candidate) -> int:
        return cost(candidate) + prices.get(candidate.number, 0)

    grain = BestBreaks(candidates, cost, join_cost, watch).grain
    found: list[tuple[int, int, Path]] = []
    told: list[tuple[int, Path]] = []
    for tried, (promise, path) in enumerate(BestBreaks(candidates, priced, join_cost, watch).distinct()):
        # whole breaks cost a whole number of grains
        bound = -((total - promise) // grain) * grain
        while found and found[0][0] <= bound and len(told) < how_many:
            value, _, best = heappop(found)
            told.append((value, best))
        if len(told) == how_many:
            return told
        if tried > most:
            raise NotFound(tried)
        if path is not None and fits(path):
            paid = sum(prices.get(pick.candidate.number, 0) for pick in path)
            heappush(found, (promise - paid, tried, path))
    while found and len(told) < how_many:
        value, _, best = heappop(found)
        told.append((value, best))
    return told


def _prices(
    candidates: Sequence[Sequence[Candidate]], cost: Cost, join_cost: JoinCost, watch: Watch | None
) -> dict[int, int]:
    """Prices that make the bound high: raised for licks that the cheapest priced break takes twice, lowered for those it
    leaves out, in steps that shrink."""
    prices: dict[int, int] = {}
    kept: dict[int, int] = {}
    highest: int | None = None
    step = max(1, max((cost(c) for of in candidates for c in of), default=1) // 4)
    for turn in range(ROUNDS):
        best = next(
            iter(BestBreaks(candidates, lambda c: cost(c) + prices.get(c.number, 0), join_cost, watch)), None
        )
        if best is None:
            return {}
        bound = best[0] - sum(prices.values())
        if highest is None or bound > highest:
            highest, kept = bound, dict(prices)
        uses = Counter(pick.candidate.number for pick in best[1])
        wanted = {number for number, times in uses.items() if times > 1}
        if not wanted:
            break
        size = max(1, round(step * SHRINK**turn))
        for number in [*prices]:
            if number not in uses:
                prices[number] = max(0, prices[number] - size)
        for number in wanted:
            prices[number] = prices.get(number, 0) + size * (uses[number] - 1)
    return kept
