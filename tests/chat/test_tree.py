"""The command tree that is made known, within what the platform takes, and its picture in letters so that no change goes unseen."""

import hashlib
import json
from typing import Any

import pytest

from bot.book import Book
from bot.commands.book import book
from bot.discord_side.tree import tree
from bot.replies import Call

MOST_LETTERS = 8000  # of a command with all below it (API reference, "Application Commands")


def _letters(node: dict[str, Any]) -> int:
    own = len(node.get("name", "")) + len(node.get("description", "")) + len(str(node.get("value", "")))
    return own + sum(_letters(below) for kind in ("options", "choices") for below in node.get(kind, ()))


@pytest.mark.parametrize("command", tree(book()), ids=lambda command: command["name"])
def test_a_command_is_within_the_platforms_limits(command: dict[str, Any]) -> None:
    assert _letters(command) <= MOST_LETTERS
    assert len(command["options"]) <= 25
    for inner in command["options"]:
        options = inner.get("options", [])
        assert len(options) <= 25
        required = [option["required"] for option in options]
        assert required == sorted(required, reverse=True)


def test_the_tree_is_small_enough_as_a_whole() -> None:
    assert len(tree(book())) <= 100


def test_the_same_book_makes_the_same_tree() -> None:
    digests = {hashlib.sha256(json.dumps(tree(book())).encode()).hexdigest() for _ in range(2)}
    assert len(digests) == 1


def test_short_names_are_a_commands_own() -> None:
    for command in book().commands:
        shorts = [option.short for option in command.options]
        assert len(set(shorts)) == len(shorts), command.name
        assert not {"", "#"} & set(shorts), command.name


def test_a_book_with_two_commands_of_one_name_is_refused() -> None:
    one = book().commands[0]
    with pytest.raises(ValueError, match="one name"):
        Book({}, (one, one))


def test_what_a_button_carries_under_names_that_are_gone_is_left_out() -> None:
    call = book().long_names(Call("break show", {"c": "7P5MNCRY", "zz": "1"}))
    assert call == Call("break show", {"code": "7P5MNCRY"})
