"""Left-hand fingers, both hands together, and the tempo they can keep. Common practice, no source, unless said."""

import tomllib
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.judge.hands import judge_hands, lick_hands, top_tempo
from service.judge.left_hand import left_hand
from service.judge.level import lick_level
from service.judge.rules import JUMP_FROM_BPM
from service.music.harmony import key_named
from service.music.instruments import Instrument, instrument_named
from service.music.licks import Lick, Note
from service.music.meter import meter_named
from service.notation.one_line import read_one_line
from service.usecases.licks import read_lick
from service.usecases.seeding import load_fixtures
from tests.judge.material import HERE, made_licks, written

E = 240
BANJO, GUITAR, MANDOLIN = (instrument_named(name) for name in ("banjo", "guitar", "mandolin"))
CUT = meter_named("2/2")


def _fingers(notes: list[tuple[int, int]], instrument: Instrument = BANJO, step: int = E) -> list[int | None]:
    """Fingers of (string, fret) notes at eighths."""
    return list(left_hand([Note(step * i, s, f, step) for i, (s, f) in enumerate(notes)], instrument).fingers)


@pytest.mark.parametrize(
    ("shape", "fingers"),
    [
        ((2, 0, 1, 2), (2, 0, 1, 3)),  # C: middle, open, index, ring
        ((3, 2, 1, 3), (3, 2, 1, 4)),  # F: ring, middle, index, little
        ((4, 2, 3, 4), (3, 1, 2, 4)),  # D: ring, index, middle, little
    ],
)
@pytest.mark.parametrize("together", [True, False])
def test_everyday_shapes_get_the_fingers_that_players_use(
    shape: tuple[int, ...], fingers: tuple[int, ...], together: bool
) -> None:
    """Frets and fingers on strings 4 3 2 1."""
    order = range(4) if together else (0, 2, 1, 3)  # struck at once, or picked one after the other
    notes = sorted(Note(0 if together else E * i, 4 - k, shape[k], E) for i, k in enumerate(order))
    found = left_hand(notes, BANJO)
    by_string = dict(zip([note.string for note in notes], found.fingers, strict=True))
    assert tuple(by_string[4 - k] for k in range(4)) == fingers


def test_a_held_shape_costs_nothing_to_play_again() -> None:
    """R2: string 4 fret 2 middle, string 2 fret 1 index, string 1 fret 2 ring, all held through."""
    roll = [(3, 0), (2, 1), (5, 0), (1, 2), (4, 2), (2, 1), (5, 0), (1, 2)]
    assert _fingers(roll) == [0, 1, 0, 3, 2, 1, 0, 3]
    loads = [
        m.load for m in left_hand([Note(E * i, s, f, E) for i, (s, f) in enumerate(roll)], BANJO).moments
    ]
    assert loads[-2:] == [0.0, 0.0]


def test_one_finger_lies_over_several_strings_at_one_fret() -> None:
    assert _fingers([(3, 5), (2, 5), (1, 5), (2, 5), (3, 5)]) == [1, 1, 1, 1, 1]
    assert left_hand([Note(0, s, 5, E) for s in (1, 2, 3, 4)], BANJO).fingers == (1, 1, 1, 1)


def test_a_slide_keeps_its_finger_and_a_hammer_takes_a_higher_one() -> None:
    slid = left_hand([Note(0, 3, 2, E), Note(E, 3, 4, E, "slide"), Note(2 * E, 2, 0, E)], BANJO).fingers
    assert slid[0] == slid[1]
    hammered = left_hand([Note(0, 3, 2, E), Note(E, 3, 3, E, "hammer-on")], BANJO).fingers
    assert hammered[0] is not None
    assert hammered[1] is not None
    assert hammered[0] < hammered[1]
    pulled = left_hand([Note(0, 3, 3, E), Note(E, 3, 2, E, "pull-off")], BANJO).fingers
    assert pulled[0] is not None
    assert pulled[1] is not None
    assert pulled[0] > pulled[1]


def test_a_run_of_more_linked_notes_than_fingers_is_carried_along_the_string() -> None:
    frets = (12, 10, 8, 7, 5)
    notes = [Note(E * i, 1, f, E, "pull-off" if i else None) for i, f in enumerate(frets)]
    found = left_hand(notes, BANJO)
    assert found.impossible is None
    assert None not in found.fingers
    assert any(moment.why == "shift" for moment in found.moments)


def test_a_mandolins_fingers_cover_two_frets_each() -> None:
    assert _fingers([(2, 0), (2, 2), (2, 4), (2, 5), (1, 0), (1, 2), (1, 4), (1, 5)], MANDOLIN) == [
        0, 1, 2, 3, 0, 1, 2, 3,
    ]  # fmt: skip
    assert _fingers([(4, 7), (3, 5), (2, 2)], MANDOLIN) == [4, 3, 1]


def test_what_no_hand_can_stop_is_said_where_it_is() -> None:
    found = left_hand([Note(0, 3, 0, E), Note(4 * E, 1, 14, E), Note(4 * E, 4, 2, E)], BANJO)
    assert found.impossible == 4 * E
    assert found.fingers == (None, None, None)
    assert left_hand([Note(0, 1, 14, E), Note(0, 4, 12, E)], BANJO).impossible is None
    assert judge_hands([Note(0, 1, 14, E), Note(0, 4, 2, E)], BANJO, ["roll"] * 2, CUT).top_bpm is None


def test_a_capo_brings_the_frets_closer() -> None:
    wide = [Note(0, 4, 1, E), Note(0, 1, 5, E)]
    near, far = left_hand(wide, GUITAR, capo=7), left_hand(wide, GUITAR)
    assert near.worst <= far.worst


def test_a_long_move_at_eighths_is_slower_than_one_over_an_open_string() -> None:
    """R4's example: fret 2 to 12 at once, and with the open fifth string between."""
    at_once = [Note(0, 1, 2, E), Note(E, 1, 12, E)]
    with_air = [Note(0, 1, 2, E), Note(E, 5, 0, E), Note(2 * E, 1, 12, E)]
    jump, eased = left_hand(at_once, BANJO), left_hand(with_air, BANJO)
    (shift,) = [m for m in jump.moments if m.why == "shift"]
    assert dict(shift.params)["frets"] >= 5  # type: ignore[operator]
    assert top_tempo(jump.worst, CUT) < JUMP_FROM_BPM < top_tempo(eased.worst, CUT)


def test_a_straight_roll_is_comfortable_at_a_fast_tempo_and_a_repeated_finger_is_not() -> None:
    """Fast jams go from half = 120 to 160 (common practice, weak)."""
    roll = [Note(E * i, int(s), 0, E) for i, s in enumerate("32514251" * 2)]
    hands = judge_hands(roll, BANJO, ["roll"] * 16, CUT)
    assert (hands.unit, 120 <= (hands.top_bpm or 0) <= 200) == ("half", True)
    caught = [Note(E * i, int(s), 0, E) for i, s in enumerate("32551251")]
    tired = judge_hands(caught, BANJO, ["roll"] * 8, CUT)
    assert (tired.top_bpm or 0) < 90
    (limit,) = tired.limits
    assert (limit[0], limit[1].why, limit[1].onset) == ("right", "same-finger", 3 * E)


@pytest.mark.parametrize(
    ("meter", "unit", "factor"), [("2/2", "half", 1), ("4/4", "quarter", 2), ("3/4", "quarter", 2)]
)
def test_a_top_tempo_counts_the_meters_own_beats(meter: str, unit: str, factor: int) -> None:
    notes = [Note(E * i, int(s), 0, E) for i, s in enumerate("325142")]
    found = judge_hands(notes, BANJO, ["roll"] * 6, meter_named(meter))
    base = judge_hands(notes, BANJO, ["roll"] * 6, CUT)
    assert found.unit == unit
    assert found.top_bpm == pytest.approx(factor * (base.top_bpm or 0), abs=factor)


def test_judging_hands_twice_gives_the_same() -> None:
    for lick in made_licks(40):
        assert lick_hands(lick) == lick_hands(lick)


# --- what is easier never becomes harder ----------------------------------------------------------------

MADE = made_licks(400, seed=7)


def _total(lick: Lick, bpm: int = 100) -> float:
    return lick_level(lick, lick_hands(lick), bpm).total


@given(st.sampled_from(MADE), st.integers(40, 160), st.integers(1, 60))
def test_slowing_down_never_raises_the_level(lick: Lick, bpm: int, slower: int) -> None:
    assume(bpm - slower > 0)
    assert _total(lick, bpm - slower) <= _total(lick, bpm)


@given(st.sampled_from(MADE), st.data())
def test_taking_out_an_ornaments_second_note_never_raises_the_level(lick: Lick, data: st.DataObject) -> None:
    """The first note is prolonged to where the second ended."""
    at = data.draw(st.integers(0, len(lick.notes) - 1))
    first = lick.notes[at]
    half = first.duration // 2
    technique = data.draw(st.sampled_from(["hammer-on", "slide"]))
    second = Note(first.onset + half, first.string, first.fret + 2, first.duration - half, technique)
    assume(first.string != 5)
    adorned = replace(
        lick,
        notes=tuple(sorted((*lick.notes[:at], replace(first, duration=half), second, *lick.notes[at + 1 :]))),
    )
    assert _total(lick) <= _total(adorned)


@given(st.sampled_from(MADE), st.data())
def test_opening_a_fretted_note_on_its_own_string_never_raises_the_level(
    lick: Lick, data: st.DataObject
) -> None:
    fretted = [i for i, note in enumerate(lick.notes) if note.fret]
    assume(fretted)
    at = data.draw(st.sampled_from(fretted))
    opened = replace(lick, notes=(*lick.notes[:at], replace(lick.notes[at], fret=0), *lick.notes[at + 1 :]))
    assert _total(opened) <= _total(lick) + 1e-9


def test_a_measure_of_twelve_eight_is_as_hard_as_two_of_a_jig() -> None:
    text = "3 2.1 1 5 4.2 1 {bar}3 h2 1 5 2 1"
    jig, slide = (
        read_one_line(text.format(bar=bar), BANJO, meter=meter).passage
        for meter, bar in (("6/8", ", "), ("12/8", ""))
    )
    made = [
        Lick("Made up", BANJO, BANJO.tuning(), "three-finger", "roll", p.meter, key_named("G"), p.ticks, p.notes, ())
        for p in (jig, slide)
    ]  # fmt: skip
    one, two = (lick_level(lick, lick_hands(lick)) for lick in made)
    assert one == two
    assert dict(one.points)["links"] > 0


def test_levels_agree_with_those_that_players_gave() -> None:
    """244 invented licks whose levels were given by hand: nearly all within one step, two in three exact."""
    by_hand = tomllib.loads((HERE / "levels.toml").read_text())["levels"]
    licks = [(read_lick(sent)[1], by_hand[str(sent.number)]) for sent in load_fixtures().licks]
    licks += [(lick, lick.level) for lick, _, _ in written("everyday")]
    away = [abs(lick_level(lick, lick_hands(lick)).level - level) for lick, level in licks]
    assert len(licks) == 244
    assert sum(distance == 0 for distance in away) >= 0.65 * len(away)
    assert sum(distance > 1 for distance in away) <= 0.02 * len(away)
