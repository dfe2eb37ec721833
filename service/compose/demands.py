"""What only a whole break can have: no lick twice, enough of the melody, unlike others, a repeated part played otherwise.

What no break can have at all is told without drawing, as far as that can be seen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from service.compose.best import BestBreaks, Cost, JoinCost
from service.compose.joined import Allows, JoinedLattice
from service.compose.lattice import Lattice, Pick
from service.compose.seams import ANY_SEAM, NO_COST, BySeam, Numbers, told_of
from service.compose.sections import SameLattice
from service.compose.stock import Column, Stock
from service.compose.watches import Watch
from service.judge.joins import Edge
from service.music.tunes import Phrase

AnyLattice = Lattice | JoinedLattice | SameLattice
Path = tuple[Pick, ...]
PARTS = 1000  # what a lick lacks of the melody is counted in such parts of a measure's worth, rounded down
Plays = tuple[tuple[int, int], ...]  # of a part: (first phrase from 0, past the last)


@dataclass(frozen=True, slots=True)
class Demands:
    """``melody`` is the least share of it that the whole recalls; ``differs_by`` is in how many phrases it must differ from each
    of ``others``, sets of (phrase from 0, lick number); ``otherwise`` are the plays of each part that must be played otherwise
    each time. ``no_repeats`` minds nothing that comes again in the plays of a part in ``alike``."""

    no_repeats: bool = False
    melody: float | None = None
    differs_by: int = 0
    others: tuple[frozenset[tuple[int, int]], ...] = ()
    otherwise: tuple[Plays, ...] = ()
    alike: tuple[Plays, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.no_repeats or self.melody is not None or self.differs_by or self.otherwise)

    def met_by(self, path: Sequence[Pick]) -> bool:
        here = {(pick.phrase, pick.candidate.number) for pick in path}
        if self.no_repeats and not self._once_each(here):
            return False
        if any(len(here - other) < self.differs_by for other in self.others):
            return False
        for plays in self.otherwise:
            played = [_played(path, *play) for play in plays]
            if len(set(played)) < len(played):
                return False
        return self.melody is None or share_of_melody(path) >= self.melody

    def _once_each(self, here: set[tuple[int, int]]) -> bool:
        again = [range(*play) for plays in self.alike for play in plays[1:]]
        numbers = [number for phrase, number in here if not any(phrase in play for play in again)]
        return len(set(numbers)) == len(numbers)


def _played(path: Sequence[Pick], begin: int, end: int) -> tuple[int | None, ...]:
    """The licks of a play of a part, equal for plays that are the same; one that a lick leads into or out of is like no other."""
    own = [pick for pick in path if begin <= pick.phrase < end]
    numbers = tuple(pick.candidate.number for pick in own)
    fills = sum(pick.candidate.span for pick in own) == end - begin and own[0].phrase == begin
    return numbers if fills else (None, begin, *numbers)


def share_of_melody(path: Sequence[Pick]) -> float:
    """Share of the melody that a break recalls, each lick by the length of what it fills."""
    whole = sum(pick.candidate.ticks for pick in path)
    return sum(pick.candidate.ticks * pick.candidate.recall for pick in path) / whole if whole else 0.0


def plays_of_repeated_parts(form: Sequence[Phrase]) -> dict[str, Plays]:
    """The plays of each part that comes more than once, by its name."""
    begins = [place for place, phrase in enumerate(form) if phrase.index == 1] + [len(form)]
    by_part: dict[str, list[tuple[int, int]]] = {}
    for begin, end in pairwise(begins):
        by_part.setdefault(form[begin].part, []).append((begin, end))
    return {part: tuple(plays) for part, plays in by_part.items() if len(plays) > 1}


@dataclass(frozen=True, slots=True)
class Makings:
    """What a lattice is made of: licks by phrase, the phrases of the form where each is played, what a seam weighs and before
    which phrases there is none, what is watched, and how a path becomes a whole break."""

    candidates: Sequence[Stock]
    plays: tuple[tuple[int, ...], ...]
    allows: Allows
    free: frozenset[int]
    watch: Watch | None
    expanded: Callable[[Sequence[Pick]], Path]

    def best(self, cost: Cost, join_cost: JoinCost, times: int = 1) -> BestBreaks:
        """Cheapest first, by the cost of a lick each time that it is played."""
        return BestBreaks(self.candidates, self.each_time(cost), join_cost, self.watch, self.free, times)

    def each_time(self, cost: Cost) -> Cost:
        """``cost``, by phrases of the form, added up over the plays of each phrase."""

        def whole(of: Stock, phrase: int) -> Column:
            total = np.zeros(len(of), np.int64)
            for play in self.plays[phrase]:
                total += cost(of, play)
            return total

        return whole

    @property
    def join_cost(self) -> BySeam:
        """Nothing, where the seam may be."""
        return self.joining(NO_COST)

    def joining(self, cost: JoinCost) -> BySeam:
        """What a seam costs, where it may be."""

        def one(before: Edge, entry: Edge) -> int | None:
            return cost(before, entry) if self.allows(before, entry) else None

        def every(exits: Sequence[Edge], entries: Sequence[Edge]) -> Numbers:
            return np.where(told_of(self.allows, exits, entries) > 0, told_of(cost, exits, entries), -1)

        return BySeam(one, every)


def makings_of(lattice: AnyLattice) -> Makings:
    once = tuple((phrase,) for phrase in range(len(lattice.candidates)))
    if isinstance(lattice, SameLattice):
        inner = lattice.inner
        return Makings(
            inner.candidates, lattice.plays, inner.allows, inner.free, inner.watch, lattice.expanded
        )
    if isinstance(lattice, JoinedLattice):
        return Makings(lattice.candidates, once, lattice.allows, lattice.free, lattice.watch, tuple)
    return Makings(lattice.candidates, once, ANY_SEAM, frozenset(), None, tuple)


@dataclass(frozen=True, slots=True)
class Impossible:
    """Why no break can meet the demands: a code, and what its sentence names."""

    code: str
    named: dict[str, Any]


def impossible(lattice: AnyLattice, demands: Demands) -> Impossible | None:
    """Why no break of a lattice meets the demands, as far as that can be seen without drawing."""
    made_of = makings_of(lattice)
    if demands.no_repeats and all((of.column("span") == 1).all() for of in made_of.candidates):
        crowded = crowded_phrases([of.column("number").tolist() for of in made_of.candidates])
        if crowded is not None:
            phrases, licks = crowded
            told = ", ".join(str(phrase + 1) for phrase in phrases)
            return Impossible("too-few-licks", {"phrases": told, "count": len(phrases), "licks": licks})
    if demands.melody is not None:
        found = most_melody(made_of)
        if found is not None and found[0] + 1e-6 < demands.melody:
            most, phrase = found
            return Impossible("melody-too-much", {"percent": int(100 * most), "phrase": phrase + 1})
    for other in demands.others:
        differs = most_different(made_of, other)
        if differs < demands.differs_by:
            return Impossible("differs-too-much", {"most": differs})
    return None


def crowded_phrases(licks: Sequence[Sequence[int]]) -> tuple[list[int], int] | None:
    """Phrases (from 0) that have fewer licks between them than they are, and how many licks those are; None if every phrase can
    have a lick of its own. A largest matching by augmenting paths, and Hall's theorem."""
    taken: dict[int, int] = {}  # lick -> phrase

    def give(phrase: int, seen: dict[int, int]) -> bool:
        """Whether a lick can be had for a phrase, others moving on; ``seen`` are the licks that were tried, by phrase."""
        waiting = [(phrase, iter(licks[phrase]))]
        came: dict[int, tuple[int, int]] = {}  # phrase -> (phrase before, lick that it would give up)
        while waiting:
            at, options = waiting[-1]
            lick = next((lick for lick in options if lick not in seen), None)
            if lick is None:
                waiting.pop()
                continue
            seen[lick] = at
            holder = taken.get(lick)
            if holder is None:
                while True:
                    taken[lick] = at
                    if at == phrase:
                        return True
                    at, lick = came[at]
            came[holder] = (at, lick)
            waiting.append((holder, iter(licks[holder])))
        return False

    for phrase in range(len(licks)):
        seen: dict[int, int] = {}
        if not give(phrase, seen):
            return sorted({phrase, *(taken[lick] for lick in seen)}), len(seen)
    return None


def lacking(of: Stock, phrase: int) -> Column:
    """What each lick lacks of the melody, in PARTS by the tick, rounded down."""
    lack: Column = np.floor(PARTS * (1 - of.column("recall"))).astype(np.int64) * of.ints("ticks")
    return lack


def most_melody(made_of: Makings) -> tuple[float, int] | None:
    """The largest share of the melody that any break recalls, to a PARTS-th, and the phrase (from 0) where it recalls least;
    None if there is no break."""
    best = made_of.best(lacking, made_of.join_cost).cheapest()
    if best is None:
        return None
    lack, places = best
    path = made_of.expanded([Pick(phrase, made_of.candidates[phrase][at]) for phrase, at in places])
    ticks = sum(pick.candidate.ticks for pick in path)
    if not ticks:
        return None
    least = min(path, key=lambda pick: pick.candidate.recall)
    return 1 - lack / (PARTS * ticks), least.phrase


def most_different(made_of: Makings, other: frozenset[tuple[int, int]]) -> int:
    """In how many phrases a break can differ from another, at most."""

    def shared(of: Stock, phrase: int) -> Column:
        """The phrases that a lick fills, one less if it is not the other's."""
        there = [number for at, number in other if at == phrase]
        return of.ints("span") - ~np.isin(of.column("number"), there)

    found = made_of.best(shared, made_of.join_cost).cheapest()
    return 0 if found is None else sum(len(plays) for plays in made_of.plays) - found[0]
