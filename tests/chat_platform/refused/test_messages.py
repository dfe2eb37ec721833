"""What of messages the stand-in refuses: each rule with a case on either side of it."""

import httpx
import pytest

from tests.chat_platform.refused.plain import Json, button, code, menu, posted, row
from tests.chat_platform.stand_in import Platform

RIGHT_MESSAGES: dict[str, Json] = {
    "2,000 characters": {"content": "x" * 2000},
    "ten embeds": {"embeds": [{"title": "x"}] * 10},
    "6,000 characters of embeds": {"embeds": [{"description": "x" * 3000}] * 2},
    "an embed at its limits": {
        "embeds": [
            {"title": "x" * 256, "fields": [{"name": "x", "value": "y"}] * 25, "footer": {"text": "x" * 2048}}
        ]
    },
    "five rows of five": {
        "components": [row(*(button(f"{line}{place}") for place in range(5))) for line in range(5)]
    },
    "a custom id of 100": {"components": [row(button("x", custom_id="x" * 100))]},
    "a label of 80": {"components": [row(button("x" * 80, custom_id="x"))]},
    "a link": {"components": [row({"type": 2, "style": 5, "label": "x", "url": "https://example.org"})]},
    "an emoji without a label": {
        "components": [row({"type": 2, "style": 1, "custom_id": "x", "emoji": {"name": "\N{BANJO}"}})]
    },
    "an embed with a picture of the message": {
        "embeds": [{"color": 0xFFFFFF, "image": {"url": "attachment://0.bin"}}]
    },
    "25 options": {"components": [row(menu(25, max_values=25, placeholder="x" * 150))]},
    "a menu of people": {"components": [row({"type": 5, "custom_id": "who"})]},
    "a nonce of 25": {"content": "x", "nonce": "n" * 25},
    "no mention at all": {"content": "x", "allowed_mentions": {"parse": []}},
    "one person's mention": {"content": "x", "allowed_mentions": {"parse": ["roles"], "users": ["1"]}},
    "silent": {"content": "x", "flags": 1 << 12},
}
WRONG_MESSAGES: dict[str, tuple[int, Json]] = {
    "2,001 characters": (50035, {"content": "x" * 2001}),
    "nothing": (50006, {}),
    "blanks": (50006, {"content": " \n "}),
    "a number for a text": (50035, {"content": 5}),
    "eleven embeds": (50035, {"embeds": [{"title": "x"}] * 11}),
    "6,001 characters of embeds": (
        50035,
        {"embeds": [{"description": "x" * 3000}, {"description": "x" * 3001}]},
    ),
    "a title of 257": (50035, {"embeds": [{"title": "x" * 257}]}),
    "a description of 4,097": (50035, {"embeds": [{"description": "x" * 4097}]}),
    "26 fields": (50035, {"embeds": [{"fields": [{"name": "x", "value": "y"}] * 26}]}),
    "an empty field": (50035, {"embeds": [{"fields": [{"name": "x", "value": ""}]}]}),
    "a field of 1,025": (50035, {"embeds": [{"fields": [{"name": "x", "value": "y" * 1025}]}]}),
    "a footer of 2,049": (50035, {"embeds": [{"footer": {"text": "x" * 2049}}]}),
    "six rows": (50035, {"components": [row(button(str(line))) for line in range(6)]}),
    "six buttons in a row": (50035, {"components": [row(*(button(str(place)) for place in range(6)))]}),
    "an empty row": (50035, {"components": [row()]}),
    "a button without a row": (50035, {"components": [button()]}),
    "a menu beside a button": (50035, {"components": [row(menu(), button())]}),
    "two menus in a row": (50035, {"components": [row(menu(), menu(custom_id="b"))]}),
    "a custom id of 101": (50035, {"components": [row(button("x", custom_id="x" * 101))]}),
    "no custom id": (50035, {"components": [row({"type": 2, "style": 1, "label": "x"})]}),
    "a custom id twice": (50035, {"components": [row(button()), row(button())]}),
    "a label of 81": (50035, {"components": [row(button("x" * 81, custom_id="x"))]}),
    "no label": (50035, {"components": [row(button("", custom_id="x"))]}),
    "a link with a custom id": (50035, {"components": [row(button(style=5, url="https://example.org"))]}),
    "a link to nowhere": (50035, {"components": [row({"type": 2, "style": 5, "label": "x"})]}),
    "a link of another scheme": (
        50035,
        {"components": [row({"type": 2, "style": 5, "label": "x", "url": "ftp://x"})]},
    ),
    "an emoji's name": (50035, {"components": [row(button(emoji={"name": "banjo"}))]}),
    "an embed's link without a scheme": (50035, {"embeds": [{"title": "x", "url": "example.org"}]}),
    "a colour beyond all": (50035, {"embeds": [{"title": "x", "color": 0x1000000}]}),
    "a style of 7": (50035, {"components": [row(button(style=7))]}),
    "26 options": (50035, {"components": [row(menu(26))]}),
    "no options": (50035, {"components": [row(menu(0))]}),
    "an option's label of 101": (
        50035,
        {"components": [row(menu(options=[{"label": "x" * 101, "value": "x"}]))]},
    ),
    "an option's value of 101": (
        50035,
        {"components": [row(menu(options=[{"label": "x", "value": "x" * 101}]))]},
    ),
    "an option's description of 101": (
        50035,
        {"components": [row(menu(options=[{"label": "x", "value": "x", "description": "x" * 101}]))]},
    ),
    "an option's value twice": (
        50035,
        {"components": [row(menu(options=[{"label": "x", "value": "x"}] * 2))]},
    ),
    "more than there is to choose": (50035, {"components": [row(menu(2, max_values=3))]}),
    "a placeholder of 151": (50035, {"components": [row(menu(placeholder="x" * 151))]}),
    "a text input in a message": (
        50035,
        {"components": [row({"type": 4, "custom_id": "x", "style": 1, "label": "x"})]},
    ),
    "a nonce of 26": (50035, {"content": "x", "nonce": "n" * 26}),
    "a mention parsed and listed": (
        50035,
        {"content": "x", "allowed_mentions": {"parse": ["users"], "users": ["1"]}},
    ),
    "an unknown mention": (50035, {"content": "x", "allowed_mentions": {"parse": ["all"]}}),
    "101 people": (50035, {"content": "x", "allowed_mentions": {"users": [str(n) for n in range(101)]}}),
    "for one person in a channel": (50035, {"content": "x", "flags": 1 << 6}),
    "newer components": (50035, {"flags": 1 << 15, "components": [{"type": 10, "content": "x"}]}),
}


@pytest.mark.parametrize("data", RIGHT_MESSAGES.values(), ids=RIGHT_MESSAGES)
def test_a_message_within_its_limits_is_taken(platform: Platform, http: httpx.Client, data: Json) -> None:
    response = posted(http, platform, {"content": ""} | data)
    assert response.status_code == 200, response.text
    assert platform.violations == []


@pytest.mark.parametrize(("expected", "data"), WRONG_MESSAGES.values(), ids=WRONG_MESSAGES)
def test_a_message_beyond_them_is_refused_and_noted(
    platform: Platform, http: httpx.Client, expected: int, data: Json
) -> None:
    before = len(platform.rooms[0].messages)
    response = posted(http, platform, data)
    assert (response.status_code, code(response)) == (400, expected)
    assert [violation.code for violation in platform.violations] == [expected]
    assert len(platform.rooms[0].messages) == before


def test_files_are_limited_in_number_size_and_description(platform: Platform, http: httpx.Client) -> None:
    assert posted(http, platform, {}, *[b"x"] * 10).status_code == 200
    assert posted(http, platform, {}, b"x" * (10 << 20)).status_code == 200
    assert platform.violations == []
    for status, expected, response in (
        (400, 50035, posted(http, platform, {}, *[b"x"] * 11)),
        (413, 40005, posted(http, platform, {}, b"x" * ((10 << 20) + 1))),
        (413, 40005, posted(http, platform, {}, *[b"x" * (9 << 20)] * 3)),
        (400, 50035, posted(http, platform, {"attachments": [{"id": 0, "description": "x" * 1025}]}, b"x")),
        (400, 50035, posted(http, platform, {"attachments": [{"id": 1}]}, b"x")),
    ):
        assert (response.status_code, code(response)) == (status, expected)
    assert len(platform.violations) == 5


def test_an_edit_keeps_what_it_does_not_tell_and_drops_files_it_leaves_out(
    platform: Platform, http: httpx.Client
) -> None:
    first = posted(http, platform, {"content": "one", "components": [row(button())]}, b"a", b"b").json()
    path = f"/channels/{first['channel_id']}/messages/{first['id']}"
    changed = http.patch(path, json={"content": "two"}).json()
    assert (changed["content"], len(changed["attachments"]), len(changed["components"])) == ("two", 2, 1)
    told = {"id": first["attachments"][1]["id"], "description": "the second"}
    kept = http.patch(path, json={"attachments": [told]}).json()
    assert [(one["filename"], one["description"]) for one in kept["attachments"]] == [("1.bin", "the second")]
    emptied = http.patch(path, json={"content": "", "attachments": [], "components": []})
    assert code(emptied) == 50006
