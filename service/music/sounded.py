"""What each string does: notes with their ties joined, swung, and how long each goes on sounding."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from operator import attrgetter

from service.music.licks import Note
from service.music.passages import Passage

HAND_SPAN_FRETS = 4  # a held fret further away than this was let go; common practice, no source

# A chord of three strings or more is strummed from the low strings up; common practice, the time ours.
STRUMMED = ("guitar", "mandolin", "ukulele", "resonator-guitar")
STRUM_SECONDS = Fraction(4, 1000)  # from string to string
_LEAST_STRUM = 3


@dataclass(frozen=True, slots=True)
class Ringing:
    """Seconds that a string goes on after its written end, if nothing stops it: open, and under a finger."""

    open: Fraction
    fretted: Fraction


# By instrument. Ours, after how hands are used: a picker lets the strings of a held shape ring, a bow does not.
RINGING = {
    "banjo": Ringing(Fraction(3, 2), Fraction(2, 5)),
    "guitar": Ringing(Fraction(3, 2), Fraction(1, 4)),
    "mandolin": Ringing(Fraction(3, 4), Fraction(1, 12)),
    "fiddle": Ringing(Fraction(0), Fraction(0)),
    "resonator-guitar": Ringing(Fraction(3, 2), Fraction(1, 4)),
    "ukulele": Ringing(Fraction(1), Fraction(1, 5)),
    "upright-bass": Ringing(Fraction(1, 4), Fraction(1, 10)),
}
_NO_RINGING = Ringing(Fraction(1, 2), Fraction(1, 10))


@dataclass(frozen=True, slots=True)
class Written:
    """A note with its ties joined. ``onset``, ``end`` and ``cut`` are swung, in parts of a tick; ``cut`` is where it
    ends when the next round's pickup comes, None if it is not played then. ``after`` counts the strings of its strum
    that come before it."""

    note: Note
    onset: int
    end: int
    cut: int | None
    pitch: int
    weight: float
    melody: bool
    after: int


@dataclass(frozen=True, slots=True)
class Stroke:
    """A note of one round; ``begins`` and ``ends`` are grains."""

    written: Written
    string: int
    fret: int
    begins: int
    ends: int


def ringing(instrument_id: str) -> Ringing:
    return RINGING.get(instrument_id, _NO_RINGING)


def as_written(passage: Passage, melody: frozenset[int], swing: Fraction) -> tuple[Written, ...]:
    """The passage's strokes in parts of a tick, as many to a tick as ``swing`` (in slots, see ``swung``) has in its
    denominator."""
    board, parts = passage.fretboard, swing.denominator
    cut = passage.ticks - passage.pickup_ticks
    short = passage.instrument.short_string
    strummed = passage.instrument.id in STRUMMED
    struck: dict[int, list[int]] = {}
    for note in passage.notes:
        struck.setdefault(note.onset, []).append(note.string)
    found = []
    for note in _tied(passage.notes):
        # in a pinch the short string is the drone beside the tune's own note
        chord = struck[note.onset]
        drone = short is not None and note.string == short[0] and len(chord) > 1
        end = note.onset + note.duration
        onset, natural, stopped = (
            int(swung(tick, passage, swing) * parts) if swing else tick
            for tick in (note.onset, end, min(end, cut))
        )
        found.append(
            Written(
                note,
                onset,
                natural,
                None if note.onset >= cut else stopped,
                board.pitch(note.string, note.fret),
                _weight(passage, note.onset),
                note.onset in melody and not drone,
                sum(other > note.string for other in chord) if strummed and len(chord) >= _LEAST_STRUM else 0,
            )
        )
    return tuple(found)


def _weight(passage: Passage, tick: int) -> float:
    index = bisect_right(passage.starts, tick) - 1
    return passage.meter.weight_at(tick - passage.starts[index] if index >= 0 else tick)


def _tied(notes: Sequence[Note]) -> Iterator[Note]:
    """Notes with what is tied to them added; a tie to nothing stays a note of its own."""
    joined: list[Note] = []
    last: dict[int, int] = {}
    for note in notes:
        before = last.get(note.string)
        if note.technique == "tie" and before is not None and joined[before].fret == note.fret:
            old = joined[before]
            joined[before] = replace(old, duration=note.onset + note.duration - old.onset)
            continue
        last[note.string] = len(joined)
        joined.append(note)
    return iter(joined)


def stops(
    strokes: list[Stroke], open_ring: int, fretted_ring: int
) -> Iterator[tuple[Stroke, Stroke | None, int, bool]]:
    """Each stroke with the one before on its string, when it stops, and whether it is struck again there.

    Times are compared, not ticks, so that rounds at other tempos join as they sound.
    """
    strokes.sort(key=attrgetter("begins", "string"))
    by_string: dict[int, list[Stroke]] = {}
    for stroke in strokes:
        by_string.setdefault(stroke.string, []).append(stroke)
    held = [s for s in strokes if s.fret]
    begins = [s.begins for s in held]
    for line in by_string.values():
        previous: Stroke | None = None
        for stroke, after in zip(line, (*line[1:], None), strict=True):
            stop = stroke.ends + (fretted_ring if stroke.fret else open_ring)
            if stroke.fret:
                stop = max(stroke.ends, _let_go(stroke, held, begins, stop))
            struck = after is not None and after.begins <= stop
            if after is not None and struck:
                stop = after.begins
            yield stroke, previous, stop, struck
            previous = stroke


def _let_go(stroke: Stroke, held: Sequence[Stroke], begins: Sequence[int], until: int) -> int:
    """When the hand must leave this fret for another out of its span; ``until`` if it need not."""
    for index in range(bisect_right(begins, stroke.begins), len(held)):
        other = held[index]
        if other.begins >= until:
            break
        if abs(other.fret - stroke.fret) > HAND_SPAN_FRETS:
            return other.begins
    return until


def swung(tick: int, passage: Passage, swing: Fraction) -> Fraction:
    """Where a tick is played: slots come in pairs, and the second of a pair begins ``swing`` slots later.

    What lies between them moves in proportion. Only what stands on whole or half slots moves, so triplets stay; and
    only where a beat is an even number of slots, so jigs stay. Pairs are counted from each bar line.
    """
    meter = passage.meter
    slot = meter.slot_ticks
    if not swing or tick % (slot // 2) or (meter.beat_ticks // slot) % 2:
        return Fraction(tick)
    index = bisect_right(passage.starts, tick) - 1
    start = passage.starts[index] if index >= 0 else 0
    within = (tick - start) % (2 * slot)
    if index >= 0 and tick - within + 2 * slot > start + passage.measures[index]:
        return Fraction(tick)  # half a pair at the end of an odd measure
    return tick + (within if within <= slot else 2 * slot - within) * swing
