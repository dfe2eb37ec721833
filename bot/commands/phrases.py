"""Phrases of tunes and breaks, as they are called in menus and while somebody types."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from bot.replies import Call, Choice, Menu
from schemas.breaks import BreakOut
from schemas.tunes import TuneOut

MOST_CHOICES = 25  # what chats show in one list
MOST_MENUS = 3  # beside two rows of buttons
MOST_LABEL = 80
TAG = "tag"
Say = Callable[..., str]


def named(say: Say, number: int, part: str, chords: str) -> str:
    """``3: B part, over D7``."""
    return short(say("{phrase}: {part} part, over {chords}", phrase=number, part=part, chords=chords))


def place_name(part: str, index: int) -> str:
    """``A2`` for the second phrase of part A; ``A2.1`` for the first of part A2."""
    return f"{part}{'.' if part[-1:].isdigit() else ''}{index}"


def short(text: str, most: int = MOST_LABEL) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def of_break(say: Say, made: BreakOut) -> list[tuple[int, str]]:
    """Numbers and names of the phrases at which its licks begin, in playing order."""
    return [(place.phrase, named(say, place.phrase, place.part, place.chords)) for place in made.phrases]


def of_tune(say: Say, tune: TuneOut) -> list[tuple[int, str]]:
    return [(phrase.number, named(say, phrase.number, phrase.part, phrase.chords)) for phrase in tune.phrases]


def tag_first(made: BreakOut) -> list[int]:
    """Phrases to work at, the tag first: that is what changes most for the least work."""
    numbers = [place.phrase for place in made.phrases]
    last = next((place.phrase for place in reversed(made.phrases) if place.role == TAG), numbers[-1])
    return [last, *(number for number in numbers if number != last)]


def menus(hint: str, choices: Sequence[tuple[str, Mapping[str, Any], str]], command: str) -> tuple[Menu, ...]:
    """Menus of calls of one command: label, arguments and note of each; as many menus as they need, and there is room for."""
    made = [
        Choice(
            short(label), Call(command, {name: str(value) for name, value in given.items()}), short(note, 100)
        )
        for label, given, note in choices
    ]
    parts = [made[at : at + MOST_CHOICES] for at in range(0, len(made), MOST_CHOICES)][:MOST_MENUS]
    return tuple(Menu(hint, tuple(part)) for part in parts)
