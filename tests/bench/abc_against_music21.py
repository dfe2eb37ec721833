"""Tunes in ABC notation read here and by music21: what is counted of each must agree, and how much faster one is.

    python -m tests.bench.abc_against_music21

The tunes are those that come with music21, a printed collection of fiddle tunes. Nothing is asserted; tests/notation/
test_abc_tunes.py does that for every eighteenth of them. Tunes that differ are named in abc_otherwise.py, with the reason.
"""

import re
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import music21

from service.errors import ReadingError
from service.music.meter import TICKS_PER_QUARTER
from service.notation.abc_tunes import read_abc
from service.notation.brought import Brought
from tests.bench.abc_otherwise import EXPLAINED, READ_OTHERWISE, UNREADABLE

TUNES = Path(music21.__file__).parent / "corpus" / "ryansMammoth"


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


def without_repeats(text: str) -> str:
    """The tune with plain bars in place of repeat signs and endings: what both read must agree then, however repeats are played."""

    def plain(match: re.Match[str]) -> str:
        return match[1] or "|"

    lines = text.splitlines()
    for number, line in enumerate(lines):
        if not re.match(r"[A-Za-z]:(?![|:])", line):
            line = re.sub(r'"[^"]*"|![^!\s|]*!', "", line).replace("[|]", "|")
            line = re.sub(r"(\[[A-Za-z]:[^\]]*\])|(?:[:|]|\[(?=\|)|(?<=[|:])\])+", plain, line)
            lines[number] = re.sub(r"(?:\|\s*\[?|\[|^)[1-4](?![\d/])\s?", "|", line)
    return "\n".join(lines)


def agree(text: str, tune: Brought) -> bool:
    """Whether both count the same. Around measures of another length than the meter's music21 sets bars of its own."""
    here, there = counted_here(tune), counted_there(text)
    odd = any(remark.code == "abc-other-lengths" for remark in tune.remarks)
    return here == (replace(there, measures=here.measures) if odd else there)


def agree_without_repeats(text: str) -> bool:
    plain = without_repeats(text)
    here, there = counted_here(read_abc(plain).tunes[0]), counted_there(plain)
    return here == replace(there, measures=here.measures)


def main() -> None:
    found: Counter[str] = Counter()
    of_32 = 0
    here = there = 0.0
    for path in tune_files():
        text = text_of(path)
        start = time.perf_counter()
        try:
            tune = read_abc(text).tunes[0]
        except ReadingError as error:
            if error.at[0].code == "abc-meter":
                found["in a meter that is not known here"] += 1
            elif path.stem in UNREADABLE:
                found[f"not read: {UNREADABLE[path.stem]}"] += 1
            else:
                found["not read for a reason that is not known"] += 1
                print(f"{path.stem}: {error.at[0].code} {error.at[0].params}")
            continue
        here += time.perf_counter() - start
        parts = {part.name: part for part in tune.parts}
        of_32 += sum(len(parts[name].measures) for name in tune.order) == 32
        start = time.perf_counter()
        try:
            same = agree(text, tune)
        except music21.repeat.ExpanderException:
            same = False
        there += time.perf_counter() - start
        reason = EXPLAINED.get(path.stem)
        if same or (reason in READ_OTHERWISE) or (reason and agree_without_repeats(text)):
            found["agree" if same else reason or ""] += 1
        else:
            found["differ for a reason that is not known"] += 1
            print(f"{path.stem}: {counted_here(tune)}")
    for what, count in found.most_common():
        print(f"{count:5} {what}")
    print(f"{of_32:5} have 32 measures with their repeats played")
    print(f"music21 takes {there / here:.0f} times as long ({there:.1f} s and {here:.1f} s)")


if __name__ == "__main__":
    main()
