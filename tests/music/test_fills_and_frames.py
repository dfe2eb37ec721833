"""Fills, kick-offs and endings: short, in the chord or the scale, and playable."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import DomainError
from service.judge.hands import judge_hands
from service.music.backup import backup
from service.music.backup_patterns import FAMILIES, pattern_named, pattern_names
from service.music.fills import fill, with_fill
from service.music.frames import ending, kick_off, tonic_chord
from service.music.harmony import chord_named, key_named
from service.music.instruments import Instrument, all_instruments, instrument_named
from service.music.licks import Change
from service.music.meter import METER_NAMES, meter_named
from service.music.passages import Passage
from service.music.setting import Setting, make_setting
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab

CUT = meter_named("2/2")
EVERY = [(instrument, meter) for instrument in all_instruments() for meter in METER_NAMES]
STYLES = {"banjo": "roll", "guitar": "flatpick", "mandolin": "flatpick"}
# Beats a minute that a jam counts off fast [common practice, weak]: half notes, quarters, dotted quarters.
FAST = {"2/2": 120, "4/4": 240, "2/4": 120, "3/4": 150, "6/8": 120, "9/8": 120, "12/8": 120}
KEYS = {
    "banjo": ("G", "C", "D"),
    "guitar": ("G", "C", "D", "A", "E", "Am", "Em"),
    "mandolin": ("G", "D", "A", "Am"),
}


def setting(instrument: Instrument | str, key: str, capo: int = 0) -> Setting:
    made = instrument_named(instrument) if isinstance(instrument, str) else instrument
    chosen = make_setting(made, tuning=None, sounding=key_named(key))
    return (
        make_setting(made, tuning=None, sounding=key_named(key), position=None, capo=capo) if capo else chosen
    )


def rows(passage: Passage) -> list[str]:
    lines = write_tab(passage, width=200, phone=False).splitlines()
    return [line for line in lines if line[:1].isdigit() and line[1:2] == "|"]


def heard(passage: Passage) -> list[tuple[int, set[int]]]:
    """Slots, and the pitch classes struck there."""
    found: dict[int, set[int]] = {}
    for note in passage.notes:
        pitch = passage.fretboard.pitch(note.string, note.fret) - passage.capo
        found.setdefault(note.onset // passage.meter.slot_ticks, set()).add(pitch % 12)
    return sorted(found.items())


def can_be_played(passage: Passage, bpm: int) -> None:
    style = STYLES.get(passage.instrument.id, "plain")
    hands = judge_hands(
        passage.notes, passage.instrument, [style] * len(passage.notes), passage.meter, passage.capo
    )
    assert hands.left.impossible is None
    assert hands.top_bpm is not None
    assert hands.top_bpm >= bpm
    if passage.instrument.id == "banjo":
        for finger in "TIM":
            picked = [note.onset for note in passage.notes if note.finger == finger]
            assert all(b - a > passage.meter.slot_ticks for a, b in pairwise(picked))


# --- kick-offs -----------------------------------------------------------------------------------------


def test_four_shuffles_start_a_banjo_tune_and_leave_air_for_its_pickup() -> None:
    """Long, short, short, four times on the tonic [common practice]; the last two eighths are empty."""
    assert rows(kick_off(setting("banjo", "G"), CUT)) == [
        "1|-----0-------0--|-----0----------|",
        "2|-------0-------0|-------0--------|",
        "3|-0--------------|-0--------------|",
        "4|---------0------|---------0------|",
        "5|----------------|----------------|",
    ]


@pytest.mark.parametrize("instrument", all_instruments(), ids=lambda i: i.id)
@pytest.mark.parametrize("name", ["2/2", "4/4", "2/4"])
def test_a_kick_off_has_four_shuffles_on_the_tonic(instrument: Instrument, name: str) -> None:
    meter = meter_named(name)
    passage = kick_off(setting(instrument, "G"), meter)
    beats = {slot // 4 for slot, _ in heard(passage)}
    assert beats == {0, 1, 2, 3}
    assert max(note.onset + note.duration for note in passage.notes) <= passage.ticks - 2 * meter.slot_ticks
    assert all(tones <= {7, 11, 2} for _, tones in heard(passage))


@pytest.mark.parametrize("instrument", all_instruments(), ids=lambda i: i.id)
@pytest.mark.parametrize(
    ("name", "slots"),
    [("3/4", [6, 8, 10]), ("6/8", [9, 10, 11]), ("9/8", [15, 16, 17]), ("12/8", [21, 22, 23])],
)
def test_a_waltz_and_a_jig_are_led_in_by_five_six_seven(
    instrument: Instrument, name: str, slots: list[int]
) -> None:
    """In G: D, E, F sharp, a step each, into beat 1 [common practice]."""
    line = heard(kick_off(setting(instrument, "G"), meter_named(name)))[-3:]
    assert line == [(slots[0], {2}), (slots[1], {4}), (slots[2], {6})]


# --- endings -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("instrument", all_instruments(), ids=lambda i: i.id)
def test_a_double_ending_closes_with_the_knock_that_everybody_knows(instrument: Instrument) -> None:
    """1 5 5 6 5, rest, 7 1: long short-short long long, then two [traditional]; in G: G D D E D, F# G."""
    passage = ending(setting(instrument, "G"), CUT)
    knock = [(slot - 16, tones) for slot, tones in heard(passage) if slot >= 16]
    assert [slot for slot, _ in knock] == [0, 2, 3, 4, 6, 10, 12]
    assert [min(tones) for _, tones in knock[:6]] == [7, 2, 2, 4, 2, 6]
    assert 7 in knock[6][1]
    assert knock[6][1] <= {7, 11, 2}
    assert len(passage.measures) == 4


def test_an_ending_need_not_be_double() -> None:
    single = ending(setting("guitar", "G"), CUT, double=False)
    double = ending(setting("guitar", "G"), CUT)
    assert len(single.measures) == 2
    assert [n.moved(2 * 1920) for n in single.notes] == [n for n in double.notes if n.onset >= 2 * 1920]


def test_the_knock_falls_where_a_banjo_player_finds_it() -> None:
    """Around the open third string: 0, then 0 0 2 0 on the fourth, 4 there, and home [common practice]."""
    assert rows(ending(setting("banjo", "G"), CUT, double=False))[2:4] == [
        "3|-0--------------|---------0------|",
        "4|-----0-0-2---0--|-----4----------|",
    ]


@pytest.mark.parametrize(("instrument", "name"), EVERY, ids=lambda v: getattr(v, "id", v))
def test_kick_offs_and_endings_can_be_played_fast_and_read_back(instrument: Instrument, name: str) -> None:
    meter = meter_named(name)
    for key in KEYS.get(instrument.id, ("G", "C", "D", "A")):
        for passage in (kick_off(setting(instrument, key), meter), ending(setting(instrument, key), meter)):
            can_be_played(passage, FAST[name])
            assert passage.notes[0].onset == 0
            assert max(note.onset + note.duration for note in passage.notes) <= passage.ticks
            assert len({(n.onset, n.string) for n in passage.notes}) == len(passage.notes)
            read = read_tab(write_tab(passage, width=100, phone=False), instrument).passage
            assert [(n.onset, n.string, n.fret, n.finger) for n in read.notes] == [
                (n.onset, n.string, n.fret, n.finger) for n in passage.notes
            ]


def test_an_ending_ends_on_the_tonic() -> None:
    for instrument in all_instruments():
        for name in METER_NAMES:
            for key in ("G", "D", "Am"):
                passage = ending(setting(instrument, key), meter_named(name))
                tonic = tonic_chord(key_named(key))
                assert heard(passage)[-1][1] <= tonic.pitch_classes


@settings(deadline=None, max_examples=40)
@given(data=st.data())
def test_there_is_a_kick_off_and_an_ending_in_every_key_and_tuning(data: st.DataObject) -> None:
    instrument = data.draw(st.sampled_from(all_instruments()))
    tuning = data.draw(st.sampled_from(instrument.tunings))
    key = data.draw(
        st.sampled_from(
            [
                "C",
                "Db",
                "D",
                "Eb",
                "E",
                "F",
                "F#",
                "G",
                "Ab",
                "A",
                "Bb",
                "B",
                "Am",
                "Bm",
                "Cm",
                "C#m",
                "Dm",
                "Em",
                "Fm",
                "F#m",
                "Gm",
            ]
        )
    )
    where = make_setting(instrument, tuning=tuning.id, sounding=key_named(key))
    for passage in (kick_off(where, CUT), ending(where, CUT), kick_off(where, meter_named("3/4"))):
        style = STYLES.get(instrument.id, "plain")
        hands = judge_hands(passage.notes, instrument, [style] * len(passage.notes), passage.meter)
        assert hands.left.impossible is None
    assert len({note.onset for note in ending(where, CUT, double=False).notes}) == 7
    assert {6, 8, 10} <= {slot for slot, _ in heard(kick_off(where, meter_named("3/4")))}


# --- fills ---------------------------------------------------------------------------------------------


def test_a_fill_leads_into_the_next_chord() -> None:
    """G into C on a guitar: up the G chord from its low root, down to B, a step under C."""
    changes = [Change(0, chord_named("G")), Change(1920, chord_named("C"))]
    run = fill(changes, [1920, 1920], CUT, setting("guitar", "G"), 960, 960)
    assert [tones for _, tones in heard(run)] == [{7}, {2}, {7}, {11}]
    assert [note.onset for note in run.notes] == [960, 1200, 1440, 1680]


def test_a_fill_takes_the_place_of_what_was_there() -> None:
    changes = [Change(0, chord_named("D")), Change(1920, chord_named("G"))]
    measures = [1920, 1920]
    part = backup(changes, measures, CUT, setting("banjo", "G"), "rolling")
    run = fill(changes, measures, CUT, setting("banjo", "G"), 960, 960, part)
    both = with_fill(part, run)
    assert [n for n in both.notes if 960 <= n.onset < 1920] == list(run.notes)
    assert [n for n in both.notes if n.onset < 960 or n.onset >= 1920] == [
        n for n in part.notes if n.onset < 960 or n.onset >= 1920
    ]
    can_be_played(both, 120)


def test_a_fill_outside_the_chart_is_refused() -> None:
    changes = [Change(0, chord_named("G"))]
    for onset, ticks in ((960, 1920), (-240, 480), (0, 100), (0, 0)):
        with pytest.raises(DomainError) as error:
            fill(changes, [1920], CUT, setting("banjo", "G"), onset, ticks)
        assert error.value.code == "no-room-to-fill"


@settings(deadline=None, max_examples=50)
@given(data=st.data())
def test_any_fill_is_made_of_its_chords_and_no_finger_comes_twice(data: st.DataObject) -> None:
    instrument = data.draw(st.sampled_from(all_instruments()))
    meter = meter_named(data.draw(st.sampled_from(METER_NAMES)))
    names = data.draw(st.lists(st.sampled_from(["G", "C", "D7", "Em", "Am", "F"]), min_size=2, max_size=3))
    changes = [Change(i * meter.measure_ticks, chord_named(name)) for i, name in enumerate(names)]
    measures = [meter.measure_ticks] * len(names)
    pattern = data.draw(st.sampled_from(pattern_names(instrument.id)))
    slot = meter.slot_ticks
    total = sum(measures) // slot
    begins = data.draw(st.integers(0, total - 2))
    lasts = data.draw(st.integers(2, min(8, total - begins)))
    where = setting(instrument, "G")
    part = backup(changes, measures, meter, where, pattern)
    run = fill(changes, measures, meter, where, begins * slot, lasts * slot, part)
    slots = [note.onset // slot for note in run.notes]
    inner = range(begins + 1, begins + lasts - 1)
    assert set(inner) <= set(slots) <= {begins, *inner, begins + lasts - 1}
    if instrument.id != "banjo":
        assert len(slots) == lasts
    for note in run.notes:
        chord = chord_named(names[note.onset // meter.measure_ticks])
        assert chord is not None
        assert where.fretboard.pitch(note.string, note.fret) % 12 in chord.pitch_classes
    both = with_fill(part, run)
    assert len({(n.onset, n.string) for n in both.notes}) == len(both.notes)
    if pattern_named(instrument.id, meter, pattern).style == "roll":
        for finger in "TIM":
            picked = [note.onset for note in both.notes if note.finger == finger]
            assert all(b - a > slot for a, b in pairwise(picked))


def test_every_meter_has_its_family() -> None:
    assert set(FAMILIES) == set(METER_NAMES)
