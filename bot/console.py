"""Replies at a terminal."""

import shutil
import textwrap

from bot.replies import SEPARATOR, Reply

PHONE_WIDTH = 28


def tab_layout() -> tuple[str, int]:
    """The layout that suits this terminal: one measure a row group on narrow ones."""
    width = shutil.get_terminal_size((80, 24)).columns
    return ("wide", width) if width >= 60 else ("phone", max(PHONE_WIDTH, width))


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
                    subsequent_indent=" " * (len(note) - len(note.lstrip())),
                )
            )
        )
    return "\n\n".join(parts) + "\n"
