"""Chord shapes: what everybody plays is found, what is found can be held and sounds the chord, and nothing is left out."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge import left_hand as judged
from service.judge.left_hand import left_hand
from service.music.fretboard import Fretboard
from service.music.harmony import Chord, chord_named
from service.music.instruments import all_instruments, instrument_named
from service.music.licks import Note
from service.music.shapes import AT_LEISURE_MM, SPANS_MM, Shape, double_stops, fingering, shapes


def board(instrument: str, tuning: str | None = None, capo: int = 0, stop: int | None = None) -> Fretboard:
    made = instrument_named(instrument)
    return Fretboard(made, made.tuning(tuning), capo, stop)


def chord(name: str) -> Chord:
    found = chord_named(name)
    assert found is not None
    return found


def written(shape: Shape) -> str:
    """Frets from the lowest string up, as players say them; the banjo's short string left out."""
    long = [f for n, f in enumerate(shape.frets, 1) if shape.drone is None or n != 5]
    return " ".join("x" if fret is None else str(fret) for fret in reversed(long))


def found_on(instrument: str, name: str, **asked: bool) -> dict[str, Shape]:
    every = shapes(chord(name), board(instrument), first=None, **asked)
    return {written(shape): shape for shape in every}


# Open-G banjo, strings 4-3-2-1 [computed]
BANJO = {
    "3 2 1 3": "F", "5 4 3 5": "G", "10 9 8 10": "C", "4 2 3 4": "D", "9 7 8 9": "G", "2 0 1 2": "C",
    "0 0 0 0": "G", "5 5 5 5": "C", "7 7 7 7": "D", "3 2 1 1": "F7", "5 4 3 3": "G7", "5 5 5 8": "C7",
    "0 0 0 3": "G7", "4 5 3 4": "D7", "2 3 1 2": "C7", "0 2 1 0": "D7", "4 2 1 4": "D7", "3 1 1 3": "Fm",
    "3 2 3 3": "Dm", "5 5 4 5": "Cm", "7 5 7 0": "D7",
}  # fmt: skip


@pytest.mark.parametrize(("frets", "name"), BANJO.items(), ids=BANJO)
def test_each_banjo_shape_of_the_table_is_found(frets: str, name: str) -> None:
    assert frets in found_on("banjo", name)


def test_a_diminished_seventh_is_found_under_each_of_its_four_names() -> None:
    for name in ("D#dim7", "F#dim7", "Adim7", "Cdim7"):  # 1 2 1 4 on strings 4-3-2-1 [computed]
        assert "1 2 1 4" in found_on("banjo", name)


@pytest.mark.parametrize(
    ("frets", "name", "gone"),
    [("4 5 3 4", "D7", ("A",)), ("0 2 1 0", "D7", ("F#",)), ("4 2 1 4", "D7", ("D",)), ("7 5 7 0", "D7", ())],
)  # [computed]; a seventh without its fifth, third, root, and a whole one
def test_a_shape_says_which_tones_it_lacks(frets: str, name: str, gone: tuple[str, ...]) -> None:
    assert found_on("banjo", name)[frets].missing == gone


@pytest.mark.parametrize(
    ("frets", "name", "fingers"),
    [
        ("2 0 1 2", "C", (2, 0, 1, 3)),  # middle, open, index, ring
        ("3 2 1 3", "F", (3, 2, 1, 4)),  # ring, middle, index, little
        ("4 2 3 4", "D", (3, 1, 2, 4)),  # ring, index, middle, little
    ],
)  # usual fingers on strings 4-3-2-1 [common practice]
def test_the_banjo_home_shapes_are_held_with_their_usual_fingers(
    frets: str, name: str, fingers: tuple[int, ...]
) -> None:
    assert found_on("banjo", name)[frets].fingers[3::-1] == fingers


FIRST_FEW = 5


@pytest.mark.parametrize(
    ("name", "frets"),
    [
        ("G", "3 2 0 0 0 3"), ("C", "x 3 2 0 1 0"), ("D", "x x 0 2 3 2"), ("A", "x 0 2 2 2 0"),
        ("E", "0 2 2 1 0 0"), ("F", "1 3 3 2 1 1"), ("Am", "x 0 2 2 1 0"), ("Em", "0 2 2 0 0 0"),
        ("Dm", "x x 0 2 3 1"), ("Bm", "x 2 4 4 3 2"), ("F#m", "2 4 4 2 2 2"), ("B7", "x 2 1 2 0 2"),
        ("D7", "x x 0 2 1 2"), ("G7", "3 2 0 0 0 1"), ("C/E", "0 3 2 0 1 0"), ("D/F#", "2 0 0 2 3 2"),
    ],
)  # fmt: skip
def test_the_first_guitar_chords_of_any_beginner_come_first(name: str, frets: str) -> None:
    """[common practice]"""
    easiest = [written(shape) for shape in shapes(chord(name), board("guitar"))[:FIRST_FEW]]
    assert frets in easiest


@pytest.mark.parametrize(
    ("name", "frets", "fingers"),
    [("F", "1 3 3 2 1 1", (1, 3, 4, 2, 1, 1)), ("C", "x 3 2 0 1 0", (0, 3, 2, 0, 1, 0))],
)
def test_a_guitar_barre_is_one_finger_over_several_strings(
    name: str, frets: str, fingers: tuple[int, ...]
) -> None:
    """[common practice]"""
    shape = found_on("guitar", name)[frets]
    assert shape.fingers[::-1] == fingers
    assert shape.barre == (name == "F")


@pytest.mark.parametrize(
    ("name", "frets"), [("G", "7 5 2 3"), ("A", "2 2 4 5"), ("D", "2 4 5 5"), ("C", "5 2 3 3")]
)
def test_the_closed_mandolin_chord_comes_first_where_it_shall_be_chopped(name: str, frets: str) -> None:
    """G 7 5 2 3 is the shape everybody chops with; the others are common ones too [common practice]."""
    assert written(shapes(chord(name), board("mandolin"), closed=True)[0]) == frets


def test_the_chop_shape_of_g_moves_up_to_a() -> None:
    assert "9 7 4 5" in found_on("mandolin", "A", closed=True)


@pytest.mark.parametrize(
    ("name", "frets"), [("C", "0 0 0 3"), ("G", "0 2 3 2"), ("F", "2 0 1 0"), ("Am", "2 0 0 0")]
)
def test_the_ukulele_chords_of_the_first_lesson_are_the_easiest(name: str, frets: str) -> None:
    """[common practice]"""
    assert written(shapes(chord(name), board("ukulele"))[0]) == frets


def test_a_bar_lies_across_one_fret() -> None:
    """Open G: a bar at 5 is C, at 7 D [computed]; a minor chord is told by two strings."""
    straight = board("resonator-guitar")
    assert [written(shapes(chord(name), straight, bar=True)[0]) for name in ("G", "C", "D")] == [
        "0 0 0 0 0 0", "5 5 5 5 5 5", "7 7 7 7 7 7",
    ]  # fmt: skip
    minor = shapes(chord("Em"), straight, bar=True)[0]
    assert (written(minor), minor.missing) == ("x x x x 5 5", ("B",))


def test_the_drone_says_whether_it_belongs() -> None:
    assert shapes(chord("C"), board("banjo"))[0].drone == "chord-tone"  # C E G
    assert shapes(chord("D"), board("banjo"))[0].drone == "foreign"  # D F# A against g
    assert shapes(chord("D"), board("banjo", stop=69))[0].drone == "chord-tone"  # spiked to a
    assert shapes(chord("C"), board("banjo"), closed=True)[0].drone is None


def test_names_that_sound_alike_have_the_same_shapes() -> None:
    sharp, flat = (shapes(chord(name), board("guitar")) for name in ("F#", "Gb"))
    assert [shape.frets for shape in sharp] == [shape.frets for shape in flat]


def test_behind_a_capo_shapes_stay_what_they_are_until_the_neck_ends() -> None:
    plain = {shape.frets for shape in shapes(chord("G"), board("banjo"), first=None)}
    behind = {shape.frets for shape in shapes(chord("G"), board("banjo", capo=11), first=None)}
    highest = max(fret for frets in behind for fret in frets if fret is not None)
    assert highest <= 22 - 11
    assert {frets for frets in plain if max(f or 0 for f in frets) <= 10} <= behind


def test_the_hand_is_the_one_the_judge_has() -> None:
    """And what it reaches at leisure is little more."""
    assert SPANS_MM == judged.SPANS
    for fingers, (_, most) in SPANS_MM.items():
        assert most <= AT_LEISURE_MM[fingers] <= most + 15


def test_the_fuller_g_of_the_guitar_is_found_too() -> None:
    assert found_on("guitar", "G")["3 2 0 0 3 3"].fingers[::-1] == (2, 1, 0, 0, 3, 4)


NAMES = (
    "G",
    "C",
    "D7",
    "Em",
    "F#m",
    "Bb",
    "A7",
    "Bdim7",
    "Gsus4",
    "E9",
    "F#m7b5",
    "Cmaj7",
    "C/E",
    "Ab",
    "Caug",
)


@given(data=st.data(), name=st.sampled_from(NAMES), closed=st.booleans(), capo=st.sampled_from([0, 2, 4]))
def test_every_shape_sounds_its_chord_and_can_be_struck_by_the_judges_hand(
    data: st.DataObject, name: str, closed: bool, capo: int
) -> None:
    instrument = data.draw(st.sampled_from(all_instruments()))
    where = Fretboard(instrument, data.draw(st.sampled_from(instrument.tunings)), capo)
    wanted = chord(name)
    found = shapes(wanted, where, closed=closed, first=8)
    assert [shape.effort for shape in found] == sorted(shape.effort for shape in found)
    for shape in found:
        heard = {
            (where.pitch(string, fret) - capo) % 12
            for string, fret in enumerate(shape.frets, 1)
            if fret is not None and not (instrument.short_string and string == 5)
        }
        assert heard <= wanted.pitch_classes
        assert len(wanted.pitch_classes) - len(heard) <= len(shape.missing) + (wanted.bass is not None)
        assert not closed or 0 not in shape.frets
        notes = [Note(0, s, f, 480) for s, f in enumerate(shape.frets, 1) if f is not None]
        assert shape.wide or left_hand(notes, instrument, capo).impossible is None


def test_a_wide_shape_says_so() -> None:
    """4 2 1 4: middle and ring two frets apart down there are 65 mm."""
    assert found_on("banjo", "D7")["4 2 1 4"].wide
    assert not found_on("banjo", "D7")["4 5 3 4"].wide


def can_hold(frets: tuple[int, ...], scale_mm: float) -> bool:
    """Whether any fingers at all lie on these strings (highest first), by trying all of them."""
    stopped = [(place, fret) for place, fret in enumerate(frets) if fret]
    for fingers in product((1, 2, 3, 4), repeat=len(stopped)):
        if all(_stands(one, other, frets, scale_mm) for one, other in _pairs(stopped, fingers)) and _barres(
            stopped, fingers, frets
        ):
            return True
    return not stopped


def _pairs(stopped, fingers):  # type: ignore[no-untyped-def]
    laid = sorted(zip(fingers, stopped, strict=True))
    return [(one, other) for i, one in enumerate(laid) for other in laid[i + 1 :]]


def _stands(one, other, frets, scale_mm: float) -> bool:  # type: ignore[no-untyped-def]
    (low, (low_place, low_fret)), (high, (high_place, high_fret)) = one, other
    if low == high:
        return low_fret == high_fret
    apart = scale_mm * (2 ** (-low_fret / 12) - 2 ** (-high_fret / 12))
    if low_fret == high_fret:
        return low_place > high_place
    return 0 <= apart <= AT_LEISURE_MM[low, high]


def _barres(stopped, fingers, frets) -> bool:  # type: ignore[no-untyped-def]
    for finger in set(fingers):
        under = [place for (place, _), f in zip(stopped, fingers, strict=True) if f == finger]
        fret = frets[under[0]]
        if any(frets[place] < fret for place in range(min(under), max(under) + 1)):
            return False
        if finger > 1 and max(under) - min(under) > 1:
            return False
        others = {f for (_, at), f in zip(stopped, fingers, strict=True) if at == fret}
        if len(others) > 3:
            return False
    return True


@pytest.mark.parametrize("instrument", ["banjo", "mandolin", "ukulele"])
@pytest.mark.parametrize("name", ["G", "C", "D", "F#m", "Bb"])
def test_brute_force_over_the_first_five_frets_finds_the_same_triads(instrument: str, name: str) -> None:
    where = board(instrument)
    root, third, fifth = (place * 7 % 12 for place in chord(name).places)
    expected = set()
    for frets in product((None, 0, 1, 2, 3, 4, 5), repeat=4):
        played = [string for string, fret in enumerate(frets, 1) if fret is not None]
        if len(played) < 3 or played[-1] - played[0] >= len(played):
            continue
        heard = {where.pitch(string, frets[string - 1] or 0) % 12 for string in played}
        held = tuple(fret for fret in frets if fret is not None)
        if {root, third} <= heard <= {root, third, fifth} and can_hold(held, where.instrument.scale_mm):
            expected.add(frets)
    found = {shape.frets[:4] for shape in shapes(chord(name), where, first=None)}
    assert {frets for frets in found if max(fret or 0 for fret in frets) <= 5} == expected
    assert expected


@given(frets=st.tuples(*[st.integers(0, 6)] * 4), scale_mm=st.sampled_from([352, 667]))
def test_fingers_are_found_exactly_where_there_are_any(frets: tuple[int, ...], scale_mm: int) -> None:
    assert (fingering(frets, scale_mm) is not None) == can_hold(frets, scale_mm)


def test_double_stops_are_two_neighbouring_strings() -> None:
    for shape in double_stops(chord("D"), board("fiddle")):
        low, high = shape.strings
        assert high - low == 1
