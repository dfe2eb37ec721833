"""Rows: whatever takes the width of a page, each with a height and a way to draw it at its place."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from service.engrave.bands import Options, bands
from service.engrave.letters import lines_of, symbol_width, width_of
from service.engrave.looks import FACT, NOTE, STAFF_SPACE, SYSTEM_GAP, TITLE, Look
from service.engrave.marks import draw_marks
from service.engrave.notation import draw_notation, lead_of
from service.engrave.paint import ACCENT, INK, SOFT, START, Glyph, Line, Mark, Text, aside
from service.engrave.spacing import System, systems
from service.engrave.staff import draw_staff
from service.music.scores import Beat, Score

SPACING = 1.35  # of lines of text, by their size
_BEAT_GLYPHS = {
    "half": ("metNoteHalfUp", False),
    "quarter": ("metNoteQuarterUp", False),
    "dotted quarter": ("metNoteQuarterUp", True),
    "eighth": ("metNote8thUp", False),
}


@dataclass(frozen=True, slots=True)
class Row:
    """``paint`` draws it with its top at a height; ``music`` says that it is a system, ``keep`` that it stays with the next,
    ``page_break`` that a new page begins here."""

    height: float
    paint: Callable[[float], Iterable[Mark]]
    music: bool = False
    keep: bool = False
    page_break: bool = False


def gap(height: float) -> Row:
    return Row(height, lambda y: (), keep=True)


def title_row(text: str, look: Look, size: float = TITLE) -> Sequence[Row]:
    """A title, in as many lines as it needs."""
    points = look.of(size)
    return [
        _text_row(line, look, points, INK, bold=True, keep=True) for line in lines_of(text, points, look.room)
    ]


def _text_row(
    line: str, look: Look, points: float, role: str, *, bold: bool = False, keep: bool = False
) -> Row:
    return Row(
        points * SPACING,
        lambda y: [Text(look.margin, y + points, points, line, role, START, bold)],
        keep=keep,
    )


def text_rows(
    text: str, look: Look, size: float = FACT, role: str = SOFT, *, keep: bool = True
) -> Sequence[Row]:
    """A paragraph in lines of the page's width."""
    points = look.of(size)
    return [_text_row(line, look, points, role, keep=keep) for line in lines_of(text, points, look.room)]


def beat_row(beat: Beat, words: str, look: Look) -> Row:
    """The tempo: the note that is the beat, how many a minute, and whatever is said beside it."""
    size, space = look.of(FACT), look.of(FACT) * 0.42

    def paint(y: float) -> Iterator[Mark]:
        name, dotted = _BEAT_GLYPHS[beat.unit]
        x, line = look.margin, y + size * 1.3
        yield Glyph(x, line, space, name, SOFT)
        x += symbol_width(name, space) + space * 0.5
        if dotted:
            yield Glyph(x, line, space, "metAugmentationDot", SOFT)
            x += space * 0.8
        told = f" = {beat.bpm}"
        yield Text(x, line, size, told, SOFT)
        if words:
            yield Text(x + width_of(told, size) + look.of(10), line, size, words, SOFT)

    return Row(size * (SPACING + 0.3), paint, keep=True)


def rule(look: Look) -> Row:
    """A line across the page."""
    return Row(
        look.of(7),
        lambda y: [
            Line(look.margin, y + look.of(3), look.width - look.margin, y + look.of(3), look.of(0.8), ACCENT)
        ],
        keep=True,
    )


def music_rows(score: Score, look: Look, options: Options) -> Sequence[Row]:
    """The score, a row for each system."""
    lead = lead_of(score, look) if options.notation else 0.0
    return [_system_row(score, look, options, system) for system in systems(score, look, lead)]


def _system_row(score: Score, look: Look, options: Options, system: System) -> Row:
    space = look.of(STAFF_SPACE)
    at = bands(score, system, look, options, space)

    def paint(y: float) -> Iterator[Mark]:
        moved = at.moved(y)
        yield from draw_staff(score, system, moved, look)
        yield from draw_marks(score, system, moved, look, options)
        if moved.notation is not None:
            yield from draw_notation(score, system, moved, look)

    return Row(at.height + look.of(SYSTEM_GAP), paint, music=True)


def side_by_side(columns: Sequence[Sequence[Row]], apart: float) -> Row:
    """Rows of neighbours as one, each column ``apart`` points right of the one before."""

    def paint(y: float) -> Iterator[Mark]:
        for index, rows in enumerate(columns):
            at = y
            for row in rows:
                yield from (aside(mark, index * apart) for mark in row.paint(at))
                at += row.height

    height = max(sum(row.height for row in rows) for rows in columns)
    return Row(height, paint, music=True)


def credit_rows(lines: Sequence[str], look: Look) -> Sequence[Row]:
    """Where it comes from and what may be done with it, small, below everything."""
    return [row for line in lines for row in text_rows(line, look, NOTE, keep=False)]
