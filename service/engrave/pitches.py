"""Where a pitch is written on a standard staff: its letter, octave and accidental, in the playing position."""

from dataclasses import dataclass

from service.music.harmony import Key
from service.music.passages import Passage
from service.music.pitch import nearest_spelling, pitch_class

_LETTERS_BY_FIFTHS = "FCGDAEB"
_STEPS = {letter: step for step, letter in enumerate("CDEFGAB")}
_SHARPS = "FCGDAEB"
_G_LINE, _F_LINE = (
    4 * 7 + _STEPS["E"],
    2 * 7 + _STEPS["G"],
)  # steps of the lowest lines of the two clefs: E4 and G2
MIDDLE_C = 60
# clef and by how many semitones what is written lies above what sounds (common practice)
CLEFS = {
    "banjo": ("gClef8vb", 12),
    "guitar": ("gClef8vb", 12),
    "resonator-guitar": ("gClef8vb", 12),
    "upright-bass": ("fClef", 12),
}
PLAIN_CLEF = ("gClef", 0)
SHARP_ROWS = {
    "gClef": (8, 5, 9, 6, 3, 7, 4),
    "fClef": (6, 3, 7, 4, 1, 5, 2),
}  # rows above the lowest line, a step each
FLAT_ROWS = {"gClef": (4, 7, 3, 6, 2, 5, 1), "fClef": (2, 5, 1, 4, 0, 3, -1)}
ACCIDENTALS = {
    -2: "accidentalDoubleFlat",
    -1: "accidentalFlat",
    0: "accidentalNatural",
    1: "accidentalSharp",
    2: "accidentalDoubleSharp",
}


@dataclass(frozen=True, slots=True)
class Spelled:
    """``row`` counts steps from the lowest line of the staff, up; ``alteration`` is in semitones."""

    row: int
    letter: str
    alteration: int


def clef_of(passage: Passage) -> tuple[str, int]:
    """The clef's symbol, and semitones from what sounds to what is written."""
    return CLEFS.get(passage.instrument.id, PLAIN_CLEF)


def spelled(pitch: int, key: Key, passage: Passage) -> Spelled:
    """A sounding pitch as it is written: without the capo, in the playing position's key."""
    clef, above = clef_of(passage)
    written = pitch - passage.capo + above
    # a minor key is spelled around its relative major, with the leading note sharpened
    place = nearest_spelling(written, key.signature)
    alterations, letter_at = divmod(place + 1, 7)
    letter = _LETTERS_BY_FIFTHS[letter_at]
    natural = written - alterations
    octave = (natural - pitch_class(letter_at - 1)) // 12 - 1
    lowest = _F_LINE if clef == "fClef" else _G_LINE
    return Spelled(octave * 7 + _STEPS[letter] - lowest, letter, alterations)


def in_signature(letter: str, key: Key) -> int:
    """The alteration that the key signature gives a letter."""
    if key.signature > 0:
        return int(letter in _SHARPS[: key.signature])
    return -int(letter in _SHARPS[::-1][: -key.signature]) if key.signature < 0 else 0


def signature_rows(key: Key, clef: str) -> tuple[tuple[str, int], ...]:
    """The signs of a key signature: symbol, and row."""
    rows = SHARP_ROWS if key.signature > 0 else FLAT_ROWS
    name = ACCIDENTALS[1 if key.signature > 0 else -1]
    return tuple((name, row) for row in rows["fClef" if clef == "fClef" else "gClef"][: abs(key.signature)])
