"""Chord charts and melodies as people write them."""

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import ReadingError
from service.music.harmony import key_named
from service.music.meter import meter_named
from service.music.tunes import MelodyNote
from service.notation.abc import read_melody, write_melody
from service.notation.chart import read_changes, read_chart, read_order
from service.wording import said

CUT = meter_named("2/2")


def _names(text: str, key: str | None = None, meter: str = "2/2") -> list[list[tuple[int, str]]]:
    chart = read_chart(text, meter_named(meter), key_named(key) if key else None)
    return [
        [(c.onset, c.chord.name if c.chord else "N.C.") for c in measure.changes]
        for _, measures in chart.sections
        for measure in measures
    ]


def test_measures_stand_between_bars() -> None:
    assert _names("| G | C | D7 |") == [[(0, "G")], [(0, "C")], [(0, "D7")]]


def test_chords_share_a_measure_evenly_and_dots_let_one_go_on() -> None:
    assert _names("| G D | G . . D |") == [[(0, "G"), (960, "D")], [(0, "G"), (1440, "D")]]
    assert _names("| G . D |", meter="3/4") == [[(0, "G"), (960, "D")]]


def test_nine_eight_is_shared_by_beats_and_eighths() -> None:
    assert _names("| G . D | G . . . . . D . . | (3/4) G D |", meter="9/8") == [
        [(0, "G"), (1440, "D")]
    ] * 2 + [[(0, "G"), (720, "D")]]
    assert _names("| G D | G . . D |", meter="12/8") == [[(0, "G"), (1440, "D")], [(0, "G"), (2160, "D")]]


def test_nine_eight_has_no_middle_for_a_chord_to_come_in() -> None:
    with pytest.raises(ReadingError) as caught:
        read_chart("| G | G D |", meter_named("9/8"))
    (fault,) = caught.value.at
    assert (fault.code, fault.line, fault.column, fault.params) == (
        "chart-uneven",
        1,
        7,
        {"chords": 2, "example": "G . D"},
    )


def test_percent_repeats_the_measure_before() -> None:
    assert _names("| G D | % |") == [[(0, "G"), (960, "D")]] * 2


def test_numbers_are_chords_of_the_key() -> None:
    assert _names("| 1 | 4 5 | 1 |", key="A") == [[(0, "A")], [(0, "D"), (960, "E")], [(0, "A")]]
    assert _names("1-4-5-1", key="G") == [[(0, "G")], [(0, "C")], [(0, "D")], [(0, "G")]]


def test_sections_and_their_order() -> None:
    chart = read_chart("A: | G | C |\nB: | D |\norder: AABA", CUT)
    assert [name for name, _ in chart.sections] == ["A", "B"]
    assert chart.order == ("A", "A", "B", "A")
    assert read_chart("[Verse]\n| G |\n[Chorus]\n| C |\norder: Verse Chorus", CUT).order == (
        "Verse",
        "Chorus",
    )
    assert read_order("A A Bridge") == ("A", "A", "Bridge")


def test_repeat_signs_play_their_measures_twice() -> None:
    assert [m[0][1] for m in _names("|: G | C :| D |")] == ["G", "C", "G", "C", "D"]


def test_a_measure_can_be_shorter() -> None:
    changes, ticks = read_changes("| G | (1/2) D | G |", CUT)
    assert ticks == 1920 + 960 + 1920
    assert [c.onset for c in changes] == [0, 1920, 2880]


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [
        ("| G | H |", "chart-chord", 1, 7),
        ("| G |\n| C | X7 |", "chart-chord", 2, 7),
        ("% | G |", "chart-nothing-before", 1, 1),
        ("| G C D E A |", "chart-uneven", 1, 3),
        ("", "chart-empty", 1, 1),
        ("| G |\norder: AB", "chart-order", 2, 1),
        ("| (9/1) G |", "chart-length", 1, 2),
    ],
)
def test_what_cannot_be_read_has_its_place(text: str, code: str, line: int, column: int) -> None:
    meter = meter_named("3/4") if code == "chart-uneven" else CUT
    if code == "chart-uneven":
        text = "| G C D E A B F |"
    with pytest.raises(ReadingError) as caught:
        read_chart(text, meter)
    fault = caught.value.at[0]
    assert (fault.code, fault.line, fault.column) == (code, line, column)
    assert said(fault)


MELODY = "A: | D2 G2 B3 A | G2 =F2 ^c2 c z | d4- d4 |"


def test_a_melody_has_pitches_lengths_ties_and_the_key_signature() -> None:
    ((name, notes, lengths),) = read_melody(MELODY, key_named("G"), CUT).parts
    assert name == "A"
    assert [(n.onset, n.duration, n.pitch) for n in notes] == [
        (0, 480, 62), (480, 480, 67), (960, 720, 71), (1680, 240, 69),
        (1920, 480, 67), (2400, 480, 65), (2880, 480, 73), (3360, 240, 73),
        (3840, 1920, 74),
    ]  # fmt: skip
    assert lengths == (1920, 1920, 1920)


@pytest.mark.parametrize("key", ["G", "A", "Bb", "Em", "F#m"])
def test_pitches_agree_with_music21s_reading_of_the_same_notes(key: str) -> None:
    body = "C D E F | G A B c | d e f g | a b c' d' | C, D, ^F _B | F B =c ^c |"
    ours = read_melody(body, key_named(key), meter_named("2/4")).parts[0][1]
    theirs = music21.converter.parseData(f"X:1\nM:2/4\nL:1/8\nK:{key}\n{body}\n", format="abc")
    assert [n.pitch for n in ours] == [n.pitch.midi for n in theirs.flatten().notes]


def test_a_wrong_letter_has_its_place() -> None:
    with pytest.raises(ReadingError) as caught:
        read_melody("A: | D2 H2 |\nB: | ? |", key_named("G"), CUT)
    assert [(f.code, f.line, f.column) for f in caught.value.at] == [
        ("melody-mark", 1, 9),
        ("melody-mark", 2, 6),
    ]


def test_what_stands_before_the_first_bar_line_of_a_melody_is_a_pickup() -> None:
    ((_, notes, lengths),) = read_melody("A: D E | G4 B4 | A4 z2 d2 |", key_named("G"), CUT).parts
    assert [(note.onset, note.pitch) for note in notes] == [
        (-480, 62), (-240, 64), (0, 67), (960, 71), (1920, 69), (3360, 74),
    ]  # fmt: skip
    assert lengths == (1920, 1920)
    ((_, notes, lengths),) = read_melody("A: | D E | G4 B4 |", key_named("G"), CUT).parts
    assert (notes[0].onset, lengths) == (0, (480, 1920))


@given(
    data=st.data(),
    key=st.sampled_from(("C", "G", "Bb", "F#m", "Ebm", "E")),
    meter=st.sampled_from(("2/2", "6/8", "3/4")),
)
def test_a_melody_is_written_so_that_it_reads_back_to_the_same(
    data: st.DataObject, key: str, meter: str
) -> None:
    time = meter_named(meter)
    parts = []
    for name in data.draw(st.sampled_from(("A", "AB"))):
        lengths = [time.measure_ticks] * data.draw(st.integers(1, 3))
        notes, at = [], -data.draw(st.sampled_from((0, 240, 480)))
        while at < sum(lengths):
            lasts = data.draw(st.sampled_from((120, 160, 240, 360, 480, 960, 2880)))
            lasts = min(lasts, -at if at < 0 else sum(lengths) - at)
            if at < 0 or data.draw(st.integers(0, 4)):
                notes.append(MelodyNote(at, lasts, data.draw(st.integers(43, 96))))
            at += lasts
        parts.append((name, tuple(notes), tuple(lengths)))
    text = write_melody(parts, key_named(key))
    known = tuple(part for part in parts if part[1])
    assert read_melody(text, key_named(key), time).parts == known, text


def test_repeat_signs_in_a_melody_are_bar_lines_or_written_out() -> None:
    text = "A: |: G4 A4 :| B8 |: c8 :|"
    assert len(read_melody(text, key_named("C"), CUT).parts[0][2]) == 3
    ((_, notes, lengths),) = read_melody(text, key_named("C"), CUT, repeated=True).parts
    assert [(note.onset, note.pitch) for note in notes] == [
        (0, 67), (960, 69), (1920, 67), (2880, 69), (3840, 71), (5760, 72), (7680, 72),
    ]  # fmt: skip
    assert lengths == (1920,) * 5


@pytest.mark.parametrize(
    "text", ["A:|G|C|\nB:|D|G|\nA A B B", "A:| G | C |\nB:|D|G|", "Verse:|G|C|\nOut:|D|G|", "A:|: G :|"]
)
def test_a_name_close_before_its_bars_is_a_part(text: str) -> None:
    chart = read_chart(text, meter_named("2/2"))
    assert next(name for name, _ in chart.sections) == text.partition(":")[0]
    assert all(len(measures) == 2 for _, measures in chart.sections)


def test_a_chord_before_a_sign_to_play_again_stays_a_chord() -> None:
    assert [len(measures) for _, measures in read_chart("G :|", meter_named("2/2")).sections] == [2]
    assert [len(measures) for _, measures in read_chart("G:|", meter_named("2/2")).sections] == [2]


@pytest.mark.parametrize(("text", "column"), [("A: | G | C | | G |", 13), ("| G |   |", 6)])
def test_an_empty_measure_is_asked_back(text: str, column: int) -> None:
    with pytest.raises(ReadingError) as caught:
        read_chart(text, meter_named("2/2"))
    assert [(fault.code, fault.column) for fault in caught.value.at] == [("chart-empty-measure", column)]


def test_bars_beside_a_repeat_or_in_two_lines_hold_no_empty_measure() -> None:
    for text in ("A: | G | |: C :|", "A: | G |\n| C |", "A: | G ||"):
        read_chart(text, meter_named("2/2"))


@pytest.mark.parametrize(
    ("pasted", "plain"),
    [
        ("A: | A>B c<d |", "A: | A3/B/ c/d3/ |"),
        ("A: | A>>B A2 |", "A: | A7/4B/4 A2 |"),
        ("A: | (3ABc d2 |", "A: | (3ABc d2 |"),
        ("A: | (AB) c2 |", "A: | AB c2 |"),
    ],
)
def test_dotted_pairs_and_slurs_of_abc_are_read(pasted: str, plain: str) -> None:
    key, meter = key_named("G"), meter_named("2/4")
    assert read_melody(pasted, key, meter) == read_melody(plain, key, meter)


def test_a_triplet_is_three_in_the_time_of_two() -> None:
    ((_, notes, lengths),) = read_melody("A: | (3ABc d2 e2 |", key_named("G"), meter_named("3/4")).parts
    assert [(note.onset, note.duration) for note in notes] == [
        (0, 160),
        (160, 160),
        (320, 160),
        (480, 480),
        (960, 480),
    ]
    assert lengths == (1440,)


@pytest.mark.parametrize(("text", "column"), [("A: | >A B |", 6), ("A: | A z>B |", 9)])
def test_a_dot_without_a_note_before_it_has_its_place(text: str, column: int) -> None:
    with pytest.raises(ReadingError) as caught:
        read_melody(text, key_named("G"), meter_named("2/2"))
    assert [(fault.code, fault.column) for fault in caught.value.at] == [("melody-mark", column)]
