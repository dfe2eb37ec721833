"""The command tree that is made known, within what the platform takes, and its picture in letters so that no change goes unseen."""

import hashlib
import json
import re
from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from bot.book import Book
from bot.commands.book import book
from bot.discord_side.tree import LONGEST_ABOUT, tree
from bot.replies import Call
from bot.wording import known_language, languages, say

MOST_LETTERS = 8000  # of a command with all below it (API reference, "Application Commands")


# Without the scripts of which no language of ours is (API reference, "Application Command Naming")
NAME = re.compile(r"[-_'\w]{1,32}")
LOCALES = ("de", "es-ES", "es-419")


def _longest(node: dict[str, Any], what: str) -> int:
    """The longest of a text's localizations counts."""
    said = [node.get(what, ""), *node.get(f"{what}_localizations", {}).values()]
    return max(len(text) for text in said)


def _letters(node: dict[str, Any]) -> int:
    own = _longest(node, "name") + _longest(node, "description") + len(str(node.get("value", "")))
    return own + sum(_letters(below) for kind in ("options", "choices") for below in node.get(kind, ()))


def _all_of(node: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield node
    for below in node.get("options", ()):
        yield from _all_of(below)


def _names(nodes: Sequence[dict[str, Any]], locale: str) -> list[str]:
    return [node["name_localizations"][locale] for node in nodes]


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("command", tree(book()), ids=lambda command: command["name"])
def test_names_in_a_language_are_names_and_those_beside_each_other_differ(
    command: dict[str, Any], locale: str
) -> None:
    for node in _all_of(command):
        name = node["name_localizations"][locale]
        assert NAME.fullmatch(name), name
        assert name == name.lower()
        beside = _names(node.get("options", ()), locale)
        assert len(set(beside)) == len(beside), (node["name"], beside)
        choices = _names(node.get("choices", ()), locale)
        assert all(1 <= len(choice) <= 100 for choice in choices)
        assert len(choices) <= 25
        assert len(set(choices)) == len(choices), (node["name"], choices)


def test_first_words_differ_in_every_language() -> None:
    for locale in LOCALES:
        names = _names(tree(book()), locale)
        assert len(set(names)) == len(names), names


@pytest.mark.parametrize("language", ["en", *languages()])
def test_what_a_command_and_its_options_are_about_fits_uncut(language: str) -> None:
    """What is longer than a description may be is cut where the tree is made."""
    abouts = {
        *book().families.values(),
        *(command.about for command in book().listed),
        *(option.about for command in book().listed for option in command.typed),
    }
    assert [about for about in abouts if len(say(about, language)) > LONGEST_ABOUT] == []


def test_every_locale_of_the_platform_is_known_as_its_language() -> None:
    known = {locale: known_language(locale) for locale in (*LOCALES, "en-GB", "en-US", "fr")}
    assert known == {"de": "de", "es-ES": "es", "es-419": "es", "en-GB": "en", "en-US": "en", "fr": "en"}


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
