"""Posts as replies: what may be done about each."""

from typing import Any

import pytest

from bot.calls import written
from bot.commands.book import book
from bot.posts import BUTTONS, reply_of
from schemas.challenges import PostOut

OPEN = {"challenge": 3, "state": "open", "tune": "heron-ferry", "phrase": 1, "lick": 1}


def _post(kind: str, params: dict[str, Any], text: str = "One line.\nAnother.", **more: Any) -> PostOut:
    known: dict[str, Any] = {
        "id": 1, "kind": kind, "deed": "send", "group": "ferry-lane", "platform": "console", "server_id": "here",
        "channel": "here", "recipient": None, "message_id": None, "nonce": "bw1", "perhaps_sent": False,
        "lease_until": "2026-11-02T18:00:00Z", "under": None, "language": "en",
    }  # fmt: skip
    return PostOut(**{**known, **more, "text": text, "params": params})


@pytest.mark.parametrize(
    ("kind", "params", "calls"),
    [
        ("challenge", OPEN,
         [("challenge now", {}), ("variation send", {}), ("challenge entries", {"challenge": "3"})]),
        ("challenge", OPEN | {"state": "closed"}, [("challenge round-up", {"challenge": "3"}), ("favourites", {})]),
        ("reminder", OPEN, [("variation send", {}), ("challenge entries", {"challenge": "3"})]),
        ("round-up", OPEN, [("favourites", {}), ("challenge entries", {"challenge": "3"})]),
        ("variation", {"variation": 12},
         [("variation vote", {"variation": "12"}), ("variation show", {"variation": "12"}),
          ("variation sound", {"variation": "12"})]),
        ("lesson", {"lick": 42, "break": None}, [("lick show", {"lick": "42"}), ("lesson list", {})]),
        ("lesson", {"lick": None, "break": "7P5MNCRY"}, [("break show", {"code": "7P5MNCRY"}), ("lesson list", {})]),
        ("practice", {}, [("practice due", {})]),
        ("channel-trouble", {}, [("group set-up", {})]),
        ("nothing-to-draw", {}, [("tune list", {})]),
        ("something newer", {}, []),
    ],
)  # fmt: skip
def test_a_post_has_buttons_for_what_may_be_done_about_it(
    kind: str, params: dict[str, Any], calls: list[tuple[str, dict[str, str]]]
) -> None:
    reply = reply_of(_post(kind, params))
    assert (reply.head, reply.notes) == ("One line.", ("Another.",))
    made = [(button.call.command, button.call.given) for row in reply.buttons for button in row]
    assert made == calls


@pytest.mark.parametrize(
    ("language", "labels"),
    [
        ("de", ["Abstimmen", "Ansehen", "Anhören"]),
        ("es", ["Votar", "Verla", "Escucharla"]),
        ("fr", ["Vote", "See it", "Hear it"]),
    ],
)
def test_buttons_of_a_post_are_in_its_groups_language(language: str, labels: list[str]) -> None:
    reply = reply_of(_post("variation", {"variation": 12}, language=language))
    assert [button.label for button in reply.buttons[0]] == labels


def test_what_one_person_gets_alone_is_about_the_group_it_came_from() -> None:
    reply = reply_of(_post("practice", {}, recipient="wren", channel=None))
    assert reply.private
    assert reply.buttons[0][0].call.group == "ferry-lane"
    assert reply_of(_post("reminder", OPEN)).buttons[0][0].call.group is None


def test_every_button_of_a_post_calls_a_command_with_options_it_has_and_fits() -> None:
    assert len(BUTTONS) == 9
    params = {**OPEN, "variation": 9_999_999, "break": "7P5MNCRY"}
    for kind in BUTTONS:
        for row in reply_of(_post(kind, params, recipient="wren")).buttons:
            for button in row:
                command = book().find(button.call.command)
                assert command is not None, button.call.command
                assert set(button.call.given) <= {option.name for option in command.options}
                written(button.call, book().short_names(command.name), "bw" + "x" * 20)
