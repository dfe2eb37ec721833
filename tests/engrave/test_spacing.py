"""Where things stand: nothing is lost, nothing lies on anything else, every line fills the page."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engrave.letters import shortened, width_of
from service.engrave.looks import DIGIT, PHONE, WIDE, Look, paper
from service.engrave.spacing import systems
from service.music.harmony import key_named
from service.music.passages import Passage
from service.music.scores import Beat, Repeat, Score, Span
from tests.engrave.scores import ROLL, passage_of, score_of
from tests.strategies import passages

LOOKS = (PHONE, WIDE, paper("a4"), paper("letter", large=True))


def _plain(passage: Passage) -> Score:
    return Score("A tune", passage, key_named("G"), Beat(84, passage.meter.beat_unit))


@given(passages(), st.sampled_from(LOOKS))
def test_every_note_stands_in_one_column_in_order(passage: Passage, look: Look) -> None:
    found = systems(_plain(passage), look)
    columns = [c for system in found for placed in system.measures for c in placed.columns]
    struck = sorted((note.onset, note.string) for column in columns for note in column.struck)
    tied = {(n.onset, n.string) for n in passage.notes if n.technique == "tie"}
    assert [pair for pair in struck if pair not in tied] == sorted(
        (n.onset, n.string) for n in passage.notes if n.technique != "tie"
    )
    assert [c.onset for c in columns] == sorted(c.onset for c in columns)


@given(passages(), st.sampled_from(LOOKS))
def test_lines_lie_within_the_margins_and_digits_apart(passage: Passage, look: Look) -> None:
    for system in systems(_plain(passage), look):
        assert system.left >= look.margin - 0.01
        assert system.right <= look.width - look.margin + 0.01
        xs = [column.x for placed in system.measures for column in placed.columns]
        assert all(a < b for a, b in pairwise(xs))
        for placed in system.measures:
            assert placed.left < placed.columns[0].x < placed.right
            assert placed.columns[-1].x < placed.right


def test_two_measures_of_a_roll_fill_a_line_of_a_phone() -> None:
    """A phrase of two measures to a line: what a phone shows at a glance."""
    passage = passage_of(", ".join(["32514251"] * 16), "| G " * 16 + "|")
    spans = tuple(Span(n * 3840, 3840, f"phrase {n + 1}") for n in range(8))
    found = systems(score_of(passage, phrases=spans), PHONE)
    assert [len(system.measures) for system in found] == [2] * 8
    assert all(abs(system.right - (PHONE.width - PHONE.margin)) < 0.01 for system in found[:-1])


def test_on_paper_a_line_holds_two_phrases() -> None:
    passage = passage_of(", ".join(["32514251"] * 16), "| G " * 16 + "|")
    spans = tuple(Span(n * 3840, 3840, f"phrase {n + 1}") for n in range(8))
    found = systems(score_of(passage, phrases=spans), paper())
    assert [len(system.measures) for system in found] == [4, 4, 4, 4]


def test_two_digit_frets_do_not_touch() -> None:
    passage = passage_of(
        "1.12 1.10 1.12 1.10 1.12 1.10 1.12 1.10, 1.17 1.15 1.14 1.12 1.10 1.12 1.14 1.15", "| G | G |"
    )
    for look in LOOKS:
        (first, *_) = systems(score_of(passage), look)
        xs = [c.x for c in first.measures[0].columns]
        assert min(b - a for a, b in pairwise(xs)) > width_of("12", look.of(DIGIT)) + 2


def test_chord_names_push_columns_apart_until_they_do_not_touch() -> None:
    passage = passage_of("3 2 1 5 3 2 1 5", "| F#m7b5 . Bbmaj7 Ebmaj7 |")
    (line,) = systems(score_of(passage), PHONE)
    onsets = [change.onset for change in passage.changes]
    xs = [line.x_at(onset) for onset in onsets]
    names = [change.chord.name for change in passage.changes if change.chord]
    for (a, b), name in zip(pairwise(xs), names, strict=False):
        assert b - a > width_of(name, 12.5, True)


@pytest.mark.parametrize("look", LOOKS)
def test_a_pickup_stays_with_the_measure_it_leads_into(look: Look) -> None:
    passage = passage_of("5 1; 32514251, 32514251", "| G | G |")
    first = systems(score_of(passage), look)[0]
    assert [placed.measure.number for placed in first.measures][:2] == [0, 1]


def test_the_dots_of_a_repeat_have_room_beside_the_first_and_the_last_note() -> None:
    passage = passage_of("4.2 /4 2 5 1 3 2 5, 3 2 5 1 3 2 5 1", "| G | G |")
    plain, repeated = (
        systems(score_of(passage, repeats=repeats, phrases=()), PHONE)[0].measures
        for repeats in ((), (Repeat(0, 1),))
    )
    assert repeated[0].columns[0].x - repeated[0].left >= plain[0].columns[0].x - plain[0].left + 6
    assert repeated[1].right - repeated[1].columns[-1].x > 12


def test_a_text_is_shortened_to_its_room() -> None:
    assert shortened("Weathervane swinging round", 10, 500) == "Weathervane swinging round"
    cut = shortened("Weathervane swinging round", 10, 60)
    assert cut.endswith("…")
    assert width_of(cut, 10) <= 60
    assert shortened("Weathervane", 10, 3) == ""


def test_a_roll_line_of_the_one_line_form_is_drawn_in_even_steps() -> None:
    (line,) = systems(score_of(passage_of(ROLL, "| G | G |")), PHONE)
    steps = [b.x - a.x for a, b in pairwise(line.measures[0].columns)]
    assert max(steps) - min(steps) < 0.01
