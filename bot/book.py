"""The book of commands: what each is called, what may be given with it, and what runs it.

Every surface is made of it: the chat's command tree, what its buttons carry, what is typed at a terminal, the help.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from bot.replies import Answer, Call

# What an option takes. tune, lick, phrase, member, variation and evening are completed while they are typed.
Kind = Literal[
    "text", "whole", "yes", "choice", "tune", "lick", "phrase", "member", "variation", "evening", "file", "day", "channel"
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Option:
    """``short`` is its name on a button, never changed; ``least`` and ``most`` bound whole numbers, and lengths of texts.

    A ``hidden`` one comes from buttons alone. Arguments reach the command as text, but numbers (``whole``, ``lick``, ``phrase``,
    ``variation``, ``evening``) as int, ``yes`` as bool, ``file`` as a Sent.
    """

    name: str
    kind: Kind
    about: str
    short: str
    required: bool = False
    choices: tuple[str, ...] = ()
    least: int | None = None
    most: int | None = None
    hidden: bool = False

    @property
    def argument(self) -> str:
        """Its name as a parameter of the command's function."""
        return self.name.replace("-", "_")


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that somebody sent along; ``read`` brings its bytes."""

    name: str
    size: int
    kind: str
    read: Callable[[], Awaitable[bytes]]


@dataclass(frozen=True, slots=True)
class Command:
    """``name`` is one word, or a family and a word.

    ``private`` answers are for whoever asks alone. ``form`` answers at once with a form and asks the service nothing, but
    where a file is sent along: then with a reply, as any other. ``listed``
    commands can be typed; the others are pressed. Without ``joined`` also those may ask who have not joined, and ask ``group``-less
    where the server belongs to no group yet.
    """

    name: str
    about: str
    run: Callable[..., Awaitable[Answer]]
    options: tuple[Option, ...] = ()
    private: bool = False
    form: bool = False
    listed: bool = True
    joined: bool = True
    organisers: bool = False

    @property
    def typed(self) -> tuple[Option, ...]:
        """What may be given with it by hand."""
        return tuple(option for option in self.options if not option.hidden)


class Book:
    """Commands by name. Raises ValueError for two of one name."""

    def __init__(self, families: Mapping[str, str], commands: Sequence[Command]) -> None:
        """``families`` are the first words of two-word names, and what they are about."""
        self.families = dict(families)
        self.commands = tuple(commands)
        self._by_name = {command.name: command for command in commands}
        if len(self._by_name) != len(self.commands):
            raise ValueError("two commands have one name")

    def find(self, name: str) -> Command | None:
        return self._by_name.get(name)

    @cached_property
    def listed(self) -> tuple[Command, ...]:
        return tuple(command for command in self.commands if command.listed)

    def short_names(self, name: str) -> dict[str, str]:
        """The names that a command's arguments have on a button."""
        command = self.find(name)
        return {} if command is None else {option.name: option.short for option in command.options}

    def long_names(self, call: Call) -> Call:
        """A call as it came from a button, its arguments by their whole names; what is not known is left out."""
        long = {short: name for name, short in self.short_names(call.command).items()}
        known = {long[name]: value for name, value in call.given.items() if name in long}
        return Call(call.command, known, call.group)
