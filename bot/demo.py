"""The demo: a break of the invented group's, then the chat, for whoever types or played through by itself."""

import argparse
import asyncio
import sys
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

import msgspec

from bot.api import breaks
from bot.api.client import Client, Refused, Unreachable
from bot.asks import Ask, Visitor
from bot.beside import Beside
from bot.commands.book import book
from bot.commands.breaks import (
    Wish,
    by_place,
    filtered_total,
    numbered_break,
    shown_break,
    swapped_break,
)
from bot.commands.pictures import PICTURE, SHEET, pages, sound
from bot.console import WIDEST_PROSE, page_of, prose, shown, write_out, written
from bot.front import Front
from bot.keyboard import Keyboard
from bot.replies import Call, Reply
from bot.terminal import END_OF_TEXT, PLATFORM, SERVER, Terminal, user_of
from bot.trouble import Unusable, failed
from schemas.breaks import BestIn, Filters, RandomIn

CAUTION = "Take it slowly at first, rest between rounds, and stop if anything hurts or goes numb."


# --- the break ------------------------------------------------------------------------------------------------


async def demo_break(front: Front, visitor: Visitor, given: argparse.Namespace, folder: Path) -> Reply:
    """The break that was asked for on the command line, with files of it and what to try next. ``given.tunes`` are all there are."""
    try:
        ask = await front.ask_of(visitor)
        if ask is None:
            raise RuntimeError("whoever runs the demo is no member of its group")
        reply = await _made(ask, given)
        easier = await _easier(ask, given)
        code = reply.code or ""
        if not given.no_files:
            reply = await _with_files(ask, reply, code)
    except (Refused, Unreachable, Unusable, TimeoutError) as error:
        return replace(failed(error, Call("break random"), visitor.language), buttons=())
    places: tuple[str, ...] = ()
    try:
        places = written(reply.files, folder) if reply.files else ()
    except OSError as error:
        places = (f"Cannot write files to {folder}: {error.strerror}; choose another with --files.",)
    return replace(reply, notes=(*reply.notes, *places, *_what_next(given, code, easier)), buttons=())


async def _made(ask: Ask, given: argparse.Namespace) -> Reply:
    """A break with what is played where and how it goes on."""
    asked = _asked(given)
    if given.swap:
        reply = await swapped_break(ask, given.swap, given.phrase)
    elif given.number:
        reply = await numbered_break(ask, given.tune, given.number, given.instrument)
    elif given.best:
        best = BestIn(by=given.best, how_many=1, **asked)
        reply = await shown_break(
            ask, (await breaks.best_breaks(ask.here, given.tune, best)).items[0], Wish()
        )
    else:
        wish = RandomIn(seed=given.seed, favour=given.favour, **asked)
        found = await breaks.random_break(ask.here, given.tune, wish)
        reply = await shown_break(ask, found, Wish(), await filtered_total(ask, given.tune, wish))
    made = await breaks.one_break(ask.here, reply.code or "")
    return replace(reply, notes=(*reply.notes, *by_place(ask, made)))


async def _easier(ask: Ask, given: argparse.Namespace) -> int | None:
    """The next easier level at which there are breaks as asked."""
    level = given.max_level - 1 if given.max_level else 2
    if not level:
        return None
    found = await breaks.count(ask.here, given.tune, Filters(**_asked(given) | {"max_level": level}))
    return level if (found.total or found.total_with_repeats) != "0" else None


def _asked(given: argparse.Namespace) -> dict[str, Any]:
    return {
        "instrument": given.instrument,
        "max_level": given.max_level,
        "repeats": given.repeats,
        "no_repeats": given.no_repeats,
        "melody": None if given.melody is None else given.melody / 100,
    }


async def _with_files(ask: Ask, reply: Reply, code: str) -> Reply:
    """With picture, sheet and sound, and cautions for whoever listens and plays. What cannot be made is left out, and said."""
    what = f"/breaks/{code}"
    try:
        pictures, sheets, (sounds, told) = await asyncio.gather(
            pages(ask, PICTURE, f"{what}/tab.png"),
            pages(ask, SHEET, f"{what}/sheet.pdf"),
            sound(ask, what, "break"),
        )
    except Refused as refused:
        return replace(reply, notes=(*reply.notes, refused.problem.detail))
    except Unreachable:
        return replace(reply, notes=(*reply.notes, "Picture, sheet and sound could not be made just now."))
    files = (*pictures, *sheets, *sounds)
    return replace(reply, files=files, notes=(*reply.notes, *told.cautions))


def _what_next(given: argparse.Namespace, code: str, easier: int | None) -> tuple[str, ...]:
    """Commands to try, each with what was chosen this time."""
    chosen = {"tune": given.tune if given.tune != given.tunes[0] else None, "instrument": given.instrument}
    levels = {
        "max-level": given.max_level, "repeats": given.repeats, "melody": given.melody,
        "no-repeats": given.no_repeats, "favour": given.favour,
    }  # fmt: skip
    other = next(tune for tune in given.tunes if tune != given.tune)
    suggestions = [("Another break", chosen | levels), ("Another tune", chosen | levels | {"tune": other})]
    if easier is not None:
        suggestions.append(("Easier", chosen | levels | {"max-level": easier}))
    if given.best != "melody":
        suggestions.append(("Closest to the tune", chosen | levels | {"favour": None, "best": "melody"}))
    suggestions.append(("With another tag", {"tune": chosen["tune"], "swap": code}))
    # whoever got sound was told already
    cautions = (CAUTION,) if given.no_files else ()
    return (*(f"{name}: {_command_line(options)}" for name, options in suggestions), *cautions)


def _command_line(options: dict[str, object]) -> str:
    told = (f"--{name}" if value is True else f"--{name} {value}" for name, value in options.items() if value)
    return " ".join(["breakwright demo", *told])


# --- the chat -------------------------------------------------------------------------------------------------


class Entry(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A variation that is sent in when the session plays by itself, and shown to whoever types as an example."""

    by: str
    name: str
    text: str
    comment: str = ""


class Story(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What happens in the session. ``you`` is whoever types; ``votes`` are who votes, and for whose variation."""

    you: str
    tune: str
    phrase: int
    level: int
    seed: int
    entries: tuple[Entry, ...]
    votes: tuple[tuple[str, str], ...]

    @property
    def players(self) -> tuple[str, ...]:
        """Everybody in it, whoever types first."""
        named = (self.you, *(entry.by for entry in self.entries), *(voter for voter, _ in self.votes))
        return tuple(dict.fromkeys(named))


def read_story(text: str) -> Story:
    """A story kept as TOML. Raises msgspec.ValidationError."""
    return msgspec.convert(tomllib.loads(text), Story)


class Served(Protocol):
    """The service to talk to: its address, a token for whoever tries it, one to act for the players with, where files go."""

    @property
    def address(self) -> str: ...
    @property
    def token(self) -> str: ...
    @property
    def bot_token(self) -> str: ...
    @property
    def folder(self) -> Path: ...


def demo(given: argparse.Namespace, story: Story, beside: Beside, service: Served) -> int:
    """Prints the break that was asked for, then lets whoever sits at the terminal type; where nobody does, the story is typed.
    The process's exit status."""
    page = page_of(given.width)
    visitor = Visitor(user_of(PLATFORM, story.you), story.you, SERVER, SERVER)
    with beside.within(Client(service.address, service.bot_token)) as client:
        front = Front(client, book(), page, pictures=False)
        reply = beside.run(demo_break(front, visitor, given, service.folder))
        write_out(shown(reply, min(page.width, WIDEST_PROSE)))
        if reply.failed:
            return 1
        if given.no_serve:
            return 0
        if sys.stdin.isatty() and sys.stdout.isatty():
            write_out(
                f"\nServing {service.address} with token {service.token}\n\n{guide(story, page.width)}\n"
            )
            read: Callable[[str], str] = Keyboard(front.book)
        else:
            read = Player(story, write_out)
            write_out("\n")
        terminal = Terminal(front, visitor, beside.run, read, write_out, page, service.folder, bringing=True)
        if isinstance(read, Player):
            read.terminal = terminal
        terminal.talk()
    return 0


def guide(story: Story, width: int) -> str:
    """What a newcomer can do at once, each as it is typed."""
    first, other = story.entries[0], story.votes[0][0]
    lines = (
        "Four things to type here; help lists the rest, quit ends it:",
        f"  break random {story.tune} level={story.level}",
        f"  challenge set {story.tune} {story.phrase}",
        f"  variation send (and as its tab {first.text})",
        f"  as {other}, then variation vote 1; challenge close, then 1; favourites",
    )
    return "".join(f"{prose(line, width)}\n" for line in lines)


class Player:
    """Types a story's lines and shows what it types: the ``read`` of a terminal."""

    def __init__(self, story: Story, write: Callable[[str], object]) -> None:
        self._lines = self._told(story)
        self._write = write
        self.terminal: Terminal | None = None

    def __call__(self, prompt: str) -> str:
        line = next(self._lines, None)
        if line is None:
            raise EOFError
        self._write(f"{prompt}{line}\n")
        return line

    def _told(self, story: Story) -> Iterator[str]:
        yield f"break random {story.tune} level={story.level} seed={story.seed}"
        yield f"challenge set {story.tune} {story.phrase}"
        numbers: dict[str, str] = {}
        speaker = story.you
        for entry in story.entries:
            yield from _speak(entry.by, speaker)
            speaker = entry.by
            yield "variation send"
            yield from _typed(entry)
            numbers[entry.by] = self._number()
        for voter, author in story.votes:
            yield from _speak(voter, speaker)
            speaker = voter
            yield f"variation vote {numbers[author]}"
        yield from _speak(story.you, speaker)
        yield "challenge close"
        yield "1"  # it is asked once more
        yield "favourites"

    def _number(self) -> str:
        """That of the variation that was shown last."""
        offered = None if self.terminal is None else self.terminal.offered("variation vote")
        return "1" if offered is None else offered.given["variation"]


def _speak(who: str, speaker: str) -> Iterable[str]:
    return () if who == speaker else (f"as {who}",)


def _typed(entry: Entry) -> Iterable[str]:
    """The blanks of the form, in their order; the last one asks whose it is if it is not one's own."""
    return (*entry.text.splitlines(), END_OF_TEXT, entry.name, entry.comment, "")
