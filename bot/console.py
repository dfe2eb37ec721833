"""Replies as text at a terminal."""

import shutil
import textwrap
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from bot.asks import PHONE_WIDTH, Page
from bot.replies import SEPARATOR, File, Reply, moments

WIDE_FROM = 60  # columns from which several measures stand side by side
WIDEST_PROSE = 100
BETWEEN = "   "  # choices of one line


def write_out(text: str) -> None:
    print(text, end="", flush=True)


def page_of(width: int | None) -> Page:
    """The layout that suits so many columns, those of the terminal if None: one measure a row group on narrow ones."""
    columns = shutil.get_terminal_size((80, 24)).columns if width is None else width
    return Page("wide", columns) if columns >= WIDE_FROM else Page("phone", max(PHONE_WIDTH, columns))


def written(files: Sequence[File], folder: Path) -> tuple[str, ...]:
    """Writes files into a folder, made if it is not there; a line for each kind that says where they are. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    places: dict[str, list[str]] = {}
    for file in files:
        place = folder / Path(file.name).name
        place.write_bytes(file.data)
        places.setdefault(file.kind, []).append(str(place))
    return tuple(f"{kind.capitalize()}: {', '.join(names)}" for kind, names in places.items())


def _head_lines(head: str, width: int) -> list[str]:
    """The first line, broken between its parts where it can be."""
    lines: list[str] = []
    for part in head.split(SEPARATOR):
        if lines and len(lines[-1]) + len(SEPARATOR) + len(part) <= width:
            lines[-1] += SEPARATOR + part
        else:
            lines.extend(textwrap.wrap(part, width, break_on_hyphens=False) or [""])
    return lines


def prose(text: str, width: int) -> str:
    """Lines no longer than ``width``, but for words that are; a line's own indent is kept."""
    return "\n".join(
        wrapped
        for line in in_local_time(text).split("\n")
        for wrapped in textwrap.wrap(
            line,
            width,
            break_on_hyphens=False,
            break_long_words=False,
            subsequent_indent=" " * (len(line) - len(line.lstrip())),
        )
    )


def shown(reply: Reply, width: int = 80) -> str:
    """A reply as text, lines of prose no longer than ``width``."""
    head = "\n".join(
        part for line in in_local_time(reply.head).split("\n") for part in _head_lines(line, width)
    )
    parts = [head]
    if reply.tab:
        parts.append(reply.tab.rstrip())
    if reply.notes:
        parts.append("\n".join(prose(note, width) for note in reply.notes))
    return "\n\n".join(parts) + "\n"


def in_local_time(text: str) -> str:
    """A text with its moments as the terminal's own clock says them."""
    return "".join(part if isinstance(part, str) else _local(part) for part in moments(text))


def _local(seconds: int) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC).astimezone():%Y-%m-%d %H:%M %Z}"


def numbered(reply: Reply, first: int, width: int) -> str:
    """What may be pressed under a reply, numbered from ``first``: a row of buttons to a line, of a menu each choice to one."""
    lines: list[str] = []
    number = first
    for row in reply.buttons:
        line = ""
        for button in row:
            told = f"{number} {button.label}"
            if line and len(line) + len(BETWEEN) + len(told) > width:
                lines.append(line)
                line = ""
            line += BETWEEN + told if line else told
            number += 1
        lines.append(line)
    for menu in reply.menus:
        lines += textwrap.wrap(f"{menu.hint}:", width)
        for choice in menu.choices:
            told = in_local_time(f"{choice.label}: {choice.note}" if choice.note else choice.label)
            lines += textwrap.wrap(f"{number} {told}", width, initial_indent=" ", subsequent_indent="   ")
            number += 1
    return "".join(f"{line}\n" for line in lines)
