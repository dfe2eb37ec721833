"""Is this lick in the pool already, or nearly?

A lick's shape is its line on a grid of sixteenths: the highest pitch class that begins in each cell, counted from
the first note's, octaves and strings left out. Two licks are compared in all twelve transpositions at once, so that
the same idea over another chord is found too. The few that come close are then told apart note by note.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.judge.rules import Finding
from service.music.licks import Lick, sounding
from service.music.meter import SIXTEENTH

CELL = SIXTEENTH  # ticks; triplets fall into the nearest cell
EMPTY = 255
NEAR_SHARE = 0.2  # of the notes may differ for a near twin; our choice
FEW = 5  # notes; with fewer, licks are twins only if all are equal
LOOKED_AT = 12  # shapes compared note by note
OCTAVE = 12


@dataclass(frozen=True, slots=True)
class Twin:
    """A lick that is the same or nearly: ``changed`` notes differ, ``moved`` semitones up from the one asked about to it.

    ``measures`` are those where something differs; ``elsewhere`` says that the places on the neck differ.
    """

    number: int
    changed: int
    measures: tuple[int, ...]
    moved: int
    elsewhere: bool

    @property
    def exact(self) -> bool:
        return self.changed == 0


def shape_of(lick: Lick) -> bytes:
    """The lick's shape: a byte for each cell from the first bar line on, the pickup left out."""
    factor = _factor(lick)
    cells = bytearray([EMPTY] * max(1, lick.ticks * factor // CELL))
    top = _line(lick)
    if top:
        first = top[min(top)] % OCTAVE
        for cell, pitch in top.items():
            cells[cell] = (pitch - first) % OCTAVE
    return bytes(cells)


class TwinIndex:
    """Shapes of a pool, ready to be searched."""

    def __init__(self, shapes: Mapping[int, bytes]) -> None:
        by_length: dict[int, list[int]] = {}
        for number, shape in shapes.items():
            by_length.setdefault(len(shape), []).append(number)
        self._numbers: dict[int, NDArray[np.int64]] = {}
        self._cells: dict[int, NDArray[np.uint8]] = {}
        for length, numbers in by_length.items():
            joined = b"".join(shapes[number] for number in numbers)
            rows = np.frombuffer(joined, dtype=np.uint8).reshape(len(numbers), length)
            self._numbers[length] = np.array(numbers, dtype=np.int64)
            self._cells[length] = np.ascontiguousarray(rows.T)  # cell by cell: a column is compared in one go

    def nearest(self, shape: bytes) -> list[int]:
        """Numbers of the licks whose shapes differ least, in the transposition where they do, nearest first."""
        cells = self._cells.get(len(shape))
        if cells is None:
            return []
        wanted = np.frombuffer(shape, dtype=np.uint8)
        notes = int((wanted != EMPTY).sum())
        most = 2 * max(1, round(NEAR_SHARE * notes))  # a moved note differs in two cells
        best = np.full(cells.shape[1], 255, dtype=np.uint8)
        for by in range(OCTAVE):
            turned = np.where(wanted == EMPTY, EMPTY, (wanted + by) % OCTAVE).astype(np.uint8)
            differ = np.zeros(cells.shape[1], dtype=np.uint8)
            for cell, value in enumerate(turned):
                differ += cells[cell] != value
            np.minimum(best, differ, out=best)
        close = np.flatnonzero(best <= most)
        order = close[np.argsort(best[close], kind="stable")][:LOOKED_AT]
        return [int(number) for number in self._numbers[len(shape)][order]]


def compare(lick: Lick, number: int, other: Lick) -> Twin | None:
    """How a lick of the pool differs from this one; None if by more than a near twin does."""
    mine = {cell: pitch % OCTAVE for cell, pitch in _line(lick).items()}
    theirs = {cell: pitch % OCTAVE for cell, pitch in _line(other).items()}
    notes = max(len(mine), len(theirs))
    best: tuple[int, int, tuple[int, ...]] | None = None
    for by in {(b - a) % OCTAVE for a in set(mine.values()) for b in set(theirs.values())}:
        changed, cells = _changes({cell: (p + by) % OCTAVE for cell, p in mine.items()}, theirs)
        if best is None or (changed, min(by, OCTAVE - by)) < (best[0], min(best[1], OCTAVE - best[1])):
            measure = _factor(lick) * lick.meter.measure_ticks
            best = (changed, by, tuple(sorted({cell * CELL // measure + 1 for cell in cells})))
    if best is None or best[0] > (max(1, round(NEAR_SHARE * notes)) if notes >= FEW else 0):
        return None
    places = _places(lick) != _places(other)
    return Twin(number, best[0], best[2], best[1], places and best[0] == 0)


def _factor(lick: Lick) -> int:
    """2/4 in sixteenths is 2/2 in eighths: both have the same cells."""
    return 2 if lick.meter.name == "2/4" else 1


def _line(lick: Lick) -> dict[int, int]:
    """Highest pitch that begins in each cell from the first bar line on; the drone of an open short string left out."""
    short, factor = lick.instrument.short_string, _factor(lick)
    cells = max(1, lick.ticks * factor // CELL)
    notes = [n for n in lick.notes if short is None or n.string != short[0] or n.fret]
    found: dict[int, int] = {}
    for onset, _, pitch in sounding(notes, lick.fretboard):
        cell = (onset * factor + CELL // 2) // CELL
        if onset >= 0 and cell < cells:
            found[cell] = max(found.get(cell, 0), pitch)
    return found


def _places(lick: Lick) -> set[tuple[int, int, int]]:
    """Where on the neck the line is played: (cell, string, fret), pickup and drone left out."""
    short, factor = lick.instrument.short_string, _factor(lick)
    return {
        (n.onset * factor // CELL, n.string, n.fret)
        for n in lick.notes
        if n.onset >= 0 and n.technique != "tie" and (short is None or n.string != short[0] or n.fret)
    }


def essence(lick: Lick) -> tuple[object, ...]:
    """What two licks share that are one: every note, how it is played, and what it is played over; picking fingers are free."""
    return (
        lick.instrument.id, lick.tuning.id, lick.hand_style, lick.style, lick.meter.name, lick.key.name, lick.ticks,
        lick.role, lick.phrases, [(n.onset, n.string, n.fret, n.duration, n.technique) for n in lick.notes],
        [(c.onset, None if c.chord is None else c.chord.name) for c in lick.changes],
    )  # fmt: skip


def _changes(mine: Mapping[int, int], theirs: Mapping[int, int]) -> tuple[int, set[int]]:
    """How many notes differ, one moved to a neighbouring place counted once, and in which cells."""
    gone = {cell for cell, pitch in mine.items() if theirs.get(cell) != pitch}
    new = {cell for cell, pitch in theirs.items() if mine.get(cell) != pitch}
    changed, cells = 0, gone | new
    for cell in sorted(gone):
        if cell in new:
            new.discard(cell)
        else:
            beside = next((c for c in (cell - 1, cell + 1, cell - 2, cell + 2) if c in new), None)
            if beside is not None and theirs[beside] == mine[cell]:
                new.discard(beside)
        changed += 1
    return changed + len(new), cells


def twins(lick: Lick, index: TwinIndex, licks: Mapping[int, Lick], but: int | None = None) -> list[Twin]:
    """The twins of a lick among a pool, nearest first; ``but`` is its own number."""
    found = [
        twin
        for number in index.nearest(shape_of(lick))
        if number != but and number in licks and (twin := compare(lick, number, licks[number])) is not None
    ]
    return sorted(found, key=lambda twin: (twin.changed, twin.moved != 0, twin.number))


def told(twin: Twin, lick: Lick, other: Lick) -> Finding:
    """A twin as something to say. The code ``twin`` means the same notes in the same places over the same chords."""
    if not twin.exact:
        code = "near-twin-moved" if twin.moved else "near-twin"
    elif twin.moved:
        code = "twin-moved"
    elif essence(lick) == essence(other):
        code = "twin"
    elif [c.chord for c in lick.changes] != [c.chord for c in other.changes] or lick.role != other.role:
        code = "twin-for-another-place"
    else:
        code = "twin-elsewhere" if twin.elsewhere else "twin-played-otherwise"
    return Finding(
        code,
        (twin.measures[0] - 1) * lick.meter.measure_ticks if twin.measures else 0,
        (
            ("lick", twin.number),
            ("changed", twin.changed),
            ("measures", " and ".join(map(str, twin.measures))),
            ("moved", OCTAVE - twin.moved if twin.moved else 0),
        ),
    )
