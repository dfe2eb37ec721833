"""The breaks whose every seam can be played: counted exactly and drawn evenly, like a lattice, but minding joins.

What a seam allows depends on the classes of the two edges alone, so ways are counted from class to class: for each
phrase and each kind of beginning the ways to go on from there, and for each kind of ending the sum over the
beginnings it may be joined to. Big integers all the way; nothing is rejected.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import accumulate

from service.compose.lattice import Candidate, Pick, furthest
from service.judge.joins import Edge, Edges

_Group = tuple[Edge, list[Candidate], list[int], list[int]]  # entry, its candidates, their ways, running sums


class JoinedLattice:
    """``allows(exit, entry)`` says whether a seam may be; every candidate has edges."""

    def __init__(
        self, candidates: Sequence[Sequence[Candidate]], allows: Callable[[Edge, Edge], bool]
    ) -> None:
        size = len(candidates)
        self.candidates = tuple(
            tuple(c for c in of if phrase + c.span <= size and c.edges is not None)
            for phrase, of in enumerate(candidates)
        )
        self._allows = allows
        self._allowed: dict[tuple[Edge, Edge], bool] = {}
        self._groups: list[list[_Group]] = [[] for _ in range(size)]
        self._after: dict[tuple[int, tuple[Edge, ...]], int] = {}
        for phrase in range(size - 1, -1, -1):
            self._groups[phrase] = self._grouped(phrase)

    def _grouped(self, phrase: int) -> list[_Group]:
        by_entry: dict[Edge, list[Candidate]] = {}
        for candidate in self.candidates[phrase]:
            by_entry.setdefault(_edges(candidate).entry, []).append(candidate)
        groups = []
        for entry, of in by_entry.items():
            ways = [self._ways_after(phrase + c.span, _edges(c).exits) for c in of]
            groups.append((entry, of, ways, list(accumulate(ways))))
        return groups

    def _joins(self, exits: tuple[Edge, ...], entry: Edge) -> bool:
        before = exits[min(entry.cut, len(exits) - 1)]
        key = (before, entry)
        if key not in self._allowed:
            self._allowed[key] = self._allows(before, entry)
        return self._allowed[key]

    def _ways_after(self, phrase: int, exits: tuple[Edge, ...]) -> int:
        """Ways to finish from a phrase after a lick with these exits."""
        if phrase == len(self.candidates):
            return 1
        key = (phrase, exits)
        if key not in self._after:
            self._after[key] = sum(
                sums[-1] for entry, _, _, sums in self._groups[phrase] if self._joins(exits, entry)
            )
        return self._after[key]

    @property
    def total(self) -> int:
        return sum(sums[-1] for _, _, _, sums in self._groups[0]) if self._groups else 1

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number`` in this lattice's own order, from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left = number - 1
        phrase = 0
        exits: tuple[Edge, ...] | None = None
        picks: list[Pick] = []
        while phrase < len(self.candidates):
            for entry, of, _, sums in self._groups[phrase]:
                if exits is not None and not self._joins(exits, entry):
                    continue
                if left < sums[-1]:
                    place = bisect_right(sums, left)
                    left -= sums[place - 1] if place else 0
                    picks.append(Pick(phrase, of[place]))
                    exits = _edges(of[place]).exits
                    phrase += of[place].span
                    break
                left -= sums[-1]
            else:
                raise RuntimeError("the sums of a lattice add up")
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them."""
        phrase, number = 0, 1
        exits: tuple[Edge, ...] | None = None
        for lick in licks:
            if phrase >= len(self.candidates):
                return None
            for entry, of, ways, sums in self._groups[phrase]:
                if exits is not None and not self._joins(exits, entry):
                    continue
                place = next((i for i, c in enumerate(of) if (c.number, c.revision) == lick), None)
                if place is not None:
                    if ways[place] == 0:
                        return None
                    number += sums[place - 1] if place else 0
                    exits = _edges(of[place]).exits
                    phrase += of[place].span
                    break
                number += sums[-1]
            else:
                return None
        return number if phrase == len(self.candidates) else None

    def only(self, keep: Callable[[Candidate], bool]) -> "JoinedLattice":
        """The same phrases and joins with only the candidates that pass."""
        return JoinedLattice([[c for c in of if keep(c)] for of in self.candidates], self._allows)

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        return None if self.total else furthest(self.candidates)


def _edges(candidate: Candidate) -> Edges:
    if candidate.edges is None:
        raise ValueError(f"lick {candidate.number} has no edges")
    return candidate.edges
