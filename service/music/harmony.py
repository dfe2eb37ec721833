"""Keys, chord names as players write them, and numbered changes.

Grammar of a chord name: root, quality, optional bass after a slash. Roots are letters with
sharps or flats, or, when a key is given, scale numbers 1-7 (``4``, ``b7``, ``2m``, ``57`` is V7).
"""

import re
from dataclasses import dataclass
from functools import cached_property, lru_cache

from service.errors import DomainError
from service.music.pitch import fifths, pitch_class, sane_spelling, tone_name

# Chord qualities: every way players write one, and its tones on the line of fifths above the root
# (0 root, 1 fifth, 4 major third, -3 minor third, -2 minor seventh, 5 major seventh, 2 ninth ...).
_QUALITIES: dict[str, tuple[tuple[str, ...], tuple[int, ...]]] = {
    "": (("", "maj", "major", "M"), (0, 4, 1)),
    "m": (("m", "min", "minor", "-", "mi"), (0, -3, 1)),
    "7": (("7", "dom7"), (0, 4, 1, -2)),
    "maj7": (("maj7", "M7", "Δ", "Δ7", "ma7"), (0, 4, 1, 5)),
    "m7": (("m7", "min7", "-7", "mi7"), (0, -3, 1, -2)),
    "mmaj7": (("mmaj7", "mM7", "m(maj7)"), (0, -3, 1, 5)),
    "dim": (("dim", "°", "o"), (0, -3, -6)),
    "dim7": (("dim7", "°7", "o7"), (0, -3, -6, -9)),
    "m7b5": (("m7b5", "ø", "ø7", "m7-5", "min7b5"), (0, -3, -6, -2)),
    "aug": (("aug", "+", "#5"), (0, 4, 8)),
    "7#5": (("7#5", "+7", "aug7", "7+5"), (0, 4, 8, -2)),
    "6": (("6", "maj6", "M6"), (0, 4, 1, 3)),
    "m6": (("m6", "min6", "-6"), (0, -3, 1, 3)),
    "69": (("69", "6/9"), (0, 4, 1, 3, 2)),
    "9": (("9",), (0, 4, 1, -2, 2)),
    "maj9": (("maj9", "M9"), (0, 4, 1, 5, 2)),
    "m9": (("m9", "min9", "-9"), (0, -3, 1, -2, 2)),
    "11": (("11",), (0, 4, 1, -2, 2, -1)),
    "13": (("13",), (0, 4, 1, -2, 2, 3)),
    "7b9": (("7b9",), (0, 4, 1, -2, -5)),
    "7#9": (("7#9",), (0, 4, 1, -2, 9)),
    "add9": (("add9", "add2", "2"), (0, 4, 1, 2)),
    "madd9": (("madd9", "m(add9)"), (0, -3, 1, 2)),
    "sus4": (("sus4", "sus", "4"), (0, -1, 1)),
    "sus2": (("sus2",), (0, 2, 1)),
    "7sus4": (("7sus4", "7sus"), (0, -1, 1, -2)),
    "5": (("5", "no3"), (0, 1)),
}
_QUALITY_OF = {written: name for name, (ways, _) in _QUALITIES.items() for written in ways}
_NO_CHORD = frozenset({"N.C.", "NC", "N.C", "n.c.", "nc"})
_ROOT = re.compile(r"([A-G])([#♯]{1,2}|[b♭]{1,2})?")
# a flat after a root is read as one only if the letter is not the start of a quality
_NUMBER = re.compile(r"([#♯b♭]?)([1-7])")
_KEY = re.compile(
    r"([A-Ha-h])(?:([#b]?)|\s*((?i:sharp|flat)))(?:[\s-]*(m|M|(?i:min|minor|menor|moll|maj|major|mayor|dur)))?"
)
_SIGNS = str.maketrans("♯♭", "#b")
MAJOR_STEPS = (0, 2, 4, -1, 1, 3, 5)  # scale numbers 1-7 on the line of fifths


@dataclass(frozen=True, slots=True)
class Key:
    """A key: tonic as a place on the line of fifths, and its mode (``major`` or ``minor``)."""

    tonic: int
    mode: str = "major"

    @property
    def name(self) -> str:
        return tone_name(self.tonic) + ("m" if self.mode == "minor" else "")

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) in the key signature."""
        return self.tonic - (3 if self.mode == "minor" else 0)

    @property
    def tonic_class(self) -> int:
        return pitch_class(self.tonic)


@dataclass(frozen=True)
class Chord:
    """A chord: root and bass as places on the line of fifths, quality by its usual suffix."""

    root: int
    quality: str = ""
    bass: int | None = None

    @property
    def name(self) -> str:
        slash = "" if self.bass is None else "/" + tone_name(self.bass)
        return tone_name(self.root) + self.quality + slash

    @cached_property
    def places(self) -> tuple[int, ...]:
        """Spelled chord tones as places on the line of fifths, root first, a foreign bass last."""
        tones = tuple(self.root + step for step in _QUALITIES[self.quality][1])
        return tones if self.bass is None or self.bass in tones else (*tones, self.bass)

    @cached_property
    def tones(self) -> tuple[str, ...]:
        return tuple(tone_name(place) for place in self.places)

    @cached_property
    def pitch_classes(self) -> frozenset[int]:
        return frozenset(pitch_class(place) for place in self.places)

    @cached_property
    def family(self) -> tuple[int, str]:
        """Root pitch class and the kind of third: what must agree for a lick to be over this chord."""
        steps = _QUALITIES[self.quality][1]
        kind = "dim" if -6 in steps and -3 in steps else "minor" if -3 in steps else "major"
        return (pitch_class(self.root), kind)

    def moved(self, by: int) -> "Chord":
        """Transposed by places on the line of fifths (2 is a whole tone up)."""
        return Chord(self.root + by, self.quality, None if self.bass is None else self.bass + by)

    def respelled(self) -> "Chord":
        """The same chord with its root between Gb and F#."""
        shift = sane_spelling(self.root) - self.root
        return self.moved(shift) if shift else self


NO_CHORD = None  # a measure marked N.C. holds no chord at all


@lru_cache(maxsize=64)
def key_named(name: str) -> Key:
    """Read ``G``, ``Em``, ``Bb major``, ``F# Minor``, ``b flat minor``, ``e-Moll``, ``H-Dur``, ``G mayor``. Raises DomainError
    ``unknown-key``, also for ``B-Dur``, which is B flat where it is said so.
    """
    match = _KEY.fullmatch(name.strip().translate(_SIGNS))
    if match is None:
        raise DomainError("unknown-key", name=name)
    letter, sign, word, mode = match.groups()
    german = (mode or "").lower() in ("dur", "moll")
    if (letter in "Hh" and not german) or (letter in "Bb" and german and not (sign or word)):
        raise DomainError("unknown-key", name=name)
    letter = "B" if letter in "Hh" else letter
    tonic = letter.upper() + (sign or {"sharp": "#", "flat": "b"}.get((word or "").lower(), ""))
    return Key(
        fifths(tonic),
        "minor" if mode == "m" or (mode or "").lower() in ("min", "minor", "menor", "moll") else "major",
    )


@lru_cache(maxsize=4096)
def chord_named(name: str, key: Key | None = None) -> Chord | None:
    """Read a chord name; ``N.C.`` gives None. Numbers (``1``, ``4``, ``57``, ``b7``) need a key.

    Raises DomainError ``unknown-chord``, naming the chord.
    """
    text = name.strip().translate(_SIGNS)
    if text in _NO_CHORD:
        return NO_CHORD
    upper, _, bass_text = text.partition("/") if not text.endswith("6/9") else (text, "", "")
    root, rest = _read_root(upper, key)
    quality = _QUALITY_OF.get(rest) if root is not None else None
    bass: int | None = None
    if bass_text:
        bass, left = _read_root(bass_text, key)
        if left:
            bass = None
    if root is None or quality is None or (bass_text and bass is None) or text.endswith("/"):
        raise DomainError("unknown-chord", name=name)
    return Chord(root, quality, None if bass == root else bass)


def _read_root(text: str, key: Key | None) -> tuple[int | None, str]:
    match = _ROOT.match(text)
    if match is not None:
        return fifths(match.group()), text[match.end() :]
    match = _NUMBER.match(text)
    if match is not None and key is not None:
        sign, number = match.groups()
        step = MAJOR_STEPS[int(number) - 1] + {"": 0, "#": 7, "b": -7}[sign]
        return key.tonic + step, text[match.end() :]
    return None, text


def same_harmony(one: Chord | None, other: Chord | None) -> bool:
    """Whether a lick made over one chord is over the other too: same root, same kind of third."""
    if one is None or other is None:
        return one is other
    return one.family == other.family
