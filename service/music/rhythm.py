"""A passage as note values: what a measure looks like when its rhythm is written out.

One voice: whatever is struck together is one value, and it lasts until something else is struck, until every string has
gone silent (a rest follows), or over the bar line, tied. Values are halves of each other from the whole note to the 32nd,
plain or dotted, or threes in the time of two. What hides a beat is split and tied, by the tables below.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from service.errors import DomainError
from service.music.licks import Note
from service.music.meter import TICKS_PER_WHOLE, Meter
from service.music.passages import Passage

KINDS = ("whole", "half", "quarter", "eighth", "16th", "32nd")
SHORTEST = TICKS_PER_WHOLE >> (len(KINDS) - 1)  # a 32nd: ours, finer is not read at any tempo of these tunes
ACTUAL, NORMAL = 3, 2  # a triplet: three in the time of two
_SHORTEST_THIRD = SHORTEST * NORMAL // ACTUAL
_LOOKS = {TICKS_PER_WHOLE >> n: (kind, 0) for n, kind in enumerate(KINDS)}
_LOOKS |= {ticks * 3 // 2: (kind, 1) for ticks, (kind, _) in _LOOKS.items()}
_BEAMS = {"eighth": 1, "16th": 2, "32nd": 3}
# Stretches that may be three in the time of two: triplets of 32nds, sixteenths, eighths and quarters.
_TRIPLET_SPANS = (120, 240, 480, 960)


@dataclass(frozen=True, slots=True)
class Tuplet:
    """A value's part in three in the time of two. ``kind`` is what is counted three times; ``edge`` is start, inside or
    stop."""

    kind: str
    edge: str


class Value(NamedTuple):
    """One written note, chord or rest.

    ``onset`` in ticks from the start of its measure, ``ticks`` how long it sounds. ``notes`` are what is struck here, or,
    where it goes on from the value before, what sounds on; empty for a rest. ``tied_from`` and ``tied_to`` hold the strings
    that are tied to the value before and after. ``beams`` says for the first beam, the second and so on what begins or
    ends: begin, continue, end, forward hook, backward hook. A rest for a whole measure is a whole rest whatever its length.
    """

    onset: int
    ticks: int
    kind: str
    dots: int = 0
    notes: tuple[Note, ...] = ()
    tuplet: Tuplet | None = None
    tied_from: tuple[int, ...] = ()
    tied_to: tuple[int, ...] = ()
    beams: tuple[str, ...] = ()

    @property
    def rest(self) -> bool:
        return not self.notes

    @property
    def struck(self) -> tuple[Note, ...]:
        """The notes that begin here."""
        if not self.tied_from:
            return self.notes
        return tuple(note for note in self.notes if note.string not in self.tied_from)


@dataclass(frozen=True, slots=True)
class WrittenMeasure:
    """``number`` counts from 1; 0 is a pickup. ``onset`` in ticks from the first bar line, negative for a pickup."""

    number: int
    onset: int
    ticks: int
    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class _Level:
    """A stretch of a measure in equal parts: which values may run across the seams between its parts.

    ``sounding`` and ``resting`` hold (onset, length) in eighths of the stretch where it has two parts, in sixths where it
    has three. Whatever else runs across a seam is split there. Common practice of engraving, from memory.
    """

    parts: int
    sounding: frozenset[tuple[int, int]]
    resting: frozenset[tuple[int, int]] = frozenset()
    inner: "_Level | None" = None


_DOTTED_FIRST, _DOTTED_LAST, _SYNCOPE = (0, 6), (2, 6), (2, 4)
# a quarter and less: a dotted rest may begin it, never end it
_FINE = _Level(2, frozenset((_DOTTED_FIRST, _DOTTED_LAST, _SYNCOPE)), frozenset((_DOTTED_FIRST,)))
_HALF = _Level(2, frozenset((_DOTTED_FIRST, _DOTTED_LAST, _SYNCOPE)), inner=_FINE)
# the middle of four quarters shows, but for a half note between two quarters and a dotted half from the start
_FOUR_QUARTERS = _Level(2, frozenset((_DOTTED_FIRST, _SYNCOPE)), inner=_HALF)
_THREE_QUARTERS = _Level(3, frozenset(((0, 4), (2, 4), (0, 3), (1, 3), (2, 3), (1, 2), (3, 2))), inner=_FINE)
_THREES = _Level(
    3,
    frozenset(((0, 4), (2, 4), (0, 3), (2, 3), (3, 3), (1, 2), (3, 2))),
    frozenset(((0, 4),)),
    inner=_FINE,
)
_TWO_THREES = _Level(2, frozenset(), inner=_THREES)
# three dotted quarters: a dotted half takes two of them, a rest none but its own
_THREE_THREES = _Level(3, frozenset(((0, 4), (2, 4))), inner=_THREES)
_FOUR_THREES = _Level(2, frozenset(), inner=_TWO_THREES)

_LEVELS = {
    "2/2": _FOUR_QUARTERS,
    "4/4": _FOUR_QUARTERS,
    "2/4": _HALF,
    "3/4": _THREE_QUARTERS,
    "6/8": _TWO_THREES,
    "9/8": _THREE_THREES,
    "12/8": _FOUR_THREES,
}
# Eighths under one beam, in ticks: where there is nothing but eighths, and where there are shorter values or triplets.
# Four to a half measure in 4/4 and 2/2, two to the quarter in 3/4 and 2/4, three to the dotted quarter: common practice.
_BEAM_SPANS = {
    "2/2": (960, 480), "4/4": (960, 480), "2/4": (480, 480), "3/4": (480, 480),
    "6/8": (720, 720), "9/8": (720, 720), "12/8": (720, 720),
}  # fmt: skip
# In 6/8, 9/8 and 12/8 a triplet longer than an eighth would lie across the three of its beat.
_LONGEST_TRIPLET = {"6/8": 240, "9/8": 240, "12/8": 240}
SHAPES_KEPT = 4096  # rhythms of measures kept ready: ours, a tune has a few dozen


@dataclass(slots=True)
class _Event:
    """What sounds, or a rest, from ``start`` to ``end`` (ticks in the passage)."""

    start: int
    end: int
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class _Piece:
    """A value without its notes; ``at`` is its place in a full measure of the meter, ``event`` the number of what it is a
    piece of in its measure, and ``begins`` says whether that begins with it."""

    event: int
    at: int
    ticks: int
    kind: str
    dots: int
    sounds: bool
    begins: bool
    tuplet: Tuplet | None = None


# A measure's rhythm: (begin, end, whether it sounds, whether it begins here) of each event, places in a full measure.
_Shape = tuple[tuple[int, int, bool, bool], ...]


@dataclass(slots=True)
class _Draft:
    """A value in the making: its piece and its beams, what sounds, and what is tied."""

    piece: _Piece
    beams: tuple[str, ...]
    notes: tuple[Note, ...]
    tied_from: tuple[int, ...] = ()
    tied_to: tuple[int, ...] = ()


class _TooFine(Exception):
    """A measure's rhythm cannot be written."""


def written(passage: Passage, pickup: int = 0) -> tuple[WrittenMeasure, ...]:
    """The measures in writing; a pickup comes first, with number 0 and a length rounded up to whole slots of the meter.

    ``pickup`` is the least length of that measure, in ticks: what other parts need that begin earlier.
    The values of a measure add up to its length exactly. Raises DomainError ``rhythm-too-fine`` with the measure where an
    onset or an end lies neither on 32nds nor on triplets of 32nds, or where both are mixed within a sixteenth.
    """
    meter = passage.meter
    lengths = zip(passage.starts, passage.measures, strict=True)
    spans = [(number, start, ticks) for number, (start, ticks) in enumerate(lengths, 1)]
    pickup = written_pickup(passage, pickup)
    if pickup:
        spans.insert(0, (0, -pickup, pickup))
    events = _events(passage, -pickup)
    measures: list[tuple[int, list[_Draft]]] = []
    first = 0
    for number, start, ticks in spans:
        while events[first].end <= start:
            first += 1
        last = first
        while last < len(events) and events[last].start < start + ticks:
            last += 1
        # a pickup lies at the end of its measure
        phase = -ticks % meter.measure_ticks if number == 0 else 0
        measures.append((phase, _drafts(events[first:last], start, ticks, phase, meter, number)))
    _tie([draft for _, drafts in measures for draft in drafts])
    return tuple(
        WrittenMeasure(number, start, ticks, _values(drafts, phase))
        for (number, start, ticks), (phase, drafts) in zip(spans, measures, strict=True)
    )


def written_pickup(passage: Passage, least: int = 0) -> int:
    """Length in ticks of the measure that a pickup takes, whole slots of the meter; 0 without one."""
    slot = passage.meter.slot_ticks
    return -(-max(least, passage.pickup_ticks) // slot) * slot


def _events(passage: Passage, begin: int) -> list[_Event]:
    """What is struck together, in order, and the rests between: without gaps from ``begin`` to the end."""
    end = passage.ticks
    struck: dict[int, list[Note]] = {}
    for note in passage.notes:
        if note.onset < end:
            struck.setdefault(note.onset, []).append(note)
    onsets = sorted(struck)
    events: list[_Event] = []
    reached = begin
    ringing = begin
    for onset, following in pairwise([*onsets, end]):
        if onset > reached:
            events.append(_Event(reached, onset))
        notes = struck[onset]
        # a string struck earlier may outlast these: as long as anything sounds there is no rest
        for note in notes:
            ringing = max(ringing, onset + note.duration)
        reached = min(following, ringing) if ringing > onset else following
        events.append(_Event(onset, reached, tuple(sorted(notes)) if len(notes) > 1 else (notes[0],)))
    if reached < end:
        events.append(_Event(reached, end))
    return events


def _drafts(
    events: Sequence[_Event], start: int, ticks: int, phase: int, meter: Meter, number: int
) -> list[_Draft]:
    """The events of one measure cut into values; places count in a full measure, from ``phase`` on."""
    move, end = phase - start, phase + ticks
    shape = tuple(
        (max(e.start + move, phase), min(e.end + move, end), bool(e.notes), e.start >= start) for e in events
    )
    try:
        cut = _cut(shape, phase, end, meter)
    except _TooFine:
        raise DomainError("rhythm-too-fine", measure=number) from None
    return [_Draft(piece, beams, events[piece.event].notes) for piece, beams in cut]


@lru_cache(maxsize=SHAPES_KEPT)
def _cut(shape: _Shape, begin: int, end: int, meter: Meter) -> tuple[tuple[_Piece, tuple[str, ...]], ...]:
    """A measure's rhythm as values, each with its beams: measures of a tune have few rhythms, so they are kept."""
    if len(shape) == 1 and not shape[0][2]:
        return ((_Piece(0, begin, end - begin, KINDS[0], 0, False, True), ()),)
    spans = _triplets({at for a, b, *_ in shape for at in (a, b)}, begin, end, meter)
    level = _LEVELS[meter.name]
    pieces: list[_Piece] = []
    for event, (first, last, sounds, begun) in enumerate(shape):
        for a, b, span in _by_span(first, last, spans):
            if span is None:
                cuts = _in_measures(a, b, meter.measure_ticks, level, not sounds)
                kind = None
            else:
                cuts, kind = (
                    _in_triplet(a, b, span, not sounds),
                    _LOOKS[(span[1] - span[0]) // NORMAL][0],
                )
            for at, until in cuts:
                look = (until - at) * (ACTUAL if kind else NORMAL) // NORMAL
                tuplet = None
                if span is not None and kind is not None:
                    edge = "start" if at == span[0] else "stop" if until == span[1] else "inside"
                    tuplet = Tuplet(kind, edge)
                begins = begun and at == first
                pieces.append(_Piece(event, at, until - at, *_LOOKS[look], sounds, begins, tuplet))
    return tuple(zip(pieces, _beams(pieces, meter), strict=True))


def _triplets(places: set[int], begin: int, end: int, meter: Meter) -> list[tuple[int, int]]:
    """The stretches that are three in the time of two.

    As few values are split as can be, and as few lie deeper within a third than at its half; then the shortest. Raises
    _TooFine.
    """
    found: list[tuple[int, int]] = []
    longest = _LONGEST_TRIPLET.get(meter.name, _TRIPLET_SPANS[-1])
    for place in sorted(places):
        if place % SHORTEST == 0 or (found and place < found[-1][1]):
            continue
        fitting = []
        for ticks in _TRIPLET_SPANS:
            a = place - place % ticks
            b = a + ticks
            inside = [p - a for p in places if a < p < b]
            if ticks > longest or a < begin or b > end or (found and a < found[-1][1]):
                continue
            if all(p % _SHORTEST_THIRD == 0 for p in inside):
                deep = sum(p * 6 % ticks > 0 for p in inside)
                fitting.append(((a not in places) + (b not in places) + deep, ticks, (a, b)))
        if not fitting:
            raise _TooFine
        found.append(min(fitting)[2])
    if begin % SHORTEST or end % SHORTEST:
        raise _TooFine
    return found


def _by_span(
    a: int, b: int, spans: Sequence[tuple[int, int]]
) -> list[tuple[int, int, tuple[int, int] | None]]:
    """A stretch cut where triplets begin and end, with the triplet that each piece lies in."""
    pieces: list[tuple[int, int, tuple[int, int] | None]] = []
    for span in spans:
        if span[1] <= a or span[0] >= b:
            continue
        if a < span[0]:
            pieces.append((a, span[0], None))
        pieces.append((max(a, span[0]), min(b, span[1]), span))
        a = pieces[-1][1]
    if a < b:
        pieces.append((a, b, None))
    return pieces


def _in_measures(a: int, b: int, full: int, level: _Level, rest: bool) -> list[tuple[int, int]]:
    """Cuts of a stretch; a measure longer than the meter's is taken as several, one after the other."""
    cuts: list[tuple[int, int]] = []
    while a < b:
        whole = a - a % full
        end = min(b, whole + full)
        cuts.extend(_cuts(a, end, whole, full, level, rest))
        a = end
    return cuts


def _in_triplet(a: int, b: int, span: tuple[int, int], rest: bool) -> list[tuple[int, int]]:
    """Cuts of a stretch within a triplet, found on the values as they are written, half as long again."""
    begin = span[0]
    length = (span[1] - begin) * ACTUAL // NORMAL
    cuts = _cuts((a - begin) * ACTUAL // NORMAL, (b - begin) * ACTUAL // NORMAL, 0, length, _THREES, rest)
    return [(begin + x * NORMAL // ACTUAL, begin + y * NORMAL // ACTUAL) for x, y in cuts]


def _cuts(a: int, b: int, begin: int, length: int, level: _Level, rest: bool) -> list[tuple[int, int]]:
    """The values that a stretch from ``a`` to ``b`` takes in a level of ``length`` ticks from ``begin``."""
    if (a, b) == (begin, begin + length) and length in _LOOKS:  # no value lasts a measure of 9/8
        return [(a, b)]
    step = length // level.parts
    part = (a - begin) // step
    seam = begin + (part + 1) * step
    if b <= seam:
        return _cuts(a, b, seam - step, step, level.inner or level, rest)
    unit = 8 if level.parts == 2 else 6
    place, over = divmod((a - begin) * unit, length)
    lasts, rest_over = divmod((b - a) * unit, length)
    if not over and not rest_over and (place, lasts) in (level.resting if rest else level.sounding):
        return [(a, b)]
    if a == seam - step:  # whole parts first, what is left over after the last seam
        seam = begin + (b - 1 - begin) // step * step
    return _cuts(a, seam, begin, length, level, rest) + _cuts(seam, b, begin, length, level, rest)


def _tie(drafts: Sequence[_Draft]) -> None:
    """Tie what goes on to what it goes on from: pieces of one event, and notes that the player ties on the same fret."""
    for before, after in pairwise(drafts):
        if not before.notes or not after.notes:
            continue
        if after.piece.begins and all(note.technique != "tie" for note in after.notes):
            continue
        held = {(note.string, note.fret) for note in before.notes}
        strings = tuple(
            note.string
            for note in after.notes
            if not after.piece.begins or (note.technique == "tie" and (note.string, note.fret) in held)
        )
        before.tied_to, after.tied_from = strings, strings


def _values(drafts: Sequence[_Draft], phase: int) -> tuple[Value, ...]:
    return tuple(
        Value(p.at - phase, p.ticks, p.kind, p.dots, d.notes, p.tuplet, d.tied_from, d.tied_to, d.beams)
        for d in drafts
        for p in (d.piece,)
    )


def _beams(pieces: Sequence[_Piece], meter: Meter) -> list[tuple[str, ...]]:
    beams: list[tuple[str, ...]] = [()] * len(pieces)
    for group in _beam_groups(pieces, meter):
        if len(group) > 1:
            for index in group:
                beams[index] = _beam(pieces, index, group)
    return beams


def _beam_groups(pieces: Sequence[_Piece], meter: Meter) -> list[list[int]]:
    """Numbers of neighbouring values under one beam."""
    wide, narrow = _BEAM_SPANS[meter.name]
    plain: dict[int, bool] = {}
    for piece in pieces:
        even = piece.tuplet is None and _BEAMS.get(piece.kind, 0) <= 1
        plain[piece.at // wide] = plain.get(piece.at // wide, True) and even
    groups: list[list[int]] = []
    last: tuple[int, int] | None = None
    for index, piece in enumerate(pieces):
        if not piece.sounds or piece.kind not in _BEAMS:
            last = None
            continue
        whole = piece.at // wide
        place = (whole, 0 if plain[whole] else piece.at // narrow + 1)
        if place == last:
            groups[-1].append(index)
        else:
            groups.append([index])
        last = place
    return groups


def _beam(pieces: Sequence[_Piece], index: int, group: Sequence[int]) -> tuple[str, ...]:
    """What each beam of a value does: the first joins the whole group, the others only neighbours as short."""
    piece = pieces[index]
    found: list[str] = []
    for level in range(1, _BEAMS[piece.kind] + 1):
        back = index > group[0] and _joined(pieces[index - 1], piece, level)
        on = index < group[-1] and _joined(piece, pieces[index + 1], level)
        if back or on:
            found.append("continue" if back and on else "end" if back else "begin")
        else:
            # a short note that fills up a longer one leans back on it
            late = piece.at // piece.ticks % 2 == 1 or index == group[-1]
            found.append("backward hook" if late and index > group[0] else "forward hook")
    return tuple(found)


def _joined(before: _Piece, after: _Piece, level: int) -> bool:
    if level > 1 and (_edge(before) == "stop" or _edge(after) == "start"):
        return False
    return min(_BEAMS[before.kind], _BEAMS[after.kind]) >= level


def _edge(piece: _Piece) -> str | None:
    return None if piece.tuplet is None else piece.tuplet.edge
