"""Licks taken down, kept from everybody, and put back, over real HTTP."""

from typing import Any

import httpx
import pytest

from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, _problem

HERON = f"{GROUP}/tunes/heron-ferry/breaks"
WHY = {"reason": "It is somebody's recorded solo."}
ANY = {"If-Match": "*"}


def _down(service: RunningService, number: int) -> httpx.Response:
    answer = service.organiser.put(f"{GROUP}/licks/{number}/taken-down", json=WHY, headers=ANY)
    assert answer.status_code == 200, answer.text
    return answer


def _back(service: RunningService, number: int) -> None:
    answer = service.organiser.delete(f"{GROUP}/licks/{number}/taken-down", headers=ANY)
    assert answer.status_code == 204, answer.text


def _random(service: RunningService, **wish: Any) -> dict[str, Any]:
    answer = service.member.post(f"{HERON}/random", json=wish)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _count(service: RunningService) -> dict[str, Any]:
    return dict(service.member.post(f"{HERON}/count", json={}).json())


def _numbers(made: dict[str, Any]) -> list[int | None]:
    return [place["lick"] and place["lick"]["number"] for place in made["phrases"]]


# --- taking down and putting back ------------------------------------------------------------------


def test_every_page_of_a_lick_that_was_taken_down_says_so_and_nothing_else(service: RunningService) -> None:
    name = service.member.get(f"{GROUP}/licks/8").json()["name"]
    _down(service, 8)
    ask = service.organiser
    answers = [
        *(ask.get(f"{GROUP}/licks/8{page}") for page in ("", "/tab.txt", "/revisions", "/twins", "/easier")),
        *(ask.get(f"{GROUP}/licks/{path}") for path in ("8/joins/1", "1/joins/8")),
        ask.post(f"{GROUP}/licks/8/judgements", json={}),
        ask.post(f"{GROUP}/licks/8/moves", json={"semitones": 2}),
        ask.post(f"{GROUP}/licks/8/review", json={"decision": "keep"}, headers=ANY),
        ask.put(f"{GROUP}/licks/8", json=LICK, headers=ANY),
        ask.delete(f"{GROUP}/licks/8", headers=ANY),
    ]
    for answer in answers:
        found = _problem(answer, 451, "taken-down")
        assert "Lick 8 was taken down." in found["detail"]
        assert name not in answer.text
        assert WHY["reason"] not in answer.text


def test_it_is_in_no_list_no_count_no_draw_and_no_best(service: RunningService) -> None:
    before = _count(service)
    twin = _submitted_near_twin(service)
    _down(service, 1)
    after = _count(service)
    assert after["snapshot"] != before["snapshot"]
    # the near twin took its place in the first phrase
    assert after["per_phrase"][0] == before["per_phrase"][0]
    ask = service.member
    for status in ("", "&status=pool", "&status=draft", "&status=retired"):
        listed = ask.get(f"{GROUP}/licks?limit=200{status}").json()["items"]
        assert 1 not in [lick["number"] for lick in listed]
    candidates = ask.get(f"{GROUP}/tunes/heron-ferry/phrases/1/licks?limit=200").json()["items"]
    assert 1 not in [lick["number"] for lick in candidates]
    assert 1 not in [other["number"] for other in ask.get(f"{GROUP}/licks/{twin}/twins").json()["items"]]
    for by in ("smooth", "easy", "melody"):
        best = ask.post(f"{HERON}/best", json={"by": by, "how_many": 5}).json()["items"]
        assert all(1 not in _numbers(made) for made in best)
    assert all(1 not in _numbers(_random(service, seed=seed)) for seed in range(20))
    _problem(ask.post(f"{HERON}/random", json={"must_include": [1]}), 409, "fits-nowhere")


def _submitted_near_twin(service: RunningService) -> int:
    first = service.member.get(f"{GROUP}/licks/1").json()
    same = ("instrument", "tuning", "hand_style", "style", "meter", "key", "role", "level", "phrases")
    sent = {k: first[k] for k in same} | {
        "name": "Push off again",
        "text": first["tab"].replace("4|-----2---0", "4|-----2---2"),
        "chords": f"| {first['chords']} | % |",
    }
    made = service.member.post(f"{GROUP}/licks", json=sent).json()
    assert made["state"] == "pool"
    return int(made["number"])


def test_organisers_alone_take_down_and_read_why(service: RunningService) -> None:
    where = f"{GROUP}/licks/8/taken-down"
    for answer in (
        service.member.put(where, json=WHY, headers=ANY),
        service.member.get(where),
        service.member.delete(where, headers=ANY),
        service.member.get(f"{GROUP}/licks/taken-down"),
    ):
        _problem(answer, 403, "not-allowed")
    with service.client("organiser", "ferry-lane", "Sorrel") as sorrel:
        made = sorrel.put(where, json=WHY, headers=ANY)
    assert made.json() | {"created": ""} == {
        "lick": 8, "revision": 1, "reason": WHY["reason"], "created": "", "by": "Sorrel",
    }  # fmt: skip
    read = service.organiser.get(where)
    assert (read.json(), read.headers["etag"]) == (made.json(), made.headers["etag"])
    again = service.organiser.put(where, json={"reason": "The teacher asked."}, headers=ANY).json()
    assert (again["reason"], again["created"]) == ("The teacher asked.", made.json()["created"])
    _down(service, 40)
    first = service.organiser.get(f"{GROUP}/licks/taken-down?limit=1")
    assert [one["lick"] for one in first.json()["items"]] == [8]
    following = service.organiser.get(first.links["next"]["url"]).json()
    assert ([one["lick"] for one in following["items"]], following["next"]) == ([40], None)


def test_taking_down_names_its_revision_and_gives_a_reason(service: RunningService) -> None:
    put, where = service.organiser.put, f"{GROUP}/licks/8/taken-down"
    _problem(put(where, json=WHY), 428, "if-match-needed")
    _problem(put(where, json=WHY, headers={"If-Match": '"2"'}), 412, "changed")
    for wrong in ({}, {"reason": ""}, {"reason": "  "}, {"reason": "x" * 501}, WHY | {"until": "May"}):
        _problem(put(where, json=wrong, headers=ANY), 400, "bad-request")
    _problem(put(f"{GROUP}/licks/9999/taken-down", json=WHY, headers=ANY), 404, "not-found")
    _problem(service.organiser.get(where), 404, "not-taken-down")
    _problem(service.organiser.delete(where, headers=ANY), 404, "not-taken-down")
    tag = {"If-Match": service.member.get(f"{GROUP}/licks/8").headers["etag"]}
    assert put(where, json=WHY, headers=tag).status_code == 200
    _problem(service.organiser.delete(where), 428, "if-match-needed")
    assert service.organiser.delete(where, headers=tag).status_code == 204


def test_a_lick_put_back_is_as_it_was_and_so_is_every_number(service: RunningService) -> None:
    lick, before = service.member.get(f"{GROUP}/licks/8").json(), _count(service)
    made = _random(service, seed=5, must_include=[8])
    where = f"{HERON}/number/{made['number']}?snapshot={made['snapshot']}"
    _down(service, 8)
    assert made["code"] in _problem(service.member.get(where), 409, "stale-snapshot")["detail"]
    _back(service, 8)
    assert service.member.get(f"{GROUP}/licks/8").json() == lick
    assert _count(service) == before
    assert service.member.get(where).json() == made
    assert service.member.get(made["links"]["self"]).json() == made


@pytest.mark.parametrize("state", ["retired", "draft"])
def test_a_retired_lick_or_a_draft_goes_back_to_what_it_was(service: RunningService, state: str) -> None:
    if state == "draft":
        sent = {k: v for k, v in LICK.items() if k != "role"}
        service.member.post(f"{GROUP}/licks", json=sent)
        number = service.member.post(f"{GROUP}/licks", json=sent).json()["number"]
    else:
        number = 8
        service.organiser.delete(f"{GROUP}/licks/8", headers=ANY)
    before, counted = service.member.get(f"{GROUP}/licks/{number}").json(), _count(service)
    assert before["state"] == state
    _down(service, number)
    _problem(service.member.get(f"{GROUP}/licks/{number}"), 451, "taken-down")
    _back(service, number)
    assert service.member.get(f"{GROUP}/licks/{number}").json() == before
    assert _count(service) == counted


def test_the_same_lick_sent_in_again_waits_as_a_draft_until_an_organiser_keeps_it(
    service: RunningService,
) -> None:
    first = service.member.post(f"{GROUP}/licks", json=LICK).json()
    _down(service, first["number"])
    again = service.member.post(f"{GROUP}/licks", json=LICK | {"name": "Another name"}).json()
    assert again["state"] == "draft"
    (said,) = [reason for reason in again["reasons"] if reason["code"] == "twin-taken-down"]
    assert said["text"] == f"This is lick {first['number']}, which was taken down."
    where = f"{GROUP}/licks/{again['number']}"
    changed = service.member.put(where, json=LICK | {"level": 3}, headers=ANY)
    _problem(changed, 403, "not-allowed")
    kept = service.organiser.post(f"{where}/review", json={"decision": "keep"}, headers=ANY).json()
    assert (kept["state"], [r for r in kept["reasons"] if r["code"].startswith("twin")]) == ("pool", [])


def test_a_lick_that_the_pool_has_got_again_comes_back_as_a_draft(service: RunningService) -> None:
    first = service.member.post(f"{GROUP}/licks", json=LICK).json()["number"]
    _down(service, first)
    second = service.member.post(f"{GROUP}/licks", json=LICK).json()["number"]
    service.organiser.post(f"{GROUP}/licks/{second}/review", json={"decision": "keep"}, headers=ANY)
    counted = _count(service)
    _back(service, first)
    back = service.member.get(f"{GROUP}/licks/{first}").json()
    assert back["state"] == "draft"
    assert f"This is lick {second}." in [reason["text"] for reason in back["reasons"]]
    assert _count(service) == counted
