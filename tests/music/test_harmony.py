"""Pitches, keys, chords. Chord pitch classes: computed; spelling and transposition: music21 as the oracle."""

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import DomainError
from service.music.harmony import chord_named, key_named, same_harmony
from service.music.pitch import fifths, frequency, nearest_spelling, pitch_class, tone_name


@pytest.mark.parametrize(
    ("name", "classes"),
    [  # computed
        ("G", {7, 11, 2}),
        ("G7", {7, 11, 2, 5}),
        ("Gm", {7, 10, 2}),
        ("C7", {0, 4, 7, 10}),
        ("D7", {2, 6, 9, 0}),
        ("Em", {4, 7, 11}),
        ("Bdim7", {11, 2, 5, 8}),
        ("F", {5, 9, 0}),  # bVII in G
        ("E", {4, 8, 11}),  # V in A
        ("C/E", {0, 4, 7}),
        ("G/A", {7, 11, 2, 9}),
    ],
)
def test_a_chord_name_gives_its_pitch_classes(name: str, classes: set[int]) -> None:
    chord = chord_named(name)
    assert chord is not None
    assert chord.pitch_classes == classes


def test_chord_tones_are_spelled_as_musicians_spell_them() -> None:
    spelled = {
        "D7": ("D", "F#", "A", "C"),
        "F#m7b5": ("F#", "A", "C", "E"),
        "Bb": ("Bb", "D", "F"),
        "C#7": ("C#", "E#", "G#", "B"),
        "Ebm": ("Eb", "Gb", "Bb"),
        "E7#9": ("E", "G#", "B", "D", "F##"),
    }
    for name, tones in spelled.items():
        chord = chord_named(name)
        assert chord is not None
        assert chord.tones == tones


# what music21 calls the same qualities
_FIGURES = {
    "": "", "m": "m", "7": "7", "maj7": "maj7", "m7": "m7", "dim": "dim", "dim7": "dim7", "m7b5": "m7b5",
    "aug": "+", "6": "6", "m6": "m6", "9": "9", "maj9": "M9", "m9": "m9", "sus4": "sus4", "sus2": "sus2",
}  # fmt: skip
_ROOTS = ["C", "G", "D", "A", "E", "B", "F#", "F", "Bb", "Eb", "Ab", "Db"]


@pytest.mark.parametrize("quality", _FIGURES)
def test_spelling_agrees_with_music21_on_every_root(quality: str) -> None:
    for root in _ROOTS:
        ours = chord_named(root + quality)
        theirs = music21.harmony.ChordSymbol(root.replace("b", "-") + _FIGURES[quality])
        assert ours is not None
        assert set(ours.tones) == {p.name.replace("-", "b") for p in theirs.pitches}, root + quality


_STEPS = {"P5": 1, "M2": 2, "M6": 3, "M3": 4, "P4": -1, "m7": -2, "m3": -3, "m2": -5}


@given(
    st.sampled_from(_ROOTS), st.sampled_from(["", "m", "7", "dim7", "maj7"]), st.sampled_from(sorted(_STEPS))
)
def test_transposition_agrees_with_music21(root: str, quality: str, interval: str) -> None:
    ours = chord_named(root + quality)
    assert ours is not None
    moved = ours.moved(_STEPS[interval])
    theirs = music21.pitch.Pitch(root.replace("b", "-")).transpose(interval)
    assert tone_name(moved.root) == theirs.name.replace("-", "b")
    by = music21.interval.Interval(interval).semitones
    assert moved.pitch_classes == {(p + by) % 12 for p in ours.pitch_classes}


@pytest.mark.parametrize("written", ["Gmaj", "GM", "G major", "Gmajor"])
def test_major_is_written_in_several_ways(written: str) -> None:
    assert chord_named(written.replace(" ", "")) == chord_named("G")


@pytest.mark.parametrize("written", ["H", "G%", "", "/E", "C/", "C/H", "m", "Gbb7b", "g", "1"])
def test_what_is_no_chord_is_named_in_the_error(written: str) -> None:
    with pytest.raises(DomainError) as caught:
        chord_named(written)
    assert caught.value.code == "unknown-chord"
    assert caught.value.params == {"name": written}


def test_no_chord_is_none() -> None:
    assert chord_named("N.C.") is None
    assert chord_named("NC") is None


@pytest.mark.parametrize(
    ("key", "number", "name"),
    [("G", "1", "G"), ("G", "4", "C"), ("G", "57", "D7"), ("A", "5", "E"), ("G", "b7", "F"), ("D", "6m", "Bm"),
     ("G", "2m7", "Am7"), ("Bb", "4", "Eb"), ("G", "1/3", "G/B")],
)  # fmt: skip
def test_numbers_are_relative_to_the_key(key: str, number: str, name: str) -> None:
    chord = chord_named(number, key_named(key))
    assert chord is not None
    assert chord.name == name


def test_a_lick_over_g_is_at_home_over_g7_but_not_over_gm() -> None:
    assert same_harmony(chord_named("G"), chord_named("G7"))
    assert not same_harmony(chord_named("G"), chord_named("Gm"))
    assert same_harmony(None, None)
    assert not same_harmony(None, chord_named("G"))


@pytest.mark.parametrize(
    ("name", "signature"), [("G", 1), ("A", 3), ("D", 2), ("Em", 1), ("Bb", -2), ("F# minor", 3), ("Cm", -3)]
)
def test_keys_have_their_signatures(name: str, signature: int) -> None:
    assert key_named(name).signature == signature


@given(st.integers(0, 127), st.integers(-6, 6))
def test_a_pitch_has_a_spelling_near_any_key(pitch: int, key: int) -> None:
    place = nearest_spelling(pitch, key)
    assert pitch_class(place) == pitch % 12
    assert fifths(tone_name(place)) == place


@pytest.mark.parametrize(
    ("pitch", "hertz"),
    [(69, 440.0), (50, 146.832), (55, 195.998), (59, 246.942), (62, 293.665), (67, 391.995)],
)  # ISO 16:1975 for 440 Hz, published; the rest computed
def test_frequencies_are_those_of_iso_16(pitch: int, hertz: float) -> None:
    assert frequency(pitch) == pytest.approx(hertz, abs=0.001)
