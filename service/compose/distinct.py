"""The best breaks that meet what only a whole one can tell, exactly.

Left alone, the cheapest break of a tune that repeats its parts takes the same licks again, and a search by cost alone opens
more breaks than can be looked at before it meets one without repeats, or with enough of the melody. So what is wanted is given
a price (a Lagrangian multiplier): each lick that is wanted twice, and what is lacking of the melody. With good prices the
cheapest priced break hardly repeats. What a priced break costs, less all that the prices can come to, is never more than what
any break costs that meets the demands and goes on from there; so the search goes on by that bound, and a break is told once
nothing left can be cheaper.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from heapq import heapify, heappop, heappush

import numpy as np

from service.compose.best import NEVER, BestBreaks, Cost
from service.compose.lattice import Pick
from service.compose.near import good_breaks
from service.compose.stock import Column, Stock
from service.compose.watches import Watch

# Rounds of raising and lowering prices, between which licks that are too dear are left out; before the first, licks as they are.
STAGES = (0, 25, 60, 60)
STEPS_OF_A_BREAK = 8
SHRINK = 0.96  # of their steps
FINE = 64  # prices are whole 64ths of a cost
DEARER = 16  # times that what is lacking gets twice as dear
EFFORT = 6_000  # states of phrases reckoned, at most, in the rounds of a stage
LEAST_HALVINGS, HALVINGS = 8, 24  # rounds of looking for the price of the melody
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
    watch: Watch | None = None,
    begin: Path | None = None,
) -> list[tuple[int, Path]]:
    """(cost, break) of the cheapest ``how_many`` of ``plain``, whose costs are FINE, that ``fits``, cheapest first; if
    ``distinct``, with no lick twice. What fits lacks no more than ``lack`` allows. ``joins`` tells what the seams of a whole
    break cost, where that is more than ``plain`` knows; ``watch`` is that of ``plain``,
    ``begin`` a break that fits, if one is known.

    Raises NotFound if they are not all found, or shown not to be there, within ``most`` steps of the search.
    """
    whole_joins = None if joins is None else lambda path: FINE * joins(path)
    prices, space = _Prices(), plain
    met: dict[tuple[tuple[int, int], ...], tuple[int, Path]] = {}

    def meet(path: Path) -> None:
        met[tuple((pick.phrase, pick.candidate.number) for pick in path)] = (
            plain.cost(path, whole_joins),
            path,
        )

    def meet_near(path: Path) -> None:
        for good in good_breaks(plain, path, watch, fits, how_many, distinct):
            meet(good)

    if begin is not None:
        meet_near(begin)
    if lack is not None:
        space = plain.only([least <= lack.most for least in plain.counting(lack.of).through()])
        _price_lack(space, prices, lack)

    def look_near() -> None:
        """Meet breaks near the most promising one; where that lacks too much, what is lacking gets dearer until it does not."""
        dearer = replace(prices, licks=dict(prices.licks))
        for _ in range(DEARER if lack is not None else 1):
            priced = space.priced(dearer.column(lack))
            dived = priced.dive(distinct=distinct)
            if dived is not None and (lack is None or space.sum(lack.of, dived) <= lack.most):
                meet_near(space.path(dived))
                if met:
                    return
            dearer.lack = 2 * dearer.lack + 1

    for rounds in STAGES if distinct else STAGES[: lack is not None]:
        rounds = min(rounds, EFFORT // space.states)
        bound = _price_repeats(space, prices, lack, rounds, _upper(met.values(), how_many))
        look_near()
        upper = _upper(met.values(), how_many)
        if upper is not None and bound >= upper:
            break  # what was met is the best there is
        space = _within(space, prices, lack, upper)
    paid, grain = prices.most(lack), plain.grain
    search = space.priced(prices.column(lack)) if prices else space
    told: list[tuple[int, Path]] = []
    waiting = [(cost, -turn, path) for turn, (cost, path) in enumerate(met.values())]
    heapify(waiting)

    def tell(bound: int | None) -> None:
        while waiting and (bound is None or waiting[0][0] <= bound) and len(told) < how_many:
            value, _, best = heappop(waiting)
            told.append((value // FINE, best))

    # where only whole breaks are told, each took many steps
    most = most if distinct or lack is not None else most // STEPS_OF_A_BREAK
    scarce = None if lack is None else (space.counting(lack.of), lack.most)
    for tried, (promise, path) in enumerate(search.steps(distinct=distinct, scarce=scarce)):
        # whole breaks cost a whole number of grains
        tell(-((paid - promise) // grain) * grain)
        if len(told) == how_many:
            return told
        if tried > most:
            raise NotFound(tried, told, [(value // FINE, other) for value, _, other in sorted(waiting)])
        if path is not None and fits(path):
            key = tuple((pick.phrase, pick.candidate.number) for pick in path)
            if key not in met:
                meet(path)
                heappush(waiting, (met[key][0], tried + 1, path))
    tell(None)
    return told


def _upper(met: Iterable[tuple[int, Path]], how_many: int) -> int | None:
    """What the last of so many breaks costs that were met; None if there are fewer."""
    costs = sorted(cost for cost, _ in met)
    return costs[how_many - 1] if len(costs) >= how_many else None


def _within(space: BestBreaks, prices: _Prices, lack: Lack | None, upper: int | None) -> BestBreaks:
    """The licks that a break can have which costs no more than that."""
    if upper is None:
        return space
    most = upper + prices.most(lack)
    return space.only([least <= most for least in space.priced(prices.column(lack)).through()])


def _price_lack(plain: BestBreaks, prices: _Prices, lack: Lack) -> None:
    """The price at which the cheapest break begins to lack little enough: above it the bound falls again."""
    low, high = 0, FINE
    for turn in range(max(LEAST_HALVINGS, min(HALVINGS, EFFORT // plain.states))):
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


def _price_repeats(
    space: BestBreaks, prices: _Prices, lack: Lack | None, rounds: int, upper: int | None
) -> int:
    """Prices that make the bound high, and how high: raised for licks that the cheapest priced break takes twice, lowered for
    those it leaves out. Steps are as long as what is missing to the cost of a break that was met (Polyak, 1969) allows; without
    one they shrink."""
    own = prices.licks
    kept, highest = dict(own), -NEVER
    step = max(1, space.dearest // 4)
    share = 1.0
    for _ in range(rounds):
        best = space.priced(prices.column(lack)).cheapest()
        if best is None:
            break
        bound = best[0] - prices.most(lack)
        uses = Counter(space.number(phrase, place) for phrase, place in best[1])
        away = {number: uses[number] - 1 for number in {*own, *uses} if uses[number] != 1}
        away = {number: by for number, by in away.items() if by > 0 or own.get(number)}
        if bound > highest:
            highest, kept = bound, dict(own)
        else:
            share *= SHRINK
        if not any(by > 0 for by in away.values()) or (upper is not None and bound >= upper):
            break
        length = sum(by * by for by in away.values())
        size = step * share if upper is None else share * max(FINE, upper - bound) / length
        for number, by in away.items():
            own[number] = max(0, own.get(number, 0) + round(size * by))
    prices.licks = {number: price for number, price in kept.items() if price}
    return highest
