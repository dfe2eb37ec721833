"""Licks taken down: kept from everybody, a rest where breaks held them, and put back, over real HTTP."""

from dataclasses import replace
from typing import Any

import httpx
import pytest

from bot.api.client import Client
from bot.asks import Visitor
from bot.commands.book import book
from bot.front import Front
from bot.replies import Call, Reply
from service.errors import Conflict
from service.usecases.breaks import keep_break
from service.usecases.composing import compose
from service.usecases.identify import Caller, reach_group
from service.usecases.taken_down import take_down
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


def _swaps(service: RunningService, made: dict[str, Any], **sent: int) -> httpx.Response:
    return service.member.post(f"{GROUP}/breaks/{made['code']}/swaps", json=sent)


def _read(service: RunningService, text: str) -> list[dict[str, Any]]:
    """The notes of a tab, without fingers: those follow from the whole."""
    read = service.member.post("/v1/tab/readings", json={"text": text, "instrument": "banjo"})
    assert read.status_code == 200, read.text
    return [note | {"finger": None} for note in read.json()["notes"]]


def _with_its_own(service: RunningService, place: int = 3, **wish: Any) -> dict[str, Any]:
    """A break whose lick at a place (from 0) stands nowhere else in it."""
    drawn = (_random(service, seed=seed, **wish) for seed in range(3, 40))
    return next(made for made in drawn if _numbers(made).count(_numbers(made)[place]) == 1)


def _with_rest(service: RunningService, place: int = 3, **wish: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """A break, and the same one after the lick at a place (from 0) was taken down."""
    before = _with_its_own(service, place, **wish)
    _down(service, before["phrases"][place]["lick"]["number"])
    return before, service.member.get(before["links"]["self"]).json()


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


def test_a_break_that_got_a_number_meanwhile_has_its_old_one_in_the_old_pool(service: RunningService) -> None:
    """Once a lick is put back the snapshot is one that was there before."""
    made = _random(service, seed=5, avoid=[8])
    _down(service, 8)
    meanwhile = _count(service)["snapshot"]
    last = made["phrases"][-1]
    first, *_ = _swaps(service, made, phrase=last["phrase"]).json()["items"]
    other = _swaps(service, made, phrase=last["phrase"], lick=first["number"]).json()
    again = _swaps(service, other, phrase=last["phrase"], lick=last["lick"]["number"]).json()
    assert (again["code"], again["snapshot"]) == (made["code"], meanwhile)
    assert again["number"] != made["number"]
    _back(service, 8)
    where = f"{HERON}/number/{made['number']}?snapshot={made['snapshot']}"
    assert service.member.get(where).json() == made
    assert service.member.get(made["links"]["self"]).json()["snapshot"] == meanwhile
    assert _random(service, seed=5, avoid=[8]) == made
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
    changed = service.member.put(where, json=LICK | {"level": 3}, headers=ANY).json()
    assert (changed["state"], changed["revision"]) == ("draft", 2)
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


# --- breaks with a rest ----------------------------------------------------------------------------


def test_a_break_keeps_its_code_and_rests_where_the_lick_stood(service: RunningService) -> None:
    before, after = _with_rest(service)
    number = before["phrases"][3]["lick"]["number"]
    assert _numbers(after) == [None if n == number else n for n in _numbers(before)]
    rest = after["phrases"][3]
    assert (rest["lick"], rest["judgement"]) == (None, None)
    assert rest["note"]["code"] == "rest-stands"
    assert rest["note"]["params"] == {"lick": number, "measure": rest["measure"]}
    assert f"lick {number} was taken down; a rest stands here" in rest["note"]["text"]
    same = ("phrase", "phrases", "part", "role", "measure", "chords")
    assert [{k: p[k] for k in same} for p in after["phrases"]] == [
        {k: p[k] for k in same} for p in before["phrases"]
    ]
    assert all(place["note"] is None for place in before["phrases"])
    assert [after[k] for k in ("code", "number", "total", "snapshot")] == [
        before[k] for k in ("code", "number", "total", "snapshot")
    ]


def test_level_tempo_melody_and_joins_are_those_of_what_is_left(service: RunningService) -> None:
    before, after = _with_rest(service)
    resting = {place["phrase"] for place in after["phrases"] if place["lick"] is None}
    left = [join for join in before["joins"] if not {join["phrase"], join["phrase"] - 1} & resting]
    assert after["joins"] == left
    assert after["level"] == max(place["judgement"]["level"] for place in after["phrases"] if place["lick"])
    assert after["top"]["bpm"] >= before["top"]["bpm"]
    assert after["melody"] < before["melody"]


def test_a_tab_with_a_rest_says_so_there_and_reads_back_without_the_licks_notes(
    service: RunningService,
) -> None:
    before = _with_its_own(service)
    tab = before["links"]["tab"]
    whole = _read(service, service.member.get(tab).text)
    place, following = before["phrases"][3:5]
    number = place["lick"]["number"]
    _down(service, number)
    for layout in ("", "?layout=wide&width=120"):
        text = service.member.get(tab + layout).text
        said = " ".join(text.split())
        assert f"Measure {place['measure']}: lick {number} was taken down; a rest stands here." in said
        left = _read(service, text)
        inside = range(place["measure"], following["measure"])
        pickup = [note for note in left if note["measure"] in inside]
        # what sounds there is the next lick's pickup, and it did before
        assert all(note in whole for note in pickup)
        outside = [note for note in whole if note["measure"] not in inside]
        assert [note for note in outside if note not in left] == []
    assert max(map(len, service.member.get(tab).text.splitlines())) <= 28


def test_a_break_of_nothing_but_rests_can_still_be_read(service: RunningService) -> None:
    steps = service.member.post(f"{HERON}/steps", json={}).json()["items"]
    plain = steps[0]
    for number in {*_numbers(plain)} - {None}:
        _down(service, number)  # type: ignore[arg-type]
    found = service.member.get(plain["links"]["self"]).json()
    assert set(_numbers(found)) == {None}
    assert (found["level"], found["top"], found["melody"], found["joins"]) == (1, None, 0, [])
    assert "a rest stands here" in " ".join(service.member.get(plain["links"]["tab"]).text.split())


def test_a_lick_over_two_phrases_leaves_a_rest_as_long(service: RunningService) -> None:
    drawn = (_random(service, seed=seed) for seed in range(400))
    made = next(made for made in drawn if any(place["phrases"] == 2 for place in made["phrases"]))
    place = next(p for p in made["phrases"] if p["phrases"] == 2)
    _down(service, place["lick"]["number"])
    after = service.member.get(made["links"]["self"]).json()
    (rest,) = [p for p in after["phrases"] if p["phrase"] == place["phrase"]]
    assert (rest["lick"], rest["phrases"], rest["chords"]) == (None, 2, place["chords"])
    found = _swaps(service, after, phrase=place["phrase"] + 1).json()["items"]
    assert all(service.member.get(f"{GROUP}/licks/{one['number']}").json()["phrases"] == 2 for one in found)


def test_a_break_that_was_just_shown_is_not_shown_again_from_memory(service: RunningService) -> None:
    """Also where the lick had been retired, so that the pool loses nothing."""
    made = _random(service, seed=3)
    number = made["phrases"][3]["lick"]["number"]
    service.organiser.delete(f"{GROUP}/licks/{number}", headers=ANY)
    assert service.member.get(made["links"]["self"]).json() == made
    _down(service, number)
    assert None in _numbers(service.member.get(made["links"]["self"]).json())
    _back(service, number)
    assert service.member.get(made["links"]["self"]).json() == made


# --- answers given before --------------------------------------------------------------------------


def test_repeating_a_draw_gives_its_break_with_a_rest(service: RunningService) -> None:
    key = {"Idempotency-Key": "draw-1"}
    first = service.member.post(f"{HERON}/random", json={}, headers=key)
    place = first.json()["phrases"][3]
    _down(service, place["lick"]["number"])
    again = service.member.post(f"{HERON}/random", json={}, headers=key)
    assert (again.status_code, again.headers["idempotent-replay"]) == (201, "true")
    assert again.headers["location"] == first.headers["location"]
    assert again.json() == service.member.get(first.json()["links"]["self"]).json()
    assert again.json()["phrases"][3]["lick"] is None
    assert place["lick"]["name"] not in again.text
    _back(service, place["lick"]["number"])
    assert service.member.post(f"{HERON}/random", json={}, headers=key).json() == first.json()


def test_repeating_a_swap_or_a_submission_does_not_show_the_lick_either(service: RunningService) -> None:
    made = service.member.post(f"{GROUP}/licks", json=LICK, headers={"Idempotency-Key": "a"})
    drawn, number = _random(service, seed=3), made.json()["number"]
    place = next(p for p in drawn["phrases"] if _goes(service, drawn, p["phrase"], number))
    sent, key = {"phrase": place["phrase"], "lick": number}, {"Idempotency-Key": "b"}
    path = f"{GROUP}/breaks/{drawn['code']}/swaps"
    swapped = service.member.post(path, json=sent, headers=key)
    assert number in _numbers(swapped.json())
    _down(service, number)
    again = service.member.post(f"{GROUP}/licks", json=LICK, headers={"Idempotency-Key": "a"})
    _problem(again, 451, "taken-down")
    for answer in (
        service.member.post(path, json=sent, headers=key),
        service.member.get(swapped.headers["location"]),
    ):
        assert LICK["name"] not in answer.text


def _goes(service: RunningService, made: dict[str, Any], phrase: int, number: int) -> bool:
    found = _swaps(service, made, phrase=phrase).json()["items"]
    return number in [one["number"] for one in found]


def test_a_lick_that_is_taken_down_while_a_break_is_made_is_not_in_it(service: RunningService) -> None:
    """A break is composed before it is stored; what is stored is checked once more."""
    house, caller = service.house, Caller(0, "operator", None, None)

    async def made() -> None:
        group = reach_group(house, caller, "ferry-lane", "draw-break")
        composed = await compose(house, group, "heron-ferry", None, None)
        path = composed.lattice.path(1)
        lick = path[0].candidate.number
        await take_down(house, caller, "ferry-lane", lick, path[0].candidate.revision, "why")
        await keep_break(house, caller, composed, path, None)

    with pytest.raises(Conflict) as refused:
        service.call(made)
    assert refused.value.code == "taken-down-meanwhile"
    assert service.house.database.points.execute("SELECT count(*) FROM breaks").fetchone() == (0,)


# --- filling a rest --------------------------------------------------------------------------------


def test_a_rest_is_filled_before_anything_else_is_changed(service: RunningService) -> None:
    before, after = _with_rest(service)
    refused = _swaps(service, after, phrase=1)
    found = _problem(refused, 409, "fill-the-rest-first")
    assert "phrase 4" in found["detail"]
    _problem(_swaps(service, after, phrase=1, lick=12), 409, "fill-the-rest-first")
    number = before["phrases"][3]["lick"]["number"]
    offered = _swaps(service, after, phrase=4).json()["items"]
    assert offered
    assert number not in [one["number"] for one in offered]
    _problem(_swaps(service, after, phrase=4, lick=number), 422, "does-not-go-there")
    best = offered[0]
    filled = _swaps(service, after, phrase=4, lick=best["number"]).json()
    assert _numbers(filled) == [*_numbers(before)[:3], best["number"], *_numbers(before)[4:]]
    assert filled["phrases"][3]["judgement"]["level"] == best["level_change"] == best["level"]
    assert filled["melody"] > after["melody"]
    assert int(filled["number"]) <= int(filled["total"])
    assert _swaps(service, filled, phrase=1).status_code == 200
    assert service.member.get(after["links"]["self"]).json() == after


def test_where_a_lick_was_played_twice_both_rests_are_filled_alike(service: RunningService) -> None:
    steps = service.member.post(f"{HERON}/steps", json={}).json()["items"]
    plain = steps[0]
    places = [p["phrase"] for p in plain["phrases"] if p["lick"]["number"] == _numbers(plain)[1]]
    assert len(places) > 1
    _down(service, _numbers(plain)[1])  # type: ignore[arg-type]
    found = _swaps(service, plain, phrase=places[1]).json()["items"]
    chosen = found[0]["number"]
    filled = _swaps(service, plain, phrase=places[1], lick=chosen).json()
    assert [_numbers(filled)[phrase - 1] for phrase in places] == [chosen] * len(places)
    assert None not in _numbers(filled)


def test_rests_of_different_licks_are_filled_with_what_suits_best(service: RunningService) -> None:
    made = _random(service, seed=3, no_repeats=True)
    for place in (2, 3):
        _down(service, made["phrases"][place]["lick"]["number"])
    chosen = _swaps(service, made, phrase=3).json()["items"][1]["number"]
    filled = _swaps(service, made, phrase=3, lick=chosen).json()
    assert _numbers(filled)[2] == chosen
    assert None not in _numbers(filled)
    assert [n for at, n in enumerate(_numbers(filled)) if at not in (2, 3)] == [
        n for at, n in enumerate(_numbers(made)) if at not in (2, 3)
    ]


def test_a_rest_that_nothing_fills_stays_and_says_so(service: RunningService) -> None:
    made = _random(service, seed=3, no_repeats=True)
    place, number = made["phrases"][15], made["phrases"][0]["lick"]["number"]
    for one in [place["lick"], *_swaps(service, made, phrase=16).json()["items"]]:
        _down(service, one["number"])
    _down(service, number)
    now = service.member.get(made["links"]["self"]).json()
    assert _swaps(service, now, phrase=16).json()["items"] == []
    other = _swaps(service, now, phrase=1).json()["items"][0]["number"]
    refused = _problem(_swaps(service, now, phrase=1, lick=other), 409, "nothing-fills-the-rest")
    assert "Send in a lick for it." in refused["detail"]


def test_the_bot_fills_a_rest_first_and_says_what_it_cannot_fill(service: RunningService) -> None:
    made = _random(service, seed=3, no_repeats=True)
    number = made["phrases"][3]["lick"]["number"]
    _down(service, number)
    token = service.member.headers["authorization"].split()[1]

    async def asked(phrase: int | None) -> Reply:
        async with Client(service.address, token) as client:
            given = {"code": made["code"], **({} if phrase is None else {"phrase": str(phrase)})}
            front = Front(client, book(), pictures=False)
            reply = await front.answer(Call("break swap", given), Visitor(None, "Wren"))
            assert isinstance(reply, Reply)
            if reply.failed:
                return reply
            inside = await front.answer(Call("break licks", {"code": str(reply.code)}), Visitor(None, "Wren"))
            assert isinstance(inside, Reply)
            return replace(reply, notes=inside.notes)

    refused = service.call(lambda: asked(1))
    assert refused.failed
    assert f"A rest stands in phrase 4, where lick {number} was taken down" in refused.head
    filled = service.call(lambda: asked(None))
    assert not filled.failed
    assert filled.code != made["code"]
    assert not any("rest" in note for note in filled.notes)
    for one in _swaps(service, made, phrase=4).json()["items"]:
        _down(service, one["number"])
    left = service.call(lambda: asked(None))
    assert left.failed
    assert left.head == "There is no other lick for phrase 4 of it."

    async def looked_at() -> Reply:
        async with Client(service.address, token) as client:
            call = Call("break licks", {"code": made["code"]})
            reply = await Front(client, book(), pictures=False).answer(call, Visitor(None, "Wren"))
            assert isinstance(reply, Reply)
            return reply

    notes = service.call(looked_at).notes
    assert f"4 Measure 7: lick {number} was taken down; a rest stands here." in notes
    assert not any(note.startswith(("  Into 4:", "  Into 5:")) for note in notes)
    tab = service.member.get(f"{GROUP}/breaks/{made['code']}/tab.txt").text
    assert "a rest stands here." in " ".join(tab.split())
