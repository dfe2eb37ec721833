"""What the stand-in refuses, each rule with a case on either side of it, over plain HTTP."""

import json
from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from tests.chat_platform.asked import Asked
from tests.chat_platform.commands import LOCALES, CannotBeAsked
from tests.chat_platform.faults import Fault
from tests.chat_platform.stand_in import Platform

Json = dict[str, Any]
NAME = {"name": "find", "description": "Find a lick"}


@pytest.fixture(scope="module")
def shared() -> Iterator[Platform]:
    with Platform(ack_s=30.0) as platform:
        yield platform


@pytest.fixture
def platform(shared: Platform) -> Platform:
    shared.violations.clear()
    shared.refusals.clear()
    shared.pings.clear()
    shared.world.limits.everything_per_s = 10_000
    return shared


def client(platform: Platform) -> httpx.Client:
    return httpx.Client(
        base_url=f"{platform.address}/api/v10", headers={"Authorization": f"Bot {platform.token}"}, timeout=30
    )


@pytest.fixture
def http(platform: Platform) -> Iterator[httpx.Client]:
    with client(platform) as http:
        yield http


def posted(http: httpx.Client, platform: Platform, data: Json, *files: bytes) -> httpx.Response:
    path = f"/channels/{platform.rooms[0].id}/messages"
    if not files:
        return http.post(path, json=data)
    parts: list[tuple[str, tuple[str | None, bytes | str]]] = [("payload_json", (None, json.dumps(data)))]
    parts += [(f"files[{number}]", (f"{number}.bin", data)) for number, data in enumerate(files)]
    return http.post(path, files=parts)


def code(response: httpx.Response) -> int:
    return int(response.json()["code"])


def button(name: str = "a", **more: Any) -> Json:
    return {"type": 2, "style": 1, "label": name, "custom_id": name} | more


def row(*items: Json) -> Json:
    return {"type": 1, "components": list(items)}


def menu(count: int = 1, **more: Any) -> Json:
    options = [{"label": str(number), "value": str(number)} for number in range(count)]
    return {"type": 3, "custom_id": "menu", "options": options} | more


# --- messages ------------------------------------------------------------------------------------------

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
    kept = http.patch(path, json={"attachments": [{"id": first["attachments"][1]["id"]}]}).json()
    assert [one["filename"] for one in kept["attachments"]] == ["1.bin"]
    emptied = http.patch(path, json={"content": "", "attachments": [], "components": []})
    assert code(emptied) == 50006


# --- places --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("allowed", "method", "path", "expected"),
    [
        ({"send"}, "POST", "messages", (403, 50001)),
        ({"view"}, "POST", "messages", (403, 50013)),
        ({"view", "send"}, "POST", "messages", (200, None)),
        ({"view", "send"}, "GET", "messages/{message}", (403, 50013)),
        ({"view", "history"}, "GET", "messages/{message}", (200, None)),
        ({"view"}, "POST", "messages/{message}/threads", (403, 50013)),
        ({"view", "threads"}, "POST", "messages/{message}/threads", (201, None)),
        ({"view"}, "DELETE", "messages/{message}", (204, None)),
        (set(), "DELETE", "messages/{message}", (403, 50001)),
    ],
)
def test_a_channel_allows_what_it_allows(
    platform: Platform,
    http: httpx.Client,
    allowed: set[str],
    method: str,
    path: str,
    expected: tuple[int, int],
) -> None:
    message = posted(http, platform, {"content": "x"}).json()
    platform.allow(platform.rooms[0], allowed)
    where = f"/channels/{message['channel_id']}/{path.format(message=message['id'])}"
    data = {"content": "x", "name": "x"} if method == "POST" else None
    response = http.request(method, where, json=data)
    platform.allow(platform.rooms[0], {"view", "send", "attach", "history", "threads", "send_in_threads"})
    assert (response.status_code, code(response) if response.status_code >= 400 else None) == expected
    assert platform.violations == []


def test_who_may_not_attach_or_read_what_was_is_held_to_it(platform: Platform, http: httpx.Client) -> None:
    posted(http, platform, {"content": "x"})
    platform.allow(platform.rooms[0], {"view", "send"})
    assert code(posted(http, platform, {}, b"x")) == 50013
    assert http.get(f"/channels/{platform.rooms[0].id}/messages").json() == []
    platform.allow(platform.rooms[0], {"view", "send", "attach", "history", "threads", "send_in_threads"})


@pytest.mark.parametrize(
    ("method", "path", "expected"),
    [
        ("GET", "/channels/5", (404, 10003)),
        ("GET", "/channels/{channel}/messages/5", (404, 10008)),
        ("GET", "/guilds/5", (404, 10004)),
        ("GET", "/guilds/{guild}/members/5", (404, 10007)),
        ("GET", "/channels/x", (400, 50035)),
        ("GET", "/channels/{channel}/messages?limit=101", (400, 50035)),
        ("GET", "/nowhere", (404, 0)),
        ("PUT", "/users/@me", (404, 0)),
    ],
)
def test_what_is_not_there_is_unknown(
    platform: Platform, http: httpx.Client, method: str, path: str, expected: tuple[int, int]
) -> None:
    where = path.format(channel=platform.rooms[0].id, guild=platform.servers[0].id)
    response = http.request(method, where)
    assert (response.status_code, code(response)) == expected
    assert len(platform.refusals) == 1
    assert len(platform.violations) == (expected[1] in (0, 50035))


def test_a_message_of_another_is_not_the_bots_to_change(platform: Platform, http: httpx.Client) -> None:
    said = platform.say(platform.member, platform.rooms[0], "mine")
    path = f"/channels/{said.channel.id}/messages/{said.id}"
    assert code(http.patch(path, json={"content": "yours"})) == 50005
    assert code(http.delete(path)) == 50013
    assert http.get(path).json()["content"] == ""  # no intent for content


def test_history_goes_newest_first_from_where_it_is_asked(platform: Platform, http: httpx.Client) -> None:
    room = platform.servers[0].channel("challenge")
    path = f"/channels/{room.id}/messages"
    ids = [http.post(path, json={"content": str(n), "nonce": f"h{n}"}).json()["id"] for n in range(5)]

    def read(query: str) -> list[str]:
        found = http.get(f"{path}?{query}").json()
        assert not any("nonce" in message for message in found)
        return [message["content"] for message in found]

    assert read("limit=2") == ["4", "3"]
    assert read(f"before={ids[2]}") == ["1", "0"]
    assert read(f"after={ids[1]}&limit=2") == ["3", "2"]
    assert read(f"around={ids[2]}&limit=2") == ["2", "1"]


@pytest.mark.parametrize(
    ("name", "minutes", "expected"),
    [("x" * 100, 60, 201), ("x" * 101, 60, 400), ("", 60, 400), ("x", 61, 400)],
)
def test_a_thread_has_a_name_and_a_known_life(
    platform: Platform, http: httpx.Client, name: str, minutes: int, expected: int
) -> None:
    message = posted(http, platform, {"content": "x"}).json()
    path = f"/channels/{message['channel_id']}/messages/{message['id']}/threads"
    assert http.post(path, json={"name": name, "auto_archive_duration": minutes}).status_code == expected


def test_a_nonce_is_not_taken_twice_by_who_insists(platform: Platform, http: httpx.Client) -> None:
    data = {"content": "x", "nonce": "row-1"}
    first, second = (posted(http, platform, data).json()["id"] for _ in range(2))
    assert first != second
    third = posted(http, platform, data | {"enforce_nonce": True}).json()["id"]
    assert third == second


# --- interactions --------------------------------------------------------------------------------------


def asked(platform: Platform, http: httpx.Client) -> Asked:
    assert http.put(f"/applications/{platform.bot.id}/commands", json=[NAME]).status_code == 200
    return platform.run("find", platform.member, platform.rooms[0])


def answered(http: httpx.Client, asked: Asked, kind: int, data: Json | None = None) -> httpx.Response:
    path = f"/interactions/{asked.id}/{asked.token}/callback?with_response=1"
    return http.post(path, json={"type": kind, "data": data or {}})


def followed(platform: Platform, http: httpx.Client, asked: Asked, data: Json) -> httpx.Response:
    return http.post(f"/webhooks/{platform.bot.id}/{asked.token}", json=data)


def test_an_interaction_is_acknowledged_once(platform: Platform, http: httpx.Client) -> None:
    one = asked(platform, http)
    assert answered(http, one, 4, {"content": "x"}).status_code == 200
    assert code(answered(http, one, 4, {"content": "x"})) == 40060
    assert [violation.code for violation in platform.violations] == [40060]


def test_a_follow_up_needs_an_acknowledgement_and_fills_what_waits(
    platform: Platform, http: httpx.Client
) -> None:
    one = asked(platform, http)
    early = followed(platform, http, one, {"content": "x"})
    assert (early.status_code, code(early)) == (404, 10015)
    waiting = answered(http, one, 5, {"flags": 64}).json()["interaction"]
    assert (waiting["response_message_loading"], waiting["response_message_ephemeral"]) == (True, True)
    first = followed(platform, http, one, {"content": "first"}).json()
    assert (first["id"], first["flags"] & 64) == (waiting["response_message_id"], 64)
    second = followed(platform, http, one, {"content": "second"}).json()
    assert (second["id"] != first["id"], second["flags"] & 64) == (True, 0)
    assert [message.content for message in one.messages] == ["first", "second"]
    assert http.delete(f"/webhooks/{platform.bot.id}/{one.token}/messages/@original").status_code == 204
    assert code(http.get(f"/webhooks/{platform.bot.id}/{one.token}/messages/@original")) == 10008


@pytest.mark.parametrize("kind", [6, 7, 8, 3, 1])
def test_an_answer_must_fit_what_was_asked(platform: Platform, http: httpx.Client, kind: int) -> None:
    assert code(answered(http, asked(platform, http), kind, {"content": "x"})) == 50035
    assert len(platform.violations) == 1


def test_a_form_does_not_answer_a_form(platform: Platform, http: httpx.Client) -> None:
    one = asked(platform, http)
    form = {"custom_id": "f", "title": "T", "components": [field_row()]}
    assert answered(http, one, 9, form).status_code == 200
    submitted = platform.submit(one, {"field": "text"})
    assert code(answered(http, submitted, 9, form)) == 50035


def test_a_token_ends() -> None:
    with Platform(token_s=0.2, ack_s=0.2) as platform, client(platform) as http:
        one = asked(platform, http)
        late = asked(platform, http)
        assert answered(http, one, 4, {"content": "x"}).status_code == 200
        platform.until(lambda: late.dead)
        response = followed(platform, http, one, {"content": "x"})
        assert (response.status_code, code(response)) == (401, 50027)
        response = answered(http, late, 4, {"content": "x"})
        assert (response.status_code, code(response)) == (404, 10062)


def test_by_default_an_answer_pings_people_alone_and_one_for_one_person_nobody(
    platform: Platform, http: httpx.Client
) -> None:
    platform.allow(platform.rooms[0], {"view", "send", "mention_everyone"})
    data = {"content": f"@here <@{platform.member.id}> <@&{platform.servers[0].roles[1].id}>"}
    answered(http, asked(platform, http), 4, data)
    answered(http, asked(platform, http), 4, data | {"flags": 64})
    answered(http, asked(platform, http), 4, data | {"allowed_mentions": {"parse": []}})
    assert [ping.kind for ping in platform.pings] == ["user"]
    posted(http, platform, data)
    assert [ping.kind for ping in platform.pings] == ["user", "user", "role", "everyone"]
    platform.allow(platform.rooms[0], {"view", "send", "attach", "history", "threads", "send_in_threads"})


# --- forms and proposals -------------------------------------------------------------------------------


def field_row(**more: Any) -> Json:
    return row({"type": 4, "custom_id": "field", "style": 1, "label": "Field"} | more)


def label(component: Json, **more: Any) -> Json:
    return {"type": 18, "label": "Label", "component": component} | more


FORM: Json = {"custom_id": "form", "title": "Title", "components": [field_row()]}
FORMS: dict[str, tuple[int, Json]] = {
    "a title of 45": (200, {"title": "x" * 45}),
    "a title of 46": (400, {"title": "x" * 46}),
    "no title": (400, {"title": ""}),
    "five fields": (200, {"components": [field_row(custom_id=str(n)) for n in range(5)]}),
    "six fields": (400, {"components": [field_row(custom_id=str(n)) for n in range(6)]}),
    "no fields": (400, {"components": []}),
    "two fields in a row": (400, {"components": [row(*field_row()["components"] * 2)]}),
    "a label of 45": (200, {"components": [field_row(label="x" * 45)]}),
    "a label of 46": (400, {"components": [field_row(label="x" * 46)]}),
    "a hint of 100": (200, {"components": [field_row(placeholder="x" * 100)]}),
    "a hint of 101": (400, {"components": [field_row(placeholder="x" * 101)]}),
    "a text of 4,000": (200, {"components": [field_row(value="x" * 4000)]}),
    "a text of 4,001": (400, {"components": [field_row(value="x" * 4001)]}),
    "a text beyond its own limit": (400, {"components": [field_row(value="xx", max_length=1)]}),
    "a limit of 4,001": (400, {"components": [field_row(max_length=4001)]}),
    "a custom id of 101": (400, {"custom_id": "x" * 101}),
    "a custom id twice": (400, {"components": [field_row(), field_row()]}),
    "a button": (400, {"components": [row(button())]}),
    "a labelled menu": (200, {"components": [label(menu())]}),
    "a labelled file": (200, {"components": [label({"type": 19, "custom_id": "file"})]}),
    "a labelled menu that is disabled": (400, {"components": [label(menu(disabled=True))]}),
    "a labelled button": (400, {"components": [label(button())]}),
    "a description of 101": (400, {"components": [label(menu(), description="x" * 101)]}),
}


@pytest.mark.parametrize(("expected", "data"), FORMS.values(), ids=FORMS)
def test_a_form_is_held_to_its_limits(
    platform: Platform, http: httpx.Client, expected: int, data: Json
) -> None:
    response = answered(http, asked(platform, http), 9, FORM | data)
    assert response.status_code == expected, response.text


PROPOSALS: dict[str, tuple[int, list[Json]]] = {
    "none": (200, []),
    "25": (200, [{"name": "x" * 100, "value": "x" * 100}] * 25),
    "26": (400, [{"name": "x", "value": "x"}] * 26),
    "a name of 101": (400, [{"name": "x" * 101, "value": "x"}]),
    "no name": (400, [{"name": "", "value": "x"}]),
    "a value of 101": (400, [{"name": "x", "value": "x" * 101}]),
    "a number for a text": (400, [{"name": "x", "value": 1}]),
}


@pytest.mark.parametrize(("expected", "choices"), PROPOSALS.values(), ids=PROPOSALS)
def test_proposals_are_held_to_their_limits(
    platform: Platform, http: httpx.Client, expected: int, choices: list[Json]
) -> None:
    command = NAME | {"options": [{"type": 3, "name": "tune", "description": "x", "autocomplete": True}]}
    http.put(f"/applications/{platform.bot.id}/commands", json=[command])
    one = platform.type_ahead("find", "tune", "h", platform.member, platform.rooms[0])
    assert answered(http, one, 4, {"content": "x"}).status_code == 400
    assert answered(http, one, 8, {"choices": choices}).status_code == expected


# --- commands ------------------------------------------------------------------------------------------


def option(name: str = "option", kind: int = 3, **more: Any) -> Json:
    return {"type": kind, "name": name, "description": "x"} | more


def choices(count: int, **more: Any) -> list[Json]:
    return [{"name": str(number), "value": str(number)} | more for number in range(count)]


LONG = [
    option(f"o{number}", choices=[{"name": f"{n}" * 50, "value": "v" * 100} for n in range(10)])
    for number in range(6)
]
COMMANDS: dict[str, tuple[bool, Json]] = {
    "a name of 32": (True, {"name": "x" * 32}),
    "a name of 33": (False, {"name": "x" * 33}),
    "a name in another script": (True, {"name": "बैंजो"}),
    "a name with signs": (True, {"name": "lick-of_o'brien"}),
    "a name with a blank": (False, {"name": "find lick"}),
    "a capital": (False, {"name": "Find"}),
    "a capital beyond ASCII": (False, {"name": "Überblick"}),
    "a description of 100": (True, {"description": "x" * 100}),
    "a description of 101": (False, {"description": "x" * 101}),
    "no description": (False, {"description": ""}),
    "25 options": (True, {"options": [option(f"o{n}") for n in range(25)]}),
    "26 options": (False, {"options": [option(f"o{n}") for n in range(26)]}),
    "an option twice": (False, {"options": [option(), option()]}),
    "25 choices": (True, {"options": [option(choices=choices(25))]}),
    "26 choices": (False, {"options": [option(choices=choices(26))]}),
    "a choice's name of 101": (False, {"options": [option(choices=choices(1, name="x" * 101))]}),
    "a choice's value of 101": (False, {"options": [option(choices=choices(1, value="x" * 101))]}),
    "a choice of another type": (False, {"options": [option(kind=4, choices=choices(1))]}),
    "choices and proposals": (False, {"options": [option(choices=choices(1), autocomplete=True)]}),
    "choices of a person": (False, {"options": [option(kind=6, choices=choices(1))]}),
    "a least length of a number": (False, {"options": [option(kind=4, min_length=1)]}),
    "a least value of a text": (False, {"options": [option(min_value=1)]}),
    "required first": (True, {"options": [option("a", required=True), option("b")]}),
    "required last": (False, {"options": [option("a"), option("b", required=True)]}),
    "a subcommand": (True, {"options": [option("sub", 1, options=[option()])]}),
    "a group": (True, {"options": [option("group", 2, options=[option("sub", 1, options=[option()])])]}),
    "an empty group": (False, {"options": [option("group", 2, options=[])]}),
    "a group in a group": (False, {"options": [option("g", 2, options=[option("h", 2, options=[])])]}),
    "a subcommand in a subcommand": (False, {"options": [option("s", 1, options=[option("t", 1)])]}),
    "a parameter in a group": (False, {"options": [option("g", 2, options=[option()])]}),
    "a parameter beside a subcommand": (False, {"options": [option("s", 1), option()]}),
    "an unknown type": (False, {"options": [option(kind=12)]}),
    "a translation": (
        True,
        {"name_localizations": {"de": "finde"}, "description_localizations": {"de": "x"}},
    ),
    "an unknown language": (False, {"name_localizations": {"de-DE": "finde"}}),
    "a translated capital": (False, {"name_localizations": {"de": "Finde"}}),
    "a translated description of 101": (False, {"description_localizations": {"de": "x" * 101}}),
    "a translated choice of 101": (
        False,
        {"options": [option(choices=choices(1, name_localizations={"de": "x" * 101}))]},
    ),
    "two options of one name in a language": (
        False,
        {
            "options": [
                option("a", name_localizations={"de": "x"}),
                option("b", name_localizations={"de": "x"}),
            ]
        },
    ),
    "a translation that is another's name": (
        False,
        {"options": [option("a", name_localizations={"de": "b"}), option("b")]},
    ),
    "8,000 characters and more": (False, {"options": LONG}),
    "less than 8,000": (True, {"options": LONG[:5]}),
    "rights that are a number": (True, {"default_member_permissions": "32"}),
    "rights that are none": (False, {"default_member_permissions": "manage"}),
    "no place to be used": (False, {"contexts": []}),
}


@pytest.mark.parametrize(("right", "data"), COMMANDS.values(), ids=COMMANDS)
def test_a_command_is_held_to_its_limits(
    platform: Platform, http: httpx.Client, right: bool, data: Json
) -> None:
    response = http.put(f"/applications/{platform.bot.id}/commands", json=[NAME | data])
    assert response.status_code == (200 if right else 400), response.text
    assert len(platform.violations) == (not right)


def test_commands_are_at_most_100_with_names_of_their_own(platform: Platform, http: httpx.Client) -> None:
    path = f"/applications/{platform.bot.id}/commands"
    many = [NAME | {"name": f"c{number}"} for number in range(101)]
    assert http.put(path, json=many[:100]).status_code == 200
    assert http.put(path, json=many).status_code == 400
    assert http.put(path, json=[NAME, NAME]).status_code == 400
    entries = [{"name": f"Entry {number}", "type": 3} for number in range(16)]
    assert http.put(path, json=entries[:15]).status_code == 200
    assert http.put(path, json=entries).status_code == 400


def test_commands_keep_their_ids_and_tell_translations_when_asked(
    platform: Platform, http: httpx.Client
) -> None:
    path = f"/applications/{platform.bot.id}/commands"
    translated = NAME | {"name_localizations": {"de": "finde"}}
    first = http.put(path, json=[translated]).json()
    second = http.put(path, json=[translated, NAME | {"name": "other"}]).json()
    assert first[0]["id"] == second[0]["id"]
    assert "name_localizations" not in http.get(path).json()[0]
    assert http.get(f"{path}?with_localizations=true").json()[0]["name_localizations"] == {"de": "finde"}
    own = f"/applications/{platform.bot.id}/guilds/{platform.servers[0].id}/commands"
    assert http.get(own).json() == []
    assert http.put(own, json=[NAME]).json()[0]["guild_id"] == str(platform.servers[0].id)
    assert http.put(own, json=[]).json() == []


@pytest.mark.parametrize(
    ("limits", "member", "organiser", "direct"),
    [
        ({}, True, True, True),
        ({"contexts": [0]}, True, True, False),
        ({"contexts": [1]}, False, False, True),
        ({"dm_permission": False}, True, True, False),
        ({"default_member_permissions": "32"}, False, True, True),
        ({"default_member_permissions": "0"}, False, False, True),
    ],
)
def test_a_command_is_offered_where_and_to_whom_it_is_meant(
    platform: Platform, http: httpx.Client, limits: Json, member: bool, organiser: bool, direct: bool
) -> None:
    helper = platform.person("Teal")
    platform.join(helper, platform.servers[0], organiser=True)
    http.put(f"/applications/{platform.bot.id}/commands", json=[NAME | limits])
    offered = []
    for person, where in (
        (platform.member, platform.rooms[0]),
        (helper, platform.rooms[0]),
        (platform.member, platform.dm(platform.member)),
    ):
        try:
            platform.run("find", person, where)
            offered.append(True)
        except CannotBeAsked:
            offered.append(False)
    assert offered == [member, organiser, direct]


def test_the_platform_speaks_32_languages() -> None:
    assert len(LOCALES) == 32


# --- what every request goes through -------------------------------------------------------------------


def test_the_token_is_asked_for_and_the_body_must_be_what_it_says(platform: Platform) -> None:
    with httpx.Client(base_url=f"{platform.address}/api/v10") as stranger:
        assert stranger.get("/users/@me").status_code == 401
    with client(platform) as http:
        path = f"/channels/{platform.rooms[0].id}/messages"
        for content, kind in (("{}", "text/plain"), ("{", "application/json"), ("[]", "application/json")):
            assert code(http.post(path, content=content, headers={"Content-Type": kind})) == 50035


def test_fifty_requests_a_second_are_enough_save_for_answers() -> None:
    with Platform() as platform, client(platform) as http:
        assert platform.limits.everything_per_s == 50
        platform.limits.everything_per_s = 3
        responses = [http.get("/users/@me") for _ in range(4)]
        assert [response.status_code for response in responses] == [200, 200, 200, 429]
        last = responses[-1]
        assert last.json()["global"] is True
        assert 0 < last.json()["retry_after"] <= 1
        assert (last.headers["Via"] != "", last.headers["X-RateLimit-Global"]) == (True, "true")
        assert http.get(f"/webhooks/{platform.bot.id}/nobody/messages/@original").status_code == 401


def test_a_fault_waits_for_its_request(platform: Platform, http: httpx.Client) -> None:
    platform.faults.next("GET", "/channels/*", Fault(status=502, html=True), times=2)
    assert http.get("/users/@me").status_code == 200
    path = f"/channels/{platform.rooms[0].id}"
    first = http.get(path)
    assert (first.status_code, first.headers["Content-Type"].split(";")[0]) == (502, "text/html")
    assert [http.get(path).status_code for _ in range(2)] == [502, 200]
    platform.faults.next("POST", "/channels/*/messages", Fault(status=500, after=True))
    before = len(platform.rooms[0].messages)
    assert posted(http, platform, {"content": "x"}).status_code == 500
    assert len(platform.rooms[0].messages) == before + 1
