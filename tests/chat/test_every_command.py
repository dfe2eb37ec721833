"""Every command typed, every button pressed, every form filled, end to end: nothing is left unanswered or against the rules."""

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from bot.commands.book import book
from tests.chat.corner import GROUP, Corner, running_corner
from tests.chat_platform.asked import Asked
from tests.chat_platform.people import Upload
from tests.chat_platform.wire import Message

LINE = "32514251, 3.2 /4 2 5 1 (15)--"
ABC = (
    b"X:1\nT:Lantern on the Sill\nM:2/2\nL:1/8\nK:G\n|: G2 A2 B2 A2 | G2 E2 D4 | G2 A2 B2 c2 | d2 B2 G4 :|\n"
)
TAB_STAFF = (
    b"<score-partwise><part-list/><part><measure><attributes><divisions>2</divisions></attributes>"
    + b"".join(
        b"<note><duration>1</duration><notations><technical><string>%c</string><fret>0</fret></technical></notations></note>"
        % string
        for string in b"32514251"
    )
    + b"</measure></part></score-partwise>"
)
OGG = b"OggS" + bytes(200)
# What is given with each command that needs something. {code} is that of a break, {variation} of one that was sent in.
GIVEN: dict[str, Mapping[str, Any]] = {
    "break random": {"tune": "heron-ferry", "level": 2},
    "break best": {"tune": "thimble-creek", "by": "melody"},
    "break number": {"tune": "millers-mitten", "number": "31,007"},
    "break show": {"code": "{code}", "key": "A"},
    "break swap": {"code": "{code}"},
    "break licks": {"code": "{code}"},
    "break sound": {"code": "{code}", "tempo": 72},
    "break work-up": {"code": "{code}", "phrase": "3"},
    "break loop": {"code": "{code}", "phrase": "16"},
    "break sheet": {"code": "{code}"},
    "break text": {"code": "{code}"},
    "break read-out": {"code": "{code}"},
    "break quiz": {"code": "{code}"},
    "break picture": {"code": "{code}"},
    "break learn": {"tune": "heron-ferry"},
    "tune show": {"tune": "millers-mitten"},
    "tune chart": {"tune": "heron-ferry"},
    "tune bring": {"file": Upload("lantern.abc", ABC, "text/vnd.abc")},
    "tune plain": {"tune": "heron-ferry"},
    "tune take": {"tune": "heron-ferry", "kind": "musicxml"},
    "tune arrange": {"tune": "heron-ferry", "plain": 1},
    "tune positions": {"tune": "heron-ferry"},
    "tune mend": {"tune": "heron-ferry"},
    "tune phrases": {"tune": "heron-ferry"},
    "tune role": {"tune": "heron-ferry", "phrase": "2", "role": "set-up"},
    "tune cut": {"tune": "heron-ferry", "part": "A", "measures": "4 4"},
    "tune kick-off": {"tune": "heron-ferry"},
    "tune ending": {"tune": "heron-ferry"},
    "tune behind": {"tune": "thimble-creek", "instrument": "guitar"},
    "lick show": {"lick": "1"},
    "lick sound": {"lick": "1"},
    "lick work-up": {"lick": "1"},
    "lick find": {"tune": "heron-ferry", "phrase": "2"},
    "lick propose": {"tune": "heron-ferry", "phrase": "2"},
    "lick search": {"words": "ferry"},
    "lick easier": {"lick": "3"},
    "lick twins": {"lick": "1"},
    "lick send": {
        "tune": "heron-ferry",
        "phrase": "1",
        "file": Upload("bell.musicxml", TAB_STAFF, "text/xml"),
    },
    "lick mend": {"lick": "1"},
    "lick retire": {"lick": "9"},
    "lick keep": {"lick": "9"},
    "lick report": {"lick": "1"},
    "challenge set": {"tune": "heron-ferry", "phrase": "2", "opens": "next-week"},
    "variation record": {"file": Upload("ferry.ogg", OGG, "audio/ogg")},
    "variation write-down": {"variation": "{variation}"},
    "variation show": {"variation": "{variation}"},
    "variation sound": {"variation": "{variation}"},
    "variation vote": {"variation": "{variation}"},
    "variation unvote": {"variation": "{variation}"},
    "variation mend": {"variation": "{variation}"},
    "variation withdraw": {"variation": "{variation}"},
    "variation review": {"variation": "{variation}", "decision": "pool"},
    "evening plan": {"day": "2026-11-06", "title": "Friday", "tunes": "heron-ferry, thimble-creek"},
    "evening show": {"evening": "1"},
    "evening share": {"evening": "1", "players": "Wren banjo, Otter guitar"},
    "evening played": {"tune": "heron-ferry", "evening": "1"},
    "tune know": {"tune": "heron-ferry", "keys": "G A"},
    "tune learn": {"tune": "heron-ferry"},
    "tune park": {"tune": "heron-ferry"},
    "practice log": {"lick": "1", "tempo": 72, "clean": True, "passes": 3},
    "practice reminders": {"on": True},
    "practice share": {"on": True},
    "lesson set": {"member": "Wren", "lick": "1", "day": "2026-11-09"},
    "lesson done": {"lesson": 1},
    "group name-me": {"name": "Kit of the ferry"},
    "group role": {"member": "Otter", "organiser": True},
}
BROKEN = "Something went wrong on our side"


@pytest.fixture(scope="module")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Corner]:
    with running_corner(tmp_path_factory.mktemp("corner")) as running:
        yield running


def test_each_command_is_tried_here() -> None:
    needing = {c.name for c in book().listed if any(option.required for option in c.options)}
    assert needing <= set(GIVEN)
    assert set(GIVEN) <= {command.name for command in book().listed}


WAIT_S = 150  # sound of many minutes takes a while on a busy machine
SLOW, MOST_SLOW = (" sound", " work-up"), 2  # commands that make sound are pressed under so many labels only
# What must come last: afterwards there is no challenge, or nobody to ask.
LAST = ("challenge close", "challenge round-up", "group leave", "group erase-me")


class Walk:
    """Presses whatever can be pressed, each kind of button once, and fills whatever form comes up."""

    def __init__(self, corner: Corner) -> None:
        self.corner = corner
        self.pressed: set[tuple[str, str]] = set()
        self.broken: list[str] = []

    def type(self, command: str, **options: Any) -> Asked:
        asked = self.corner.ask(command, self.corner.kit, WAIT_S, **options)
        self._look(asked, command)
        return asked

    def _look(self, asked: Asked, how: str) -> None:
        if asked.modal is not None:
            self.pressed.add((asked.modal["custom_id"].partition("?")[0], asked.modal["title"]))
            filled = {blank: typed_into(blank) for blank in blanks_of(asked.modal)}
            asked = self.corner.platform.submit(asked, filled).wait(WAIT_S)
        for message in asked.messages:
            if BROKEN in message.content or len(asked.messages) != 1:
                self.broken.append(f"{how}: {message.content}")
            self._press_all(message, how)

    def _press_all(self, message: Message, how: str) -> None:
        for item in message.items:
            if item["type"] == 2:
                what, label = item["custom_id"], item["label"]
            else:
                what, label = item["options"][0]["value"], item["placeholder"]
            command = what.partition("?")[0]
            if (command, label) in self.pressed:
                continue
            if command.endswith(SLOW) and sum(other == command for other, _ in self.pressed) >= MOST_SLOW:
                continue
            self.pressed.add((command, label))
            if item["type"] == 2:
                asked = self.corner.press(message, label, self.corner.kit, WAIT_S)
            else:
                asked = self.corner.platform.select(message, item["custom_id"], [what], self.corner.kit).wait(
                    40
                )
            self._look(asked, f"{how} > {label}")


def blanks_of(modal: Mapping[str, Any]) -> list[str]:
    found = []
    for row in modal["components"]:
        for inner in row.get("components", [row.get("component")]):
            if inner is not None:
                found.append(inner["custom_id"])
    return found


def typed_into(blank: str) -> str:
    fitting = {"text": LINE, "chords": "| G | G |", "key": "G", "time": "19:30", "zone": "Europe/Berlin"}
    return fitting.get(blank, "Ferry bell")


def test_whatever_is_typed_or_pressed_is_answered(corner: Corner) -> None:
    walk = Walk(corner)
    made = corner.ask("break random", corner.kit, tune="heron-ferry")
    filled = {"{code}": made.message.content.split("code ")[1][:8], "{variation}": "1"}
    corner.ask("challenge set", corner.kit, tune="heron-ferry", phrase="1")
    sent = corner.service.member.post(f"{GROUP}/challenges/1/variations", json={"text": LINE, "name": "Bell"})
    assert sent.status_code == 201, sent.text
    for command in sorted(book().listed, key=lambda one: LAST.index(one.name) if one.name in LAST else -1):
        given = GIVEN.get(command.name, {})
        walk.type(command.name, **{name: filled.get(str(value), value) for name, value in given.items()})
    assert walk.broken == []
    hidden = {command.name for command in book().commands if not command.listed}
    reached = {command.removeprefix("b1:") for command, _ in walk.pressed}
    assert hidden <= reached
