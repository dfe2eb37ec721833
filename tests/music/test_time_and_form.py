"""Meters, tunes, phrases, roles, breaks."""

import music21
import pytest

from service.errors import DomainError
from service.music.breaks import Filled, assemble
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.music.licks import Lick
from service.music.meter import METER_NAMES, meter_named, stretch
from service.music.setting import make_setting
from service.music.tunes import Part, Tempo, Tune, check_tune, phrases, usual_cuts
from service.notation.chart import read_changes, read_chart
from service.notation.one_line import read_one_line


@pytest.mark.parametrize("name", [n for n in METER_NAMES if n != "2/4"])
def test_metrical_weights_are_those_of_music21(name: str) -> None:
    meter = meter_named(name)
    stream = music21.stream.Measure()
    stream.timeSignature = music21.meter.TimeSignature(name)
    for _ in range(meter.slots):
        stream.append(music21.note.Note(type="eighth"))
    assert [n.beatStrength for n in stream.notes] == list(meter.weights)


def test_two_four_in_sixteenths_weighs_like_cut_time_in_eighths() -> None:
    stream = music21.stream.Measure()
    stream.timeSignature = music21.meter.TimeSignature("2/4")
    for _ in range(8):
        stream.append(music21.note.Note(type="16th"))
    assert [n.beatStrength for n in stream.notes] == list(meter_named("2/4").weights)


def test_an_offbeat_between_slots_weighs_less_than_any_slot() -> None:
    assert meter_named("2/2").weight_at(120) < 0.125


def test_meters_that_count_the_same_music_stretch_into_each_other() -> None:
    two_four, cut, common, waltz = (meter_named(n) for n in ("2/4", "2/2", "4/4", "3/4"))
    assert stretch(two_four, cut) == (2, 1)
    assert stretch(cut, two_four) == (1, 2)
    assert stretch(common, cut) == (1, 1)
    assert stretch(waltz, cut) is None


def _tune(chart: str, *, key: str = "G", meter: str = "2/2", order: str = "AB", **more: object) -> Tune:
    read = read_chart(chart, meter_named(meter), key_named(key))
    parts = tuple(Part(name, measures, usual_cuts(len(measures))) for name, measures in read.sections)
    tempo = Tempo(60, 120, 84, "half")
    return Tune("t", "T", key_named(key), meter_named(meter), tempo, parts, tuple(order), **more)  # type: ignore[arg-type]


CHART = "A: | G | G | C | D | G | D | G | G |\nB: | C | C | G | Em | C | F | G | G |"


def test_roles_are_proposed_from_the_harmony() -> None:
    form = phrases(_tune(CHART, order="AABB"))
    assert [p.role for p in form[:4]] == ["opener", "body", "set-up", "tag"]  # phrase 3 ends on V
    assert [p.role for p in form[4:8]] == ["opener", "body", "set-up", "tag"]  # the repeat is the same
    assert [p.role for p in form[8:12]] == ["body", "body", "set-up", "tag"]  # phrase 3 ends on bVII


def test_a_phrase_before_the_tag_that_ends_at_home_is_no_set_up() -> None:
    form = phrases(_tune("| G | G | C | D | G | G | D | G |", order="A"))
    assert [p.role for p in form] == ["opener", "body", "body", "tag"]


def test_a_part_that_does_not_close_at_home_has_no_tag() -> None:
    form = phrases(_tune("| G | G | C | D |", order="A"))
    assert [p.role for p in form] == ["opener", "body"]


def test_wished_roles_win() -> None:
    form = phrases(_tune(CHART, roles=((("A", 2), "set-up"), (("B", 1), "opener"))))
    assert [p.role for p in form] == ["opener", "set-up", "set-up", "tag", "opener", "body", "set-up", "tag"]


def test_a_crooked_part_gives_its_odd_measure_to_the_last_phrase() -> None:
    assert usual_cuts(9) == (2, 2, 2, 3)
    assert usual_cuts(8) == (2, 2, 2, 2)
    assert usual_cuts(1) == (1,)


def test_phrases_count_in_playing_order_with_repeats_written_out() -> None:
    form = phrases(_tune(CHART, order="AABB"))
    assert [p.number for p in form] == list(range(1, 17))
    assert form[4].measure == 9
    assert form[4].onset == 8 * 1920
    assert sum(p.ticks for p in form) == _tune(CHART, order="AABB").ticks


def test_a_half_measure_shortens_its_phrase() -> None:
    form = phrases(_tune("| G | (1/2) G | D | G |", order="A"))
    assert [p.ticks for p in form] == [1920 + 960, 2 * 1920]


def test_what_does_not_add_up_is_named() -> None:
    tune = _tune(CHART, order="AAC", roles=((("A", 9), "tag"),))
    with pytest.raises(DomainError) as caught:
        check_tune(tune)
    assert [fault.code for fault in caught.value.at] == ["no-such-part", "bad-role"]


def _lick(text: str, chords: str) -> Lick:
    banjo = instrument_named("banjo")
    passage = read_one_line(text, banjo, meter="2/2", tuning="open-g").passage
    changes, _ = read_changes(chords, meter_named("2/2"))
    return Lick("l", banjo, banjo.tuning(), "three-finger", "roll", meter_named("2/2"), key_named("G"),
                passage.ticks, passage.notes, changes)  # fmt: skip


ROLL = "32514251, 32514251"


def test_a_pickup_replaces_the_tail_of_the_lick_before() -> None:
    tune = _tune("| G | G | G | G |", order="A")
    setting = make_setting(instrument_named("banjo"), tuning=None, sounding=tune.key)
    first, second = _lick(ROLL, "| G | G |"), _lick("4 4.2; " + ROLL, "| G | G |")
    played = assemble(tune, setting, [Filled(1, first), Filled(2, second)])
    around = [(n.onset - 3840, n.string, n.fret) for n in played.notes if -720 <= n.onset - 3840 <= 0]
    assert around == [(-720, 2, 0), (-480, 4, 0), (-240, 4, 2), (0, 3, 0)]


def test_a_note_that_rings_into_a_pickup_is_cut_short() -> None:
    tune = _tune("| G | G | G | G |", order="A")
    setting = make_setting(instrument_named("banjo"), tuning=None, sounding=tune.key)
    held, second = _lick("32514251, 3-------", "| G | G |"), _lick("4 4.2; " + ROLL, "| G | G |")
    played = assemble(tune, setting, [Filled(1, held), Filled(2, second)])
    assert [n.duration for n in played.notes if n.onset == 1920] == [1920 - 480]


def test_the_first_pickup_sounds_before_the_tune() -> None:
    tune = _tune("| G | G |", order="A")
    setting = make_setting(instrument_named("banjo"), tuning=None, sounding=tune.key)
    played = assemble(tune, setting, [Filled(1, _lick("4 4.2; " + ROLL, "| G | G |"))])
    assert played.pickup_ticks == 480


def test_a_place_without_a_lick_is_a_rest() -> None:
    tune = _tune("| G | G | G | G |", order="A")
    setting = make_setting(instrument_named("banjo"), tuning=None, sounding=tune.key)
    played = assemble(tune, setting, [Filled(1, None), Filled(2, _lick(ROLL, "| G | G |"))])
    assert played.notes[0].onset == 3840


def test_a_lick_in_two_four_doubles_into_cut_time() -> None:
    from dataclasses import replace

    tune = _tune("| G | G |", order="A")
    setting = make_setting(instrument_named("banjo"), tuning=None, sounding=tune.key)
    lick = _lick(ROLL, "| G | G |")
    half = replace(
        lick,
        meter=meter_named("2/4"),
        ticks=lick.ticks // 2,
        notes=tuple(replace(n, onset=n.onset // 2, duration=n.duration // 2) for n in lick.notes),
    )
    assert assemble(tune, setting, [Filled(1, half)]).notes == lick.notes


# strings (finger patterns published); read through the one-line form
ROLLS = {
    "alternating thumb": "32514251",
    "square": "32513251",
    "forward from 2": "21521521",
    "forward from 3": "32152152",
    "backward": "12512512",
    "forward-backward": "32151231",
}


@pytest.mark.parametrize("roll", ROLLS.values(), ids=list(ROLLS))
def test_no_roll_picks_a_string_twice_running_even_looped(roll: str) -> None:
    strings = [note.string for note in _lick(f"{roll}, {roll}", "| G | G |").notes]
    assert len(strings) == 16
    assert all(a != b for a, b in zip(strings, strings[1:] + strings[:1], strict=True))
