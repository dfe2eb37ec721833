"""The best breaks of a lattice, in order, exactly: cheapest first by whole-number costs of licks and joins.

Costs add up along a break. From each phrase and each kind of ending the cheapest way on is known (reckoned backwards),
so a search that always goes on with the cheapest promise finds the breaks in their true order, and looks at no more of
them than it must: at each place the licks stand sorted by what they promise, and only the next one is ever opened.
"""

from collections.abc import Callable, Hashable, Iterator, Sequence
from heapq import heappop, heappush
from itertools import count
from math import gcd

from service.compose.joined import MOST_CUT, Everything, Numbered, Watch
from service.compose.lattice import Candidate, Pick
from service.judge.joins import Edge, Edges

Cost = Callable[[Candidate], int]
JoinCost = Callable[[Edge, Edge], int | None]  # None: the seam may not be
_Exits = tuple[Edge, ...]
_Node = tuple[int, Hashable, _Exits | None]  # phrase, state of what is watched, exits of the lick before
_Option = tuple[
    int, Candidate, Hashable
]  # what is promised to the end, beginning with this lick; the state after it


class BestBreaks:
    """Breaks by rising cost; ``candidates`` have edges; ``watch`` is minded along the way."""

    def __init__(
        self,
        candidates: Sequence[Sequence[Candidate]],
        cost: Cost,
        join_cost: JoinCost,
        watch: Watch | None = None,
    ) -> None:
        size = len(candidates)
        self._size = size
        self._cost, self._join_cost, self._watch = cost, join_cost, watch or Everything()
        self._joins: dict[tuple[Edge, Edge], int | None] = {}
        self._options: dict[_Node, list[_Option]] = {}
        self._cheapest: dict[tuple[int, Hashable, int], int | None] = {}
        self._cheapest_cut: dict[tuple[int, Hashable, int, int], int | None] = {}
        self._ends = Numbered()
        # per phrase, state and kind of beginning: what each lick promises from itself on, cheapest first
        self._groups: dict[tuple[int, Hashable], dict[Edge, list[_Option]]] = {}
        fitting = [
            [c for c in of if c.edges is not None and phrase + c.span <= size]
            for phrase, of in enumerate(candidates)
        ]
        reached: list[dict[Hashable, None]] = [{} for _ in range(size + 1)]
        reached[0][self._watch.start] = None
        for phrase in range(size):
            for state in reached[phrase]:
                for candidate in fitting[phrase]:
                    after = self._watch.step(state, phrase, candidate)
                    if after is not None:
                        reached[phrase + candidate.span][after] = None
        for phrase in range(size - 1, -1, -1):
            for state in reached[phrase]:
                self._groups[phrase, state] = self._grouped(phrase, state, fitting[phrase])

    def _grouped(
        self, phrase: int, state: Hashable, candidates: Sequence[Candidate]
    ) -> dict[Edge, list[_Option]]:
        groups: dict[Edge, list[_Option]] = {}
        for candidate in candidates:
            after = self._watch.step(state, phrase, candidate)
            if after is None or candidate.edges is None:
                continue
            rest = self._least(phrase + candidate.span, after, candidate.edges)
            if rest is not None:
                option = (self._cost(candidate) + rest, candidate, after)
                groups.setdefault(candidate.edges.entry, []).append(option)
        for options in groups.values():
            options.sort(key=lambda option: (option[0], option[1].number))
        return groups

    def _join(self, exits: _Exits | None, entry: Edge) -> int | None:
        return 0 if exits is None else self._joined(exits[min(entry.cut, MOST_CUT)], entry)

    def _joined(self, before: Edge, entry: Edge) -> int | None:
        key = (before, entry)
        if key not in self._joins:
            self._joins[key] = self._join_cost(before, entry)
        return self._joins[key]

    def _least(self, phrase: int, state: Hashable, edges: Edges) -> int | None:
        """The cheapest way to finish from a phrase in a state after a lick with these edges; None if there is none."""
        if phrase == self._size:
            return 0 if self._watch.ends(state) else None
        number = self._ends.of(edges)
        key = (phrase, state, number)
        if key not in self._cheapest:
            by_cut = (
                self._least_cut(phrase, state, cut, *numbered)
                for cut, numbered in enumerate(self._ends.exits[number])
            )
            self._cheapest[key] = min((cost for cost in by_cut if cost is not None), default=None)
        return self._cheapest[key]

    def _least_cut(self, phrase: int, state: Hashable, cut: int, number: int, edge: Edge) -> int | None:
        """The cheapest of those ways that goes on with a pickup of so many slots."""
        key = (phrase, state, cut, number)
        if key not in self._cheapest_cut:
            promised = [
                join + options[0][0]
                for entry, options in self._groups[phrase, state].items()
                if min(entry.cut, MOST_CUT) == cut and (join := self._joined(edge, entry)) is not None
            ]
            self._cheapest_cut[key] = min(promised, default=None)
        return self._cheapest_cut[key]

    def _on_from(self, node: _Node) -> list[_Option]:
        """Licks that may come next, the most promising first, their joins paid."""
        if node not in self._options:
            phrase, state, exits = node
            found = [
                (join + promise, candidate, after)
                for entry, options in self._groups[phrase, state].items()
                if (join := self._join(exits, entry)) is not None
                for promise, candidate, after in options
            ]
            self._options[node] = sorted(found, key=lambda option: (option[0], option[1].number))
        return self._options[node]

    @property
    def grain(self) -> int:
        """What every cost of a lick and a join is a multiple of."""
        groups = self._groups.values()
        licks = (self._cost(option[1]) for of in groups for options in of.values() for option in options)
        return gcd(*licks, *(join for join in self._joins.values() if join is not None)) or 1

    def __iter__(self) -> Iterator[tuple[int, tuple[Pick, ...]]]:
        """(cost, break), cheapest first; of equal ones those with smaller numbers, in no further order."""
        for promise, path in self._search(distinct=False):
            if path is not None:
                yield promise, path

    def distinct(self) -> Iterator[tuple[int, tuple[Pick, ...] | None]]:
        """The same for breaks with no lick twice; every step of the search is told, with its promise and None for no break."""
        return self._search(distinct=True)

    def _search(self, *, distinct: bool) -> Iterator[tuple[int, tuple[Pick, ...] | None]]:
        order = count()
        # (promise for the whole, how far it is, tie, spent so far, picks, node, place among its options): of equal promises
        # the one that is farthest goes first, or all beginnings would be opened before any end
        heap: list[tuple[int, int, int, int, tuple[Pick, ...], _Node, int]] = []

        def push(spent: int, picks: tuple[Pick, ...], node: _Node, place: int) -> None:
            options = self._on_from(node)
            if distinct:
                had = {pick.candidate.number for pick in picks}
                while place < len(options) and options[place][1].number in had:
                    place += 1
            if place < len(options):
                promise = spent + options[place][0]
                heappush(heap, (promise, -node[0], next(order), spent, picks, node, place))

        if self._size:
            push(0, (), (0, self._watch.start, None), 0)
        while heap:
            promise, _, _, spent, picks, node, place = heappop(heap)
            push(spent, picks, node, place + 1)
            phrase, _, exits = node
            _, candidate, state = self._on_from(node)[place]
            edges = candidate.edges
            if edges is None:
                continue
            taken = (*picks, Pick(phrase, candidate))
            after = phrase + candidate.span
            if after == self._size:
                yield promise, taken
                continue
            if distinct:
                yield promise, None
            join = self._join(exits, edges.entry) or 0
            push(spent + join + self._cost(candidate), taken, (after, state, edges.exits), 0)
