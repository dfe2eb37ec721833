"""Breaks whose repeated parts are played the same each time, counted and drawn exactly.

Each part is chosen once, in the order of first appearance. Where a part goes on from another than the one chosen before it, or
from itself, the seam is minded as soon as both of its sides are known; until then the edges are kept in a state.
"""

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from service.compose.grid import MOST_CUT
from service.compose.joined import Allows, JoinedLattice, alike
from service.compose.lattice import Pick
from service.compose.seams import ANY_SEAM, told_of
from service.compose.stock import Candidate, Column, EdgeTable, Stock, edges_of
from service.compose.watches import Both, Everything, Watch
from service.judge.joins import CUTS, Edges
from service.music.tunes import Phrase


@dataclass(frozen=True, slots=True)
class Chosen:
    """A part chosen once: its name, the phrases of its first play, and where each of its plays begins (from 0)."""

    name: str
    phrases: tuple[int, ...]
    begins: tuple[int, ...]


def chosen_once(form: Sequence[Phrase], same: frozenset[str] | None = None) -> tuple[list[Chosen], list[int]]:
    """Parts in order of first appearance, and for each play which of them it is.

    ``same`` are the parts that are played the same each time, None for all; others are chosen anew for each play. Plays that
    follow each other and are chosen but once are chosen as one, so that licks may lead from one into the other.
    """
    begins = [place for place, phrase in enumerate(form) if phrase.index == 1] + [len(form)]
    often = Counter(form[begin].part for begin in begins[:-1])
    parts: list[Chosen] = []
    order: list[int] = []
    known: dict[str, int] = {}
    single = False  # whether the play before is chosen but once
    for start, end in pairwise(begins):
        name = form[start].part
        repeated = often[name] > 1 and (same is None or name in same)
        if repeated and name in known:
            part = parts[known[name]]
            order.append(known[name])
            parts[known[name]] = Chosen(name, part.phrases, (*part.begins, start))
        elif not repeated and single:
            before = parts[-1]
            parts[-1] = Chosen(before.name + name, (*before.phrases, *range(start, end)), before.begins)
        else:
            known[name] = len(parts)
            order.append(len(parts))
            parts.append(Chosen(name, tuple(range(start, end)), (start,)))
        single = not repeated
    return parts, order


@dataclass(frozen=True, slots=True)
class _Ends:
    """What is still needed of a part: the kind of its way in, once begun, and those of its ways out by cut, once ended."""

    entry: int | None = None
    exits: tuple[int, ...] | None = None


class _Kinds:
    """Edges by what they may be joined to: small numbers, equal for those that make no difference."""

    def __init__(self, edges: EdgeTable, allows: Allows) -> None:
        self._may = told_of(allows, edges.exits, edges.entries) > 0
        self._cuts = np.array([min(entry.cut, MOST_CUT) for entry in edges.entries], np.int64)
        self.entries = _first_alike(
            [bytes([cut]) + col.tobytes() for cut, col in zip(self._cuts, self._may.T, strict=True)]
        )
        self.exits = [
            _first_alike([row.tobytes() for row in self._may[:, self._cuts == cut]])
            for cut in range(len(CUTS))
        ]
        self._edges = edges
        self._of: dict[int, tuple[int, tuple[int, ...]]] = {}  # by identity: a table's edges are made once

    def of(self, edges: Edges) -> tuple[int, tuple[int, ...]]:
        found = self._of.get(id(edges))
        if found is None:
            entry, exits = self._edges.number(edges)
            kinds = tuple(int(self.exits[cut][number]) for cut, number in enumerate(exits))
            found = self._of[id(edges)] = int(self.entries[entry]), kinds
        return found

    def may_join(self, exits: tuple[int, ...], entry: int) -> bool:
        return bool(self._may[exits[self._cuts[entry]], entry])


def _first_alike(told: Sequence[bytes]) -> NDArray[np.int64]:
    """For each the place of the first one that is equal."""
    first: dict[bytes, int] = {}
    return np.array([first.setdefault(one, place) for place, one in enumerate(told)], np.int64)


class Seams:
    """Minds the seams between plays that the order of choosing does not put side by side.

    ``follows`` are pairs (part, the part that comes next somewhere); ``sizes`` the phrases of each part.
    """

    def __init__(
        self, sizes: Sequence[int], follows: frozenset[tuple[int, int]], edges: EdgeTable, allows: Allows
    ) -> None:
        self._part = [part for part, size in enumerate(sizes) for _ in range(size)]
        self._ends = [sum(sizes[: part + 1]) for part in range(len(sizes))]
        self._begins = [0, *self._ends[:-1]]
        # a part that comes next in choosing is minded by the lattice itself
        self._minded = frozenset(pair for pair in follows if pair[1] != pair[0] + 1)
        self._kinds = _Kinds(edges, allows)

    @property
    def free(self) -> frozenset[int]:
        """Phrases before which no seam is: their part never comes after the one that is chosen before it."""
        return frozenset(self._begins[1:])

    @property
    def start(self) -> Hashable:
        return (_Ends(),) * len(self._ends)

    def traits(self, of: Stock, phrase: int) -> Column:
        first, part = phrase in self._begins, self._part[phrase]
        found = self._kinds.entries[of.column("entry")] if first else np.zeros(len(of), np.int64)
        if any(before == part for before, _ in self._minded):
            ending = of.column("span") == self._ends[part] - phrase
            for cut, kinds in enumerate(self._kinds.exits):
                own = np.where(ending, kinds[of.column("exits")[:, cut]] + 1, 0)
                found = np.unique(found * (own.max(initial=0) + 1) + own, return_inverse=True)[1]
        return found.reshape(len(of))

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        if not isinstance(state, tuple):
            return None
        part = self._part[phrase]
        known = list(state)
        entry, exits = self._kinds.of(edges_of(candidate))
        if phrase == self._begins[part]:
            known[part] = _Ends(entry)
        if phrase + candidate.span < self._ends[part]:
            return tuple(known)
        known[part] = _Ends(known[part].entry, exits)
        for before, after in self._minded:
            if part not in (before, after) or max(before, after) > part:
                continue
            leaves, comes = known[before].exits, known[after].entry
            if leaves is not None and comes is not None and not self._kinds.may_join(leaves, comes):
                return None
        return tuple(self._needed(known, part))

    def _needed(self, known: Sequence[_Ends], done: int) -> list[_Ends]:
        """Only what seams to parts that are not chosen yet depend on."""
        open_pairs = [pair for pair in self._minded if max(pair) > done]
        return [
            _Ends(
                ends.entry if any(after == part for _, after in open_pairs) else None,
                ends.exits if any(before == part for before, _ in open_pairs) else None,
            )
            for part, ends in enumerate(known)
        ]

    def ends(self, state: Hashable) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class EachPlay:
    """A watch that minds every play of a part that is chosen once; ``times`` by phrase in order of choosing."""

    watch: Watch
    times: tuple[int, ...]

    @property
    def start(self) -> Hashable:
        return self.watch.start

    def traits(self, of: Stock, phrase: int) -> Column:
        return self.watch.traits(of, phrase)

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        moved: Hashable | None = state
        for _ in range(self.times[phrase]):
            if moved is not None:
                moved = self.watch.step(moved, phrase, candidate)
        return moved

    def ends(self, state: Hashable) -> bool:
        return self.watch.ends(state)


class SameLattice:
    """The breaks that play each part (or those in ``same``) alike every time. ``watch`` is told phrases in order of choosing;
    a part's licks weigh once, however often it is played."""

    def __init__(
        self,
        candidates: Sequence[Stock],
        form: Sequence[Phrase],
        allows: Allows,
        watch: Callable[[Sequence[Phrase]], Watch | None] = lambda form: None,
        weigh: Callable[[Stock], Column] = alike,
        same: frozenset[str] | None = None,
    ) -> None:
        self.parts, order = chosen_once(form, same)
        self.form = [form[phrase] for part in self.parts for phrase in part.phrases]
        self._of = [part for part in self.parts for _ in part.phrases]
        stocks = [
            self._within([candidates[begin + place] for begin in part.begins], len(part.phrases) - place)
            for part in self.parts
            for place in range(len(part.phrases))
        ]
        follows = frozenset(pairwise(order))
        minded = frozenset[tuple[int, int]]() if allows is ANY_SEAM else follows
        table = stocks[0].edges if stocks else EdgeTable()
        seams = Seams([len(part.phrases) for part in self.parts], minded, table, allows)
        beside = {0} | {self._begin(after) for before, after in follows if after == before + 1}
        own = watch(self.form) or Everything()
        times = tuple(len(part.begins) for part in self._of)
        self.inner = JoinedLattice(
            stocks, allows, Both((EachPlay(own, times), seams)), weigh, seams.free - frozenset(beside)
        )

    def _begin(self, part: int) -> int:
        return sum(len(one.phrases) for one in self.parts[:part])

    @staticmethod
    def _within(plays: Sequence[Stock], left: int) -> Stock:
        """The licks that every play of a phrase allows and that end within the part."""
        of = plays[0]
        keep = of.column("span") <= left
        for other in plays[1:]:
            if other is not of:
                keep &= np.isin(of.column("number"), other.column("number"))
        return of.where(keep)

    @cached_property
    def plays(self) -> tuple[tuple[int, ...], ...]:
        """The phrases of the form where each phrase, in order of choosing, is played."""
        return tuple(
            tuple(begin + place - self._begin(self.parts.index(part)) for begin in part.begins)
            for place, part in enumerate(self._of)
        )

    @cached_property
    def candidates(self) -> tuple[Stock, ...]:
        """Candidates by phrase of the form."""
        found = {
            play: of for of, plays in zip(self.inner.candidates, self.plays, strict=True) for play in plays
        }
        return tuple(found[phrase] for phrase in range(len(found)))

    @property
    def total(self) -> int:
        return self.inner.total

    @property
    def states(self) -> int:
        """How many states its phrases have together, in order of choosing."""
        return self.inner.states

    @property
    def nbytes(self) -> int:
        """Memory that it takes, about."""
        return self.inner.nbytes

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number`` in this lattice's own order, from 1. Raises IndexError outside 1..total."""
        return self.expanded(self.inner.path(number))

    def expanded(self, picks: Sequence[Pick]) -> tuple[Pick, ...]:
        """The whole break of what was chosen for each part."""
        found = [Pick(play, pick.candidate) for pick in picks for play in self.plays[pick.phrase]]
        return tuple(sorted(found, key=lambda pick: pick.phrase))

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them."""
        places = self._placed(licks)
        if places is None:
            return None
        chosen = []
        for part in self.parts:
            plays = [
                [places[begin + at] for at in range(len(part.phrases)) if begin + at in places]
                for begin in part.begins
            ]
            if any(play != plays[0] for play in plays):
                return None
            chosen += plays[0]
        return self.inner.number(chosen)

    def _placed(self, licks: Sequence[tuple[int, int]]) -> dict[int, tuple[int, int]] | None:
        """Licks by the phrase where they begin."""
        found: dict[int, tuple[int, int]] = {}
        phrase = 0
        for lick in licks:
            place = self.candidates[phrase].place(*lick) if phrase < len(self.candidates) else None
            if place is None:
                return None
            found[phrase] = lick
            phrase += int(self.candidates[phrase].rows["span"][place])
        return found if phrase == len(self.candidates) else None

    def dead_end(self) -> int | None:
        """The first phrase (from 0, in the form) that no lick can begin or fill, if there are no breaks at all."""
        place = self.inner.dead_end()
        return None if place is None else self.plays[place][0]
