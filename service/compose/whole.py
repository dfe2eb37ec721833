"""Breaks that meet what only a whole one can have: drawn evenly, or the best of them.

They are drawn until a break meets the demands, evenly over all that do; a small number of breaks is looked through instead.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.compose.best import Cost, JoinCost
from service.compose.demands import PARTS, AnyLattice, Demands, Path, lacking, makings_of
from service.compose.distinct import FINE, Lack, NotFound, best_distinct
from service.compose.drawing import seeded
from service.compose.seams import NO_COST
from service.compose.sections import SameLattice
from service.compose.stock import Column, Stock, edges_of

LOOKED_THROUGH = 2_000  # breaks at most that are all looked at
REDRAWS = 2_000  # draws from one lattice before a break is searched for: two seconds for all rules tried
SERVED_DRAWS = 200  # draws that meet the demands but were served, before one of them is served again
SEARCHED = 5_000  # steps of a search
MOST_STATES = 1_000  # that phrases may have together for a search to be worth while
SCALE = 1000
LACKING = 4 * SCALE  # what lacking all of the melody costs a search, beside a chance cost up to SCALE


@dataclass(frozen=True, slots=True)
class Drawn:
    """A break that meets the demands; ``again`` are all there are, where every one of them was served."""

    path: Path
    fresh: bool = True
    again: tuple[Path, ...] = ()


def draw_whole(
    lattice: AnyLattice,
    demands: Demands,
    randbelow: Callable[[int], int],
    was_served: Callable[[Path], bool] = lambda path: False,
) -> Drawn | None:
    """A break that meets the demands, if there is one that was not served, evenly; None if none was found.

    Where REDRAWS draws find none, one is searched for, unless too many states are minded: any break can come then, though not
    evenly.
    """
    if lattice.total <= LOOKED_THROUGH:
        met = [path for number in range(lattice.total) if demands.met_by(path := lattice.path(number + 1))]
        left = [path for path in met if not was_served(path)]
        among = left or met
        if not among:
            return None
        return Drawn(among[randbelow(len(among))], bool(left), () if left else tuple(dict.fromkeys(met)))
    served: list[Path] = []
    for _ in range(REDRAWS):
        path = lattice.path(1 + randbelow(lattice.total))
        if demands.met_by(path):
            if not was_served(path):
                return Drawn(path)
            served.append(path)
            if len(served) == SERVED_DRAWS:
                break
    if served:
        return Drawn(served[-1], fresh=False)
    found = _searched(lattice, demands, randbelow) if lattice.states <= MOST_STATES else None
    return None if found is None else Drawn(found, fresh=not was_served(found))


def _searched(lattice: AnyLattice, demands: Demands, randbelow: Callable[[int], int]) -> Path | None:
    """A break that meets the demands, by a search in a chance order that leans to the melody if that is asked for."""
    chance = np.random.RandomState(randbelow(1 << 32))  # whose numbers are the same in every version
    costs: dict[int, Column] = {}

    def cost(of: Stock, phrase: int) -> Column:
        if phrase not in costs:
            costs[phrase] = chance.randint(0, SCALE, len(of), np.int64)
            if demands.melody is not None:
                costs[phrase] += np.round(LACKING * (1 - of.column("recall"))).astype(np.int64) * of.ints(
                    "span"
                )
        return costs[phrase]

    found = best_whole(lattice, demands, cost, NO_COST, 1, SEARCHED)
    return found.paths[0] if found.paths else None


@dataclass(frozen=True, slots=True)
class Best:
    """Breaks, the best first; ``exact`` says that they were shown to be the best."""

    paths: tuple[Path, ...]
    exact: bool = True


def best_whole(
    lattice: AnyLattice,
    demands: Demands,
    cost: Cost,
    join_cost: JoinCost,
    how_many: int,
    most: int,
) -> Best:
    """The cheapest breaks that meet the demands, of seams that may be, within ``most`` steps of the search.

    Where those do not do, the breaks that were shown to be cheapest; if there are none, the cheapest that were met, which others
    may undercut.
    """
    if not lattice.total:
        return Best(())
    made_of = makings_of(lattice)

    def fits(path: Path) -> bool:
        return demands.met_by(made_of.expanded(path))

    def joins(path: Path) -> int:
        """What all seams of the whole break cost."""
        whole = made_of.expanded(path)
        edges = [edges_of(pick.candidate) for pick in whole]
        return sum(join_cost(a.into(b.entry), b.entry) or 0 for a, b in pairwise(edges))

    begin = None
    if demands.differs_by or demands.otherwise:
        inner = lattice.inner if isinstance(lattice, SameLattice) else lattice
        randbelow = seeded("best")
        drawn = (inner.path(1 + randbelow(inner.total)) for _ in range(REDRAWS))
        begin = next((path for path in drawn if fits(path)), None)
    lack = None
    if demands.melody is not None:
        ticks = sum(pick.candidate.ticks for pick in lattice.path(1))
        lack = Lack(made_of.each_time(lacking), int((1 - demands.melody) * PARTS * ticks + 1))
    try:
        told = best_distinct(
            made_of.best(cost, made_of.joining(join_cost), FINE), how_many, most, fits,
            lack, demands.no_repeats, joins if isinstance(lattice, SameLattice) else None, made_of.watch, begin,
        )  # fmt: skip
        return Best(tuple(made_of.expanded(path) for _, path in told))
    except NotFound as none:
        found = none.told or none.met[:how_many]
        return Best(tuple(made_of.expanded(path) for _, path in found), exact=False)
