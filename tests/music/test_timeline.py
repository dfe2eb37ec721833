"""What sounds when."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import DomainError
from service.music.breaks import part_of
from service.music.instruments import instrument_named
from service.music.meter import METER_NAMES, meter_named
from service.music.passages import Passage
from service.music.sounded import swung
from service.music.timeline import (
    MOST_ROUNDS,
    Event,
    Part,
    Plan,
    Timeline,
    timeline,
    usual_count_in,
    work_up_tempos,
)
from service.notation.one_line import read_one_line
from tests.strategies import passages

RATE = 44_100
HALF = 960
ROLL = "32514251, 32514251"


def _passage(text: str, meter: str = "2/2", instrument: str = "banjo") -> Passage:
    return read_one_line(text, instrument_named(instrument), meter=meter).passage


def _plan(*texts: str, rounds: tuple[int, ...] = (60,), **more: object) -> Plan:
    parts = tuple(Part(f"part {n}", _passage(text)) for n, text in enumerate(texts, 1))
    return Plan(parts, meter_named("2/2"), HALF, rounds, **{"count_in": 0, **more})  # type: ignore[arg-type]


def _heard(text: str, **more: object) -> tuple[Event, ...]:
    return timeline(_plan(text, **more), RATE).events


def _seconds(text: str, **more: object) -> list[tuple[float, int]]:
    return [(e.start / RATE, e.string) for e in _heard(text, **more)]


def _refused(plan: Plan) -> str:
    with pytest.raises(DomainError) as caught:
        timeline(plan, RATE)
    return caught.value.code


# --- times ---------------------------------------------------------------------------------------------


def test_at_sixty_half_notes_a_minute_an_eighth_lasts_a_quarter_of_a_second() -> None:
    assert _seconds("3251 4251") == [
        (0, 3),
        (0.25, 2),
        (0.5, 5),
        (0.75, 1),
        (1, 4),
        (1.25, 2),
        (1.5, 5),
        (1.75, 1),
    ]


def test_a_tempo_means_beats_of_its_own_unit() -> None:
    # Half = 110 is quarter = 220: a measure of cut time lasts 1.0909 s [computed, checks of the trade].
    quarters = Plan((Part("lead", _passage(ROLL)),), meter_named("2/2"), 480, (220,), count_in=0)
    halves = Plan((Part("lead", _passage(ROLL)),), meter_named("2/2"), 960, (110,), count_in=0)
    assert timeline(quarters, RATE).events == timeline(halves, RATE).events
    assert timeline(halves, RATE).bars == (0, round(Fraction(120, 110) * RATE))


def test_a_tune_of_sixty_four_beats_lasts_as_long_as_dance_callers_say() -> None:
    # 64 beats: bpm = 3840 / seconds; 128 a minute is 30 s [published, dance callers].
    sixteen = ", ".join(["32514251"] * 2) + "; " + "; ".join(["32514251"] * 30)
    made = timeline(_plan(sixteen, rounds=(128, 128)), RATE)
    assert (made.marks[1].bar - made.marks[0].bar) / RATE == 30.0


def test_sixty_minutes_do_not_drift_by_a_sample() -> None:
    text = ROLL + "; 32514251" * 13
    tempos = tuple(range(33, 97))
    made = timeline(_plan(text, rounds=tempos, count_in=2, click=True), RATE)
    ticks, eighth = 15 * 1920, 240
    exact = Fraction(0)
    for bpm in tempos:
        exact += (2 * 1920 + ticks) * Fraction(60, bpm * HALF)
    last = exact - eighth * Fraction(60, tempos[-1] * HALF)
    assert 30 * 60 < made.length / RATE < 60 * 60
    assert abs(made.events[-1].start - last * RATE) <= Fraction(1, 2)
    assert abs(made.clicks[-1].start - (exact - 960 * Fraction(60, tempos[-1] * HALF)) * RATE) <= Fraction(
        1, 2
    )


@given(bpm=st.integers(30, 320), rate=st.sampled_from([8000, 44_100, 48_000]))
def test_every_stroke_lies_within_half_a_sample_of_its_time(bpm: int, rate: int) -> None:
    made = timeline(_plan(ROLL, rounds=(bpm,) * 3, count_in=1), rate)
    lead_in = 1920 * Fraction(60, bpm * HALF)
    for index, event in enumerate(made.events):
        exact = lead_in + index * 240 * Fraction(60, bpm * HALF)
        assert abs(event.start - exact * rate) <= Fraction(1, 2)


# --- rounds, pickups, counting in ----------------------------------------------------------------------


def test_clicks_count_in_with_the_downbeat_high() -> None:
    made = timeline(_plan(ROLL, count_in=2), RATE)
    assert [(c.start / RATE, c.downbeat) for c in made.clicks] == [
        (0, True),
        (1, False),
        (2, True),
        (3, False),
    ]
    assert made.events[0].start == 4 * RATE


def test_the_click_goes_on_if_asked() -> None:
    made = timeline(_plan(ROLL, click=True), RATE)
    assert [(c.start / RATE, c.downbeat) for c in made.clicks] == [
        (0, True),
        (1, False),
        (2, True),
        (3, False),
    ]


def test_a_short_measure_has_its_own_downbeat() -> None:
    made = timeline(_plan("32514251, 3251; 32514251", click=True), RATE)
    assert [(c.start / RATE, c.downbeat) for c in made.clicks] == [
        (0, True), (1, False), (2, True), (3, True), (4, False),
    ]  # fmt: skip


def test_a_jig_is_clicked_in_two() -> None:
    passage = _passage("321321, 321321", meter="6/8")
    made = timeline(Plan((Part("lead", passage),), passage.meter, 720, (60,), count_in=1), RATE)
    assert [c.start / RATE for c in made.clicks] == [0, 1]


@pytest.mark.parametrize(("meter", "line", "beats"), [("9/8", "321321321", 3), ("12/8", "321321321321", 4)])
def test_slip_jigs_and_slides_are_counted_in_for_a_measure_and_clicked_by_dotted_quarters(
    meter: str, line: str, beats: int
) -> None:
    passage = _passage(f"{line}, {line}", meter=meter)
    plan = Plan((Part("lead", passage),), passage.meter, 720, (60,), click=True, count_in=1)
    clicks = timeline(plan, RATE).clicks
    assert [c.start / RATE for c in clicks] == list(range(3 * beats))
    assert [n for n, c in enumerate(clicks) if c.downbeat] == [0, beats, 2 * beats]


def test_the_pickup_sounds_during_the_count_in() -> None:
    assert _seconds("4 4.2; 3251 42 1-", count_in=1)[:3] == [(1.5, 4), (1.75, 4), (2.0, 3)]


def test_without_a_count_in_the_pickup_still_has_its_time() -> None:
    assert _seconds("4 4.2; 3251 42 1-")[:3] == [(0, 4), (0.25, 4), (0.5, 3)]


def test_the_pickup_of_the_next_round_takes_the_place_of_the_end_of_this_one() -> None:
    events = _heard("4 4.2; 32514251", rounds=(60, 60))
    first = [(e.start / RATE, e.string) for e in events if 2.0 <= e.start / RATE + 0.001 < 2.75]
    assert first == [(2.0, 4), (2.25, 4), (2.5, 3)]
    # strings 5 and 1 on the last two eighths gave way
    assert len(events) == 10 + 10 - 2


def test_a_count_in_between_leaves_the_end_as_it_is() -> None:
    events = _heard("4 4.2; 32514251", rounds=(60, 90), count_in=1)
    assert len(events) == 20


def test_a_new_tempo_is_announced_by_clicks_at_that_tempo() -> None:
    made = timeline(_plan(ROLL, rounds=(60, 60, 120), count_in=1), RATE)
    assert [c.start / RATE for c in made.clicks] == [0, 1, 10, 10.5]
    assert [(m.number, m.bpm, m.start / RATE, m.bar / RATE) for m in made.marks] == [
        (1, 60, 0, 2), (2, 60, 6, 6), (3, 120, 10, 11),
    ]  # fmt: skip


def test_without_announcements_the_next_tempo_follows_at_once() -> None:
    made = timeline(_plan(ROLL, rounds=(60, 120), count_in=1, announce=False), RATE)
    assert [m.bar / RATE for m in made.marks] == [2, 6]
    assert len(made.clicks) == 2


def test_the_tempos_of_a_work_up_are_listed_with_their_beginnings() -> None:
    made = timeline(_plan(ROLL, rounds=work_up_tempos(60, 120, 60, 2), count_in=1), RATE)
    assert made.tempos == ((60, 0), (120, 10))


# --- work-ups ------------------------------------------------------------------------------------------


def test_a_work_up_rises_by_its_step_and_ends_on_the_target() -> None:
    assert work_up_tempos(60, 75, 5, 2) == (60, 60, 65, 65, 70, 70, 75, 75)
    assert work_up_tempos(60, 72, 5, 1) == (60, 65, 70, 72)
    assert work_up_tempos(90, 80, 4, 1) == (90, 86, 82, 80)
    assert work_up_tempos(84, 84, 1, 3) == (84, 84, 84)


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ((60, 90, 0, 1), "bad-work-up"),
        ((60, 90, 5, 0), "bad-work-up"),
        ((29, 90, 5, 1), "tempo-out-of-range"),
        ((60, 321, 5, 1), "tempo-out-of-range"),
        ((30, 320, 1, 1), "too-many-rounds"),
    ],
)
def test_a_work_up_that_cannot_be_is_refused(asked: tuple[int, int, int, int], code: str) -> None:
    with pytest.raises(DomainError) as caught:
        work_up_tempos(*asked)
    assert caught.value.code == code


# --- strings -------------------------------------------------------------------------------------------


def test_a_tie_lengthens_the_note_before() -> None:
    events = _heard("3.2 = 1- 4---, 32514251")
    assert [e.string for e in events[:3]] == [3, 1, 4]
    assert events[0].stop >= 0.5 * RATE


def test_a_string_sounds_until_it_is_struck_again() -> None:
    first = _heard("32514251, 3-------")[0]
    # a quarter of a second is written, and an open string rings a second and a half more
    assert (first.start, first.stop, first.cut) == (0, RATE * 7 // 4, False)
    quick = _heard("32514251, 3-------", rounds=(120,))[0]
    assert (quick.stop, quick.cut) == (RATE, True)


def test_a_fretted_note_is_let_go_when_the_hand_moves_away() -> None:
    held = _heard("3.2 2 5 1 4251")[0]
    moved = _heard("3.2 2.12 5 1 4251")[0]
    near = _heard("3.2 2.3 5 1 4251")[0]
    assert held.stop / RATE == near.stop / RATE == pytest.approx(0.25 + 0.4, abs=1e-4)
    assert moved.stop / RATE == 0.25


def test_a_link_knows_the_pitch_it_comes_from() -> None:
    slide = _heard("3.2 /4 5 1 3251")[1]
    assert (slide.technique, slide.came_from, slide.pitch, slide.since) == ("slide", 57, 59, 0)


def test_a_link_to_nothing_is_a_stroke() -> None:
    whole = _passage("32514253, /4 25 142 51")
    second = replace(whole, notes=tuple(note for note in whole.notes if note.onset >= 1920))
    cut = Part("lead", part_of(second, 1, 2))
    assert cut.passage.notes[0].technique == "slide"
    made = timeline(Plan((cut,), meter_named("2/2"), HALF, (60,), count_in=0), RATE)
    assert (made.events[0].technique, made.events[0].came_from) == (None, None)


def test_a_weak_note_weighs_less_than_a_strong_one() -> None:
    assert [e.weight for e in _heard("32514251")] == [1.0, 0.125, 0.25, 0.125, 0.5, 0.125, 0.25, 0.125]


def test_the_drone_of_a_pinch_is_no_melody() -> None:
    part = Part("lead", _passage("(15)- 3- 5- 1-"), frozenset({0, 960}))
    made = timeline(Plan((part,), meter_named("2/2"), HALF, (60,), count_in=0), RATE)
    assert [(e.string, e.melody) for e in made.events] == [
        (1, True),
        (5, False),
        (3, False),
        (5, True),
        (1, False),
    ]


def test_a_capo_and_a_change_of_key_are_heard() -> None:
    banjo = instrument_named("banjo")
    passage = _passage("3251 4251")
    capo = Passage(banjo, passage.tuning, passage.meter, passage.measures, passage.notes, capo=2)
    for part, shift, first in ((passage, 0, 55), (capo, 0, 57), (capo, -3, 54)):
        plan = Plan((Part("lead", part),), passage.meter, HALF, (60,), count_in=0, shift=shift)
        assert timeline(plan, RATE).events[0].pitch == first


def test_muted_parts_have_no_events() -> None:
    made = timeline(_plan(ROLL, ROLL, muted=frozenset({"part 1"})), RATE)
    assert {e.part for e in made.events} == {1}


def test_a_chord_on_a_guitar_is_strummed_from_the_low_strings_up() -> None:
    chord = timeline(_guitar("(6.3 4 3 1.3)-------"), RATE)
    assert [(e.string, e.start) for e in chord.events] == [(6, 0), (4, 176), (3, 353), (1, 529)]
    both = timeline(_guitar("(6.3 1.3)-------"), RATE)
    assert [e.start for e in both.events] == [0, 0]


def _guitar(text: str) -> Plan:
    passage = _passage(text, instrument="guitar")
    return Plan((Part("guitar", passage),), passage.meter, HALF, (60,), count_in=0)


# --- swing ---------------------------------------------------------------------------------------------


def test_full_swing_makes_two_to_one() -> None:
    passage = _passage(ROLL)
    third = Fraction(1, 3)
    assert [swung(tick, passage, third) for tick in (0, 240, 480, 720, 1920)] == [0, 320, 480, 800, 1920]
    assert [swung(tick, passage, third) for tick in (120, 360)] == [160, 400]
    assert _seconds("3251 4251", swing=1.0)[1] == (pytest.approx(1 / 3, abs=1e-4), 2)


def test_triplets_and_jigs_are_not_swung() -> None:
    third = Fraction(1, 3)
    assert [swung(tick, _passage(ROLL), third) for tick in (160, 320)] == [160, 320]
    for meter, line in (("6/8", "321321"), ("9/8", "321321321"), ("12/8", "321321321321")):
        jig = _passage(f"{line}, {line}", meter=meter)
        assert [swung(tick, jig, third) for tick in (240, 480)] == [240, 480]


@given(passage=passages(), swing=st.fractions(0, 1, max_denominator=50))
def test_swing_never_turns_the_order_of_notes_round(passage: Passage, swing: Fraction) -> None:
    onsets = [n.onset for n in passage.notes if n.onset % (passage.meter.slot_ticks // 2) == 0]
    played = [swung(tick, passage, swing / 3) for tick in onsets]
    assert played == sorted(played)


# --- what is refused -----------------------------------------------------------------------------------


def test_what_cannot_be_played_is_refused() -> None:
    assert _refused(Plan((), meter_named("2/2"), HALF, (60,))) == "nothing-to-play"
    assert _refused(_plan(ROLL, rounds=())) == "nothing-to-play"
    assert _refused(_plan(ROLL, "32514251, 3251; 32514251")) == "parts-differ"
    assert _refused(_plan(ROLL, rounds=(29,))) == "tempo-out-of-range"
    assert _refused(_plan(ROLL, rounds=(321,))) == "tempo-out-of-range"
    assert _refused(_plan(ROLL, rounds=(60,) * (MOST_ROUNDS + 1))) == "too-many-rounds"
    assert _refused(_plan(ROLL + "; 32514251" * 40, rounds=(30,) * MOST_ROUNDS)) == "too-long"
    assert _refused(_plan(ROLL, count_in=5)) == "count-in-too-long"
    assert _refused(_plan(ROLL, swing=1.1)) == "bad-swing"
    assert _refused(_plan(ROLL, shift=12)) == "shift-too-far"
    assert _refused(_plan(ROLL, muted=frozenset({"nobody"}))) == "no-such-player"


def test_two_beats_are_counted_in_for_two_measures() -> None:
    assert [usual_count_in(meter_named(name)) for name in METER_NAMES] == [2, 1, 2, 1, 2, 1, 1]


@given(
    passage=passages(),
    rounds=st.lists(st.integers(30, 320), min_size=1, max_size=4),
    swing=st.sampled_from([0, 0.5, 1]),
)
def test_events_of_any_passage_are_in_order_and_within_the_file(
    passage: Passage, rounds: list[int], swing: float
) -> None:
    plan = Plan((Part("lead", passage),), passage.meter, passage.meter.beat_ticks, tuple(rounds), swing=swing)
    made: Timeline = timeline(plan, RATE)
    assert list(made.events) == sorted(made.events, key=lambda e: (e.start, e.string))
    assert all(0 <= e.start < e.stop <= made.length for e in made.events)
    busy: dict[int, int] = {}
    for event in made.events:
        assert event.start >= busy.get(event.string, 0)  # a string sounds one note at a time
        busy[event.string] = event.stop
