"""Tunings, shapes on the neck, the fifth string. Tunings: letter names published, octaves common practice."""

import pytest

from service.errors import DomainError
from service.music.fretboard import Fretboard, Place
from service.music.harmony import chord_named, key_named
from service.music.instruments import all_instruments, instrument_named
from service.music.setting import make_setting

# MIDI numbers, fifth (or lowest) string first, as in the published tables
TUNINGS = {
    ("banjo", "open-g"): [67, 50, 55, 59, 62],
    ("banjo", "c"): [67, 48, 55, 59, 62],
    ("banjo", "double-c"): [67, 48, 55, 60, 62],
    ("banjo", "sawmill"): [67, 50, 55, 60, 62],
    ("banjo", "open-d"): [66, 50, 54, 57, 62],  # from memory
    ("guitar", "standard"): [40, 45, 50, 55, 59, 64],
    ("guitar", "drop-d"): [38, 45, 50, 55, 59, 64],
    ("mandolin", "standard"): [55, 62, 69, 76],
    ("fiddle", "standard"): [55, 62, 69, 76],
    ("resonator-guitar", "open-g"): [43, 47, 50, 55, 59, 62],
    ("ukulele", "standard"): [67, 60, 64, 69],
    ("upright-bass", "standard"): [28, 33, 38, 43],
}


def test_every_tuning_has_its_pitches() -> None:
    ours = {(i.id, t.id): list(t.pitches[::-1]) for i in all_instruments() for t in i.tunings}
    assert ours == TUNINGS


# frets on strings 4-3-2-1 of an open-G banjo -> chord (computed)
SHAPES = [
    ((3, 2, 1, 3), "F"), ((5, 4, 3, 5), "G"), ((10, 9, 8, 10), "C"),
    ((4, 2, 3, 4), "D"), ((9, 7, 8, 9), "G"), ((2, 0, 1, 2), "C"),
    ((0, 0, 0, 0), "G"), ((5, 5, 5, 5), "C"), ((7, 7, 7, 7), "D"),
    ((3, 2, 1, 1), "F7"), ((5, 4, 3, 3), "G7"), ((5, 5, 5, 8), "C7"), ((0, 0, 0, 3), "G7"),
    ((3, 1, 1, 3), "Fm"), ((3, 2, 3, 3), "Dm"), ((5, 5, 4, 5), "Cm"),
    ((7, 5, 7, 0), "D7"),
]  # fmt: skip
# complete but for the tone named (computed)
INCOMPLETE = [
    ((4, 5, 3, 4), "D7", 9), ((2, 3, 1, 2), "C7", 7),  # no fifth
    ((0, 2, 1, 0), "D7", 6), ((4, 2, 1, 4), "D7", 2),  # no third, no root
]  # fmt: skip


def _classes(frets: tuple[int, ...]) -> set[int]:
    banjo = instrument_named("banjo")
    board = Fretboard(banjo, banjo.tuning())
    return {board.pitch(string, fret) % 12 for string, fret in zip((4, 3, 2, 1), frets, strict=True)}


@pytest.mark.parametrize(("frets", "name"), SHAPES)
def test_a_shape_sounds_its_chord(frets: tuple[int, ...], name: str) -> None:
    chord = chord_named(name)
    assert chord is not None
    assert _classes(frets) == chord.pitch_classes


@pytest.mark.parametrize(("frets", "name", "missing"), INCOMPLETE)
def test_a_seventh_shape_may_leave_one_tone_out(frets: tuple[int, ...], name: str, missing: int) -> None:
    chord = chord_named(name)
    assert chord is not None
    assert _classes(frets) == chord.pitch_classes - {missing}


def test_a_diminished_seventh_is_minor_thirds_all_the_way() -> None:
    assert {(p - 4) % 3 for p in _classes((1, 2, 1, 4))} == {(_classes((1, 2, 1, 4)).pop() - 4) % 3}
    assert len(_classes((1, 2, 1, 4))) == 4


def test_e4_has_six_places_on_a_24_fret_guitar() -> None:  # computed
    from dataclasses import replace

    guitar = replace(instrument_named("guitar"), frets=24)
    places = Fretboard(guitar, guitar.tuning()).places(64)
    assert places == (Place(1, 0), Place(2, 5), Place(3, 9), Place(4, 14), Place(5, 19), Place(6, 24))


def test_every_place_of_a_pitch_sounds_it_and_none_is_missed() -> None:
    for instrument in all_instruments():
        for tuning in instrument.tunings:
            board = Fretboard(instrument, tuning, capo=2)
            every = {
                (string, fret): board.pitch(string, fret)
                for string in range(1, instrument.strings + 1)
                for fret in range(instrument.frets + 1)
                if board.refuses(string, fret) is None
            }
            for pitch in set(every.values()):
                found = {(place.string, place.fret) for place in board.places(pitch)}
                assert found == {at for at, sounds in every.items() if sounds == pitch}


# capo -> (fret of the fifth string's stop, its pitch): the usual choice, common practice
STOPS = {0: (0, 67), 2: (7, 69), 3: (8, 70), 4: (9, 71)}


@pytest.mark.parametrize(("capo", "stop_fret", "pitch"), [(k, *v) for k, v in STOPS.items()])
def test_the_fifth_string_goes_up_with_the_capo(capo: int, stop_fret: int, pitch: int) -> None:
    key = {0: "G", 2: "A", 3: "Bb", 4: "B"}[capo]
    setting = make_setting(instrument_named("banjo"), tuning=None, sounding=key_named(key), capo=capo)
    assert setting.position.name == "G"
    assert setting.stop_fret == stop_fret
    assert setting.fretboard.pitch(5, 0) == pitch


@pytest.mark.parametrize(("capo", "fret", "pitch"), [(0, 6, 68), (0, 7, 69), (2, 7, 71), (0, 10, 72)])
def test_a_fretted_fifth_string_is_counted_from_the_capo(capo: int, fret: int, pitch: int) -> None:
    banjo = instrument_named("banjo")
    assert Fretboard(banjo, banjo.tuning(), capo).pitch(5, fret) == pitch  # 67 + k + (n - 5), computed


def test_the_stop_does_not_move_fretted_notes() -> None:
    banjo = instrument_named("banjo")
    assert Fretboard(banjo, banjo.tuning(), 0, stop=69).pitch(5, 7) == 69
    assert Fretboard(banjo, banjo.tuning(), 0, stop=69).pitch(5, 0) == 69


@pytest.mark.parametrize("fret", [1, 5])
def test_there_is_no_fret_below_the_start_of_the_fifth_string(fret: int) -> None:
    banjo = instrument_named("banjo")
    assert Fretboard(banjo, banjo.tuning()).refuses(5, fret) == "under-the-stop"


# sounding key, position, capo (common practice)
@pytest.mark.parametrize(
    ("key", "position", "capo"),
    [("A", "G", 2), ("B", "G", 4), ("D", "G", 7), ("D", "C", 2), ("D", "D", 0), ("C", "C", 0), ("C", "G", 5),
     ("Em", "Em", 0), ("F#m", "Em", 2)],
)  # fmt: skip
def test_position_and_capo_make_the_sounding_key(key: str, position: str, capo: int) -> None:
    banjo = instrument_named("banjo")
    setting = make_setting(banjo, tuning=None, sounding=key_named(key), position=position, capo=capo)
    assert setting.sounding == key_named(key)


def test_a_position_that_does_not_sound_says_which_capo_would() -> None:
    with pytest.raises(DomainError) as caught:
        make_setting(instrument_named("banjo"), tuning=None, sounding=key_named("A"), position="G", capo=3)
    assert caught.value.code == "position-does-not-sound"
    assert caught.value.params["right_capo"] == 2
    assert caught.value.params["heard"] == "Bb"


def test_changes_are_thought_in_the_position() -> None:
    setting = make_setting(
        instrument_named("banjo"), tuning=None, sounding=key_named("A"), position="G", capo=2
    )
    names = [setting.to_position(chord_named(name), key_named("A")) for name in ("A", "G", "E7", "F#m")]
    assert [chord.name for chord in names if chord] == ["G", "F", "D7", "Em"]
