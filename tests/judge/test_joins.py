"""Joins: what a seam asks of the hands, from the edges of two licks alone. Common practice, no source, unless said."""

from collections import Counter
from itertools import product

import pytest

from service.judge.joins import CUTS, Edge, Edges, judge_join, judge_joins, lick_edges, remarks, seam
from service.judge.left_hand import left_hand
from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Lick, Note
from service.music.meter import meter_named
from tests.judge.material import made_licks

BANJO = instrument_named("banjo")
E = 240
SCALE_MM = BANJO.scale_mm


def _lick(places: dict[int, tuple[int, int]], style: str = "roll") -> Lick:
    """A measure of cut time: (string, fret) by eighth; negative ones are a pickup."""
    notes = tuple(Note(slot * E, string, fret, E) for slot, (string, fret) in sorted(places.items()))
    return Lick("l", BANJO, BANJO.tuning("open-g"), "three-finger", style, meter_named("2/2"), key_named("G"),
                1920, notes, (Change(0, chord_named("G")),))  # fmt: skip


def _edges(lick: Lick) -> Edges:
    return lick_edges(lick, left_hand(lick.notes, BANJO))


ENDS_ON_FIVE = _lick({0: (3, 0), 1: (2, 0), 2: (5, 0), 3: (1, 0), 4: (4, 0), 5: (2, 0), 6: (1, 0), 7: (5, 0)})
ENDS_WITH_AIR = _lick({0: (3, 0), 1: (2, 0), 2: (5, 0), 3: (1, 0), 4: (4, 0), 5: (5, 0)})
BEGINS_LOW = _lick({0: (4, 0), 1: (2, 0), 2: (5, 0), 3: (1, 0)})  # the low string: thumb, or index at need
BEGINS_ON_FIVE = _lick({0: (5, 0), 1: (2, 0), 2: (3, 0), 3: (1, 0)})


def test_r3_the_thumb_on_both_sides_of_a_seam_is_named() -> None:
    join = seam(_edges(ENDS_ON_FIVE), _edges(BEGINS_ON_FIVE), SCALE_MM)
    (finding,) = join.findings
    assert (finding.code, dict(finding.params)) == ("seam-same-finger", {"finger": "T"})


def test_r3_first_the_other_side_is_fingered_anew() -> None:
    """String 4 after a thumb on string 5: the index can take it, so nothing is said."""
    assert seam(_edges(ENDS_ON_FIVE), _edges(BEGINS_LOW), SCALE_MM).findings == ()


def test_r3_the_remedy_silencing_the_last_eighth_helps() -> None:
    assert seam(_edges(ENDS_WITH_AIR), _edges(BEGINS_ON_FIVE), SCALE_MM).findings == ()


def test_r4_a_jump_across_a_seam_needs_air() -> None:
    low = _lick({0: (3, 0), 6: (2, 0), 7: (1, 2)})
    high, after_air = _lick({0: (1, 12), 2: (2, 12)}), _lick({0: (5, 0), 2: (1, 12)})
    (finding,) = seam(_edges(low), _edges(high), SCALE_MM).findings
    assert (finding.code, dict(finding.params)) == ("seam-jump", {"from": 2, "to": 12, "frets": 10})
    assert seam(_edges(low), _edges(after_air), SCALE_MM).findings == ()


def test_farther_travel_in_the_same_time_costs_more() -> None:
    low = _edges(_lick({0: (3, 0), 7: (1, 2)}))
    loads = [seam(low, _edges(_lick({0: (1, fret)})), SCALE_MM).load for fret in (2, 3, 5, 9, 12)]
    assert loads == sorted(loads)
    assert loads[0] == 0


def test_a_pickup_cuts_the_tail_of_the_lick_before() -> None:
    pickup = _lick({-1: (5, 0), 0: (3, 0), 1: (2, 0)})
    edges = _edges(ENDS_ON_FIVE)
    assert len(edges.exits) == len(CUTS) == 4
    assert _edges(pickup).entry.cut == 1
    # with its last eighth cut, the lick ends on string 1: the thumb is free for the pickup
    assert seam(edges, _edges(pickup), SCALE_MM).findings == ()
    assert [f.code for f in remarks(ENDS_ON_FIVE, pickup)][:1] == ["pickup-replaces"]


def test_what_costs_nothing_is_told_from_the_notes() -> None:
    again = remarks(_lick({0: (3, 0), 7: (1, 0)}), _lick({0: (1, 2)}))
    assert "seam-same-string" in [f.code for f in again]
    leap = remarks(_lick({0: (3, 0), 7: (4, 0)}), _lick({0: (1, 5)}))
    assert ("seam-leap", 17) in [(f.code, dict(f.params).get("semitones")) for f in leap]
    step = remarks(_lick({0: (3, 0), 7: (3, 2)}), _lick({0: (2, 0)}))
    assert "seam-resolves" in [f.code for f in step]


def test_five_thousand_realistic_licks_fall_into_150_classes_or_fewer() -> None:
    found: set[tuple[str, Edge]] = set()
    for lick in made_licks(5000):
        edges = _edges(lick)
        found.add(("entry", edges.entry))
        found.update(("exit", edge) for edge in edges.exits)
    assert len(found) <= 150


def test_a_seam_depends_on_edges_alone() -> None:
    """Licks with equal edges join alike: the cost takes nothing but edges."""
    by_edge: dict[Edge, list[Lick]] = {}
    for lick in made_licks(300, seed=3):
        by_edge.setdefault(_edges(lick).entry, []).append(lick)
    before = _edges(ENDS_ON_FIVE)
    for edge, licks in by_edge.items():
        costs = {judge_join(before.exits[edge.cut], _edges(lick).entry, SCALE_MM) for lick in licks}
        assert len(costs) == 1


@pytest.mark.parametrize("scale_mm", [667, 645, 350])
def test_all_seams_at_once_are_what_each_is_by_itself(scale_mm: int) -> None:
    features = product(range(3), ("", "T", "I", "TM"), (0, 1, 3, 7, 12), (0, 1, 2, 4))
    exits = entries = [Edge(*of) for of in features]
    told = judge_joins(exits, entries, scale_mm)
    broken = Counter[str]()
    for row, before in enumerate(exits):
        for column, entry in enumerate(entries):
            join = judge_join(before, entry, scale_mm)
            codes = {finding.code for finding in join.findings}
            assert told.loads[row, column] == join.load  # to the last bit
            assert told.same_finger[row, column] == ("seam-same-finger" in codes)
            assert told.jump[row, column] == ("seam-jump" in codes)
            broken.update(codes)
    assert broken["seam-same-finger"] > 10
    assert broken["seam-jump"] > 10
