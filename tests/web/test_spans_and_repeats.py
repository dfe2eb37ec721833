"""Licks that fill one phrase or two, of a length or another, over real HTTP: put where they fit, counted as brute force counts."""

import itertools
from collections.abc import Iterator
from typing import Any

import pytest

from tests.support import RunningService

ROLLS = ("32514251", "32513251", "21521521", "32152152", "12512512", "42514251")
HOLD = "0-0-0-0"
names = itertools.count(1)


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    with RunningService(tmp_path_factory.mktemp("spans"), demo=False) as service:
        yield service


def _group(running: RunningService, chart: str, order: str, cuts: dict[str, list[int]]) -> str:
    slug = f"weir-{next(names)}"
    running.operator.post("/v1/groups", json={"slug": slug, "name": slug}).raise_for_status()
    roles = [
        {"part": part, "phrase": phrase, "role": "body"}
        for part, of in cuts.items()
        for phrase in range(1, len(of) + 1)
    ]
    tune = {
        "slug": "tiny", "name": "Tiny", "key": "G", "meter": "2/2", "chart": chart, "cuts": cuts, "order": order,
        "tempo": {"low": 60, "high": 120, "start": 70, "unit": "half"}, "roles": roles,
    }  # fmt: skip
    running.operator.post(f"/v1/groups/{slug}/tunes", json=tune).raise_for_status()
    return f"/v1/groups/{slug}"


def _lick(running: RunningService, group: str, rolls: tuple[int, ...], phrases: int) -> int:
    text = f"G {HOLD}: " + " ".join(f"{ROLLS[roll]}," for roll in rolls)
    sent = {
        "name": f"lick {next(names)}", "text": text, "instrument": "banjo", "tuning": "open-g", "meter": "2/2",
        "key": "G", "chords": f"| {' | '.join('G' * len(rolls))} |", "hand_style": "three-finger", "style": "roll",
        "level": 2, "phrases": phrases,
    }  # fmt: skip
    made = running.operator.post(f"{group}/licks", json=sent)
    assert (made.status_code, made.json()["state"]) == (201, "pool"), made.text
    return int(made.json()["number"])


def _total(running: RunningService, group: str, **wish: object) -> int:
    return int(running.operator.post(f"{group}/tunes/tiny/breaks/count", json=wish).json()["total"])


@pytest.mark.parametrize("order", ["A B", "B A"])
def test_a_lick_of_four_measures_fills_one_long_phrase_or_two_short_ones(
    running: RunningService, order: str
) -> None:
    chart = "A: | G | G | G | G |\nB: | G | G | G | G |"
    group = _group(running, chart, order, {"A": [4], "B": [2, 2]})
    long_ones = [_lick(running, group, rolls, 1) for rolls in ((0, 1, 2, 3), (3, 1, 0, 2))]
    over_two = _lick(running, group, (1, 2, 3, 0), 2)
    short_ones = [_lick(running, group, rolls, 1) for rolls in ((2, 3), (3, 0), (0, 5))]
    # the long phrase, and the other part by two short ones or the one over both
    assert _total(running, group) == len(long_ones) * (len(short_ones) ** 2 + 1) == 20
    made = running.operator.post(f"{group}/tunes/tiny/breaks/random", json={}).json()
    for place in made["phrases"]:
        part = place["part"]
        assert place["lick"]["number"] in (long_ones if part == "A" else [over_two, *short_ones])


Row = tuple[tuple[int, int], ...]


def test_breaks_whose_repeats_are_the_same_or_differ_are_those_of_brute_force(
    running: RunningService,
) -> None:
    chart = "A: | G | G | G | G |\nB: | G | G | G | G |"
    group = _group(running, chart, "A A B B", {"A": [2, 2], "B": [2, 2]})
    spans = {
        _lick(running, group, (1, 2, 3, 0), 2): 2,
        _lick(running, group, (2, 3), 1): 1,
        _lick(running, group, (3, 0), 1): 1,
    }

    def rows(begin: int) -> Iterator[Row]:
        if begin == 8:
            yield ()
        for lick, span in spans.items():
            if begin + span <= 8:
                yield from (((begin, lick), *rest) for rest in rows(begin + span))

    def play(row: Row, begin: int) -> Row:
        """The licks of a play, equal for equal ones; one that a lick leads into or out of is like no other."""
        own = [(phrase, lick) for phrase, lick in row if begin <= phrase < begin + 2]
        fills = own and own[0][0] == begin and sum(spans[lick] for _, lick in own) == 2
        return tuple((phrase - begin, lick) for phrase, lick in own) if fills else ((-1, begin),)

    every = list(rows(0))
    same = [row for row in every if play(row, 0) == play(row, 2) and play(row, 4) == play(row, 6)]
    different = [row for row in every if play(row, 0) != play(row, 2) and play(row, 4) != play(row, 6)]
    for wish, those in (({}, every), ({"repeats": "same"}, same), ({"repeats": "different"}, different)):
        assert _total(running, group, **wish) == len(those)
        assert _total(running, group, **wish, level_sum=12) == sum(len(row) <= 6 for row in those)
        first = min(spans)
        assert _total(running, group, **wish, must_include=[first]) == sum(
            first in dict(row).values() for row in those
        )
    drawn: dict[str, Any] = running.operator.post(
        f"{group}/tunes/tiny/breaks/random", json={"repeats": "different", "settled": False}
    ).json()
    row = tuple((place["phrase"] - 1, place["lick"]["number"]) for place in drawn["phrases"])
    assert row in different


def test_a_tune_that_repeats_nothing_is_played_the_same_by_every_break(running: RunningService) -> None:
    group = _group(running, "A: | G | G |\nB: | G | G |", "A B", {"A": [2], "B": [2]})
    _lick(running, group, (1, 2, 3, 0), 2)
    _lick(running, group, (2, 3), 1)
    _lick(running, group, (3, 0), 1)
    assert _total(running, group) == _total(running, group, repeats="same") == 5


def test_a_way_from_the_plain_break_with_nothing_to_change_says_so(running: RunningService) -> None:
    group = _group(running, "A: | G | G |", "A", {"A": [2]})
    only = _lick(running, group, (2, 3), 1)
    tune = {
        "slug": "plain", "name": "Plain", "key": "G", "meter": "2/2", "chart": "A: | G | G |", "order": "A",
        "tempo": {"low": 60, "high": 120, "start": 70, "unit": "half"}, "plain": {"banjo": {"A": [only]}},
        "roles": [{"part": "A", "phrase": 1, "role": "body"}],
    }  # fmt: skip
    running.operator.post(f"{group}/tunes", json=tune).raise_for_status()
    steps = f"{group}/tunes/plain/breaks/steps"
    assert running.operator.post(steps, json={}).json()["code"] == "nothing-to-swap"
    _lick(running, group, (3, 0), 1)
    assert len(running.operator.post(steps, json={}).json()["items"]) == 2
