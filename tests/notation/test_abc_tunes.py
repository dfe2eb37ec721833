"""Tunes in ABC notation: read as the standard (ABC 2.1) says, and written so that they read back."""

import contextlib
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Fault, ReadingError
from service.music.harmony import chord_named, key_named
from service.music.licks import Change
from service.music.meter import METER_NAMES, Meter, meter_named
from service.music.pitch import fifths, tone_name
from service.music.tunes import UNIT_TICKS, MelodyNote, merged
from service.notation.abc_tunes import MAX_TEXT, MAX_TUNES, read_abc
from service.notation.abc_writer import write_abc
from service.notation.brought import MODES, Brought, BroughtPart
from service.wording import said
from tests.bench.abc_against_music21 import (
    TUNES,
    agree,
    agree_without_repeats,
    counted_here,
    text_of,
    tune_files,
)
from tests.bench.abc_otherwise import EXPLAINED, READ_OTHERWISE, UNREADABLE

HEAD = "X:1\nT:Ferry Lane\nM:4/4\nL:1/4\nK:C\n"


def _read(body: str, head: str = HEAD) -> Brought:
    (tune,) = read_abc(head + body).tunes
    return tune


def _notes(body: str, head: str = HEAD, part: int = 0) -> list[tuple[int, int, int]]:
    return [(note.onset, note.duration, note.pitch) for note in _read(body, head).parts[part].melody]


def _pitches(body: str, head: str = HEAD) -> list[int]:
    return [pitch for _, _, pitch in _notes(body, head)]


def _lengths(body: str, head: str = HEAD) -> list[int]:
    return [duration for _, duration, _ in _notes(body, head)]


def _form(body: str, head: str = HEAD) -> str:
    """The order, and of each part how long its measures are, in quarters."""
    tune = _read(body, head)
    parts = [f"{part.name} {' '.join(f'{ticks / 480:g}' for ticks in part.measures)}" for part in tune.parts]
    return f"{' '.join(tune.order)}: {', '.join(parts)}"


def _faults(text: str) -> list[tuple[str, int | None, int | None]]:
    with pytest.raises(ReadingError) as caught:
        read_abc(text)
    for fault in caught.value.at:
        assert said(fault)
    return [(fault.code, fault.line, fault.column) for fault in caught.value.at]


def _remarks(tune: Brought) -> dict[str, Fault]:
    for remark in tune.remarks:
        assert said(remark)
    return {remark.code: remark for remark in tune.remarks}


# --- fields ----------------------------------------------------------------------------------------------


def test_a_heading_gives_name_key_meter_tempo_and_source() -> None:
    (tune,) = read_abc(
        "X:7\nT:The Otter's Ferry\nT:Another Name\nC:Wren\nO:Ferry Lane\nR:reel\nS:from a notebook\nN:slowly\n"
        "Z:somebody\nM:C|\nL:1/8\nQ:1/2=90\nK:Ador\nA2 E2 A2 c2 |]\n"
    ).tunes
    assert (tune.name, tune.source) == ("The Otter's Ferry", "Wren; Ferry Lane; from a notebook")
    assert (tune.key.name, tune.mode, tune.meter.name, tune.tempo) == ("Am", "dorian", "2/2", (90, "half"))
    assert tune.remarks == ()


@pytest.mark.parametrize(
    ("key", "name", "mode", "sharp", "flat"),
    [
        # signatures: published, ABC 2.1; letters that are sharp and flat
        ("G", "G", "major", "F", ""),
        ("Gm", "Gm", "minor", "", "BE"),
        ("EM", "Em", "minor", "F", ""),  # the case of a mode does not matter
        ("A minor", "Am", "minor", "", ""),
        ("Ador", "Am", "dorian", "F", ""),
        ("D mix", "D", "mixolydian", "F", ""),
        ("D MIXOLYDIAN", "D", "mixolydian", "F", ""),
        ("Ephr", "Em", "phrygian", "", ""),
        ("Flyd", "F", "lydian", "", ""),
        ("Bloc", "Bm", "locrian", "", ""),
        ("F# aeolian", "F#m", "minor", "FCG", ""),
        ("Bb ionian", "Bb", "major", "", "BE"),
        ("Eb", "Eb", "major", "", "BEA"),
        ("HP", "A", "mixolydian", "FC", ""),
        ("Hp", "A", "mixolydian", "FC", ""),
        ("none", "C", "major", "", ""),
        ("", "C", "major", "", ""),
        ("D exp ^f", "D", "mixolydian", "F", ""),
        ("D exp _b _e ^f", "D", "major", "F", "BE"),
        ("Dmix ^c", "D", "mixolydian", "FC", ""),
        ("Dmix=f", "D", "mixolydian", "", ""),
        ("G clef=bass", "G", "major", "F", ""),
        ("Am treble", "Am", "minor", "", ""),
    ],
)
def test_keys_and_modes(key: str, name: str, mode: str, sharp: str, flat: str) -> None:
    tune = _read("CDEF|GAB2|]", f"X:1\nM:4/4\nL:1/4\nK:{key}\n")
    natural = dict(zip("CDEFGAB", (60, 62, 64, 65, 67, 69, 71), strict=True))
    expected = [pitch + (letter in sharp) - (letter in flat) for letter, pitch in natural.items()]
    assert (tune.key.name, tune.mode) == (name, mode)
    assert [note.pitch for note in tune.parts[0].melody] == expected


@pytest.mark.parametrize(
    ("head", "eighth"),
    [
        # published, ABC 2.1: below three quarters the unit is a sixteenth
        ("M:2/4", 120),
        ("M:3/4", 240),
        ("M:6/8", 240),
        ("M:C", 240),
        ("M:C|", 240),
        ("M:4/4\nL:1/16", 120),
        ("L:1/4\nM:2/4", 480),
    ],
)
def test_the_unit_of_length(head: str, eighth: int) -> None:
    assert _lengths("A|", f"X:1\n{head}\nK:C\n") == [eighth]


@pytest.mark.parametrize(
    ("tempo", "told"),
    [
        ("1/4=120", (120, "quarter")),
        ("3/8=60", (60, "dotted quarter")),
        ('"Lively" 1/2=88', (88, "half")),
        ("1/8=200", (200, "eighth")),
        ("1/16=400", (100, "quarter")),
        ("1/4 1/8=60", (60, "dotted quarter")),
        ("120", (120, "eighth")),  # the unit of length: published, ABC 2.1
        ('"Slowly"', None),
        ("0", None),
    ],
)
def test_tempos(tempo: str, told: tuple[int, str] | None) -> None:
    assert _read("A|", f"X:1\nM:4/4\nL:1/8\nQ:{tempo}\nK:C\n").tempo == told


def test_several_tunes_and_what_stands_before_the_first_for_all_of_them() -> None:
    tunes = read_abc(
        "M:3/4\nO:Ferry Lane\n\nX:1\nT:One\nK:G\nG2 A2 B2|\n\nwords between\n\nX:2\nT:Two\nM:2/4\nK:D\nD4|\n"
    ).tunes
    assert [(tune.name, tune.meter.name, tune.source) for tune in tunes] == [
        ("One", "3/4", "Ferry Lane"),
        ("Two", "2/4", "Ferry Lane"),
    ]


BOOK = """X:1
T:Good One
M:2/4
K:D
D4|

X:2
T:Slip
M:2/4
K:D
D2 §2|

X:3
M:5/8
K:Qq
D5|

X:4
T:Good Two
M:2/4
K:G
G4|
"""


def test_a_tune_that_cannot_be_read_does_not_keep_the_others_of_a_book_back() -> None:
    read = read_abc(BOOK)
    assert [(place, tune.name) for place, tune in zip(read.places, read.tunes, strict=True)] == [
        (1, "Good One"),
        (4, "Good Two"),
    ]
    assert [(one.place, one.name) for one in read.not_read] == [(2, "Slip"), (3, "")]
    assert [(fault.code, fault.line, fault.column) for one in read.not_read for fault in one.faults] == [
        ("abc-mark", 11, 4), ("abc-key", 15, 3), ("abc-meter", 14, 3),
    ]  # fmt: skip


def test_a_book_of_which_no_tune_can_be_read_is_refused_with_all_its_places() -> None:
    bad = BOOK[BOOK.index("X:2") : BOOK.index("X:4")]
    assert _faults(bad) == [("abc-mark", 5, 4), ("abc-key", 9, 3), ("abc-meter", 8, 3)]


def test_of_a_tune_full_of_slips_beside_others_the_first_few_are_told() -> None:
    (one,) = read_abc(BOOK[: BOOK.index("X:3")].replace("§2", "§ " * 40)).not_read
    assert [fault.column for fault in one.faults] == [4, 6, 8, 10, 12]


def test_a_text_without_a_number_is_one_tune() -> None:
    (tune,) = read_abc("M:4/4\nK:G\n\nG4 A4|\n\nB8|\n").tunes
    assert tune.parts[0].measures == (1920, 1920)


def test_an_empty_line_ends_a_tune_and_lost_music_is_told_of() -> None:
    tune = _read("CDEF|\n% a comment is no empty line\nGABc|\n\ncdef|\n")
    assert len(tune.parts[0].measures) == 2
    assert _remarks(tune)["abc-after-the-end"].line == 10


def test_words_are_as_they_are_meant() -> None:
    (tune,) = read_abc("X:1\nT:Caf\\'e &amp; 100\\% \\u00e9t\\'e  %a comment\nM:4/4\nK:C\nC8|\n").tunes
    assert tune.name == "Café & 100% été"


@pytest.mark.parametrize(
    ("head", "meter"),
    [
        ("R:jig", "6/8"),
        ("R:Polka", "2/4"),
        ("R:strange", "3/4"),  # as long as most measures are
        ("M:none", "3/4"),
    ],
)
def test_without_a_meter_the_rhythm_or_the_measures_give_one(head: str, meter: str) -> None:
    tune = _read("C2E2G2|c2G2E2|C6|", f"X:1\n{head}\nL:1/8\nK:C\n")
    assert tune.meter.name == meter or (meter == "3/4" and tune.meter.name == "6/8")
    assert "abc-no-meter" in _remarks(tune)


# --- notes -----------------------------------------------------------------------------------------------


def test_letters_and_octaves() -> None:
    assert _pitches("C,, C, C B | c b c' c''|") == [36, 48, 60, 71, 72, 83, 84, 96]


def test_accidentals_last_to_the_bar_for_their_own_octave() -> None:
    assert _pitches("^F F f F | F =F _B __B | ^^C z2 C|") == [66, 66, 77, 66, 65, 65, 70, 69, 62, 62]


def test_a_tie_carries_an_accidental_over_the_bar() -> None:
    assert _notes("z3 ^F- | F2 F2|") == [(1440, 480 + 960, 66), (2880, 960, 65)]


def test_lengths() -> None:
    assert _lengths("A A2 A3/2 A/ A/2 A// A/4 A3/4|") == [480, 960, 720, 240, 240, 120, 120, 360]


def test_broken_rhythm() -> None:
    # published, ABC 2.1: one dot for each sign
    assert _lengths("A>B A<B A>>B A<<B A > B|") == [720, 240, 240, 720, 840, 120, 120, 840, 720, 240]


@pytest.mark.parametrize(
    ("tuplet", "meter", "lengths"),
    [
        # published, ABC 2.1: what p notes are played in the time of; quarters written
        ("(2AB", "6/8", [720, 720]),
        ("(3ABc", "4/4", [320, 320, 320]),
        ("(4ABcd", "6/8", [360] * 4),
        ("(5ABcde", "4/4", [192] * 5),
        ("(5ABcde", "6/8", [288] * 5),
        ("(6ABcdef", "4/4", [160] * 6),
        ("(8ABcdefga", "4/4", [180] * 8),
        ("(3:2:2A2B d", "4/4", [640, 320, 480]),
        ("(3::2AB d", "4/4", [320, 320, 480]),
        ("(3:2A/B/c/ d", "4/4", [160, 160, 160, 480]),
        ("(3A>Bc d", "4/4", [480, 160, 320, 480]),
    ],
)
def test_tuplets(tuplet: str, meter: str, lengths: list[int]) -> None:
    assert _lengths(f"{tuplet}|", f"X:1\nM:{meter}\nL:1/4\nK:C\n") == lengths


def test_seven_in_the_time_of_two_end_where_they_should() -> None:
    tune = _read("(7AAAAAAA B2|")
    assert [note.onset for note in tune.parts[0].melody][-1] == 960
    assert "abc-rounded" in _remarks(tune)


def test_ties_join_notes_over_bars_and_over_first_endings() -> None:
    assert _notes("A4-|A2-A B|") == [(0, 3360, 69), (3360, 480, 71)]
    tune = _read("|: A4 | B4- |1 B4 :|2 B2 c2 |]")
    assert [[note.duration for note in part.melody] for part in tune.parts] == [
        [1920, 3840],
        [1920, 2880, 960],
    ]


def test_of_notes_together_the_highest_is_the_melody() -> None:
    assert _notes("[CEG]2 [A/F/]- [A/F/] z|") == [(0, 960, 67), (960, 480, 69)]
    assert _pitches("[^FC] F2 z|") == [66, 66]


def test_what_is_no_melody_is_left_out() -> None:
    assert _pitches('{AB}C {/d}D ~E .F | !trill!G +fermata+A uB vc | (C D) TE HF | "^slow"G`A y B$c |') == [
        60, 62, 64, 65, 67, 69, 71, 72, 60, 62, 64, 65, 67, 69, 71, 72,
    ]  # fmt: skip


def test_rests_keep_their_time() -> None:
    assert _notes("z C x2 | Z2 | C4|") == [(480, 480, 60), (5760, 1920, 60)]


def test_words_lines_continuations_and_comments_are_no_music() -> None:
    assert _pitches("CDEF \\\nGABc | % the end\nw: la la la la\nCDEF |\nW: la\n") == [
        60, 62, 64, 65, 67, 69, 71, 72, 60, 62, 64, 65,
    ]  # fmt: skip


def test_fields_between_the_notes() -> None:
    tune = _read("CDEF | [K:G]F4 | [L:1/8]F4 F4 | [M:3/4][L:1/4] F3 | F3 |")
    assert [note.pitch for note in tune.parts[0].melody][4:] == [66] * 5
    assert tune.parts[0].measures == (1920, 1920, 1920, 1440, 1440)
    assert list(_remarks(tune)) == ["abc-key-changes"]


def test_only_the_first_voice_is_read() -> None:
    tune = _read("V:1\nCDEF|GABc|\nV:2\nC,4|C,4|\nV:1\nc4|[V:2]C,4|[V:1]B4|")
    assert [note.pitch for note in tune.parts[0].melody] == [60, 62, 64, 65, 67, 69, 71, 72, 72, 71]
    assert "abc-voices" in _remarks(tune)
    assert _pitches("CDEF & C,2C,2 | G4|") == [60, 62, 64, 65, 67]


def test_chord_symbols_are_changes() -> None:
    tune = _read('"G"D2 "D7/F#"F2 | "G"G2 "G"B2 | "N.C."c4 "Am"| c4 "^up" |')
    assert [(change.onset, change.chord and change.chord.name) for change in tune.parts[0].changes] == [
        (0, "G"), (960, "D7/F#"), (1920, "G"), (3840, None), (5760, "Am"),
    ]  # fmt: skip


def test_fingerings_in_quotes_are_no_chords_and_said_once() -> None:
    tune = _read('"4"C "1"D "G"E "_2"F |')
    assert tune.parts[0].changes == (Change(960, chord_named("G")),)
    assert [remark.params for remark in tune.remarks] == [{"word": "4"}]


@pytest.mark.parametrize(
    "sign", ["!D.C.!", "!fine!", "+segno+", '"_D.C."', '"Fine"', '"^D. S. al Coda"', '"da capo"']
)
def test_signs_to_jump_by_are_said_and_read_straight_on(sign: str) -> None:
    tune = _read(f"CDEF|G4|{sign}F4|C4|]")
    assert tune.order == ("A",)
    assert _remarks(tune)["abc-jumps"].line == 6


@pytest.mark.parametrize("chord", ["D", "C", "Dm", "F"])
def test_a_chord_is_no_sign_to_jump_by(chord: str) -> None:
    assert _read(f'"{chord}"CDEF|G4|').remarks == ()


def test_what_mail_left_in_old_files_is_passed_over() -> None:
    assert _pitches("CD=3DEF |=20\nGABc =\n|") == [60, 62, 64, 65, 67, 69, 71, 72]


# --- form ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "form"),
    [
        ("C4|D4|E4|]", "A: A 4 4 4"),
        ("C4|D4||E4|]", "A B: A 4 4, B 4"),
        ("C4|D4||C4|D4|]", "A A: A 4 4"),
        ("|:C4|D4:|:E4|F4:|", "A A B B: A 4 4, B 4 4"),
        ("C4|D4:|E4|F4:|", "A A B B: A 4 4, B 4 4"),
        ("C4|D4::E4|F4:|", "A A B B: A 4 4, B 4 4"),
        ("C4|D4:||:E4|F4:|]", "A A B B: A 4 4, B 4 4"),
        ("|:C4|D4:|\n|:E4|F4:|\nC4|D4|]", "A A B B A: A 4 4, B 4 4"),
        ("|:C4|[0 D4|2-1 E4:|", "A A: A 4 4 4"),
        ("[2 C4|D4:|", "A: A 4 4"),
        ("|::C4|D4::|", "A A A: A 4 4"),
        ("|:C4|1 D4:|2 E4|]", "A A2: A 4 4, A2 4 4"),
        ("C4|[1 D4:|[2 E4|]F4|]", "A A2 B: A 4 4, A2 4 4, B 4"),
        ("C4|1,3 D4:|2 E4:|4 F4|]", "A A2 A A3: A 4 4, A2 4 4, A3 4 4"),
        ("C4|1-2 D4:|3 E4|]", "A A A2: A 4 4, A2 4 4"),
        ("|:C4|1D4:|2D4:|", "A A: A 4 4"),
        ("C4|D4:|E4||F4|G4:|", "A A B C C: A 4 4, B 4, C 4 4"),
        ("|:C4||D4:|", "A A: A 4 4"),
        ("C4 [|] D4 | E4 [|]:|", "A A: A 4 4 4"),
        # measures that a sign parts in two
        ("C4|D2:|:D2|E4|F2:|", "A A B B: A 4 4, B 4 4"),
        ("|:C4|D2|1 D2:|2 E2|]", "A A2: A 4 4, A2 4 4"),
        # crooked tunes
        ("C4|D2|E4|F6|G4|", "A: A 4 2 4 6 4"),
        # pickups
        ("G|C4|D3:|", "A A: A 4 4"),
        ("G|C4|D3:|A|E4|F3:|", "A A B B: A 4 4, B 4 4"),
        ("G|:C4|D3:|", "A A: A 4 4"),
        ("G|:C4|D4:|", "A A2: A 4 4, A2 4 4"),
        ("G|:C4|1 D3G:|2 D4|]", "A A2: A 4 4, A2 4 4"),
        ("C4|D3:|G|E4|F4:|", "A A B B: A 4 4, B 4 4"),
    ],
)  # fmt: skip
def test_repeats_and_endings(body: str, form: str) -> None:
    assert _form(body) == form


@pytest.mark.parametrize(
    ("order", "body", "form"),
    [
        ("", "P:A\nC4|D4|\nP:B\nE4|", "A B: A 4 4, B 4"),
        ("", "P:B\nC4|D4|\nP:A\nE4|", "B A: B 4 4, A 4"),
        ("P:ABA\n", "[P:A]C4|[P:B]E4|", "A B A: A 4, B 4"),
        ("P:A2.(AB)2\n", "P:A\nC4|\nP:B\n|:D4|1 E4:|2 F4|]", "A A A B B2 A B B2: A 4, B 4 4, B2 4 4"),
    ],
)
def test_parts_and_their_order(order: str, body: str, form: str) -> None:
    assert _form(body, HEAD.replace("K:", order + "K:")) == form


def test_an_order_of_parts_that_are_not_marked_is_left_out() -> None:
    tune = _read("C4|:D4:|", HEAD.replace("K:", "P:AABB\nK:"))
    assert (tune.order, list(_remarks(tune))) == (("A", "B", "B"), ["abc-order-left-out"])


def test_a_pickup_comes_before_its_part() -> None:
    tune = _read('"D7"G A|"G"C4|D2:|\n|:G|C4|D4:|')
    first, second = tune.parts
    assert [(note.onset, note.pitch) for note in first.melody] == [
        (-960, 67),
        (-480, 69),
        (0, 60),
        (1920, 62),
    ]
    assert [change.onset for change in first.changes] == [-960, 0]
    assert (first.measures, second.measures) == ((1920, 1920), (1920, 1920))
    assert second.melody[0].onset == -480
    assert {code: remark.params for code, remark in _remarks(tune).items()} == {
        "abc-pickup-kept": {"parts": "B"}
    }


def test_measures_of_another_length_are_told_of() -> None:
    assert _remarks(_read("C4|D2|E4:|F4|G6|A4|"))["abc-other-lengths"].params == {"measures": "A 2, B 2"}


# --- what cannot be read ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("", [("abc-empty", 1, 1)]),
        ("hello world", [("abc-empty", 1, 1)]),
        ("X:1\nK:C\nz4|\n", [("abc-empty", 3, 1)]),
        ("X:1\nM:5/4\nK:C\nC4|", [("abc-meter", 2, 3)]),
        ("X:1\nM:fast\nK:C\nC4|", [("abc-meter", 2, 3)]),
        ("X:1\nL:1/0\nK:C\nC4|", [("abc-length", 2, 3)]),
        ("X:1\nM:4/4\nK:H\nC4|", [("abc-key", 3, 3)]),
        ("X:1\nM:4/4\nK:Gfoo\nC4|", [("abc-key", 3, 3)]),
        (HEAD + "C D |[K:X] E ] F\nG/0|", [("abc-key", 6, 9), ("abc-mark", 6, 14), ("abc-length", 7, 1)]),
        (HEAD + 'C "G D|\n', [("abc-mark", 6, 3)]),
        (HEAD + "C [M:x] D|\n", [("abc-meter", 6, 6)]),
        (HEAD + "C0|\n", [("abc-length", 6, 1)]),
        (HEAD + "Z600|\n", [("too-many-measures", 6, 1)]),
        (HEAD + "C4|" * 299 + "C4:|\n", [("too-many-measures", 6, 1)]),
        (HEAD.replace("K:", "P:(((A99)99)99)\nK:") + "P:A\nC4|\n", [("too-many-measures", 7, 1)]),
        ("X:1\nK:C\n" * (MAX_TUNES + 1), [("abc-too-many-tunes", 2 * MAX_TUNES + 1, 1)]),
        ("C" * (MAX_TEXT + 1), [("text-too-long", 1, 1)]),
    ],
)  # fmt: skip
def test_what_cannot_be_read_has_its_place(text: str, faults: list[tuple[str, int, int]]) -> None:
    assert _faults(text) == faults


@given(
    st.lists(
        st.sampled_from([*"ABcdz|:[](){}<>-/23\"!+^_=%\\&~ \n", "|:", ":|", "|1", ":|2", "K:", "M:", "P:", "X:1\n", "K:G\n", "V:2\n", "(3"]),
        max_size=60,
    ).map("".join)
    | st.text(max_size=60)
)  # fmt: skip
def test_any_text_is_read_or_refused(text: str) -> None:
    for whole in (text, HEAD + text):
        with contextlib.suppress(ReadingError):
            for tune in read_abc(whole).tunes:
                assert tune.order
                assert {*tune.order} <= {part.name for part in tune.parts}
                assert all(min(part.measures) > 0 for part in tune.parts)


@pytest.mark.parametrize(
    "piece",
    ["{", "[", "[K:", "[V:2][V:", '["a""', "(", '"', "A|", "A/997A/991A/983", "|1-99A|", ":", "(9:", "[A", "P:A\n", "X:1\n", "V:2\n"],
)  # fmt: skip
def test_a_long_text_takes_no_longer_than_its_length(piece: str) -> None:
    """Seconds for the longest text; what went by the square of the length would take minutes."""
    start = time.perf_counter()
    for whole in (piece * (MAX_TEXT // len(piece)), (HEAD + piece * (MAX_TEXT // len(piece)))[:MAX_TEXT]):
        with contextlib.suppress(ReadingError):
            read_abc(whole)
    assert time.perf_counter() - start < 20


# --- writing ---------------------------------------------------------------------------------------------


def test_a_tune_is_written_with_repeats_endings_and_chords() -> None:
    text = (
        "X: 1\nT: Ferry Lane\nM: 2/2\nL: 1/8\nQ: 1/2=100\nK: Dmix\n"
        '|: F | "D"A2FA d2f2 | "C"e2c2 ^c2=c2 | "G"B2G2 B2d2 |\n'
        '"A"A6F2 | "D"A2FA d2f2 | "C"e2c2 (3:2:3efec2 | "G"B2G2 "A"A2B2 |\n'
        '"D"d7 :|\n'
        "|: f4 a4 |\n"
        "[1 d8 :|\n"
        "[2 [M:1/2]d4[M:2/2] |]\n"
    )
    assert write_abc(read_abc(text).tunes[0]) == text


@st.composite
def _parts(draw: st.DrawFn, meter: Meter) -> BroughtPart:
    grid = draw(st.sampled_from([meter.slot_ticks, meter.slot_ticks // 2, 160, 80, 96, 7]))
    home = meter.measure_ticks
    measures = tuple(
        draw(st.lists(st.sampled_from([home, home, home, home // 2, home + 240]), min_size=1, max_size=5))
    )
    end = sum(measures)
    first = draw(st.sampled_from([0, 0, -grid, -2 * grid, -3 * grid]))
    onsets = sorted(draw(st.sets(st.integers(first // grid, (end - 1) // grid), min_size=1, max_size=24)))
    if first:
        onsets[0] = first // grid
    melody = []
    for onset, after in zip(onsets, [*onsets[1:], end // grid + 1], strict=True):
        longest = min(after * grid, end) - onset * grid
        duration = draw(st.sampled_from([longest, min(longest, grid)]))
        melody.append(MelodyNote(onset * grid, duration, draw(st.integers(43, 96))))
    where = draw(st.sets(st.integers(0, (end - 1) // grid), max_size=4))
    changes = [
        Change(
            at * grid, chord_named(draw(st.sampled_from(["G", "Em", "D7", "F#m7b5", "C/E", "Bb", "N.C."])))
        )
        for at in sorted(where)
    ]
    return BroughtPart("", measures, tuple(melody), merged(changes))


@st.composite
def _tunes(draw: st.DrawFn) -> Brought:
    """As a reader gives them: named in the order they come, no two parts alike."""
    meter = meter_named(draw(st.sampled_from(METER_NAMES)))
    mode = draw(st.sampled_from(sorted(MODES)))
    tonic = fifths(draw(st.sampled_from(["C", "G", "D", "A", "E", "F", "Bb", "Eb", "F#", "B"])))
    contents = draw(st.lists(_parts(meter), min_size=1, max_size=4, unique=True))
    if len(contents) > 1 and draw(st.booleans()):  # another ending
        ending = contents[0].melody[:-1]
        other = replace(contents[0], melody=ending or (replace(contents[0].melody[0], pitch=97),))
        contents = [contents[0], other, *(one for one in contents[1:] if one != other)]
        names = ["A", "A2", *"BCD"]
    else:
        names = [*"ABCD"]
    parts = [replace(one, name=name) for one, name in zip(contents, names, strict=False)]
    order = [part.name for part in parts for _ in range(draw(st.integers(1, 3)))]
    order += draw(st.lists(st.sampled_from(order), max_size=3)) if "A2" not in order else []
    tempo = draw(st.none() | st.tuples(st.integers(20, 400), st.sampled_from(sorted(UNIT_TICKS))))
    text = st.text("abcXYZ %\\&;:'u09", max_size=12).map(lambda text: " ".join(text.split()))
    return Brought(
        draw(text), replace(key_named(tone_name(tonic)), mode=MODES[mode][1]), mode, meter, tuple(parts), tuple(order), tempo, draw(text)
    )  # fmt: skip


@given(_tunes())
def test_what_is_written_reads_back(tune: Brought) -> None:
    (back,) = read_abc(write_abc(tune)).tunes
    assert replace(back, remarks=()) == tune


# --- beside music21 --------------------------------------------------------------------------------------


def _known_meter(path: Path) -> bool:
    stated = text_of(path).split("M:", 1)[1].split(maxsplit=1)[0]
    return stated in (*METER_NAMES, "C", "C|")


SAMPLE = [path for path in tune_files()[::18] if _known_meter(path) and path.stem not in UNREADABLE]


@pytest.mark.parametrize("path", SAMPLE, ids=lambda path: path.stem)
def test_tunes_count_the_same_as_music21_reads_them(path: Path) -> None:
    """Notes, the time they sound, full measures. Computed with music21; where it plays repeats otherwise, without them."""
    text = text_of(path)
    (tune,) = read_abc(text).tunes
    reason = EXPLAINED.get(path.stem)
    assert reason not in READ_OTHERWISE  # none of the sample
    assert agree_without_repeats(text) if reason else agree(text, tune)


@pytest.mark.parametrize("name", UNREADABLE)
def test_files_with_a_slip_say_where_it_is(name: str) -> None:
    text = text_of(TUNES / f"{name}.abc")
    with pytest.raises(ReadingError) as caught:
        read_abc(text)
    assert "abc-mark" in {fault.code for fault in caught.value.at}


@pytest.mark.parametrize(
    ("name", "meter", "key", "lowest", "highest", "measures"),
    [
        # computed with music21, but for notes in grace braces; measures are those of both parts played twice
        ("SoldiersJoy", "2/4", "D", 62, 81, 32),
        ("FishersHornpipe", "2/4", "F", 65, 82, 32),
        ("LiverpoolHornpipe", "2/4", "D", 62, 81, 32),
        ("CollegeHornpipe", "2/4", "Bb", 58, 82, 32),
        ("FlowersOfEdinburgReel", "2/2", "G", 62, 83, 32),
        ("MississippiHornpipe", "2/4", "G", 67, 83, 32),
        ("SpeedThePloughReel", "2/4", "A", 64, 81, 32),
        ("GirlILeftBehindMe", "2/4", "G", 62, 79, 32),
        ("PaddyOnTheTurnpikeReel", "2/2", "Gm", 62, 82, 32),
        ("HasteToTheWeddingJig", "6/8", "D", 64, 83, 32),
    ],
)
def test_tunes_that_many_know(
    name: str, meter: str, key: str, lowest: int, highest: int, measures: int
) -> None:
    (tune,) = read_abc(text_of(TUNES / f"{name}.abc")).tunes
    pitches = [note.pitch for part in tune.parts for note in part.melody]
    assert (tune.meter.name, tune.key.name, min(pitches), max(pitches)) == (meter, key, lowest, highest)
    assert tune.order == ("A", "A", "B", "B")
    assert counted_here(tune).measures == measures


def test_tunes_of_a_printed_collection_are_written_so_that_they_read_back() -> None:
    for path in SAMPLE:
        (tune,) = read_abc(text_of(path)).tunes
        (back,) = read_abc(write_abc(tune)).tunes
        assert replace(back, remarks=()) == replace(tune, remarks=()), path.stem
