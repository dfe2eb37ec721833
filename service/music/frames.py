"""What stands around the form: a kick-off that starts the tune, and an ending that closes it. Made from the tonic."""

from collections.abc import Sequence
from dataclasses import replace

from service.music.backup import passage_of, strokes_of
from service.music.backup_patterns import ABOVE, BASS, FAMILIES, WHOLE, Pattern, Stroke, pattern_named
from service.music.basslines import BASS_STRINGS, MINOR_STEPS
from service.music.fills import fill
from service.music.harmony import MAJOR_STEPS, Chord, Key
from service.music.licks import Change, Note
from service.music.lines import easiest_line
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.pitch import pitch_class
from service.music.setting import Setting
from service.music.shapes import shapes

# One shuffle, long-short-short, of which four start a tune: what each instrument does in it. Common practice, no source.
_SHUFFLES: dict[str, tuple[Stroke, ...]] = {
    "banjo": (Stroke(0, 4, BASS, "T"), Stroke(2, 2, "1", "M"), Stroke(3, 2, "2", "I")),
    "guitar": (Stroke(0, 4, BASS), Stroke(2, 2, ABOVE), Stroke(3, 2, ABOVE)),
    "resonator-guitar": (Stroke(0, 4, "321"), Stroke(2, 2, "321"), Stroke(3, 2, "321")),
    "upright-bass": (Stroke(0, 7, BASS),),
}
_ANY_SHUFFLE = (Stroke(0, 4, WHOLE), Stroke(2, 2, WHOLE), Stroke(3, 2, WHOLE))
SHUFFLE_SLOTS, SHUFFLES = 4, 4
LEAD_IN = (5, 6, 7)  # of the scale, into beat 1 of a waltz or jig; common practice, no source
# Where it stands in the measure before.
LEAD_IN_SLOTS = {"three": (0, 2, 4), "six": (3, 4, 5), "nine": (6, 7, 8), "twelve": (9, 10, 11)}
AIR = 2  # slots left empty before the tune, so that its own pickup can enter
# The knock that everybody knows, traditional: (slot, number of the scale, counted down from the tonic for all but 1).
HAIRCUT = ((0, 1), (2, 5), (3, 5), (4, 6), (6, 5), (10, 7), (12, 1))
HAIRCUT_LASTS = 4  # slots of the last note
LOW_FRETS, ANY_FRETS = 7, 12  # where the scale is played, and where else if it has no place there; ours
# About where a line of the scale sounds like the instrument (MIDI), and how much a semitone from there weighs against a fret.
# Ours.
REGISTERS = {"guitar": 48, "banjo": 54, "mandolin": 71, "fiddle": 71, "upright-bass": 35}
REGISTER, FROM_REGISTER = 60, 0.5
# The last chord: strings and fingers where not all of it is struck at once.
_LAST: dict[str, tuple[str, str]] = {"banjo": ("321", "TIM"), "resonator-guitar": ("321", "")}


def tonic_chord(key: Key) -> Chord:
    return Chord(key.tonic, "m" if key.mode == "minor" else "")


def kick_off(setting: Setting, meter: Meter) -> Passage:
    """Two measures on the tonic that set the time. In cut time, four-four and two-four four shuffles, the last with air for
    the tune's own pickup; in a waltz or a jig a measure of backup, then three notes of the scale into beat 1."""
    family = FAMILIES[meter.name]
    measures = (meter.measure_ticks,) * 2
    changes = (Change(0, tonic_chord(setting.position)),)
    if family == "two":
        strokes = tuple(
            Stroke(s.at + SHUFFLE_SLOTS * n, s.lasts, s.plays, s.fingers)
            for n in range(meter.slots // SHUFFLE_SLOTS)
            for s in _SHUFFLES.get(setting.instrument.id, _ANY_SHUFFLE)
        )
        shuffle = _tonic_pattern(setting, family, strokes)
        notes = strokes_of(shuffle, changes, measures, meter, setting)
        last = sum(measures) - AIR * meter.slot_ticks
        kept = [n for n in notes if n.onset < last]
        kept = [_until(n, last) for n in kept]
        return passage_of(setting, meter, measures, kept, changes)
    strokes = pattern_named(setting.instrument.id, meter).strokes
    if strokes[0].at:  # a chop, which leaves beat 1 to others; here it must be heard
        strokes = (replace(strokes[0], at=0), *strokes)
    notes = strokes_of(_tonic_pattern(setting, family, strokes), changes, measures[:1], meter, setting)
    slots = LEAD_IN_SLOTS[family]
    start = meter.measure_ticks
    if slots[0]:
        bass = setting.instrument.id in BASS_STRINGS
        notes.extend(_chord(setting, meter, start, slots[0] * meter.slot_ticks, bass=bass))
    line = _scale_line(
        setting, meter, start, [(s, n) for s, n in zip(slots, LEAD_IN, strict=True)], sum(measures)
    )
    return passage_of(setting, meter, measures, [*notes, *line], changes)


def ending(setting: Setting, meter: Meter, *, double: bool = True) -> Passage:
    """What closes the last time through, on the tonic.

    In cut time, four-four and two-four the traditional seven-note knock in two measures, after a run of two measures that
    lands on the tonic (``double``); in a waltz or a jig a run of a measure and a held chord.
    """
    family = FAMILIES[meter.name]
    slot = meter.slot_ticks
    tonic = tonic_chord(setting.position)
    changes = (Change(0, tonic),)
    measures = (meter.measure_ticks,) * (4 if double and family == "two" else 2)
    if family != "two":
        run = _run_in(setting, meter, measures, changes)
        last = _chord(setting, meter, meter.measure_ticks, meter.measure_ticks)
        return passage_of(setting, meter, measures, [*run, *last], changes)
    notes: list[Note] = []
    before = 2 * meter.measure_ticks if double else 0
    if double:
        notes.extend(_run_in(setting, meter, measures, changes))
        notes.extend(_chord(setting, meter, meter.measure_ticks, 4 * slot))
    end = before + (HAIRCUT[-1][0] + HAIRCUT_LASTS) * slot
    line = _scale_line(setting, meter, before, HAIRCUT, end)
    notes.extend(line[:-1])
    if line:
        notes.extend(_chord_with(line[-1], setting, meter))
    return passage_of(setting, meter, measures, notes, changes)


def _until(note: Note, end: int) -> Note:
    return replace(note, duration=min(note.duration, end - note.onset))


def _tonic_pattern(setting: Setting, family: str, strokes: Sequence[Stroke]) -> Pattern:
    usual = {"fiddle": "double", "resonator-guitar": "bar", "upright-bass": "line"}
    held = usual.get(setting.instrument.id, "open")
    return Pattern("tonic", setting.instrument.id, family, "", held, tuple(strokes), 2)


def _run_in(setting: Setting, meter: Meter, measures: Sequence[int], changes: Sequence[Change]) -> list[Note]:
    """A measure's run; its last note rings for two slots, so that the hand is ready for a whole chord."""
    slot = meter.slot_ticks
    if setting.instrument.id == "upright-bass":
        return strokes_of(pattern_named("upright-bass", meter), changes, measures[:1], meter, setting)
    run = fill(changes, measures, meter, setting, 0, meter.measure_ticks - slot).notes
    return [replace(note, duration=2 * slot) if note is run[-1] else note for note in run]


def _chord(setting: Setting, meter: Meter, onset: int, ticks: int, *, bass: bool = False) -> list[Note]:
    """The tonic struck once, or its bass, held for ``ticks``."""
    plays, fingers = _LAST.get(setting.instrument.id, (WHOLE, ""))
    if bass or setting.instrument.id == "upright-bass":
        plays, fingers = BASS, fingers[:1]
    once = _tonic_pattern(
        setting, FAMILIES[meter.name], (Stroke(0, 2 * ticks // meter.slot_ticks, plays, fingers),)
    )
    struck = strokes_of(once, (Change(0, tonic_chord(setting.position)),), (ticks,), meter, setting)
    return [note.moved(onset) for note in struck if note.onset == 0]


def _chord_with(note: Note, setting: Setting, meter: Meter) -> list[Note]:
    """The tonic struck together with the note that the line ends on, that note on top if a hand can hold it so."""
    usual = _chord(setting, meter, note.onset, note.duration)
    if setting.instrument.id in _LAST or len(usual) == 1:
        return usual
    most = 2 if setting.instrument.id == "fiddle" else None
    tonic = tonic_chord(setting.position)
    for shape in shapes(tonic, setting.fretboard, most=most):
        if shape.strings[0] == note.string and shape.frets[note.string - 1] == note.fret:
            return [replace(note, string=s, fret=shape.frets[s - 1] or 0) for s in shape.strings]
    return usual


def _scale_line(
    setting: Setting, meter: Meter, start: int, degrees: Sequence[tuple[int, int]], end: int
) -> tuple[Note, ...]:
    """Numbers of the scale below the tonic (1 is the tonic itself) at slots from ``start``, where they lie easiest."""
    for frets in (LOW_FRETS, ANY_FRETS):
        line = _line_within(setting, meter, start, degrees, end, frets)
        if line:
            return line
    return ()


def _line_within(
    setting: Setting, meter: Meter, start: int, degrees: Sequence[tuple[int, int]], end: int, frets: int
) -> tuple[Note, ...]:
    key, board = setting.position, setting.fretboard
    steps = MAJOR_STEPS if key.mode == "major" else (*MINOR_STEPS[:6], MAJOR_STEPS[6])
    low, high = min(board.tuning.pitches), max(board.tuning.pitches) + frets
    short = board.instrument.short_string[0] if board.instrument.short_string else None
    onsets = [start + slot * meter.slot_ticks for slot, _ in degrees]
    ways = []
    for tonic in range(low + (key.tonic_class - low) % 12, high + 1, 12):
        pitches = [tonic - (tonic - pitch_class(key.tonic + steps[number - 1])) % 12 for _, number in degrees]
        options = [
            [p for p in board.places(pitch + board.capo) if p.fret <= frets and p.string != short]
            for pitch in pitches
        ]
        line = easiest_line(onsets, options, end, board, meter.slot_ticks) if all(options) else ()
        if line:
            off = abs(sum(pitches) / len(pitches) - REGISTERS.get(setting.instrument.id, REGISTER))
            ways.append((sum(note.fret for note in line) + FROM_REGISTER * off, line))
    return min(ways)[1] if ways else ()
