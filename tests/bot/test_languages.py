"""Every command asked in German and in Spanish: no English is left in what it answers."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from bot.book import Sent
from bot.commands.book import book
from bot.commands.terms import PATTERNS
from bot.replies import Answer, Call, Form, Reply
from bot.wording import DOMAIN, LOCALE_FOLDER, languages, typed_name
from tests.bot.asking import GROUP, Asking, pressable
from tests.bot.test_bringing import midi_file
from tests.support import RunningService
from tests.tools.make_catalogues import DOMAINS

LINE = "32514251, 3.2 /4 2 5 1 (15)--"
BROUGHT = "Lantern on the Sill"
ABC = (
    b"X:1\nT:"
    + BROUGHT.encode()
    + b"\nM:2/2\nL:1/8\nK:G\n|: G2 A2 B2 A2 | G2 E2 D4 | G2 A2 B2 c2 | d2 B2 G4 :|\n"
)
TAB_STAFF = (
    b"<score-partwise><work><work-title>Qzx</work-title></work><part-list/><part><measure><attributes><divisions>2</divisions>"
    + b"<key><fifths>1</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    + b"".join(
        b"<note><duration>1</duration><notations><technical><string>%c</string><fret>0</fret></technical></notations></note>"
        % string
        for string in b"32514251"
    )
    + b"</measure></part></score-partwise>"
)
OGG = b"OggS" + bytes(200)
FILES = {
    "lantern.abc": ABC,
    "book.abc": ABC + b"\nX:2\nT:Qzx\nM:2/2\nK:G\nG2 \xc2\xa72|\n",
    "two.mid": midi_file(qzx=(74, 76, 78, 79, 81, 79, 78, 76), xqz=(50, 45, 50, 45, 50, 45, 50, 50)),
    "bell.musicxml": TAB_STAFF,
    "ferry.ogg": OGG,
}
# What is given with each command; where one is asked twice, both. {code} is that of a break.
GIVEN: dict[str, tuple[Mapping[str, str], ...]] = {
    "help": ({}, {"about": "break"}, {"about": "group"}),
    "break random": ({"tune": "heron-ferry", "level": "2"}, {"tune": "zzz"}, {"tune": "heron-ferry", "level": "9"}),
    "break best": ({"tune": "thimble-creek", "by": "melody"}, {"tune": "heron-ferry", "by": "zzz"}),
    "break number": ({"tune": "millers-mitten", "number": "31,007"}, {"tune": "millers-mitten", "number": "x"}),
    "break show": ({"code": "{code}", "key": "A"}, {"code": "{code}", "capo": "2"}, {"code": "00000000"}),
    "break swap": ({"code": "{code}"}, {"code": "{code}", "phrase": "3"}),
    "break licks": ({"code": "{code}"},),
    "break sound": ({"code": "{code}", "tempo": "72"},),
    "break work-up": ({"code": "{code}", "phrase": "3"},),
    "break loop": ({"code": "{code}", "phrase": "16"}, {"code": "{code}"}),
    "break sheet": ({"code": "{code}"},),
    "break text": ({"code": "{code}"},),
    "break read-out": ({"code": "{code}"}, {"code": "{code}", "phrase": "2"}),
    "break quiz": ({"code": "{code}"},),
    "break picture": ({"code": "{code}"},),
    "break learn": ({"tune": "heron-ferry"},),
    "tune list": ({}, {"words": "zzz"}),
    "tune show": ({"tune": "millers-mitten"},),
    "tune chart": ({"tune": "heron-ferry"},),
    "tune bring": (
        {"file": "lantern.abc"}, {"file": "ferry.ogg"}, {"file": "lantern.abc", "which": "9"}, {"file": "lantern.abc", "track": "2"},
        {"file": "book.abc", "name": "Qzx"}, {"file": "book.abc", "which": "2"}, {"file": "two.mid", "name": "Qzy"},
    ),
    "tune plain": ({"tune": "heron-ferry"},),
    "tune take": ({"tune": "heron-ferry"},),
    "tune arrange": ({"tune": "heron-ferry", "plain": "1"},),
    "tune positions": ({"tune": "heron-ferry"},),
    "tune mend": ({"tune": "heron-ferry"},),
    "tune phrases": ({"tune": "heron-ferry"},),
    "tune role": (
        {"tune": "heron-ferry", "phrase": "2"}, {"tune": "heron-ferry", "phrase": "2", "role": "tag"},
        {"tune": "heron-ferry", "phrase": "2"}, {"tune": "heron-ferry", "phrase": "99"},
    ),
    "tune cut": (
        {"tune": "heron-ferry", "part": "A", "measures": "4 4"}, {"tune": "heron-ferry", "part": "A", "measures": "4 3"},
        {"tune": "heron-ferry", "part": "A", "measures": "x"}, {"tune": "heron-ferry", "part": "Q", "measures": "4"},
    ),
    "tune kick-off": ({"tune": "heron-ferry"},),
    "tune ending": ({"tune": "heron-ferry"},),
    "tune behind": ({"tune": "thimble-creek", "instrument": "guitar"}, {"tune": "heron-ferry"}),
    "lick show": ({"lick": "1"}, {"lick": "40"}, {"lick": "9999"}),
    "lick sound": ({"lick": "1"},),
    "lick work-up": ({"lick": "1"},),
    "lick find": ({"tune": "heron-ferry", "phrase": "2"},),
    "lick propose": ({"tune": "heron-ferry", "phrase": "2"},),
    "lick search": ({}, {"words": "bell"}, {"words": "zzz"}),
    "lick easier": ({"lick": "3"}, {"lick": "1"}),
    "lick twins": ({"lick": "1"},),
    "lick send": ({"tune": "heron-ferry", "phrase": "1"}, {"file": "bell.musicxml"}, {"file": "ferry.ogg"}),
    "lick mend": ({"lick": "1"},),
    "lick retire": ({"lick": "9"},),
    "lick keep": ({"lick": "9"},),
    "lick report": ({"lick": "1"},),
    "challenge set": ({"tune": "heron-ferry", "phrase": "2"},),
    "challenge close": ({}, {"sure": "yes"}),
    "variation record": ({"file": "ferry.ogg"},),
    "variation write-down": ({"variation": "1"},),
    "variation show": ({"variation": "1"},),
    "variation sound": ({"variation": "1"},),
    "variation vote": ({"variation": "1"},),
    "variation unvote": ({"variation": "1"},),
    "variation mend": ({"variation": "1"},),
    "variation withdraw": ({"variation": "1"},),
    "variation review": ({"variation": "1", "decision": "pool"},),
    "evening plan": ({"day": "2026-11-06", "title": "Qzx", "tunes": "heron-ferry, thimble-creek"}, {"day": "zzz", "title": "x", "tunes": "heron-ferry"}),
    "evening show": ({"evening": "1"},),
    "evening share": ({"evening": "1", "players": "Wren banjo, Otter guitar"}, {"evening": "1", "players": "Wren"}),
    "evening played": ({"tune": "heron-ferry", "evening": "1"},),
    "tune know": ({"tune": "heron-ferry", "keys": "G A"},),
    "tune learn": ({"tune": "heron-ferry"},),
    "tune park": ({"tune": "heron-ferry"},),
    "practice log": ({"lick": "1", "tempo": "72", "clean": "yes", "passes": "3"},),
    "practice progress": ({}, {"lick": "1"}, {"member": "Zzz"}),
    "practice reminders": ({}, {"on": "yes"}, {"on": "zzz"}),
    "practice share": ({}, {"on": "yes"}),
    "lesson set": ({"member": "Wren", "lick": "1", "day": "2027-11-09"},),
    "lesson done": ({"lesson": "1"},),
    "group name-me": ({"name": "Kitz"},),
    "group role": ({"member": "Otter", "organiser": "yes"}, {"member": "Otter", "organiser": "no"}),
}  # fmt: skip
# Asked last: afterwards there is no challenge, or nobody to ask.
LAST = ("challenge close", "challenge round-up", "favourites", "group leave", "group erase-me")
TYPED = {"text": LINE, "chords": "| G | G |", "key": "G"}  # into blanks of forms
WORD = re.compile(r"[a-z]{2,}", re.IGNORECASE)


def _words(text: str) -> set[str]:
    return {word.lower() for word in WORD.findall(text)}


def english_alone(language: str) -> set[str]:
    """Words of what the service and the bot say that stand in no translation."""
    english: set[str] = set()
    other: set[str] = set()
    for domain in DOMAINS:
        for message in domain.merged(language):
            blank = re.compile(r"\{[^}]*\}")
            english |= _words(blank.sub("", message.id))
            other |= _words(blank.sub("", message.string))
    return english - other


@dataclass
class Listener:
    """Asks in one language and keeps what sounds English: lines with a word that is English alone."""

    asking: Asking
    language: str
    names: tuple[str, ...]  # of players' things, and of commands: they are what they are everywhere
    english: set[str] = field(init=False)
    heard: list[str] = field(default_factory=list)
    pressed: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.english = english_alone(self.language)

    def ask(self, call: Call, who: str = "kit") -> Answer:
        """The answer; buttons for commands that are never typed are pressed, forms filled, each kind once."""
        sent = call.given.get("file")
        files = {} if sent is None else {"file": _file(sent)}
        answer = self.asking.call(who, call, files, language=self.language)
        for text in said(answer):
            left = _words(_without(text, self.names)) & self.english
            if left:
                self.heard.append(f"{call.command}: {text} ({', '.join(sorted(left))})")
        for further in _further(answer):
            command = book().find(further.command)
            if further.command not in self.pressed and command is not None and not command.listed:
                self.pressed.add(further.command)
                self.ask(further, who)
        return answer


def _further(answer: Answer) -> list[Call]:
    if isinstance(answer, Form):
        typed = {blank.name: TYPED.get(blank.name, blank.value or "zzz") for blank in answer.blanks}
        return [replace(answer.call, given={**answer.call.given, **typed})]
    return [thing.call for thing in pressable(answer)]


def _without(text: str, names: Sequence[str]) -> str:
    for name in names:
        text = text.replace(name, "")
    return text


def _file(name: str) -> Sent:
    content = FILES[name]

    async def read() -> bytes:
        return content

    return Sent(name, len(content), "audio/ogg" if content is OGG else "application/octet-stream", read)


def said(answer: Answer) -> Iterator[str]:
    """Every line for people of an answer, but the tab."""
    if isinstance(answer, Form):
        yield answer.title
        for blank in answer.blanks:
            yield from (blank.label, blank.hint)
        return
    yield from (answer.head, *answer.notes)
    for row in answer.buttons:
        yield from (button.label for button in row)
    for menu in answer.menus:
        yield menu.hint
        for choice in menu.choices:
            yield from (choice.label, choice.note)
    for file in answer.files:
        yield file.description


@pytest.mark.parametrize("language", languages())
def test_a_sentence_that_names_a_command_names_it_as_it_is_typed_in_that_language(language: str) -> None:
    commands = [command.name for command in book().listed if " " in command.name]
    commands += ["help", "favourites"]
    wrong = [
        (told.id, told.string)
        for told in _catalogue(language)
        if told.id and not told.context and isinstance(told.id, str)
        for name in commands
        if re.search(rf": {re.escape(name)}(?![\w-])", told.id)
        and not re.search(rf"{re.escape(typed_name(name, language))}(?![\w-])", str(told.string))
    ]
    assert wrong == []


def _catalogue(language: str) -> Catalog:
    with (LOCALE_FOLDER / language / "LC_MESSAGES" / f"{DOMAIN}.po").open("rb") as file:
        return read_po(file)


@pytest.mark.parametrize("language", languages())
def test_no_english_is_left_in_an_answer(language: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    with RunningService(tmp_path_factory.mktemp(language), demo=True) as service, Asking(service) as asking:
        listener = Listener(asking, language, _names(service))
        made = listener.ask(Call("break random", {"tune": "heron-ferry", "seed": "3"}))
        assert isinstance(made, Reply)
        listener.ask(Call("challenge set", {"tune": "heron-ferry", "phrase": "1"}))
        sent = service.member.post(f"{GROUP}/challenges/1/variations", json={"text": LINE, "name": "Bell"})
        assert sent.status_code == 201, sent.text
        for command in sorted(
            book().listed, key=lambda one: LAST.index(one.name) if one.name in LAST else -1
        ):
            for given in GIVEN.get(command.name, ({},)):
                filled = {
                    name: str(made.code) if value == "{code}" else value for name, value in given.items()
                }
                listener.ask(Call(command.name, filled))
        assert listener.heard == []
        assert {command.name for command in book().commands if not command.listed} <= listener.pressed


def _names(service: RunningService) -> tuple[str, ...]:
    member: Any = service.member
    licks: list[Any] = member.get(f"{GROUP}/licks", params={"limit": 200}).json()["items"]
    tunes: list[Any] = member.get(f"{GROUP}/tunes").json()["items"]
    # patterns of backup are to be typed back, and the service says them in English
    named = [
        *PATTERNS,
        *(one["name"] for one in (*licks, *tunes)),
        BROUGHT,
        *(command.name for command in book().listed),
    ]
    return tuple(sorted(named, key=len, reverse=True))
