"""The breaks whose every seam can be played, and that keep to rules over a whole part: counted exactly and drawn evenly.

For each phrase, each state of what is watched and each way in there are the ways to go on; for each cell (see grid.py) their
sum over the ways in that it may be joined to. Big integers all the way; nothing is rejected. Of a draw, first the way in is
chosen, then the cell that the lick will leave by, then the lick among those alike.
"""

from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Hashable, Sequence
from functools import cached_property
from itertools import accumulate

import numpy as np

from service.compose.grid import Block, Grid, Numbers
from service.compose.lattice import Pick, bytes_of, furthest
from service.compose.limbs import MOST_TIMES, MOST_WEIGHED, Limbs, carried, summed, whole, wider, zeros
from service.compose.seams import ANY_SEAM
from service.compose.stock import Candidate, Column, Mask, Stock, each
from service.compose.tables import Flow, Members, Small, Tables
from service.compose.watches import Watch
from service.judge.joins import CUTS, Edge

BEGIN = -1  # no kind of cell: the beginning of a break
Allows = Callable[[Edge, Edge], int | None]  # 0 or None: the seam may not be; else what it weighs


def alike(of: Stock) -> Column:
    """Every lick weighs the same."""
    return np.ones(len(of), np.int64)


class JoinedLattice:
    """``allows(exit, entry)`` says whether a seam may be, and what it weighs; every candidate has edges and the weight that
    ``weigh`` gives it; ``watch`` is minded besides; the seams before the phrases in ``free`` are not.

    With weights, ``total`` is their sum over all breaks and a break has as many numbers as its licks and joins weigh, multiplied.
    """

    def __init__(
        self,
        candidates: Sequence[Sequence[Candidate]],
        allows: Allows,
        watch: Watch | None = None,
        weigh: Callable[[Stock], Column] = alike,
        free: frozenset[int] = frozenset(),
    ) -> None:
        self.allows, self._weigh, self.free = allows, weigh, free
        self._grid = grid = Grid(candidates, watch)
        self.candidates = grid.stocks
        self._weights = each(grid.stocks, lambda of: weigh(of).astype(np.int64))
        if any(len(CUTS) * int(weights.sum()) > MOST_TIMES for weights in self._weights):
            raise ValueError("the licks of a phrase weigh too much together")
        # what each seam weighs, by phrase: a row for each cell that leads there, a column for each way in
        seams = grid.local_seams(allows, 0, ANY_SEAM, free)
        exact = {id(of): of.astype(np.float64) for of in seams}
        self._seams = [exact[id(of)] for of in seams]
        if any(of.sum(axis=1).max(initial=0) > MOST_WEIGHED for of in self._seams):
            raise ValueError("the seams after a lick weigh too much together")
        self._flows = self._flows_of()
        self._ways_in: list[list[Limbs]] = [[] for _ in range(grid.size)]
        self._tables = Tables([len(states) for states in grid.states])
        self._reckon()

    def _flows_of(self) -> list[list[Flow]]:
        """By phrase and block; those of the same licks to the same cells are one."""
        grid = self._grid
        made: dict[Hashable, Flow] = {}
        found = []
        for phrase, blocks in enumerate(grid.blocks):
            here = []
            for block in blocks:
                key = id(grid.stocks[phrase]), id(block), id(grid.cells_into[phrase + block.span])
                if key not in made:
                    made[key] = Flow(*self._flow(phrase, block))
                here.append(made[key])
            found.append(here)
        return found

    def _flow(self, phrase: int, block: Block) -> tuple[Numbers, Numbers, Column, tuple[int, int]]:
        """The way in and the cells of each lick of a block, what it weighs, and how many ways in and cells there are."""
        grid = self._grid
        shape = (len(grid.ways_in[phrase].used), len(grid.cells_into[phrase + block.span].used))
        entries = grid.entry_of[phrase][block.places]
        return entries, grid.leaving(phrase, block), self._weights[phrase][block.places], shape

    def _reckon(self) -> None:
        """The ways to go on from each way in, by phrase and state, from the end."""
        grid = self._grid
        after: list[list[Limbs]] = [[] for _ in range(grid.size + 1)]
        after[-1] = [self._at_the_end(state) for state in range(len(grid.states[-1]))]
        spans = max((block.span for blocks in grid.blocks for block in blocks), default=1)
        for phrase in range(grid.size - 1, -1, -1):
            known: dict[tuple[int, int], Limbs] = {}
            for steps in grid.steps[phrase]:
                sums = zeros(len(grid.ways_in[phrase].used))
                for number, state in steps:
                    flow, block = self._flows[phrase][number], grid.blocks[phrase][number]
                    part = known.get((number, state))
                    if part is None:
                        part = known[number, state] = flow.ways(after[phrase + block.span][state])
                    sums = wider(sums, part.shape[1])
                    sums[flow.entries, : part.shape[1]] += part
                sums = carried(sums)
                self._ways_in[phrase].append(sums.astype(np.uint32))
                after[phrase].append(summed(self._seams[phrase], sums))
            if phrase + spans <= grid.size:
                after[phrase + spans] = []  # no lick before this phrase reaches so far

    def _at_the_end(self, state: int) -> Limbs:
        """Nothing is cut: a lick that ends the break leaves by its first cell."""
        uncut = self._grid.cells_into[-1].used < len(self._grid.exits)
        ends = self._grid.watch.ends(self._grid.states[-1][state])
        return (uncut & ends).astype(np.int64)[:, None]

    @property
    def total(self) -> int:
        if not self._grid.size:
            return int(self._grid.watch.ends(self._grid.watch.start))
        return sum(self._entry_ways(0, 0))

    def _entry_ways(self, phrase: int, state: int) -> list[int]:
        """The ways to go on by way in."""
        here = self._tables.at[phrase][state]
        if here.ways_in is None:
            here.ways_in = self._tables.kept(whole(self._ways_in[phrase][state].astype(np.int64)))
        return here.ways_in

    def _cell_ways(self, phrase: int, state: int) -> list[int]:
        """The ways to go on by cell."""
        here = self._tables.at[phrase][state]
        if here.ways_out is None:
            if phrase == self._grid.size:
                ways = self._at_the_end(state)
            else:
                ways = summed(self._seams[phrase], self._ways_in[phrase][state])
            here.ways_out = self._tables.kept(whole(ways))
        return here.ways_out

    @cached_property
    def _kinds(self) -> list[list[int]]:
        """For each cell that leads to a phrase the first one that may be joined to the same ways in at the same weights."""

        def kinds_of(seams: Column) -> list[int]:
            first: dict[bytes, int] = {}
            return [first.setdefault(row.tobytes(), cell) for cell, row in enumerate(seams)]

        return [kinds_of(seams) for seams in self._seams]

    def _beginnings(self, phrase: int, state: int, kind: int) -> tuple[Small, Small, list[int]]:
        """Ways in that a kind of cell may be joined to, what each seam weighs, and running sums of the ways; the beginning of a
        break (BEGIN) has no seam."""
        here = self._tables.at[phrase][state]
        found = here.beginnings.get(kind)
        if found is None:
            ways = self._entry_ways(phrase, state)
            weights = (
                [1] * len(ways) if kind == BEGIN else self._seams[phrase][kind].astype(np.int64).tolist()
            )
            entries = [entry for entry, weight in enumerate(weights) if weight and ways[entry]]
            sums = list(accumulate(weights[entry] * ways[entry] for entry in entries))
            found = array("i", entries), array("i", [weights[entry] for entry in entries]), sums
            here.beginnings[kind] = self._tables.kept(found)
        return found

    def _options(self, phrase: int, state: int, entry: int) -> tuple[list[int], Small, Small, Small]:
        """Running sums of the ways, and the step (its place among those of the state), pair and cell of what goes on from a way
        in."""
        here = self._tables.at[phrase][state]
        found = here.options.get(entry)
        if found is None:
            found = [], array("i"), array("i"), array("i")
            sums, steps, pairs, cells = found
            so_far = 0
            for step, (number, after) in enumerate(self._grid.steps[phrase][state]):
                flow = self._flows[phrase][number]
                ways = self._cell_ways(phrase + self._grid.blocks[phrase][number].span, after)
                here_on = flow.pairs(entry)
                part = slice(here_on.start, here_on.stop)
                leads, times = flow.cells[part].tolist(), flow.times[part].tolist()
                for pair, cell, licks in zip(here_on, leads, times, strict=True):
                    if ways[cell]:
                        so_far += licks * ways[cell]
                        sums.append(so_far)
                        steps.append(step)
                        pairs.append(pair)
                        cells.append(cell)
            here.options[entry] = self._tables.kept(found)
        return found

    def _members(self, phrase: int, number: int) -> Members:
        found = self._tables.members.get((phrase, number))
        if found is None:
            block: Block = self._grid.blocks[phrase][number]
            found = self._tables.kept(Members(*self._flow(phrase, block), block.places))
            self._tables.members[phrase, number] = found
        return found

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number`` in this lattice's own order, from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left, phrase, state, kind = number - 1, 0, 0, BEGIN
        steps_of, blocks, kinds = self._grid.steps, self._grid.blocks, self._kinds
        picks: list[Pick] = []
        while phrase < self._grid.size:
            entries, seams, sums = self._beginnings(phrase, state, kind)
            at = bisect_right(sums, left)
            left = (left - (sums[at - 1] if at else 0)) // seams[at]
            sums, steps, pairs, cells = self._options(phrase, state, entries[at])
            at = bisect_right(sums, left)
            left -= sums[at - 1] if at else 0
            block, state = steps_of[phrase][state][steps[at]]
            after, cell = phrase + blocks[phrase][block].span, cells[at]
            member, left = divmod(left, self._cell_ways(after, state)[cell])
            place = self._members(phrase, block).at(pairs[at], member)
            picks.append(Pick(phrase, self.candidates[phrase][place]))
            phrase = after
            kind = kinds[phrase][cell] if phrase < self._grid.size else BEGIN
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them.

        Only where nothing weighs more than 1: there a break has one number.
        """
        places = self._places(licks)
        if places is None:
            return None
        grid = self._grid
        number, phrase, state, kind = 1, 0, 0, BEGIN
        joints = []
        for place in places:
            joints.append(self.candidates[phrase].joint(place))
            phrase += joints[-1][0]
        phrase = 0
        for turn, (place, (span, way_in, ways_out)) in enumerate(zip(places, joints, strict=True)):
            entry, after = int(grid.ways_in[phrase].place[way_in]), phrase + span
            cut = int(grid.cuts[joints[turn + 1][1]]) if turn + 1 < len(joints) else 0
            leaves = int(grid.cells_into[after].place[cut * len(grid.exits) + ways_out[cut]])
            entries, _, sums = self._beginnings(phrase, state, kind)
            at = bisect_left(entries, entry)
            if at == len(entries) or entries[at] != entry:
                return None
            number += sums[at - 1] if at else 0
            found = self._onward(phrase, state, entry, leaves, place)
            if found is None:
                return None
            before, state = found
            number += before
            phrase = after
            kind = self._kinds[phrase][leaves] if phrase < self._grid.size else BEGIN
        return number

    def _onward(self, phrase: int, state: int, entry: int, leaves: int, place: int) -> tuple[int, int] | None:
        """The ways from a way in that come before those of the lick at a place that leaves by a cell, and the state after it."""
        sums, steps, pairs, cells = self._options(phrase, state, entry)
        for at, (step, pair, cell) in enumerate(zip(steps, pairs, cells, strict=True)):
            if cell == leaves:
                block, after = self._grid.steps[phrase][state][step]
                member = self._members(phrase, block).within(pair, place)
                if member is not None:
                    ways = self._cell_ways(phrase + self._grid.blocks[phrase][block].span, after)[leaves]
                    return (sums[at - 1] if at else 0) + member * ways, after
        return None

    def _places(self, licks: Sequence[tuple[int, int]]) -> list[int] | None:
        """Where licks stand in their phrases, if they fill the form."""
        found, phrase = [], 0
        for lick in licks:
            place = self.candidates[phrase].place(*lick) if phrase < self._grid.size else None
            if place is None:
                return None
            found.append(place)
            phrase += self.candidates[phrase].joint(place)[0]
        return found if phrase == self._grid.size else None

    @property
    def states(self) -> int:
        """How many states its phrases have together."""
        return sum(len(states) for states in self._grid.states)

    @property
    def nbytes(self) -> int:
        """Memory that it takes, about, with the tables that draws have made so far."""
        return self._fixed + self._tables.nbytes

    @cached_property
    def _fixed(self) -> int:
        flows = [flow for flows in self._flows for flow in flows]
        columns = [
            *self._weights,
            *(block.places for blocks in self._grid.blocks for block in blocks),
            *(limbs for ways in self._ways_in for limbs in ways),
            *self._seams,
        ]
        sizes = (self._grid.nbytes, *(of.nbytes for of in columns), *(of.nbytes for of in flows))
        return bytes_of(self.candidates) + sum(sizes)

    @property
    def watch(self) -> Watch:
        """What is minded along a break."""
        return self._grid.watch

    def only(self, keep: Callable[[Stock], Mask]) -> "JoinedLattice":
        """The same phrases, joins and watch with only the candidates that pass."""
        kept = each(self.candidates, lambda of: of.where(keep(of)))
        return JoinedLattice(kept, self.allows, self._grid.watch, self._weigh, self.free)

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        return None if self.total else furthest(self.candidates)
