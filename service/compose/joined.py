"""The breaks whose every seam can be played, and that keep to rules over a whole part: counted exactly and drawn evenly.

What a seam allows depends on the two edges alone, and what a rule over a part minds of a lick is little: so licks fall into
kinds, and ways are counted from kind to kind. For each phrase, each state of what is watched and each kind of beginning there
are the ways to go on; for each kind of ending the sum over the beginnings it may be joined to. Big integers all the way;
nothing is rejected.
"""

from bisect import bisect_right
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Protocol

from service.compose.lattice import Candidate, Pick, furthest
from service.judge.joins import CUTS, Edge, Edges

_Exits = tuple[Edge, ...]
MOST_CUT = len(CUTS) - 1
Allows = Callable[[Edge, Edge], int]  # 0: the seam may not be; else what it weighs


class Watch(Protocol):
    """Something minded along a break: a state that each lick moves on, or forbids by None."""

    @property
    def start(self) -> Hashable: ...

    def trait(self, candidate: Candidate) -> Hashable:
        """All that ``step`` looks at in a lick."""

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None: ...

    def ends(self, state: Hashable) -> bool:
        """Whether a break may end in a state."""


@dataclass(frozen=True, slots=True)
class Everything:
    """Nothing is minded."""

    start: Hashable = ()

    def trait(self, candidate: Candidate) -> Hashable:
        return ()

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        return state

    def ends(self, state: Hashable) -> bool:
        return True


def alike(candidate: Candidate) -> int:
    """Every lick weighs the same."""
    return 1


class Numbered:
    """Small numbers for edges, equal for equal ones; each object is looked at once, for many candidates share one."""

    def __init__(self) -> None:
        self._by_value: dict[Edges, int] = {}
        self._by_object: dict[int, tuple[int, Edges]] = {}
        self._edges: dict[Edge, int] = {}
        self.exits: list[
            tuple[tuple[int, Edge], ...]
        ] = []  # by number of edges: each way out with its own number

    def of(self, edges: Edges) -> int:
        known = self._by_object.get(id(edges))
        if known is None:
            number = self._by_value.setdefault(edges, len(self._by_value))
            if number == len(self.exits):
                ways = ((self._edges.setdefault(edge, len(self._edges)), edge) for edge in edges.exits)
                self.exits.append(tuple(ways))
            known = self._by_object[id(edges)] = (number, edges)  # kept, so that no other object takes its id
        return known[0]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Licks of a phrase that are alike in all that is minded, in order of number; ``ways`` to finish from each, its own
    ``weight`` in them."""

    members: tuple[Candidate, ...]
    weight: int
    ways: int
    exits: _Exits
    state: Hashable


@dataclass(frozen=True, slots=True)
class _Group:
    """Kinds that begin alike, and the running sums of their ways."""

    entry: Edge
    kinds: tuple[_Kind, ...]
    sums: tuple[int, ...]


class JoinedLattice:
    """``allows(exit, entry)`` says whether a seam may be, and what it weighs; every candidate has edges and the weight that
    ``weigh`` gives it; ``watch`` is minded besides.

    With weights, ``total`` is their sum over all breaks and a break has as many numbers as its licks and joins weigh, multiplied.
    """

    def __init__(
        self,
        candidates: Sequence[Sequence[Candidate]],
        allows: Allows,
        watch: Watch | None = None,
        weigh: Callable[[Candidate], int] = alike,
    ) -> None:
        size = len(candidates)
        self.candidates = tuple(
            tuple(c for c in of if phrase + c.span <= size and c.edges is not None)
            for phrase, of in enumerate(candidates)
        )
        self._allows, self._watch, self._weigh = allows, watch or Everything(), weigh
        self._allowed: dict[tuple[Edge, Edge], int] = {}
        self._ends = Numbered()
        self._alike = [self._by_kind(of) for of in self.candidates]
        self._groups: dict[tuple[int, Hashable], tuple[_Group, ...]] = {}
        self._after: dict[tuple[int, Hashable, int], int] = {}
        self._after_cut: dict[tuple[int, Hashable, int, int], int] = {}
        reached = self._reached()
        for phrase in range(size - 1, -1, -1):  # from the end, so that no reckoning goes deep
            for state in reached[phrase]:
                self._groups[phrase, state] = self._grouped(phrase, state)

    def _by_kind(self, of: Sequence[Candidate]) -> list[tuple[Candidate, ...]]:
        found: dict[Hashable, list[Candidate]] = {}
        for candidate in of:
            edges = self._ends.of(edges_of(candidate))
            key = (candidate.span, edges, self._weigh(candidate), self._watch.trait(candidate))
            found.setdefault(key, []).append(candidate)
        return [tuple(members) for members in found.values()]

    def _reached(self) -> list[list[Hashable]]:
        """The states in which each phrase can begin."""
        size = len(self.candidates)
        found: list[dict[Hashable, None]] = [{} for _ in range(size + 1)]
        found[0][self._watch.start] = None
        for phrase in range(size):
            for state in found[phrase]:
                for members in self._alike[phrase]:
                    after = self._watch.step(state, phrase, members[0])
                    if after is not None:
                        found[phrase + members[0].span][after] = None
        return [list(states) for states in found]

    def _grouped(self, phrase: int, state: Hashable) -> tuple[_Group, ...]:
        by_entry: dict[Edge, list[_Kind]] = {}
        for members in self._alike[phrase]:
            after = self._watch.step(state, phrase, members[0])
            if after is None:
                continue
            edges = edges_of(members[0])
            weight = self._weigh(members[0])
            ways = weight * self._ways_after(phrase + members[0].span, after, edges)
            if ways:
                kind = _Kind(members, weight, ways, edges.exits, after)
                by_entry.setdefault(edges.entry, []).append(kind)
        return tuple(
            _Group(entry, tuple(kinds), tuple(accumulate(kind.ways * len(kind.members) for kind in kinds)))
            for entry, kinds in by_entry.items()
        )

    def _joins(self, exits: _Exits | None, entry: Edge) -> int:
        """What the seam weighs; the beginning of a break has none."""
        if exits is None:
            return 1
        return self._joined(exits[min(entry.cut, MOST_CUT)], entry)

    def _joined(self, before: Edge, entry: Edge) -> int:
        key = (before, entry)
        if key not in self._allowed:
            self._allowed[key] = self._allows(before, entry)
        return self._allowed[key]

    def _ways_after(self, phrase: int, state: Hashable, edges: Edges) -> int:
        """Ways to finish from a phrase in a state after a lick with these edges: added up by what a pickup cuts."""
        if phrase == len(self.candidates):
            return int(self._watch.ends(state))
        number = self._ends.of(edges)
        known = self._after.get((phrase, state, number))
        if known is None:
            known = 0
            for cut, (edge_number, edge) in enumerate(self._ends.exits[number]):
                key = (phrase, state, cut, edge_number)
                part = self._after_cut.get(key)
                if part is None:
                    part = self._after_cut[key] = self._ways_after_cut(phrase, state, cut, edge)
                known += part
            self._after[phrase, state, number] = known
        return known

    def _ways_after_cut(self, phrase: int, state: Hashable, cut: int, edge: Edge) -> int:
        """The part of those ways that goes on with a pickup of so many slots."""
        return sum(
            self._joined(edge, group.entry) * group.sums[-1]
            for group in self._groups[phrase, state]
            if min(group.entry.cut, MOST_CUT) == cut
        )

    @property
    def total(self) -> int:
        if not self.candidates:
            return int(self._watch.ends(self._watch.start))
        return sum(group.sums[-1] for group in self._groups[0, self._watch.start])

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number`` in this lattice's own order, from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left, phrase, state = number - 1, 0, self._watch.start
        exits: _Exits | None = None
        picks: list[Pick] = []
        while phrase < len(self.candidates):
            for group in self._groups[phrase, state]:
                seam = self._joins(exits, group.entry)
                if left >= seam * group.sums[-1]:
                    left -= seam * group.sums[-1]
                    continue
                left //= seam
                place = bisect_right(group.sums, left)
                kind = group.kinds[place]
                member, left = divmod(left - (group.sums[place - 1] if place else 0), kind.ways)
                left //= kind.weight
                candidate = kind.members[member]
                picks.append(Pick(phrase, candidate))
                exits, state = kind.exits, kind.state
                phrase += candidate.span
                break
            else:
                raise RuntimeError("the sums of a lattice add up")
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them.

        Only where nothing weighs more than 1: there a break has one number.
        """
        phrase, number, state = 0, 1, self._watch.start
        exits: _Exits | None = None
        for lick in licks:
            if phrase >= len(self.candidates):
                return None
            found = self._found(phrase, state, exits, lick)
            if found is None:
                return None
            before, kind, member = found
            number += before + member * kind.ways
            exits, state = kind.exits, kind.state
            phrase += kind.members[member].span
        return number if phrase == len(self.candidates) else None

    def _found(
        self, phrase: int, state: Hashable, exits: _Exits | None, lick: tuple[int, int]
    ) -> tuple[int, _Kind, int] | None:
        """Where a lick stands at a phrase: the ways before its kind, the kind, its place among the members."""
        before = 0
        for group in self._groups[phrase, state]:
            if not self._joins(exits, group.entry):
                continue
            for place, kind in enumerate(group.kinds):
                for member, candidate in enumerate(kind.members):
                    if (candidate.number, candidate.revision) == lick:
                        return before + (group.sums[place - 1] if place else 0), kind, member
            before += group.sums[-1]
        return None

    def only(self, keep: Callable[[Candidate], bool]) -> "JoinedLattice":
        """The same phrases, joins and watch with only the candidates that pass."""
        kept = [[c for c in of if keep(c)] for of in self.candidates]
        return JoinedLattice(kept, self._allows, self._watch, self._weigh)

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        return None if self.total else furthest(self.candidates)


def edges_of(candidate: Candidate) -> Edges:
    if candidate.edges is None:
        raise ValueError(f"lick {candidate.number} has no edges")
    return candidate.edges
