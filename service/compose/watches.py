"""What is minded along a whole break: licks that must be there, and how often a part changes its manner."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from service.compose.stock import Candidate, Column, Stock

STYLE_CHANGES = 2  # in a part, at most (common practice, no source)
STAYS_UP_THE_NECK = 1  # in a part, at most


class Watch(Protocol):
    """Something minded along a break: a state that each lick moves on, or forbids by None."""

    @property
    def start(self) -> Hashable: ...

    def traits(self, of: Stock, phrase: int) -> Column:
        """A whole number for each lick, equal for those that ``step`` cannot tell apart at a phrase."""

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None: ...

    def ends(self, state: Hashable) -> bool:
        """Whether a break may end in a state."""


@dataclass(frozen=True, slots=True)
class Everything:
    """Nothing is minded."""

    start: Hashable = ()

    def traits(self, of: Stock, phrase: int) -> Column:
        return np.zeros(len(of), np.int64)

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        return state

    def ends(self, state: Hashable) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class MustHave:
    """Every one of these licks at least once: a bit for each that has come."""

    licks: tuple[int, ...]

    @property
    def start(self) -> Hashable:
        return 0

    def traits(self, of: Stock, phrase: int) -> Column:
        numbers = of.column("number")
        found: Column = np.zeros(len(of), np.int64)
        for place, lick in enumerate(self.licks, 1):
            found[numbers == lick] = place
        return found

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        if not isinstance(state, int) or candidate.number not in self.licks:
            return state
        return state | 1 << self.licks.index(candidate.number)

    def ends(self, state: Hashable) -> bool:
        return state == (1 << len(self.licks)) - 1


@dataclass(frozen=True, slots=True)
class _Manner:
    """The style just played, changes so far in the part, whether up the neck, stays there so far."""

    style: str
    changes: int
    up: bool
    stays: int


FRESH = _Manner("", 0, False, 0)


@dataclass(frozen=True, slots=True)
class Manner:
    """At most so many changes of style and so many stays up the neck in each part.

    ``begins`` are the phrases, from 0, where a part begins.
    """

    begins: frozenset[int]

    @property
    def start(self) -> Hashable:
        return FRESH

    def traits(self, of: Stock, phrase: int) -> Column:
        return 2 * of.ints("style") + of.column("up")

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        if phrase in self.begins or not isinstance(state, _Manner):
            state = FRESH
        changes = state.changes + (state.style not in ("", candidate.style))
        stays = state.stays + (candidate.up and not state.up)
        if changes > STYLE_CHANGES or stays > STAYS_UP_THE_NECK:
            return None
        return _Manner(candidate.style, changes, candidate.up, stays)

    def ends(self, state: Hashable) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class AtMost:
    """No more licks of some styles than these: (style, most) each."""

    most: tuple[tuple[str, int], ...]

    @property
    def start(self) -> Hashable:
        return (0,) * len(self.most)

    def traits(self, of: Stock, phrase: int) -> Column:
        minded = of.in_styles([style for style, _ in self.most])
        return np.where(minded, of.ints("style"), -1)

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        if not isinstance(state, tuple):
            return state
        had = tuple(
            count + (style == candidate.style) for count, (style, _) in zip(state, self.most, strict=True)
        )
        return had if all(count <= most for count, (_, most) in zip(had, self.most, strict=True)) else None

    def ends(self, state: Hashable) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class Budget:
    """The levels of all licks together no more than this."""

    levels: int

    @property
    def start(self) -> Hashable:
        return 0

    def traits(self, of: Stock, phrase: int) -> Column:
        return of.ints("level")

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        spent = candidate.level + (state if isinstance(state, int) else 0)
        return spent if spent <= self.levels else None

    def ends(self, state: Hashable) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class Both:
    """Several watches at once."""

    watches: tuple[Watch, ...]

    @property
    def start(self) -> Hashable:
        return tuple(watch.start for watch in self.watches)

    def traits(self, of: Stock, phrase: int) -> Column:
        found = np.zeros(len(of), np.int64)
        for watch in self.watches:
            own = watch.traits(of, phrase)
            if len(own):
                least = own.min()
                # numbered anew each time, or products of many would not fit
                both = found * (own.max() - least + 1) + (own - least)
                found = np.unique(both, return_inverse=True)[1].reshape(len(of))
        return found

    def step(self, state: Hashable, phrase: int, candidate: Candidate) -> Hashable | None:
        after = []
        for watch, own in zip(self.watches, state, strict=True):  # type: ignore[call-overload]
            moved = watch.step(own, phrase, candidate)
            if moved is None:
                return None
            after.append(moved)
        return tuple(after)

    def ends(self, state: Hashable) -> bool:
        return all(watch.ends(own) for watch, own in zip(self.watches, state, strict=True))  # type: ignore[call-overload]


def watching(watches: Sequence[Watch]) -> Watch | None:
    """One watch for all of them; None for none."""
    if len(watches) < 2:
        return watches[0] if watches else None
    return Both(tuple(watches))


def passes(watch: Watch, licks: Sequence[tuple[int, Candidate]]) -> bool:
    """Whether a watch lets a break through: (phrase, lick) in order."""
    state: Hashable | None = watch.start
    for phrase, candidate in licks:
        state = watch.step(state, phrase, candidate)
        if state is None:
            return False
    return watch.ends(state)
