"""Where things stand from left to right: columns of a measure, measures of a system, systems of a score."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import inf
from typing import NamedTuple

from service.engrave.letters import time_width, width_of
from service.engrave.looks import (
    BAR_LEFT,
    BAR_RIGHT,
    CHORD,
    DIGIT,
    LETTER,
    SLOT,
    STRING_GAP,
    Look,
)
from service.music.licks import Change, Note
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.rhythm import Value, WrittenMeasure, written
from service.music.scores import Score

LONGER = 0.6  # a value twice as long takes 2 ** .6 times the room: ours, near what engravers do
CLOSEST = 0.62  # of a slot: the least room of the shortest values
LINK_ROOM = 6.0  # more, where a letter or a stroke stands between two notes of a string
WIDE_DIGITS = 5.0  # more, beside a fret of two digits
REPEAT_ROOM = 7.0  # more beside a bar with the dots of a repeat
LETTER_WIDTH, PINCH_GAP = (
    0.75,
    3.0,
)  # of its size: the widest finger letter; between those of a pinch and the next
WIDE, LINKS = ("ghost", "choke"), ("hammer-on", "pull-off", "slide")
CHORD_GAP = 5.0
STRETCH = 1.4  # the last system is drawn out no more than this
SPLIT_PHRASE, NEW_SECTION = 0.8, -0.2  # what it costs to begin a system inside a phrase, or with a part
DRAWN_OUT = 0.5  # a line that is drawn out costs so much of what a squeezed one does


class Column(NamedTuple):
    """A value of a measure and where it stands: ``x`` is the middle of its digits, ``struck`` are the notes that begin."""

    value: Value
    onset: int
    x: float
    struck: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Placed:
    """A measure in its system: bar lines at ``left`` and ``right``, its columns between them."""

    measure: WrittenMeasure
    left: float
    right: float
    columns: tuple[Column, ...]

    def x_at(self, onset: int) -> float:
        """Where a tick of the passage stands, between columns in proportion; the measure's end is its right bar."""
        end = self.measure.onset + self.measure.ticks
        if onset >= end or not self.columns:
            return self.right
        here, until, x = self.columns[0], end, self.right
        for column in self.columns:
            if column.onset > onset:
                until, x = column.onset, column.x
                break
            here = column
        return here.x + (x - here.x) * max(0, onset - here.onset) / max(1, until - here.onset)


@dataclass(frozen=True, slots=True)
class System:
    """A line of music; ``first`` and ``last`` say whether the score begins or ends with it."""

    measures: tuple[Placed, ...]
    left: float
    first: bool
    last: bool

    @property
    def onset(self) -> int:
        return self.measures[0].measure.onset

    @property
    def end(self) -> int:
        return self.measures[-1].measure.onset + self.measures[-1].measure.ticks

    @property
    def right(self) -> float:
        return self.measures[-1].right

    def x_at(self, onset: int) -> float:
        """Where a tick stands; before and after the system: its edges."""
        for placed in self.measures:
            if onset < placed.measure.onset + placed.measure.ticks:
                return placed.left if onset <= placed.measure.onset else placed.x_at(onset)
        return self.right


@dataclass(frozen=True, slots=True)
class _Wanted:
    """The room a measure wants, in points: of each column, and in all."""

    measure: WrittenMeasure
    columns: tuple[float, ...]
    left: float
    right: float

    @property
    def width(self) -> float:
        return self.left + sum(self.columns) + self.right


def systems(score: Score, look: Look, lead: float = 0.0) -> tuple[System, ...]:
    """The score in lines that fill the page's width, phrases kept together where that does not make them uneven.

    ``lead`` is room for what stands before the first note of every line.
    """
    passage = score.passage
    measures = _kept_written(passage)
    wanted = _wanted(measures, score, look)
    starts = {span.onset for span in score.phrases}
    sections = {section.onset for section in score.sections}
    indent = _indent(passage, look)
    lines = _broken(wanted, starts, sections, look.room - lead, indent)
    placed = []
    for first, after in lines:
        at = look.margin + (indent if first == 0 else 0.0)
        room = look.width - look.margin - at
        line = [replace(wanted[first], left=wanted[first].left + lead), *wanted[first + 1 : after]]
        natural = sum(one.width for one in line)
        last = after == len(wanted)
        stretch = room / natural
        placed.append(_system(line, at, min(stretch, STRETCH) if last else stretch, first == 0, last))
    return tuple(placed)


@lru_cache(maxsize=64)
def _kept_written(passage: Passage) -> tuple[WrittenMeasure, ...]:
    """The rhythm as players read it: a chop is written as a slot, and no rest is shorter than one."""
    slot = passage.meter.slot_ticks
    onsets = sorted({note.onset for note in passage.notes})
    following = dict(pairwise((*onsets, passage.ticks)))
    notes = []
    for note in passage.notes:
        room = following[note.onset] - note.onset
        lasts = min(slot, room) if note.duration < slot else note.duration
        if lasts < room < lasts + slot:
            lasts = room
        notes.append(note if lasts == note.duration else replace(note, duration=lasts))
    return written(replace(passage, notes=tuple(notes)))


def _indent(passage: Passage, look: Look) -> float:
    """Room for string letters and the meter before the first system."""
    letters = max(width_of(label, look.of(LETTER)) for label in passage.tuning.labels)
    return letters + look.of(4) + meter_width(passage.meter, look, passage.instrument.strings)


def meter_width(meter: Meter, look: Look, strings: int) -> float:
    space = look.of(STRING_GAP) * (strings - 1) / 4
    return look.of(5) + time_width(meter.name, space)


def _wanted(measures: Sequence[WrittenMeasure], score: Score, look: Look) -> list[_Wanted]:
    passage = score.passage
    begins = {repeat.first for repeat in score.repeats}
    ends = {repeat.last for repeat in score.repeats}
    changes: dict[int, list[Change]] = {}
    starts = [measure.onset for measure in measures]
    for change in passage.changes:
        changes.setdefault(bisect_right(starts, change.onset) - 1, []).append(change)
    found = []
    for index, measure in enumerate(measures):
        columns = [_room_of(measure, place, passage.meter, look) for place in range(len(measure.values))]
        found.append(
            _Wanted(
                measure,
                tuple(_with_chords(columns, measure, changes.get(index, ()), look)),
                look.of(BAR_LEFT + (REPEAT_ROOM if measure.number - 1 in begins else 0.0)),
                look.of(BAR_RIGHT + (REPEAT_ROOM if measure.number - 1 in ends else 0.0)),
            )
        )
    return found


def _room_of(measure: WrittenMeasure, place: int, meter: Meter, look: Look) -> float:
    value = measure.values[place]
    share = max(CLOSEST, (value.ticks / meter.slot_ticks) ** LONGER)
    room = SLOT * share
    following = measure.values[place + 1] if place + 1 < len(measure.values) else None
    fingers = sum(note.finger is not None for note in value.notes)
    if fingers > 1:
        room = max(room, LETTER * LETTER_WIDTH * fingers + PINCH_GAP)
    for note in value.notes:
        if note.fret > 9 or note.technique in WIDE:
            room = max(room, DIGIT + WIDE_DIGITS)
    if following is not None:
        for note in following.notes:
            if note.technique in LINKS and note.string not in following.tied_from:
                room = max(room, DIGIT + LINK_ROOM)
    return look.of(room)


def _with_chords(
    columns: list[float], measure: WrittenMeasure, changes: Sequence[Change], look: Look
) -> list[float]:
    """Columns drawn out where two chord names would touch."""
    if not changes:
        return columns
    onsets = [measure.onset + value.onset for value in measure.values]
    ends = [*(change.onset for change in changes[1:]), measure.onset + measure.ticks]
    for change, end in zip(changes, ends, strict=True):
        name = "N.C." if change.chord is None else chord_text(change.chord.name)
        needed = width_of(name, look.of(CHORD), True) + look.of(CHORD_GAP)
        inside = [i for i, onset in enumerate(onsets) if change.onset <= onset < end]
        have = sum(columns[i] for i in inside)
        if inside and have < needed:
            for i in inside:
                columns[i] *= needed / have
    return columns


def chord_text(name: str) -> str:
    """A chord's name with the signs of print."""
    return name[:1] + name[1:].replace("#", "♯").replace("b", "♭")


def _broken(
    wanted: Sequence[_Wanted], starts: set[int], sections: set[int], room: float, indent: float
) -> list[tuple[int, int]]:
    """The cheapest cut of measures into lines: (first, one past the last) of each. A pickup stays with what follows."""
    count = len(wanted)
    sums = [0.0]
    for one in wanted:
        sums.append(sums[-1] + one.width)
    best = [0.0] + [inf] * count
    came = [0] * (count + 1)
    for after in range(1, count + 1):
        for first in range(after - 1, -1, -1):
            if best[first] == inf:
                continue
            here = room - (indent if first == 0 else 0.0)
            natural = sums[after] - sums[first]
            if natural > here and after - first > 1:
                break
            cost = best[first] + _unevenness(here / natural, after == count)
            begins = wanted[first].measure.onset
            if first:
                cost += 0.0 if not starts or begins in starts else SPLIT_PHRASE
                cost += NEW_SECTION if begins in sections else 0.0
                if wanted[first - 1].measure.number == 0:
                    cost += SPLIT_PHRASE * 10
            if cost < best[after]:
                best[after], came[after] = cost, first
    lines = []
    after = count
    while after:
        lines.append((came[after], after))
        after = came[after]
    return lines[::-1]


def _unevenness(stretch: float, last: bool) -> float:
    """What a line costs that is drawn out (or, with one measure too wide for it, squeezed) so many times."""
    if last and stretch > 1:
        return 0.05
    return (stretch - 1) ** 2 * (DRAWN_OUT if stretch > 1 else 1.0) + 0.05


def _system(wanted: Sequence[_Wanted], at: float, stretch: float, first: bool, last: bool) -> System:
    """Bar margins keep their size; what is between them is stretched."""
    fixed = sum(one.left + one.right for one in wanted)
    total = sum(one.width for one in wanted)
    inner = (total * stretch - fixed) / max(1e-9, total - fixed)
    left = at
    placed = []
    for one in wanted:
        x = left + one.left
        columns = []
        for value, room in zip(one.measure.values, one.columns, strict=True):
            columns.append(Column(value, one.measure.onset + value.onset, x, value.struck))
            x += room * inner
        right = x + one.right
        placed.append(Placed(one.measure, left, right, tuple(columns)))
        left = right
    return System(tuple(placed), at, first, last)
