"""Does a lick keep the tune in mind? Outside melodies are read from an installed music21 (ryansMammoth)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge.melody import Sound, evened, recall, strong_places
from service.music.meter import meter_named
from tests.judge.material import RYANS, notes_of

TUNES = {  # meter, key's tonic pitch class
    "SoldiersJoy": ("2/4", 2),
    "FishersHornpipe": ("2/4", 5),
    "LiverpoolHornpipe": ("2/4", 2),
    "CollegeHornpipe": ("2/4", 10),
    "FlowersOfEdinburgReel": ("2/2", 7),
    "MississippiHornpipe": ("2/4", 7),
    "SpeedThePloughReel": ("2/4", 9),
    "GirlILeftBehindMe": ("2/4", 7),
    "PaddyOnTheTurnpikeReel": ("2/2", 7),
    "HasteToTheWeddingJig": ("6/8", 2),
}


def _phrases(name: str) -> list[list[Sound]]:
    """Two measures each, from the first note on, in the key of C, in the time of cut time or a jig."""
    meter, tonic = TUNES[name]
    factor = 2 if meter == "2/4" else 1
    notes = [(o * factor, d * factor, p - tonic) for o, d, p in notes_of(RYANS / f"{name}.abc")]
    ticks = 2 * meter_named("6/8" if meter == "6/8" else "2/2").measure_ticks
    start = notes[0][0]
    found: dict[int, list[Sound]] = {}
    for onset, lasts, pitch in notes:
        found.setdefault((onset - start) // ticks, []).append(((onset - start) % ticks, lasts, pitch))
    return list(found.values())


def test_the_tunes_own_phrases_score_above_those_of_other_tunes() -> None:
    """At least 95 in 100 of all comparisons; a phrase recalls itself, and a rolled version of it, best."""
    phrases = {name: _phrases(name) for name in TUNES}
    won = asked = 0
    for name, own in phrases.items():
        kind = "6/8" if TUNES[name][0] == "6/8" else "2/2"
        meter = meter_named(kind)
        for melody in own:
            rolled = _rolled(melody, meter.slot_ticks)
            mine = recall(rolled, melody, meter, 2 * meter.measure_ticks).share
            for other, theirs in phrases.items():
                if other == name or (TUNES[other][0] == "6/8") != (kind == "6/8"):
                    continue
                for line in theirs:
                    asked += 1
                    won += (
                        mine
                        > recall(
                            _rolled(line, meter.slot_ticks), melody, meter, 2 * meter.measure_ticks
                        ).share
                    )
    assert asked > 3000
    assert won >= 0.95 * asked


def _rolled(melody: list[Sound], slot: int) -> list[Sound]:
    """A lick made from a line: what begins on beats stays, the rest gives way to a drone."""
    return [(o, slot, p if o % (2 * slot) == 0 else 67 - 7) for o, _, p in melody]


def test_octaves_do_not_matter_and_anticipation_is_nearly_as_good() -> None:
    melody = [(0, 480, 60), (480, 480, 64), (960, 960, 67)]
    cut = meter_named("2/2")
    assert recall(melody, melody, cut, 1920).share == 1.0
    assert recall([(o, d, p - 12) for o, d, p in melody], melody, cut, 1920).share == 1.0
    early = recall([(o - 240, d, p) for o, d, p in melody], melody, cut, 1920)
    assert early.share == pytest.approx(0.9)
    assert early.kept == (0, 1, 2)
    late = recall([(o + 240, d, p) for o, d, p in melody], melody, cut, 1920)
    assert late.share == 0.0


def test_long_notes_on_beats_count_more_than_short_ones_off_them() -> None:
    melody = [(0, 960, 60), (960, 240, 64), (1200, 240, 65)]
    cut = meter_named("2/2")
    strong = recall([(0, 240, 60)], melody, cut, 1920).share
    weak = recall([(1200, 240, 65)], melody, cut, 1920).share
    assert strong > 2 * weak > 0


@pytest.mark.parametrize(
    ("meter", "places"), [("2/2", [0, 960, 1920, 2880]), ("3/4", [0, 1440]), ("6/8", [0, 720, 1440, 2160]),
     ("9/8", [0, 720, 1440, 2160, 2880, 3600]), ("12/8", [0, 1440, 2880, 4320])],
)  # fmt: skip
def test_the_places_where_the_ear_looks_for_the_tune(meter: str, places: list[int]) -> None:
    assert strong_places(meter_named(meter), 2 * meter_named(meter).measure_ticks) == places


def test_without_a_melody_there_is_nothing_to_recall() -> None:
    found = recall([(0, 240, 60)], [], meter_named("2/2"), 1920)
    assert (found.share, found.strong, found.keeps) == (0.0, 0, True)


_LINE = st.lists(st.tuples(st.integers(0, 15), st.integers(48, 80)), min_size=1, max_size=16)


@given(_LINE, _LINE, st.integers(-12, 12))
def test_a_share_lies_between_nothing_and_all_and_moves_with_the_key(
    lick: list[tuple[int, int]], tune: list[tuple[int, int]], by: int
) -> None:
    notes = [(slot * 240, 240, pitch) for slot, pitch in sorted(lick)]
    melody = [(slot * 240, 240, pitch) for slot, pitch in sorted(tune)]
    cut = meter_named("2/2")
    here = recall(notes, melody, cut, 3840)
    assert 0 <= here.share <= 1
    moved = recall([(o, d, p + by) for o, d, p in notes], [(o, d, p + by) for o, d, p in melody], cut, 3840)
    assert moved == here


@pytest.mark.parametrize(
    ("written", "even"),
    [
        ([0, 360, 480], [0, 240, 480]),  # dotted
        ([0, 120, 480], [0, 240, 480]),  # the short one first
        ([0, 160, 320, 480], [0, 160, 240, 480]),  # a triplet: the middle stays between
        ([0, 120, 240, 360, 480], [0, 120, 240, 360, 480]),  # a run fills all slots already
        ([-120, 0, 480], [-240, 0, 480]),  # a short pickup
    ],
)
def test_dotted_pairs_become_even(written: list[int], even: list[int]) -> None:
    melody = [(onset, 60, 67) for onset in written]
    assert [onset for onset, _, _ in evened(melody, meter_named("2/2"))] == even


@given(st.sets(st.integers(-16, 64), min_size=1).map(sorted), st.sampled_from(["2/2", "2/4", "3/4", "6/8"]))
def test_evening_keeps_every_note_in_its_order_and_moves_none_by_a_slot(
    places: list[int], meter: str
) -> None:
    of = meter_named(meter)
    third = of.slot_ticks // 3
    melody = [(place * third, third, 60 + index) for index, place in enumerate(places)]
    found = evened(melody, of)
    assert [pitch for _, _, pitch in found] == [pitch for _, _, pitch in melody]
    onsets = [onset for onset, _, _ in found]
    assert onsets == sorted(set(onsets))
    assert all(abs(new - old) < of.slot_ticks for new, (old, _, _) in zip(onsets, melody, strict=True))
    assert all(
        new == old for new, (old, _, _) in zip(onsets, melody, strict=True) if old % of.slot_ticks == 0
    )
    assert all(
        onset + lasts <= following for (onset, lasts, _), following in zip(found, onsets[1:], strict=False)
    )
    assert evened(found, of) == found
