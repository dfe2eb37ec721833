"""The best breaks of a lattice, in order, exactly: cheapest first by whole-number costs of licks and joins.

Costs add up along a break. From each phrase and each kind of ending the cheapest way on is known (reckoned backwards),
so a search that always goes on with the cheapest promise finds the breaks in their true order, and looks at no more of
them than it must: at each place the licks stand sorted by what they promise, and only the next one is ever opened.
"""

from collections.abc import Callable, Iterator, Sequence
from heapq import heappop, heappush
from itertools import count
from math import gcd

from service.compose.lattice import Candidate, Pick
from service.judge.joins import Edge

Cost = Callable[[Candidate], int]
JoinCost = Callable[[Edge, Edge], int | None]  # None: the seam may not be
_Exits = tuple[Edge, ...]
_Option = tuple[int, Candidate]  # what is promised from here to the end, beginning with this lick


class BestBreaks:
    """Breaks by rising cost; ``candidates`` have edges."""

    def __init__(self, candidates: Sequence[Sequence[Candidate]], cost: Cost, join_cost: JoinCost) -> None:
        size = len(candidates)
        self._size = size
        self._cost, self._join_cost = cost, join_cost
        self._joins: dict[tuple[Edge, Edge], int | None] = {}
        self._options: dict[tuple[int, _Exits | None], list[_Option]] = {}
        self._cheapest: dict[tuple[int, _Exits | None], int | None] = {}
        # per phrase and kind of beginning: what each lick promises from itself on, cheapest first
        self._groups: list[dict[Edge, list[_Option]]] = [{} for _ in range(size)]
        for phrase in range(size - 1, -1, -1):
            groups: dict[Edge, list[_Option]] = {}
            for candidate in candidates[phrase]:
                if candidate.edges is None or phrase + candidate.span > size:
                    continue
                rest = self._least(phrase + candidate.span, candidate.edges.exits)
                if rest is not None:
                    groups.setdefault(candidate.edges.entry, []).append((cost(candidate) + rest, candidate))
            for options in groups.values():
                options.sort(key=lambda option: (option[0], option[1].number))
            self._groups[phrase] = groups

    def _join(self, exits: _Exits | None, entry: Edge) -> int | None:
        if exits is None:
            return 0
        key = (exits[min(entry.cut, len(exits) - 1)], entry)
        if key not in self._joins:
            self._joins[key] = self._join_cost(*key)
        return self._joins[key]

    def _least(self, phrase: int, exits: _Exits | None) -> int | None:
        """The cheapest way to finish from a phrase after a lick with these exits; None if there is none."""
        if phrase == self._size:
            return 0
        key = (phrase, exits)
        if key not in self._cheapest:
            promised = [
                join + options[0][0]
                for entry, options in self._groups[phrase].items()
                if (join := self._join(exits, entry)) is not None
            ]
            self._cheapest[key] = min(promised, default=None)
        return self._cheapest[key]

    def _on_from(self, phrase: int, exits: _Exits | None) -> list[_Option]:
        """Licks that may come next, the most promising first, their joins paid."""
        key = (phrase, exits)
        if key not in self._options:
            found = [
                (join + promise, candidate)
                for entry, options in self._groups[phrase].items()
                if (join := self._join(exits, entry)) is not None
                for promise, candidate in options
            ]
            self._options[key] = sorted(found, key=lambda option: (option[0], option[1].number))
        return self._options[key]

    @property
    def grain(self) -> int:
        """What every cost of a lick and a join is a multiple of."""
        licks = (self._cost(option[1]) for groups in self._groups for of in groups.values() for option in of)
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
        # (promise for the whole, how far it is, tie, spent so far, picks, phrase, exits, place among the options): of equal
        # promises the one that is farthest goes first, or all beginnings would be opened before any end
        heap: list[tuple[int, int, int, int, tuple[Pick, ...], int, _Exits | None, int]] = []

        def push(spent: int, picks: tuple[Pick, ...], phrase: int, exits: _Exits | None, place: int) -> None:
            options = self._on_from(phrase, exits)
            if distinct:
                had = {pick.candidate.number for pick in picks}
                while place < len(options) and options[place][1].number in had:
                    place += 1
            if place < len(options):
                promise = spent + options[place][0]
                heappush(heap, (promise, -phrase, next(order), spent, picks, phrase, exits, place))

        if self._size:
            push(0, (), 0, None, 0)
        while heap:
            promise, _, _, spent, picks, phrase, exits, place = heappop(heap)
            push(spent, picks, phrase, exits, place + 1)
            candidate = self._on_from(phrase, exits)[place][1]
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
            push(spent + join + self._cost(candidate), taken, after, edges.exits, 0)
