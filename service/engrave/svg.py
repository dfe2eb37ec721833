"""A picture as SVG: accessible (title and description), and able to stand alone (fonts inside) where that is asked."""

from collections.abc import Callable
from functools import lru_cache
from itertools import groupby
from operator import attrgetter
from typing import Any
from xml.sax.saxutils import escape

from service.engrave.letters import FAMILY, font_faces, symbol_path
from service.engrave.paint import Box, Curve, Dot, Glyph, Line, Picture, Polygon, Text, Theme

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
    for kind, alike in groupby(picture.marks, key=type):
        style, write = _WRITERS[kind]
        out.extend(write(list(marks), look, theme) for look, marks in groupby(alike, key=style))
    out.append("</svg>\n")
    return "".join(out)


@lru_cache(maxsize=256)
def _n(value: float) -> str:
    """A number with two decimals at most."""
    text = f"{value:.2f}"
    return text.rstrip("0").rstrip(".")


def _escaped(text: str) -> str:
    if text.isalnum():
        return text
    return escape(text.translate(_CONTROL))


# The printf way is the fastest in which Python writes many numbers, and there are many.
_LINE = "M%.2f %.2fL%.2f %.2f"
_TEXT = '<text x="%.2f" y="%.2f">%s</text>'


def _lines(marks: list[Line], style: tuple[float, str], theme: Theme) -> str:
    width, role = style
    path = "".join([_LINE % mark[:4] for mark in marks])
    return f'<path d="{path}" stroke="{theme.colour(role)}" stroke-width="{_n(width)}" fill="none"/>'


def _boxes(marks: list[Box], role: str, theme: Theme) -> str:
    inside = "".join(
        f'<rect x="{m.x:.2f}" y="{m.y:.2f}" width="{m.width:.2f}" height="{m.height:.2f}"'
        + (f' rx="{_n(m.radius)}"/>' if m.radius else "/>")
        for m in marks
    )
    return f'<g fill="{theme.colour(role)}">{inside}</g>'


def _texts(marks: list[Text], style: tuple[float, str, str, bool, bool], theme: Theme) -> str:
    size, role, anchor, bold, halo = style
    inside = "".join([_TEXT % (m.x, m.y, _escaped(m.text)) for m in marks])
    around = (
        f' stroke="{theme.paper}" stroke-width="{_n(2 * HALO * size)}" stroke-linejoin="round" paint-order="stroke"'
        if halo
        else ""
    )
    weight = ' font-weight="700"' if bold else ""
    return f'<g font-size="{_n(size)}" fill="{theme.colour(role)}" text-anchor="{anchor}"{weight}{around}>{inside}</g>'


def _curves(marks: list[Curve], style: tuple[float, str], theme: Theme) -> str:
    width, role = style
    path = "".join(
        f"M{m.x1:.2f} {m.y1:.2f}C{m.x1 + (m.x2 - m.x1) / 4:.2f} {m.y1 + m.bend:.2f} "
        f"{m.x2 - (m.x2 - m.x1) / 4:.2f} {m.y2 + m.bend:.2f} {m.x2:.2f} {m.y2:.2f}"
        for m in marks
    )
    return f'<path d="{path}" stroke="{theme.colour(role)}" stroke-width="{_n(width)}" fill="none" stroke-linecap="round"/>'


def _polygons(marks: list[Polygon], role: str, theme: Theme) -> str:
    path = "".join("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in m.points) + "Z" for m in marks)
    return f'<path d="{path}" fill="{theme.colour(role)}"/>'


def _dots(marks: list[Dot], role: str, theme: Theme) -> str:
    inside = "".join(f'<circle cx="{m.x:.2f}" cy="{m.y:.2f}" r="{_n(m.radius)}"/>' for m in marks)
    return f'<g fill="{theme.colour(role)}">{inside}</g>'


def _glyphs(marks: list[Glyph], role: str, theme: Theme) -> str:
    inside = "".join(
        f'<path transform="translate({m.x:.2f} {m.y:.2f}) scale({m.space / 1000:.5f})" d="{symbol_path(m.name)}"/>'
        for m in marks
    )
    return f'<g fill="{theme.colour(role)}">{inside}</g>'


# By kind of mark: what neighbours must share to be written as one, and how they are.
_WRITERS: dict[type, tuple[Callable[[Any], Any], Callable[[Any, Any, Theme], str]]] = {
    Line: (attrgetter("width", "role"), _lines),
    Box: (attrgetter("role"), _boxes),
    Text: (attrgetter("size", "role", "anchor", "bold", "halo"), _texts),
    Curve: (attrgetter("width", "role"), _curves),
    Polygon: (attrgetter("role"), _polygons),
    Dot: (attrgetter("role"), _dots),
    Glyph: (attrgetter("role"), _glyphs),
}
