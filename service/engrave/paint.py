"""What is drawn, before any surface: a flat list of marks in points, y down, with roles for colours.

Later marks lie over earlier ones. A ``Theme`` says which colour a role has.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

# Roles: ink (notes), soft (what is said about them), line (staff), paper, tint (behind beats), accent (phrases, sections)
INK, SOFT, LINE, PAPER, TINT, ACCENT = "ink", "soft", "line", "paper", "tint", "accent"
START, MIDDLE, END = "start", "middle", "end"


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours by role. Contrast of ink, soft and accent with paper is at least 4.5 to 1 (WCAG 2.2, published)."""

    name: str
    ink: str
    soft: str
    line: str
    paper: str
    tint: str
    accent: str

    def colour(self, role: str) -> str:
        found: str = getattr(self, role)
        return found


THEMES = {
    theme.name: theme
    for theme in (
        Theme("light", "#1d1c1a", "#5f5c56", "#a9a49a", "#ffffff", "#f1eee6", "#7a3b16"),
        Theme("dark", "#f0ece3", "#b0aa9e", "#6d6a64", "#191b1e", "#24272b", "#f0a878"),
    )
}


class Line(NamedTuple):
    x1: float
    y1: float
    x2: float
    y2: float
    width: float
    role: str = INK


class Box(NamedTuple):
    x: float
    y: float
    width: float
    height: float
    role: str = INK
    radius: float = 0.0


class Text(NamedTuple):
    """``y`` is the line that letters stand on. ``halo`` keeps what lies below off the letters."""

    x: float
    y: float
    size: float
    text: str
    role: str = INK
    anchor: str = START
    bold: bool = False
    halo: bool = False


class Curve(NamedTuple):
    """A cubic arc from (x1, y1) to (x2, y2), bent by ``bend`` (negative is up)."""

    x1: float
    y1: float
    x2: float
    y2: float
    bend: float
    width: float = 0.9
    role: str = INK


class Polygon(NamedTuple):
    points: tuple[tuple[float, float], ...]
    role: str = INK


class Dot(NamedTuple):
    x: float
    y: float
    radius: float
    role: str = INK


class Glyph(NamedTuple):
    """A music symbol by its SMuFL name; ``space`` is the staff space in points."""

    x: float
    y: float
    space: float
    name: str
    role: str = INK


Mark = Line | Box | Text | Curve | Polygon | Dot | Glyph


def aside(mark: Mark, by: float) -> Mark:
    """The mark ``by`` points further right."""
    match mark:
        case Line() | Curve():
            return mark._replace(x1=mark.x1 + by, x2=mark.x2 + by)
        case Polygon():
            return mark._replace(points=tuple((x + by, y) for x, y in mark.points))
        case _:
            return mark._replace(x=mark.x + by)


class Picture(NamedTuple):
    """One page: its size in points, its marks, and what it is for those who cannot see it."""

    width: float
    height: float
    marks: Sequence[Mark]
    title: str
    description: str
