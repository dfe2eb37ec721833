"""A sheet as data: what stands on it, from top to bottom, to be set on a phone, a screen or paper.

Words come in ready to be shown; nothing here makes any.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.engrave.bands import Options
from service.engrave.charts import ChartPart, chart_rows
from service.engrave.diagrams import shape_rows
from service.engrave.letters import CAP_HEIGHT, shortened
from service.engrave.looks import COLUMN_GAP, Look
from service.engrave.pages import pages
from service.engrave.paint import INK, SOFT, Picture, Text
from service.engrave.rows import (
    SPACING,
    Row,
    beat_row,
    credit_rows,
    gap,
    music_rows,
    rule,
    side_by_side,
    text_rows,
    title_row,
)
from service.music.fretboard import Fretboard
from service.music.harmony import Chord
from service.music.instruments import Instrument, Tuning
from service.music.scores import Beat, Score
from service.music.shapes import Shape, shapes

HEADING = 13.0
TABLE_SIZE = 10.5
# Sizes tried: a page turned while playing is worse than letters a little smaller. Ours.
SMALLER: dict[str, tuple[float, ...]] = {"": (), "somewhat": (0.93, 0.87), "one": (0.9, 0.8, 0.7, 0.6)}
UP_THE_NECK = 0.25  # of a finger for each fret: shapes for a sheet lie low; ours
PLAIN = Options()


@dataclass(frozen=True, slots=True)
class Title:
    text: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """Of a part of the sheet; ``lines`` stand small below it."""

    text: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tempo:
    beat: Beat
    words: str = ""


@dataclass(frozen=True, slots=True)
class Music:
    score: Score
    options: Options = PLAIN


@dataclass(frozen=True, slots=True)
class Stock:
    """Short pieces of music, side by side where there is room."""

    pieces: tuple[Music, ...]


@dataclass(frozen=True, slots=True)
class Shapes:
    """A shape for each chord, named in the playing position; chords that no hand can hold there are left out."""

    chords: tuple[Chord, ...]
    instrument: Instrument
    tuning: Tuning
    capo: int = 0


@dataclass(frozen=True, slots=True)
class Chart:
    """``size`` times as large as beside music."""

    parts: tuple[ChartPart, ...]
    size: float = 1.0


@dataclass(frozen=True, slots=True)
class Table:
    """Lines of equally many cells; the first column is narrow and strong."""

    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Credits:
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    pass


Block = Title | Heading | Tempo | Music | Stock | Shapes | Chart | Table | Credits | NewPage


@dataclass(frozen=True, slots=True)
class Sheet:
    """``title`` and ``description`` are for those who cannot see it; ``foot`` is said below each page, with {page} and {pages}.

    ``fit`` says how much smaller it may be set to take fewer pages: not at all (``""``), ``somewhat``, or for one page (``one``).
    """

    title: str
    description: str
    foot: str
    blocks: tuple[Block, ...]
    fit: str = ""


def laid_out(sheet: Sheet, look: Look) -> tuple[Picture, ...]:
    """The sheet's pages. Raises DomainError ``rhythm-too-fine`` for music that cannot be written."""
    found = _laid_out(sheet, look)
    for size in SMALLER[sheet.fit]:
        if len(found) == 1:
            break
        other = _laid_out(sheet, replace(look, scale=look.scale * size))
        found = other if len(other) < len(found) else found
    return found


def _laid_out(sheet: Sheet, look: Look) -> tuple[Picture, ...]:
    rows: list[Row] = []
    for block in sheet.blocks:
        rows.extend(_ROWS[type(block)](block, look))
    return pages(
        rows,
        look,
        sheet.title,
        lambda number, of: sheet.description,
        lambda number, of: sheet.foot.format(page=number, pages=of),
    )


def _title(block: Title, look: Look) -> Sequence[Row]:
    lines = [row for line in block.lines for row in text_rows(line, look)]
    return [*title_row(block.text, look), *lines]


def _heading(block: Heading, look: Look) -> Sequence[Row]:
    lines = [row for line in block.lines for row in text_rows(line, look)]
    return [gap(look.of(6)), *title_row(block.text, look, HEADING), *lines, gap(look.of(4))]


def _music(block: Music, look: Look) -> Sequence[Row]:
    return [gap(look.of(6)), *music_rows(block.score, look, block.options)]


def _shapes(block: Shapes, look: Look) -> Sequence[Row]:
    board = Fretboard(block.instrument, block.tuning, block.capo)
    found = [shape for chord in block.chords if (shape := _low_shape(chord, board)) is not None]
    return [gap(look.of(6)), *shape_rows(found, block.instrument, look)]


def _low_shape(chord: Chord, board: Fretboard) -> Shape | None:
    """The easiest that has all tones and lies low."""
    return min(
        shapes(chord, board),
        key=lambda shape: (len(shape.missing), shape.effort + UP_THE_NECK * max(0, shape.lies - 1)),
        default=None,
    )


def _stock(block: Stock, look: Look) -> Sequence[Row]:
    """Each piece whole; two beside each other where both are one line long."""
    column = look.column
    rows: list[Row] = []
    waiting: Sequence[Row] | None = None
    for piece in block.pieces:
        narrow = music_rows(piece.score, column, piece.options)
        if column is look or len(narrow) > 1:
            rows.extend(music_rows(piece.score, look, piece.options))
        elif waiting is None:
            waiting = narrow
        else:
            rows.append(side_by_side((waiting, narrow), look.room / 2 + COLUMN_GAP / 2))
            waiting = None
    if waiting is not None:
        rows.extend(waiting)
    return rows


def _table(block: Table, look: Look) -> Sequence[Row]:
    size = look.of(TABLE_SIZE)
    first = look.room * 0.3
    rest = (look.room - first) / max(1, len(block.rows[0]) - 1) if block.rows else 0.0

    def row(cells: tuple[str, ...]) -> Row:
        def paint(y: float) -> list[Text]:
            line = y + size * (SPACING + CAP_HEIGHT) / 2
            found = []
            for index, cell in enumerate(cells):
                x = look.margin + (0.0 if index == 0 else first + rest * (index - 1))
                room = (first if index == 0 else rest) - look.of(6)
                bold = index == 0
                found.append(
                    Text(x, line, size, shortened(cell, size, room, bold), INK if bold else SOFT, bold=bold)
                )
            return found

        return Row(size * SPACING * 1.1, paint)

    return [row(cells) for cells in block.rows]


_ROWS: dict[type, Callable[[Any, Look], Sequence[Row]]] = {
    Title: _title,
    Heading: _heading,
    Tempo: lambda block, look: [beat_row(block.beat, block.words, look)],
    Music: _music,
    Stock: _stock,
    Shapes: _shapes,
    Chart: lambda block, look: [gap(look.of(6)), *chart_rows(block.parts, look, block.size)],
    Table: _table,
    Credits: lambda block, look: [rule(look), *credit_rows(block.lines, look)],
    NewPage: lambda block, look: [Row(0.0, lambda y: (), page_break=True)],
}
