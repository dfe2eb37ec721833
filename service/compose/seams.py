"""Which seams may be and what they cost: one by one, or all of a pool's at once."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.compose.matching import tempo_of
from service.judge.hands import strain
from service.judge.joins import Edge, Joins, judge_join, judge_joins
from service.judge.rules import EIGHTH_MS
from service.music.setting import Setting
from service.music.tunes import Tune

Numbers = NDArray[np.int64]
Shares = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BySeam:
    """A whole number for each seam; ``every`` tells those of all ways out (rows) with all ways in (columns). Below 0, or None
    where one is told: the seam may not be."""

    one: Callable[[Edge, Edge], int | None]
    every: Callable[[Sequence[Edge], Sequence[Edge]], Numbers]

    def __call__(self, before: Edge, entry: Edge) -> int | None:
        return self.one(before, entry)


def alike_everywhere(value: int) -> BySeam:
    """The same for every seam; all may be."""
    return BySeam(
        lambda before, entry: value,
        lambda exits, entries: np.full((len(exits), len(entries)), value, np.int64),
    )


ANY_SEAM, NO_COST = alike_everywhere(1), alike_everywhere(0)


def told_of(
    judged: Callable[[Edge, Edge], int | None], exits: Sequence[Edge], entries: Sequence[Edge]
) -> Numbers:
    """What is judged of all ways out (rows) with all ways in (columns), -1 where a seam may not be."""
    if isinstance(judged, BySeam):
        return judged.every(exits, entries)
    told = [[judged(before, entry) for entry in entries] for before in exits]
    found = np.array([[-1 if value is None else value for value in row] for row in told], np.int64)
    return found.reshape(len(exits), len(entries))


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo to join licks at, in beats a minute and ticks of a beat, on an instrument of that scale."""

    bpm: float
    beat_ticks: int
    slot_ticks: int
    scale_mm: int

    def share(self, before: Edge, entry: Edge) -> float:
        """What share of the time there is a seam takes; 1 is the limit."""
        return strain(
            judge_join(before, entry, self.scale_mm).load / self.slot_ticks, self.bpm, self.beat_ticks
        )

    def shares(self, exits: Sequence[Edge], entries: Sequence[Edge]) -> Shares:
        """The same of all seams."""
        return self._shares(judge_joins(exits, entries, self.scale_mm))

    def _shares(self, told: Joins) -> Shares:
        return told.loads / self.slot_ticks * self.bpm * self.beat_ticks / 60_000

    def costing(self, cost: Callable[[Shares], Numbers]) -> BySeam:
        """What seams cost by their shares; all may be."""
        return BySeam(
            lambda before, entry: int(cost(np.array([self.share(before, entry)]))[0]),
            lambda exits, entries: cost(self.shares(exits, entries)),
        )

    def weighed(self, jumps: bool, weigh: Callable[[Shares], Numbers]) -> BySeam:
        """What ``weigh`` makes of the shares of seams that can be played and break no rule; ``jumps`` says that a long move needs
        air."""

        def every(exits: Sequence[Edge], entries: Sequence[Edge]) -> Numbers:
            told = judge_joins(exits, entries, self.scale_mm)
            shares = self._shares(told)
            bad = told.same_finger | (shares > 1) | (told.jump if jumps else False)
            return np.where(bad, -1, weigh(np.minimum(shares, 1.0)))

        def one(before: Edge, entry: Edge) -> int | None:
            told = int(every((before,), (entry,))[0, 0])
            return None if told < 0 else told

        return BySeam(one, every)


def tempo_at(tune: Tune, setting: Setting, bpm: float | None = None) -> Tempo:
    """A tune's own tempo on an instrument, or a faster one in its meter's beats."""
    own, beat = tempo_of(tune)
    return Tempo(
        own if bpm is None else max(own, bpm), beat, tune.meter.slot_ticks, setting.instrument.scale_mm
    )


def jumps_count(tune: Tune) -> bool:
    """Whether a long move needs air: from a certain tempo of the tune on."""
    bpm, beat = tempo_of(tune)
    return 60_000 / bpm * tune.meter.slot_ticks / beat <= EIGHTH_MS
