"""The fonts: how wide text is, the outlines of music symbols, and the files that surfaces need."""

import base64
import json
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path

FAMILY = "Breakwright Sans"
FOLDER = files("service.engrave") / "fonts"
UNKNOWN_WIDTH = 560  # thousandths of an em, for letters the fonts lack
CAP_HEIGHT = 0.668  # of the text size: how high a digit stands


def font_folder() -> Path:
    """Where the TTF files lie."""
    return Path(str(FOLDER))


@cache
def _widths(bold: bool) -> dict[str, int]:
    found: dict[str, int] = json.loads((FOLDER / f"widths-{_style(bold)}.json").read_text("utf-8"))
    return found


def _style(bold: bool) -> str:
    return "bold" if bold else "regular"


@lru_cache(maxsize=4096)
def width_of(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text in points."""
    widths = _widths(bold)
    return sum(widths.get(letter, UNKNOWN_WIDTH) for letter in text) * size / 1000


def shortened(text: str, size: float, room: float, bold: bool = False) -> str:
    """As much of a text as has room, ending in an ellipsis where some is left out; empty if not even that has."""
    if width_of(text, size, bold) <= room:
        return text
    for end in range(len(text) - 1, 0, -1):
        cut = text[:end].rstrip() + "…"
        if width_of(cut, size, bold) <= room:
            return cut
    return ""


def lines_of(text: str, size: float, room: float) -> list[str]:
    """A text in lines that have room; a word that alone has none is cut."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(shortened(word, size, room))
    return lines


@cache
def _symbols() -> dict[str, tuple[int, str]]:
    found = json.loads((FOLDER / "music.json").read_text("utf-8"))
    return {name: (width, path) for name, (width, path) in found.items()}


def symbol_path(name: str) -> str:
    """The outline of a music symbol as an SVG path, in thousandths of a staff space."""
    return _symbols()[name][1]


def symbol_width(name: str, space: float) -> float:
    return _symbols()[name][0] * space / 1000


def time_digits(number: str) -> list[str]:
    """The symbols of one number of a time signature."""
    return [f"timeSig{digit}" for digit in number]


def time_width(meter: str, space: float) -> float:
    """Width of a time signature such as ``12/8``: that of its wider number."""
    return max(sum(symbol_width(d, space) for d in time_digits(number)) for number in meter.split("/"))


@cache
def font_faces() -> str:
    """CSS that carries the fonts along, for an SVG that is looked at where they are not installed."""
    return "".join(
        f"@font-face{{font-family:'{FAMILY}';font-weight:{weight};src:url(data:font/woff2;base64,{_encoded(bold)})}}"
        for weight, bold in ((400, False), (700, True))
    )


def _encoded(bold: bool) -> str:
    data = (FOLDER / f"breakwright-sans-{_style(bold)}.woff2").read_bytes()
    return base64.b64encode(data).decode()
