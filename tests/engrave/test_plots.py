"""Plots of clean tempos: nothing outside the picture, round tempos, steps that never fall."""

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.engrave.letters import width_of
from service.engrave.paint import ACCENT, END, MIDDLE, Dot, Line, Text
from service.engrave.plots import Plot, drawn_plot, tempo_lines

FIRST = date(2026, 3, 6)
TEMPOS = st.integers(1, 400)


def _plot(clean: list[tuple[int, int]]) -> Plot:
    """Of (days after the first, tempo)."""
    found = sorted((FIRST + timedelta(after), bpm) for after, bpm in clean)
    rises: dict[date, int] = {}
    for day, bpm in found:
        if bpm > max(rises.values(), default=0):
            rises[day] = bpm
    return Plot("Lick 1", "as a line", "described", tuple(found), tuple(rises.items()))


@given(st.lists(TEMPOS, min_size=1))
def test_lines_go_across_at_round_tempos_around_all_that_was_played(tempos: list[int]) -> None:
    lines = tempo_lines(tempos)
    assert lines[0] <= min(tempos) <= max(tempos) <= lines[-1]
    assert 2 <= len(lines) <= 6
    assert all(line % 5 == 0 for line in lines)
    assert len({higher - lower for lower, higher in pairwise(lines)}) == 1


@given(st.lists(st.tuples(st.integers(0, 400), TEMPOS), min_size=1, max_size=30))
def test_everything_lies_in_the_picture_and_the_line_of_the_best_never_falls(
    clean: list[tuple[int, int]],
) -> None:
    picture = drawn_plot(_plot(clean))
    line: list[tuple[float, float]] = []
    for mark in picture.marks:
        match mark:
            case Dot():
                assert 0 < mark.x - mark.radius < mark.x + mark.radius < picture.width
                assert 0 < mark.y - mark.radius < mark.y + mark.radius < picture.height
            case Text():
                wide = width_of(mark.text, mark.size, mark.bold)
                left = mark.x - {END: wide, MIDDLE: wide / 2}.get(mark.anchor, 0.0)
                assert 0 <= left <= left + wide <= picture.width
                assert mark.size < mark.y < picture.height
            case Line() if mark.role == ACCENT:
                line += [(mark.x1, mark.y1), (mark.x2, mark.y2)]
    assert line == sorted(line, key=lambda point: (point[0], -point[1]))  # y goes down
    assert sum(isinstance(mark, Dot) for mark in picture.marks) == len(clean)


def test_the_best_is_drawn_up_to_the_last_day_though_less_was_played_then() -> None:
    picture = drawn_plot(_plot([(0, 60), (10, 80), (20, 70)]))
    dots = [mark for mark in picture.marks if isinstance(mark, Dot)]
    best = [mark for mark in picture.marks if isinstance(mark, Line) and mark.role == ACCENT]
    assert [(mark.x1, mark.y1, mark.x2, mark.y2) for mark in best] == [
        (dots[0].x, dots[0].y, dots[1].x, dots[0].y),
        (dots[1].x, dots[0].y, dots[1].x, dots[1].y),
        (dots[1].x, dots[1].y, dots[2].x, dots[1].y),
    ]


def test_a_picture_of_nothing_is_low_and_holds_words_alone() -> None:
    picture = drawn_plot(_plot([]))
    assert picture.height < drawn_plot(_plot([(0, 60)])).height / 2
    assert all(isinstance(mark, Text) for mark in picture.marks)
