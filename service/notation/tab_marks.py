"""What stands around a staff: chords, measure numbers, lengths, endings, picking fingers; and what is
said in the lines before it: meter, tuning, capo."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from service.errors import DomainError, Fault, ReadingError
from service.music.harmony import Chord, chord_named
from service.music.instruments import Instrument
from service.music.meter import METER_NAMES, TICKS_PER_WHOLE
from service.notation.clean import Line
from service.notation.tab_measures import Piece, RawMeasure
from service.notation.tab_rows import Staff, right_hand

_WORD = re.compile(r"\S+")
_LENGTH = re.compile(r"\(?(\d{1,2})/(\d{1,2})\)?$")
_ENDING = re.compile(r"[\[|]?([1-9])\.[_\-\]|]*$|\[([1-9])[_\-\]|]*$")
_METER = re.compile(r"(?<![(\d])\b([2346])/([248])\b|\bcut[ -]time\b|\bwaltz\b|\bjig\b", re.IGNORECASE)
_COLUMNS = re.compile(r"\b(\d{1,2})\s+(?:columns|spaces|slots)\b", re.IGNORECASE)
_LEFT_HAND_LETTERS = frozenset({"H", "P", "S", "SL", "h", "s", "sl", "/", "\\", "ch", "b"})
_CAPO = re.compile(
    r"\bcapo(?:\s+(?:on|at|the|fret|up))*[\s:=]+(?:fret\s+)?(\d{1,2}|[ivx]{1,4})(?:st|nd|rd|th)?\b",
    re.IGNORECASE,
)
_ANY_CAPO = re.compile(r"(?<!no )(?<!without )\bcapo\b", re.IGNORECASE)
_ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x")
_STATED_METER = re.compile(r"\b(?:time|meter|metre)\s*[:=]?\s*(\d{1,2}/\d{1,2})", re.IGNORECASE)
_STATED_TUNING = re.compile(r"\btuning\s*[:=]\s*(\S[^,;|]*)", re.IGNORECASE)
_STOP = re.compile(r"\b(?:5th|fifth) string (?:(open)|at (?:fret )?(\d{1,2}))\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Finger:
    """A picking finger where it is written."""

    letter: str
    line: Line
    at: int


@dataclass(slots=True)
class Marks:
    """Marks by measure index; columns are places within the measure's text."""

    chords: list[tuple[int, int, Chord | None]] = field(default_factory=list)
    numbers: dict[int, int] = field(default_factory=dict)
    lengths: dict[int, int] = field(default_factory=dict)
    length_places: dict[int, tuple[Line, int, str]] = field(default_factory=dict)
    endings: dict[int, int] = field(default_factory=dict)
    fingers: dict[tuple[int, int], list[Finger]] = field(default_factory=dict)
    remarks: list[Fault] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Said:
    """What the lines before the first staff state."""

    meter: str | None = None
    tuning: str | None = None
    capo: int | None = None
    columns: int | None = None
    stop_fret: int | None = None
    remarks: tuple[Fault, ...] = ()


def read_said(lines: Iterable[Line], instrument: Instrument) -> Said:
    meter = tuning = None
    capo = columns = stop = None
    remarks: list[Fault] = []
    for line in lines:
        text = line.text
        _refuse_unknown(line, instrument)
        said_stop = _STOP.search(text)
        if said_stop:
            stop = 0 if said_stop.group(1) else int(said_stop.group(2))
        found = _METER.search(text)
        if found and meter is None:
            meter = {"cut": "2/2", "wal": "3/4", "jig": "6/8"}.get(found.group().lower()[:3], found.group())
        said_capo = _CAPO.search(text)
        if said_capo and capo is None:
            written = said_capo.group(1).lower()
            capo = (
                int(written)
                if written.isdigit()
                else _ROMAN.index(written) + 1
                if written in _ROMAN
                else None
            )
        mention = _ANY_CAPO.search(text)
        if mention and capo is None:
            remarks.append(line.fault("capo-not-understood", mention.start()))
        said_columns = _COLUMNS.search(text)
        if said_columns and columns is None and int(said_columns.group(1)) > 0:
            columns = int(said_columns.group(1))
        tuning = tuning or _tuning_in(f" {text} ", instrument)
    return Said(meter, tuning, capo, columns, stop, tuple(remarks))


def _refuse_unknown(line: Line, instrument: Instrument) -> None:
    """A meter or tuning that is stated but not known here is a fault: reading on would be a guess."""
    meter = _STATED_METER.search(line.text)
    if meter and meter.group(1) not in METER_NAMES:
        known = ", ".join(METER_NAMES)
        raise ReadingError([line.fault("unknown-meter", meter.start(1), name=meter.group(1), known=known)])
    tuning = _STATED_TUNING.search(line.text)
    if tuning and _tuning_in(f" {tuning.group(1)} ", instrument) is None:
        known = ", ".join(t.id for t in instrument.tunings)
        name, at = tuning.group(1).strip(), tuning.start(1)
        raise ReadingError(
            [line.fault("unknown-tuning", at, name=name[:40], instrument=instrument.name, known=known)]
        )


def _tuning_in(text: str, instrument: Instrument) -> str | None:
    """The tuning that a text names or spells."""
    lowered = text.lower()
    for candidate in instrument.tunings:
        plain, _, spelled = candidate.name.rstrip(")").partition(" (")
        named = re.search(
            rf"\b{re.escape(plain.lower())}\b(?=.*tuning)|^ *{re.escape(plain.lower())} *$", lowered
        )
        if spelled in text or named or (len(plain) > 2 and plain != "standard" and plain.lower() in lowered):
            return candidate.id
    return None


def read_marks(staves: Sequence[Staff], measures: Sequence[RawMeasure]) -> Marks:
    """Everything written above and below the staves, given to the measure it stands over."""
    marks = Marks()
    by_staff: dict[int, list[tuple[int, Piece, int]]] = {}
    for index, measure in enumerate(measures):
        offset = 0
        for piece in measure.pieces:
            by_staff.setdefault(piece.staff, []).append((index, piece, offset))
            offset += piece.width
    for number, staff in enumerate(staves):
        places = by_staff.get(number, [])
        if not places:
            continue
        for line in staff.above:
            if not _fingers(line, places, marks) and not _left_out(line, marks):
                _above(line, places, marks)
        for line in staff.below:
            if not _fingers(line, places, marks):
                _left_out(line, marks)
    return marks


def _chord(word: str) -> tuple[bool, Chord | None]:
    try:
        return True, chord_named(word)
    except DomainError:
        return False, None


def _above(line: Line, places: Sequence[tuple[int, Piece, int]], marks: Marks) -> None:
    words = list(_WORD.finditer(line.text))
    kinds = [_kind(word.group()) for word in words]
    known = sum(kind != "?" for kind in kinds)
    if not words or known * 2 <= len(words):
        return
    if _counts_beats(words, kinds, places):
        return
    for word, kind in zip(words, kinds, strict=True):
        text = word.group()
        if kind == "number":
            # numbers end at the bar line of their measure
            index, _ = _where(word.end(), places)
            marks.numbers.setdefault(index, int(text))
            continue
        index, column = _where(word.start(), places)
        if kind == "chord":
            if line.text[: word.start()].rstrip().endswith("|"):
                column = 0  # first between bars of its own
            marks.chords.append((index, column, _chord(text)[1]))
        elif kind == "length":
            up, down = (int(n) for n in _LENGTH.match(text).groups())  # type: ignore[union-attr]
            marks.lengths[index] = TICKS_PER_WHOLE * up // down
            marks.length_places[index] = (line, word.start(), text)
        elif kind == "ending":
            match = _ENDING.match(text)
            if match:
                marks.endings[index] = int(match.group(1) or match.group(2))
        elif kind == "?":
            marks.remarks.append(line.fault("not-a-chord", word.start(), word=text))


def _counts_beats(
    words: Sequence[re.Match[str]], kinds: Sequence[str], places: Sequence[tuple[int, Piece, int]]
) -> bool:
    """Whether numbers count the beats of measures instead of the measures."""
    numbers = [
        (_where(w.end(), places)[0], int(w.group()))
        for w, k in zip(words, kinds, strict=True)
        if k == "number"
    ]
    rising = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(numbers))
    return not rising and all(kind in ("number", "skip") for kind in kinds)


def _kind(word: str) -> str:
    if word.isdigit():
        return "number" if len(word) <= 3 else "?"
    length = _LENGTH.match(word)
    if length and int(length.group(2)) in (1, 2, 4, 8, 16) and int(length.group(1)) > 0:
        return "length"
    if _ENDING.match(word):
        return "ending"
    if _chord(word)[0]:
        return "chord"
    return "skip" if set(word) <= set("|%/-_.~") else "?"


def _where(column: int, places: Sequence[tuple[int, Piece, int]]) -> tuple[int, int]:
    """The measure that a character stands over, and how far into it; a bar line counts to its right."""
    for index, piece, offset in reversed(places):
        if column >= piece.first - 1:
            return index, max(0, column - piece.first) + offset
    return places[0][0], 0


def _fingers(line: Line, places: Sequence[tuple[int, Piece, int]], marks: Marks) -> bool:
    """Take a line of picking fingers; False if it is none."""
    letters = right_hand(line)
    for at, letter in letters:
        index, column = _where(at, places)
        marks.fingers.setdefault((index, column), []).append(Finger(letter, line, at))
    return bool(letters)


def _left_out(line: Line, marks: Marks) -> bool:
    """Remark on a line of left-hand letters outside the rows; False if it is none."""
    words = list(_WORD.finditer(line.text))
    if not words or not all(word.group() in _LEFT_HAND_LETTERS for word in words):
        return False
    marks.remarks.append(line.fault("marks-left-out", words[0].start(), marks=line.text.strip()[:40]))
    return True
