"""What only a whole break can tell: no lick twice, enough of the melody, unlike others, a repeated part played otherwise.

Such a demand is met by drawing until a break meets it, evenly over all that do; a small number of breaks is looked through
instead. What cannot be met at all is told without drawing, as far as that can be seen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.compose.best import BestBreaks
from service.compose.distinct import NotFound, best_distinct
from service.compose.joined import Allows, JoinedLattice
from service.compose.lattice import Lattice, Pick
from service.compose.sections import SameLattice
from service.compose.stock import Column, Stock
from service.compose.watches import Watch
from service.judge.joins import Edge
from service.music.tunes import Phrase

AnyLattice = Lattice | JoinedLattice | SameLattice
Path = tuple[Pick, ...]
LOOKED_THROUGH = 2_000  # breaks at most that are all looked at
REDRAWS = 5_000  # draws before a break is searched for
SERVED_DRAWS = 200  # draws that meet the demands but were served, before one of them is served again
SEARCHED = 20_000  # steps of a search
SCALE = 1000
LACKING = 4 * SCALE  # what lacking all of the melody costs a search, beside a chance cost up to SCALE


@dataclass(frozen=True, slots=True)
class Demands:
    """``melody`` is the least share of it that the whole recalls; ``differs_by`` is in how many phrases it must differ from each
    of ``others``, sets of (phrase from 0, lick number); ``otherwise`` are the plays, as (first phrase, past the last), of each
    part that must be played otherwise each time."""

    no_repeats: bool = False
    melody: float | None = None
    differs_by: int = 0
    others: tuple[frozenset[tuple[int, int]], ...] = ()
    otherwise: tuple[tuple[tuple[int, int], ...], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.no_repeats or self.melody is not None or self.differs_by or self.otherwise)

    def met_by(self, path: Sequence[Pick]) -> bool:
        here = {(pick.phrase, pick.candidate.number) for pick in path}
        if self.no_repeats and len({number for _, number in here}) < len(path):
            return False
        if any(len(here - other) < self.differs_by for other in self.others):
            return False
        for plays in self.otherwise:
            played = [frozenset((p - a, n) for p, n in here if a <= p < b) for a, b in plays]
            if len(set(played)) < len(played):
                return False
        return self.melody is None or share_of_melody(path) >= self.melody


def share_of_melody(path: Sequence[Pick]) -> float:
    """Share of the melody that a break recalls, each lick by the length of what it fills."""
    whole = sum(pick.candidate.ticks for pick in path)
    return sum(pick.candidate.ticks * pick.candidate.recall for pick in path) / whole if whole else 0.0


def plays_of_repeated_parts(form: Sequence[Phrase]) -> tuple[tuple[tuple[int, int], ...], ...]:
    """The plays of each part that comes more than once, as (first phrase, past the last), from 0."""
    begins = [place for place, phrase in enumerate(form) if phrase.index == 1] + [len(form)]
    by_part: dict[str, list[tuple[int, int]]] = {}
    for begin, end in pairwise(begins):
        by_part.setdefault(form[begin].part, []).append((begin, end))
    return tuple(tuple(plays) for plays in by_part.values() if len(plays) > 1)


@dataclass(frozen=True, slots=True)
class Impossible(Exception):
    """Why no break can meet the demands: a code, and what its sentence names."""

    code: str
    params: tuple[tuple[str, object], ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A break that meets the demands; ``again`` are all there are, where every one of them was served."""

    path: Path
    fresh: bool = True
    again: tuple[Path, ...] = ()


def draw_whole(
    lattice: AnyLattice,
    demands: Demands,
    randbelow: Callable[[int], int],
    was_served: Callable[[Path], bool] = lambda path: False,
) -> Drawn | None:
    """A break that meets the demands, if there is one that was not served, evenly; None if none was found.

    Where REDRAWS draws find none, one is searched for: any break can come then, though not evenly.
    """
    if lattice.total <= LOOKED_THROUGH:
        met = [path for number in range(lattice.total) if demands.met_by(path := lattice.path(number + 1))]
        left = [path for path in met if not was_served(path)]
        among = left or met
        if not among:
            return None
        return Drawn(among[randbelow(len(among))], again=() if left else tuple(met))
    served: list[Path] = []
    for _ in range(REDRAWS):
        path = lattice.path(1 + randbelow(lattice.total))
        if demands.met_by(path):
            if not was_served(path):
                return Drawn(path)
            served.append(path)
            if len(served) == SERVED_DRAWS:
                break
    if served:
        return Drawn(served[-1], fresh=False)
    found = _searched(lattice, demands, randbelow)
    return None if found is None else Drawn(found, fresh=not was_served(found))


@dataclass(frozen=True, slots=True)
class Ground:
    """What a lattice is made of: licks by phrase, seams, what is watched, and how a path becomes a whole break."""

    candidates: Sequence[Stock]
    allows: Allows
    watch: Watch | None
    expanded: Callable[[Sequence[Pick]], Path]

    def join_cost(self, before: Edge, entry: Edge) -> int | None:
        return 0 if self.allows(before, entry) else None


def ground_of(lattice: AnyLattice) -> Ground:
    if isinstance(lattice, SameLattice):
        inner = lattice.inner
        return Ground(inner.candidates, inner.allows, inner.watch, lattice.expanded)
    if isinstance(lattice, JoinedLattice):
        return Ground(lattice.candidates, lattice.allows, lattice.watch, tuple)
    return Ground(lattice.candidates, lambda before, entry: 1, None, tuple)


def _searched(lattice: AnyLattice, demands: Demands, randbelow: Callable[[int], int]) -> Path | None:
    """A break that meets the demands, by a search in a chance order that leans to the melody if that is asked for."""
    ground = ground_of(lattice)
    chance = np.random.default_rng(randbelow(1 << 62))
    costs = {}
    for phrase, of in enumerate(ground.candidates):
        cost = chance.integers(0, SCALE, len(of))
        if demands.melody is not None:
            cost = cost + np.round(LACKING * (1 - of.column("recall"))).astype(np.int64) * of.column("span")
        costs[phrase] = cost

    def cost_of(of: Stock, phrase: int) -> Column:
        return costs[phrase]

    def fits(path: Path) -> bool:
        return demands.met_by(ground.expanded(path))

    if demands.no_repeats:
        try:
            found = best_distinct(
                ground.candidates, cost_of, ground.join_cost, 1, SEARCHED, fits, ground.watch
            )
        except NotFound:
            return None
        return ground.expanded(found[0][1]) if found else None
    search = BestBreaks(ground.candidates, cost_of, ground.join_cost, ground.watch)
    for tried, (_, path) in enumerate(search):
        if fits(path):
            return ground.expanded(path)
        if tried == SEARCHED:
            break
    return None


def check_possible(lattice: AnyLattice, demands: Demands) -> None:
    """Raise Impossible for what can be seen without drawing."""
    ground = ground_of(lattice)
    if demands.no_repeats and all((of.column("span") == 1).all() for of in ground.candidates):
        crowded = crowded_phrases([of.column("number").tolist() for of in ground.candidates])
        if crowded is not None:
            phrases, licks = crowded
            told = ", ".join(str(phrase + 1) for phrase in phrases)
            raise Impossible("too-few-licks", (("phrases", told), ("count", len(phrases)), ("licks", licks)))
    if demands.melody is not None:
        most, phrase = most_melody(ground)
        if most + 1e-6 < demands.melody:
            percent = (("percent", int(100 * most)), ("phrase", phrase + 1))
            raise Impossible("melody-too-much", percent)


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


def most_melody(ground: Ground) -> tuple[float, int]:
    """The largest share of the melody that any break recalls, and the phrase (from 0) where it recalls least."""
    parts = 1_000_000

    def lacking(of: Stock, phrase: int) -> Column:
        lack: Column = np.floor(parts * (1 - of.column("recall"))).astype(np.int64) * of.ints("ticks")
        return lack

    for _, path in BestBreaks(ground.candidates, lacking, ground.join_cost, ground.watch):
        whole = ground.expanded(path)
        least = min(whole, key=lambda pick: pick.candidate.recall)
        return share_of_melody(whole), least.phrase
    return 0.0, 0
