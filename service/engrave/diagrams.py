"""Small pictures of chord shapes, lying as the tab lies: string 1 on top, the nut to the left."""

from collections.abc import Iterator, Sequence

from service.engrave.letters import CAP_HEIGHT
from service.engrave.looks import Look
from service.engrave.paint import END, INK, LINE, MIDDLE, PAPER, SOFT, Dot, Line, Mark, Text
from service.engrave.rows import Row
from service.engrave.spacing import chord_text
from service.music.instruments import Instrument
from service.music.shapes import Shape

# Base sizes, all ours.
STRINGS_APART = 8.0
FRET = 15.0
FRETS = 4  # shown at least
NAME = 11.0
FINGER = 7.5
SPOT = 4.1  # radius of a finger
BESIDE = 12.0  # room for open and silent strings left of the nut
NUT = 2.4
APART = 20.0


def shape_rows(shapes: Sequence[Shape], instrument: Instrument, look: Look) -> Sequence[Row]:
    """Diagrams side by side, as many to a row as have room."""
    widths = [look.of(BESIDE + FRET * _frets_shown(shape) + APART) for shape in shapes]
    lines: list[list[int]] = []
    used = 0.0
    for index, wide in enumerate(widths):
        if not lines or used + wide > look.room + look.of(APART):
            lines.append([])
            used = 0.0
        lines[-1].append(index)
        used += wide
    height = look.of(NAME * 1.5 + STRINGS_APART * (instrument.strings - 1) + 16)

    def row(line: list[int]) -> Row:
        def paint(y: float) -> Iterator[Mark]:
            x = look.margin
            for index in line:
                yield from draw_shape(shapes[index], instrument, x, y, look)
                x += widths[index]

        return Row(height, paint)

    return [row(line) for line in lines]


def _frets_shown(shape: Shape) -> int:
    frets = [fret for fret in shape.frets if fret]
    return max(FRETS, max(frets) - _first_fret(shape) + 1) if frets else FRETS


def _first_fret(shape: Shape) -> int:
    """The lowest fret shown: the first where the shape lies within reach of the nut."""
    frets = [fret for fret in shape.frets if fret]
    return 1 if not frets or max(frets) <= FRETS else min(frets)


def draw_shape(shape: Shape, instrument: Instrument, x: float, y: float, look: Look) -> Iterator[Mark]:
    """One diagram with its left top at (x, y)."""
    of = look.of
    first, count = _first_fret(shape), _frets_shown(shape)
    left, top = x + of(BESIDE), y + of(NAME * 1.5)
    right, bottom = left + of(FRET) * count, top + of(STRINGS_APART) * (instrument.strings - 1)
    yield Text(left, y + of(NAME), of(NAME), chord_text(shape.chord.name), INK, bold=True)
    short = instrument.short_string
    for string in range(1, instrument.strings + 1):
        height = top + of(STRINGS_APART) * (string - 1)
        begins = left
        if short and string == short[0]:
            # it begins part of the way up the neck
            begins = min(right, left + of(FRET) * max(0, short[1] - first + 1)) if first <= short[1] else left
        yield Line(begins, height, right, height, of(0.7), LINE)
    long_bottom = bottom - (of(STRINGS_APART) if short and short[0] == instrument.strings else 0.0)
    for fret in range(count + 1):
        at = left + of(FRET) * fret
        nut = fret == 0 and first == 1
        yield Line(at, top, at, long_bottom, of(NUT if nut else 0.7), INK if nut else LINE)
    if first > 1:
        size = of(FINGER)
        yield Text(left + of(FRET) / 2, bottom + size * 1.25, size, str(first), SOFT, MIDDLE)
    yield from _held(shape, first, left, top, look)


def _held(shape: Shape, first: int, left: float, top: float, look: Look) -> Iterator[Mark]:
    of = look.of
    size = of(FINGER)
    spots: dict[int, list[tuple[float, float]]] = {}
    for string, (fret, finger) in enumerate(zip(shape.frets, shape.fingers, strict=True), 1):
        y = top + of(STRINGS_APART) * (string - 1)
        if not fret:
            yield Text(left - of(4), y + size * CAP_HEIGHT / 2, size, "x" if fret is None else "0", SOFT, END)
            continue
        x = left + of(FRET) * (fret - first + 0.5)
        spots.setdefault(finger, []).append((x, y))
    for spot in spots.values():
        # one finger over several strings
        (x1, y1), (x2, y2) = spot[0], spot[-1]
        if len(spot) > 1:
            yield Line(x1, y1, x2, y2, of(SPOT * 2), INK)
    for finger, spot in spots.items():
        for x, y in spot:
            yield Dot(x, y, of(SPOT), INK)
        x, y = spot[0]
        if finger:
            yield Text(x, y + size * CAP_HEIGHT / 2, size, str(finger), PAPER, MIDDLE, True)
