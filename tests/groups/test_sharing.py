"""Breaks of an evening shared out: held against every sharing there is, and against what players expect."""

from collections import Counter
from collections.abc import Iterator
from itertools import combinations_with_replacement, pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from service.groups.sharing import Call, share


@st.composite
def calls(draw: st.DrawFn, players: int = 4, tunes: int = 3, turns: int = 4) -> list[Call]:
    found = []
    for _ in range(draw(st.integers(1, tunes))):
        able = draw(st.lists(st.integers(1, players), unique=True))
        learning = draw(st.frozensets(st.sampled_from(able))) if able else frozenset()
        kick_off = draw(st.none() | st.integers(1, players))
        found.append(Call(draw(st.integers(1, turns)), tuple(able), learning, kick_off))
    return found


def _difference(shared: list[Counter[int]], of: list[Call]) -> int:
    totals = _totals(shared, of)
    return max(totals) - min(totals) if totals else 0


def _totals(shared: list[Counter[int]], of: list[Call]) -> list[int]:
    """Turns of everybody who may take any."""
    return [sum(one[player] for one in shared) for player in {p for call in of for p in call.able}]


def _learners(shared: list[Counter[int]], of: list[Call]) -> int:
    return sum(one[p] for one, call in zip(shared, of, strict=True) for p in call.learning)


def _every_sharing(of: list[Call]) -> Iterator[list[Counter[int]]]:
    """All ways in which nobody takes two breaks more of a tune than another who may."""
    ways = []
    for call in of:
        whole = [Counter(way) for way in combinations_with_replacement(call.able, call.turns)] or [Counter()]
        ways.append(
            [way for way in whole if max((way[p] for p in call.able), default=0) - min((way[p] for p in call.able), default=0) <= 1]
        )  # fmt: skip
    for chosen in product(*ways):
        yield list(chosen)


@given(calls())
def test_no_sharing_has_a_smaller_difference_and_of_the_evenest_none_asks_less_of_learners(
    of: list[Call],
) -> None:
    found = [Counter(taken) for taken in share(of)]
    every = list(_every_sharing(of))
    assert _difference(found, of) == min(_difference(one, of) for one in every)
    squares = [sum(total**2 for total in _totals(one, of)) for one in every]
    evenest = [one for one, square in zip(every, squares, strict=True) if square == min(squares)]
    assert sum(total**2 for total in _totals(found, of)) == min(squares)
    assert _learners(found, of) == min(_learners(one, of) for one in evenest)


@given(calls(players=9, tunes=12, turns=12))
def test_a_sharing_of_any_size_fills_every_tune_and_is_the_same_each_time(of: list[Call]) -> None:
    found = share(of)
    assert found == share(of)
    for call, taken in zip(of, found, strict=True):
        assert len(taken) == (call.turns if call.able else 0)
        counts = [Counter(taken)[player] for player in call.able]
        assert max(counts, default=0) - min(counts, default=0) <= 1
        assert set(taken) <= set(call.able)
        if len(set(taken)) > 1:
            assert all(one != other for one, other in pairwise(taken))
        if call.kick_off in taken and call.turns <= len(call.able):
            assert taken[0] == call.kick_off


def test_four_breaks_among_eight_players_come_round_to_everybody_in_two_tunes() -> None:
    everybody = tuple(range(1, 9))
    first, second = share([Call(4, everybody), Call(4, everybody)])
    assert sorted(first + second) == list(everybody)


def test_who_knows_one_tune_alone_has_a_break_of_it() -> None:
    assert share([Call(2, (1, 2)), Call(2, (1, 2, 3))]) == [(1, 2), (3, 1)]


def test_turns_are_handed_on_through_a_third_player() -> None:
    """Served one after the other, 1 would have two and 3 none, and those two have no tune in common."""
    assert share([Call(1, (1, 2)), Call(1, (2, 3)), Call(1, (1,))]) == [(2,), (3,), (1,)]


def test_a_learner_who_asks_takes_turns_too_but_not_those_that_somebody_who_knows_it_can_take() -> None:
    assert share([Call(1, (1, 2), frozenset({1}))]) == [(2,)]
    assert share([Call(2, (1, 2), frozenset({1}))]) == [(1, 2)]


def test_who_kicks_off_takes_the_first_break_and_who_waited_longest_comes_next() -> None:
    assert share([Call(3, (1, 2, 3), kick_off=2), Call(3, (1, 2, 3))]) == [(2, 1, 3), (2, 1, 3)]


def test_with_more_breaks_than_players_nobody_plays_twice_running() -> None:
    assert share([Call(5, (1, 2))]) == [(1, 2, 1, 2, 1)]


def test_an_evening_for_which_nobody_has_put_their_name_down_is_shared_among_nobody() -> None:
    assert share([Call(3, ())]) == [()]
    assert share([]) == []
