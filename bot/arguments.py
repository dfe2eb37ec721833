"""What was given with a command, as text, made into what the command takes."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from bot.book import Command, Option, Sent
from bot.trouble import Unusable
from bot.wording import name_of, say, typed_name

YES, NO = (
    frozenset(("yes", "true", "1", "on", "ja", "sí", "si")),
    frozenset(("no", "false", "0", "off", "nein")),
)
_FIRST_NUMBER = re.compile(r"[0-9]{1,7}")
_APOSTROPHES = re.compile(r"['’]")
_NOT_IN_SLUGS = re.compile(r"[^a-z0-9]+")
# What cannot be seen and comes along with pasted text; marks of writing's direction too.
_UNSEEN = re.compile(r"[\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff]")
MOST_TEXT = 4000  # characters of a text, unless its option says less


def arguments(
    command: Command, given: Mapping[str, str], files: Mapping[str, Sent], language: str
) -> dict[str, Any]:
    """Arguments by the names of the function's parameters; what is not given is left to its defaults. Raises Unusable."""
    made: dict[str, Any] = {}
    for option in command.options:
        if option.kind == "file":
            if option.name in files:
                made[option.argument] = files[option.name]
        elif given.get(option.name, "") != "":
            made[option.argument] = READ[option.kind](given[option.name], option, language)
        if option.required and option.argument not in made:
            raise Unusable(
                say(
                    "“{command}” wants {option} too. {about}",
                    language,
                    command=typed_name(command.name, language),
                    option=_name(option, language),
                    about=say(option.about, language),
                )
            )
    return made


def _name(option: Option, language: str) -> str:
    return name_of(option.name, "option", language)


def _whole(text: str, option: Option, language: str) -> int:
    digits = text.strip().replace(",", "")
    least, most = option.least or 0, option.most or 9_999_999
    if not (digits.isascii() and digits.isdigit() and len(digits) < 12 and least <= int(digits) <= most):
        raise Unusable(
            say(
                "“{text}” does not go for {option}: give a whole number from {least} to {most}.",
                language,
                text=text,
                option=_name(option, language),
                least=least,
                most=most,
            )
        )
    return int(digits)


def _numbered(text: str, option: Option, language: str) -> int:
    """The first number in what was typed: ``42``, ``42 Counting the piles``."""
    found = _FIRST_NUMBER.search(text)
    if found is None or int(found.group()) == 0 or text.strip().startswith("-"):
        raise Unusable(
            say(
                "“{text}” does not go for {option}: give its number, or choose from the list as you type.",
                language,
                text=text,
                option=_name(option, language),
            )
        )
    return int(found.group())


def _yes(text: str, option: Option, language: str) -> bool:
    plain = text.strip().casefold()
    if plain not in YES | NO:
        raise Unusable(
            say(
                "“{text}” does not go for {option}: say yes or no.",
                language,
                text=text,
                option=_name(option, language),
            )
        )
    return plain in YES


def _choice(text: str, option: Option, language: str) -> str:
    plain = text.strip().casefold()
    for choice in option.choices:
        if plain in (choice, say(choice, language).casefold()):
            return choice
    raise Unusable(
        say(
            "“{text}” does not go for {option}: choose one of {choices}.",
            language,
            text=text,
            option=_name(option, language),
            choices=", ".join(say(choice, language) for choice in option.choices),
        )
    )


def slug_of(text: str) -> str:
    """The short name of something by its name as it is written: ``Miller's Mitten``."""
    return _NOT_IN_SLUGS.sub("-", _APOSTROPHES.sub("", text.casefold())).strip("-")[:40] or "-"


def _slug(text: str, option: Option, language: str) -> str:
    return slug_of(text)


def _text(text: str, option: Option, language: str) -> str:
    text = _UNSEEN.sub("", text)
    most = option.most or MOST_TEXT
    if len(text) > most:
        raise Unusable(
            say(
                "{option} may have {most} characters, and this has {count}.",
                language,
                option=_name(option, language),
                most=most,
                count=len(text),
            )
        )
    return text


READ: dict[str, Callable[[str, Option, str], Any]] = {
    "text": _text,
    "member": _text,
    "day": _text,
    "channel": _text,
    "whole": _whole,
    "lick": _numbered,
    "phrase": _numbered,
    "variation": _numbered,
    "evening": _numbered,
    "yes": _yes,
    "choice": _choice,
    "tune": _slug,
}
