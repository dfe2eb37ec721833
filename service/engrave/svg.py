"""A picture as SVG: accessible (title and description), and able to stand alone (fonts inside) where that is asked."""

from collections.abc import Callable
from itertools import groupby
from typing import Any
from xml.sax.saxutils import escape

from service.engrave.letters import FAMILY, font_faces, symbol_path
from service.engrave.paint import Box, Curve, Dot, Glyph, Line, Mark, Picture, Polygon, Text, Theme

HALO = 0.22  # of the text size: paper around letters that stand on lines
# XML allows no other control characters; those that turn the direction of text would turn what stands beside it
_CONTROL = {ord(c): None for c in map(chr, range(32)) if c not in "\t\n\r"}
_CONTROL |= dict.fromkeys([*range(0x202A, 0x202F), *range(0x2066, 0x206A)])


def write_svg(picture: Picture, theme: Theme, *, fonts: bool = True) -> str:
    """The whole file. Without ``fonts`` it is for a surface that has them."""
    width, height = _n(picture.width), _n(picture.height)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" '
        f'role="img" aria-labelledby="t d" font-family="\'{FAMILY}\',sans-serif">'
        f'<title id="t">{_escaped(picture.title)}</title><desc id="d">{_escaped(picture.description)}</desc>',
        f"<style>{font_faces()}</style>" if fonts else "",
        f'<rect width="{width}" height="{height}" fill="{theme.paper}"/>',
    ]
    for kind, marks in groupby(picture.marks, key=_style):
        out.append(_WRITERS[kind[0]](list(marks), kind, theme))
    out.append("</svg>\n")
    return "".join(out)


def _n(value: float) -> str:
    """A number with two decimals at most."""
    text = f"{value:.2f}"
    return text.rstrip("0").rstrip(".")


def _escaped(text: str) -> str:
    if text.isalnum():
        return text
    return escape(text.translate(_CONTROL))


# What neighbours must share to be written as one, by kind of mark.
_STYLES: dict[type, Callable[[Any], tuple[Any, ...]]] = {
    Line: lambda mark: (Line, mark.width, mark.role),
    Text: lambda mark: (Text, mark.size, mark.role, mark.anchor, mark.bold, mark.halo),
    Curve: lambda mark: (Curve, mark.width, mark.role),
    Box: lambda mark: (Box, mark.role),
    Polygon: lambda mark: (Polygon, mark.role),
    Dot: lambda mark: (Dot, mark.role),
    Glyph: lambda mark: (Glyph, mark.role),
}


def _style(mark: Mark) -> tuple[Any, ...]:
    return _STYLES[type(mark)](mark)


def _lines(marks: list[Line], style: tuple[Any, ...], theme: Theme) -> str:
    path = "".join(f"M{m.x1:.2f} {m.y1:.2f}L{m.x2:.2f} {m.y2:.2f}" for m in marks)
    return f'<path d="{path}" stroke="{theme.colour(style[2])}" stroke-width="{_n(style[1])}" fill="none"/>'


def _boxes(marks: list[Box], style: tuple[Any, ...], theme: Theme) -> str:
    inside = "".join(
        f'<rect x="{m.x:.2f}" y="{m.y:.2f}" width="{m.width:.2f}" height="{m.height:.2f}"'
        + (f' rx="{_n(m.radius)}"/>' if m.radius else "/>")
        for m in marks
    )
    return f'<g fill="{theme.colour(style[1])}">{inside}</g>'


def _texts(marks: list[Text], style: tuple[Any, ...], theme: Theme) -> str:
    _, size, role, anchor, bold, halo = style
    inside = "".join(f'<text x="{m.x:.2f}" y="{m.y:.2f}">{_escaped(m.text)}</text>' for m in marks)
    around = (
        f' stroke="{theme.paper}" stroke-width="{_n(2 * HALO * size)}" stroke-linejoin="round" paint-order="stroke"'
        if halo
        else ""
    )
    weight = ' font-weight="700"' if bold else ""
    return f'<g font-size="{_n(size)}" fill="{theme.colour(role)}" text-anchor="{anchor}"{weight}{around}>{inside}</g>'


def _curves(marks: list[Curve], style: tuple[Any, ...], theme: Theme) -> str:
    path = "".join(
        f"M{m.x1:.2f} {m.y1:.2f}C{m.x1 + (m.x2 - m.x1) / 4:.2f} {m.y1 + m.bend:.2f} "
        f"{m.x2 - (m.x2 - m.x1) / 4:.2f} {m.y2 + m.bend:.2f} {m.x2:.2f} {m.y2:.2f}"
        for m in marks
    )
    return f'<path d="{path}" stroke="{theme.colour(style[2])}" stroke-width="{_n(style[1])}" fill="none" stroke-linecap="round"/>'


def _polygons(marks: list[Polygon], style: tuple[Any, ...], theme: Theme) -> str:
    path = "".join("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in m.points) + "Z" for m in marks)
    return f'<path d="{path}" fill="{theme.colour(style[1])}"/>'


def _dots(marks: list[Dot], style: tuple[Any, ...], theme: Theme) -> str:
    inside = "".join(f'<circle cx="{m.x:.2f}" cy="{m.y:.2f}" r="{_n(m.radius)}"/>' for m in marks)
    return f'<g fill="{theme.colour(style[1])}">{inside}</g>'


def _glyphs(marks: list[Glyph], style: tuple[Any, ...], theme: Theme) -> str:
    inside = "".join(
        f'<path transform="translate({m.x:.2f} {m.y:.2f}) scale({m.space / 1000:.5f})" d="{symbol_path(m.name)}"/>'
        for m in marks
    )
    return f'<g fill="{theme.colour(style[1])}">{inside}</g>'


_WRITERS: dict[type, Callable[[Any, tuple[Any, ...], Theme], str]] = {
    Line: _lines,
    Box: _boxes,
    Text: _texts,
    Curve: _curves,
    Polygon: _polygons,
    Dot: _dots,
    Glyph: _glyphs,
}
