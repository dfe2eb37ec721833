"""The breaks whose every seam can be played: counted exactly and drawn evenly, like a lattice, but minding joins.

What a seam allows depends on the two edges alone, so ways are counted from kind to kind: for each phrase and each kind of
beginning the ways to go on from there, and for each kind of ending the sum over the beginnings it may be joined to. Licks
that must be there are kept track of as bits: a way counts only if all have come by the end. Big integers all the way;
nothing is rejected.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate

from service.compose.lattice import Candidate, Pick, furthest
from service.judge.joins import Edge, Edges

_Exits = tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class _Group:
    """Licks of a phrase that begin alike: the ways to finish from each, and their running sums."""

    entry: Edge
    candidates: tuple[Candidate, ...]
    ways: tuple[int, ...]
    sums: tuple[int, ...]


class JoinedLattice:
    """``allows(exit, entry)`` says whether a seam may be; every candidate has edges; ``must`` are numbers of licks that every
    break has at least once."""

    def __init__(
        self,
        candidates: Sequence[Sequence[Candidate]],
        allows: Callable[[Edge, Edge], bool],
        must: Sequence[int] = (),
    ) -> None:
        size = len(candidates)
        self.candidates = tuple(
            tuple(c for c in of if phrase + c.span <= size and c.edges is not None)
            for phrase, of in enumerate(candidates)
        )
        self._allows, self._must = allows, tuple(must)
        self._bits = {number: 1 << place for place, number in enumerate(self._must)}
        self._all = (1 << len(self._must)) - 1
        self._allowed: dict[tuple[Edge, Edge], bool] = {}
        self._groups: dict[tuple[int, int], list[_Group]] = {}
        self._after: dict[tuple[int, int, _Exits], int] = {}
        for phrase in range(size - 1, -1, -1):  # from the end, so that no reckoning goes deep
            for had in range(self._all + 1):
                self._groups[phrase, had] = self._grouped(phrase, had)

    def _grouped(self, phrase: int, had: int) -> list[_Group]:
        by_entry: dict[Edge, list[Candidate]] = {}
        for candidate in self.candidates[phrase]:
            by_entry.setdefault(_edges(candidate).entry, []).append(candidate)
        groups = []
        for entry, of in by_entry.items():
            ways = tuple(self._ways_after(phrase + c.span, self._with(had, c), _edges(c).exits) for c in of)
            groups.append(_Group(entry, tuple(of), ways, tuple(accumulate(ways))))
        return groups

    def _with(self, had: int, candidate: Candidate) -> int:
        return had | self._bits.get(candidate.number, 0)

    def _joins(self, exits: _Exits, entry: Edge) -> bool:
        key = (exits[min(entry.cut, len(exits) - 1)], entry)
        if key not in self._allowed:
            self._allowed[key] = self._allows(*key)
        return self._allowed[key]

    def _ways_after(self, phrase: int, had: int, exits: _Exits) -> int:
        """Ways to finish from a phrase after a lick with these exits, so many wanted licks already had."""
        if phrase == len(self.candidates):
            return int(had == self._all)
        key = (phrase, had, exits)
        if key not in self._after:
            self._after[key] = sum(
                group.sums[-1] for group in self._groups[phrase, had] if self._joins(exits, group.entry)
            )
        return self._after[key]

    @property
    def total(self) -> int:
        if not self.candidates:
            return int(self._all == 0)
        return sum(group.sums[-1] for group in self._groups[0, 0])

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number`` in this lattice's own order, from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left = number - 1
        phrase = had = 0
        exits: _Exits | None = None
        picks: list[Pick] = []
        while phrase < len(self.candidates):
            for group in self._groups[phrase, had]:
                if exits is not None and not self._joins(exits, group.entry):
                    continue
                if left < group.sums[-1]:
                    place = bisect_right(group.sums, left)
                    left -= group.sums[place - 1] if place else 0
                    candidate = group.candidates[place]
                    picks.append(Pick(phrase, candidate))
                    exits, had = _edges(candidate).exits, self._with(had, candidate)
                    phrase += candidate.span
                    break
                left -= group.sums[-1]
            else:
                raise RuntimeError("the sums of a lattice add up")
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them."""
        phrase, had, number = 0, 0, 1
        exits: _Exits | None = None
        for lick in licks:
            if phrase >= len(self.candidates):
                return None
            for group in self._groups[phrase, had]:
                if exits is not None and not self._joins(exits, group.entry):
                    continue
                place = next(
                    (i for i, c in enumerate(group.candidates) if (c.number, c.revision) == lick), None
                )
                if place is not None:
                    if group.ways[place] == 0:
                        return None
                    number += group.sums[place - 1] if place else 0
                    candidate = group.candidates[place]
                    exits, had = _edges(candidate).exits, self._with(had, candidate)
                    phrase += candidate.span
                    break
                number += group.sums[-1]
            else:
                return None
        return number if phrase == len(self.candidates) else None

    def only(self, keep: Callable[[Candidate], bool]) -> "JoinedLattice":
        """The same phrases and joins with only the candidates that pass."""
        kept = [[c for c in of if keep(c)] for of in self.candidates]
        return JoinedLattice(kept, self._allows, self._must)

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        return None if self.total else furthest(self.candidates)


def _edges(candidate: Candidate) -> Edges:
    if candidate.edges is None:
        raise ValueError(f"lick {candidate.number} has no edges")
    return candidate.edges
