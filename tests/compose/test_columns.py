"""Facts in columns say what the facts of each lick say; whole numbers in limbs are Python's own."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.compose.limbs import carried, whole, wider, zeros
from service.compose.matching import tempo_of
from service.compose.pool import edge_code, edge_of
from service.compose.stock import Candidate, EdgeTable, Stock, bits, codes, stocked
from service.judge.facts import facts_of, level_at
from service.judge.joins import Edge, Edges
from service.music.licks import RIGHT_HANDS
from service.music.meter import stretch
from service.music.tunes import UNIT_TICKS
from service.usecases.licks import read_lick
from service.usecases.records import choose_setting, tune_of
from service.usecases.seeding import load_fixtures
from tests.compose.material import lattice_of

_EDGE = st.builds(
    Edge,
    st.integers(0, 2),
    st.sets(st.sampled_from(RIGHT_HANDS)).map(lambda found: "".join(f for f in RIGHT_HANDS if f in found)),
    st.integers(0, 24),
    st.integers(0, 6),
    st.integers(0, 3),
)


@given(_EDGE)
def test_an_edge_is_read_back_from_its_number(edge: Edge) -> None:
    assert edge_of(edge_code(edge)) == edge


@given(st.lists(st.builds(
    Candidate, st.integers(1, 99), st.integers(1, 3), st.integers(1, 2), st.integers(1, 5),
    st.sampled_from(["roll", "melodic"]), st.floats(0, 1), st.floats(0, 1), st.floats(0, 1),
    st.tuples(st.integers(0, 8), st.integers(0, 8)), st.booleans(), st.sets(st.sampled_from(["hurts", "too-fast"])).map(frozenset),
    st.none() | st.integers(0, 400), st.integers(0, 9999), st.booleans(), st.none() | st.integers(0, 11),
    st.none() | st.builds(Edges, _EDGE, st.tuples(_EDGE, _EDGE, _EDGE, _EDGE)),
), max_size=5))  # fmt: skip
def test_a_candidate_is_the_same_out_of_its_columns(candidates: list[Candidate]) -> None:
    of = Stock.of(candidates, EdgeTable())
    assert list(of) == candidates
    assert [of[place] for place in range(len(of))] == candidates
    for place, candidate in enumerate(candidates):
        assert candidates[of.place(candidate.number, candidate.revision) or 0].number == candidate.number
        assert bool(of.breaks(frozenset({"hurts"}))[place]) == ("hurts" in candidate.broken)


def test_a_rule_that_is_none_is_refused() -> None:
    assert codes(bits(frozenset({"hurts", "same-finger"}))) == {"hurts", "same-finger"}
    with pytest.raises(ValueError, match="tuple"):
        bits(frozenset({"no-such-rule"}))


@given(st.lists(st.lists(st.integers(0, 2**200), min_size=1, max_size=6), min_size=1, max_size=6), st.data())
def test_sums_of_limbs_are_sums_of_whole_numbers(rows: list[list[int]], data: st.DataObject) -> None:
    """Each row is added up, every number taken so many times."""
    for numbers in rows:
        times = [data.draw(st.integers(0, 2**20)) for _ in numbers]
        limbs = wider(zeros(len(numbers)), 8)
        for place, number in enumerate(numbers):
            limbs[place, :8] = [number >> 32 * column & (2**32 - 1) for column in range(8)]
        assert whole(limbs) == numbers
        summed = carried((limbs * np.array(times)[:, None]).sum(axis=0, keepdims=True))
        assert whole(summed) == [sum(n * t for n, t in zip(numbers, times, strict=True))]


FIXTURES = load_fixtures()
LICKS = {sent.number: read_lick(sent)[1] for sent in FIXTURES.licks}


@pytest.mark.parametrize("tempo", [40, 84, 132, 190])
@pytest.mark.parametrize("slug", [slug for slug, _ in FIXTURES.tunes])
def test_level_and_top_tempo_in_columns_are_those_of_each_lick(slug: str, tempo: int) -> None:
    from dataclasses import replace

    record = dict(FIXTURES.tunes)[slug]
    tune = tune_of(slug, record)
    tune = replace(
        tune,
        tempo=replace(
            tune.tempo, start=tempo, low=min(tempo, tune.tempo.low), high=max(tempo, tune.tempo.high)
        ),
    )
    setting = choose_setting(record, tune, "banjo", "open-g")
    banjo = {
        n: lick for n, lick in LICKS.items() if (lick.instrument.id, lick.tuning.id) == ("banjo", "open-g")
    }
    bpm, beat = tempo_of(tune)
    seen = 0
    for of in lattice_of(banjo, tune, setting).candidates:
        for candidate in of:
            lick = banjo[candidate.number]
            facts = facts_of(lick)
            up, down = stretch(lick.meter, tune.meter) or (1, 1)
            own = beat * down // up
            top = facts.top_bpm(lick.meter)
            assert candidate.level == level_at(lick, facts, bpm, own)
            assert candidate.top == (
                None
                if top is None
                else int(top * lick.meter.beat_ticks * up / down / UNIT_TICKS[tune.tempo.unit])
            )
            assert ("too-fast" in candidate.broken) == (facts.share_of_limit(bpm, own) > 0.95)
            assert (candidate.up, candidate.target, candidate.edges) == (facts.up, facts.target, facts.edges)
            seen += 1
    assert seen > 50


def test_licks_that_cannot_be_played_to_their_end_are_left_out() -> None:
    long, short = Candidate(1, 1, 2, 1, "roll", 1.0), Candidate(2, 1, 1, 1, "roll", 1.0)
    assert [[c.number for c in of] for of in stocked([[long, short], [long, short]])] == [[1, 2], [2]]


def test_licks_are_found_by_their_kind() -> None:
    """Among licks of many kinds each finds those of its own, in order, and no others."""
    from service.compose.pool import PACKED, Pool

    draw = random.Random(5)
    kinds = [draw.randrange(2**64) for _ in range(40)]
    chosen = [draw.choice(kinds) for _ in range(1000)]
    record = np.zeros(1, PACKED)
    licks = []
    for number, kind in enumerate(chosen, 1):
        record["kind"] = kind
        licks.append((number, 1, record.tobytes()))
    pool = Pool.of(licks)
    for kind in kinds:
        wanted = [place for place, other in enumerate(chosen) if other == kind]
        assert pool.of_kinds([kind]).tolist() == wanted
    assert pool.of_kinds([7]).tolist() == []
