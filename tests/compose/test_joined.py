"""Breaks whose seams can be played: counted, numbered and drawn exactly, against brute force."""

from collections import Counter
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.compose.joined import JoinedLattice
from service.compose.stock import Candidate, stocked
from service.compose.targets import shared_targets
from service.compose.watches import AtMost, Budget, Manner, MustHave, watching
from service.judge.joins import Edge, Edges
from service.music.tunes import Phrase


def _edge(kind: int, cut: int = 0) -> Edge:
    return Edge(1, "", kind, 1, cut)


def _candidate(number: int, entry: int, leaves: int, span: int = 1, cut: int = 0) -> Candidate:
    exits = tuple(_edge(leaves + taken) for taken in range(4))
    return Candidate(number, 1, span, 1, "roll", 1.0, edges=Edges(_edge(entry, cut), exits))


def _allows(before: Edge, entry: Edge) -> bool:
    """A made-up rule: kinds may not be equal."""
    return before.fret != entry.fret


def _every(phrases: list[list[Candidate]]) -> list[tuple[int, ...]]:
    """Brute force: every row of licks that fills the form and whose seams are allowed."""
    found = []

    def go_on(phrase: int, row: tuple[Candidate, ...]) -> None:
        if phrase == len(phrases):
            found.append(tuple(c.number for c in row))
            return
        for candidate in phrases[phrase]:
            if phrase + candidate.span > len(phrases):
                continue
            if row:
                before, entry = row[-1].edges, candidate.edges
                assert before is not None
                assert entry is not None
                if not _allows(before.exits[entry.entry.cut], entry.entry):
                    continue
            go_on(phrase + candidate.span, (*row, candidate))

    go_on(0, ())
    return found


_CANDIDATE = st.tuples(st.integers(0, 3), st.integers(0, 3), st.sampled_from([1, 1, 1, 2]), st.integers(0, 3))


@given(st.lists(st.lists(_CANDIDATE, min_size=0, max_size=4), min_size=1, max_size=5))
def test_every_break_is_counted_once_and_has_a_number_of_its_own(
    drawn: list[list[tuple[int, int, int, int]]],
) -> None:
    phrases = [
        [_candidate(number, entry, leaves, span, cut) for number, (entry, leaves, span, cut) in enumerate(of)]
        for of in drawn
    ]
    lattice = JoinedLattice(phrases, _allows)
    every = _every(phrases)
    assert lattice.total == len(every)
    paths = [lattice.path(k + 1) for k in range(lattice.total)]
    assert Counter(tuple(p.candidate.number for p in path) for path in paths) == Counter(every)
    for number, path in enumerate(paths, 1):
        assert lattice.number([(p.candidate.number, p.candidate.revision) for p in path]) == number
    with pytest.raises(IndexError):
        lattice.path(lattice.total + 1)


def test_a_break_with_a_seam_that_may_not_be_has_no_number() -> None:
    lattice = JoinedLattice([[_candidate(1, 0, 5)], [_candidate(2, 5, 0), _candidate(3, 1, 0)]], _allows)
    assert lattice.total == 1
    assert lattice.number([(1, 1), (3, 1)]) == 1
    assert lattice.number([(1, 1), (2, 1)]) is None
    assert lattice.number([(1, 1)]) is None
    assert lattice.number([(1, 1), (3, 1), (3, 1)]) is None


def test_a_pickup_leaves_by_the_way_out_that_it_cuts() -> None:
    """Exits are kinds 2 3 4 5 by the eighths cut; an entry of kind 4 may follow unless two are cut."""
    for cut, allowed in ((0, 1), (1, 1), (2, 0), (3, 1)):
        assert (
            JoinedLattice([[_candidate(1, 0, 2)], [_candidate(2, 4, 0, cut=cut)]], _allows).total == allowed
        )


def test_where_every_seam_may_be_there_are_as_many_as_without_minding() -> None:
    phrases = [[_candidate(n, n % 3, n % 2) for n in range(5)] for _ in range(4)]
    assert JoinedLattice(phrases, lambda a, b: True).total == len(list(product(range(5), repeat=4)))


def test_only_narrows_and_a_dead_end_is_named() -> None:
    lattice = JoinedLattice([[_candidate(1, 0, 1)], [_candidate(2, 3, 1), _candidate(4, 3, 1)]], _allows)
    assert lattice.only(lambda of: of.column("number") != 4).total == 1
    nothing = lattice.only(lambda of: of.column("number") == 1)
    assert (nothing.total, nothing.dead_end()) == (0, 1)
    assert lattice.dead_end() is None


_STYLED = st.tuples(st.integers(0, 2), st.integers(0, 2), st.sampled_from("abc"), st.booleans())


@given(
    st.lists(st.lists(_STYLED, min_size=1, max_size=4), min_size=2, max_size=5),
    st.sets(st.integers(0, 3), max_size=2),
)
def test_manner_and_licks_that_must_be_there_are_counted_exactly(
    drawn: list[list[tuple[int, int, str, bool]]], must: set[int]
) -> None:
    """Two parts, the second from phrase 2 on: two changes of style and one stay up the neck in each at most."""
    phrases = [
        [
            _candidate(n, entry, leaves)._replace(style=style, up=up)
            for n, (entry, leaves, style, up) in enumerate(of)
        ]
        for of in drawn
    ]
    by_number = [{c.number: c for c in of} for of in phrases]
    wanted = []
    for row in _every(phrases):
        licks = [by_number[i][number] for i, number in enumerate(row)]
        parts = [licks[:2], licks[2:]]
        fine = all(
            sum(a.style != b.style for a, b in pairwise(part)) <= 2
            and sum(b.up and not (i and part[i - 1].up) for i, b in enumerate(part)) <= 1
            for part in parts
        )
        if fine and must <= set(row):
            wanted.append(row)
    watches = [Manner(frozenset({0, 2})), *([MustHave(tuple(sorted(must)))] if must else [])]
    lattice = JoinedLattice(phrases, _allows, watching(watches))
    assert lattice.total == len(wanted)
    found = [tuple(p.candidate.number for p in lattice.path(k + 1)) for k in range(lattice.total)]
    assert sorted(found) == sorted(wanted)
    for number, row in enumerate(found, 1):
        assert lattice.number([(n, 1) for n in row]) == number


@given(st.lists(st.lists(st.integers(0, 3), min_size=1, max_size=4), min_size=4, max_size=4))
def test_repeated_phrases_share_their_target(drawn: list[list[int]]) -> None:
    """Two phrases played twice: the third shares with the first, the fourth with the second; the two commonest targets count."""
    candidates = [
        [_candidate(n, 0, 7)._replace(target=target) for n, target in enumerate(of)] for of in drawn
    ]
    form = [Phrase(i + 1, "A", i % 2 + 1, 2 * i + 1, 3840 * i, 3840, (), "body") for i in range(4)]
    watch = shared_targets(form, stocked(candidates))
    assert watch is not None
    wanted = [
        row
        for row in product(*(range(len(of)) for of in drawn))
        if all(drawn[i][row[i]] == drawn[i + 2][row[i + 2]] in watch.allowed[i] for i in (0, 1))
    ]
    lattice = JoinedLattice(candidates, lambda before, entry: True, watch)
    assert lattice.total == len(wanted)
    found = [tuple(p.candidate.number for p in lattice.path(k + 1)) for k in range(lattice.total)]
    assert sorted(found) == sorted(wanted)
    assert all(len(allowed) <= 2 for allowed in watch.allowed)


def test_where_nothing_is_repeated_no_target_is_minded() -> None:
    form = [Phrase(i + 1, "A", i + 1, 2 * i + 1, 3840 * i, 3840, (), "body") for i in range(4)]
    assert shared_targets(form, stocked([[_candidate(1, 0, 1)]] * 4)) is None


@given(st.lists(st.lists(_CANDIDATE, min_size=1, max_size=3), min_size=1, max_size=4))
def test_with_weights_a_break_has_as_many_numbers_as_it_weighs(
    drawn: list[list[tuple[int, int, int, int]]],
) -> None:
    """A lick weighs one more than its number, a seam the distance of its kinds (none: it may not be)."""
    phrases = [
        [_candidate(number, entry, leaves, span, cut) for number, (entry, leaves, span, cut) in enumerate(of)]
        for of in drawn
    ]

    def seam(before: Edge, entry: Edge) -> int:
        return abs(before.fret - entry.fret)

    lattice = JoinedLattice(phrases, seam, weigh=lambda of: of.column("number") + 1)
    seen = Counter(tuple(p.candidate.number for p in lattice.path(k + 1)) for k in range(lattice.total))
    wanted: Counter[tuple[int, ...]] = Counter()
    by_number = [{c.number: c for c in of} for of in phrases]
    for row in _every(phrases):
        phrase, weight, before = 0, 1, None
        for number in row:
            candidate = by_number[phrase][number]
            assert candidate.edges is not None
            weight *= number + 1
            if before is not None:
                entry = candidate.edges.entry
                weight *= seam(before.exits[entry.cut], entry)
            before = candidate.edges
            phrase += candidate.span
        wanted[row] += weight
    assert seen == wanted
    assert lattice.total == sum(wanted.values())


@given(
    st.lists(
        st.lists(st.tuples(st.sampled_from("ab"), st.integers(1, 4)), min_size=1, max_size=4),
        min_size=1,
        max_size=4,
    )
)
def test_so_many_of_a_style_and_a_sum_of_levels_are_counted_exactly(
    drawn: list[list[tuple[str, int]]],
) -> None:
    phrases = [
        [_candidate(n, 0, 7)._replace(style=style, level=level) for n, (style, level) in enumerate(of)]
        for of in drawn
    ]
    rows = list(product(*phrases))
    few = [row for row in rows if sum(c.style == "a" for c in row) <= 1 and sum(c.level for c in row) <= 7]
    watch = watching([AtMost((("a", 1),)), Budget(7)])
    assert JoinedLattice(phrases, lambda before, entry: 1, watch).total == len(few)
