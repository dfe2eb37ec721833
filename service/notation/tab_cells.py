"""Reads the characters of one string within one measure: frets and what links them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from service.errors import Fault
from service.notation.clean import Line

# What stands between two notes, and what it makes of the second. None: up is a hammer-on, down a pull-off.
LINKS: dict[str, str | None] = {
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
    "_": "tie",
    "~": "tie",
    "t": "tie",
    "T": "tie",
    "^": None,
}
CHOKES = ("ch", "CH", "b", "B", "c", "C")
_PASSED_OVER = {
    "r": "release",
    "R": "release",
    "v": "vibrato",
    "V": "vibrato",
    "~": "vibrato",
    "_": "vibrato",
}
_TOKEN = re.compile(
    r"(?P<ghost>\(\d{1,2}\))|(?P<harmonic><\d{1,2}>)|(?P<digits>\d+)|(?P<mute>[xX])|(?P<dash>[-\s]+)"
    r"|(?P<link>sl|SL|[hHpPsS/\\=_~tT^])|(?P<choke>ch|CH|[bBcC])|(?P<passed>[rRvV])"
)


@dataclass(frozen=True, slots=True)
class Cell:
    """A note as written: ``at`` is the character where its fret begins, counted from the bar line."""

    at: int
    fret: int
    technique: str | None
    width: int
    link: str | None = None


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

    def fault(code: str, index: int, **params: object) -> Fault:
        return Fault(code, params, line.number, line.column(index), line.excerpt(index))

    index = start
    while index < end:
        match = _TOKEN.match(line.text, index, end)
        if match is None:
            faults.append(fault("unknown-mark", index, mark=line.text[index]))
            index += 1
            continue
        kind, text = match.lastgroup, match.group()
        at = index - start
        if kind in ("ghost", "harmonic"):
            fret = int(text[1:-1])
            technique = "ghost" if kind == "ghost" else link
            cells.append(Cell(at + 1, fret, technique, len(text) - 2))
            if kind == "harmonic":
                remarks.append(fault("harmonic-as-note", index, mark=text))
            marks.update((at, at + len(text) - 1))
            link = None
        elif kind == "digits":
            numbers = _split_digits(text, frets)
            if numbers is None:
                faults.append(fault("run-together", index, digits=text))
            else:
                if len(numbers) > 1:
                    remarks.append(fault("digits-apart", index, digits=text, read=" ".join(numbers)))
                for number in numbers:
                    cells.append(Cell(at, int(number), link, len(number)))
                    at, link = at + len(number), None
            link = None
        elif kind == "mute":
            cells.append(Cell(at, 0, "mute", 1))
            link = None
        elif kind == "choke" and cells:
            last = cells[-1]
            if last.at + last.width != at:
                faults.append(fault("choke-without-note", index, mark=text))
            cells[-1] = Cell(last.at, last.fret, "choke", last.width)
            marks.update(range(at, at + len(text)))
        elif kind == "choke":
            faults.append(fault("choke-without-note", index, mark=text))
        elif kind == "passed":
            remarks.append(fault("passed-over", index, mark=text, what=_PASSED_OVER[text]))
            marks.add(at)
        elif kind == "link":
            link = text
            marks.update(range(at, at + len(text)))
        index = match.end()
    pending = link
    return CellsRead(tuple(_named(cells)), pending, tuple(remarks), tuple(faults), frozenset(marks))


def _named(cells: list[Cell]) -> Iterator[Cell]:
    for cell in cells:
        if cell.technique in LINKS:
            yield Cell(cell.at, cell.fret, LINKS[cell.technique], cell.width, cell.technique)
        else:
            yield cell


def _split_digits(digits: str, frets: int) -> list[str] | None:
    """The frets in a run of digits; None if it can be read in several ways.

    Two digits are one fret when the neck has it (12), else two notes side by side (02, 35).
    """
    if len(digits) <= 2:
        return [digits] if len(digits) == 1 or (digits[0] != "0" and int(digits) <= frets) else list(digits)
    ways = list(islice(_ways(digits, frets), 2))
    return ways[0] if len(ways) == 1 else None


def _ways(digits: str, frets: int) -> Iterator[list[str]]:
    if not digits:
        yield []
        return
    for size in (1, 2):
        head = digits[:size]
        if len(head) == size and (size == 1 or (head[0] != "0" and int(head) <= frets)):
            for rest in _ways(digits[size:], frets):
                yield [head, *rest]
