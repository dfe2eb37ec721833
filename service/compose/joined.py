"""The breaks whose every seam can be played, and that keep to rules over a whole part: counted exactly and drawn evenly.

For each phrase, each state of what is watched and each way in there are the ways to go on; for each cell (see grid.py) their
sum over the ways in that it may be joined to. Big integers all the way; nothing is rejected. Of a draw, first the way in is
chosen, then the cell that the lick will leave by, then the lick among those alike.
"""

from bisect import bisect_right
from collections.abc import Callable, Hashable, Sequence
from functools import cached_property
from itertools import accumulate
from sys import getsizeof
from typing import TypeVar

import numpy as np

from service.compose.grid import Block, Grid, Numbers
from service.compose.lattice import Pick, bytes_of, furthest
from service.compose.limbs import MOST_TIMES, Limbs, carried, whole, wider, zeros
from service.compose.stock import Candidate, Column, Mask, Stock
from service.compose.watches import Watch
from service.judge.joins import CUTS, Edge

Allows = Callable[[Edge, Edge], int]  # 0: the seam may not be; else what it weighs
T = TypeVar("T")
MOST_READY = 16 << 20  # bytes of tables for drawing kept at once; more are made again when they are needed


def alike(of: Stock) -> Column:
    """Every lick weighs the same."""
    return np.ones(len(of), np.int64)


class _Ready(dict[Hashable, object]):
    """Tables made when they are first needed."""

    nbytes = 0

    def of(self, key: Hashable, make: Callable[[], T]) -> T:
        found = self.get(key)
        if found is None:
            if self.nbytes > MOST_READY:
                self.clear()
                self.nbytes = 0
            found = self[key] = make()
            self.nbytes += _bytes_of(found)
        return found  # type: ignore[return-value]


def _bytes_of(table: object) -> int:
    """Memory that a table takes, about: its first entry stands for all of a list."""
    if isinstance(table, dict):
        return 64 * len(table) + sum(_bytes_of(value) for value in table.values())
    if isinstance(table, tuple):
        return 56 + sum(_bytes_of(value) for value in table)
    if isinstance(table, list):
        return 56 + len(table) * (8 + (_bytes_of(table[-1]) if table else 0))
    return getsizeof(table)


class _Flow:
    """How many licks of a block lead from each way in to each cell, as far as there are any, in order of the way in."""

    __slots__ = ("cells", "entries", "starts", "times")

    def __init__(self, entries: Numbers, cells: Numbers, weights: Column, shape: tuple[int, int]) -> None:
        keys = (entries * shape[1])[:, None] + cells
        counted = np.bincount(
            keys.ravel(), np.repeat(weights, len(CUTS)).astype(np.float64), shape[0] * shape[1]
        )
        found = np.flatnonzero(counted)
        self.times = counted[found].astype(np.int64)
        into, self.cells = np.divmod(found, shape[1])
        self.starts = np.flatnonzero(np.diff(into, prepend=-1))
        self.entries = into[self.starts]

    def ways(self, after: Limbs) -> Limbs:
        """Sums of the ways on by way in."""
        return np.add.reduceat(after[self.cells] * self.times[:, None], self.starts)

    def to(self, entry: int) -> tuple[Numbers, Numbers]:
        """The cells and their licks for a way in."""
        place = int(np.searchsorted(self.entries, entry))
        if place == len(self.entries) or self.entries[place] != entry:
            return self.cells[:0], self.times[:0]
        end = self.starts[place + 1] if place + 1 < len(self.starts) else len(self.cells)
        part = slice(int(self.starts[place]), int(end))
        return self.cells[part], self.times[part]


class _Used:
    """Which of so many small numbers occur: ``used`` in order, and the ``place`` of each among them."""

    __slots__ = ("place", "used")

    def __init__(self, numbers: Sequence[Column], size: int) -> None:
        there = np.zeros(size, np.bool_)
        for column in numbers:
            there[column] = True
        self.used: Numbers = np.flatnonzero(there)
        self.place: Numbers = np.cumsum(there) - 1


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
        self._weights = [weigh(of).astype(np.int64) for of in grid.stocks]
        if any(len(CUTS) * int(weights.sum()) > MOST_TIMES for weights in self._weights):
            raise ValueError("the licks of a phrase weigh too much together")
        self._entries = [_Used([of.column("entry")], len(grid.entries)) for of in grid.stocks]
        self._cells = self._cells_into()
        seams, unminded = grid.seams(allows, 0), grid.seams(lambda before, entry: 1, 0) if free else None
        # what each seam weighs, by phrase: a row for each cell that leads there, a column for each way in
        self._seams = [
            (seams if unminded is None or phrase not in free else unminded)[np.ix_(cells.used, entries.used)]
            for phrase, (cells, entries) in enumerate(zip(self._cells[:-1], self._entries, strict=True))
        ]
        self._flows = [self._flows_of(phrase) for phrase in range(grid.size)]
        self._ways_in: list[list[Limbs]] = [[] for _ in range(grid.size)]
        self._ready = _Ready()
        self._reckon()

    def _cells_into(self) -> list[_Used]:
        """The cells that lead to each phrase and past the end."""
        grid = self._grid
        found: list[list[Numbers]] = [[] for _ in range(grid.size + 1)]
        for phrase, blocks in enumerate(grid.blocks):
            cells = grid.cells_of(phrase)
            for block in blocks:
                found[phrase + block.span].append(cells if len(blocks) == 1 else cells[block.places])
        return [_Used(of, grid.cells) for of in found]

    def _leaving(self, phrase: int, block: Block, places: Column) -> Numbers:
        """The cells that licks of a block leave by: (licks, cuts)."""
        return self._cells[phrase + block.span].place[self._grid.cells_of(phrase)[places]]

    def _flows_of(self, phrase: int) -> list[_Flow]:
        entries = self._entries[phrase].place[self._grid.stocks[phrase].column("entry")]
        return [
            _Flow(
                entries[block.places],
                self._leaving(phrase, block, block.places),
                self._weights[phrase][block.places],
                (len(self._entries[phrase].used), len(self._cells[phrase + block.span].used)),
            )
            for block in self._grid.blocks[phrase]
        ]

    def _reckon(self) -> None:
        """The ways to go on from each way in, by phrase and state, from the end."""
        grid = self._grid
        after: list[list[Limbs]] = [[] for _ in range(grid.size + 1)]
        after[-1] = [self._at_the_end(state) for state in range(len(grid.states[-1]))]
        spans = max((block.span for blocks in grid.blocks for block in blocks), default=1)
        for phrase in range(grid.size - 1, -1, -1):
            known: dict[tuple[int, int], Limbs] = {}
            for steps in grid.steps[phrase]:
                sums = zeros(len(self._entries[phrase].used))
                for number, state in steps:
                    flow, block = self._flows[phrase][number], grid.blocks[phrase][number]
                    part = known.get((number, state))
                    if part is None:
                        part = known[number, state] = flow.ways(after[phrase + block.span][state])
                    sums = wider(sums, part.shape[1])
                    sums[flow.entries, : part.shape[1]] += part
                sums = carried(sums)
                self._ways_in[phrase].append(sums.astype(np.uint32))
                after[phrase].append(carried(self._seams[phrase] @ sums))
            if phrase + spans <= grid.size:
                after[phrase + spans] = []  # no lick before this phrase reaches so far

    def _at_the_end(self, state: int) -> Limbs:
        """Nothing is cut: a lick that ends the break leaves by its first cell."""
        uncut = self._cells[-1].used < len(self._grid.exits)
        ends = self._grid.watch.ends(self._grid.states[-1][state])
        return (uncut & ends).astype(np.int64)[:, None]

    @property
    def total(self) -> int:
        if not self._grid.size:
            return int(self._grid.watch.ends(self._grid.watch.start))
        return sum(self._entry_ways(0, 0))

    def _entry_ways(self, phrase: int, state: int) -> list[int]:
        """The ways to go on by way in."""
        return self._ready.of(
            ("in", phrase, state), lambda: whole(self._ways_in[phrase][state].astype(np.int64))
        )

    def _cell_ways(self, phrase: int, state: int) -> list[int]:
        """The ways to go on by cell."""

        def make() -> list[int]:
            if phrase == self._grid.size:
                return whole(self._at_the_end(state))
            return whole(carried(self._seams[phrase] @ self._ways_in[phrase][state].astype(np.int64)))

        return self._ready.of(("out", phrase, state), make)

    def _beginnings(
        self, phrase: int, state: int, cell: int | None
    ) -> tuple[list[int], list[int], list[int]]:
        """Ways in that a cell may be joined to, what each seam weighs, and running sums of the ways; the beginning of a
        break has no seam."""

        def make() -> tuple[list[int], list[int], list[int]]:
            ways = self._entry_ways(phrase, state)
            weights = [1] * len(ways) if cell is None else self._seams[phrase][cell].tolist()
            entries = [entry for entry, weight in enumerate(weights) if weight and ways[entry]]
            seams = [weights[entry] for entry in entries]
            return entries, seams, list(accumulate(weights[entry] * ways[entry] for entry in entries))

        return self._ready.of((phrase, state, cell), make)

    def _options(
        self, phrase: int, state: int, entry: int
    ) -> tuple[list[int], list[tuple[int, int, int, int]]]:
        """Running sums of the ways, and (block, cell, ways from there, state after) of what goes on from a way in."""

        def make() -> tuple[list[int], list[tuple[int, int, int, int]]]:
            sums, options, so_far = [], [], 0
            for number, after in self._grid.steps[phrase][state]:
                ways = self._cell_ways(phrase + self._grid.blocks[phrase][number].span, after)
                cells, times = self._flows[phrase][number].to(entry)
                for cell, licks in zip(cells.tolist(), times.tolist(), strict=True):
                    if ways[cell]:
                        so_far += licks * ways[cell]
                        sums.append(so_far)
                        options.append((number, cell, ways[cell], after))
            return sums, options

        return self._ready.of((phrase, state, entry, "on"), make)

    def _members(self, phrase: int, number: int, entry: int) -> dict[int, tuple[list[int], list[int]]]:
        """By cell: places of the licks of a block with a way in, and running sums of what they weigh."""

        def make() -> dict[int, tuple[list[int], list[int]]]:
            block: Block = self._grid.blocks[phrase][number]
            own = self._grid.stocks[phrase].column("entry")[block.places]
            here = block.places[own == self._entries[phrase].used[entry]]
            found: dict[int, tuple[list[int], list[int]]] = {}
            cells = self._leaving(phrase, block, here).tolist()
            weights = self._weights[phrase][here].tolist()
            for place, leaves, weight in zip(here.tolist(), cells, weights, strict=True):
                for cell in leaves:
                    places, sums = found.setdefault(cell, ([], []))
                    places.append(place)
                    sums.append(weight + (sums[-1] if sums else 0))
            return found

        return self._ready.of((phrase, number, entry, "of"), make)

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number`` in this lattice's own order, from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left, phrase, state = number - 1, 0, 0
        cell: int | None = None
        picks: list[Pick] = []
        while phrase < self._grid.size:
            entries, seams, sums = self._beginnings(phrase, state, cell)
            place = bisect_right(sums, left)
            left = (left - (sums[place - 1] if place else 0)) // seams[place]
            entry = entries[place]
            sums, options = self._options(phrase, state, entry)
            place = bisect_right(sums, left)
            left -= sums[place - 1] if place else 0
            block, cell, ways, state = options[place]
            member, left = divmod(left, ways)
            places, weights = self._members(phrase, block, entry)[cell]
            chosen = self.candidates[phrase][places[bisect_right(weights, member)]]
            picks.append(Pick(phrase, chosen))
            phrase += chosen.span
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them.

        Only where nothing weighs more than 1: there a break has one number.
        """
        places = self._places(licks)
        if places is None:
            return None
        number, phrase, state = 1, 0, 0
        cell: int | None = None
        for turn, place in enumerate(places):
            of = self.candidates[phrase]
            entry = int(self._entries[phrase].place[of.rows["entry"][place]])
            span = int(of.rows["span"][place])
            cut = 0
            if turn + 1 < len(places):
                coming = self.candidates[phrase + span].rows["entry"][places[turn + 1]]
                cut = int(self._grid.cuts[coming])
            on = cut * len(self._grid.exits) + int(of.rows["exits"][place][cut])
            leaves = int(self._cells[phrase + span].place[on])
            entries, _, sums = self._beginnings(phrase, state, cell)
            before = bisect_right(entries, entry) - 1
            if before < 0 or entries[before] != entry:
                return None
            number += sums[before - 1] if before else 0
            sums, options = self._options(phrase, state, entry)
            for option, (block, to, ways, after) in enumerate(options):
                members = self._members(phrase, block, entry)[to][0] if to == leaves else []
                if place in members:
                    number += (sums[option - 1] if option else 0) + members.index(place) * ways
                    cell, state = to, after
                    break
            else:
                return None
            phrase += span
        return number

    def _places(self, licks: Sequence[tuple[int, int]]) -> list[int] | None:
        """Where licks stand in their phrases, if they fill the form."""
        found, phrase = [], 0
        for lick in licks:
            place = self.candidates[phrase].place(*lick) if phrase < self._grid.size else None
            if place is None:
                return None
            found.append(place)
            phrase += int(self.candidates[phrase].rows["span"][place])
        return found if phrase == self._grid.size else None

    @property
    def nbytes(self) -> int:
        """Memory that it takes, about, with the tables that draws have made so far."""
        return self._fixed + self._ready.nbytes

    @cached_property
    def _fixed(self) -> int:
        flows = (flow for flows in self._flows for flow in flows)
        columns = [
            *self._weights,
            *(block.places for blocks in self._grid.blocks for block in blocks),
            *(column for flow in flows for column in (flow.times, flow.cells, flow.starts, flow.entries)),
            *(limbs for ways in self._ways_in for limbs in ways),
            *self._seams,
        ]
        return bytes_of(self.candidates) + sum(column.nbytes for column in columns)

    @property
    def watch(self) -> Watch:
        """What is minded along a break."""
        return self._grid.watch

    def only(self, keep: Callable[[Stock], Mask]) -> "JoinedLattice":
        """The same phrases, joins and watch with only the candidates that pass."""
        kept = [of.where(keep(of)) for of in self.candidates]
        return JoinedLattice(kept, self.allows, self._grid.watch, self._weigh, self.free)

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        return None if self.total else furthest(self.candidates)
