"""The best breaks of a lattice, in order, exactly: cheapest first by whole-number costs of licks and joins.

Costs add up along a break. From each phrase, state and cell (see grid.py) the cheapest way on is known, reckoned backwards,
so a search that always goes on with the cheapest promise finds the breaks in their true order, and looks at no more of
them than it must: at each place the licks stand sorted by what they promise, and only the next one is ever opened.
"""

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from heapq import heappop, heappush
from itertools import count

import numpy as np

from service.compose.grid import Grid, Numbers
from service.compose.lattice import Pick
from service.compose.seams import NO_COST
from service.compose.stock import Candidate, Column, Mask, Stock
from service.compose.watches import Watch
from service.judge.joins import CUTS, Edge

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
        self._join_cost, self._free, self._times = join_cost, free, times
        self._costs = [times * cost(of, phrase).astype(np.int64) for phrase, of in enumerate(grid.stocks)]
        self._lay_out()

    def _lay_out(self) -> None:
        grid = self._grid
        seams = grid.local_seams(self._join_cost, NEVER, NO_COST, self._free)
        times = {id(of): np.where(of < NEVER, of * self._times, NEVER) for of in seams}
        self._seams = [times[id(of)] for of in seams]
        self._leaving = [
            [grid.leaving(phrase, block) for block in blocks] for phrase, blocks in enumerate(grid.blocks)
        ]
        self._reckon()

    def priced(self, price: Cost) -> "BestBreaks":
        """The same with a price on each lick besides its cost."""
        found = copy(self)
        found._costs = [
            cost + price(of, phrase)
            for phrase, (cost, of) in enumerate(zip(self._costs, self._grid.stocks, strict=True))
        ]
        found._reckon()
        return found

    def counting(self, cost: Cost) -> "BestBreaks":
        """The same licks and seams at other costs of licks, and seams for nothing."""
        found = copy(self)
        found._costs = [cost(of, phrase).astype(np.int64) for phrase, of in enumerate(self._grid.stocks)]
        found._seams = [np.where(seams < NEVER, 0, NEVER) for seams in self._seams]
        found._reckon()
        return found

    def only(self, keep: Sequence[Mask]) -> "BestBreaks":
        """The same with only these licks of each phrase."""
        found = copy(self)
        found._grid = Grid(
            [of.where(mask) for of, mask in zip(self._grid.stocks, keep, strict=True)], self._grid.watch
        )
        found._costs = [cost[mask] for cost, mask in zip(self._costs, keep, strict=True)]
        found._lay_out()
        return found

    def _reckon(self) -> None:
        """What each lick promises, from itself to the end, by phrase and state."""
        grid = self._grid
        self._options: dict[_Node, tuple[list[int], list[int]]] = {}
        self._promises: list[list[Numbers]] = [[] for _ in range(grid.size)]
        self._after: list[list[Numbers]] = [[] for _ in range(grid.size)]  # state after each lick
        least: list[list[Numbers]] = [[] for _ in range(grid.size + 1)]
        past = len(grid.cells_into[-1].used)
        least[-1] = [
            np.full(past, 0 if grid.watch.ends(state) else NEVER, np.int64) for state in grid.states[-1]
        ]
        for phrase in range(grid.size - 1, -1, -1):
            entries = grid.entry_of[phrase]
            for steps in grid.steps[phrase]:
                promise = np.full(len(entries), NEVER, np.int64)
                after = np.zeros(len(entries), np.int64)
                for number, state in steps:
                    block = grid.blocks[phrase][number]
                    rest = least[phrase + block.span][state][self._leaving[phrase][number]].min(axis=1)
                    promise[block.places] = np.minimum(rest + self._costs[phrase][block.places], NEVER)
                    after[block.places] = state
                cheapest = np.full(len(grid.ways_in[phrase].used), NEVER, np.int64)
                np.minimum.at(cheapest, entries, promise)
                ways = (self._seams[phrase] + cheapest).min(axis=1, initial=NEVER)
                least[phrase].append(np.minimum(ways, NEVER))
                self._promises[phrase].append(promise)
                self._after[phrase].append(after)

    def through(self) -> list[Numbers]:
        """What the cheapest break costs that has each lick of each phrase."""
        grid = self._grid
        found = [np.full(len(of), NEVER, np.int64) for of in grid.stocks]
        # what the cheapest way to a phrase costs, by state and cell
        least = [
            [np.full(len(cells.used), NEVER, np.int64) for _ in states]
            for cells, states in zip(grid.cells_into, grid.states, strict=True)
        ]
        for phrase in range(grid.size):
            for state, steps in enumerate(grid.steps[phrase]):
                if phrase == 0:
                    begun = np.zeros(len(grid.ways_in[0].used), np.int64)
                else:
                    begun = (self._seams[phrase] + least[phrase][state][:, None]).min(axis=0, initial=NEVER)
                here = np.minimum(begun, NEVER)[grid.entry_of[phrase]]
                found[phrase] = np.minimum(found[phrase], here + self._promises[phrase][state])
                for number, after in steps:
                    block = grid.blocks[phrase][number]
                    spent = here[block.places] + self._costs[phrase][block.places]
                    to = least[phrase + block.span][after]
                    np.minimum.at(to, self._leaving[phrase][number].ravel(), np.repeat(spent, len(CUTS)))
        return [np.minimum(of, NEVER) for of in found]

    def _joins(self, phrase: int, exits: tuple[int, ...] | None) -> Numbers:
        """What the seam to each lick of a phrase costs after these ways out."""
        grid = self._grid
        if exits is None:
            return np.zeros(len(grid.entry_of[phrase]), np.int64)
        cuts = grid.cuts[grid.ways_in[phrase].used]
        rows = grid.cells_into[phrase].place[cuts * len(grid.exits) + np.array(exits)[cuts]]
        by_entry: Numbers = self._seams[phrase][rows, np.arange(len(cuts))]
        return by_entry[grid.entry_of[phrase]]

    def _join(self, phrase: int, exits: tuple[int, ...], place: int) -> int:
        """What the seam from these ways out to one lick of a phrase costs."""
        grid = self._grid
        cut = int(grid.cuts[grid.stocks[phrase].rows["entry"][place]])
        row = grid.cells_into[phrase].place[cut * len(grid.exits) + exits[cut]]
        return int(self._seams[phrase][row, grid.entry_of[phrase][place]])

    def _exits(self, phrase: int, place: int) -> tuple[int, ...]:
        return tuple(self._grid.stocks[phrase].rows["exits"][place].tolist())

    def changes(self, places: Places, turn: int) -> Numbers:
        """By how much a break gets dearer with each lick of a phrase in place of its own; NEVER where that may not be."""
        grid, (phrase, own) = self._grid, places[turn]
        of = grid.stocks[phrase]
        total = self._costs[phrase] + self._joins(phrase, self._exits(*places[turn - 1]) if turn else None)
        spans = of.column("span")
        may = spans == spans[own]
        if turn + 1 < len(places):
            after, coming = places[turn + 1]
            cut = int(grid.cuts[grid.stocks[after].rows["entry"][coming]])
            cells = cut * len(grid.exits) + of.ints("exits")[:, cut]
            rows = grid.cells_into[after].place[np.where(may, cells, cells[own])]
            total = total + self._seams[after][rows, grid.entry_of[after][coming]]
        return np.where(may & (total < NEVER), total - total[own], NEVER)

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

    def dive(self, *, distinct: bool) -> Places | None:
        """A break, the most promising lick from each phrase to the next, if ``distinct`` with none twice; None where that leads
        nowhere."""
        node: _Node = (0, 0, None)
        picks: Places = ()
        had: set[int] = set()
        while node[0] < self._grid.size:
            phrase, state, _ = node
            numbers = self._grid.stocks[phrase].column("number")
            place = next((at for at in self._on_from(node)[1] if int(numbers[at]) not in had), None)
            if place is None:
                return None
            picks = (*picks, (phrase, place))
            if distinct:
                had.add(int(numbers[place]))
            span = int(self._grid.stocks[phrase].rows["span"][place])
            node = (phrase + span, int(self._after[phrase][state][place]), self._exits(phrase, place))
        return picks

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
        for phrase, place in self.places(path):
            if exits is not None and joins is None:
                total += self._join(phrase, exits, place)
            total += int(self._costs[phrase][place])
            exits = self._exits(phrase, place)
        return total

    def places(self, path: Sequence[Pick]) -> Places:
        """Where the licks of a break stand."""
        found = []
        for pick in path:
            place = self._grid.stocks[pick.phrase].place(pick.candidate.number, pick.candidate.revision)
            if place is None:
                raise ValueError("a lick of the break is not among the candidates")
            found.append((pick.phrase, place))
        return tuple(found)

    def path(self, places: Places) -> tuple[Pick, ...]:
        return tuple(Pick(phrase, self._grid.stocks[phrase][place]) for phrase, place in places)

    @property
    def stocks(self) -> Sequence[Stock]:
        """The licks of each phrase that have edges."""
        return self._grid.stocks

    @property
    def states(self) -> int:
        """How many states its phrases have together: what reckoning takes goes with them."""
        return max(1, sum(len(states) for states in self._grid.states))

    @property
    def dearest(self) -> int:
        """What the dearest lick costs."""
        return max((int(cost.max()) for cost in self._costs if len(cost)), default=1)

    @property
    def grain(self) -> int:
        """What every cost of a lick and a join is a multiple of."""
        seams = [seams[seams < NEVER] for seams in self._seams]
        return int(np.gcd.reduce(np.concatenate([*seams, *self._costs]))) or 1

    def __iter__(self) -> Iterator[tuple[int, tuple[Pick, ...]]]:
        """(cost, break), cheapest first; of equal ones those with smaller numbers, in no further order."""
        for promise, path in self.steps(distinct=False):
            if path is not None:
                yield promise, path

    def steps(
        self, *, distinct: bool, scarce: "tuple[BestBreaks, int] | None" = None
    ) -> Iterator[tuple[int, tuple[Pick, ...] | None]]:
        """The same, or those with no lick twice, or that come to no more than a number by what ``scarce`` counts: the same licks at
        other costs. Then every step of the search is told, with its promise and None for no break."""
        grid, order = self._grid, count()
        numbers = [of.column("number").tolist() for of in grid.stocks] if distinct else []
        # (promise for the whole, how far it is, tie, spent so far, picks, node, place among its options): of equal promises
        # the one that is farthest goes first, or all beginnings would be opened before any end
        heap: list[tuple[int, int, int, int, Places, _Node, int]] = []
        lacks: dict[_Node, list[int]] = {}

        def push(spent: int, picks: Places, node: _Node, place: int) -> None:
            promises, places = self._on_from(node)
            if distinct:
                had = {numbers[phrase][at] for phrase, at in picks}
                own = numbers[node[0]]
            if scarce is not None:
                of, most = scarce
                if node not in lacks:
                    lacks[node] = of._promises[node[0]][node[1]][places].tolist()
                left = most - sum(int(of._costs[phrase][at]) for phrase, at in picks)
            while place < len(places):
                twice = distinct and own[places[place]] in had
                if not twice and (scarce is None or lacks[node][place] <= left):
                    heappush(
                        heap, (spent + promises[place], -node[0], next(order), spent, picks, node, place)
                    )
                    return
                place += 1

        if grid.size:
            push(0, (), (0, 0, None), 0)
        while heap:
            promise, _, _, spent, picks, node, place = heappop(heap)
            push(spent, picks, node, place + 1)
            phrase, state, exits = node
            at = self._on_from(node)[1][place]
            taken = (*picks, (phrase, at))
            row = grid.stocks[phrase].rows[at]
            span = int(row["span"])
            if phrase + span == grid.size:
                yield promise, self.path(taken)
                continue
            if distinct or scarce is not None:
                yield promise, None
            join = 0 if exits is None else self._join(phrase, exits, at)
            after = int(self._after[phrase][state][at])
            spent += join + int(self._costs[phrase][at])
            push(spent, taken, (phrase + span, after, tuple(row["exits"].tolist())), 0)
