"""What a list of commands may be, and what people may give to one. Source: the platform's "Application Commands"."""

import unicodedata
from collections.abc import Iterator
from typing import Any

from tests.chat_platform.refusals import count, form, length
from tests.chat_platform.rules import check_choice
from tests.chat_platform.wire import Json

COMMANDS = {1: 100, 2: 15, 3: 15}
OPTIONS, CHOICES, NAME, DESCRIPTION, ALL_TEXT = 25, 25, 32, 100, 8000
SUB, GROUP, TEXT, WHOLE, YES_NO, USER, CHANNEL, ROLE, ANYBODY, NUMBER, FILE = range(1, 12)
_LOCALES = (
    "id da de en-GB en-US es-ES es-419 fr hr it lt hu nl no pl pt-BR ro fi sv-SE vi tr cs el bg ru uk hi th zh-CN ja "
    "zh-TW ko"
)
LOCALES = frozenset(_LOCALES.split())
_DEVANAGARI_AND_THAI = (range(0x0900, 0x0980), range(0xA8E0, 0xA900), range(0x0E00, 0x0E80))


def _may_stand_in_a_name(sign: str) -> bool:
    return (
        sign in "-_'"
        or unicodedata.category(sign)[0] in "LN"
        or any(ord(sign) in block for block in _DEVANAGARI_AND_THAI)
    )


def check_commands(commands: list[Json]) -> None:
    """Refuses a list that the platform would."""
    for kind, most in COMMANDS.items():
        same = [command for command in commands if (command.get("type") or 1) == kind]
        count("commands", same, 0, most)
        names = [command.get("name") for command in same]
        if len(set(names)) < len(names):
            raise form("commands", "Application command names must be unique.")
    for place, command in enumerate(commands):
        check_command(str(place), command)


def check_command(where: str, command: Json) -> None:
    kind = command.get("type") or 1
    if kind not in COMMANDS:
        raise form(f"{where}.type", "Must be 1, 2 or 3.")
    rights = command.get("default_member_permissions")
    if rights is not None and not str(rights).isdigit():
        raise form(f"{where}.default_member_permissions", "Must be a number of bits.")
    for name, known in (("contexts", {0, 1, 2}), ("integration_types", {0, 1})):
        if command.get(name) is not None and (not command[name] or set(command[name]) - known):
            raise form(f"{where}.{name}", "Must be some of the known ones.")
    if kind != 1:
        length(f"{where}.name", command.get("name"), 1, NAME)
        if command.get("description"):
            raise form(f"{where}.description", "Only commands that are typed have a description.")
        return
    _check_named(where, command)
    _check_options(where, command.get("options") or [], depth=0)
    total = sum(_size(part) for part in _parts(command))
    if total > ALL_TEXT:
        raise form(where, f"Command exceeds maximum size of {ALL_TEXT}, is {total}.")


def _check_named(where: str, part: Json) -> None:
    _check_name(f"{where}.name", part.get("name"))
    length(f"{where}.description", part.get("description"), 1, DESCRIPTION)
    for locale, text in _translations(where, part, "name_localizations"):
        _check_name(f"{where}.name_localizations.{locale}", text)
    for locale, text in _translations(where, part, "description_localizations"):
        length(f"{where}.description_localizations.{locale}", text, 1, DESCRIPTION)


def _check_name(where: str, value: object) -> None:
    name = length(where, value, 1, NAME)
    if not all(_may_stand_in_a_name(sign) for sign in name):
        raise form(where, "Command name is invalid.")
    if name != name.lower():
        raise form(where, "Must be in lower case.")


def _translations(where: str, part: Json, field: str) -> Iterator[tuple[str, object]]:
    for locale, text in (part.get(field) or {}).items():
        if locale not in LOCALES:
            raise form(f"{where}.{field}", f"Unknown locale {locale}.")
        yield locale, text


def _check_options(where: str, options: Any, *, depth: int) -> None:
    """``depth`` 0: of the command; 1: of a group; 2: of a subcommand, which has no more of these within."""
    count(f"{where}.options", options, 0, OPTIONS)
    branches = [option.get("type") in (SUB, GROUP) for option in options]
    if any(branches) and not all(branches):
        raise form(f"{where}.options", "Subcommands and parameters do not mix.")
    _check_names_differ(f"{where}.options", options)
    optional_seen = False
    for place, option in enumerate(options):
        here = f"{where}.options.{place}"
        kind = option.get("type")
        if kind not in range(SUB, FILE + 1):
            raise form(f"{here}.type", "Unknown type.")
        _check_named(here, option)
        if kind == GROUP and depth == 0:
            count(f"{here}.options", option.get("options"), 1, OPTIONS)
            _check_options(here, option["options"], depth=1)
        elif kind == SUB and depth <= 1:
            _check_options(here, option.get("options") or [], depth=2)
        elif kind in (SUB, GROUP):
            raise form(f"{here}.type", "Nested too deeply.")
        elif depth == 1:
            raise form(f"{here}.type", "A group holds subcommands.")
        else:
            if option.get("required") and optional_seen:
                raise form(here, "Required options must be placed before non-required options.")
            optional_seen = optional_seen or not option.get("required")
            _check_parameter(here, option)


def _check_names_differ(where: str, options: list[Json]) -> None:
    names = [option.get("name") for option in options]
    if len(set(names)) < len(names):
        raise form(where, "Option names must be unique.")
    for locale in LOCALES:
        told = [(option.get("name_localizations") or {}).get(locale) for option in options]
        for place, name in enumerate(told):
            others = [*names[:place], *names[place + 1 :], *told[:place], *told[place + 1 :]]
            if name is not None and name in others:
                raise form(where, f"Localised option names must be unique: {name} ({locale}).")


def _check_parameter(where: str, option: Json) -> None:
    kind = option["type"]
    only = {
        "choices": (TEXT, WHOLE, NUMBER), "autocomplete": (TEXT, WHOLE, NUMBER), "min_value": (WHOLE, NUMBER),
        "max_value": (WHOLE, NUMBER), "min_length": (TEXT,), "max_length": (TEXT,), "channel_types": (CHANNEL,),
    }  # fmt: skip
    for field, kinds in only.items():
        if option.get(field) not in (None, False, []) and kind not in kinds:
            raise form(f"{where}.{field}", "Not for this type.")
    if option.get("autocomplete") and option.get("choices"):
        raise form(f"{where}.autocomplete", "Not with choices.")
    least, most = option.get("min_length"), option.get("max_length")
    if (least is not None and not 0 <= least <= 6000) or (most is not None and not 1 <= most <= 6000):
        raise form(f"{where}.max_length", "Must be up to 6000.")
    choices = count(f"{where}.choices", option.get("choices") or [], 0, CHOICES)
    for place, choice in enumerate(choices):
        check_choice(f"{where}.choices.{place}", choice, kind)
        for locale, text in _translations(f"{where}.choices.{place}", choice, "name_localizations"):
            length(f"{where}.choices.{place}.name_localizations.{locale}", text, 1, 100)
    names = [choice["name"] for choice in choices]
    if len(set(names)) < len(names):
        raise form(f"{where}.choices", "Option choice names must be unique.")


def _parts(command: Json) -> Iterator[Json]:
    yield command
    for option in command.get("options") or []:
        yield from _parts(option)
        yield from option.get("choices") or []


def _size(part: Json) -> int:
    """Of translations, the longest counts."""
    texts = [
        [part.get(field) or "", *(part.get(f"{field}_localizations") or {}).values()]
        for field in ("name", "description")
    ]
    return sum(max(map(len, text)) for text in texts) + len(str(part.get("value", "")))


# --- what people give ----------------------------------------------------------------------------------


class CannotBeAsked(Exception):
    """What a test wants a person to do is something that the platform's own programs do not let him do."""


def found_command(commands: list[Json], words: list[str]) -> tuple[Json, list[Json], list[Json]]:
    """The command, the subcommands on the way to the last, and the parameters of that."""
    command = next((c for c in commands if c["name"] == words[0] and c["type"] == 1), None)
    if command is None:
        raise CannotBeAsked(f"there is no command /{words[0]}")
    path: list[Json] = []
    options = command.get("options") or []
    for word in words[1:]:
        step = next((o for o in options if o["name"] == word and o["type"] in (SUB, GROUP)), None)
        if step is None:
            raise CannotBeAsked(f"/{words[0]} has no {word}")
        path.append(step)
        options = step.get("options") or []
    if any(option["type"] in (SUB, GROUP) for option in options):
        raise CannotBeAsked(f"/{' '.join(words)} needs a subcommand")
    return command, path, options


def check_given(parameters: list[Json], given: dict[str, Any]) -> None:
    known = {parameter["name"]: parameter for parameter in parameters}
    for name in given:
        if name not in known:
            raise CannotBeAsked(f"there is no option {name}")
    for name, parameter in known.items():
        if name in given:
            _check_value(parameter, given[name])
        elif parameter.get("required"):
            raise CannotBeAsked(f"the option {name} is required")


_RIGHT: dict[int, tuple[type, ...]] = {TEXT: (str,), WHOLE: (int,), YES_NO: (bool,), NUMBER: (int, float)}


def _check_value(parameter: Json, value: Any) -> None:
    name, kind = parameter["name"], parameter["type"]
    fits = isinstance(value, _RIGHT.get(kind, (object,)))
    if not fits or (isinstance(value, bool) and kind in (WHOLE, NUMBER)):
        raise CannotBeAsked(f"the option {name} takes no {value!r}")
    if kind == TEXT:
        least, most = parameter.get("min_length") or 0, parameter.get("max_length") or 6000
        if not least <= len(value) <= most:
            raise CannotBeAsked(f"the option {name} takes {least} to {most} characters")
    if kind in (WHOLE, NUMBER):
        low, high = parameter.get("min_value"), parameter.get("max_value")
        if (low is not None and value < low) or (high is not None and value > high):
            raise CannotBeAsked(f"the option {name} takes {low} to {high}")
        if abs(value) >= 2**53:
            raise CannotBeAsked(f"the option {name} takes no number so great")
    choices = [choice["value"] for choice in parameter.get("choices") or []]
    if choices and value not in choices:
        raise CannotBeAsked(f"the option {name} takes one of {choices}")
