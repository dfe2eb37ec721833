"""The cheapest breaks as an outside oracle finds them: OR-tools' CP-SAT, told of licks and seams and nothing of how we search."""

from collections.abc import Callable, Iterator
from itertools import islice, pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from service.compose.best import BestBreaks
from service.compose.distinct import FINE, best_distinct
from service.compose.stock import Candidate, Column, Stock
from service.judge.joins import Edge
from tests.bench.solver import FORBIDDEN, Solver
from tests.compose.made_up import candidate
from tests.support import missing_part

FIRST = 4  # breaks compared
_DRAWN = st.tuples(st.integers(1, 6), st.integers(0, 3), st.integers(0, 3), st.integers(0, 9))
_PHRASES = st.lists(
    st.lists(_DRAWN, min_size=1, max_size=6, unique_by=lambda drawn: drawn[0]), min_size=1, max_size=5
)
Phrases = list[list[tuple[int, int, int, int]]]  # (number, way in, way out, cost) of each lick


def _cost(of: Stock, phrase: int) -> Column:
    return of.column("level")


def _join_cost(before: Edge, entry: Edge) -> int | None:
    """Made up: equal kinds may not meet, others cost their distance."""
    return None if before.fret == entry.fret else abs(before.fret - entry.fret)


def _candidates(phrases: Phrases) -> list[list[Candidate]]:
    return [
        [candidate(number, way_in, way_out, level=cost) for number, way_in, way_out, cost in of]
        for of in phrases
    ]


def _seams(before: list[tuple[int, int, int, int]], after: list[tuple[int, int, int, int]]) -> Column:
    return np.array([[FORBIDDEN if a[2] == b[1] else abs(a[2] - b[1]) for b in after] for a in before])


def _theirs(phrases: Phrases, *, distinct: bool) -> Iterator[int]:
    """Costs of the cheapest breaks, each found without those before it."""
    seams = [_seams(a, b) for a, b in pairwise(phrases)]
    costs = [np.array([cost for *_, cost in of]) for of in phrases]
    numbers = [[number for number, *_ in of] for of in phrases] if distinct else None
    excluded: list[tuple[int, ...]] = []
    while (found := Solver(costs, seams, numbers, excluded, workers=1).cheapest()) is not None:
        yield found[0]
        excluded.append(found[1])


def _needs_the_solver() -> None:
    try:
        import ortools.sat.python.cp_model  # noqa: F401
    except ImportError:
        missing_part("needs OR-tools: pip install '.[bench]'")


def _check(phrases: Phrases, ours: Callable[[list[list[Candidate]]], list[int]], *, distinct: bool) -> None:
    assert ours(_candidates(phrases)) == list(islice(_theirs(phrases, distinct=distinct), FIRST))


def test_a_constraint_solver_finds_breaks_of_the_same_cost() -> None:
    _needs_the_solver()

    @settings(max_examples=40)
    @given(_PHRASES)
    def check(phrases: Phrases) -> None:
        def ours(candidates: list[list[Candidate]]) -> list[int]:
            return [cost for cost, _ in islice(BestBreaks(candidates, _cost, _join_cost), FIRST)]

        _check(phrases, ours, distinct=False)

    check()


def test_a_constraint_solver_finds_breaks_with_no_lick_twice_of_the_same_cost() -> None:
    """All phrases draw from the same six licks, so that the cheapest breaks do repeat."""
    _needs_the_solver()

    @settings(max_examples=40)
    @given(_PHRASES)
    def check(phrases: Phrases) -> None:
        def ours(candidates: list[list[Candidate]]) -> list[int]:
            plain = BestBreaks(candidates, _cost, _join_cost, times=FINE)
            return [cost for cost, _ in best_distinct(plain, FIRST, most=100_000)]

        _check(phrases, ours, distinct=True)

    check()
