"""Counting, numbering, drawing: against brute force and against numbers known from outside."""

from collections import Counter
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.compose.drawing import draw_fresh, nth_free, seeded
from service.compose.lattice import Lattice
from service.compose.stock import Candidate


def _lick(number: int, span: int = 1) -> Candidate:
    return Candidate(number, 1, span, 1 + number % 5, "roll", 1.0)


def _lattice(*choices: int) -> Lattice:
    return Lattice([[_lick(n) for n in range(1, count + 1)] for count in choices])


def test_four_choices_in_each_of_six_phrases_make_4096_breaks() -> None:  # common practice; computed 4^6
    assert _lattice(*[4] * 6).total == 4096


def test_the_dice_game_of_1793_has_its_published_number_of_pieces() -> None:
    # 16 places, 11 choices each; published tables, computed
    assert _lattice(*[11] * 16).total == 45949729863572161
    # its distinct pieces: one place has a single measure, another two
    assert _lattice(*[11] * 14, 1, 2).total == 759499667166482
    # the sibling with 66 choices in 16 places
    assert _lattice(*[66] * 16).total == 129629238163050258624287932416


@st.composite
def lattices(draw: st.DrawFn) -> Lattice:
    size = draw(st.integers(1, 5))
    return Lattice(
        [
            [_lick(n, draw(st.sampled_from([1, 1, 1, 2, 3]))) for n in range(1, draw(st.integers(0, 4)) + 1)]
            for _ in range(size)
        ]
    )


def _every_path(lattice: Lattice, phrase: int = 0) -> list[list[tuple[int, int]]]:
    if phrase == len(lattice.candidates):
        return [[]]
    return [
        [(c.number, c.revision), *rest]
        for c in lattice.candidates[phrase]
        for rest in _every_path(lattice, phrase + c.span)
    ]


@given(lattices())
def test_count_and_numbers_agree_with_brute_force(lattice: Lattice) -> None:
    every = _every_path(lattice)
    assert lattice.total == len(every)
    for number, licks in enumerate(every, 1):
        path = lattice.path(number)
        assert [(p.candidate.number, p.candidate.revision) for p in path] == licks
        assert lattice.number(licks) == number


@given(lattices())
def test_numbers_outside_and_breaks_not_there_are_refused(lattice: Lattice) -> None:
    for number in (0, -1, lattice.total + 1):
        with pytest.raises(IndexError):
            lattice.path(number)
    assert lattice.number([(99, 1)] * len(lattice.candidates)) is None
    assert lattice.number([]) is None


@given(lattices(), st.sets(st.integers(1, 4)))
def test_filters_count_what_brute_force_leaves(lattice: Lattice, avoid: set[int]) -> None:
    left = [p for p in _every_path(lattice) if not any(number in avoid for number, _ in p)]
    assert lattice.only(lambda of: ~np.isin(of.column("number"), sorted(avoid))).total == len(left)


@given(lattices())
def test_a_dead_end_is_a_phrase_that_can_be_reached_and_not_left(lattice: Lattice) -> None:
    dead = lattice.dead_end()
    assert (dead is None) == (lattice.total > 0)
    if dead is not None:
        assert all(lattice.ways[dead + c.span] == 0 for c in lattice.candidates[dead])


def test_drawing_is_even_over_every_break() -> None:
    lattice = Lattice([[_lick(1), _lick(2, 2)], [_lick(1), _lick(2), _lick(3)], [_lick(1), _lick(2)]])
    every = _every_path(lattice)
    draws = 200 * len(every)
    seen = Counter(
        tuple(p.candidate.number for p in lattice.path(1 + seeded(f"s{i}")(lattice.total)))
        for i in range(draws)
    )
    assert len(seen) == len(every) == 8
    # chi-squared with 7 degrees of freedom: 24.3 is passed once in a thousand
    assert sum((seen[k] - 200) ** 2 / 200 for k in seen) < 24.3


def test_a_seed_gives_the_same_numbers_on_every_machine() -> None:
    # computed once with hashlib alone: SHA-256 of "ferry|0", "ferry|1" ..., top 34 and top 4 bits
    randbelow = seeded("ferry")
    assert [randbelow(10**10), randbelow(10)] == [
        _by_hand("ferry", 0, 10**10)[0],
        _by_hand("ferry", 1, 10)[0],
    ]


def _by_hand(seed: str, counter: int, limit: int) -> tuple[int, int]:
    from hashlib import sha256

    while True:
        bits = bin(int(sha256(f"{seed}|{counter}".encode()).hexdigest(), 16))[2:].zfill(256)
        counter += 1
        drawn = int(bits[: (limit - 1).bit_length()], 2)
        if drawn < limit:
            return drawn, counter


@given(st.integers(1, 10**40), st.text(max_size=5))
def test_seeded_numbers_stay_below_their_limit(limit: int, seed: str) -> None:
    assert 0 <= seeded(seed)(limit) < limit


@given(st.integers(1, 30), st.sets(st.integers(1, 30)))
def test_the_nth_free_number_is_the_nth_not_taken(total: int, taken: set[int]) -> None:
    taken = {n for n in taken if n <= total}
    free = [n for n in range(1, total + 1) if n not in taken]
    assert [nth_free(i, sorted(taken)) for i in range(1, len(free) + 1)] == free


@pytest.mark.parametrize("total", [1, 2, 7, 48])
def test_never_one_already_served_until_all_were(total: int) -> None:
    served: list[int] = []
    for _ in range(total):
        number, anew = draw_fresh(total, served, seeded(str(served)))
        assert not anew
        assert number not in served
        served.append(number)
    assert sorted(served) == list(range(1, total + 1))
    number, anew = draw_fresh(total, served, seeded("again"))
    assert anew
    assert 1 <= number <= total


def test_fresh_numbers_are_even_over_what_is_left() -> None:
    seen = Counter(draw_fresh(8, [1, 2, 4, 6, 7], seeded(str(i)))[0] for i in range(1200))
    assert set(seen) == {3, 5, 8}
    assert sum((n - 400) ** 2 / 400 for n in seen.values()) < 13.8  # 2 degrees of freedom, 1 in 1000


def test_product_of_choices_without_spans() -> None:
    for choices in product([1, 3, 5], repeat=3):
        assert _lattice(*choices).total == choices[0] * choices[1] * choices[2]
