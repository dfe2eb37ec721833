"""Replies at a terminal."""

import shutil
import textwrap
from collections.abc import Sequence
from pathlib import Path

from bot.replies import SEPARATOR, File, Reply

PHONE_WIDTH = 28


def tab_layout() -> tuple[str, int]:
    """The layout that suits this terminal: one measure a row group on narrow ones."""
    width = shutil.get_terminal_size((80, 24)).columns
    return ("wide", width) if width >= 60 else ("phone", max(PHONE_WIDTH, width))


def written(files: Sequence[File], folder: Path) -> tuple[str, ...]:
    """Writes files into a folder, made if it is not there; a line for each kind that says where they are."""
    folder.mkdir(parents=True, exist_ok=True)
    places: dict[str, list[str]] = {}
    for file in files:
        place = folder / file.name
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


def shown(reply: Reply, width: int = 80) -> str:
    """A reply as text, lines of prose no longer than ``width``."""
    parts = ["\n".join(_head_lines(reply.head, width))]
    if reply.tab:
        parts.append(reply.tab.rstrip())
    if reply.notes:
        parts.append(
            "\n".join(
                line
                for note in reply.notes
                for line in textwrap.wrap(
                    note,
                    width,
                    break_on_hyphens=False,
                    break_long_words=False,
                    subsequent_indent=" " * (len(note) - len(note.lstrip())),
                )
            )
        )
    return "\n\n".join(parts) + "\n"
