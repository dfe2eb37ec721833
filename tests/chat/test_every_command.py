"""Every command typed, every button pressed, every form filled, end to end: nothing is left unanswered or against the rules."""

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from bot.commands.book import book
from tests.chat.corner import Corner, running_corner
from tests.chat_platform.asked import Asked
from tests.chat_platform.wire import Message

LINE = "32514251, 3.2 /4 2 5 1 (15)--"
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
    "break learn": {"tune": "heron-ferry"},
    "tune show": {"tune": "millers-mitten"},
    "tune chart": {"tune": "heron-ferry"},
    "tune kick-off": {"tune": "heron-ferry"},
    "tune ending": {"tune": "heron-ferry"},
    "tune behind": {"tune": "thimble-creek", "instrument": "guitar"},
    "lick show": {"lick": "1"},
    "lick sound": {"lick": "1"},
    "lick work-up": {"lick": "1"},
    "lick find": {"tune": "heron-ferry", "phrase": "2"},
    "lick search": {"words": "ferry"},
    "lick easier": {"lick": "3"},
    "lick twins": {"lick": "1"},
    "lick send": {"tune": "heron-ferry", "phrase": "1"},
    "lick mend": {"lick": "1"},
    "lick retire": {"lick": "9"},
    "lick keep": {"lick": "9"},
    "lick report": {"lick": "1"},
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


class Walk:
    """Presses whatever can be pressed, each kind of button once, and fills whatever form comes up."""

    def __init__(self, corner: Corner) -> None:
        self.corner = corner
        self.pressed: set[tuple[str, str]] = set()
        self.broken: list[str] = []

    def type(self, command: str, **options: Any) -> Asked:
        asked = self.corner.ask(command, self.corner.kit, 40, **options)
        self._look(asked, command)
        return asked

    def _look(self, asked: Asked, how: str) -> None:
        if asked.modal is not None:
            self.pressed.add((asked.modal["custom_id"].partition("?")[0], asked.modal["title"]))
            filled = {blank: typed_into(blank) for blank in blanks_of(asked.modal)}
            asked = self.corner.platform.submit(asked, filled).wait(40)
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
            self.pressed.add((command, label))
            if item["type"] == 2:
                asked = self.corner.press(message, label, self.corner.kit, 40)
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
    return {"text": LINE, "chords": "| G | G |", "key": "G"}.get(blank, "Ferry bell")


def test_whatever_is_typed_or_pressed_is_answered(corner: Corner) -> None:
    walk = Walk(corner)
    made = corner.ask("break random", corner.kit, tune="heron-ferry")
    code = made.message.content.split("code ")[1][:8]
    for command in book().listed:
        given = {
            name: code if value == "{code}" else value for name, value in GIVEN.get(command.name, {}).items()
        }
        walk.type(command.name, **given)
    assert walk.broken == []
    hidden = {command.name for command in book().commands if not command.listed}
    reached = {command.removeprefix("b1:") for command, _ in walk.pressed}
    assert hidden <= reached
