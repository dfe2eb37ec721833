"""The key of a tune as people type it, with a mode: ``Ador``, ``D mixolydian``, ``b flat lydian``."""

import re

from service.music.harmony import Key
from service.music.pitch import fifths
from service.notation.brought import MODES

_KEY = re.compile(r"([A-G])\s*(#|b|sharp|flat|)[\s-]*([a-z]{3,})", re.IGNORECASE)
_SIGNS = {"": "", "#": "#", "b": "b", "sharp": "#", "flat": "b"}
_PLAIN = str.maketrans("\u266f\u266d\u00a0", "#b ")
_NAMES = {"ionian": "major", "aeolian": "minor"} | {
    mode: mode for mode in MODES if mode not in ("major", "minor")
}


def modal_key(text: str) -> tuple[Key, Key] | None:
    """The major or minor key that a key with a mode is matched in, and the major key that has its signature.

    A mode is known by its first three letters or more. None where the text names none beside major and minor.
    """
    match = _KEY.fullmatch(text.strip().translate(_PLAIN))
    word = match[3].lower() if match else ""
    mode = next((mode for name, mode in _NAMES.items() if word and name.startswith(word)), None)
    if match is None or mode is None:
        return None
    above, third = MODES[mode]
    tonic = fifths(match[1].upper() + _SIGNS[match[2].lower()])
    return Key(tonic, third), Key(tonic - above)
