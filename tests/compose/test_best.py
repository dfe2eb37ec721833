"""The best breaks in their true order, against brute force."""

import random
from itertools import islice, pairwise

import networkx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.compose.best import NEVER, BestBreaks
from service.compose.distinct import FINE, NotFound, best_distinct
from service.compose.joined import JoinedLattice
from service.compose.stock import Candidate, Column, Stock, stocked
from service.compose.watches import Budget
from service.judge.joins import Edge, Edges


def _edge(kind: int) -> Edge:
    return Edge(1, "", kind, 1)


def _candidate(number: int, entry: int, leaves: int, span: int, level: int) -> Candidate:
    return Candidate(number, 1, span, level, "roll", 1.0, edges=Edges(_edge(entry), (_edge(leaves),) * 4))


def _cost(of: Stock, phrase: int) -> Column:
    return of.column("level")


def _join_cost(before: Edge, entry: Edge) -> int | None:
    """Made up: equal kinds may not meet, others cost their distance."""
    return None if before.fret == entry.fret else abs(before.fret - entry.fret)


def _every(phrases: list[list[Candidate]]) -> list[tuple[int, tuple[int, ...]]]:
    found = []

    def go_on(phrase: int, row: tuple[Candidate, ...], spent: int) -> None:
        if phrase == len(phrases):
            found.append((spent, tuple(c.number for c in row)))
            return
        for candidate in phrases[phrase]:
            if phrase + candidate.span > len(phrases):
                continue
            join: int | None = 0
            if row:
                before, here = row[-1].edges, candidate.edges
                assert before is not None
                assert here is not None
                join = _join_cost(before.exits[0], here.entry)
            if join is not None:
                go_on(phrase + candidate.span, (*row, candidate), spent + join + candidate.level)

    go_on(0, (), 0)
    return sorted(found)


_DRAWN = st.tuples(st.integers(0, 3), st.integers(0, 3), st.sampled_from([1, 1, 2]), st.integers(0, 5))


@given(st.lists(st.lists(_DRAWN, min_size=0, max_size=4), min_size=1, max_size=5))
def test_breaks_come_cheapest_first_and_none_is_missing(drawn: list[list[tuple[int, int, int, int]]]) -> None:
    phrases = [[_candidate(number, *of) for number, of in enumerate(phrase)] for phrase in drawn]
    found = [
        (cost, tuple(p.candidate.number for p in picks))
        for cost, picks in BestBreaks(phrases, _cost, _join_cost)
    ]
    assert [cost for cost, _ in found] == [cost for cost, _ in _every(phrases)]
    assert sorted(found) == _every(phrases)


@given(st.lists(st.lists(_DRAWN, min_size=1, max_size=4), min_size=1, max_size=5), st.integers(1, 6))
def test_the_best_with_no_lick_twice_are_those_of_brute_force(
    drawn: list[list[tuple[int, int, int, int]]], how_many: int
) -> None:
    """The phrases draw from the same few numbers, so that the cheapest breaks do repeat."""
    phrases = [[_candidate(number, *of) for number, of in enumerate(phrase)] for phrase in drawn]
    wanted = [(cost, row) for cost, row in _every(phrases) if len(set(row)) == len(row)]
    found = best_distinct(BestBreaks(phrases, _cost, _join_cost, times=FINE), how_many, most=100_000)
    assert [cost for cost, _ in found] == [cost for cost, _ in wanted[:how_many]]
    assert all((cost, tuple(p.candidate.number for p in path)) in wanted for cost, path in found)


@given(st.lists(st.lists(_DRAWN, min_size=1, max_size=4), min_size=1, max_size=4), st.integers(2, 12))
def test_what_is_watched_is_kept_to_and_the_order_stays(
    drawn: list[list[tuple[int, int, int, int]]], budget: int
) -> None:
    """Here the level of a lick is its cost: no more than a sum of them, joins apart."""
    phrases = [[_candidate(number, *of) for number, of in enumerate(phrase)] for phrase in drawn]
    watch = Budget(budget)
    found = list(BestBreaks(phrases, _cost, _join_cost, watch))
    wanted = sorted(
        cost
        for cost, picks in BestBreaks(phrases, _cost, _join_cost)
        if sum(pick.candidate.level for pick in picks) <= budget
    )
    assert [cost for cost, _ in found] == wanted


def test_a_general_graph_library_finds_the_same_ten_best() -> None:
    """networkx: shortest simple paths through a graph with a node for each lick in its phrase."""
    draw = random.Random(4)
    phrases = [
        [_candidate(n, draw.randrange(4), draw.randrange(4), 1, draw.randrange(1, 9)) for n in range(7)]
        for _ in range(5)
    ]
    graph = networkx.DiGraph()
    for phrase, of in enumerate(phrases):
        for candidate in of:
            before = [("start", 0)] if phrase == 0 else [(phrase - 1, c.number) for c in phrases[phrase - 1]]
            for node in before:
                join: int | None = 0
                if phrase:
                    earlier = next(c for c in phrases[phrase - 1] if c.number == node[1])
                    assert earlier.edges is not None
                    assert candidate.edges is not None
                    join = _join_cost(earlier.edges.exits[0], candidate.edges.entry)
                if join is not None:
                    graph.add_edge(node, (phrase, candidate.number), weight=join + candidate.level)
    for candidate in phrases[-1]:
        graph.add_edge((4, candidate.number), "end", weight=0)
    theirs = [
        sum(graph.edges[edge]["weight"] for edge in pairwise(path))
        for path in islice(networkx.shortest_simple_paths(graph, ("start", 0), "end", weight="weight"), 10)
    ]
    ours = [cost for cost, _ in islice(BestBreaks(phrases, _cost, _join_cost), 10)]
    assert ours == theirs


def test_a_search_that_takes_too_long_says_so() -> None:
    phrases = [[_candidate(n, 0, 1, 1, 1) for n in range(6)] for _ in range(6)]
    with pytest.raises(NotFound):
        best_distinct(BestBreaks(phrases, _cost, _join_cost, times=FINE), 50, most=20)


def test_only_what_is_asked_for_is_opened() -> None:
    """Five hundred licks in each of sixteen phrases: more breaks than could ever be looked at."""
    phrases = [[_candidate(n, n % 3, (n + 1) % 3 + 4, 1, 1 + n % 5) for n in range(500)] for _ in range(16)]
    first = list(islice(BestBreaks(phrases, _cost, _join_cost), 10))
    assert len(first) == 10
    assert [cost for cost, _ in first] == sorted(cost for cost, _ in first)
    assert len({tuple(p.candidate.number for p in picks) for _, picks in first}) == 10


def test_where_there_is_no_break_none_comes() -> None:
    assert (
        list(BestBreaks([[_candidate(1, 0, 2, 1, 1)], [_candidate(2, 2, 0, 1, 1)]], _cost, _join_cost)) == []
    )
    assert list(BestBreaks([], _cost, _join_cost)) == []


@given(st.lists(st.lists(_DRAWN, min_size=1, max_size=4), min_size=1, max_size=5), st.sampled_from([None, 9]))
def test_what_the_cheapest_break_with_a_lick_costs_is_that_of_brute_force(
    drawn: list[list[tuple[int, int, int, int]]], budget: int | None
) -> None:
    phrases = [[_candidate(number, *of) for number, of in enumerate(phrase)] for phrase in drawn]
    watch = None if budget is None else Budget(budget)
    best = BestBreaks(phrases, _cost, _join_cost, watch)
    every = list(best)
    for phrase, least in enumerate(best.through()):
        stock = best.stocks[phrase]
        for place, cost in enumerate(least.tolist()):
            having = [
                of
                for of, picks in every
                if (phrase, stock[place].number) in {(p.phrase, p.candidate.number) for p in picks}
            ]
            assert cost == min(having, default=NEVER)


@given(st.lists(st.lists(_DRAWN, min_size=1, max_size=4), min_size=1, max_size=5), st.data())
def test_a_lick_changed_for_another_costs_the_difference(
    drawn: list[list[tuple[int, int, int, int]]], data: st.DataObject
) -> None:
    phrases = [[_candidate(number, *of) for number, of in enumerate(phrase)] for phrase in drawn]
    best = BestBreaks(phrases, _cost, _join_cost)
    known = {tuple((p.phrase, p.candidate.number) for p in picks): (cost, picks) for cost, picks in best}
    if not known:
        return
    licks, (cost, picks) = data.draw(st.sampled_from(sorted(known.items(), key=lambda pair: pair[0])))
    turn = data.draw(st.integers(0, len(picks) - 1))
    phrase, _ = licks[turn]
    for place, change in enumerate(best.changes(best.places(picks), turn).tolist()):
        other = (*licks[:turn], (phrase, best.stocks[phrase][place].number), *licks[turn + 1 :])
        if best.stocks[phrase][place].span == picks[turn].candidate.span:
            assert change == (known[other][0] - cost if other in known else NEVER)
        else:
            assert change == NEVER


@given(st.lists(_DRAWN, min_size=1, max_size=4), st.integers(2, 4))
def test_phrases_that_share_their_licks_are_reckoned_like_any_others(
    drawn: list[tuple[int, int, int, int]], often: int
) -> None:
    licks = [_candidate(number, *of) for number, of in enumerate(drawn)]
    apart = stocked([licks] * often)
    shared = [apart[0].where(apart[0].column("span") <= 1)] * often
    single = [of.where(of.column("span") <= 1) for of in stocked([licks] * often)]
    one, other = (BestBreaks(of, _cost, _join_cost, times=FINE) for of in (shared, single))
    assert [cost for cost, _ in one] == [cost for cost, _ in other]
    joined = [
        JoinedLattice(of, lambda before, entry: int(before.fret != entry.fret)) for of in (shared, single)
    ]
    assert joined[0].total == joined[1].total
    for number in range(1, min(joined[0].total, 20) + 1):
        assert joined[0].path(number) == joined[1].path(number)
