"""The path search against figures computed elsewhere by brute force, and against brute force here."""

from collections.abc import Callable, Iterator
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge.paths import POWER, NoWay, Way, easiest
from service.music.fretboard import Fretboard, Place
from service.music.instruments import instrument_named

BANJO = instrument_named("banjo")
BOARD = Fretboard(BANJO, BANJO.tuning("open-g"))
SCALE = (55, 57, 59, 60, 62, 64, 66, 67)


def _places(pitch: int) -> list[Place]:
    """Long strings at frets 0 to 12, string 5 open only."""
    return [p for p in BOARD.places(pitch) if (p.fret <= 12 if p.string < 5 else p.fret == 0)]


def _way(cost: Callable[[Place, Place], float | None], easy: float) -> Way[Place]:
    def steps(before: Place | None, stage: int) -> Iterator[tuple[Place, Place, float]]:
        for place in _places(SCALE[stage]):
            load = 0.0 if before is None else cost(before, place)
            if load is not None:
                yield place, place, load

    start: Place | None = None
    return easiest(len(SCALE), start, steps, easy)  # type: ignore[arg-type]


def _travel(a: Place, b: Place) -> float:
    return abs(a.fret - b.fret)


def _on_another_string(a: Place, b: Place) -> float | None:
    return None if a.string == b.string else _travel(a, b)


def _root(cost: Callable[[Place, Place], float | None]) -> Callable[[Place, Place], float | None]:
    """A load whose power is the travel, so that the least sum of powers is the least sum of travel."""

    def load(a: Place, b: Place) -> float | None:
        travel = cost(a, b)
        return None if travel is None else travel ** (1 / POWER)

    return load


def test_a_scale_lies_in_as_many_ways_as_were_counted() -> None:
    ways = 1
    for pitch in SCALE:
        ways *= len(_places(pitch))
    assert ways == 5184  # computed elsewhere
    apart = [w for w in product(*map(_places, SCALE)) if all(a.string != b.string for a, b in pairwise(w))]
    assert len(apart) == 318


@pytest.mark.parametrize(("cost", "least_sum"), [(_travel, 11), (_on_another_string, 20)])
def test_the_least_sum_is_the_one_found_by_brute_force(
    cost: Callable[[Place, Place], float | None], least_sum: int
) -> None:
    assert _way(_root(cost), easy=100).total == pytest.approx(least_sum)  # computed elsewhere


@pytest.mark.parametrize(("cost", "least_worst"), [(_travel, 2), (_on_another_string, 5)])
def test_the_least_worst_moment_is_the_one_found_by_brute_force(
    cost: Callable[[Place, Place], float | None], least_worst: int
) -> None:
    assert _way(cost, easy=0).worst == least_worst  # computed elsewhere


def test_with_no_string_twice_running_the_best_way_is_the_only_one() -> None:
    places = _way(_root(_on_another_string), easy=100).choices
    told = [(place.string, place.fret) for place in places]
    assert told == [(4, 5), (3, 2), (2, 0), (3, 5), (2, 3), (1, 2), (2, 7), (1, 5)]  # computed elsewhere


def test_open_strings_are_no_place_of_the_hand() -> None:
    """Travel between fretted notes only: least sum 3, by one way (computed elsewhere)."""

    def steps(lies: int, stage: int) -> Iterator[tuple[Place, int, float]]:
        for place in _places(SCALE[stage]):
            travel = abs(place.fret - lies) if place.fret and lies else 0
            yield place, place.fret or lies, travel ** (1 / POWER)

    way = easiest(len(SCALE), 0, steps, 100)
    assert way.total == pytest.approx(3)
    assert [(p.string, p.fret) for p in way.choices] == [
        (3, 0), (4, 7), (2, 0), (3, 5), (1, 0), (2, 5), (1, 4), (5, 0),
    ]  # fmt: skip


def test_where_nothing_goes_on_the_stage_is_named() -> None:
    def steps(state: int, stage: int) -> Iterator[tuple[int, int, float]]:
        if stage < 2:
            yield 0, 0, 1.0

    with pytest.raises(NoWay) as caught:
        easiest(4, 0, steps, 10)
    assert caught.value.stage == 2


@given(
    st.lists(st.lists(st.integers(0, 9), min_size=1, max_size=3), min_size=1, max_size=6), st.integers(0, 6)
)
def test_any_way_found_is_the_best_there_is(stages: list[list[int]], easy: int) -> None:
    def load(before: int, here: int) -> float:
        return abs(before - here)

    def steps(state: int, stage: int) -> Iterator[tuple[int, int, float]]:
        for value in stages[stage]:
            yield value, value, load(state, value)

    found = easiest(len(stages), 0, steps, easy)
    every = [[load(a, b) for a, b in zip((0, *way), way, strict=False)] for way in product(*stages)]
    limit = max(easy, min(max(loads) for loads in every))
    assert found.worst <= limit
    assert found.total == min(sum(v**POWER for v in loads) for loads in every if max(loads) <= limit)
    assert sum(v**POWER for v in found.loads) == found.total
