"""What help says at a terminal."""

from collections.abc import Sequence

from bot.book import Book, Command, Option
from bot.typed import names_of
from bot.wording import name_of, say, typed_name

# What stands for a value of a kind; for others the kind itself.
VALUES = {"whole": "N", "phrase": "N", "lick": "N", "yes": "yes", "choice": "..."}


def how_to_type(language: str, *, acting: bool) -> tuple[str, ...]:
    """How things are typed. ``acting``: whether one can speak as somebody else."""
    lines = [
        say("Type a command and what goes with it:", language),
        "  break random heron-ferry",
        "  break random heron-ferry level=2",
        say("Options in any order, as name=value or name value; texts with spaces in quotes.", language),
        say("A number presses what has it below an answer.", language),
        say("Type help and a command, or the first word of some, to see what it takes.", language),
    ]
    if acting:
        lines.append(say("as Wren: speak as somebody else.", language))
    return (*lines, say("Ctrl-C drops a line; quit or Ctrl-D ends.", language))


def command_page(book: Book, about: str, language: str) -> tuple[str, ...]:
    """What a command takes, or what a family has; nothing for a name that is neither."""
    name = " ".join(about.lower().split())
    command = names_of(book, language).get(name)
    if command is not None:
        return (_usage(command, language), say(command.about, language), *_options(command, language))
    family = [command for typed, command in names_of(book, language).items() if typed.startswith(f"{name} ")]
    family = list(dict.fromkeys(family))
    return tuple(
        line
        for command in family
        for line in (_usage(command, language), f"  {say(command.about, language)}")
    )


def _usage(command: Command, language: str) -> str:
    required = [
        name_of(option.name, "option", language).upper() for option in command.typed if option.required
    ]
    return " ".join([typed_name(command.name, language), *required])


def _options(command: Command, language: str) -> Sequence[str]:
    return [
        f"  {name_of(option.name, 'option', language)}={_value(option)}: {_about(option, language)}"
        for option in command.typed
    ]


def _about(option: Option, language: str) -> str:
    about = say(option.about, language)
    return f"{about} ({', '.join(option.choices)})" if option.choices else about


def _value(option: Option) -> str:
    """What stands for an option's value in its help."""
    return VALUES.get(option.kind, option.kind.upper())
