"""Parts played twice are written once where they are the same, with endings where they differ at the end."""

from dataclasses import replace

from service.music.breaks import end_to_end, part_of
from service.music.folding import folded
from service.music.scores import Repeat, Score, Section, Span
from tests.engrave.scores import passage_of, score_of

FOUR = "32514251, 32514251, 32514251, "
CHORDS = "| G | C | D | G "


def _score(*ends: str) -> Score:
    """A four-measure part played as often as there are last measures, section by section."""
    text = ", ".join(FOUR + end for end in ends)
    passage = passage_of(text, CHORDS * len(ends) + "|")
    sections = tuple(Section(n * 4 * 1920, "A") for n in range(len(ends)))
    spans = tuple(Span(n * 3840, 3840, f"{n % 2 + 1}") for n in range(2 * len(ends)))
    return score_of(passage, sections=sections, phrases=spans)


def test_a_part_that_comes_again_is_written_once() -> None:
    made = folded(_score("3 - - - - - - -", "3 - - - - - - -"))
    assert made.repeats == (Repeat(0, 3),)
    assert len(made.passage.measures) == 4
    assert [s.name for s in made.sections] == ["A"]
    assert [c.chord.name for c in made.passage.changes if c.chord] == ["G", "C", "D", "G"]


def test_what_differs_at_the_end_makes_endings() -> None:
    made = folded(_score("3 - - - - - - -", "4 - - - - - - -"))
    assert made.repeats == (Repeat(0, 3, 3),)
    assert len(made.passage.measures) == 5
    assert [(n.onset // 1920, n.string) for n in made.passage.notes if n.onset >= 3 * 1920] == [
        (3, 3),
        (4, 4),
    ]


def test_a_part_that_differs_earlier_is_written_out() -> None:
    score = _score("3 - - - - - - -", "3 - - - - - - -")
    first = score.passage.notes[0]
    other = replace(
        score, passage=replace(score.passage, notes=(replace(first, fret=2), *score.passage.notes[1:]))
    )
    assert folded(other) == other


def test_three_times_is_twice_and_once() -> None:
    made = folded(_score(*["3 - - - - - - -"] * 3))
    assert made.repeats == (Repeat(0, 3),)
    assert len(made.passage.measures) == 8


def test_part_of_and_end_to_end_are_inverse_for_what_has_no_pickup() -> None:
    whole = _score("3 - - - - - - -", "4 - - - - - - -").passage
    first = part_of(replace(whole, notes=tuple(n for n in whole.notes if n.onset < 4 * 1920)), 0, 4)
    second = part_of(replace(whole, notes=tuple(n for n in whole.notes if n.onset >= 4 * 1920)), 4, 8)
    again = end_to_end(first, second)
    assert again.notes == whole.notes
    assert again.measures == whole.measures
    assert [c for c in again.changes if c.onset != 4 * 1920] == [
        c for c in whole.changes if c.onset != 4 * 1920
    ]


def test_the_pickup_of_the_second_replaces_the_tail_of_the_first() -> None:
    one = passage_of("32514251", "| G |")
    other = passage_of("5 1; 32514251", "| C |")
    both = end_to_end(one, other)
    assert [(n.onset, n.string) for n in both.notes if 1200 <= n.onset < 1920] == [
        (1200, 2),
        (1440, 5),
        (1680, 1),
    ]


def test_other_fingers_alone_make_no_other_part() -> None:
    score = _score("3 - - - - - - -", "3 - - - - - - -")
    notes = [replace(n, finger="T" if n.onset < 4 * 1920 else "I") for n in score.passage.notes]
    made = folded(replace(score, passage=replace(score.passage, notes=tuple(notes))))
    assert made.repeats == (Repeat(0, 3),)
    assert {n.finger for n in made.passage.notes} == {"T"}
