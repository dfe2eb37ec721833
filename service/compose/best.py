"""The best breaks of a lattice, in order, exactly: cheapest first by whole-number costs of licks and joins.

Costs add up along a break. From each phrase, state and cell (see grid.py) the cheapest way on is known, reckoned backwards,
so a search that always goes on with the cheapest promise finds the breaks in their true order, and looks at no more of
them than it must: at each place the licks stand sorted by what they promise, and only the next one is ever opened.
"""

from collections.abc import Callable, Iterator, Sequence
from heapq import heappop, heappush
from itertools import count

import numpy as np

from service.compose.grid import Grid, Numbers
from service.compose.lattice import Pick
from service.compose.seams import NO_COST
from service.compose.stock import Candidate, Column, Stock
from service.compose.watches import Watch
from service.judge.joins import Edge

Cost = Callable[[Stock, int], Column]  # of each lick of a stock, at a phrase from 0: none below 0
JoinCost = Callable[[Edge, Edge], int | None]  # None: the seam may not be
NEVER = 1 << 60  # no break costs so much
Places = tuple[tuple[int, int], ...]  # (phrase, place in its stock)
_Node = tuple[int, int, tuple[int, ...] | None]  # phrase, state, ways out of the lick before


class BestBreaks:
    """Breaks by rising cost; ``candidates`` have edges; ``watch`` is minded along the way, the seams before the phrases in ``free``
    are not. Costs count so many ``times``."""

    def __init__(
        self,
        candidates: Sequence[Sequence[Candidate]],
        cost: Cost,
        join_cost: JoinCost,
        watch: Watch | None = None,
        free: frozenset[int] = frozenset(),
        times: int = 1,
    ) -> None:
        self._grid = grid = Grid(candidates, watch)
        seams = grid.seams(join_cost, NEVER)
        seams[seams < NEVER] *= times
        unminded = grid.seams(NO_COST, NEVER) if free else seams
        self._seams = [unminded if phrase in free else seams for phrase in range(grid.size)]
        self._costs = [times * cost(of, phrase).astype(np.int64) for phrase, of in enumerate(grid.stocks)]
        self._cells = [self._grid.cells_of(phrase) for phrase in range(self._grid.size)]
        self._reckon()

    def priced(self, price: Cost) -> "BestBreaks":
        """The same with a price on each lick besides its cost."""
        found = object.__new__(BestBreaks)
        found._grid, found._seams, found._cells = self._grid, self._seams, self._cells
        found._costs = [
            cost + price(of, phrase)
            for phrase, (cost, of) in enumerate(zip(self._costs, self._grid.stocks, strict=True))
        ]
        found._reckon()
        return found

    def _reckon(self) -> None:
        """What each lick promises, from itself to the end, by phrase and state."""
        grid = self._grid
        self._options: dict[_Node, tuple[list[int], list[int]]] = {}
        self._promises: list[list[Numbers]] = [[] for _ in range(grid.size)]
        self._after: list[list[Numbers]] = [[] for _ in range(grid.size)]  # state after each lick
        least: list[list[Numbers]] = [[] for _ in range(grid.size + 1)]
        least[-1] = [
            np.full(grid.cells, 0 if grid.watch.ends(state) else NEVER, np.int64) for state in grid.states[-1]
        ]
        for phrase in range(grid.size - 1, -1, -1):
            entries = self._entries(phrase)
            for steps in grid.steps[phrase]:
                promise = np.full(len(entries), NEVER, np.int64)
                after = np.zeros(len(entries), np.int64)
                for number, state in steps:
                    block = grid.blocks[phrase][number]
                    ways = least[phrase + block.span][state]
                    if len(block.places) == len(entries):
                        promise = ways[self._cells[phrase]].min(axis=1) + self._costs[phrase]
                        after[:] = state
                        continue
                    rest = ways[self._cells[phrase][block.places]].min(axis=1)
                    promise[block.places] = rest + self._costs[phrase][block.places]
                    after[block.places] = state
                cheapest = np.full(len(grid.entries), NEVER, np.int64)
                np.minimum.at(cheapest, entries, promise)
                rest = (self._seams[phrase] + cheapest).min(axis=1, initial=NEVER)
                least[phrase].append(np.minimum(rest, NEVER))
                self._promises[phrase].append(promise)
                self._after[phrase].append(after)

    def _entries(self, phrase: int) -> Column:
        return self._grid.stocks[phrase].column("entry")

    def _joins(self, phrase: int, exits: tuple[int, ...] | None) -> Numbers:
        """What the seam to each lick of a phrase costs after these ways out."""
        if exits is None:
            return np.zeros(len(self._entries(phrase)), np.int64)
        cuts = self._grid.cuts
        cells = cuts * len(self._grid.exits) + np.array(exits)[cuts]
        by_entry: Numbers = self._seams[phrase][cells, np.arange(len(cuts))]
        return by_entry[self._entries(phrase)]

    def _on_from(self, node: _Node) -> tuple[list[int], list[int]]:
        """Licks that may come next, the most promising first: their promises with the joins paid, and their places."""
        found = self._options.get(node)
        if found is None:
            phrase, state, exits = node
            promise = self._promises[phrase][state] + self._joins(phrase, exits)
            order = np.argsort(promise, kind="stable")
            order = order[: int(np.searchsorted(promise[order], NEVER))]
            found = self._options[node] = (promise[order].tolist(), order.tolist())
        return found

    def cheapest(self) -> tuple[int, Places] | None:
        """The cheapest break; None if there is none."""
        phrase, state = 0, 0
        exits: tuple[int, ...] | None = None
        picks, total = [], None
        while phrase < self._grid.size:
            promise = self._promises[phrase][state] + self._joins(phrase, exits)
            place = int(promise.argmin()) if len(promise) else 0
            if not len(promise) or promise[place] >= NEVER:
                return None
            total = int(promise[place]) if total is None else total
            picks.append((phrase, place))
            row = self._grid.stocks[phrase].rows[place]
            state, exits = int(self._after[phrase][state][place]), tuple(row["exits"].tolist())
            phrase += int(row["span"])
        return None if total is None else (total, tuple(picks))

    def number(self, phrase: int, place: int) -> int:
        """The number of a lick."""
        return int(self._grid.stocks[phrase].rows["number"][place])

    def sum(self, of: Cost, places: Places) -> int:
        """What a break comes to by another cost than its own, joins left out."""
        return sum(int(of(self._grid.stocks[phrase], phrase)[place]) for phrase, place in places)

    def cost(self, path: Sequence[Pick], joins: Callable[[Sequence[Pick]], int] | None = None) -> int:
        """What a break costs; ``joins`` tells what its seams do, where some are not told here."""
        total = 0 if joins is None else joins(path)
        exits: tuple[int, ...] | None = None
        for pick in path:
            of = self._grid.stocks[pick.phrase]
            place = of.place(pick.candidate.number, pick.candidate.revision)
            row = of.rows[place]
            if exits is not None and joins is None:
                total += self._join(pick.phrase, exits, int(row["entry"]))
            total += int(self._costs[pick.phrase][place])
            exits = tuple(row["exits"].tolist())
        return total

    def _join(self, phrase: int, exits: tuple[int, ...], entry: int) -> int:
        """What the seam from these ways out into a phrase costs."""
        cut = int(self._grid.cuts[entry])
        return int(self._seams[phrase][cut * len(self._grid.exits) + exits[cut], entry])

    @property
    def dearest(self) -> int:
        """What the dearest lick costs."""
        return max((int(cost.max()) for cost in self._costs if len(cost)), default=1)

    @property
    def grain(self) -> int:
        """What every cost of a lick and a join is a multiple of."""
        seams = [seams[seams < NEVER] for seams in self._seams[:1]]
        return int(np.gcd.reduce(np.concatenate([*seams, *self._costs]))) or 1

    def __iter__(self) -> Iterator[tuple[int, tuple[Pick, ...]]]:
        """(cost, break), cheapest first; of equal ones those with smaller numbers, in no further order."""
        for promise, path in self.steps(distinct=False):
            if path is not None:
                yield promise, path

    def steps(self, *, distinct: bool) -> Iterator[tuple[int, tuple[Pick, ...] | None]]:
        """The same, or those with no lick twice; then every step of the search is told, with its promise and None for no break."""
        grid, order = self._grid, count()
        numbers = [of.column("number").tolist() for of in grid.stocks] if distinct else []
        # (promise for the whole, how far it is, tie, spent so far, picks, node, place among its options): of equal promises
        # the one that is farthest goes first, or all beginnings would be opened before any end
        heap: list[tuple[int, int, int, int, Places, _Node, int]] = []

        def push(spent: int, picks: Places, node: _Node, place: int) -> None:
            promises, places = self._on_from(node)
            if distinct:
                had = {numbers[phrase][at] for phrase, at in picks}
                own = numbers[node[0]]
                while place < len(places) and own[places[place]] in had:
                    place += 1
            if place < len(places):
                heappush(heap, (spent + promises[place], -node[0], next(order), spent, picks, node, place))

        if grid.size:
            push(0, (), (0, 0, None), 0)
        while heap:
            promise, _, _, spent, picks, node, place = heappop(heap)
            push(spent, picks, node, place + 1)
            phrase, state, exits = node
            at = self._on_from(node)[1][place]
            taken = (*picks, (phrase, at))
            row = grid.stocks[phrase].rows[at]
            span, entry = int(row["span"]), int(row["entry"])
            if phrase + span == grid.size:
                yield promise, tuple(Pick(p, grid.stocks[p][a]) for p, a in taken)
                continue
            if distinct:
                yield promise, None
            join = 0 if exits is None else self._join(phrase, exits, entry)
            after = int(self._after[phrase][state][at])
            spent += join + int(self._costs[phrase][at])
            push(spent, taken, (phrase + span, after, tuple(row["exits"].tolist())), 0)
