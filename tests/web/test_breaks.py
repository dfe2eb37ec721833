"""Breaks over the API: counted, drawn, numbered, found again."""

from collections import Counter
from typing import Any

import pytest

from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, _problem

HERON = f"{GROUP}/tunes/heron-ferry/breaks"


def _random(service: RunningService, tune: str = "heron-ferry", **wish: Any) -> dict[str, Any]:
    response = service.member.post(f"{GROUP}/tunes/{tune}/breaks/random", json=wish)
    assert response.status_code == 201, response.text
    found: dict[str, Any] = response.json()
    return found


def test_the_count_is_the_product_of_choices_where_no_lick_spans_two_phrases(demo: RunningService) -> None:
    found = demo.member.post(f"{HERON}/count", json={"max_level": 1}).json()
    product = 1
    for choices in found["per_phrase"]:
        product *= choices
    assert found["total"] == str(product)
    assert len(found["per_phrase"]) == 16


def test_four_licks_in_each_of_six_phrases_make_4096_breaks(service: RunningService) -> None:
    # common practice; 4^6 computed
    organiser = service.organiser
    tempo = {"low": 60, "high": 110, "start": 80, "unit": "half"}
    tune = {"slug": "six", "name": "Six", "key": "Eb", "meter": "2/2", "tempo": tempo, "order": "A",
            "chart": "A: | " + " | ".join(["Eb"] * 12) + " |",
            "roles": [{"part": "A", "phrase": 6, "role": "body"}]}  # fmt: skip
    assert organiser.post(f"{GROUP}/tunes", json=tune).status_code == 201
    for text in ("3.8 2.8 5 1.8----, 3.8-------", "1.8 2.8 5 1.8----, 1.8-------",
                 "2.8 1.8 5 2.8----, 3.8-------", "2.8 3.8 5 2.8----, 2.8-------"):  # fmt: skip
        sent = LICK | {"text": text, "key": "Eb", "chords": "| Eb | Eb |"}
        assert organiser.post(f"{GROUP}/licks", json=sent).status_code == 201
    found = organiser.post(f"{GROUP}/tunes/six/breaks/count", json={}).json()
    assert (found["total"], found["per_phrase"]) == ("4096", [4, 4, 4, 4, 4, 4])
    drawn = {_random(service, "six", max_level=2)["number"] for _ in range(60)}
    assert len(drawn) == 60


def test_a_break_names_everything_a_player_needs(demo: RunningService) -> None:
    found = _random(demo, "millers-mitten", seed=5)
    assert found["setting"] == {
        "instrument": "banjo", "tuning": "open-g", "position": "G", "sounding": "A", "capo": 2, "stop": 69,
        "stop_fret": 7,
    }  # fmt: skip
    assert found["tempo"] == {"bpm": 80, "unit": "half"}
    assert next(p["phrase"] for p in found["phrases"]) == 1
    assert int(found["number"]) <= int(found["total"])
    assert len(found["code"]) == 8
    assert found["level"] == max(p["lick"]["level"] for p in found["phrases"])
    assert {p["chords"] for p in found["phrases"]} <= {"G", "F G", "G D", "G F G", "C", "C F", "G F G D"} | {
        p["chords"] for p in found["phrases"] if p["lick"]["phrases"] > 1
    }


def test_the_same_seed_gives_the_same_break_and_another_seed_another(demo: RunningService) -> None:
    first, again, other = (_random(demo, seed=s) for s in (11, 11, 12))
    assert first == again
    assert other["code"] != first["code"]


def test_without_a_seed_no_break_comes_twice_until_all_have_come(service: RunningService) -> None:
    counted = service.member.post(
        f"{GROUP}/tunes/thimble-creek/breaks/count", json={"instrument": "guitar"}
    ).json()
    assert counted["total"] == "0"
    narrow: dict[str, Any] = {"avoid": []}
    found = service.member.post(f"{HERON}/count", json={}).json()
    keep = _one_or_two_a_phrase(service)
    narrow["avoid"] = [n for n in range(1, 131) if n not in keep]
    total = int(service.member.post(f"{HERON}/count", json=narrow).json()["total"])
    assert 1 < total <= 64, found
    codes = [_random(service, **narrow)["code"] for _ in range(total)]
    assert len(set(codes)) == total
    assert _random(service, **narrow)["code"] in codes


def _one_or_two_a_phrase(service: RunningService) -> set[int]:
    """The plain break and one lick more for its first tag."""
    plain = service.member.get(f"{GROUP}/tunes/heron-ferry").json()["plain"]["banjo"]
    keep = {number for numbers in plain.values() for number in numbers}
    licks = service.member.get(f"{GROUP}/licks?limit=60&instrument=banjo").json()["items"]
    tags = [lick["number"] for lick in licks if lick["role"] == "tag" and lick["chords"] == "D G"]
    return keep | {next(n for n in tags if n not in keep)}


def test_draws_are_even_over_all_breaks(service: RunningService) -> None:
    """All of these keep to the rules but for repeated phrases with different targets, which are asked for here."""
    keep = _one_or_two_a_phrase(service)
    narrow = {"avoid": [n for n in range(1, 131) if n not in keep], "settled": False}
    total = int(service.member.post(f"{HERON}/count", json=narrow).json()["total"])
    seen = Counter(_random(service, seed=s, **narrow)["code"] for s in range(40 * total))
    assert len(seen) == total
    # chi-squared: mean total-1, five standard deviations of sqrt(2(total-1)) above is never met by chance
    chi = sum((count - 40) ** 2 / 40 for count in seen.values())
    assert chi < (total - 1) + 5 * (2 * (total - 1)) ** 0.5


def test_a_code_names_its_break_for_good(service: RunningService) -> None:
    made = _random(service, seed=3)
    tab = service.member.get(made["links"]["tab"]).text
    number = made["phrases"][0]["lick"]["number"]
    where = f"{GROUP}/licks/{number}"
    assert (
        service.organiser.put(
            where, json=LICK | {"name": "Something else"}, headers={"If-Match": "*"}
        ).status_code
        == 200
    )
    assert service.organiser.delete(where, headers={"If-Match": "*"}).status_code == 204
    assert service.member.get(made["links"]["self"]).json() == made
    assert service.member.get(made["links"]["tab"]).text == tab


@pytest.mark.parametrize(
    "typed", [str.lower, lambda c: f"{c[:4]}-{c[4:]}", lambda c: c.replace("0", "O").replace("1", "l")]
)
def test_a_code_may_be_typed_as_people_do(demo: RunningService, typed: Any) -> None:
    made = _random(demo, seed=1)
    assert demo.member.get(f"{GROUP}/breaks/{typed(made['code'])}").json()["code"] == made["code"]


def test_number_k_of_n_and_back(demo: RunningService) -> None:
    made = _random(demo, seed=21)
    where = f"{HERON}/number/{made['number']}?snapshot={made['snapshot']}"
    assert demo.member.get(where).json() == made
    first = demo.member.get(f"{HERON}/number/1?snapshot={made['snapshot']}").json()
    last = demo.member.get(f"{HERON}/number/{made['total']}?snapshot={made['snapshot']}").json()
    assert (first["number"], last["number"]) == ("1", made["total"])
    beyond = str(int(made["total"]) + 1)
    found = _problem(
        demo.member.get(f"{HERON}/number/{beyond}?snapshot={made['snapshot']}"), 404, "no-such-number"
    )
    assert f"{int(made['total']):,}" in found["detail"]
    _problem(demo.member.get(f"{HERON}/number/0?snapshot={made['snapshot']}"), 404, "no-such-number")


def test_a_number_of_an_older_pool_answers_with_the_code(service: RunningService) -> None:
    made = _random(service, seed=2)
    service.member.post(f"{GROUP}/licks", json=LICK)
    stale = service.member.get(f"{HERON}/number/{made['number']}?snapshot={made['snapshot']}")
    assert made["code"] in _problem(stale, 409, "stale-snapshot")["detail"]
    unknown = service.member.get(f"{HERON}/number/1?snapshot=feedfeedfeedfeed")
    _problem(unknown, 409, "unknown-snapshot")


def test_a_new_lick_makes_more_breaks_at_once(service: RunningService) -> None:
    before = service.member.post(f"{HERON}/count", json={}).json()
    service.member.post(f"{GROUP}/licks", json=LICK)
    after = service.member.post(f"{HERON}/count", json={}).json()
    assert after["per_phrase"][0] == before["per_phrase"][0] + 1
    assert int(after["total"]) > int(before["total"])
    assert after["snapshot"] != before["snapshot"]


def test_a_wish_that_nothing_meets_names_the_phrase(demo: RunningService) -> None:
    answer = demo.member.post(f"{HERON}/random", json={"styles": ["single-string"], "max_level": 1})
    found = _problem(answer, 409, "no-breaks")
    assert "phrase 1 (opener, over G)" in found["detail"]


def test_filters_leave_only_what_was_asked_for(demo: RunningService) -> None:
    found = _random(demo, seed=4, max_level=2, styles=["roll"])
    assert {p["lick"]["style"] for p in found["phrases"]} == {"roll"}
    assert found["level"] <= 2


@pytest.mark.parametrize("tune", ["heron-ferry", "millers-mitten", "thimble-creek"])
def test_a_breaks_tab_reads_back_to_the_notes_of_its_licks(demo: RunningService, tune: str) -> None:
    for seed in range(5):
        made = _random(demo, tune, seed=seed)
        phone = demo.member.get(made["links"]["tab"]).text
        wide = demo.member.get(made["links"]["tab"] + "?layout=wide&width=120").text
        assert max(len(line) for line in phone.splitlines()) <= 28
        read = [
            demo.member.post("/v1/tab/readings", json={"text": text, "instrument": "banjo"}).json()["notes"]
            for text in (phone, wide)
        ]
        assert read[0] == read[1]
        heard = {(n["measure"], n["onset"], n["string"], n["fret"]) for n in read[0]}
        for place in made["phrases"]:
            lick = demo.member.get(f"{GROUP}/licks/{place['lick']['number']}").json()
            own = [
                (n["measure"] + place["measure"] - 1, n["onset"], n["string"], n["fret"])
                for n in lick["notes"]
                if n["measure"] == 1
            ]
            assert set(own) <= heard


def test_a_pickup_that_replaces_a_tail_is_said(demo: RunningService) -> None:
    said = 0
    for seed in range(20):
        made = _random(demo, seed=seed)
        assert len(made["joins"]) == len(made["phrases"]) - 1
        for join in made["joins"]:
            place = next(p for p in made["phrases"] if p["phrase"] == join["phrase"])
            lick = demo.member.get(f"{GROUP}/licks/{place['lick']['number']}").json()
            pickup = [reason for reason in join["reasons"] if reason["code"] == "pickup-replaces"]
            assert bool(pickup) == (lick["pickup"] > 0)
            for reason in pickup:
                assert reason["params"]["lick"] == lick["number"]
                assert "takes the end of" in reason["text"]
                said += 1
    assert said > 0


def test_exhausting_an_easy_wish_gives_no_other_break_again(service: RunningService) -> None:
    keep = _one_or_two_a_phrase(service)
    narrow = {"avoid": [n for n in range(1, 131) if n not in keep]}
    total = int(service.member.post(f"{HERON}/count", json=narrow).json()["total"])
    plain = {number for number in keep if number <= 8}
    single = {"avoid": [n for n in range(1, 131) if n not in plain]}
    alone = int(service.member.post(f"{HERON}/count", json=single).json()["total"])
    assert alone < total
    first = {_random(service, **narrow)["code"] for _ in range(total // 2)}
    easy: set[str] = set()
    while len(easy) < alone:  # through all easy ones, which were partly served before: that round begins anew
        easy.add(_random(service, **single)["code"])
    remembered = first - easy
    following = {_random(service, **narrow)["code"] for _ in range(total - len(remembered) - alone)}
    assert remembered
    assert not following & remembered


def test_draws_at_the_same_time_are_of_different_breaks(service: RunningService) -> None:
    from concurrent.futures import ThreadPoolExecutor

    keep = _one_or_two_a_phrase(service)
    narrow = {"avoid": [n for n in range(1, 131) if n not in keep]}
    total = int(service.member.post(f"{HERON}/count", json=narrow).json()["total"])
    with ThreadPoolExecutor(8) as threads:
        codes = list(threads.map(lambda _: _random(service, **narrow)["code"], range(2 * total)))
    assert set(Counter(codes).values()) == {2}  # two rounds, each whole


def test_repeating_a_draw_with_its_key_gives_the_same_break(service: RunningService) -> None:
    path, key = f"{HERON}/random", {"Idempotency-Key": "draw-1"}
    first = service.member.post(path, json={}, headers=key)
    again = service.member.post(path, json={}, headers=key)
    assert (again.status_code, again.json()) == (201, first.json())
    assert again.headers["idempotent-replay"] == "true"


def test_a_style_that_no_lick_can_have_is_named(demo: RunningService) -> None:
    found = _problem(demo.member.post(f"{HERON}/count", json={"styles": ["rolls"]}), 422, "unknown-style")
    assert "roll" in found["detail"]


def test_a_number_is_that_of_the_pool_as_it_is_also_when_the_pool_was_another_in_between(
    service: RunningService,
) -> None:
    snapshot = service.member.post(f"{HERON}/count", json={}).json()["snapshot"]
    first = service.member.get(f"{HERON}/number/5", params={"snapshot": snapshot}).json()
    lick = service.organiser.post(f"{GROUP}/licks", json=LICK).json()["number"]
    licks = [place["lick"]["number"] for place in first["phrases"]]
    swapped = service.member.post(
        f"{GROUP}/breaks/{first['code']}/swaps", json={"phrase": 1, "lick": licks[0]}
    )
    assert swapped.status_code in (200, 422)
    service.organiser.delete(f"{GROUP}/licks/{lick}", headers={"If-Match": "*"}).raise_for_status()
    again = service.member.get(f"{HERON}/number/5", params={"snapshot": snapshot}).json()
    assert (again["code"], again["number"], again["snapshot"]) == (first["code"], "5", snapshot)


SLIP_JIG: dict[str, Any] = {
    "slug": "oars-in", "name": "Oars In", "key": "G", "meter": "9/8", "order": "A",
    "tempo": {"low": 60, "high": 110, "start": 84, "unit": "dotted quarter"},
    "chart": "A: | G | G . D | C | D . G |",
    "melody": "A: | G2 A B2 d g3 | G2 B d2 B A3 | c2 e g2 e c3 | d2 f a2 f g3 |",
}  # fmt: skip
SLIDE = SLIP_JIG | {
    "slug": "oars-out", "name": "Oars Out", "meter": "12/8", "chart": "A: | G | C D |", "cuts": {"A": [1, 1]},
    "melody": "A: | G2 A B2 d g3 d3 | c2 e g2 e d2 f a3 |",
}  # fmt: skip
OVER: dict[str, tuple[tuple[str, str], ...]] = {
    "oars-in": (
        ("3 2 1 5 2 1 3 2 1, 3 2 1 5 2 1 4 3.2 1.4", "| G | G . D |"),
        ("3 - 1 2 - 5 1 - -, 3 2 1 5 - 1 4 1.4 3.2", "| G | G . D |"),
        ("4.2 2.1 1.2 5 2.1 1.2 3 2.1 1.2, 4 3.2 1.4 5 2.3 1.4 (3 5) - -", "| C | D . G |"),
    ),
    "oars-out": (
        ("3 2 1 5 2 1 3 2 1 5 2 1", "| G |"),
        ("3 - 1 5 2 1 3 - - 1 - -", "| G |"),
        ("4.2 2.1 1.2 5 2.1 1.2 4 3.2 1.4 5 - -", "| C D |"),
    ),
}


@pytest.mark.parametrize("tune", [SLIP_JIG, SLIDE], ids=["9/8", "12/8"])
def test_a_slip_jig_and_a_slide_are_drawn_shown_and_heard_like_any_tune(
    service: RunningService, tune: dict[str, Any]
) -> None:
    organiser, slug, meter = service.organiser, tune["slug"], tune["meter"]
    made = organiser.post(f"{GROUP}/tunes", json=tune)
    assert made.status_code == 201, made.text
    assert [p["chords"] for p in made.json()["phrases"]] == (
        ["G D", "C D G"] if meter == "9/8" else ["G", "C D"]
    )
    sent = []
    for text, chords in OVER[slug]:
        lick = LICK | {"text": text, "chords": chords, "meter": meter, "level": None, "role": None}
        answer = organiser.post(f"{GROUP}/licks", json=lick)
        assert answer.status_code == 201, answer.text
        sent.append(answer.json()["number"])
    found = organiser.post(f"{GROUP}/tunes/{slug}/breaks/count", json={}).json()
    assert (found["total"], found["per_phrase"]) == ("2", [2, 1])
    drawn = _random(service, slug)
    assert drawn["tempo"] == {"bpm": 84, "unit": "dotted quarter"}
    assert [p["lick"]["number"] in sent for p in drawn["phrases"]] == [True, True]
    over = {"tune": slug, "phrase": 1}
    judged = organiser.post(f"{GROUP}/licks/{sent[0]}/judgements", json=over).json()
    assert judged["hands"]["top"]["unit"] == "dotted quarter"
    assert judged["fit"]["score"] > 0.8
    assert judged["melody"]["strong"] == (6 if meter == "9/8" else 2)
    text = {"text": OVER[slug][-1][0], "instrument": "banjo", "key": "G", "meter": meter}
    named = organiser.post("/v1/judgements", json=text).json()["named"]
    assert named[0][0]["name"] == "C"
    for what, holds in {
        "tab.txt": meter.encode(), "tab.svg": b"<svg", "tab.png": b"PNG", "sheet.pdf": b"%PDF", "break.mid": b"MThd",
        "break.musicxml": b"<beat-type>8</beat-type>", "break.mp3": b"", "read-out.txt": b"eight time, counted 1 to",
    }.items():  # fmt: skip
        answer = organiser.get(f"{GROUP}/breaks/{drawn['code']}/{what}")
        assert answer.status_code == 200, answer.text
        assert holds in answer.content, what
    for part in ("backup", "kick-off", "ending"):
        for instrument in ("banjo", "guitar", "upright-bass"):
            answer = organiser.get(f"{GROUP}/tunes/{slug}/{part}/tab.txt?instrument={instrument}")
            assert answer.status_code == 200, answer.text
            assert f" {meter}" in answer.text
    card = organiser.get(f"{GROUP}/tunes/{slug}/card.svg")
    assert card.status_code == 200
