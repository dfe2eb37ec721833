"""The best breaks that meet what only a whole one can tell, exactly.

Left alone, the cheapest break of a tune that repeats its parts takes the same licks again, and a search by cost alone opens
more breaks than can be looked at before it meets one without repeats, or with enough of the melody. So what is wanted is given
a price (a Lagrangian multiplier): each lick that is wanted twice, and what is lacking of the melody. With good prices the
cheapest priced break hardly repeats. What a priced break costs, less all that the prices can come to, is never more than what
any break costs that meets the demands and goes on from there; so the search goes on by that bound, and a break is told once
nothing left can be cheaper.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush

import numpy as np

from service.compose.best import BestBreaks, Cost
from service.compose.lattice import Pick
from service.compose.stock import Column, Stock

ROUNDS, SHRINK = 120, 0.96  # of raising and lowering prices, and how their steps shrink
FINE = 64  # prices are whole 64ths of a cost
HALVINGS = 24  # rounds of looking for the price of the melody
Path = tuple[Pick, ...]


class NotFound(Exception):
    """Not all that were asked for were shown to be the cheapest in ``tried`` steps; ``told`` are those that were, ``met`` fit but
    may not be."""

    def __init__(self, tried: int, told: Sequence[tuple[int, Path]], met: Sequence[tuple[int, Path]]) -> None:
        super().__init__(tried)
        self.tried, self.told, self.met = tried, told, met


@dataclass(frozen=True, slots=True)
class Lack:
    """What a break may lack at most: ``of`` gives whole numbers that add up along it."""

    of: Cost
    most: int


@dataclass(slots=True)
class _Prices:
    """Prices in 64ths: by lick, so that none comes twice, and of each unit that is lacking."""

    licks: dict[int, int] = field(default_factory=dict)
    lack: int = 0

    def __bool__(self) -> bool:
        return bool(self.lack or any(self.licks.values()))

    def column(self, lack: Lack | None) -> Cost:
        """What each lick of a stock is priced."""
        numbers = np.array(sorted(self.licks), np.int64)
        values = np.array([self.licks[number] for number in sorted(self.licks)], np.int64)

        def price(of: Stock, phrase: int) -> Column:
            found = np.zeros(len(of), np.int64)
            if len(numbers):
                own = of.column("number")
                place = np.minimum(np.searchsorted(numbers, own), len(numbers) - 1)
                found += np.where(numbers[place] == own, values[place], 0)
            if lack is not None and self.lack:
                found += self.lack * lack.of(of, phrase)
            return found

        return price

    def most(self, lack: Lack | None) -> int:
        """The most that a break can pay which meets the demands."""
        return sum(self.licks.values()) + (self.lack * lack.most if lack else 0)


def best_distinct(
    plain: BestBreaks,
    how_many: int,
    most: int,
    fits: Callable[[Path], bool] = lambda path: True,
    lack: Lack | None = None,
    distinct: bool = True,
    joins: Callable[[Path], int] | None = None,
) -> list[tuple[int, Path]]:
    """(cost, break) of the cheapest ``how_many`` of ``plain``, whose costs are FINE, that ``fits``, cheapest first; if
    ``distinct``, with no lick twice. What fits lacks no more than ``lack`` allows. ``joins`` tells what the seams of a whole
    break cost, where that is more than ``plain`` knows.

    Raises NotFound if they are not all found, or shown not to be there, within ``most`` steps of the search.
    """
    prices = _Prices()
    if lack is not None:
        _price_lack(plain, prices, lack)
    if distinct:
        _price_repeats(plain, prices, lack)
    paid, grain = prices.most(lack), plain.grain
    search = plain.priced(prices.column(lack)) if prices else plain
    whole_joins = None if joins is None else lambda path: FINE * joins(path)
    found: list[tuple[int, int, Path]] = []
    told: list[tuple[int, Path]] = []

    def tell(bound: int | None) -> None:
        while found and (bound is None or found[0][0] <= bound) and len(told) < how_many:
            value, _, best = heappop(found)
            told.append((value // FINE, best))

    for tried, (promise, path) in enumerate(search.steps(distinct=distinct)):
        # whole breaks cost a whole number of grains
        tell(-((paid - promise) // grain) * grain)
        if len(told) == how_many:
            return told
        if tried > most:
            raise NotFound(tried, told, [(value // FINE, met) for value, _, met in sorted(found)])
        if path is not None and fits(path):
            heappush(found, (plain.cost(path, whole_joins), tried, path))
    tell(None)
    return told


def _price_lack(plain: BestBreaks, prices: _Prices, lack: Lack) -> None:
    """The price at which the cheapest break begins to lack little enough: above it the bound falls again."""
    low, high = 0, FINE
    for turn in range(HALVINGS):
        prices.lack = (low + high) // 2 if turn else 0
        best = plain.priced(prices.column(lack)).cheapest()
        if best is None:
            return
        enough = plain.sum(lack.of, best[1]) <= lack.most
        if enough and prices.lack == 0:
            return
        if enough:
            high = prices.lack
        elif prices.lack + 1 >= high:
            low, high = high, 4 * high
        else:
            low = prices.lack
        if high - low <= 1 and turn > 2 and enough:
            return


def _price_repeats(plain: BestBreaks, prices: _Prices, lack: Lack | None) -> None:
    """Prices that make the bound high: raised for licks that the cheapest priced break takes twice, lowered for those it
    leaves out, in steps that shrink."""
    own = prices.licks
    kept: dict[int, int] = {}
    highest: int | None = None
    step = max(1, plain.dearest // 4)
    for turn in range(ROUNDS):
        best = plain.priced(prices.column(lack)).cheapest()
        if best is None:
            own.clear()
            return
        bound = best[0] - prices.most(lack)
        if highest is None or bound > highest:
            highest, kept = bound, dict(own)
        uses = Counter(plain.number(phrase, place) for phrase, place in best[1])
        wanted = {number for number, times in uses.items() if times > 1}
        if not wanted:
            break
        size = max(1, round(step * SHRINK**turn))
        for number in [*own]:
            if number not in uses:
                own[number] = max(0, own[number] - size)
        for number in wanted:
            own[number] = own.get(number, 0) + size * (uses[number] - 1)
    prices.licks = kept
