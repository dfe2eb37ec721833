"""Cuts staves into measures at their bar lines, before anything is said about time."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.errors import Fault
from service.notation.clean import Line
from service.notation.tab_rows import GOES_ON, Row, Staff

_BARS = re.compile(r"[|\[\]](?:\s*[|\[\]])*")
_DOTS = ":*."


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of every string's row: character ranges by string, string 1 first, in one staff."""

    staff: int
    spans: tuple[tuple[Line, int, int], ...]
    width: int

    @property
    def first(self) -> int:
        """Where the music begins, as a character of the top row."""
        return self.spans[0][1]


@dataclass(frozen=True, slots=True)
class RawMeasure:
    """A measure in characters: one piece, or several where a staff was wrapped inside it."""

    pieces: tuple[Piece, ...]
    repeat_from: bool = False
    repeat_to: bool = False
    closed: bool = True
    opened: bool = True

    @property
    def width(self) -> int:
        return sum(piece.width for piece in self.pieces)


def measure_up(staves: Sequence[Staff], faults: list[Fault], remarks: list[Fault]) -> list[RawMeasure]:
    """All measures of all staves in order. Rows that do not line up go to ``faults``."""
    found: list[RawMeasure] = []
    goes_on = False
    for index, staff in enumerate(staves):
        measures = _of_staff(index, staff, found, faults, remarks)
        if goes_on and found and measures:
            joined = replace(
                measures[0],
                pieces=found[-1].pieces + measures[0].pieces,
                repeat_from=found[-1].repeat_from,
                opened=found[-1].opened,
            )
            found[-1:] = [joined]
            measures = measures[1:]
        found.extend(measures)
        goes_on = any(row.body.endswith(GOES_ON) for row in staff.rows)
    return found


def _of_staff(
    index: int, staff: Staff, before: Sequence[RawMeasure], faults: list[Fault], remarks: list[Fault]
) -> list[RawMeasure]:
    cut = [_segments(row) for row in staff.rows]
    counts = [len(segments) for segments, _, _ in cut]
    usual = max(set(counts), key=counts.count)
    for row, count in zip(staff.rows, counts, strict=True):
        if count != usual:
            faults.append(row.line.fault("bars-do-not-line-up", row.start, measures=count, others=usual))
    if any(count != usual for count in counts):
        return []
    measures: list[RawMeasure] = []
    for number in range(usual):
        edges = [segments[number] for segments, _, _ in cut]
        spans = [(row.line, edge.start, edge.end) for row, edge in zip(staff.rows, edges, strict=True)]
        spans, dots_before, dots_after = _without_dots(
            spans, all(edge.heavy_before for edge in edges), all(edge.heavy_after for edge in edges)
        )
        width = _agreed_width(spans, len(before) + number + 1, faults, remarks)
        measures.append(
            RawMeasure(
                (Piece(index, tuple(spans), width),),
                repeat_from=dots_before,
                repeat_to=dots_after,
                closed=number < usual - 1 or all(closed for _, _, closed in cut),
                opened=number > 0 or all(opened for _, opened, _ in cut),
            )
        )
    return measures


@dataclass(frozen=True, slots=True)
class _Segment:
    """Characters between two bars; ``heavy`` sides have a double bar."""

    start: int
    end: int
    heavy_before: bool = False
    heavy_after: bool = False


def _segments(row: Row) -> tuple[list[_Segment], bool, bool]:
    """Stretches between bars, and whether the row begins and ends with a bar."""
    text, start, end = row.line.text, row.start, row.end
    if end > start and text[end - 1] == GOES_ON:
        end -= 1
    if start < end and text[start] == GOES_ON:
        start += 1
    bars = [(m.start(), m.end()) for m in _BARS.finditer(text, start, end)]
    found: list[_Segment] = []
    at, heavy = start, False
    for left, right in bars:
        if left > at and text[at:left].strip():
            found.append(_Segment(at, left, heavy, right - left > 1))
        at, heavy = right, right - left > 1
    closed = not text[at:end].strip()
    if not closed:
        found.append(_Segment(at, end, heavy))
    return found, bool(bars) and not text[start : bars[0][0]].strip(), closed and bool(bars)


def _without_dots(
    spans: list[tuple[Line, int, int]], heavy_before: bool, heavy_after: bool
) -> tuple[list[tuple[Line, int, int]], bool, bool]:
    """Leave out a column of repeat dots at either edge, in every row; small o is one beside a double bar."""
    left, right = _DOTS + "oO" * heavy_before, _DOTS + "oO" * heavy_after
    before = any(end > start and line.text[start] in left for line, start, end in spans)
    if before:
        spans = [(line, min(start + 1, end), end) for line, start, end in spans]
    after = any(end > start and line.text[end - 1] in right for line, start, end in spans)
    if after:
        spans = [(line, start, max(start, end - 1)) for line, start, end in spans]
    return spans, before, after


def _agreed_width(
    spans: Sequence[tuple[Line, int, int]], measure: int, faults: list[Fault], remarks: list[Fault]
) -> int:
    """The width that all rows with notes share; rows of dashes alone may differ."""
    noted = [(line, start, end) for line, start, end in spans if re.search(r"[^-\s]", line.text[start:end])]
    widths = [end - start for _, start, end in (noted or spans)]
    usual = max(set(widths), key=lambda width: (widths.count(width), width))
    for span in spans:
        line, start, end = span
        if end - start != usual:
            into, code = (faults, "row-width") if span in noted else (remarks, "empty-row-width")
            into.append(line.fault(code, start, measure=measure, columns=end - start, others=usual))
    return usual


def cut_unbarred(measure: RawMeasure, into: int) -> list[RawMeasure]:
    """An unbarred staff cut into so many measures of equal width; what is left over goes with the last."""
    piece = measure.pieces[0]
    width = piece.width // into
    found: list[RawMeasure] = []
    for number in range(into):
        last = number == into - 1
        spans = tuple(
            (line, min(start + number * width, end), end if last else min(start + (number + 1) * width, end))
            for line, start, end in piece.spans
        )
        wide = piece.width - number * width if last else width
        found.append(replace(measure, pieces=(Piece(piece.staff, spans, wide),)))
    return found
