"""What stands around a staff: chords, measure numbers, lengths, endings, picking fingers."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from service.errors import DomainError, Fault
from service.music.harmony import Chord, chord_named
from service.music.meter import TICKS_PER_WHOLE
from service.notation.clean import Line
from service.notation.tab_measures import Piece, RawMeasure
from service.notation.tab_rows import Staff, right_hand

_WORD = re.compile(r"\S+")
_LENGTH = re.compile(r"\(?(\d{1,3})/(\d{1,3})\)?$")
_ENDING = re.compile(r"[\[|]?([1-9])\.[_\-\]|]*$|\[([1-9])[_\-\]|]*$")
_LEFT_HAND_LETTERS = frozenset({"H", "P", "S", "SL", "h", "s", "sl", "/", "\\", "ch", "b"})


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
            marks.lengths[index] = TICKS_PER_WHOLE * up // down if down else 0
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
    if length and (word.startswith("(") or int(length.group(2)) in (1, 2, 4, 8, 16)):
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
