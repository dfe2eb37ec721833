"""How interactions may be answered, and what forms and proposals may be."""

import httpx
import pytest

from tests.chat_platform.refused.plain import (
    NAME,
    Json,
    answered,
    asked,
    button,
    client,
    code,
    field_row,
    followed,
    label,
    menu,
    posted,
    row,
)
from tests.chat_platform.stand_in import Platform


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
