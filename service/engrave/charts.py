"""Chord charts to play from: a part a block, measures in boxes, phrases held together by heavier bars."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from service.engrave.letters import CAP_HEIGHT, width_of
from service.engrave.looks import LABEL, Look
from service.engrave.paint import ACCENT, INK, LINE, MIDDLE, PAPER, SOFT, Box, Line, Mark, Text
from service.engrave.rows import Row
from service.engrave.spacing import chord_text
from service.music.tunes import Tune

# Base sizes, all ours.
CHORD_SIZE = 19.0
CELL = 34.0  # height of a measure
GUTTER = 24.0  # for the part's letter
PHRASE_BAR, BAR = 2.0, 0.7
LEAST_SHARE = 0.62  # of its size: how far a name is set smaller where chords stand close


@dataclass(frozen=True, slots=True)
class ChartMeasure:
    """Length in ticks, and the names of its chords with their onsets; ``begins`` that a phrase begins with it."""

    ticks: int
    chords: tuple[tuple[int, str], ...]
    begins: bool


@dataclass(frozen=True, slots=True)
class ChartPart:
    name: str
    measures: tuple[ChartMeasure, ...]


IN_ROW = 4  # measures, where phrases allow it


def chart_of(tune: Tune, moved: int = 0) -> tuple[ChartPart, ...]:
    """The parts of a tune; ``moved`` on the line of fifths is from the sounding key to the playing position."""
    found = []
    for part in tune.parts:
        starts = set(accumulate(part.cuts[:-1], initial=0))
        measures = []
        for index, measure in enumerate(part.measures):
            names = tuple(
                (c.onset, "N.C." if c.chord is None else c.chord.moved(moved).respelled().name)
                for c in measure.changes
            )
            measures.append(ChartMeasure(measure.ticks, names, index in starts))
        found.append(ChartPart(part.name, tuple(measures)))
    return tuple(found)


def chart_rows(parts: Sequence[ChartPart], page: Look, size: float = 1.0) -> Sequence[Row]:
    """A row for each line of measures, whole phrases to a line; ``size`` times as large as beside music."""
    look = replace(page, scale=page.scale * size)
    rows: list[Row] = []
    for part in parts:
        lines = _lines(part)
        widest = max(after - first for first, after in lines)
        rows.extend(_row(part, first, after, widest, look) for first, after in lines)
        rows.append(Row(look.of(8), lambda y: ()))
    return rows


def _lines(part: ChartPart) -> list[tuple[int, int]]:
    """Lines of four measures: phrases go to a line until it has as many; one that is left with a single measure goes along."""
    starts = [index for index, measure in enumerate(part.measures) if measure.begins]
    ends = [*starts[1:], len(part.measures)]
    lines: list[tuple[int, int]] = []
    for start, end in zip(starts, ends, strict=True):
        before = lines[-1][1] - lines[-1][0] if lines else IN_ROW
        room = before + end - start <= IN_ROW
        left_over = end == len(part.measures) and before <= IN_ROW // 2
        if lines and (room or left_over or end - start == 1):
            lines[-1] = (lines[-1][0], end)
        else:
            lines.append((start, end))
    return lines


def _row(part: ChartPart, first: int, after: int, widest: int, look: Look) -> Row:
    line = part.measures[first:after]
    cell = (look.room - look.of(GUTTER)) / widest
    longest = max(measure.ticks for measure in part.measures)

    def paint(y: float) -> Iterator[Mark]:
        x = look.margin + look.of(GUTTER)
        top, bottom = y + look.of(2), y + look.of(CELL - 2)
        if first == 0:
            wide = max(look.of(17), width_of(part.name, look.of(13), True) + look.of(6))
            yield Box(look.margin, top, wide, look.of(19), ACCENT, look.of(3))
            yield Text(look.margin + wide / 2, top + look.of(14), look.of(13), part.name, PAPER, MIDDLE, True)
        for index, measure in enumerate(line):
            # a short measure is a narrow box
            wide = cell * (measure.ticks / longest if measure.ticks < longest else 1.0)
            bar = PHRASE_BAR if measure.begins else BAR
            yield Line(x, top, x, bottom, look.of(bar), INK if measure.begins else LINE)
            yield Text(
                x + look.of(3), top + look.of(LABEL * 0.75), look.of(6.5), str(first + index + 1), SOFT
            )
            yield from _names(measure, x, wide, (top + bottom) / 2, look)
            x += wide
        yield Line(x, top, x, bottom, look.of(PHRASE_BAR), INK)

    return Row(look.of(CELL), paint)


def _names(measure: ChartMeasure, x: float, wide: float, middle: float, look: Look) -> Iterator[Mark]:
    size = look.of(CHORD_SIZE)
    ends = [*(onset for onset, _ in measure.chords[1:]), measure.ticks]
    for (onset, name), end in zip(measure.chords, ends, strict=True):
        text = chord_text(name)
        left = x + wide * onset / measure.ticks + look.of(8)
        room = wide * (end - onset) / measure.ticks - look.of(9)
        needed = width_of(text, size, True)
        points = size if needed <= room else max(size * LEAST_SHARE, size * room / needed)
        yield Text(left, middle + points * CAP_HEIGHT / 2 + look.of(2), points, text, INK, bold=True)
