"""Fields of a tune in ABC notation (the open standard ABC 2.1): key, meter, unit of length, tempo, words."""

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from html import unescape

from service.music.harmony import Key
from service.music.meter import METER_NAMES, TICKS_PER_WHOLE, Meter
from service.music.pitch import fifths
from service.music.tunes import UNIT_TICKS
from service.notation.abc import ALTERATIONS, altered_letters
from service.notation.brought import MODES

Ticks = int | Fraction  # a whole number wherever it is one

_FIELD = re.compile(r"\s*([A-Zmrsw+]):(?![|:])\s*")  # a line such as A:| or B:: is music
_KEY = re.compile(r"([A-G])([#b]?)\s*([A-Za-z]*)")
_KEY_SIGN = re.compile(r"(?<![A-Za-z])(\^\^?|__?|=)([A-Ga-g])(?![A-Za-z])")
_METER = re.compile(r"(\d{1,4})\s*/\s*(\d{1,4})")
_LENGTH = re.compile(r"(\d{1,3})(?:\s*/\s*(\d{1,3}))?")
_BEATS = re.compile(r"\s*((?:\d{1,3}/\d{1,3}\s*)+)=\s*(\d{1,3})\b|(?:[A-Ga-g]\s*=)?\s*(\d{1,3})\s*$")
_ESCAPE = re.compile(r"""\\(?:u([0-9A-Fa-f]{4})|([`'^~"])([A-Za-z])|(.))|(&#?\w{1,8};)""")
_ACCENTS = {"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308"}
# The first three letters of a mode are read, whatever their case; ``m`` is minor. Published, ABC 2.1.
_MODES = {"": "major", "ion": "major", "m": "minor", "aeo": "minor"} | {name[:3]: name for name in MODES}
_BAGPIPES = Key(3)  # HP and Hp: the scale of A with a natural G. Published, ABC 2.1.
_CLEFS = ("cle", "tre", "bas", "alt", "ten", "per", "non")  # as first three letters, after a tonic
KNOWN_METERS = ", ".join(METER_NAMES)
_UNITS = {ticks: name for name, ticks in UNIT_TICKS.items()}


@dataclass(frozen=True, slots=True)
class Keyed:
    """A key with its mode, and what its signature does to each letter, in semitones."""

    key: Key
    mode: str
    signature: dict[str, int]


@dataclass(frozen=True, slots=True)
class Timed:
    """A time signature, also one that no Meter is made for; ``ticks`` is the length of a measure."""

    count: int
    unit: int

    @property
    def name(self) -> str:
        return f"{self.count}/{self.unit}"

    @property
    def ticks(self) -> Ticks:
        return share(TICKS_PER_WHOLE, self.count, self.unit)

    @property
    def compound(self) -> bool:
        return self.unit == 8 and self.count in (6, 9, 12)

    @property
    def usual_length(self) -> Ticks:
        """The unit of length where none is stated: a sixteenth below three quarters, else an eighth. Published, ABC 2.1."""
        return TICKS_PER_WHOLE // (16 if 4 * self.count < 3 * self.unit else 8)


NO_KEY = Keyed(Key(0), "major", {})
COMMON = Timed(4, 4)


def share(ticks: Ticks, up: int, down: int) -> Ticks:
    """``ticks`` times up/down, exact."""
    whole, rest = divmod(ticks * up, down)
    return Fraction(ticks * up) / down if rest else int(whole)


def field_in(text: str) -> tuple[str, int] | None:
    """The letter of a field line, and where its value begins; None for a line of music or words."""
    match = _FIELD.match(text)
    return (match[1], match.end()) if match else None


def without_comment(text: str) -> str:
    return re.sub(r"(?<!\\)%.*", "", text).rstrip()


def words(text: str) -> str:
    """A text field as it is meant: accents, signs by name and number, and what is written after a backslash."""

    def meant(match: re.Match[str]) -> str:
        number, accent, letter, sign, named = match.groups()
        if number:
            return chr(int(number, 16))
        if accent:
            return unicodedata.normalize("NFC", letter + _ACCENTS[accent])
        return unescape(named) if named else str(sign)

    return " ".join(_ESCAPE.sub(meant, text).split())


def escaped(text: str) -> str:
    """The words as one line of a field that reads back to them."""
    return re.sub(r"([\\%&])", r"\\\1", " ".join(text.split()))


def key_in(text: str) -> Keyed | None:
    """``Em``, ``D mix``, ``Ador``, ``none``, ``Hp``, ``D exp ^f``, ``Dmix ^c``; None for what is no key."""
    text = text.strip()
    if text in ("HP", "Hp"):
        return Keyed(_BAGPIPES, "mixolydian", altered_letters(2))
    match = _KEY.match(text)
    if match is None:
        plain = not text or text.lower().startswith("none") or "=" in text
        return NO_KEY if plain else None
    tonic, word = fifths(match[1] + match[2]), match[3].lower()[:3]
    signs = {
        letter.upper(): ALTERATIONS[sign]
        for sign, letter in _KEY_SIGN.findall(text[match.start(3) + len(word) :])
    }
    if word == "exp":
        signature = {letter: by for letter, by in signs.items() if by}
        mode = _mode_of(tonic, signature)
    else:
        mode = _MODES.get("" if word in _CLEFS else word, "")
        if not mode:
            return None
        signature = altered_letters(tonic - MODES[mode][0]) | signs
    return Keyed(Key(tonic, MODES[mode][1]), mode, signature)


def _mode_of(tonic: int, signature: dict[str, int]) -> str:
    """The mode that has this signature on this tonic; where none has, major or minor by the third."""
    for mode, (above, _) in MODES.items():
        if altered_letters(tonic - above) == signature:
            return mode
    third = "FCGDAEB"[(tonic + 5) % 7]
    return "major" if signature.get(third, 0) == (tonic + 5) // 7 else "minor"


def meter_in(text: str) -> Timed | None:
    """``C``, ``C|``, ``6/8``; None for what is no time signature."""
    text = {"C": "4/4", "C|": "2/2"}.get(text.strip(), text.strip())
    match = _METER.fullmatch(text)
    return Timed(int(match[1]), int(match[2])) if match and int(match[1]) and int(match[2]) else None


def length_in(text: str) -> Ticks | None:
    """``1/8`` in ticks; None for what is no length."""
    match = _LENGTH.fullmatch(text.strip())
    up, down = (int(match[1]), int(match[2] or 1)) if match else (0, 1)
    return share(TICKS_PER_WHOLE, up, down) if up and down else None


def tempo_in(text: str, unit: Ticks, meter: Meter) -> tuple[int, str] | None:
    """``1/4=120`` as (beats a minute, unit); a number alone counts units of length, as the standard says.

    A beat without a name of its own is told in the meter's. None where no tempo is given in numbers.
    """
    match = _BEATS.match(re.sub(r'"[^"]*"', "", text))
    if match is None:
        return None
    beat: Ticks = unit if match[3] else 0
    for part in (match[1] or "").split():
        up, down = map(int, part.split("/"))
        beat += share(TICKS_PER_WHOLE, up, down) if down else 0
    minute = int(match[2] or match[3])
    if isinstance(beat, int) and beat in _UNITS:
        return (minute, _UNITS[beat]) if minute else None
    counted = round(Fraction(minute * beat, meter.beat_ticks))
    return (counted, meter.beat_unit) if counted else None
