"""Judgements over the API: of licks, in their places, at their seams, moved and made easier; drafts."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, _problem

HERON = f"{GROUP}/tunes/heron-ferry"
COUNT = f"{HERON}/breaks/count"
ROLL_OVER_G_AND_C = """
1|-------0-------0|-------2-------2|
2|---0-------0----|---1-------1----|
3|-0--------------|-0--------------|
4|---------0------|---------2------|
5|-----0-------0--|-----0-------0--|
"""
CLASHING = LICK | {
    "name": "Splinter", "text": "3.1 2 5 1 4 2 5 1, 3.2/4 2 5 1 (15)--",  # G sharp on the first beat over G
}  # fmt: skip
TORN = LICK | {"name": "Torn", "text": "(3.2 2.14) 1 5 1 3 2 5 1, 3-------"}  # a foot of neck between fingers


def _notes(shown: dict[str, Any]) -> list[tuple[int, int, int, int]]:
    return [(n["measure"], n["onset"], n["string"], n["fret"]) for n in shown["notes"]]


def _judged(service: RunningService, number: int, **where: Any) -> dict[str, Any]:
    answer = service.member.post(f"{GROUP}/licks/{number}/judgements", json=where)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def _lick(service: RunningService, number: int) -> dict[str, Any]:
    found: dict[str, Any] = service.member.get(f"{GROUP}/licks/{number}").json()
    return found


def _submitted(service: RunningService, sent: dict[str, Any]) -> dict[str, Any]:
    answer = service.member.post(f"{GROUP}/licks", json=sent)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def _as_sent(lick: dict[str, Any], **change: Any) -> dict[str, Any]:
    """A lick that was read, to be sent in again."""
    same = (
        "name", "instrument", "tuning", "hand_style", "style", "meter", "key", "role", "level", "phrases",
    )  # fmt: skip
    return {k: lick[k] for k in same} | {"text": lick["tab"], "chords": f"| {lick['chords']} | % |"} | change


def _candidates(
    service: RunningService, tune: str = "heron-ferry", phrase: int = 1, **wish: Any
) -> list[Any]:
    answer = service.member.get(f"{GROUP}/tunes/{tune}/phrases/{phrase}/licks", params={"limit": 200, **wish})
    assert answer.status_code == 200, answer.text
    found: list[Any] = answer.json()["items"]
    return found


def _numbers(items: list[Any]) -> list[int]:
    return [item["number"] for item in items]


# --- a lick, by itself and in a place --------------------------------------------------------------


def test_a_lick_alone_has_a_fit_both_hands_a_level_and_no_melody(demo: RunningService) -> None:
    found = _judged(demo, 1)
    notes = len(_lick(demo, 1)["notes"])
    assert 0.5 < found["fit"]["share"] <= 1
    assert len(found["fit"]["classes"]) == notes
    assert [len(found["hands"][hand]) for hand in ("left", "right")] == [notes, notes]
    assert set(found["hands"]["right"]) <= {"T", "I", "M", None}
    assert set(found["hands"]["left"]) <= {0, 1, 2, 3, 4}
    assert found["hands"]["top"]["unit"] == found["level"]["tempo"]["unit"] == "half"
    assert (found["level"]["level"], found["melody"], found["role"]) == (1, None, "opener")
    assert {"fit-share", "top-tempo"} <= {reason["code"] for reason in found["reasons"]}
    assert found["level"]["reasons"][0]["text"].startswith("Level 1 at half = ")


def test_over_a_phrase_the_melody_counts_and_the_tempo_is_the_tunes_own(demo: RunningService) -> None:
    found = _judged(demo, 1, tune="heron-ferry", phrase=1)  # the tune in its plain form begins with lick 1
    assert found["level"]["tempo"] == {"bpm": 84, "unit": "half"}
    assert (found["melody"]["kept"], found["melody"]["strong"], found["melody"]["keeps"]) == (4, 4, True)
    assert found["melody"]["share"] > 0.9
    assert {"melody-share", "role-agrees"} <= {reason["code"] for reason in found["reasons"]}
    assert _judged(demo, 1, tune="heron-ferry", phrase=1, bpm=60)["level"]["tempo"]["bpm"] == 60


@pytest.mark.parametrize(
    ("number", "tune", "unit", "start"),
    [
        (95, "thimble-creek", "quarter", 108),  # a waltz, in C position with a capo at 2
        (61, "millers-mitten", "half", 80),  # key of A, played in G position with a capo at 2
    ],
)
def test_a_waltz_and_a_tune_with_a_capo_are_judged_in_their_own_beats(
    demo: RunningService, number: int, tune: str, unit: str, start: int
) -> None:
    found = _judged(demo, number, tune=tune, phrase=1)
    assert found["level"]["tempo"] == {"bpm": start, "unit": unit}
    assert found["hands"]["top"]["unit"] == unit
    assert found["hands"]["top"]["bpm"] > start
    assert found["melody"]["keeps"]
    assert found["fit"]["score"] > 0.8
    slow = _judged(demo, number, tune=tune, phrase=1, bpm=70)
    assert slow["level"]["tempo"] == {"bpm": 70, "unit": unit}
    assert slow["hands"]["top"] == found["hands"]["top"]


def test_faster_is_never_easier_and_beyond_the_top_is_said(demo: RunningService) -> None:
    levels = [_judged(demo, 1, bpm=bpm)["level"]["level"] for bpm in (40, 80, 120, 160, 240, 320)]
    assert levels == sorted(levels)
    assert levels[0] < levels[-1]
    first = _judged(demo, 1, bpm=320)["reasons"][0]
    assert (first["code"], first["params"]["bpm"], first["params"]["unit"]) == ("too-fast", 320, "half")
    assert first["advice"]


@pytest.mark.parametrize(
    ("number", "sent", "status", "code", "says"),
    [
        (1, {"tune": "heron-ferry"}, 422, "tune-and-phrase", "Give both, or neither"),
        (1, {"phrase": 1}, 422, "tune-and-phrase", "Give both, or neither"),
        (1, {"tune": "heron-ferry", "phrase": 17}, 404, "no-such-phrase", "from 1 to 16"),
        (1, {"tune": "thimble-creek", "phrase": 1}, 422, "not-for-this-phrase", "3/4"),
        (
            1,
            {"tune": "millers-mitten", "phrase": 4},
            422,
            "not-for-this-phrase",
            "phrase 4",
        ),  # three measures
        (1, {"tune": "nowhere", "phrase": 1}, 404, "not-found", "no such tune"),
        (9999, {}, 404, "not-found", "no such lick"),
        (1, {"bpm": 0}, 400, "bad-request", ""),
    ],
)
def test_a_place_that_is_not_there_or_does_not_suit_is_said(
    demo: RunningService, number: int, sent: dict[str, Any], status: int, code: str, says: str
) -> None:
    answer = demo.member.post(f"{GROUP}/licks/{number}/judgements", json=sent)
    assert says in _problem(answer, status, code)["detail"]


# --- licks for a phrase ----------------------------------------------------------------------------


def test_candidates_come_best_first_and_each_says_why(demo: RunningService) -> None:
    found = _candidates(demo)
    counted = demo.member.post(COUNT, json={}).json()["per_phrase"]
    assert len(found) == len(set(_numbers(found))) == counted[0]
    assert found[0]["number"] == 1
    clean = [item["score"] for item in found if item["clean"]]
    assert clean == sorted(clean, reverse=True)
    for item in found:
        assert 0 <= item["score"] <= 1
        assert {"fit-share", "melody-share"} <= {reason["code"] for reason in item["reasons"]}
        assert all(reason["text"] for reason in item["reasons"])
        assert item["name"] == _lick(demo, item["number"])["name"]


@pytest.mark.parametrize(
    ("tune", "phrase"), [("heron-ferry", 2), ("millers-mitten", 4), ("thimble-creek", 5)]
)
def test_candidates_are_exactly_the_licks_that_may_begin_there(
    demo: RunningService, tune: str, phrase: int
) -> None:
    counted = demo.member.post(f"{GROUP}/tunes/{tune}/breaks/count", json={}).json()["per_phrase"]
    assert len(_candidates(demo, tune, phrase)) == counted[phrase - 1]


def test_candidates_come_in_pages_that_follow_each_other(demo: RunningService) -> None:
    whole = _candidates(demo)
    paged: list[Any] = []
    path: str | None = f"{HERON}/phrases/1/licks?limit=4"
    while path:
        answer = demo.member.get(path)
        page = answer.json()
        paged += page["items"]
        following = answer.links.get("next")
        assert (following is None) == (page["next"] is None)
        if following:
            assert len(page["items"]) == 4
            byhand = demo.member.get(f"{HERON}/phrases/1/licks?limit=4&cursor={page['next']}").json()
            assert byhand == demo.member.get(following["url"]).json()
        path = following["url"] if following else None
    assert paged == whole
    _problem(demo.member.get(f"{HERON}/phrases/1/licks?cursor=YWJj"), 400, "bad-cursor")


def test_candidates_are_for_the_instrument_asked_for(demo: RunningService) -> None:
    found = _candidates(demo, instrument="guitar")
    assert found
    assert {_lick(demo, number)["instrument"] for number in _numbers(found)} == {"guitar"}
    assert not set(_numbers(found)) & set(_numbers(_candidates(demo)))
    assert _candidates(demo, instrument="guitar", tuning="drop-d") == []


def test_candidates_for_what_is_not_there_are_refused(demo: RunningService) -> None:
    get = demo.member.get
    _problem(get(f"{GROUP}/tunes/nowhere/phrases/1/licks"), 404, "not-found")
    found = _problem(get(f"{HERON}/phrases/17/licks"), 404, "no-such-phrase")
    assert "from 1 to 16" in found["detail"]
    _problem(get(f"{HERON}/phrases/0/licks"), 400, "bad-request")
    found = _problem(get(f"{HERON}/phrases/1/licks?instrument=kazoo"), 422, "unknown-instrument")
    assert "banjo" in found["detail"]


# --- joins -----------------------------------------------------------------------------------------


def test_a_join_has_its_two_ways_and_each_says_something(demo: RunningService) -> None:
    for path in ("1/joins/2", "2/joins/1", "1/joins/1"):
        found = demo.member.get(f"{GROUP}/licks/{path}").json()
        assert found["cost"] >= 0
        assert found["tempo"]["unit"] == "half"
        assert all(reason["text"] for reason in found["reasons"])
        assert found["reasons"]


def test_a_join_out_of_the_high_frets_costs_more_the_faster_it_is(demo: RunningService) -> None:
    # lick 39 ends at fret 13, lick 25 begins at fret 5
    slow, fast = (demo.member.get(f"{GROUP}/licks/39/joins/25?bpm={bpm}").json() for bpm in (40, 80))
    assert slow["tempo"] == {"bpm": 40, "unit": "half"}
    assert 0 < slow["cost"] < fast["cost"]
    assert fast["cost"] == pytest.approx(2 * slow["cost"], abs=0.01)
    back = demo.member.get(f"{GROUP}/licks/25/joins/39?bpm=80").json()
    assert back["cost"] != fast["cost"]


def test_licks_that_no_one_player_can_join_are_refused(demo: RunningService) -> None:
    get = demo.member.get
    guitar = _problem(get(f"{GROUP}/licks/1/joins/140"), 422, "not-neighbours")
    assert "Lick 1 and lick 140" in guitar["detail"]
    _problem(get(f"{GROUP}/licks/1/joins/95"), 422, "not-neighbours")  # a waltz
    _problem(get(f"{GROUP}/licks/1/joins/9999"), 404, "not-found")
    _problem(get(f"{GROUP}/licks/1/joins/2?bpm=0"), 400, "bad-request")


# --- twins -----------------------------------------------------------------------------------------


def test_a_lick_with_one_note_changed_is_a_twin_both_ways_and_still_joins_the_pool(
    service: RunningService,
) -> None:
    first = _lick(service, 1)
    changed = first["tab"].replace("4|-----2---0", "4|-----2---2")  # measure 2, on the middle beat
    made = _submitted(service, _as_sent(first, name="Push off again", text=changed))
    assert made["state"] == "pool"
    (near,) = [reason for reason in made["reasons"] if reason["code"] == "near-twin"]
    assert near["text"] == "This is lick 1, changed in measure 2. Notes changed: 1."
    for number, other in ((made["number"], 1), (1, made["number"])):
        (twin,) = service.member.get(f"{GROUP}/licks/{number}/twins").json()["items"]
        assert (twin["number"], twin["changed"], twin["measures"]) == (other, 1, [2])
        assert f"lick {other}," in twin["text"]
    assert made["number"] in _numbers(_candidates(service))


def test_a_lick_has_no_twin_where_there_is_none(demo: RunningService) -> None:
    assert demo.member.get(f"{GROUP}/licks/1/twins").json() == {"items": [], "next": None}
    _problem(demo.member.get(f"{GROUP}/licks/9999/twins"), 404, "not-found")


# --- easier versions -------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [20, 39, 104, 140])  # banjo, up the neck, a waltz, a guitar
def test_easier_versions_are_no_slower_no_harder_and_can_be_sent_in(
    service: RunningService, number: int
) -> None:
    lick, own = _lick(service, number), _judged(service, number)
    found = service.member.get(f"{GROUP}/licks/{number}/easier").json()["items"]
    assert found
    levels = [version["level"] for version in found]
    assert levels == sorted(levels, reverse=True)
    for version in found:
        assert version["level"] <= own["level"]["level"]
        assert version["top"]["bpm"] >= own["hands"]["top"]["bpm"]
        assert version["top"]["unit"] == own["hands"]["top"]["unit"]
        assert version["reasons"][0]["text"]
        assert version["tab"].strip() != lick["tab"].strip()
        sent = _as_sent(lick, name=version["name"], text=version["tab"], chords=version["chords"])
        made = _submitted(service, sent)
        read = service.member.post(
            "/v1/tab/readings", json={"text": version["tab"], "instrument": lick["instrument"]}
        ).json()
        assert _notes(made) == _notes(read)
        assert len(made["notes"]) <= len(lick["notes"])


def test_the_plainest_lick_may_have_nothing_easier_but_is_answered(demo: RunningService) -> None:
    assert demo.member.get(f"{GROUP}/licks/1/easier?bpm=60").status_code == 200
    _problem(demo.member.get(f"{GROUP}/licks/9999/easier"), 404, "not-found")


# --- moves -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("move", "chords"),
    [
        ({"chord": "C"}, "| C | % |"),
        ({"key": "A"}, "| A | % |"),
        ({"semitones": 2}, "| A | % |"),
        ({"semitones": 0}, "| G | % |"),
        ({"steps": 1}, "| G | % | G | % |"),  # followed by itself a step higher
        ({"instrument": "guitar"}, "| G | % |"),
        ({"instrument": "mandolin"}, "| G | % |"),
        ({"instrument": "guitar", "tuning": "drop-d"}, "| G | % |"),
        ({"tuning": "double-c"}, "| G | % |"),
    ],
)
def test_a_lick_is_moved_where_it_was_asked_to_and_reads_back(
    demo: RunningService, move: dict[str, Any], chords: str
) -> None:
    answer = demo.member.post(f"{GROUP}/licks/1/moves", json=move)
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["chords"] == chords
    assert found["top"]["bpm"] >= 40
    assert found["reasons"][0]["code"] in ("moved-shifted", "moved-placed")
    sent = {"text": found["tab"], "instrument": move.get("instrument", "banjo")}
    read = demo.member.post("/v1/tab/readings", json=sent)
    assert read.status_code == 200, read.text
    assert read.json()["measures"] == chords.count("|") - 1


def test_a_lick_in_another_key_sounds_as_much_higher_but_for_the_drone(demo: RunningService) -> None:
    moved = demo.member.post(f"{GROUP}/licks/1/moves", json={"key": "A"}).json()
    read = demo.member.post("/v1/tab/readings", json={"text": moved["tab"], "instrument": "banjo"}).json()
    for before, after in zip(_lick(demo, 1)["notes"], read["notes"], strict=True):
        drone = before["string"] == 5
        assert after["pitch"] == before["pitch"] + (0 if drone else 2)
        assert (after["measure"], after["onset"]) == (before["measure"], before["onset"])


def test_a_lick_in_another_tuning_sounds_the_same(demo: RunningService) -> None:
    moved = demo.member.post(f"{GROUP}/licks/1/moves", json={"tuning": "double-c"}).json()
    read = demo.member.post("/v1/tab/readings", json={"text": moved["tab"], "instrument": "banjo"}).json()
    assert read["tuning"] == "double-c"
    assert [n["pitch"] for n in read["notes"]] == [n["pitch"] for n in _lick(demo, 1)["notes"]]


@pytest.mark.parametrize(
    ("move", "code"),
    [
        ({}, "move-to-what"),
        ({"chord": "C", "key": "A"}, "move-to-what"),
        ({"key": "A", "instrument": "guitar"}, "move-to-what"),
        ({"steps": 0, "semitones": 0}, "move-to-what"),
        ({"chord": "zz"}, "unknown-chord"),
        ({"key": "Q"}, "unknown-key"),
        ({"instrument": "kazoo"}, "unknown-instrument"),
        ({"tuning": "nowhere"}, "unknown-tuning"),
    ],
)
def test_a_move_to_nowhere_or_to_two_places_is_refused(
    demo: RunningService, move: dict[str, Any], code: str
) -> None:
    found = _problem(demo.member.post(f"{GROUP}/licks/1/moves", json=move), 422, code)
    assert found["detail"]


def test_moves_have_bounds(demo: RunningService) -> None:
    for move in ({"semitones": 12}, {"steps": -8}, {"colour": "red"}):
        _problem(demo.member.post(f"{GROUP}/licks/1/moves", json=move), 400, "bad-request")


# --- mere text -------------------------------------------------------------------------------------


def test_a_text_is_judged_over_its_chords_and_nothing_is_kept(demo: RunningService) -> None:
    sent = {"text": ROLL_OVER_G_AND_C, "instrument": "banjo", "key": "G", "chords": "| G | C |"}
    before = demo.member.get(f"{GROUP}/licks?limit=200").json()
    answer = demo.member.post("/v1/judgements", json=sent)
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["chords"] == "| G | C |"
    assert found["judgement"]["fit"]["share"] > 0.95
    assert set(found["judgement"]["fit"]["classes"]) <= {"root", "third", "fifth", "drone"}
    assert not {"change-not-heard", "foreign"} & {r["code"] for r in found["judgement"]["reasons"]}
    assert any(line.startswith("L ") for line in found["tab"].splitlines())
    again = demo.member.post("/v1/tab/readings", json={"text": found["tab"], "instrument": "banjo"}).json()
    first = demo.member.post("/v1/tab/readings", json={"text": ROLL_OVER_G_AND_C, "instrument": "banjo"})
    assert _notes(again) == _notes(first.json())
    assert demo.member.get(f"{GROUP}/licks?limit=200").json() == before


def test_a_change_that_is_not_heard_is_said_with_its_measure_and_what_to_fret(demo: RunningService) -> None:
    sent = {"text": "32514251, 32514251", "instrument": "banjo", "key": "G", "chords": "| G | C |"}
    found = demo.member.post("/v1/judgements", json=sent).json()["judgement"]
    (reason,) = [r for r in found["reasons"] if r["code"] == "change-not-heard"]
    assert (reason["measure"], reason["params"]["chord"]) == (2, "C")
    assert "C, E, G" in reason["advice"]


def test_chords_that_are_not_given_are_named_with_how_sure_they_are(demo: RunningService) -> None:
    sent = {"text": "32514251, 1.2 2.1 5 3 1.2 2.1 5 3", "instrument": "banjo", "key": "G", "meter": "2/2"}
    bare = demo.member.post("/v1/judgements", json=sent).json()
    given = demo.member.post("/v1/judgements", json=sent | {"chords": "| G | C |"}).json()
    assert given["named"] == bare["named"]
    assert given["chords"] == "| G | C |"
    assert len(bare["named"]) == 2
    for measure in bare["named"]:
        sure = [chord["confidence"] for chord in measure]
        assert sure == sorted(sure, reverse=True)
        assert 0 < sum(sure) <= 1.0001  # each is rounded to four places
        assert all(0 <= one <= 1 for one in sure)
    assert bare["named"][0][0]["name"] == "G"
    assert "C" in [chord["name"] for chord in bare["named"][1]]


@pytest.mark.parametrize(
    ("change", "code", "line", "column"),
    [
        ({"text": "1|-0-q-----|\n2|---------|\n3|---------|\n4|---------|\n5|---------|"}, "unknown-mark", 1, 6),
        ({"text": "3251q251, 32514251"}, "one-line-mark", 1, 5),
        ({"chords": "| G | J |"}, "chart-chord", 1, 7),
        ({"chords": "| G |"}, "chords-length", None, None),
        ({"style": "tremolo"}, "wrong-style", None, None),
        ({"hand_style": "flatpick"}, "wrong-hand-style", None, None),
    ],
)  # fmt: skip
def test_a_text_that_cannot_be_judged_says_where_and_what_to_type(
    demo: RunningService, change: dict[str, Any], code: str, line: int | None, column: int | None
) -> None:
    sent = {"text": "32514251, 32514251", "instrument": "banjo", "key": "G"} | change
    answer = demo.member.post("/v1/judgements", json=sent)
    assert answer.status_code == 422, answer.text
    place = answer.json()["at"][0]
    assert (place["code"], place["line"], place["column"]) == (code, line, column)
    assert place["advice"]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"key": "Q"}, "unknown-key"),
        ({"instrument": "kazoo"}, "unknown-instrument"),
        ({"tuning": "nowhere"}, "unknown-tuning"),
        ({"meter": "7/8"}, "unknown-meter"),
    ],
)
def test_a_text_of_an_unknown_kind_is_refused(
    demo: RunningService, change: dict[str, Any], code: str
) -> None:
    sent = {"text": "32514251", "instrument": "banjo", "key": "G"} | change
    _problem(demo.member.post("/v1/judgements", json=sent), 422, code)


# --- drafts ----------------------------------------------------------------------------------------


def _copy_of_the_first(service: RunningService) -> dict[str, Any]:
    return _as_sent(_lick(service, 1), name="Push off once more")


def _draft(service: RunningService, kind: str) -> dict[str, Any]:
    return {"clashing": CLASHING, "torn": TORN, "copied": _copy_of_the_first(service)}[kind]


@pytest.mark.parametrize(
    ("kind", "code", "says"),
    [
        ("clashing", "foreign", "foreign to G"),
        ("torn", "cannot-be-stopped", "string 3 at fret 2 and string 2 at fret 14"),
        ("copied", "twin", "This is lick 1."),
    ],
)
def test_what_clashes_cannot_be_played_or_is_there_already_is_kept_as_a_draft(
    service: RunningService, kind: str, code: str, says: str
) -> None:
    member = service.member
    before, counted = _candidates(service), member.post(COUNT, json={}).json()
    made = _submitted(service, _draft(service, kind))
    assert made["state"] == "draft"
    reason = next(r for r in made["reasons"] if r["code"] == code)
    assert says in reason["text"]
    if kind != "copied":  # that is said of the whole
        assert (reason["measure"], reason["beat"]) == (1, "1")
    assert reason["advice"]
    shown = _lick(service, made["number"])
    assert (shown["state"], shown["reasons"]) == ("draft", made["reasons"])
    every = member.get(f"{GROUP}/licks?cursor=MTg0").json()["items"]  # after number 184
    drafts = member.get(f"{GROUP}/licks?status=draft").json()["items"]
    assert _numbers(every) == _numbers(drafts) == [made["number"]]
    assert made["number"] not in _numbers(member.get(f"{GROUP}/licks?limit=200&status=pool").json()["items"])
    assert _candidates(service) == before
    after = member.post(COUNT, json={}).json()
    assert (after["total"], after["per_phrase"]) == (counted["total"], counted["per_phrase"])


def test_what_is_at_home_nowhere_in_its_chords_is_a_draft_that_says_how_little_fits(
    service: RunningService,
) -> None:
    made = _submitted(service, LICK | {"text": "3.1-------, 3.1-------"})  # nothing but G sharp over G
    assert made["state"] == "draft"
    assert made["reasons"][0]["text"] == "Only 0 % of what counts is at home in these chords."
    assert made["reasons"][0]["advice"].startswith("Check the chords")


def test_a_lick_of_one_note_and_a_long_rest_is_a_draft(service: RunningService) -> None:
    made = _submitted(service, LICK | {"text": "3-------, --------"})
    assert made["state"] == "draft"
    assert [r["text"] for r in made["reasons"] if r["code"] == "too-empty"] == [
        "Too little begins to sound, mutes and pickup aside. Notes: 1, measures: 2."
    ]


def test_the_torn_lick_has_no_top_tempo(service: RunningService) -> None:
    made = _submitted(service, TORN)
    assert made["top"] is None
    found = _judged(service, made["number"])
    assert found["hands"]["top"] is None
    assert found["level"]["level"] == 5
    assert {"cannot-be-stopped", "no-hand"} <= {r["code"] for r in found["reasons"]}


@pytest.mark.parametrize("kind", ["clashing", "torn", "copied"])
def test_a_draft_that_is_mended_goes_into_the_pool(service: RunningService, kind: str) -> None:
    made = _submitted(service, _draft(service, kind))
    where, before = f"{GROUP}/licks/{made['number']}", len(_candidates(service))
    _problem(service.organiser.put(where, json=LICK), 428, "if-match-needed")
    with service.client("member", "ferry-lane", "Sorrel") as other:
        _problem(other.put(where, json=LICK, headers={"If-Match": '"1"'}), 403, "not-allowed")
    mended = service.organiser.put(where, json=LICK, headers={"If-Match": '"1"'})
    assert (mended.status_code, mended.json()["state"], mended.json()["revision"]) == (200, "pool", 2)
    assert mended.json()["reasons"] == []
    assert service.member.get(f"{GROUP}/licks?status=draft").json()["items"] == []
    assert made["number"] in _numbers(_candidates(service))
    assert len(_candidates(service)) == before + 1


def test_a_lick_of_the_pool_that_is_made_to_clash_becomes_a_draft(service: RunningService) -> None:
    made = _submitted(service, LICK)
    where = f"{GROUP}/licks/{made['number']}"
    assert made["number"] in _numbers(_candidates(service))
    spoilt = service.organiser.put(where, json=CLASHING, headers={"If-Match": '"1"'})
    assert (spoilt.json()["state"], spoilt.json()["revision"]) == ("draft", 2)
    assert made["number"] not in _numbers(_candidates(service))


@pytest.mark.parametrize("kind", ["clashing", "torn", "copied"])
def test_an_organiser_may_keep_a_draft_as_it_is(service: RunningService, kind: str) -> None:
    made = _submitted(service, _draft(service, kind))
    where, keep = f"{GROUP}/licks/{made['number']}/review", {"decision": "keep"}
    first, before = {"If-Match": '"1"'}, service.member.post(COUNT, json={}).json()["per_phrase"]
    _problem(service.member.post(where, json=keep, headers=first), 403, "not-allowed")
    _problem(service.organiser.post(where, json=keep), 428, "if-match-needed")
    _problem(service.organiser.post(where, json=keep, headers={"If-Match": '"7"'}), 412, "changed")
    _problem(service.organiser.post(where, json={"decision": "burn"}, headers=first), 400, "bad-request")
    assert _lick(service, made["number"])["state"] == "draft"
    kept = service.organiser.post(where, json=keep, headers=first)
    assert (kept.status_code, kept.json()["state"]) == (200, "pool")
    # that it doubles another is a reason no more
    assert kept.json()["reasons"] == [r for r in made["reasons"] if r["code"] != "twin"]
    assert kept.headers["etag"] == f'"{kept.json()["revision"]}"'
    again = service.organiser.post(where, json=keep, headers={"If-Match": "*"})
    found = _problem(again, 409, "in-the-pool")
    assert str(made["number"]) in found["detail"]
    assert service.member.post(COUNT, json={}).json()["per_phrase"][0] == before[0] + 1
    assert made["number"] in _numbers(_candidates(service))


def test_what_is_kept_against_advice_still_says_so_where_it_is_offered(service: RunningService) -> None:
    made = _submitted(service, TORN)
    where = f"{GROUP}/licks/{made['number']}/review"
    service.organiser.post(where, json={"decision": "keep"}, headers={"If-Match": "*"})
    (offered,) = [item for item in _candidates(service) if item["number"] == made["number"]]
    assert (offered["clean"], offered["top"]) == (False, None)
    assert "cannot-be-stopped" in {reason["code"] for reason in offered["reasons"]}


def test_a_lick_that_is_not_there_cannot_be_reviewed(demo: RunningService) -> None:
    keep, newest = {"decision": "keep"}, {"If-Match": "*"}
    _problem(demo.organiser.post(f"{GROUP}/licks/9999/review", json=keep, headers=newest), 404, "not-found")
    _problem(demo.organiser.post(f"{GROUP}/licks/1/review", json=keep, headers=newest), 409, "in-the-pool")


def test_a_copy_meant_for_another_place_is_no_copy(service: RunningService) -> None:
    made = _submitted(service, _copy_of_the_first(service) | {"role": "body"})
    assert made["state"] == "pool"
    assert [r["text"] for r in made["reasons"]] == ["This is lick 1, meant for another place in a tune."]


def test_drafts_are_nobody_elses(service: RunningService) -> None:
    made = _submitted(service, CLASHING)
    service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay"})
    where = f"{GROUP}/licks/{made['number']}"
    with service.client("organiser", "quay") as stranger:
        for path in ("", "/twins", "/easier", "/joins/1"):
            _problem(stranger.get(where + path), 404, "not-found")
        _problem(stranger.post(f"{where}/judgements", json={}), 404, "not-found")
        _problem(stranger.post(f"{where}/moves", json={"key": "A"}), 404, "not-found")
        keep = {"decision": "keep"}
        _problem(stranger.post(f"{where}/review", json=keep, headers={"If-Match": "*"}), 404, "not-found")
        _problem(stranger.get(f"{HERON}/phrases/1/licks"), 404, "not-found")


# --- what is shown ---------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", ["phone", "wide"])
@pytest.mark.parametrize("number", [2, 39, 95, 131])  # banjo, up the neck, a waltz, a guitar
def test_a_tab_with_both_hands_has_left_fingers_and_still_reads_back(
    demo: RunningService, number: int, layout: str
) -> None:
    path = f"{GROUP}/licks/{number}/tab.txt?layout={layout}"
    both = demo.member.get(f"{path}&hands=both").text
    fingers = [line for line in both.splitlines() if line.startswith("L")]
    assert fingers
    assert set("".join(fingers)) <= set("L 1234")
    assert not [line for line in demo.member.get(path).text.splitlines() if line.startswith("L")]
    lick = _lick(demo, number)
    sent = {"text": both, "instrument": lick["instrument"]}
    read = demo.member.post("/v1/tab/readings", json=sent)
    assert read.status_code == 200, read.text
    assert read.json()["notes"] == lick["notes"]


@pytest.mark.parametrize("tune", ["heron-ferry", "millers-mitten", "thimble-creek"])
def test_a_break_has_a_level_a_top_tempo_its_melody_and_a_word_on_every_seam(
    demo: RunningService, tune: str
) -> None:
    for seed in range(5):
        made = demo.member.post(f"{GROUP}/tunes/{tune}/breaks/random", json={"seed": seed}).json()
        places, seams = made["phrases"], made["joins"]
        assert 1 <= made["level"] <= 5
        assert made["level"] >= max(place["judgement"]["level"] for place in places)
        assert made["top"]["unit"] == made["tempo"]["unit"]
        assert made["tempo"]["bpm"] <= made["top"]["bpm"]
        assert made["top"]["bpm"] <= min(place["judgement"]["top"]["bpm"] for place in places)
        assert 0 < made["melody"] <= 1
        assert [seam["phrase"] for seam in seams] == [place["phrase"] for place in places[1:]]
        assert all(seam["reasons"] and seam["cost"] >= 0 for seam in seams)
        assert all(reason["text"] for seam in seams for reason in seam["reasons"])


def test_what_was_judged_is_there_after_a_restart(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True) as first:
        draft = _submitted(first, CLASHING)
        near = first.member.get(f"{GROUP}/licks/1").json()["tab"].replace("4|-----2---0", "4|-----2---2")
        twin = _submitted(first, _as_sent(_lick(first, 1), name="Again", text=near))
        candidates = [_candidates(first, "heron-ferry", phrase) for phrase in range(1, 17)]
        counted = first.member.post(COUNT, json={}).json()
        judged = _judged(first, 1, tune="heron-ferry", phrase=1)
    with RunningService(tmp_path, demo=True) as again:
        assert [_candidates(again, "heron-ferry", phrase) for phrase in range(1, 17)] == candidates
        assert again.member.post(COUNT, json={}).json() == counted
        assert _judged(again, 1, tune="heron-ferry", phrase=1) == judged
        assert _lick(again, draft["number"])["reasons"] == draft["reasons"]
        assert _lick(again, draft["number"])["state"] == "draft"
        assert _numbers(again.member.get(f"{GROUP}/licks/1/twins").json()["items"]) == [twin["number"]]


def test_of_the_same_lick_sent_at_the_same_time_one_joins_the_pool(service: RunningService) -> None:
    with ThreadPoolExecutor(6) as threads:
        made = list(threads.map(lambda n: _submitted(service, LICK | {"name": f"same {n}"}), range(6)))
    assert sorted(one["state"] for one in made) == ["draft"] * 5 + ["pool"]
    first = next(one["number"] for one in made if one["state"] == "pool")
    for one in made:
        if one["state"] == "draft":
            assert f"This is lick {first}." in [reason["text"] for reason in one["reasons"]]


def test_a_draft_that_was_kept_stays_in_the_pool_when_only_its_name_changes(service: RunningService) -> None:
    organiser = service.organiser
    made = _submitted(service, CLASHING)
    path = f"{GROUP}/licks/{made['number']}"
    tag = organiser.get(path).headers["etag"]
    organiser.post(f"{path}/review", json={"decision": "keep"}, headers={"If-Match": tag}).raise_for_status()
    tag = organiser.get(path).headers["etag"]
    renamed = organiser.put(path, json=CLASHING | {"name": "On purpose"}, headers={"If-Match": tag}).json()
    assert (renamed["state"], renamed["name"]) == ("pool", "On purpose")


@pytest.mark.parametrize("text", ["3.3 3.4 - - - - - -", "3.1 3 - - - - - -", "(32)-------", "3x3x3x3x"])
def test_licks_of_next_to_nothing_are_judged_and_made_easier_without_trouble(
    service: RunningService, text: str
) -> None:
    sent = LICK | {"text": text, "chords": "| G |"}
    answer = service.member.post(f"{GROUP}/licks", json=sent)
    assert answer.status_code in (201, 422), answer.text
    if answer.status_code == 201:
        path = f"{GROUP}/licks/{answer.json()['number']}"
        for what in ("easier", "twins", "joins/1"):
            assert service.member.get(f"{path}/{what}").status_code == 200
        assert service.member.post(f"{path}/judgements", json={}).status_code == 200
