"""What only a whole break can have: drawn evenly, the best of it in order, and told when none can, against brute force."""

import random
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.compose.demands import (
    AnyLattice,
    Demands,
    crowded_phrases,
    impossible,
    makings_of,
    most_different,
    most_melody,
    plays_of_repeated_parts,
    share_of_melody,
)
from service.compose.drawing import seeded
from service.compose.joined import JoinedLattice
from service.compose.lattice import Pick
from service.compose.sections import SameLattice
from service.compose.stock import Candidate, Column, Stock, edges_of, stocked
from service.compose.whole import best_whole, draw_whole
from service.judge.joins import Edge
from tests.compose.made_up import allows, candidate, form_of

Path = tuple[Pick, ...]
_LICK = st.tuples(
    st.integers(0, 5), st.integers(0, 2), st.integers(0, 2), st.sampled_from([1, 1, 1, 2]), st.integers(0, 1),
    st.integers(1, 5), st.sampled_from([0.0, 0.25, 0.5, 1.0]),
)  # fmt: skip
_PHRASES = st.lists(
    st.lists(_LICK, min_size=1, max_size=4, unique_by=lambda one: one[0]), min_size=1, max_size=4
)


def _lattice(drawn: list[list[tuple[int, int, int, int, int, int, float]]]) -> JoinedLattice:
    return JoinedLattice([[candidate(*one) for one in phrase] for phrase in drawn], allows)


def _every(lattice: AnyLattice) -> list[Path]:
    return [lattice.path(number + 1) for number in range(lattice.total)]


def _numbers(path: Sequence[Pick]) -> tuple[int, ...]:
    return tuple(pick.candidate.number for pick in path)


def _cost(of: Stock, phrase: int) -> Column:
    return of.column("level")


def _join_cost(before: Edge, entry: Edge) -> int:
    return abs(before.fret - entry.fret)


def _whole_cost(path: Sequence[Pick]) -> int:
    edges = [edges_of(pick.candidate) for pick in path]
    seams = sum(_join_cost(a.into(b.entry), b.entry) for a, b in pairwise(edges))
    return seams + sum(pick.candidate.level for pick in path)


def _even(counts: Counter[tuple[int, ...]], kinds: int) -> bool:
    """Chi-squared against an even distribution, at one in a million (normal approximation of Wilson and Hilferty, 1931)."""
    each = sum(counts.values()) / kinds
    found = sum((counts[kind] - each) ** 2 / each for kind in counts) + (kinds - len(counts)) * each
    free = kinds - 1
    limit = free * (1 - 2 / (9 * free) + 4.75 * (2 / (9 * free)) ** 0.5) ** 3
    return found < limit


def test_draws_without_a_lick_twice_are_even_over_all_such_breaks() -> None:
    phrases = [[candidate(n, 0, 9) for n in (1, 2, 3)], [candidate(n, 0, 9) for n in (2, 3, 4)]] * 4
    lattice = JoinedLattice(phrases, allows)
    assert lattice.total > 2_000  # so that it is drawn, not looked through
    wanted = {_numbers(path) for path in _every(lattice) if len(set(_numbers(path))) == len(path)} or {(0,)}
    assert wanted == {(0,)}  # eight phrases of four licks: none
    assert impossible(lattice, Demands(no_repeats=True)) is not None
    six = JoinedLattice([[candidate(n, 0, 9) for n in range(1, 7)] for _ in range(5)], allows)
    assert six.total == 6**5
    drawn = random.Random(7)
    counts = Counter(
        _numbers(found.path)
        for _ in range(7_200)
        if (found := draw_whole(six, Demands(no_repeats=True), drawn.randrange)) is not None
    )
    assert set(counts) == set(permutations(range(1, 7), 5))
    assert _even(counts, 720)


def test_joined_draws_are_even_over_all_breaks_whose_seams_may_be() -> None:
    phrases = [[candidate(n, n % 3, (n + k) % 4, 1, n % 2) for n in range(5)] for k in range(3)]
    lattice = JoinedLattice(phrases, allows)
    wanted = {_numbers(path) for path in _every(lattice)}
    assert lattice.total == len(wanted)
    randbelow = seeded("even")
    counts = Counter(_numbers(lattice.path(1 + randbelow(lattice.total))) for _ in range(20 * len(wanted)))
    assert _even(counts, len(wanted))


def test_nothing_is_drawn_again_until_all_that_meet_the_demands_were() -> None:
    lattice = JoinedLattice([[candidate(n, 0, 9) for n in (1, 2, 3)] for _ in range(3)], allows)
    served: set[tuple[int, ...]] = set()
    for _ in range(6):
        found = draw_whole(
            lattice, Demands(no_repeats=True), seeded("one round"), lambda path: _numbers(path) in served
        )
        assert found is not None
        assert found.fresh
        assert _numbers(found.path) not in served
        served.add(_numbers(found.path))
    assert served == set(permutations((1, 2, 3)))
    again = draw_whole(lattice, Demands(no_repeats=True), seeded("x"), lambda path: _numbers(path) in served)
    assert again is not None
    assert not again.fresh
    assert {_numbers(path) for path in again.again} == served


def test_what_drawing_hardly_meets_is_searched_for() -> None:
    """One break of 6^9 recalls the whole melody."""
    phrases = [[candidate(n, 0, 9, recall=float(n == 3)) for n in range(6)] for _ in range(9)]
    found = draw_whole(JoinedLattice(phrases, allows), Demands(melody=1.0), seeded("rare"))
    assert found is not None
    assert _numbers(found.path) == (3,) * 9


def test_the_same_seed_searches_the_same_break() -> None:
    phrases = [[candidate(n, 0, 9, recall=n / 40) for n in range(40)] for _ in range(6)]
    lattice = JoinedLattice(phrases, allows)
    demands = Demands(no_repeats=True, melody=0.9)
    first, second = (draw_whole(lattice, demands, seeded("again")) for _ in range(2))
    assert first is not None
    assert first == second
    assert demands.met_by(first.path)


@given(st.lists(st.lists(st.integers(0, 4), min_size=0, max_size=4, unique=True), min_size=1, max_size=5))
def test_phrases_are_crowded_where_no_assignment_gives_each_a_lick_of_its_own(licks: list[list[int]]) -> None:
    def can(phrase: int, taken: frozenset[int]) -> bool:
        return phrase == len(licks) or any(
            can(phrase + 1, taken | {lick}) for lick in licks[phrase] if lick not in taken
        )

    crowded = crowded_phrases(licks)
    assert (crowded is None) == can(0, frozenset())
    if crowded is not None:
        phrases, few = crowded
        assert len({lick for phrase in phrases for lick in licks[phrase]}) == few < len(phrases)


@given(_PHRASES)
def test_the_most_of_the_melody_is_that_of_the_break_that_recalls_most(
    drawn: list[list[tuple[int, int, int, int, int, int, float]]],
) -> None:
    lattice = _lattice(drawn)
    shares = [share_of_melody(path) for path in _every(lattice)]
    found = most_melody(makings_of(lattice))
    assert (found is None) == (not shares)
    if found is not None:
        assert found[0] == pytest.approx(max(shares))


@given(_PHRASES, st.sets(st.tuples(st.integers(0, 3), st.integers(0, 5))))
def test_the_most_that_a_break_can_differ_is_that_of_the_most_different(
    drawn: list[list[tuple[int, int, int, int, int, int, float]]], other: set[tuple[int, int]]
) -> None:
    lattice = _lattice(drawn)
    differences = [
        len({(pick.phrase, pick.candidate.number) for pick in path} - other) for path in _every(lattice)
    ]
    assert most_different(makings_of(lattice), frozenset(other)) == max(differences, default=0)


@given(_PHRASES, st.booleans(), st.sampled_from([None, 0.3, 0.6]), st.integers(1, 5))
def test_the_best_that_meet_demands_are_those_of_brute_force(
    drawn: list[list[tuple[int, int, int, int, int, int, float]]],
    no_repeats: bool,
    melody: float | None,
    how_many: int,
) -> None:
    lattice = _lattice(drawn)
    demands = Demands(no_repeats=no_repeats, melody=melody)
    wanted = sorted(_whole_cost(path) for path in _every(lattice) if demands.met_by(path))
    found = best_whole(lattice, demands, _cost, _join_cost, how_many, 10_000)
    assert found.exact
    assert [_whole_cost(path) for path in found.paths] == wanted[:how_many]
    assert all(demands.met_by(path) for path in found.paths)
    assert len(set(found.paths)) == len(found.paths)


_PART = st.lists(
    st.lists(_LICK, min_size=1, max_size=3, unique_by=lambda one: one[0]), min_size=1, max_size=2
)


@given(
    st.sampled_from(["AA", "AAB", "ABAB", "ABAC", "AABB"]),
    st.fixed_dictionaries({"A": _PART, "B": _PART, "C": _PART}),
    st.sampled_from([None, 0.4]),
    st.booleans(),
)
def test_the_best_that_play_parts_alike_count_every_seam_between_plays(
    order: str,
    parts: dict[str, list[list[tuple[int, int, int, int, int, int, float]]]],
    melody: float | None,
    no_repeats: bool,
) -> None:
    form = form_of(order, {part: len(of) for part, of in parts.items()})
    stocks = stocked([[candidate(*one) for one in parts[phrase.part][phrase.index - 1]] for phrase in form])
    lattice = SameLattice(stocks, form, allows)
    alike = tuple(plays_of_repeated_parts(form).values())
    demands = Demands(no_repeats=no_repeats, melody=melody, alike=alike)
    wanted = sorted(_whole_cost(path) for path in _every(lattice) if demands.met_by(path))
    found = best_whole(lattice, demands, _cost, _join_cost, 4, 10_000)
    assert [_whole_cost(path) for path in found.paths] == wanted[:4]
    assert found.exact


def test_a_part_played_otherwise_has_another_lick_somewhere() -> None:
    form = form_of("AA", {"A": 2})
    demands = Demands(otherwise=tuple(plays_of_repeated_parts(form).values()))
    licks = [candidate(1), candidate(2)]

    def path(*numbers: int) -> Path:
        return tuple(Pick(phrase, licks[number - 1]) for phrase, number in enumerate(numbers))

    assert demands.met_by(path(1, 2, 1, 1))
    assert demands.met_by(path(1, 2, 2, 1))
    assert not demands.met_by(path(1, 2, 1, 2))
    over_the_end: Candidate = candidate(3, span=2)
    crossing = (Pick(0, licks[0]), Pick(1, over_the_end), Pick(3, licks[1]))
    assert demands.met_by(crossing)


def test_a_search_that_ends_too_early_says_that_others_may_be_better() -> None:
    phrases = [[candidate(n, 0, 9, level=1) for n in range(6)] for _ in range(6)]
    found = best_whole(JoinedLattice(phrases, allows), Demands(no_repeats=True), _cost, _join_cost, 50, 20)
    assert not found.exact
