"""Reads a tune from a standard MIDI file, type 0 or 1.

The melody is the voice that scores most (``_score``): named so, one note at a time, many notes where tunes lie. Each quarter is put
on sixteenths or on triplets of eighths, whichever are nearer; in 2/4 each eighth, on sixteenths or on triplets of those; in meters
with beats of three all is put on sixteenths. Grace notes, as short as flicks, are left out; of notes that begin together the
highest is kept, each until the next.

Form: where some block of eight measures comes again, blocks of eight are the parts; else blocks of four, where at most half
of them differ; else all is one part. Notes before the first full measure are a pickup, if the file begins with a shorter measure
or they come in the second half of its first; then every block has what sounds as long before it as its own.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from service.errors import DomainError, Fault, ReadingError
from service.music.harmony import key_named
from service.music.meter import (
    METER_NAMES,
    SIXTEENTH,
    TICKS_PER_QUARTER,
    TICKS_PER_WHOLE,
    Meter,
    meter_named,
)
from service.music.tunes import MAX_MEASURES, MelodyNote
from service.notation.brought import Brought, BroughtPart
from service.notation.key_finding import likeliest_key
from service.notation.midi_opened import FileNote, MidiContents, Voice, midi_contents
from service.notation.tune_form import FASTEST, crooked, named_parts, one_line

# What makes a voice the melody, ours: a name says more than anything, then that notes come one at a time, then where they lie.
_NAMED, _ONE_AT_A_TIME, _IN_RANGE = 4.0, 2.0, 1.0
_NAMES = ("melody", "lead", "tune")
_LOWEST, _HIGHEST = 55, 90  # MIDI pitches that tunes lie within, from a fiddle's lowest string up
_BLOCKS = (8, 4)  # measures of a part, common practice
_FAR = SIXTEENTH // 4  # ticks, ours: a note that is moved further may be meant otherwise
_FLICK = SIXTEENTH // 4  # ticks, ours: no note of a tune is shorter
_MINUTE = 60_000_000  # microseconds
_TRACKS_TOLD = 20  # in a remark
_DEFAULT = (4, 4)  # published: the meter of a file that names none


def read_midi(data: bytes, *, track: int | None = None) -> Brought:
    """The tune of a file; ``track`` asks for another voice by its number, from 1, as the remark ``tune-tracks`` lists them.

    Raises ReadingError with a fault for each thing that cannot be read. There are no chords.
    """
    contents = midi_contents(data)
    voice = _voice(contents, track)
    remarks = []
    if len(contents.voices) > 1:
        others = [other for other in contents.voices if other is not voice]
        remarks.append(Fault("tune-tracks", {"melody": _called([voice]), "others": _called(others)}))
    sounded = _without_grace(voice.notes, contents.quarter)
    meter, starts = _measures(contents, sounded)
    notes, moved = _quantised(sounded, contents.quarter, meter, starts)
    if moved > _FAR:
        remarks.append(Fault("tune-moved-notes", {"percent": round(100 * moved / TICKS_PER_QUARTER)}))
    melody, lengths = _from_first_note(notes, starts, meter)
    pickup = _pickup(melody, lengths, meter)
    if pickup:
        first = lengths.pop(0)
        melody = tuple(MelodyNote(n.onset - first, n.duration, n.pitch) for n in melody)
    parts, order = _form(melody, lengths, pickup)
    remarks += crooked(number for number, ticks in enumerate(lengths, 1) if ticks != meter.measure_ticks)
    key = key_named(contents.key) if contents.key else likeliest_key(melody)
    if not contents.key:
        remarks.append(Fault("tune-key-proposed", {"key": key.name}))
    return Brought(
        contents.title,
        key,
        key.mode,
        meter,
        parts,
        order,
        _tempo(contents, meter),
        contents.source,
        tuple(remarks),
    )


# --- which voice -------------------------------------------------------------------------------------------


def _voice(contents: MidiContents, track: int | None) -> Voice:
    if not contents.voices:
        raise ReadingError([Fault("tune-no-notes")])
    if track is not None:
        found = next((voice for voice in contents.voices if voice.number == track), None)
        if found is None:
            known = {"track": track, "known": _called(contents.voices)}
            raise ReadingError([Fault("tune-no-such-track", known)])
        return found
    most = max(_in_range(voice) for voice in contents.voices)
    return max(contents.voices, key=lambda voice: (_score(voice, contents.quarter, most), -voice.number))


def _score(voice: Voice, quarter: int, most: int) -> float:
    """``most`` is the largest number of notes within the range of tunes that a voice of the file has."""
    named = any(name in voice.name.lower() for name in _NAMES)
    hangs_over = quarter * _FAR // TICKS_PER_QUARTER  # played legato, notes overlap a little
    alone = 1 + sum(
        after.onset > max(before.onset, before.end - hangs_over - 1)
        for before, after in pairwise(voice.notes)
    )
    in_range = _in_range(voice) / max(1, most)
    return _NAMED * named + _ONE_AT_A_TIME * alone / len(voice.notes) + _IN_RANGE * in_range


def _in_range(voice: Voice) -> int:
    return sum(_LOWEST <= note.pitch <= _HIGHEST for note in voice.notes)


def _called(voices: Sequence[Voice]) -> str:
    return ", ".join(f"{voice.number} ({voice.name[:40] or '?'})" for voice in voices[:_TRACKS_TOLD])


def _without_grace(notes: Sequence[FileNote], quarter: int) -> Sequence[FileNote]:
    """Where most notes last, those as short as a flick are grace notes, and left out."""
    lasting = [note for note in notes if (note.end - note.onset) * TICKS_PER_QUARTER > _FLICK * quarter]
    return lasting if 2 * len(lasting) > len(notes) else notes


# --- time --------------------------------------------------------------------------------------------------


def _measures(contents: MidiContents, notes: Sequence[FileNote]) -> tuple[Meter, list[int]]:
    """The meter that lasts longest, and where measures begin, in ticks of the house; the last is where the tune ends.

    Raises ReadingError where the meter is not known, measures end between ticks, or there are too many.
    """
    scale = Fraction(TICKS_PER_QUARTER, contents.quarter)
    end = max(note.end for note in notes) * scale
    end = max(end - SIXTEENTH // 2, Fraction(1))  # a note may hang over a bar line by a little
    signs = {0: _DEFAULT} | {tick: (beats, unit) for tick, beats, unit in sorted(contents.meters)}
    spans = [*pairwise(sorted(signs)), (max(signs), max(signs) + max(1, contents.end))]
    lasts: dict[tuple[int, int], int] = {}
    starts: list[Fraction] = []
    for tick, until in spans:
        beats, unit = sign = signs[tick]
        lasts[sign] = lasts.get(sign, 0) + min(until, contents.end) - tick
        begins, ends = tick * scale, min(until * scale, end)
        if begins >= end:
            continue
        length = Fraction(beats * TICKS_PER_WHOLE, unit)
        if length < 1 or length.denominator != 1:
            known: dict[str, object] = {"name": f"{beats}/{unit}", "known": ", ".join(METER_NAMES)}
            raise ReadingError([Fault("unknown-meter", known, measure=len(starts) + 1)])
        count = -((begins - ends) // length)
        if len(starts) + count > MAX_MEASURES:
            raise ReadingError([Fault("too-many-measures", {"most": MAX_MEASURES})])
        starts.extend(begins + n * length for n in range(count))
        last = begins + count * length
    starts.append(last)
    beats, unit = max(lasts, key=lambda sign: lasts[sign])
    try:
        meter = meter_named(f"{beats}/{unit}")
    except DomainError as error:
        first = min(tick for tick, sign in signs.items() if sign == (beats, unit))
        measure = bisect_right(starts, first * scale)
        raise ReadingError([Fault(error.code, error.params, measure=measure)]) from None
    return meter, sorted(set(map(round, starts)))


def _from_first_note(
    notes: Sequence[MelodyNote], starts: Sequence[int], meter: Meter
) -> tuple[tuple[MelodyNote, ...], list[int]]:
    """The melody and the lengths of its measures, without those that are silent before it."""
    first, last = min(note.onset for note in notes), max(note.onset for note in notes)
    # the last note may have been moved up to where the last measure ended
    bars = [*starts, starts[-1] + meter.measure_ticks] if last >= starts[-1] else list(starts)
    bars = bars[bisect_right(bars, first) - 1 :]
    melody = one_line(notes, bars[-1])
    moved = tuple(MelodyNote(note.onset - bars[0], note.duration, note.pitch) for note in melody)
    return moved, [end - start for start, end in pairwise(bars)]


def _quantised(
    notes: Iterable[FileNote], quarter: int, meter: Meter, starts: Sequence[int]
) -> tuple[list[MelodyNote], Fraction]:
    """The notes on the grid, and by how much the farthest was moved, in ticks."""
    span = 2 * meter.slot_ticks
    threes = meter.beat_ticks % TICKS_PER_QUARTER > 0
    grids = (SIXTEENTH,) if threes else (SIXTEENTH, span // 3)
    ruler = _Ruler(quarter, span, starts)
    # how far a beat's onsets are from each grid, then, where that is the same, its ends
    away: dict[int, list[tuple[int, int]]] = {}
    for note in notes:
        for tick, is_end in ((note.onset, 0), (note.end, 1)):
            beat = ruler.beat(tick)
            sums = away.get(beat, [(0, 0)] * len(grids))
            by = [ruler.nearest(tick, grid)[1] for grid in grids]
            away[beat] = [
                (onsets, ends + n) if is_end else (onsets + n, ends)
                for (onsets, ends), n in zip(sums, by, strict=True)
            ]
    grid_of = {beat: grids[sums.index(min(sums))] for beat, sums in away.items()}
    found = []
    farthest = 0
    for note in notes:
        grid = grid_of[ruler.beat(note.onset)]
        onset, moved = ruler.nearest(note.onset, grid)
        end, _ = ruler.nearest(note.end, grid_of[ruler.beat(note.end)])
        farthest = max(farthest, moved)
        found.append(MelodyNote(onset, max(end - onset, grid), note.pitch))
    return found, Fraction(farthest, quarter)


class _Ruler:
    """Measures ticks of the file against beats and grids of the house, in parts of a tick that both are whole numbers of."""

    def __init__(self, quarter: int, beat: int, starts: Sequence[int]) -> None:
        self._parts = quarter  # of a tick of the house; a tick of the file has as many as a quarter has ticks
        self._beat = beat * quarter
        self._starts = [start * quarter for start in starts]

    def beat(self, tick: int) -> int:
        """Where the beat begins that a tick of the file lies in, or nearly: a note just before a beat is one of that beat."""
        at = tick * TICKS_PER_QUARTER + _FAR * self._parts
        start = self._start(at)
        return start + (at - start) // self._beat * self._beat

    def nearest(self, tick: int, grid: int) -> tuple[int, int]:
        """The place on the grid, in ticks of the house, and how far it is, in parts."""
        at = tick * TICKS_PER_QUARTER
        start, step = self._start(at), grid * self._parts
        place = start + (2 * (at - start) + step) // (2 * step) * step
        return place // self._parts, abs(place - at)

    def _start(self, at: int) -> int:
        return self._starts[max(0, bisect_right(self._starts, at) - 1)]


# --- form --------------------------------------------------------------------------------------------------


def _pickup(melody: Sequence[MelodyNote], lengths: Sequence[int], meter: Meter) -> int:
    """Length of the pickup, 0 without one: the first measure if it is shorter, or what sounds in its second half only."""
    first = melody[0].onset
    if len(lengths) < 2 or first >= lengths[0]:
        return 0
    if lengths[0] < meter.measure_ticks:
        return lengths[0]
    return lengths[0] - first if 2 * first >= lengths[0] else 0


def _form(
    melody: Sequence[MelodyNote], lengths: Sequence[int], pickup: int
) -> tuple[tuple[BroughtPart, ...], tuple[str, ...]]:
    whole = [_block(melody, lengths, 0, len(lengths), pickup)]
    for size in _BLOCKS:
        if len(lengths) % size:
            continue
        blocks = [_block(melody, lengths, at, size, pickup) for at in range(0, len(lengths), size)]
        differ = len(set(blocks))
        if differ < len(blocks) and (size == max(_BLOCKS) or 2 * differ <= len(blocks)):
            return named_parts(enumerate(blocks))
    return named_parts(enumerate(whole))


def _block(
    melody: Sequence[MelodyNote], lengths: Sequence[int], at: int, size: int, pickup: int
) -> BroughtPart:
    """Measures from number ``at`` (from 0) as a part; what sounds as long before as the pickup lasts is its pickup."""
    start = sum(lengths[:at])
    measures = tuple(lengths[at : at + size])
    end = start + sum(measures)
    last = at + size == len(lengths)
    # of several blocks the last ends like the others, so that it can equal them
    if not last or (at and melody[-1].onset < end - pickup):
        end -= pickup
    notes = (
        MelodyNote(note.onset - start, min(note.duration, end - note.onset), note.pitch)
        for note in melody
        if start - pickup <= note.onset < end
    )
    return BroughtPart("", measures, tuple(notes))


def _tempo(contents: MidiContents, meter: Meter) -> tuple[int, str] | None:
    if not contents.tempo:
        return None
    bpm = round(Fraction(_MINUTE * TICKS_PER_QUARTER, contents.tempo * meter.beat_ticks))
    return (bpm, meter.beat_unit) if 0 < bpm <= FASTEST else None
