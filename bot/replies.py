"""What a command answers. Knows no chat platform: an adapter shows it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

SEPARATOR = " · "  # between the parts of a head
# Around the seconds of a moment within a text: an adapter shows it in the reader's own zone. Private to us in Unicode.
_OPEN, _CLOSE = "\ue0f0", "\ue0f1"

Look = Literal["plain", "main", "good", "grave"]


@dataclass(frozen=True, slots=True)
class Call:
    """A command with its arguments, as somebody typed them or a button carries them.

    ``group`` is the one that a message was about whose button was pressed; it counts in direct messages alone.
    """

    command: str
    given: Mapping[str, str] = field(default_factory=dict)
    group: str | None = None


@dataclass(frozen=True, slots=True)
class File:
    """``kind`` is what a player calls it (picture, sheet, sound); ``description`` is for those who cannot see or hear it."""

    kind: str
    name: str
    data: bytes
    description: str = ""


@dataclass(frozen=True, slots=True)
class Button:
    """``look``: main is what most will press next; grave is not easily undone."""

    label: str
    call: Call
    look: Look = "plain"


@dataclass(frozen=True, slots=True)
class Choice:
    label: str
    call: Call
    note: str = ""


@dataclass(frozen=True, slots=True)
class Menu:
    """One of several: ``hint`` says what is chosen."""

    hint: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Blank:
    """Something to be typed: ``name`` is the argument it becomes, ``value`` what stands there already."""

    name: str
    label: str
    long: bool = False
    required: bool = True
    value: str = ""
    hint: str = ""
    most: int = 4000


@dataclass(frozen=True, slots=True)
class Form:
    """What is typed into its blanks is added to the arguments of ``call``."""

    title: str
    call: Call
    blanks: tuple[Blank, ...]


@dataclass(frozen=True, slots=True)
class Reply:
    """``head`` is one line a player needs first; ``tab`` is preformatted; ``files`` are shown beside it; ``notes`` come last.

    ``code`` names the break that is shown. A reply with ``failed`` set is for the asker alone: one sentence and a next step;
    ``private`` ones are theirs as well. ``buttons`` are rows of what may come next, ``menus`` go below them. ``then`` is a call, as a
    button carries it, to go on with: its answer is shown, with this head as the last of its notes.
    """

    head: str = ""
    tab: str = ""
    notes: tuple[str, ...] = ()
    failed: bool = False
    code: str | None = None
    files: tuple[File, ...] = ()
    buttons: tuple[tuple[Button, ...], ...] = ()
    menus: tuple[Menu, ...] = ()
    private: bool = False
    then: str = ""


Answer = Reply | Form


def moment(at: datetime | str) -> str:
    """A moment to stand in a text; ``at`` may be as the service tells it (``2026-11-02T18:00:00Z``)."""
    found = datetime.fromisoformat(at) if isinstance(at, str) else at
    return f"{_OPEN}{int(found.timestamp())}{_CLOSE}"


def moments(text: str) -> tuple[str | int, ...]:
    """A text cut at its moments: what is between them, and the moments as seconds since 1970."""
    cut: list[str | int] = []
    first, *rest = text.split(_OPEN)
    cut.append(first)
    for part in rest:
        seconds, closed, after = part.partition(_CLOSE)
        if closed and seconds.isascii() and seconds.isdigit() and len(seconds) <= 12:
            cut += [int(seconds), after]
        else:
            cut.append(part)
    return tuple(cut)
