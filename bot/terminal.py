"""The chat at a terminal: commands are typed, buttons are numbers, forms ask for one blank after the other."""

import asyncio
import contextlib
import mimetypes
import secrets
from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from bot.api import outbox
from bot.api.client import GroupClient, Refused, Unreachable
from bot.asks import Page, Visitor
from bot.book import Sent
from bot.console import WIDEST_PROSE, numbered, prose, shown, written
from bot.front import Front
from bot.helping import command_page, how_to_type
from bot.posts import reply_of
from bot.replies import Answer, Blank, Call, Form, Reply
from bot.trouble import Unusable
from bot.typed import read_line
from bot.wording import say, typed_name, word
from schemas.tunes import TuneList

PLATFORM = "console"  # the platform whose posts a terminal may bring: those of a real chat belong there
SERVER = "here"
END_OF_TEXT = "."  # the line that ends a long text: an empty one may be part of it
MOST_POSTS = 50
LEAVE = frozenset(("quit", "exit", "bye"))


class Run(Protocol):
    """Does a piece of work and waits for it."""

    def __call__(self, work: Coroutine[Any, Any, Any], /) -> Any: ...


@dataclass(frozen=True, slots=True)
class Pressable:
    """What a number presses; ``tab`` is that of the reply it stands below."""

    call: Call
    tab: str


class Terminal:
    """``read`` brings a line that somebody types after a prompt and raises EOFError when there is none any more; ``write`` shows
    text. ``bringing`` lets it show the posts of its own platform, which takes a bot's token."""

    def __init__(
        self,
        front: Front,
        visitor: Visitor,
        run: Run,
        read: Callable[[str], str],
        write: Callable[[str], object],
        page: Page,
        folder: Path,
        *,
        bringing: bool = False,
    ) -> None:
        self._front, self._visitor, self._run = front, visitor, run
        self._read, self._write = read, write
        self._width = min(page.width, WIDEST_PROSE)
        self._folder = folder
        self._bringing = bringing
        self._numbered: list[Pressable] = []
        self._numbers_are_old = True  # the next thing shown with choices counts from 1

    @property
    def prompt(self) -> str:
        return f"{self._visitor.name}> "

    def talk(self) -> None:
        """Until somebody leaves. Ctrl-C drops what is being typed or waited for."""
        going_on = True
        while going_on:
            try:
                going_on = self.typed(self._read(self.prompt))
            except EOFError:
                self._write("\n")
                return
            except KeyboardInterrupt:
                self._write(f"\n{self._say('Dropped. To leave, type quit.')}\n")

    def typed(self, line: str) -> bool:
        """Does what a line says; False if it was to leave."""
        first, _, rest = line.strip().partition(" ")
        word = first.lower()
        if word in LEAVE and not rest:
            return False
        try:
            self._do(word, rest.strip(), line)
        except Unusable as unusable:
            self._write(prose(unusable.text, self._width) + "\n")
        if self._bringing:
            self._bring_posts()
        return True

    def _do(self, word: str, rest: str, line: str) -> None:
        if word.isdigit() and not rest:
            self._press(int(word))
        elif word == "as" and self._visitor.user is not None:
            self._speak_as(rest)
        elif word in ("help", typed_name("help", self._language)):
            self._help(rest)
        else:
            call = read_line(line, self._front.book, self._language, self._tunes)
            if call is not None:
                self._answer(call)

    # --- calls and what comes of them ---------------------------------------------------------------------------

    def _press(self, number: int) -> None:
        if not 1 <= number <= len(self._numbered):
            if not self._numbered:
                text = word("Nothing below the last answer can be pressed. Type help to see what there is.")
                raise Unusable(self._say(text))
            text = word(
                "There is no {number} to press: the numbers below the last answer go from 1 to {most}."
            )
            raise Unusable(say(text, self._language, number=number, most=len(self._numbered)))
        pressed = self._numbered[number - 1]
        self._answer(pressed.call, pressed.tab)

    def _answer(self, call: Call, tab: str = "") -> None:
        files = self._files_of(call)
        # a key of its own, so that whatever is written is written once
        visitor = replace(self._visitor, key=secrets.token_hex(8), shown=tab)
        answer: Answer = self._run(self._front.answer(call, visitor, files))
        while isinstance(answer, Form):
            filled = self._filled(answer)
            if filled is None:
                self._write(f"\n{self._say('Left as it was.')}\n")
                return
            visitor = replace(visitor, key=secrets.token_hex(8))
            answer = self._run(self._front.answer(filled, visitor, files))
        self._numbers_are_old = True
        if answer.failed:
            self._numbered = []  # what stands below an older answer is not what somebody means now
        self._show(answer)

    def _show(self, reply: Reply) -> None:
        """A reply, its files written, what may be pressed numbered on from what is numbered already."""
        if reply.files:
            try:
                places = written(reply.files, self._folder)
            except OSError as error:
                text = word("Cannot write files to {folder}: {why}. Choose another one with --files.")
                places = (say(text, self._language, folder=self._folder, why=error.strerror),)
            reply = replace(reply, notes=(*reply.notes, *places))
        self._write(shown(reply, self._width))
        calls = [button.call for row in reply.buttons for button in row]
        calls += [choice.call for menu in reply.menus for choice in menu.choices]
        if calls:
            if self._numbers_are_old:
                self._numbered, self._numbers_are_old = [], False
            self._write("\n" + numbered(reply, len(self._numbered) + 1, self._width))
            self._numbered += [Pressable(call, reply.tab) for call in calls]
        self._write("\n")

    def _files_of(self, call: Call) -> Mapping[str, Sent]:
        """Files that are sent along, by the places typed for them. Raises Unusable."""
        command = self._front.book.find(call.command)
        options = () if command is None else command.options
        wanted = {option.name: call.given.get(option.name) for option in options if option.kind == "file"}
        return {name: _sent(Path(place), self._language) for name, place in wanted.items() if place}

    def offered(self, command: str) -> Call | None:
        """The call of a command that was shown last with a number."""
        calls = [pressable.call for pressable in self._numbered if pressable.call.command == command]
        return calls[-1] if calls else None

    # --- forms --------------------------------------------------------------------------------------------------

    def _filled(self, form: Form) -> Call | None:
        """The call of a form with what was typed into its blanks; None if it was given up."""
        self._write(f"{form.title}\n")
        typed = {}
        try:
            for blank in form.blanks:
                typed[blank.name] = self._blank(blank)
        except (KeyboardInterrupt, EOFError):
            return None
        given = {**form.call.given, **{name: value for name, value in typed.items() if value}}
        return replace(form.call, given=given)

    def _blank(self, blank: Blank) -> str:
        if blank.hint:
            self._write(prose(blank.hint, self._width) + "\n")
        if blank.value:
            self._write(f"{blank.value}\n({self._say('Enter alone keeps this.')})\n")
        while True:
            typed = self._long(blank) if blank.long else self._read(f"{blank.label}: ").strip()
            typed = typed or blank.value
            if len(typed) > blank.most:
                text = word("That has {count} characters, and {most} are what goes in.")
                self._write(say(text, self._language, count=len(typed), most=blank.most) + "\n")
            elif typed or not blank.required:
                return typed
            else:
                self._write(self._say("It cannot stay empty. Ctrl-C leaves the form.") + "\n")

    def _long(self, blank: Blank) -> str:
        text = word("{label} (on several lines if you like; a line with . alone ends it)")
        self._write(prose(say(text, self._language, label=blank.label), self._width) + "\n")
        lines: list[str] = []
        while (line := self._read("| ")).strip() != END_OF_TEXT:
            if not line and not lines and blank.value:
                return ""  # what is there is kept
            lines.append(line)
        return "\n".join(lines).strip("\n")

    # --- words of the terminal's own ----------------------------------------------------------------------------

    def _speak_as(self, name: str) -> None:
        if not name:
            raise Unusable(self._say("As whom? Type a name behind it, as in: as Wren."))
        platform = (self._visitor.user or "").partition(":")[0]
        self._visitor = replace(self._visitor, user=user_of(platform, name), name=name[:40].title())
        self._write(say("You speak as {name} now.", self._language, name=self._visitor.name) + "\n")

    def _help(self, about: str) -> None:
        lines = command_page(self._front.book, about, self._language) if about else ()
        if about and not lines:
            text = word("There is nothing called “{words}”. Type help alone to see what there is.")
            raise Unusable(say(text, self._language, words=about[:40]))
        if not lines:
            self._answer(Call("help"))
            lines = how_to_type(self._language, acting=self._visitor.user is not None)
        self._write("\n".join(prose(line, self._width) for line in lines) + "\n\n")

    # --- what is known and what comes by itself -----------------------------------------------------------------

    def _tunes(self) -> Mapping[str, str]:
        """Names of the group's tunes; none where they cannot be told just now."""
        with contextlib.suppress(Refused, Unreachable, TimeoutError):
            ask = self._run(self._front.ask_of(self._visitor))
            if ask is not None:
                found: TuneList = self._run(_tunes_of(ask.here))
                return {tune.slug: tune.name for tune in found.items}
        return {}

    def _bring_posts(self) -> None:
        try:
            while posts := self._run(outbox.claim(self._front.client, PLATFORM, MOST_POSTS)).items:
                for post in posts:
                    if post.deed == "send":
                        alone = self._say("For one of you alone:") if post.recipient else ""
                        self._write((alone or self._say("Posted for all:")) + "\n")
                        self._show(reply_of(post))
                    message = post.message_id or f"console-{post.id}"
                    self._run(outbox.sent(self._front.client, post.id, message))
        except (Refused, Unreachable):
            pass  # they wait

    @property
    def _language(self) -> str:
        return self._visitor.language

    def _say(self, text: str) -> str:
        return say(text, self._language)


async def _tunes_of(here: GroupClient) -> TuneList:
    return await here.get("/tunes", TuneList, {"limit": 200})


def user_of(platform: str, name: str) -> str:
    """Somebody's user on a platform, made of a name that was typed: ``console:wren``."""
    plain = "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.casefold()).split())
    return f"{platform}:{plain[:40] or 'you'}"


def _sent(place: Path, language: str) -> Sent:
    """A file of this machine. Raises Unusable."""
    try:
        size = place.stat().st_size
        if not place.is_file():
            raise OSError
    except (OSError, ValueError):
        raise Unusable(say("There is no file {place}.", language, place=place)) from None

    async def read() -> bytes:
        return await asyncio.to_thread(place.read_bytes)

    return Sent(place.name, size, mimetypes.guess_type(place.name)[0] or "application/octet-stream", read)
