"""Does a line fit its chords? Examples by common practice, no source, unless said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge import judge_fit
from service.judge.fit import fit_of
from service.music.harmony import chord_named, key_named
from service.music.meter import meter_named

E = 240  # an eighth in ticks


def _eighths(*pitches: int) -> list[tuple[int, int, int]]:
    return [(i * E, E, p) for i, p in enumerate(pitches)]


def test_a_roll_of_chord_tones_scores_one() -> None:
    fit = judge_fit(_eighths(55, 59, 62, 55, 50, 59, 62, 55), [(0, "G")], "2/2", "G")
    assert fit.score == 1.0
    assert fit.hurts == ()


def test_a_foreign_tone_on_a_strong_beat_hurts_and_is_named() -> None:
    fit = judge_fit(_eighths(56, 59, 62, 55, 50, 59, 62, 55), [(0, "G")], "2/2", "G")
    assert [(h.onset, h.pitch, h.chord) for h in fit.hurts] == [(0, 56, "G")]
    assert fit.hurts[0].mend in (55, 59)  # the nearest tone of the chord
    assert fit.score < 0.85


def test_the_same_tone_off_the_beat_costs_little() -> None:
    on = judge_fit(_eighths(56, 59, 62, 55, 50, 59, 62, 55), [(0, "G")], "2/2", "G").score
    off = judge_fit(_eighths(55, 56, 62, 55, 50, 59, 62, 55), [(0, "G")], "2/2", "G").score
    assert off > 0.9 > on


def test_the_drone_is_heard_over_any_chord() -> None:
    notes = _eighths(48, 67, 52, 67, 48, 67, 52, 67)
    chords = [(0, chord_named("F#"))]
    meter, key = meter_named("2/2"), key_named("G")
    heard = fit_of(notes, chords, meter, key, drones={1, 3, 5, 7})
    assert [heard.classes[i] for i in (1, 3, 5, 7)] == ["drone"] * 4
    others = [note for note in notes if note[2] != 67]
    assert heard.score == pytest.approx(fit_of(others, chords, meter, key).score)


def test_a_lick_fits_the_chord_that_sounds_at_the_time() -> None:
    notes = _eighths(55, 59, 62, 55, 60, 64, 67, 60)
    assert judge_fit(notes, [(0, "G"), (4 * E, "C")], "2/2", "G").share == 1.0
    assert judge_fit(notes, [(0, "C"), (4 * E, "G")], "2/2", "G").share < 0.6


def test_a_chord_of_the_key_fits_its_own_notes_better_than_others() -> None:
    for name, pitches in {
        "C": (60, 64, 67),
        "D7": (62, 66, 60),
        "Em": (64, 67, 71),
        "F": (53, 57, 60),
    }.items():
        notes = _eighths(*(pitches * 3)[:8])
        own = judge_fit(notes, [(0, name)], "2/2", "G").score
        assert own == max(
            judge_fit(notes, [(0, n)], "2/2", "G").score for n in ("G", "C", "D7", "Em", "F", "Am")
        )


def test_a_third_slid_into_from_a_semitone_below_does_not_hurt() -> None:
    slid = [(0, E, 51), (E, E, 52), (2 * E, 2 * E, 60), (4 * E, 4 * E, 55)]
    assert judge_fit(slid, [(0, "C")], "2/2", "G").hurts == ()
    stays = [(0, 2 * E, 51), (2 * E, 2 * E, 60), (4 * E, 4 * E, 55)]
    assert [h.pitch for h in judge_fit(stays, [(0, "C")], "2/2", "G").hurts] == [51]


def test_no_chord_fits_everything() -> None:
    assert judge_fit(_eighths(56, 61, 66), [(0, "N.C.")], "2/2", "G").score == 1.0


@given(
    st.lists(st.tuples(st.integers(0, 15), st.integers(48, 80)), min_size=1, max_size=16),
    st.sampled_from(["G", "C", "D7", "Em", "Am"]),
    st.integers(1, 11),
)
def test_moving_notes_chord_and_key_together_changes_nothing(
    drawn: list[tuple[int, int]], chord: str, by: int
) -> None:
    from service.music.pitch import pitch_class, tone_name

    read = chord_named(chord)
    assert read is not None
    up = next(step for step in range(-6, 6) if pitch_class(step) == by)
    notes = [(slot * E, E, pitch) for slot, pitch in sorted(drawn)]
    moved = [(onset, length, pitch + by) for onset, length, pitch in notes]
    here = judge_fit(notes, [(0, chord)], "2/2", "G")
    there = judge_fit(moved, [(0, read.moved(up).name)], "2/2", tone_name(key_named("G").tonic + up))
    assert there.score == pytest.approx(here.score)
    assert [h.onset for h in there.hurts] == [h.onset for h in here.hurts]


def test_notes_and_changes_may_come_in_any_order_and_classes_answer_in_that_of_the_notes() -> None:
    notes = [(960, 240, 61), (0, 240, 55)]
    assert judge_fit(notes, [(0, "G")], "2/2", "G").classes == ("blue", "root")
    ordered = judge_fit(_eighths(55, 59, 62, 55, 60, 64, 67, 60), [(0, "G"), (960, "C")], "2/2", "G")
    turned = judge_fit(_eighths(55, 59, 62, 55, 60, 64, 67, 60), [(960, "C"), (0, "G")], "2/2", "G")
    assert ordered == turned


def test_each_note_has_the_class_that_a_player_would_name() -> None:
    """Over G, then C: root, passing A, third, anticipated C, and over C its third and fifth."""
    line = [(0, 240, 55), (240, 240, 57), (480, 240, 59), (720, 240, 60), (960, 480, 64), (1440, 480, 67)]
    fit = judge_fit(line, [(0, "G"), (960, "C")], "2/2", "G")
    assert fit.classes == ("root", "passing", "third", "anticipation", "third", "fifth")
    held = judge_fit([(0, 960, 55), (960, 480, 55), (1440, 480, 57)], [(0, "G"), (960, "F")], "2/2", "C")
    assert held.classes[1] == "suspension"
    around = judge_fit([(0, 480, 59), (480, 240, 60), (720, 240, 59)], [(0, "G")], "2/2", "G")
    assert around.classes == ("third", "neighbour", "third")
    lead_in = judge_fit([(-240, 240, 57), (0, 960, 59)], [(0, "G")], "2/2", "G")
    assert lead_in.classes == ("pickup", "third")
