"""What a break shall be, the best breaks, and one lick changed for another, over real HTTP."""

from itertools import pairwise
from typing import Any

import pytest

from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"
HERON = f"{GROUP}/tunes/heron-ferry/breaks"


def _count(service: RunningService, tune: str = "heron-ferry", **wish: object) -> dict[str, Any]:
    answer = service.member.post(f"{GROUP}/tunes/{tune}/breaks/count", json=wish)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def _random(service: RunningService, tune: str = "heron-ferry", **wish: object) -> dict[str, Any]:
    answer = service.member.post(f"{GROUP}/tunes/{tune}/breaks/random", json=wish)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _best(service: RunningService, tune: str = "heron-ferry", **wish: object) -> list[dict[str, Any]]:
    answer = service.member.post(f"{GROUP}/tunes/{tune}/breaks/best", json=wish)
    assert answer.status_code == 200, answer.text
    return list(answer.json()["items"])


def _numbers(made: dict[str, Any]) -> list[int]:
    return [place["lick"]["number"] for place in made["phrases"]]


def _joins(made: dict[str, Any]) -> float:
    return sum(float(join["cost"]) for join in made["joins"])


# --- wishes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("lick", [1, 8, 14, 53])
def test_breaks_with_a_lick_are_all_but_those_without_it(demo: RunningService, lick: int) -> None:
    everything, without = int(_count(demo)["total"]), int(_count(demo, avoid=[lick])["total"])
    assert int(_count(demo, must_include=[lick])["total"]) == everything - without
    made = _random(demo, must_include=[lick], seed=3)
    assert lick in _numbers(made)


def test_two_licks_that_must_be_there_are_both_there(demo: RunningService) -> None:
    both = int(_count(demo, must_include=[14, 53])["total"])
    # with one of them, less those that lack the other
    assert both == int(_count(demo, must_include=[14])["total"]) - int(
        _count(demo, must_include=[14], avoid=[53])["total"]
    )
    for seed in range(10):
        assert {14, 53} <= set(_numbers(_random(demo, must_include=[14, 53], seed=seed)))


def test_a_lick_that_fits_nowhere_is_named(demo: RunningService) -> None:
    answer = demo.member.post(f"{HERON}/random", json={"must_include": [95]})  # a lick of the waltz
    assert (answer.status_code, answer.json()["code"]) == (409, "fits-nowhere")
    assert "95" in answer.json()["detail"]
    assert demo.member.post(f"{HERON}/random", json={"must_include": [1, 2, 3, 4, 5]}).status_code == 400


@pytest.mark.parametrize(("tune", "bpm"), [("heron-ferry", 120), ("thimble-creek", 200)])
def test_a_break_for_a_tempo_is_comfortable_at_it(demo: RunningService, tune: str, bpm: int) -> None:
    assert int(_count(demo, tune, bpm=bpm)["total"]) < int(_count(demo, tune)["total"])
    for seed in range(5):
        made = _random(demo, tune, bpm=bpm, seed=seed)
        assert min(place["judgement"]["top"]["bpm"] for place in made["phrases"]) >= bpm
        assert made["top"]["bpm"] >= bpm


def test_no_lick_comes_twice_where_none_shall(demo: RunningService) -> None:
    counted = _count(demo, no_repeats=True)
    assert counted["total"] is None
    assert counted["total_with_repeats"] == _count(demo)["total"]
    for seed in range(5):
        numbers = _numbers(_random(demo, no_repeats=True, seed=seed))
        assert len(set(numbers)) == len(numbers)
    assert _random(demo, no_repeats=True, seed=1)["code"] == _random(demo, no_repeats=True, seed=1)["code"]


def test_a_break_recalls_at_least_as_much_of_the_melody_as_asked(demo: RunningService) -> None:
    for seed in range(5):
        assert _random(demo, melody=0.6, seed=seed)["melody"] >= 0.6
    answer = demo.member.post(f"{HERON}/random", json={"melody": 1.0, "max_level": 2, "styles": ["melodic"]})
    assert answer.status_code == 409


def test_a_draw_that_need_not_be_settled_has_more_to_draw_from(demo: RunningService) -> None:
    """Parts may then change their style as often as they like; the count was never narrowed."""
    assert _count(demo, settled=False)["total"] == _count(demo)["total"]

    def changes(made: dict[str, Any]) -> int:
        styles = [place["lick"]["style"] for place in made["phrases"]]
        return max(sum(a != b for a, b in pairwise(styles[i : i + 4])) for i in (0, 4, 8, 12))

    assert max(changes(_random(demo, seed=seed)) for seed in range(40)) <= 2
    assert max(changes(_random(demo, seed=seed, settled=False)) for seed in range(40)) == 3


def test_so_many_of_a_style_and_no_more_and_levels_within_a_sum(demo: RunningService) -> None:
    for seed in range(8):
        made = _random(demo, style_most={"melodic": 1, "single-string": 0}, level_sum=40, seed=seed)
        styles = [place["lick"]["style"] for place in made["phrases"]]
        assert styles.count("melodic") <= 1
        assert "single-string" not in styles
        assert sum(place["judgement"]["level"] for place in made["phrases"]) <= 40
    assert int(_count(demo, style_most={"melodic": 0})["total"]) == int(
        _count(demo, styles=["roll", "single-string"])["total"]
    )
    assert (
        demo.member.post(f"{HERON}/count", json={"style_most": {"loud": 1}}).json()["code"] == "unknown-style"
    )


def test_a_break_differs_from_the_last_ones_as_much_as_asked(service: RunningService) -> None:
    served = [_numbers(_random(service, differs_by=9)) for _ in range(8)]
    for place, made in enumerate(served):
        for earlier in served[:place]:
            if len(earlier) == len(made):  # breaks with licks over two phrases have fewer
                assert sum(a != b for a, b in zip(made, earlier, strict=True)) >= 5
    too_much = service.member.post(f"{HERON}/random", json={"differs_by": 17}).json()
    assert too_much["code"] == "differs-too-much"
    assert "in more phrases than 16" in too_much["detail"]


def test_what_is_favoured_comes_more_often(demo: RunningService) -> None:
    def mean(**wish: object) -> float:
        return sum(float(_random(demo, seed=seed, **wish)["melody"]) for seed in range(60)) / 60

    assert mean(favour="melody") > mean() + 0.03
    joins = [
        sum(_joins(_random(demo, seed=seed, **wish)) for seed in range(60))
        for wish in ({}, {"favour": "smooth"})
    ]  # type: ignore[arg-type]
    assert joins[1] < joins[0]
    assert _random(demo, seed=1, favour="smooth") == _random(demo, seed=1, favour="smooth")


# --- the best --------------------------------------------------------------------------------------


def test_the_smoothest_breaks_ask_least_of_the_hands_at_their_seams(demo: RunningService) -> None:
    found = _best(demo, by="smooth", how_many=5)
    drawn = [_joins(_random(demo, seed=seed)) for seed in range(10)]
    assert [_joins(made) for made in found] == sorted(_joins(made) for made in found)
    assert _joins(found[0]) <= min(drawn)


def test_the_easiest_breaks_have_the_lowest_levels(demo: RunningService) -> None:
    found = _best(demo, by="easy", how_many=5)
    levels = [sum(place["judgement"]["level"] for place in made["phrases"]) for made in found]
    drawn = [
        sum(place["judgement"]["level"] for place in _random(demo, seed=seed)["phrases"])
        for seed in range(10)
    ]
    assert levels == sorted(levels)
    assert levels[0] <= min(drawn)
    assert len({made["code"] for made in found}) == 5


def test_the_breaks_closest_to_the_tune_recall_most_of_it(demo: RunningService) -> None:
    found = _best(demo, by="melody", how_many=5)
    shares = [made["melody"] for made in found]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > max(_random(demo, seed=seed)["melody"] for seed in range(10))


def test_the_best_keep_to_the_wish_and_have_codes_and_numbers(demo: RunningService) -> None:
    (made,) = _best(demo, by="melody", how_many=1, max_level=2, must_include=[12])
    assert 12 in _numbers(made)
    assert made["level"] <= 2
    (few,) = _best(demo, by="smooth", how_many=1, style_most={"roll": 14})
    assert [place["lick"]["style"] for place in few["phrases"]].count("roll") <= 14
    again = demo.member.get(made["links"]["self"]).json()
    assert (again["code"], again["number"]) == (made["code"], made["number"])


@pytest.mark.parametrize("by", ["smooth", "easy", "melody"])
def test_the_best_with_no_lick_twice_have_none_and_are_no_better_than_the_best(
    demo: RunningService, by: str
) -> None:
    found = _best(demo, by=by, how_many=3, no_repeats=True)
    assert len(found) == 3
    for made in found:
        assert len(set(_numbers(made))) == len(made["phrases"])
    (first,) = _best(demo, by=by, how_many=1)
    if by == "melody":
        assert found[0]["melody"] <= first["melody"]
        assert found[0]["melody"] > max(
            _random(demo, no_repeats=True, seed=seed)["melody"] for seed in range(10)
        )


def test_best_by_what_is_asked_in_words_known_here(demo: RunningService) -> None:
    assert demo.member.post(f"{HERON}/best", json={"by": "loud"}).status_code == 400
    assert demo.member.post(f"{HERON}/best", json={"by": "easy", "how_many": 51}).status_code == 400


# --- swaps -----------------------------------------------------------------------------------------


def test_alternatives_for_a_phrase_come_best_first_and_one_of_them_takes_its_place(
    demo: RunningService,
) -> None:
    made = _random(demo, seed=5)
    path = f"{GROUP}/breaks/{made['code']}/swaps"
    last = made["phrases"][-1]
    alternatives = demo.member.post(path, json={"phrase": last["phrase"]}).json()["items"]
    assert alternatives
    assert last["lick"]["number"] not in [one["number"] for one in alternatives]
    clean = [one["clean"] for one in alternatives]
    assert clean == sorted(clean, reverse=True)
    chosen = alternatives[0]
    swapped = demo.member.post(path, json={"phrase": last["phrase"], "lick": chosen["number"]}).json()
    assert _numbers(swapped) == [*_numbers(made)[:-1], chosen["number"]]
    after = swapped["phrases"][-1]["judgement"]
    assert after["level"] - last["judgement"]["level"] == chosen["level_change"]
    assert after["melody"]["share"] - last["judgement"]["melody"]["share"] == pytest.approx(
        chosen["melody_change"], abs=1e-3
    )
    assert _joins(swapped) - _joins(made) == pytest.approx(chosen["joins_change"], abs=2e-3)
    back = demo.member.post(
        f"{GROUP}/breaks/{swapped['code']}/swaps",
        json={"phrase": last["phrase"], "lick": last["lick"]["number"]},
    ).json()
    assert back["code"] == made["code"]


def test_a_lick_that_does_not_go_there_is_refused_and_so_is_a_phrase_that_is_none(
    demo: RunningService,
) -> None:
    made = _random(demo, seed=6)
    path = f"{GROUP}/breaks/{made['code']}/swaps"
    wrong = demo.member.post(path, json={"phrase": 1, "lick": 95})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "does-not-go-there")
    assert demo.member.post(path, json={"phrase": 17}).json()["code"] == "no-such-phrase"
    assert demo.member.post(f"{GROUP}/breaks/NOPE/swaps", json={"phrase": 1}).status_code == 404


def test_a_break_whose_lick_has_left_the_pool_cannot_be_swapped(service: RunningService) -> None:
    made = _random(service, seed=7)
    number = _numbers(made)[3]
    lick = service.organiser.get(f"{GROUP}/licks/{number}")
    service.organiser.delete(
        f"{GROUP}/licks/{number}", headers={"If-Match": lick.headers["etag"]}
    ).raise_for_status()
    answer = service.member.post(f"{GROUP}/breaks/{made['code']}/swaps", json={"phrase": 1})
    assert (answer.status_code, answer.json()["code"]) == (409, "stale-break")
    assert str(number) in answer.json()["detail"]


# --- when nothing is as asked, and step by step ----------------------------------------------------


def test_a_wish_that_nothing_meets_is_told_the_smallest_change_that_would_help(demo: RunningService) -> None:
    answer = demo.member.post(f"{HERON}/random", json={"instrument": "guitar", "bpm": 165})
    assert (answer.status_code, answer.json()["code"]) == (409, "no-breaks")
    why, place = answer.json()["at"]
    assert (why["code"], why["path"]) == ("empties", "bpm")
    assert why["text"].startswith("Comfortable at 165: that leaves no lick for phrase ")
    assert (place["code"], place["path"]) == ("would-give", "bpm")
    tempo = int(place["text"].split("tempo of ")[1].split()[0])
    total = _count(demo, instrument="guitar", bpm=tempo)["total"]
    assert f"the number of breaks would be {int(total):,}" in place["text"]
    assert _count(demo, instrument="guitar", bpm=tempo + 1)["total"] == "0"


def test_each_part_of_a_wish_is_told_its_own_change(demo: RunningService) -> None:
    answer = demo.member.post(f"{HERON}/random", json={"styles": ["melodic"], "max_level": 2})
    places = {place["path"]: place["text"] for place in answer.json()["at"] if place["code"] == "would-give"}
    higher = _count(demo, styles=["melodic"], max_level=4)["total"]
    rolls = _count(demo, styles=["melodic", "roll"], max_level=2)["total"]
    assert places == {
        "max-level": f"With licks up to level 4 the number of breaks would be {int(higher):,}.",
        "styles": f"With roll licks too the number of breaks would be {int(rolls):,}.",
    }
    assert _count(demo, styles=["melodic"], max_level=3)["total"] == "0"
    fits_nowhere = demo.member.post(f"{HERON}/random", json={"must_include": [95]}).json()["at"]
    assert [place["text"] for place in fits_nowhere] == [
        "Licks insisted on: no break of this pool is like that.",
        f"With lick 95 not insisted on the number of breaks would be {int(_count(demo)['total']):,}.",
    ]


def test_a_path_for_learners_changes_one_lick_at_a_time_the_tag_first(demo: RunningService) -> None:
    answer = demo.member.post(f"{HERON}/steps", json={"max_level": 3})
    assert answer.status_code == 200, answer.text
    steps = answer.json()["items"]
    plain = demo.member.get(f"{GROUP}/tunes/heron-ferry").json()["plain"]["banjo"]
    assert _numbers(steps[0]) == [*plain["A"], *plain["A"], *plain["B"], *plain["B"]]
    assert len(steps) > 10
    changed = []
    for before, after in pairwise(steps):
        (place,) = [
            i for i, (a, b) in enumerate(zip(_numbers(before), _numbers(after), strict=True)) if a != b
        ]
        changed.append(place)
        assert after["phrases"][place]["judgement"]["level"] <= 3
    assert changed[0] == 15
    assert changed == sorted(changed, reverse=True)


def test_a_tune_without_a_plain_break_on_the_instrument_says_so(demo: RunningService) -> None:
    answer = demo.member.post(f"{HERON}/steps", json={"instrument": "guitar"})
    assert (answer.status_code, answer.json()["code"]) == (422, "no-plain-break")
    assert "guitar" in answer.json()["detail"]
