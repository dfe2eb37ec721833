"""The one-line form as a thumb types it."""

import pytest

from service.errors import ReadingError
from service.music.instruments import instrument_named
from service.notation.one_line import read_one_line, write_one_line
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab
from service.wording import said

BANJO = instrument_named("banjo")


def _notes(text: str, meter: str = "2/2", instrument: str = "banjo") -> list[tuple[object, ...]]:
    passage = read_one_line(text, instrument_named(instrument), meter=meter).passage
    return [
        (n.onset, n.string, n.fret) if n.technique is None else (n.onset, n.string, n.fret, n.technique)
        for n in passage.notes
    ]


def test_a_roll_is_just_its_strings() -> None:
    assert _notes("32514251") == [(240 * i, s, 0) for i, s in enumerate([3, 2, 5, 1, 4, 2, 5, 1])]


def test_a_fret_stands_after_a_dot() -> None:
    assert _notes("3.2 2.1 5 1.12 ----") == [(0, 3, 2), (240, 2, 1), (480, 5, 0), (720, 1, 12)]


def test_a_dash_holds_on() -> None:
    passage = read_one_line("3-1-2---", BANJO, meter="2/2").passage
    assert [(n.onset, n.duration) for n in passage.notes] == [(0, 480), (480, 480), (960, 960)]


def test_a_held_shape_frets_the_long_strings_lowest_first() -> None:
    assert _notes("2-0-1-2: 4251 0-0-0-0: 4251") == [
        (0, 4, 2), (240, 2, 1), (480, 5, 0), (720, 1, 2), (960, 4, 0), (1200, 2, 0), (1440, 5, 0), (1680, 1, 0),
    ]  # fmt: skip


def test_an_x_in_a_shape_leaves_a_string_open() -> None:
    assert _notes("10-9-8-x: 4321 ----") == [(0, 4, 10), (240, 3, 9), (480, 2, 8), (720, 1, 0)]


def test_hammer_pull_slide_and_tie_follow_the_string_just_played() -> None:
    assert _notes("3.2 h3 p2 /4 1 = --") == [
        (0, 3, 2), (240, 3, 3, "hammer-on"), (480, 3, 2, "pull-off"), (720, 3, 4, "slide"),
        (960, 1, 0), (1200, 1, 0, "tie"),
    ]  # fmt: skip


def test_another_string_can_be_named_for_a_link() -> None:
    assert _notes("3.2 1 3.h4 5 ----") == [(0, 3, 2), (240, 1, 0), (480, 3, 4, "hammer-on"), (720, 5, 0)]


def test_a_quote_halves_and_t_squeezes_three_into_two() -> None:
    assert [n[0] for n in _notes("3'2' t321 5 1 ---")] == [0, 120, 240, 400, 560, 720, 960]


def test_parentheses_pinch() -> None:
    assert _notes("(15)--- (1.2 4)---") == [(0, 1, 0), (0, 5, 0), (960, 1, 2), (960, 4, 0)]


def test_choke_ghost_and_mute_have_letters() -> None:
    assert _notes("2.10c 1g 3x -----") == [(0, 2, 10, "choke"), (240, 1, 0, "ghost"), (480, 3, 0, "mute")]


def test_a_semicolon_after_the_first_measure_makes_it_a_pickup() -> None:
    passage = read_one_line("4 4.2; 32514251", BANJO, meter="2/2").passage
    assert [n.onset for n in passage.notes[:3]] == [-480, -240, 0]
    assert passage.measures == (1920,)


def test_a_measure_may_be_short_on_purpose() -> None:
    assert read_one_line("32514251, 3251; 32514251", BANJO, meter="2/2").passage.measures == (1920, 960, 1920)


@pytest.mark.parametrize(
    ("meter", "line", "measures"),
    [
        ("9/8", "G 3 2 1 5 2 1 3 2 1, D7 4 3.2 1 5 2.1 1 4 - -", (2160, 2160)),
        ("9/8", "4 4.2; 3 - 2 1 - 5 3 2 1, 3.2 h3 p2 (1 5) - - 3 - -", (2160, 2160)),
        (
            "9/8",
            "3 - - 1 - - 2 - t5' 2' 1'",
            (2160,),
        ),  # three in the last eighth, which has no other beside it
        ("9/8", "3 - - 1 - - 2 - t1.10' -' 2.10c'", (2160,)),
        ("9/8", "t3 2 1 5 - 2 - - - -, 3 2 1 5; 3 - - - - - - - -", (2160, 960, 2160)),
        ("12/8", "G 3 2 1 5 2 1 3 2 1 5 2 1, C 4.2 2.1 1 5 2.1 1 D7 3.2 - 1 4 - -", (2880, 2880)),
    ],
)
def test_nine_and_twelve_eighths_are_written_as_they_were_typed(
    meter: str, line: str, measures: tuple[int, ...]
) -> None:
    passage = read_one_line(line, BANJO, meter=meter, tuning="open-g").passage
    assert passage.measures == measures
    assert write_one_line(passage) == line
    for width, phone in ((28, True), (80, False)):
        assert read_tab(write_tab(passage, width=width, phone=phone), BANJO).passage == passage


def test_chords_stand_where_they_begin() -> None:
    passage = read_one_line("G 3251 D7 4251", BANJO, meter="2/2").passage
    assert [(c.onset, c.chord.name) for c in passage.changes if c.chord] == [(0, "G"), (960, "D7")]


def test_in_two_four_a_note_is_a_sixteenth() -> None:
    assert [n[0] for n in _notes("32514251", meter="2/4")] == [120 * i for i in range(8)]


def test_a_guitar_has_six_strings_to_shape() -> None:
    assert _notes("3-2-0-0-0-3: 6432 ----", instrument="guitar") == [
        (0, 6, 3),
        (240, 4, 0),
        (480, 3, 0),
        (720, 2, 0),
    ]


def test_the_fifth_string_counted_from_its_peg_is_said_once() -> None:
    reading = read_one_line("5.2 1 5.2 1 5.7 1 5 1", BANJO, meter="2/2", tuning="open-g")
    assert [n.fret for n in reading.passage.notes if n.string == 5] == [7, 7, 7, 0]
    assert [w.code for w in reading.warnings] == ["fifth-from-peg"]


def test_what_is_taken_for_granted_is_one_warning() -> None:
    (warning,) = read_one_line("32514251", BANJO).warnings
    assert said(warning) == "Read as: 2/2 time; open G (gDGBD) tuning. State what is different."


@pytest.mark.parametrize(
    ("text", "code", "column"),
    [
        ("3251 425", "measure-length", 8),
        ("32514251, 325, 1", "measure-length", 14),
        ("325142513, 32514251", "measure-overfull", 10),
        ("32514251; 32514251", "pickup-whole-measure", 9),
        ("; 32514 2'; 32514251", "measure-parts", 11),
        ("3.23 1------", "no-such-fret", 1),
        ("9 1------", "no-such-string", 1),
        ("3251 42q1", "one-line-mark", 8),
        ("h3 1------", "link-without-note", 1),
        ("(15 ------", "pinch-not-closed", 10),
        ("15) ------", "pinch-not-open", 3),
        ("2-0-1: 42514251", "shape-size", 1),
        ("Hm 3251 4251", "one-line-mark", 1),
        ("Gx 3251 4251", "one-line-chord", 1),
        ("(11)-------", "two-notes-on-one-string", 3),
        ("32514251,,", "measure-length", 10),
    ],
)
def test_what_cannot_be_read_is_named_with_its_column(text: str, code: str, column: int) -> None:
    with pytest.raises(ReadingError) as caught:
        read_one_line(text, BANJO, meter="2/2")
    first = next(fault for fault in caught.value.at if fault.code == code)
    assert (first.line, first.column) == (1, column)
    assert said(first)


def test_all_faults_come_at_once() -> None:
    with pytest.raises(ReadingError) as caught:
        read_one_line("3.30 q 9 -----", BANJO, meter="2/2")
    assert [fault.code for fault in caught.value.at][:3] == [
        "no-such-fret",
        "one-line-mark",
        "no-such-string",
    ]


def test_it_is_written_as_it_is_typed() -> None:
    text = "4 4.2; G 3 2 5 1 D7 4 h4 (1 5) -"
    assert write_one_line(read_one_line(text, BANJO, meter="2/2").passage) == text


def test_a_link_in_the_wrong_direction_is_turned_and_said() -> None:
    reading = read_one_line("3.4 h2 2 5 1 ---", BANJO, meter="2/2", tuning="open-g")
    assert reading.passage.notes[1].technique == "pull-off"
    assert [w.code for w in reading.warnings] == ["link-turned"]


def test_prose_is_told_what_a_lick_looks_like_in_one_sentence() -> None:
    with pytest.raises(ReadingError) as caught:
        read_one_line("has anybody got the tab for that one", BANJO)
    assert [fault.code for fault in caught.value.at] == ["no-tab"]


@pytest.mark.parametrize(
    "text", ["2-0-1-2: 32514251", "3 2 h0 - 5 1 - 2", "(15)-3.10 2 - 5 1 2", "-' 2' -' 3' 3.10 5 1 2 5 1"]
)
def test_dashes_and_noughts_do_not_make_a_one_liner_a_tab(text: str) -> None:
    from service.usecases.readings import read_any

    assert read_any(text, "banjo", meter="2/2").passage.notes
