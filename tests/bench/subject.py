"""What is measured: composing as the use cases do it, called from one place."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from types import SimpleNamespace

import numpy as np

from service.compose.candidates import build_lattice, spots
from service.compose.demands import AnyLattice, Demands
from service.compose.joined import JoinedLattice
from service.compose.lattice import Lattice, Pick
from service.compose.seams import BySeam, Numbers
from service.compose.stock import Column, Stock, edges_of
from service.compose.whole import Best, best_whole
from service.judge.joins import CUTS
from service.music.tunes import phrases
from service.usecases.best_breaks import STEPS, lick_costs, seam_costs
from service.usecases.composing import Composed
from service.usecases.drawable import rungs, seams
from service.usecases.house import Kept
from service.usecases.wishes import Wish
from tests.bench.pools import Made, tune_and_setting
from tests.bench.solver import FORBIDDEN


def lattice_of(made: Made, size: int) -> Lattice:
    """The lattice of the tune of so many phrases, from a pool with its facts in memory."""
    tune, setting = tune_and_setting(size)
    return build_lattice(made.pool, tune, spots(made.pool, tune, setting), made.over)


@dataclass(frozen=True)
class Subject:
    """A lattice of the tune of ``size`` phrases; ``bpm`` is the tempo asked for, None the tune's own."""

    lattice: Lattice
    size: int
    bpm: int | None = None

    @cached_property
    def composed(self) -> Composed:
        tune, setting = tune_and_setting(self.size)
        return Composed(None, None, tune, setting, "bench", "", self.lattice, phrases(tune))  # type: ignore[arg-type]

    @cached_property
    def allows(self) -> BySeam:
        """Which seams can be played, as a draw asks."""
        return seams(self.composed, Wish(bpm=self.bpm))

    def joined(self) -> JoinedLattice:
        """The breaks whose every seam can be played, counted."""
        found = JoinedLattice(self.lattice.candidates, self.allows)
        if not found.total:
            raise RuntimeError("there are no breaks")
        return found

    def default_draw(self) -> AnyLattice:
        """What a break is drawn from where nothing is asked for: rules, joins, manner and targets minded."""
        house = SimpleNamespace(drawable=Kept(1))
        return next(iter(rungs(house, self.composed, Wish())))  # type: ignore[arg-type]

    @cached_property
    def ready(self) -> JoinedLattice:
        """What the best are looked for in, as it is kept ready."""
        return self.joined()

    def best(self, by: str, how_many: int, *, no_repeats: bool = False) -> Best:
        """The best breaks by ``smooth``, ``easy`` or ``melody``."""
        demands, mix = Demands(no_repeats=no_repeats), {by: 1}
        return best_whole(
            self.ready, demands, lick_costs(mix), seam_costs(self.composed, mix), how_many, STEPS
        )

    def cost(self, by: str) -> Callable[[Stock, int], Column]:
        return lick_costs({by: 1})

    def seams_of_pool(self) -> Numbers:
        """Which of the pool's ways out (rows) may be joined to which ways in, all judged."""
        edges = self.lattice.candidates[0].edges
        return self.allows.every(edges.exits, edges.entries)

    def price(self, path: Sequence[Pick], by: str) -> int:
        """What a break costs, joins and all."""
        total = 0
        for pick in path:
            of = self.lattice.candidates[pick.phrase]
            place = of.place(pick.candidate.number, pick.candidate.revision)
            total += int(self.cost(by)(of, pick.phrase)[place])
        edges = [edges_of(pick.candidate) for pick in path]
        join = seam_costs(self.composed, {by: 1})
        return total + sum(join(a.into(b.entry), b.entry) or 0 for a, b in pairwise(edges))

    def prices(self, found: Best, by: str) -> list[int]:
        return [self.price(path, by) for path in found.paths]

    def seam_costs(self, phrase: int, by: str) -> Column:
        """What joining each lick of a phrase (rows) to each of the next (columns) costs; every lick fills one phrase."""
        before, after = self.lattice.candidates[phrase : phrase + 2]
        ways_in, place = np.unique(after.column("entry"), return_inverse=True)
        edges = before.edges.exits, [after.edges.entries[entry] for entry in ways_in.tolist()]
        costs = seam_costs(self.composed, {by: 1}).every(*edges)
        costs = np.where(self.allows.every(*edges) > 0, costs, FORBIDDEN)
        cuts = np.array([min(after.edges.entries[entry].cut, len(CUTS) - 1) for entry in ways_in.tolist()])
        leaves_by = before.column("exits")[:, cuts]  # (licks, ways in)
        found: Column = costs[leaves_by, np.arange(len(ways_in))][:, place]
        return found

    def thinned(self, each: int) -> "Subject":
        """The same with the first so many licks of each phrase."""
        kept = [of.where(np.arange(len(of)) < each) for of in self.lattice.candidates]
        return Subject(Lattice(kept), self.size, self.bpm)
