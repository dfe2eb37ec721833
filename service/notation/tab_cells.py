"""Reads the characters of one string within one measure: frets and what links them."""

import re
from dataclasses import dataclass

from service.errors import Fault
from service.notation.clean import Line

# Marks that the notes on both sides decide: a wave is a tie to the same fret, else vibrato; `^` is a
# hammer-on going up and a pull-off going down.
WAVE, EITHER_WAY = "wave", "either way"

# What stands between two notes, and what it makes of the second.
LINKS: dict[str, str] = {
    "h": "hammer-on",
    "H": "hammer-on",
    "p": "pull-off",
    "P": "pull-off",
    "/": "slide",
    "\\": "slide",
    "s": "slide",
    "S": "slide",
    "sl": "slide",
    "SL": "slide",
    "=": "tie",
    "t": "tie",
    "T": "tie",
    "_": WAVE,
    "~": WAVE,
    "^": EITHER_WAY,
}
_PASSED_OVER = {"r": "release", "R": "release", "v": "vibrato", "V": "vibrato"}
_TOKEN = re.compile(
    r"(?P<ghost>\(\d{1,2}\))|(?P<harmonic><\d{1,2}>)|(?P<digits>\d+)|(?P<mute>[xX])|(?P<dash>[-\s]+)"
    r"|(?P<link>sl|SL|[hHpPsS/\\=_~tT^])|(?P<choke>(?:ch|CH|[bBcC])(?:\d{1,2})?)|(?P<passed>[rRvV]\d{0,2})"
)


@dataclass(frozen=True, slots=True)
class Cell:
    """A note as written: ``at`` is the character where its fret begins, counted from the bar line."""

    at: int
    fret: int
    technique: str | None
    width: int

    def moved(self, by: int) -> "Cell":
        return Cell(self.at + by, self.fret, self.technique, self.width) if by else self


@dataclass(frozen=True, slots=True)
class CellsRead:
    cells: tuple[Cell, ...]
    pending: str | None
    remarks: tuple[Fault, ...]
    faults: tuple[Fault, ...]
    marks: frozenset[int]


def read_cells(line: Line, start: int, end: int, frets: int, carried: str | None = None) -> CellsRead:
    """The notes between two bar lines of one row.

    ``carried`` is a link left open by the measure before; ``pending`` in the result is one left open
    here. ``marks`` are the characters that only link, as places counted from the bar line.
    """
    cells: list[Cell] = []
    remarks: list[Fault] = []
    faults: list[Fault] = []
    marks: set[int] = set()
    link = carried

    index = start
    while index < end:
        match = _TOKEN.match(line.text, index, end)
        if match is None:
            letter = line.text[index]
            code = "letter-for-nought" if letter in "oO" else "unknown-mark"
            faults.append(line.fault(code, index, mark=letter))
            index += 1
            continue
        kind, text = match.lastgroup, match.group()
        at = index - start
        if kind in ("ghost", "harmonic"):
            fret = int(text[1:-1])
            technique = "ghost" if kind == "ghost" else LINKS.get(link or "")
            cells.append(Cell(at + 1, fret, technique, len(text) - 2))
            if kind == "harmonic":
                remarks.append(line.fault("harmonic-as-note", index, mark=text))
            marks.update((at, at + len(text) - 1))
            link = None
        elif kind == "digits":
            numbers = _split_digits(text, frets)
            if numbers is None:
                faults.append(line.fault("run-together", index, digits=text))
            else:
                if len(numbers) > 1:
                    remarks.append(line.fault("digits-apart", index, digits=text, read=" ".join(numbers)))
                for number in numbers:
                    cells.append(Cell(at, int(number), LINKS.get(link or ""), len(number)))
                    at, link = at + len(number), None
            link = None
        elif kind == "mute":
            cells.append(Cell(at, 0, "mute", 1))
            link = None
        elif kind == "choke" and cells:
            last = cells[-1]
            if last.at + last.width != at:
                faults.append(line.fault("choke-without-note", index, mark=text))
            cells[-1] = Cell(last.at, last.fret, "choke", last.width)
            if text[-1].isdigit():
                remarks.append(line.fault("passed-over", index, mark=text, what="how far it is choked"))
            marks.update(range(at, at + len(text)))
        elif kind == "choke":
            faults.append(line.fault("choke-without-note", index, mark=text))
        elif kind == "passed":
            remarks.append(line.fault("passed-over", index, mark=text, what=_PASSED_OVER[text[0]]))
            marks.update(range(at, at + len(text)))
        elif kind == "link":
            link = text
            marks.update(range(at, at + len(text)))
        index = match.end()
    return CellsRead(tuple(cells), link, tuple(remarks), tuple(faults), frozenset(marks))


def _split_digits(digits: str, frets: int) -> list[str] | None:
    """The frets in a run of digits; None if it can be read in several ways.

    Two digits are one fret when the neck has it (12), else two notes side by side (02, 35).
    """
    if len(digits) <= 2:
        return [digits] if len(digits) == 1 or (digits[0] != "0" and int(digits) <= frets) else list(digits)
    return _only_way(digits, frets)


def _only_way(digits: str, frets: int) -> list[str] | None:
    """The one way to cut a run of digits into frets; None if there are several."""
    size = len(digits)
    ways = [0] * size + [1, 0]

    def fits(start: int, end: int) -> bool:
        return end - start == 1 or (end <= size and digits[start] != "0" and int(digits[start:end]) <= frets)

    for start in range(size - 1, -1, -1):
        ways[start] = min(2, sum(ways[end] for end in (start + 1, start + 2) if fits(start, end)))
    if ways[0] != 1:
        return None
    found: list[str] = []
    at = 0
    while at < size:
        end = next(end for end in (at + 1, at + 2) if fits(at, end) and ways[end])
        found.append(digits[at:end])
        at = end
    return found
