"""A plan played: sound that is worked out a stretch at a time, however long it is."""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from service.music.timeline import Mark, Plan, Timeline, timeline
from service.sound.mastering import (
    FRAME,
    MOST_WINDOWS,
    WINDOW,
    frame_peaks,
    gain_curve,
    k_weights,
    loudness,
    makeup,
    mastered,
    window_power,
)
from service.sound.mixing import Mix
from service.sound.notes import NoteCache
from service.sound.strings import RATE

Samples = NDArray[np.float32]
BLOCK = 6_400 * FRAME  # samples worked out at once: 9.3 s
_KEPT_BYTES = 24 * 2**20  # of a mix that is not made a second time for writing; ours


class Sound:
    """What a plan sounds like. ``channels`` 1 or 2, ``length`` in samples of ``rate`` a second.

    Nothing of a long file is kept: each asking for a stretch mixes it anew, to the same samples.
    """

    rate = RATE

    def __init__(self, plan: Plan, cache: NoteCache) -> None:
        self.timeline: Timeline = timeline(plan, RATE)
        self._mix = Mix(plan, self.timeline, cache)
        self._kept: dict[int, Samples] = {}
        self._curve = self._measured()

    @property
    def channels(self) -> int:
        return self._mix.channels

    @property
    def length(self) -> int:
        return self.timeline.length

    @property
    def seconds(self) -> Fraction:
        return Fraction(self.length, RATE)

    @property
    def tempos(self) -> tuple[tuple[int, Fraction], ...]:
        """(beats a minute, second at which it begins) of each stretch at one tempo."""
        return self.timeline.tempos

    @property
    def marks(self) -> tuple[Mark, ...]:
        return self.timeline.marks

    def blocks(self, start: int = 0, stop: int | None = None) -> Iterator[Samples]:
        """Samples ``start`` to ``stop`` in order, each block of shape (n, channels), float32, under full scale."""
        end = self.length if stop is None else min(stop, self.length)
        at = start
        while at < end:
            upto = min(end, at - at % BLOCK + BLOCK)
            yield mastered(self._mixed(at, upto), at, self._curve).T
            at = upto

    def samples(self) -> Samples:
        """All of it, shape (length,) or (length, 2). Only for what is short."""
        whole = np.concatenate([*self.blocks()]) if self.length else np.zeros((0, self.channels), np.float32)
        return whole[:, 0] if self.channels == 1 else whole

    def _mixed(self, start: int, stop: int) -> Samples:
        kept = self._kept.get(start - start % BLOCK)
        if kept is not None:
            return kept[:, start % BLOCK : start % BLOCK + stop - start]
        return self._mix.stretch(start, stop)

    def _measured(self) -> NDArray[np.float32]:
        """The gain curve, from one pass over everything."""
        peaks: list[NDArray[np.float32]] = []
        powers: list[float] = []
        weights = k_weights(WINDOW)
        windows = max(1, self.length // WINDOW)
        every = -(-windows // MOST_WINDOWS)
        keep = self.length * self.channels * 4 <= _KEPT_BYTES
        wanted = 0
        for at in range(0, self.length, BLOCK):
            block = self._mix.stretch(at, min(at + BLOCK, self.length))
            if keep:
                self._kept[at] = block
            peaks.append(frame_peaks(block))
            # a window that a block's end cuts is left out
            wanted = max(wanted, at)
            while wanted + WINDOW <= at + block.shape[1]:
                powers.append(window_power(block[:, wanted - at : wanted - at + WINDOW], weights))
                wanted += every * WINDOW
        found = np.concatenate(peaks)
        return gain_curve(found, makeup(loudness(powers), float(found.max())))


def play(plan: Plan, cache: NoteCache | None = None) -> Sound:
    """The plan's sound. With a ``cache`` shared between plays, notes are made once.

    Raises what ``timeline`` raises.
    """
    return Sound(plan, NoteCache() if cache is None else cache)
