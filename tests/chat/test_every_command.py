"""Every command typed, every button pressed, every form filled, end to end: nothing is left unanswered or against the rules."""

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from bot.commands.book import book
from tests.chat.corner import Corner, running_corner
from tests.chat_platform.asked import Asked
from tests.chat_platform.people import Upload
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
    "break more": {"code": "{code}"},
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
