"""Parts played the same each time: counted and drawn exactly, against brute force."""

from collections import Counter
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from service.compose.demands import Demands, plays_of_repeated_parts
from service.compose.joined import JoinedLattice
from service.compose.lattice import Lattice
from service.compose.seams import ANY_SEAM
from service.compose.sections import SameLattice, chosen_once
from service.compose.stock import stocked
from service.compose.watches import Budget
from service.music.tunes import Phrase
from tests.compose.made_up import allows, candidate, form_of


def _plays(
    row: tuple[tuple[int, int], ...], form: list[Phrase]
) -> dict[str, set[tuple[tuple[int, int], ...]]]:
    """What was played each time, by part: (phrase of the part, lick); what leads over the end of a play stays in it."""
    found: dict[str, set[tuple[tuple[int, int], ...]]] = {}
    play: list[tuple[int, int]] = []
    part = form[0].part
    for phrase, number in row:
        if form[phrase].index == 1 and play:
            found.setdefault(part, set()).add(tuple(play))
            play = []
        part = form[phrase].part
        play.append((form[phrase].index, number))
    found.setdefault(part, set()).add(tuple(play))
    return found


_DRAWN = st.tuples(st.integers(0, 3), st.integers(0, 3), st.sampled_from([1, 1, 1, 2]), st.integers(0, 3))
_PART = st.lists(st.lists(_DRAWN, min_size=1, max_size=3), min_size=1, max_size=2)


@given(
    st.sampled_from(["AA", "AB", "AAB", "ABB", "AABB", "ABA", "ABAC", "AABA"]),
    st.fixed_dictionaries({"A": _PART, "B": _PART, "C": _PART}),
    st.integers(4, 20),
)
def test_parts_played_alike_are_counted_once_each(
    order: str, drawn: dict[str, list[list[tuple[int, int, int, int]]]], budget: int
) -> None:
    sizes = {part: len(of) for part, of in drawn.items()}
    form = form_of(order, sizes)
    by_part = {
        part: [[candidate(n, *one, level=1 + n) for n, one in enumerate(of)] for of in phrases]
        for part, phrases in drawn.items()
    }
    candidates = [by_part[phrase.part][phrase.index - 1] for phrase in form]
    # every break there is, of those the ones that play each part alike and stay within parts that come again
    every = JoinedLattice(candidates, allows, Budget(budget))
    wanted = []
    for number in range(1, every.total + 1):
        path = every.path(number)
        within = all(
            form[pick.phrase].index + pick.candidate.span - 1 <= sizes[form[pick.phrase].part]
            or all(order.count(form[pick.phrase + on].part) == 1 for on in range(pick.candidate.span))
            for pick in path
        )
        row = tuple((pick.phrase, pick.candidate.number) for pick in path)
        if within and all(len(plays) == 1 for plays in _plays(row, form).values()):
            wanted.append(row)
    lattice = SameLattice(stocked(candidates), form, allows, lambda chosen: Budget(budget))
    assert lattice.total == len(wanted)
    paths = [lattice.path(k + 1) for k in range(lattice.total)]
    found = [tuple((pick.phrase, pick.candidate.number) for pick in path) for path in paths]
    assert Counter(found) == Counter(wanted)
    for number, row in enumerate(found, 1):
        assert lattice.number([(lick, 1) for _, lick in row]) == number


def test_a_break_that_plays_a_part_in_two_ways_is_not_among_them() -> None:
    licks = [candidate(0, 0, 5, 1, 0), candidate(1, 1, 5, 1, 0)]
    lattice = SameLattice(stocked([licks, licks]), form_of("AA", {"A": 1}), allows)
    assert (lattice.total, lattice.number([(0, 1), (0, 1)])) == (2, 1)
    assert lattice.number([(0, 1), (1, 1)]) is None


def test_parts_are_chosen_in_the_order_they_appear() -> None:
    form = form_of("ABAC", {"A": 2, "B": 1, "C": 2})
    parts, order = chosen_once(form)
    assert [(part.name, part.phrases, part.begins) for part in parts] == [
        ("A", (0, 1), (0, 3)), ("B", (2,), (2,)), ("C", (5, 6), (5,)),
    ]  # fmt: skip
    assert order == [0, 1, 0, 2]
    anew, plays = chosen_once(form, frozenset("B"))
    assert [(part.begins, len(part.phrases)) for part in anew] == [
        ((0,), 7)
    ]  # nothing is repeated on purpose
    assert plays == [0]
    anew, plays = chosen_once(form_of("ABBAA", {"A": 2, "B": 1}), frozenset("B"))
    assert [(part.name, part.begins) for part in anew] == [("A", (0,)), ("B", (2, 3)), ("AA", (4,))]
    assert plays == [0, 1, 1, 2]


_LICKS = st.tuples(st.integers(0, 3), st.integers(0, 3), st.sampled_from([1, 1, 2]), st.integers(0, 3))


@given(
    st.sampled_from(["AA", "AAB", "ABAB", "AABB", "BAAC"]),
    st.fixed_dictionaries(
        {part: st.lists(st.lists(_LICKS, min_size=1, max_size=3), min_size=1, max_size=2) for part in "ABC"}
    ),
)
def test_breaks_whose_repeats_differ_are_what_is_left_of_all(
    order: str, drawn: dict[str, list[list[tuple[int, int, int, int]]]]
) -> None:
    form = form_of(order, {part: len(of) for part, of in drawn.items()})
    candidates = [
        [candidate(n, *one) for n, one in enumerate(drawn[phrase.part][phrase.index - 1])] for phrase in form
    ]
    every = Lattice(candidates)
    demands = Demands(otherwise=tuple(plays_of_repeated_parts(form).values()))
    different = sum(demands.met_by(every.path(number + 1)) for number in range(every.total))
    repeated = sorted(plays_of_repeated_parts(form))
    left = sum(
        (-1) ** size
        * (SameLattice(every.candidates, form, ANY_SEAM, same=frozenset(same)).total if size else every.total)
        for size in range(len(repeated) + 1)
        for same in combinations(repeated, size)
    )
    assert left == different
