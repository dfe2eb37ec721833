"""Wishes that look at a break as a whole, over real HTTP."""

from itertools import pairwise
from typing import Any

import pytest

from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"
PARTS = [range(4), range(4, 8), range(8, 12), range(12, 16)]  # A A B B of heron-ferry, in phrases


def _ask(service: RunningService, what: str, tune: str = "heron-ferry", **wish: object) -> Any:
    return service.member.post(f"{GROUP}/tunes/{tune}/breaks/{what}", json=wish)


def _made(service: RunningService, tune: str = "heron-ferry", **wish: object) -> dict[str, Any]:
    answer = _ask(service, "random", tune, **wish)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _total(service: RunningService, **wish: object) -> int:
    return int(_ask(service, "count", **wish).json()["total"])


def _licks(made: dict[str, Any]) -> dict[int, int]:
    """Lick numbers by the phrase, from 0, where they begin."""
    return {place["phrase"] - 1: place["lick"]["number"] for place in made["phrases"]}


def _play(made: dict[str, Any], play: range) -> list[tuple[int, int]]:
    return [(phrase - play.start, lick) for phrase, lick in _licks(made).items() if phrase in play]


def test_repeats_on_purpose_are_the_same_licks_again(demo: RunningService) -> None:
    for seed in range(5):
        made = _made(demo, repeats="same", seed=seed)
        for first, second in (PARTS[:2], PARTS[2:]):
            assert _play(made, first) == _play(made, second)
    (best,) = _ask(demo, "best", by="smooth", repeats="same", how_many=1).json()["items"]
    assert _play(best, PARTS[0]) == _play(best, PARTS[1])


def test_repeats_played_differently_never_are_the_same(demo: RunningService) -> None:
    for seed in range(5):
        made = _made(demo, repeats="different", max_level=2, seed=seed)
        assert _play(made, PARTS[0]) != _play(made, PARTS[1])
        assert _play(made, PARTS[2]) != _play(made, PARTS[3])
    for best in _ask(demo, "best", by="easy", repeats="different", how_many=3).json()["items"]:
        assert _play(best, PARTS[0]) != _play(best, PARTS[1])
        assert _play(best, PARTS[2]) != _play(best, PARTS[3])


def test_breaks_whose_repeats_differ_are_counted_by_what_is_left(demo: RunningService) -> None:
    """Where no lick fills two phrases, a part of n ways is played twice differently in n (n - 1)."""
    per_phrase = _ask(demo, "count", max_level=2).json()["per_phrase"]
    ways = [1, 1]
    for part, play in enumerate((PARTS[0], PARTS[2])):
        for phrase in play:
            ways[part] *= per_phrase[phrase]
    a, b = ways
    assert _total(demo, max_level=2) == a * a * b * b
    assert _total(demo, max_level=2, repeats="same") == a * b
    assert _total(demo, max_level=2, repeats="different") == a * (a - 1) * b * (b - 1)


def test_no_lick_comes_twice_but_where_a_part_is_repeated_on_purpose(demo: RunningService) -> None:
    made = _made(demo, repeats="same", no_repeats=True, seed=4)
    once = [lick for play in (PARTS[0], PARTS[2]) for _, lick in _play(made, play)]
    assert len(set(once)) == len(once)
    assert _play(made, PARTS[0]) == _play(made, PARTS[1])


def test_what_cannot_be_is_refused_with_the_phrases_named(demo: RunningService) -> None:
    few = _ask(demo, "random", no_repeats=True, styles=["melodic"], max_level=4).json()
    assert few["code"] == "too-few-licks"
    assert few["detail"].startswith("Phrases ")
    most = _ask(demo, "random", melody=1.0, max_level=2).json()
    assert most["code"] == "melody-too-much"
    percent = int(most["detail"].split("more than ")[1].split()[0])
    closest = _ask(demo, "best", by="melody", max_level=2, how_many=1).json()["items"][0]
    # the best that keeps to the rules recalls no more than the most that any break does
    assert closest["melody"] <= percent / 100 + 0.01
    made = _made(demo, melody=percent / 100, max_level=2)
    assert made["melody"] >= percent / 100


def test_nothing_asked_of_the_melody_is_nothing_asked(demo: RunningService) -> None:
    assert _made(demo, melody=0, seed=9)["code"] == _made(demo, seed=9)["code"]
    assert _ask(demo, "count", melody=0).json()["total"] is not None


def test_an_easy_wish_without_repeats_never_comes_twice_until_all_came(service: RunningService) -> None:
    wish: dict[str, Any] = {"instrument": "mandolin", "repeats": "same", "max_level": 2}
    total = _total(service, **wish)
    assert total == 48
    drawn = [_made(service, **wish)["number"] for _ in range(total)]
    assert len(set(drawn)) == total
    assert _made(service, **wish)["number"] in drawn


def test_a_favoured_break_comes_again_only_when_all_came(service: RunningService) -> None:
    wish: dict[str, Any] = {"instrument": "mandolin", "repeats": "same", "max_level": 2, "favour": "fresh"}
    total = _total(service, **wish)
    drawn = [_made(service, **wish)["number"] for _ in range(total)]
    assert len(set(drawn)) == total


def test_fresh_licks_come_more_often_than_those_just_played(service: RunningService) -> None:
    def again(**wish: object) -> int:
        """Licks in twenty draws that were in the break drawn before."""
        found = 0
        before: set[int] = set()
        for _ in range(20):
            now = set(_licks(_made(service, **wish)).values())
            found += len(now & before)
            before = now
        return found

    assert again(favour="fresh") < again()


def test_a_mix_weighs_what_it_names(demo: RunningService) -> None:
    def best(**what: object) -> dict[str, Any]:
        answer = _ask(demo, "best", how_many=1, **what).json()
        assert answer["exact"]
        return dict(answer["items"][0])

    assert best(mix={"melody": 1})["code"] == best(by="melody")["code"]
    mixed = best(mix={"melody": 3, "easy": 1})
    assert mixed["melody"] <= best(by="melody")["melody"]
    levels = [place["judgement"]["level"] for place in mixed["phrases"]]
    assert sum(levels) <= sum(place["judgement"]["level"] for place in best(by="melody")["phrases"])
    for wrong in ({}, {"by": "easy", "mix": {"melody": 1}}, {"mix": {"melody": 0}}):
        assert _ask(demo, "best", **wrong).json()["code"] == "by-or-mix"


def test_the_best_mind_what_only_a_whole_break_can_have(demo: RunningService) -> None:
    found = _ask(demo, "best", by="easy", no_repeats=True, melody=0.6, how_many=5).json()
    assert found["exact"]
    assert len(found["items"]) == 5
    for made in found["items"]:
        numbers = list(_licks(made).values())
        assert len(set(numbers)) == len(numbers)
        assert made["melody"] >= 0.6


@pytest.mark.parametrize(
    "wish",
    [{"max_level": 2}, {"no_repeats": True}, {"must_include": [14]}, {"repeats": "same"}, {"melody": 0.6}],
)
def test_the_way_from_the_plain_break_ends_in_what_was_asked(
    demo: RunningService, wish: dict[str, Any]
) -> None:
    steps = _ask(demo, "steps", **wish).json()["items"]
    plain, target = _licks(steps[0]), _licks(steps[-1])
    for before, after in pairwise(steps):
        (place,) = [phrase for phrase in plain if _licks(before)[phrase] != _licks(after)[phrase]]
        assert _licks(after)[place] == target[place]
        assert all(join["cost"] <= 1 for join in after["joins"])
        if "max_level" in wish:
            assert after["phrases"][place]["judgement"]["level"] <= wish["max_level"]
    assert set(wish.get("must_include", [])) <= set(target.values())
    if "no_repeats" in wish:
        assert len(set(target.values())) == len(target)
    if "repeats" in wish:
        assert _play(steps[-1], PARTS[0]) == _play(steps[-1], PARTS[1])
    assert steps[-1]["melody"] >= wish.get("melody", 0)


def test_what_empties_which_phrase_is_told_apart(demo: RunningService) -> None:
    answer = _ask(demo, "random", max_level=1, styles=["flatpick"], level_sum=3).json()
    told = {place["path"]: place["text"] for place in answer["at"] if place["code"] != "would-give"}
    assert (
        told["styles"]
        == f"In flatpick only: that leaves no lick for phrase {', '.join(map(str, range(1, 17)))}."
    )
    assert told["max-level"] == "Level 1 at most: that leaves no lick for phrase 2, 4, 6, 8, 9, 11, 13, 15."
    assert told["level-sum"] == "Levels that come to 3 at most: no break of this pool is like that."
    lowest = _ask(demo, "random", level_sum=3).json()
    (change,) = [place["text"] for place in lowest["at"] if place["code"] == "would-give"]
    least = int(change.split("come to ")[1].split()[0])
    assert _total(demo, level_sum=least) > 0
    assert _total(demo, level_sum=least - 1) == 0


def test_a_key_repeats_its_answer_when_the_pool_has_changed(service: RunningService) -> None:
    wish, key = {"must_include": [19]}, {"Idempotency-Key": "once-and-again"}
    path = f"{GROUP}/tunes/heron-ferry/breaks/random"
    first = service.member.post(path, json=wish, headers=key)
    assert first.status_code == 201
    service.organiser.delete(f"{GROUP}/licks/19", headers={"If-Match": "*"}).raise_for_status()
    again = service.member.post(path, json=wish, headers=key)
    assert (again.status_code, again.json()["code"]) == (201, first.json()["code"])
    assert service.member.post(path, json=wish).status_code == 409


def test_the_best_differ_from_what_was_served_as_draws_do(service: RunningService) -> None:
    drawn = _licks(_made(service, differs_by=14))
    best = _ask(service, "best", by="easy", differs_by=14, how_many=1)
    assert best.status_code == 200
    found = _licks(best.json()["items"][0])
    assert sum(found.get(phrase) != lick for phrase, lick in drawn.items()) >= 14


def test_what_asks_for_too_many_things_at_once_is_refused_and_not_tried(demo: RunningService) -> None:
    wish = {
        "must_include": [1, 2, 5, 19], "level_sum": 60, "styles": ["roll", "melodic", "single-string"],
        "style_most": {"roll": 9, "melodic": 6, "single-string": 5},
    }  # fmt: skip
    answer = _ask(demo, "count", **wish)
    assert answer.json()["code"] == "too-much-at-once"
    assert "Leave out one of" in answer.json()["detail"]


def test_a_sum_that_is_too_low_blames_no_phrase_that_has_licks(demo: RunningService) -> None:
    answer = _ask(demo, "random", level_sum=15).json()
    assert answer["code"] == "none-together"
    assert "phrase 16" not in answer["detail"]
    differ = _ask(demo, "random", repeats="different", level_sum=23).json()["at"]
    (gives,) = [
        place["text"] for place in differ if place["code"] == "would-give" and place["path"] == "level-sum"
    ]
    assert f"the number of breaks would be {int(_total(demo, repeats='different', level_sum=24)):,}." in gives


def test_the_way_from_the_plain_break_refuses_what_a_draw_refuses(demo: RunningService) -> None:
    for wish in ({"must_include": [1], "avoid": [1]}, {"max_level": 1}, {"differs_by": 512}):
        assert _ask(demo, "steps", **wish).status_code == 409
