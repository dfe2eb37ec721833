"""What thumbs and autocorrect make of charts, melodies and keys: read where there is no doubt, asked back where there is.

Which notes and chords are meant is common practice; signatures of modes are published (ABC 2.1).
"""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import DomainError, ReadingError
from service.music.harmony import Key, key_named
from service.music.meter import meter_named
from service.music.tunes import MelodyNote
from service.notation.abc import read_melody, write_melody
from service.notation.chart import Chart, read_chart, read_order, write_chart
from service.notation.doubts import melody_doubts
from service.notation.melody_line import is_melody_line, read_melody_line
from service.notation.typed_key import modal_key
from service.usecases.records import TempoRecord, TuneRecord, in_plain_key, tune_of
from service.wording import said

CUT, G = meter_named("2/2"), key_named("G")


def _chart(text: str, key: Key | None = G) -> Chart:
    return read_chart(text, CUT, key)


def _names(text: str, key: Key | None = G) -> list[str]:
    return [
        " ".join(change.chord.name if change.chord else "N.C." for change in measure.changes)
        for _, measures in _chart(text, key).sections
        for measure in measures
    ]


def _faults(text: str, key: Key | None = G) -> list[tuple[str, int | None, int | None]]:
    with pytest.raises(ReadingError) as caught:
        _chart(text, key)
    assert all(said(fault) for fault in caught.value.at)
    return [(fault.code, fault.line, fault.column) for fault in caught.value.at]


# --- chords ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("g", "G"), ("am", "Am"), ("d7", "D7"), ("f#m7", "F#m7"), ("bb", "Bb"), ("b", "B"), ("bm", "Bm"), ("bbm", "Bbm"),
        ("eb", "Eb"), ("a♭", "Ab"), ("gmaj7", "Gmaj7"), ("dsus4", "Dsus4"), ("e5", "E5"), ("g/b", "G/B"), ("G/b", "G/B"),
        ("d/f#", "D/F#"), ("c/bb", "C/Bb"), ("g6/9", "G69"), ("n.c.", "N.C."),
    ],
)  # fmt: skip
def test_chords_may_be_in_small_letters_and_are_written_in_big_ones(typed: str, meant: str) -> None:
    assert _names(f"| {typed} | G |") == [meant, "G"]
    assert write_chart(_chart(f"| {typed} |"), CUT) == f"A: | {meant} |\norder: A\n"


@pytest.mark.parametrize("typed", ["h", "add9", "dim", "bbb", "a##", "the", "x", "g/h", "am/", "b8"])
def test_what_is_no_chord_in_big_letters_is_none_in_small_ones(typed: str) -> None:
    assert _faults(f"| G | {typed} |") == [("chart-chord", 1, 7)]


def test_b_with_a_step_is_asked_back_beside_small_letters_and_else_a_step_of_the_key() -> None:
    assert _faults("| e | b7 |\n| a | b7 E |") == [("chart-two-ways", 1, 7), ("chart-two-ways", 2, 7)]
    assert _names("| 1 | b7 |") == ["G", "F"]
    assert _names("| G | b7 |") == ["G", "F"]  # so it was always read
    assert _names("| e | b7 |", None) == ["E", "B7"]  # without a key there are no steps


def test_a_chord_that_could_be_a_note_with_its_length_is_asked_back() -> None:
    assert _faults("| d2 g2 | bb4 |") == [
        ("chart-two-ways", 1, 3),
        ("chart-two-ways", 1, 6),
        ("chart-two-ways", 1, 11),
    ]
    with pytest.raises(ReadingError) as caught:
        _chart("| d4 |")
    assert said(caught.value.at[0]) == (
        "“d4” in small letters can be read in two ways. Write D4 if the chord of that name is meant."
    )


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("| G … |", "| G . . . |"),
        ("| G — D |", "| G - - D |"),
        ("| G – – D |", "| G - - D |"),
        ("| G // D |", "| G / / D |"),
        ("｜ G ｜ Ｄ７ ｜", "| G | D7 |"),
        ("Ａ： | G |", "A: | G |"),
        ("|\u00a0G\u00a0|\u2003D\u202f|", "| G | D |"),
        ("| (½) G | D |", "| (1/2) G | D |"),
        ("| B♭ | F♯m |", "| Bb | F#m |"),
        ("1–4–5–1", "1-4-5-1"),
    ],
)  # fmt: skip
def test_what_autocorrect_puts_into_a_chart_is_read_as_what_it_stands_for(typed: str, meant: str) -> None:
    assert _chart(typed) == _chart(meant)


def test_places_are_those_of_the_text_as_it_was_typed() -> None:
    assert _faults("｜ G … ｜ H ｜\n| “G” |") == [("chart-chord", 1, 9), ("chart-chord", 2, 3)]


# --- order -----------------------------------------------------------------------------------------------

PARTS = "A: | G | C |\nB: | D | G |\n"


@pytest.mark.parametrize(
    "last", ["A A B B", "AABB", "a a b b", "aabb", "Aabb", "A, A, B, B", "A-A-B-B", "A A B B.\n\n", "A–A–B–B"]
)
def test_a_last_line_of_part_names_is_the_order(last: str) -> None:
    assert _chart(PARTS + last).order == ("A", "A", "B", "B")


def test_long_names_are_an_order_too_in_whatever_letters() -> None:
    chart = "Verse: | G | C |\nChorus: | D | G |\n"
    assert _chart(chart + "verse chorus Verse").order == ("Verse", "Chorus", "Verse")
    assert _chart(chart + "order: verse chorus").order == ("Verse", "Chorus")
    assert _chart("INTRO: | G |\norder: INTRO").order == ("INTRO",)
    assert read_order("verse Chorus", ("Verse", "Chorus")) == ("Verse", "Chorus")


@pytest.mark.parametrize(
    ("text", "last_measures"),
    [
        ("A:\nD\nA\nB:\nG\nB A", ["G", "B A"]),  # charts without bars have measures on such lines
        ("| G | C |\nA A", ["G", "C", "A A"]),  # no part is named
        (PARTS + "A A", ["D", "G", "A A"]),  # B would never be played
        (PARTS + "| A B |", ["D", "G", "A B"]),
        (PARTS + "A A B B\norder: A B", ["D", "G", "A A B B"]),  # the order is said elsewhere
    ],
)
def test_chords_that_are_called_like_parts_stay_chords(text: str, last_measures: list[str]) -> None:
    assert _names(text)[-len(last_measures) :] == last_measures


def test_an_order_with_a_part_that_is_not_there_is_no_order_but_a_line_that_cannot_be_read() -> None:
    assert _faults(PARTS + "A A B X") == [("chart-chord", 3, 7)]


# --- melodies --------------------------------------------------------------------------------------------


def _line(text: str, key: str = "G") -> list[int]:
    return [note.pitch for _, notes, _ in read_melody_line(text, key_named(key), CUT).parts for note in notes]


def _letters(text: str, key: str = "G") -> list[int]:
    return [note.pitch for _, notes, _ in read_melody(text, key_named(key), CUT).parts for note in notes]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("c#4 c4", "^c4 c4"), ("C#4 d4", "^c4 d4"), ("e♭4 b♭4", "_e4 _b4"), ("f♮8", "=f8"), ("g♯8", "^g8"),
        ("f##8", "^^f8"), ("g— a–b… c", "g-- a-b... c"), ("a b\u00a0c d5,", "a b c d5,"), ("gab c4", "g a b c4"),
        ("bb2 ab4", "b b2 a b4"), ("Ｇ２ ａ６", "g2 a6"),
    ],
)  # fmt: skip
def test_a_melody_in_one_line_may_be_typed_as_phones_do(typed: str, meant: str) -> None:
    assert read_melody_line(typed, G, CUT) == read_melody_line(meant, G, CUT)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("| F#4 f#4 | F4 z4 |", "| ^F4 ^f4 | F4 z4 |"), ("| B♭4 e♭'4 |", "| _B4 _e'4 |"), ("| f♮8 |", "| =f8 |"),
        ("| c’4 C,4 |", "| c'4 C,4 |"), ("| d4– d4 |", "| d4- d4 |"), ("| d4— d4 |", "| d4- d4 |"),
        ("｜ G½ A½ B7 ｜", "| G1/2 A1/2 B7 |"), ("A： ｜ g8 ｜", "A: | g8 |"),
    ],
)  # fmt: skip
def test_a_melody_in_note_letters_may_be_typed_as_phones_do(typed: str, meant: str) -> None:
    assert not is_melody_line(typed)
    assert read_melody(typed, G, CUT) == read_melody(meant, G, CUT)


def test_a_sharp_behind_a_letter_holds_until_the_measure_ends() -> None:
    assert _line("c#2 c2 c4, c8") == [73, 73, 73, 72]
    assert _letters("| c#2 c2 c4 | c8 |") == [73, 73, 73, 72]


def test_two_accidentals_at_one_note_are_a_fault_with_its_place() -> None:
    for read in (read_melody_line, read_melody):
        with pytest.raises(ReadingError) as caught:
            read("g2 ^f#2", G, CUT)
        assert [(fault.code, fault.line, fault.column) for fault in caught.value.at] == [
            ("melody-two-signs", 1, 4)
        ]
    with pytest.raises(ReadingError) as caught:
        read_melody("| z#8 |", G, CUT)
    assert [(fault.code, fault.column) for fault in caught.value.at] == [("melody-mark", 4)]


def test_octave_marks_at_the_beginning_of_two_lines_are_no_quoted_mail() -> None:
    assert _line("c8,\n>c8,\n>c8") == [72, 84, 96]


@pytest.mark.parametrize("text", ["Eb2 d2", "A: g2 Bb c4", "| d2 Bb2 |", "Ab", "> A: Eb"])
def test_a_big_letter_with_a_small_b_is_asked_back(text: str) -> None:
    (fault,) = melody_doubts(text)
    assert (fault.code, fault.line, fault.column) == ("melody-flat-or-note", 1, text.index("b", 1))
    big = text[text.index("b", 1) - 1]
    assert said(fault) == (
        f"“{big}b” can be one note, flat, or two notes. Write _{big} for the flat, or {big} b for the two notes."
    )


@pytest.mark.parametrize(
    "text", ["Gab c2", "eb2", "_Bb", "AB", "Bb: g2", "B b", "g2 a b c2 b a,", "GAB", "e♭2", "E_b"]
)
def test_rows_of_letters_are_notes(text: str) -> None:
    assert melody_doubts(text) == []


@given(st.text("ABab:|^_=<> \n♭#–…", max_size=60))
def test_doubts_have_their_places(text: str) -> None:
    assert all(fault.line and fault.column and fault.params["word"] for fault in melody_doubts(text))


# --- keys ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Am", "Am"), ("a minor", "Am"), ("A Minor", "Am"), ("G major", "G"), ("G MAJOR", "G"), ("g", "G"), ("am", "Am"),
        ("bb", "Bb"), ("b flat", "Bb"), ("B Flat Minor", "Bbm"), ("F sharp minor", "F#m"), ("f#m", "F#m"), ("E♭", "Eb"),
        ("GM", "G"), ("A-minor", "Am"), ("b minor", "Bm"), ("G-Dur", "G"), ("e-Moll", "Em"), ("H-Dur", "B"), ("A menor", "Am"), ("G mayor", "G"),
    ],
)  # fmt: skip
def test_keys_are_read_however_they_are_typed(typed: str, meant: str) -> None:
    assert key_named(typed).name == meant
    assert modal_key(typed) is None


@pytest.mark.parametrize(
    "typed", ["H", "H minor", "B-Dur", "b-moll", "A-", "", "Gmm", "A dorian", "flat", "G#b", "Bbb"]
)
def test_what_is_no_key_says_what_to_write(typed: str) -> None:
    with pytest.raises(DomainError) as caught:
        key_named(typed)
    assert said(caught.value).endswith(
        "Write G, Em, Bb, F# minor; of a tune also a mode, as in A dorian, D mixolydian."
    )


@pytest.mark.parametrize(
    ("typed", "key", "sharps"),
    [
        ("Ador", "Am", 1), ("A dorian", "Am", 1), ("a Dorian", "Am", 1), ("D mixolydian", "D", 1), ("Dmix", "D", 1),
        ("E phrygian", "Em", 0), ("Bb lydian", "Bb", -1), ("bb lyd", "Bb", -1), ("b flat lydian", "Bb", -1), ("B locrian", "Bm", 0),
        ("F sharp dor", "F#m", 4), ("G ionian", "G", 1), ("E aeolian", "Em", 1),
    ],
)  # fmt: skip
def test_a_mode_is_its_third_and_its_signature(typed: str, key: str, sharps: int) -> None:
    found = modal_key(typed)
    assert found is not None
    assert (found[0].name, found[1].signature) == (key, sharps)


@pytest.mark.parametrize("typed", ["A modal", "A do", "dorian", "H dorian", "A doriann", "", "A dorian D"])
def test_what_is_no_mode_is_none(typed: str) -> None:
    assert modal_key(typed) is None


@given(st.text(max_size=24) | st.text("ABabG#♭ dorimxflnshp-", max_size=24))
def test_any_text_is_a_key_or_none(text: str) -> None:
    found = modal_key(text)
    assert found is None or found[0].mode in ("major", "minor")
    with contextlib.suppress(DomainError):
        assert key_named(text).name
        assert found is None


def _record(key: str, melody: str) -> TuneRecord:
    return TuneRecord(
        "Otter Slide", key, "2/2", TempoRecord(60, 120, 80, "half"), "| Am | G |", melody=melody
    )


@pytest.mark.parametrize(
    ("melody", "kept"),
    [
        ("a2 f2 e2 d2, f8", "A: a2 ^f2 e2 d2, ^f8\n"),
        ("| A2 F2 =F2 D2 | F8 |", "A: | A2 ^F2 =F2 D2 | ^F8 |\n"),
        ("| A2 F2 F2 D2 | F8 |", "A: | A2 ^F2 F2 D2 | ^F8 |\n"),
    ],
)  # fmt: skip
def test_a_melody_in_a_mode_is_kept_with_what_the_mode_alters(melody: str, kept: str) -> None:
    plain = in_plain_key(_record("A dorian", melody))
    assert (plain.key, plain.melody) == ("Am", kept)


def test_a_key_without_a_mode_leaves_the_melody_as_it_was_typed() -> None:
    record = _record("a minor", "a2 f2 e2 d2, f8")
    assert in_plain_key(record) == record
    assert in_plain_key(_record("A aeolian", "a2 f2 e2 d2, f8")).melody == "a2 f2 e2 d2, f8"


@given(
    pitches=st.lists(st.integers(55, 84), min_size=1, max_size=8),
    typed=st.sampled_from(("Ador", "D mix", "Bb lydian", "E phrygian", "F# dorian", "Eb mixolydian")),
)
def test_whatever_is_typed_in_a_mode_sounds_as_it_was_meant(pitches: list[int], typed: str) -> None:
    modal = modal_key(typed)
    assert modal is not None
    notes = tuple(MelodyNote(240 * at, 240, pitch) for at, pitch in enumerate(pitches))
    melody = write_melody([("A", notes, (1920,))], modal[1])
    record = TuneRecord("Otter Slide", typed, "2/2", TempoRecord(60, 120, 80, "half"), "| 1 |", melody=melody)
    assert tune_of("otter-slide", in_plain_key(record)).melody == (("A", notes),)
