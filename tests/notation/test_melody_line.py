"""A melody in one line: what a thumb types, and what comes back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Fault, ReadingError
from service.music.harmony import key_named
from service.music.meter import meter_named
from service.music.tunes import MelodyNote
from service.notation.abc import read_melody
from service.notation.melody_line import read_melody_line, write_melody_line
from service.wording import said

CUT, G = meter_named("2/2"), key_named("G")


def _pitches(text: str, key: str = "G") -> list[int]:
    return [note.pitch for _, notes, _ in read_melody_line(text, key_named(key), CUT).parts for note in notes]


def test_it_says_the_same_as_note_letters_between_bars() -> None:
    line = "A: d2; g2 a b c2 b a, c2 e2 c4, b2 g2 d2 >b2, a4 a2 <d2"
    letters = "A: D2 | G2 AB c2 BA | c2 e2 c4 | B2 G2 D2 B2 | A4 A2 D2 |"
    assert read_melody_line(line, G, CUT) == read_melody(letters, G, CUT)


def test_big_and_small_letters_are_alike_and_a_note_lies_near_the_one_before() -> None:
    assert _pitches("D G B A G E D4") == _pitches("d g b a g e d4") == [62, 67, 71, 69, 67, 64, 62]
    assert _pitches("g >g <g <g g2 g2") == [67, 79, 67, 55, 55, 55]


def test_lengths_holds_rests_and_threes() -> None:
    ((_, notes, lengths),) = read_melody_line("g- a3 .2 b, tgab c6", G, CUT).parts
    assert [(note.onset, note.duration) for note in notes] == [
        (0, 480), (480, 720), (1680, 240), (1920, 160), (2080, 160), (2240, 160), (2400, 1440),
    ]  # fmt: skip
    assert lengths == (1920, 1920)


def test_the_key_and_accidentals_until_the_measure_ends() -> None:
    assert _pitches("f4 =f2 f2, f8") == [66, 65, 65, 66]
    assert _pitches("b4 =b2 b2, b8", "F") == [70, 71, 71, 70]


@pytest.mark.parametrize(
    ("text", "column", "says"),
    [
        ("g2 h2 a4", 4, "“h” has no meaning in a melody."),
        ("- g8", 1, "There is no note to hold on"),
        ("g2 a2, b8", 6, "Measure 1 has 4 slots, and 8 make it full."),
        (">>>>>>g8", 1, "is no note that can be played"),
    ],
)
def test_what_cannot_be_read_is_marked(text: str, column: int, says: str) -> None:
    with pytest.raises(ReadingError) as raised:
        read_melody_line(text, G, CUT)
    (fault, *_) = raised.value.at
    assert (fault.line, fault.column) == (1, column)
    assert says in said(fault)


@given(
    data=st.data(),
    key=st.sampled_from(("C", "G", "Bb", "F#m", "E")),
    meter=st.sampled_from(("2/2", "6/8", "2/4")),
)
def test_what_is_written_reads_back_to_the_same(data: st.DataObject, key: str, meter: str) -> None:
    time = meter_named(meter)
    lengths = [time.measure_ticks] * data.draw(st.integers(1, 3))
    notes, at = [], -time.slot_ticks * data.draw(st.integers(0, 3))
    while at < sum(lengths):
        bar = 0 if at < 0 else (at // time.measure_ticks + 1) * time.measure_ticks
        lasts = min(time.slot_ticks * data.draw(st.integers(1, 5)), bar - at)
        if at < 0 or data.draw(st.integers(0, 4)):
            notes.append(MelodyNote(at, lasts, data.draw(st.integers(43, 96))))
        at += lasts
    parts = [("A", tuple(notes), tuple(lengths))] if notes else []
    text = write_melody_line(parts, key_named(key), time)
    assert text is not None
    assert read_melody_line(text, key_named(key), time).parts == tuple(parts), text


@given(
    text=st.text(alphabet=st.sampled_from("gabcdefGAB<>^_=-.,;t0123456789 \n:Axyz|#♭♯♮…–—｜"), max_size=60)
)
def test_any_text_is_read_or_refused_with_a_place(text: str) -> None:
    faults: list[Fault] = []
    try:
        read_melody_line(text, G, CUT)
    except ReadingError as error:
        faults += error.at or [Fault("none")]
    assert [fault for fault in faults if not (fault.line and fault.column)] == []
