"""What the ear needs in place of signs: codes of words for strings, frets, fingers, chords, keys and counts.

A part is a mapping with its code under ``what``; a parameter that is a tuple of parts is said as their sentences.
"""

from collections.abc import Mapping

from service.music.harmony import Chord, Key
from service.music.licks import Note
from service.music.meter import Meter
from service.notation.spelling import alteration, letter

Part = Mapping[str, object]
Parts = tuple[Part, ...]

_ORDINALS = (
    "ordinal-1", "ordinal-2", "ordinal-3", "ordinal-4", "ordinal-5", "ordinal-6", "ordinal-7", "ordinal-8",
    "ordinal-9", "ordinal-10", "ordinal-11", "ordinal-12", "ordinal-13", "ordinal-14", "ordinal-15", "ordinal-16",
    "ordinal-17", "ordinal-18", "ordinal-19", "ordinal-20", "ordinal-21", "ordinal-22", "ordinal-23", "ordinal-24",
)  # fmt: skip
_PICKING = {
    "T": "finger-thumb", "I": "finger-index", "M": "finger-middle", "p": "finger-thumb", "i": "finger-index",
    "m": "finger-middle", "a": "finger-ring", "d": "stroke-down", "u": "stroke-up",
}  # fmt: skip
_STOPPING = {1: "left-index", 2: "left-middle", 3: "left-ring", 4: "left-little"}
_TONES = {
    0: "tone-natural", 1: "tone-sharp", -1: "tone-flat", 2: "tone-double-sharp", -2: "tone-double-flat"
}  # fmt: skip
_QUALITIES = {
    "": "chord-major", "m": "chord-minor", "7": "chord-7", "maj7": "chord-maj7", "m7": "chord-m7",
    "mmaj7": "chord-mmaj7", "dim": "chord-dim", "dim7": "chord-dim7", "m7b5": "chord-m7b5", "aug": "chord-aug",
    "7#5": "chord-7-sharp-5", "6": "chord-6", "m6": "chord-m6", "69": "chord-69", "9": "chord-9",
    "maj9": "chord-maj9", "m9": "chord-m9", "11": "chord-11", "13": "chord-13", "7b9": "chord-7b9",
    "7#9": "chord-7-sharp-9", "add9": "chord-add9", "madd9": "chord-madd9", "sus4": "chord-sus4",
    "sus2": "chord-sus2", "7sus4": "chord-7sus4", "5": "chord-5",
}  # fmt: skip
_SYLLABLES = {"&": "count-and", "e": "count-e", "a": "count-a"}
_AFTER_BEAT = {"&": "count-the-and", "e": "count-the-e", "a": "count-the-a"}
_THIRDS = ("", "count-second-third", "count-last-third")
# Each of three in the time of two, in ticks, and what it is called.
THIRDS = {320: "unit-quarters", 160: "unit-eighths", 80: "unit-sixteenths", 40: "unit-thirty-seconds"}
_QUARTERS = ("", "count-quarter-after", "count-halfway-after", "count-three-quarters-after")


def part(what: str, **params: object) -> Parts:
    """One part, ready to be a parameter."""
    return ({"what": what, **params},)


def ordinal(number: int) -> Parts:
    """First, second ... of strings and frets. No neck of the house goes past the 24th fret."""
    return part(_ORDINALS[number - 1])


def tone(place: int) -> Parts:
    """A tone by its place on the line of fifths."""
    return part(_TONES[alteration(place)], letter=letter(place))


def key_said(key: Key) -> Parts:
    if key.mode == "minor":
        return part("key-minor", tone=tone(key.tonic))
    return part("key-major", tone=tone(key.tonic))


def chord_said(chord: Chord | None) -> Parts:
    if chord is None:
        return part("chord-none")
    said = part(_QUALITIES[chord.quality], root=tone(chord.root))
    return said if chord.bass is None else part("chord-with-bass", chord=said, bass=tone(chord.bass))


def note_said(note: Note, before: Note | None, stopped: int | None) -> Parts:
    """What both hands do for one note; ``before`` is the note it is sounded from, ``stopped`` the left-hand finger."""
    said = part(_done(note, before), string=ordinal(note.string), **_fret(note))
    if stopped in _STOPPING:
        said = part("note-stopped", note=said, finger=part(_STOPPING[stopped]))
    if note.finger in _PICKING:
        said = part("note-picked", note=said, finger=part(_PICKING[note.finger]))
    return said


def _fret(note: Note) -> dict[str, object]:
    return {"fret": ordinal(note.fret)} if note.fret else {}


def _done(note: Note, before: Note | None) -> str:
    """The code for how a note is sounded: each technique has its words for a fret and for an open string."""
    stopped = note.fret > 0
    if note.technique == "mute":
        return "note-muted"
    if note.technique == "hammer-on" and stopped:
        return "note-hammered"
    if note.technique == "pull-off":
        return "note-pulled" if stopped else "note-pulled-open"
    if note.technique == "slide" and stopped:
        if before is None:
            return "note-slid-into"
        return "note-slid-up" if before.fret < note.fret else "note-slid-down"
    if note.technique == "choke":
        return "note-choked" if stopped else "note-choked-open"
    if note.technique == "ghost":
        return "note-ghosted" if stopped else "note-ghosted-open"
    return "note-fretted" if stopped else "note-open"


def together_said(notes: tuple[Parts, ...]) -> Parts:
    """Notes struck at once."""
    if len(notes) == 1:
        return notes[0]
    if len(notes) == 2:
        return part("struck-two", one=notes[0], two=notes[1])
    return part("struck-all", notes=tuple(piece for note in notes for piece in note))


def count_said(tick: int, meter: Meter, beat_said: int | None, third: int | None) -> Parts:
    """How an onset is counted; ``tick`` from the start of a full measure of the meter.

    ``beat_said`` is the slot of the beat that was last said, so that its number need not come again. ``third`` is how long
    each of three in the time of two is, if the onset lies among such.
    """
    slot, over = divmod(tick % meter.measure_ticks, meter.slot_ticks)
    if 4 * over % meter.slot_ticks and third is not None:
        fitting = next((ticks for ticks in THIRDS if ticks <= third and tick % ticks == 0), None)
        if fitting is not None:
            number = tick // fitting % 3
            count = count_said(tick - number * fitting, meter, None, None)
            return part(_THIRDS[number], count=count, unit=part(THIRDS[fitting]))
    if over:
        count = count_said(tick - over, meter, beat_said, None)
        return part(_QUARTERS[max(1, 4 * over // meter.slot_ticks)], count=count)
    syllable = meter.counts[slot]
    if syllable.isdigit():
        return part("count-beat", beat=syllable)
    if beat_said == beat_slot(tick, meter):
        return part(_SYLLABLES[syllable])
    return part(_AFTER_BEAT[syllable], beat=meter.counts[beat_slot(tick, meter)])


def beat_slot(tick: int, meter: Meter) -> int:
    """The slot of the beat that an onset belongs to: the last one before it that is counted with a number."""
    slot = tick % meter.measure_ticks // meter.slot_ticks
    return max(n for n in range(slot + 1) if meter.counts[n].isdigit())
