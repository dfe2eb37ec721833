"""What members wrote, as the chat shows it: it pings nobody, links nowhere, stays where it stands."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.commands.book import book
from bot.discord_side.showing import message_of
from bot.discord_side.texts import FENCE, block, cut, in_block, length, plain
from bot.replies import Reply, moment


@pytest.mark.parametrize(
    ("wrote", "shown"),
    [
        ("Miller's Mitten", "Miller's Mitten"),
        ("half = 80, level 2 (of 5)", "half = 80, level 2 (of 5)"),
        ("**bold** _slanted_ ~~gone~~ ||hidden||", r"\*\*bold\*\* \_slanted\_ \~\~gone\~\~ \|\|hidden\|\|"),
        ("@everyone <@12> <@&7> <#5>", "@\u200beveryone \\<@\u200b12\\> \\<@\u200b&7\\> \\<\\#5\\>"),
        ("[here](https://a.example)", r"\[here\](https\://a.example)"),
        ("# Big\n> said\n- one", "\\# Big\n\\> said\n\\- one"),
        ("1. Counting", "1\\. Counting"),
        ("a `tick`", r"a \`tick\`"),
        ("<t:1:F>", r"\<t:1:F\>"),
    ],
)
def test_markup_mentions_and_links_are_plain_text(wrote: str, shown: str) -> None:
    assert plain(wrote) == shown


def test_a_moment_is_shown_in_each_readers_own_zone() -> None:
    assert plain(f"Until {moment('2026-11-02T18:00:00Z')}.") == "Until <t:1793642400:f>."


@given(st.text(alphabet=st.sampled_from("ab`\n|-@<> ")))
def test_a_block_holds_whatever_is_put_in_and_gives_it_back(text: str) -> None:
    shown = f"**head**\n{block(text)}\na note"
    assert shown.count(FENCE) == 2
    assert in_block(shown) == text.removesuffix("\n")


@given(st.text(max_size=60))
def test_nobody_can_be_mentioned(text: str) -> None:
    shown = plain(text)
    assert not re.search(r"@(everyone|here)|(?<!\\)<(@|#|t:|/)", shown)


@given(st.text(max_size=80), st.integers(2, 40))
def test_a_text_is_cut_to_its_room(text: str, most: int) -> None:
    assert length(cut(text, most)) <= most
    assert length(text) > most or cut(text, most) == text


def test_an_answer_that_is_too_long_says_so_and_goes_along_as_a_file() -> None:
    reply = Reply(
        head="What is in it", notes=tuple(f"{number} a lick and what is said of it" for number in range(99))
    )
    shown = message_of(reply, book(), "en", 10_000)
    assert length(shown.content) <= 2000
    assert shown.content.endswith("All of it is in the file.")
    (file,) = shown.files
    assert file.data.decode().splitlines() == ["What is in it", *reply.notes]
