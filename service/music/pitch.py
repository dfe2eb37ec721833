"""Pitches as MIDI numbers, and their spelling.

A spelled tone is a place on the line of fifths (C 0, G 1, F -1, F# 6, Bb -2 ...): going up a
fifth adds one, a sharp adds seven. Transposing a spelling is then plain addition.
"""

import math
import re

from service.errors import DomainError

_LETTERS = "FCGDAEB"
_NAME = re.compile(r"([A-Ga-g])([#♯b♭]{0,3})$")
CONCERT_A_HZ = 440.0  # ISO 16:1975, MIDI note 69


def fifths(name: str) -> int:
    """Place of a tone name on the line of fifths. Raises DomainError ``unknown-tone``."""
    match = _NAME.match(name.strip())
    if match is None:
        raise DomainError("unknown-tone", name=name)
    letter, signs = match.groups()
    sharps = sum(1 if sign in "#♯" else -1 for sign in signs)
    return _LETTERS.index(letter.upper()) - 1 + 7 * sharps


def tone_name(place: int) -> str:
    """Name of a place on the line of fifths: 6 is F#, -2 is Bb."""
    signs, letter = divmod(place + 1, 7)
    return _LETTERS[letter] + ("#" * signs if signs >= 0 else "b" * -signs)


def pitch_class(place: int) -> int:
    """Pitch class 0-11 (C = 0) of a place on the line of fifths."""
    return place * 7 % 12


def sane_spelling(place: int) -> int:
    """The enharmonic twin of ``place`` that lies between Gb (-6) and F# (6)."""
    if place % 12 == 6:
        return 6 if place > 0 else -6
    return (place + 6) % 12 - 6


def nearest_spelling(pitch: int, key_place: int) -> int:
    """The spelling of a pitch class closest to a key on the line of fifths.

    The twelve candidates from a minor second below to an augmented fourth above the key
    (places key-5 .. key+6), as a scale with its usual altered tones is written.
    """
    return next(place for place in range(key_place - 5, key_place + 7) if pitch_class(place) == pitch % 12)


def frequency(pitch: float) -> float:
    """Frequency in Hz of a MIDI number, equal temperament."""
    return CONCERT_A_HZ * math.exp2((pitch - 69) / 12)
