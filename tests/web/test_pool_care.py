"""Looking after the pool over real HTTP: review, rights, what members may do with what they sent in, what licks were before."""

from typing import Any

import httpx
import pytest

from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, _problem

ANY = {"If-Match": "*"}
OTHER = LICK | {"name": "Other oar", "text": "32514251, 3.2/4 2 5 1 (25)--"}
CLASHING = LICK | {"text": "3.1-------, 3.1-------"}  # nothing but G sharp over G


def _sent(client: httpx.Client, sent: dict[str, Any] = LICK) -> dict[str, Any]:
    answer = client.post(f"{GROUP}/licks", json=sent)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _decide(service: RunningService, number: int, decision: str, reason: str | None = None) -> httpx.Response:
    sent = {"decision": decision} | ({"reason": reason} if reason else {})
    return service.organiser.post(f"{GROUP}/licks/{number}/review", json=sent, headers=ANY)


def _state(service: RunningService, number: int) -> str:
    return str(service.organiser.get(f"{GROUP}/licks/{number}").json()["state"])


def _reviews(service: RunningService) -> None:
    chosen = service.organiser.put(f"{GROUP}/settings", json={"review": True}, headers=ANY)
    assert chosen.json()["review"] is True


def _codes(shown: dict[str, Any]) -> list[str]:
    return [reason["code"] for reason in shown["reasons"]]


# --- review ------------------------------------------------------------------------------------------


def test_a_lick_goes_from_draft_to_reviewed_to_the_pool_back_and_into_retirement(
    service: RunningService,
) -> None:
    number = _sent(service.member, CLASHING)["number"]
    for decision, state in (
        ("reviewed", "reviewed"), ("keep", "pool"), ("back", "draft"), ("keep", "pool"), ("retire", "retired"),
        ("back", "draft"), ("retire", "retired"),
    ):  # fmt: skip
        answer = _decide(service, number, decision, "Over to you." if decision == "back" else None)
        assert (answer.status_code, answer.json()["state"]) == (200, state)
    told = service.organiser.get(f"{GROUP}/audit").json()["items"]
    assert [(one["action"], one["params"]["decision"]) for one in told[:2]] == [
        ("review-lick", "retire"), ("review-lick", "back"),
    ]  # fmt: skip
    assert {one["subject"] for one in told[:7]} == {f"lick {number}"}
    assert "Over to you." not in str(told)


@pytest.mark.parametrize(
    ("before", "decision", "code", "possible"),
    [
        ("pool", "keep", "in-the-pool", "back, retire"),
        ("pool", "reviewed", "cannot-be-decided", "back, retire"),
        ("reviewed", "reviewed", "cannot-be-decided", "keep, back, retire"),
        ("retired", "keep", "cannot-be-decided", "back"),
        ("retired", "retire", "cannot-be-decided", "back"),
    ],
)
def test_what_cannot_be_decided_says_what_can(
    service: RunningService, before: str, decision: str, code: str, possible: str
) -> None:
    number = _sent(service.member, CLASHING)["number"]
    _decide(service, number, {"pool": "keep", "reviewed": "reviewed", "retired": "retire"}[before])
    assert _state(service, number) == before
    found = _problem(_decide(service, number, decision), 409, code)
    assert found["detail"].endswith(f": {possible}.")
    assert _state(service, number) == before


def test_reviewed_licks_are_listed_and_in_no_break(service: RunningService) -> None:
    number = _sent(service.member, CLASHING)["number"]
    _decide(service, number, "reviewed")
    listed = service.member.get(f"{GROUP}/licks?status=reviewed").json()["items"]
    assert [lick["number"] for lick in listed] == [number]
    assert service.member.get(f"{GROUP}/licks?status=draft").json()["items"] == []
    url = f"{GROUP}/tunes/heron-ferry/phrases/2/licks?limit=200"
    assert number not in [lick["number"] for lick in service.member.get(url).json()["items"]]


def test_what_comes_back_says_why_to_its_author_and_organisers_alone(service: RunningService) -> None:
    number = _sent(service.member)["number"]
    _problem(_decide(service, number, "back"), 422, "reason-needed")
    assert _decide(service, number, "back", "The tag is not yours.").json()["said"] == "The tag is not yours."
    where = f"{GROUP}/licks/{number}"
    with service.client("member", "ferry-lane", "Sorrel") as other:
        for client, said in ((service.member, "The tag is not yours."), (other, None)):
            assert client.get(where).json()["said"] == said
            (listed,) = client.get(f"{GROUP}/licks?status=draft").json()["items"]
            assert listed["said"] == said
    # the author cannot pass the organiser by
    again = service.member.put(where, json=LICK | {"name": "Mended"}, headers=ANY).json()
    assert (again["state"], _codes(again)) == ("draft", ["waits-for-review"])
    kept = _decide(service, number, "keep").json()
    assert (kept["state"], kept["said"], _codes(kept)) == ("pool", None, [])


def test_where_a_group_reviews_what_members_send_in_waits_and_what_organisers_do_does_not(
    service: RunningService,
) -> None:
    assert _sent(service.member)["state"] == "pool"
    _reviews(service)
    waiting = _sent(service.member, OTHER)
    assert (waiting["state"], _codes(waiting)[-1]) == ("draft", "waits-for-review")
    assert waiting["reasons"][-1]["text"] == "It waits for an organiser to look at it."
    kept = _decide(service, waiting["number"], "keep").json()
    assert (kept["state"], _codes(kept)) == ("pool", _codes(waiting)[:-1])
    third = LICK | {"text": "32514251, 3.2/4 2 5 1 (35)--"}
    assert _sent(service.organiser, third)["state"] == "pool"


# --- one's own ---------------------------------------------------------------------------------------


def test_members_change_and_retire_what_they_sent_in_and_nothing_else(service: RunningService) -> None:
    mine = f"{GROUP}/licks/{_sent(service.member)['number']}"
    changed = service.member.put(mine, json=LICK | {"name": "Oar out"}, headers=ANY).json()
    assert (changed["name"], changed["revision"], changed["by"]) == ("Oar out", 2, "Wren")
    with service.client("member", "ferry-lane", "Sorrel") as other:
        _problem(other.put(mine, json=LICK, headers=ANY), 403, "not-allowed")
        _problem(other.delete(mine, headers=ANY), 403, "not-allowed")
    _problem(service.member.delete(f"{GROUP}/licks/1", headers=ANY), 403, "not-allowed")
    assert service.member.delete(mine, headers=ANY).status_code == 204
    assert service.member.get(mine).json()["state"] == "retired"
    _problem(service.member.put(mine, json=LICK, headers=ANY), 404, "not-found")


def test_where_a_group_reviews_the_pool_is_not_the_members_to_change(service: RunningService) -> None:
    mine = _sent(service.member)["number"]
    _reviews(service)
    where = f"{GROUP}/licks/{mine}"
    _problem(service.member.put(where, json=OTHER, headers=ANY), 403, "pool-is-reviewed")
    _problem(service.member.delete(where, headers=ANY), 403, "pool-is-reviewed")
    assert _state(service, mine) == "pool"
    _decide(service, mine, "back", "Have it back.")
    assert service.member.delete(where, headers=ANY).status_code == 204


def test_a_break_goes_on_playing_a_lick_that_its_member_retired(service: RunningService) -> None:
    first = service.member.get(f"{GROUP}/licks/1").json()
    same = ("instrument", "tuning", "hand_style", "style", "meter", "key", "role", "phrases")
    sent = {k: first[k] for k in same} | {
        "name": "Push off again", "chords": f"| {first['chords']} | % |",
        "text": first["tab"].replace("4|-----2---0", "4|-----2---2"),
    }  # fmt: skip
    mine = _sent(service.member, sent)["number"]
    random = f"{GROUP}/tunes/heron-ferry/breaks/random"
    made = service.member.post(random, json={"must_include": [mine], "seed": 4}).json()
    assert service.member.delete(f"{GROUP}/licks/{mine}", headers=ANY).status_code == 204
    after = service.member.get(f"{GROUP}/breaks/{made['code']}").json()
    assert [p["lick"]["number"] for p in after["phrases"]] == [p["lick"]["number"] for p in made["phrases"]]
    _problem(service.member.post(random, json={"must_include": [mine]}), 409, "fits-nowhere")


# --- what it was before ------------------------------------------------------------------------------


def test_each_revision_tells_when_and_by_whom_and_can_be_read_and_brought_back(
    service: RunningService,
) -> None:
    sent = _sent(service.member)
    where = f"{GROUP}/licks/{sent['number']}"
    with service.client("organiser", "ferry-lane", "Sorrel") as sorrel:
        assert sorrel.put(where, json=OTHER, headers=ANY).json()["by"] == "Wren"
    listed = service.member.get(f"{where}/revisions").json()["items"]
    assert [(one["revision"], one["by"]) for one in listed] == [(2, "Sorrel"), (1, "Wren")]
    assert all(one["created"].endswith("Z") for one in listed)
    was = service.member.get(f"{where}/revisions/1").json()
    assert (was["revision"], was["name"], was["line"]) == (1, sent["name"], sent["line"])
    _problem(service.member.get(f"{where}/revisions/3"), 404, "not-found")
    _problem(service.member.post(f"{where}/revisions/1/restore"), 428, "if-match-needed")
    _problem(service.member.post(f"{where}/revisions/1/restore", headers={"If-Match": '"1"'}), 412, "changed")
    back = service.member.post(f"{where}/revisions/1/restore", headers={"If-Match": '"2"'})
    assert (back.status_code, back.headers["etag"]) == (200, '"3"')
    same = ("name", "notes", "line", "level", "rights")
    assert {k: back.json()[k] for k in same} == {k: was[k] for k in same}
    with service.client("member", "ferry-lane", "Rook") as other:
        _problem(other.post(f"{where}/revisions/2/restore", headers=ANY), 403, "not-allowed")


# --- rights ------------------------------------------------------------------------------------------


def test_rights_are_told_with_who_sent_it_in_and_the_caution_comes_once(service: RunningService) -> None:
    rights = {
        "origin": "adapted", "source": "An old fiddler at the ferry", "year": 1931, "licence": "CC BY 4.0",
        "credit": "W. R.", "may_submit": True, "may_edit": False, "may_share": True,
    }  # fmt: skip
    made = _sent(service.member, LICK | {"rights": rights})
    assert (made["rights"], made["by"], made["borrowed_from"]) == (rights, "Wren", None)
    (caution,) = made["cautions"]
    assert (caution["code"], "not legal advice" in caution["text"]) == ("caution-rights", True)
    assert service.member.get(f"{GROUP}/licks/{made['number']}").json()["cautions"] == []


@pytest.mark.parametrize(
    ("rights", "code", "path"),
    [
        ({"origin": "adapted"}, "source-needed", "rights.source"),
        ({"origin": "adapted", "source": "  "}, "source-needed", "rights.source"),
        ({"may_submit": False}, "may-not-submit", "rights.may_submit"),
    ],
)
def test_rights_that_lack_something_are_refused(
    service: RunningService, rights: dict[str, Any], code: str, path: str
) -> None:
    found = _problem(service.member.post(f"{GROUP}/licks", json=LICK | {"rights": rights}), 422, code)
    assert (found["at"][0]["path"], found["at"][0]["code"]) == (path, code)
    mine = _sent(service.member)["number"]
    changed = service.member.put(f"{GROUP}/licks/{mine}", json=LICK | {"rights": rights}, headers=ANY)
    _problem(changed, 422, code)


def test_without_consent_its_author_alone_edits_a_lick(service: RunningService) -> None:
    made = _sent(service.member, LICK | {"rights": {"may_edit": False}})
    where = f"{GROUP}/licks/{made['number']}"
    _problem(service.organiser.put(where, json=OTHER, headers=ANY), 403, "author-edits")
    _problem(service.organiser.post(f"{where}/revisions/1/restore", headers=ANY), 403, "author-edits")
    assert (
        service.member.put(where, json=OTHER | {"rights": {"may_edit": True}}, headers=ANY).status_code == 200
    )
    assert service.organiser.put(where, json=LICK, headers=ANY).status_code == 200
    assert (
        service.member.put(where, json=LICK | {"rights": {"may_edit": False}}, headers=ANY).status_code == 200
    )
    assert service.organiser.delete(where, headers=ANY).status_code == 204


def test_what_its_author_agreed_to_stays_whoever_edits_it(service: RunningService) -> None:
    made = _sent(service.member, LICK | {"rights": {"may_share": True}})
    where = f"{GROUP}/licks/{made['number']}"
    assert service.organiser.put(where, json=OTHER, headers=ANY).json()["rights"]["may_share"] is True
    mine = OTHER | {"rights": {"may_share": False}}
    assert service.member.put(where, json=mine, headers=ANY).json()["rights"]["may_share"] is False
    granted = OTHER | {"rights": {"may_share": True}}
    assert service.organiser.put(where, json=granted, headers=ANY).json()["rights"]["may_share"] is False
    # nobody sent the demo's licks in, so an organiser speaks for them
    first = service.organiser.get(f"{GROUP}/licks/131").json()
    same = ("name", "instrument", "tuning", "hand_style", "style", "meter", "key", "role", "level")
    sent = {k: first[k] for k in same} | {
        "text": first["tab"], "chords": "| G | G |", "rights": {"may_share": True},
    }  # fmt: skip
    changed = service.organiser.put(f"{GROUP}/licks/131", json=sent, headers=ANY)
    assert changed.json()["rights"]["may_share"] is True
