"""Replies at a terminal."""

import shutil
import textwrap

from bot.replies import Reply

PHONE_WIDTH = 28


def tab_layout() -> tuple[str, int]:
    """The layout that suits this terminal: one measure a row group on narrow ones."""
    width = shutil.get_terminal_size((80, 24)).columns
    return ("wide", width) if width >= 60 else ("phone", max(PHONE_WIDTH, width))


def shown(reply: Reply, width: int = 80) -> str:
    """A reply as text, lines of prose no longer than ``width``."""
    parts = ["\n".join(textwrap.wrap(reply.head, width, break_on_hyphens=False))]
    if reply.tab:
        parts.append(reply.tab.rstrip())
    if reply.notes:
        parts.append(
            "\n".join(
                line for note in reply.notes for line in textwrap.wrap(note, width, break_on_hyphens=False)
            )
        )
    return "\n\n".join(parts) + "\n"
