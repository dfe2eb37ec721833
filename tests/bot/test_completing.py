"""What is offered while somebody types."""

import asyncio
from pathlib import Path

import pytest

from bot.api.client import Client
from bot.asks import Visitor
from bot.commands.book import book
from bot.completing import choices
from bot.front import Front
from bot.replies import Call
from tests.bot.asking import GROUP, SERVER, Asking
from tests.support import RunningService


def offered(
    asking: Asking, command: str, focused: str, who: str = "wren", **given: str
) -> list[tuple[str, str]]:
    call = Call(command, {name.replace("_", "-"): value for name, value in given.items()})
    found = asking.run(choices(asking.front, call, focused, asking.visitor(who)))
    assert len(found) <= 25
    assert all(1 <= len(label) <= 100 and 1 <= len(value) <= 100 for label, value in found)
    return found


def test_tunes_are_offered_by_name(reading: Asking) -> None:
    assert offered(reading, "break random", "tune", tune="") == [
        ("Heron Ferry", "heron-ferry"), ("Miller's Mitten", "millers-mitten"), ("Thimble Creek", "thimble-creek"),
    ]  # fmt: skip
    assert offered(reading, "break random", "tune", tune="mit") == [("Miller's Mitten", "millers-mitten")]
    assert offered(reading, "break random", "tune", tune="creek th") == [("Thimble Creek", "thimble-creek")]


def test_licks_are_offered_by_words_or_number(reading: Asking) -> None:
    expected = [("63 Latch and lean, banjo, level 1", "63")]
    assert offered(reading, "lick show", "lick", lick="lean latch") == expected
    assert expected[0] in offered(reading, "lick show", "lick", lick="63")
    assert expected[0] in offered(reading, "lick show", "lick", lick="63 Latch and lean, banjo, level 1")
    assert len(offered(reading, "lick show", "lick", lick="")) == 25


def test_phrases_are_offered_of_the_tune_given_so_far(reading: Asking) -> None:
    found = offered(reading, "lick find", "phrase", tune="Miller's Mitten", phrase="")
    assert found[3] == ("4: A part, over A G A", "4")
    assert len(found) == 16
    assert offered(reading, "lick find", "phrase", tune="millers-mitten", phrase="4")[0][1] == "4"
    assert offered(reading, "lick find", "phrase", phrase="4") == []


def test_phrases_are_offered_of_the_break_given_so_far(reading: Asking) -> None:
    """In its playing position, at the phrases where a lick begins."""
    made = reading.answer("wren", "break random", tune="millers-mitten", seed=3)
    found = offered(reading, "break loop", "phrase", code=str(made.code), phrase="")
    assert ("3: A part, over G D", "3") in found
    assert offered(reading, "break loop", "phrase", code="00000000", phrase="") == []


def test_members_are_offered_by_name(reading: Asking) -> None:
    assert offered(reading, "practice progress", "member", member="ott") == [("Otter", "Otter")]


def test_variations_of_the_open_challenge_are_offered(asking: Asking) -> None:
    """One that is held back is offered to whoever sent it in, and to organisers."""
    assert offered(asking, "variation show", "variation", variation="") == []
    challenge = asking.service.organiser.post(
        f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1}
    )
    assert challenge.status_code == 201, challenge.text
    twin = asking.service.operator.get(f"{GROUP}/licks/1").json()
    sent = asking.service.member.post(
        f"{GROUP}/challenges/1/variations", json={"name": "Over the stile", "text": twin["tab"]}
    )
    assert (sent.status_code, sent.json()["state"]) == (201, "held"), sent.text
    assert offered(asking, "variation show", "variation", who="otter", variation="") == []
    assert offered(asking, "variation show", "variation", who="kit", variation="") == [
        ("1 Over the stile", "1")
    ]


def test_evenings_are_offered_by_day_and_title(asking: Asking) -> None:
    planned = asking.service.organiser.post(
        f"{GROUP}/evenings", json={"day": "2026-12-04", "title": "Friday", "tunes": [{"tune": "heron-ferry"}]}
    )
    assert planned.status_code == 201, planned.text
    assert offered(asking, "evening show", "evening", evening="fri") == [("1 Friday, 2026-12-04", "1")]


@pytest.mark.parametrize(
    ("command", "focused"),
    [("no such", "tune"), ("break random", "no-such"), ("break random", "level"), ("break show", "code")],
)
def test_what_is_not_completed_offers_nothing(reading: Asking, command: str, focused: str) -> None:
    assert offered(reading, command, focused, tune="h", level="1") == []


def test_strangers_are_offered_nothing(reading: Asking) -> None:
    assert offered(reading, "break random", "tune", who="stranger", tune="") == []


def test_the_same_is_not_asked_twice_within_a_moment(asking: Asking) -> None:
    """A tune that is hidden meanwhile is offered for a few seconds more."""
    assert len(offered(asking, "break random", "tune", tune="")) == 3
    gone = asking.service.organiser.delete(
        "/v1/groups/ferry-lane/tunes/thimble-creek", headers={"If-Match": "*"}
    )
    assert gone.status_code == 204
    assert len(offered(asking, "break random", "tune", tune="")) == 3


def test_a_service_that_is_down_offers_nothing(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True) as service:
        address = service.address

    async def ask() -> list[tuple[str, str]]:
        async with Client(address, "no token") as client:
            visitor = Visitor("chat:wren", "Wren", SERVER)
            return await choices(Front(client, book()), Call("break random", {"tune": "h"}), "tune", visitor)

    assert asyncio.run(ask()) == []
