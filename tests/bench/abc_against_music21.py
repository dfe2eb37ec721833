"""Tunes in ABC notation read here and by music21: what is counted of each must agree, and how much faster one is.

    python -m tests.bench.abc_against_music21

The tunes are those that come with music21, a printed collection of fiddle tunes. Nothing is asserted; tests/notation/
test_abc_tunes.py does that for every eighteenth of them, and names those that differ for a reason.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import music21

from service.errors import ReadingError
from service.music.meter import TICKS_PER_QUARTER
from service.notation.abc_tunes import read_abc
from service.notation.brought import Brought

TUNES = Path(music21.__file__).parent / "corpus" / "ryansMammoth"
SHOWN = 200  # differences


@dataclass(frozen=True, slots=True)
class Counted:
    """Of a tune with its repeats played: notes, how long they sound together in quarters, full measures."""

    notes: int
    quarters: Fraction
    measures: int


def tune_files() -> list[Path]:
    return sorted(TUNES.glob("*.abc"))


def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8", errors="replace")


def counted_here(tune: Brought) -> Counted:
    parts = {part.name: part for part in tune.parts}
    played = [parts[name] for name in tune.order]
    return Counted(
        sum(len(part.melody) for part in played),
        Fraction(sum(note.duration for part in played for note in part.melody), TICKS_PER_QUARTER),
        sum(part.measures.count(tune.meter.measure_ticks) for part in played),
    )


def counted_there(text: str) -> Counted:
    """As music21 reads it. A tie is one note; a pickup and the short measure that it completes are one."""
    score = music21.converter.parseData(text, format="abc")
    part = score.parts[0].expandRepeats()
    sounding = [
        note
        for note in part.flatten().notes
        if not note.duration.isGrace and not isinstance(note, music21.harmony.ChordSymbol)
    ]
    meter = part.flatten().getElementsByClass(music21.meter.TimeSignature)[0]
    lengths = [_quarters(measure.highestTime) for measure in part.getElementsByClass(music21.stream.Measure)]
    return Counted(
        sum(note.tie is None or note.tie.type == "start" for note in sounding),
        _quarters(sum(note.quarterLength for note in sounding)),
        _full([length for length in lengths if length], _quarters(meter.barDuration.quarterLength)),
    )


def _quarters(length: float | Fraction) -> Fraction:
    return Fraction(length).limit_denominator(TICKS_PER_QUARTER)


def _full(lengths: Sequence[Fraction], full: Fraction) -> int:
    """Full measures; a short one and the pickup after it are one, and so is one that any pickup of the tune would fill."""
    left: list[Fraction] = []
    count = lengths.count(full)
    following = [*lengths[1:], *lengths[:1]]
    paired = False
    for one, after in zip(lengths, following, strict=True):
        if paired:
            paired = False
        elif one < full and one + after == full:
            count += 1
            paired = True
        elif one < full:
            left.append(one)
    return count + sum(2 * one > full and full - one in lengths for one in left)


def main() -> None:
    agreed, differing, unread = 0, [], []
    here = there = 0.0
    for path in tune_files():
        text = text_of(path)
        start = time.perf_counter()
        try:
            tune = read_abc(text)[0]
        except ReadingError as error:
            unread.append(f"{path.stem}: {error.at[0].code} {error.at[0].params}")
            continue
        here += time.perf_counter() - start
        start = time.perf_counter()
        try:
            theirs: Counted | str = counted_there(text)
        except Exception as error:
            theirs = repr(error)
        there += time.perf_counter() - start
        if counted_here(tune) == theirs:
            agreed += 1
        else:
            differing.append(f"{path.stem}: {counted_here(tune)} {theirs}")
    print(f"agree: {agreed}, differ: {len(differing)}, cannot be read: {len(unread)}")
    print("\n".join([*differing[:SHOWN], *unread]))
    print(f"music21 takes {there / here:.0f} times as long ({there:.1f} s and {here:.1f} s)")


if __name__ == "__main__":
    main()
