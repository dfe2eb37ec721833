"""Tempos to work up to, the next one to try, and when to try again from memory."""

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.groups.spacing import INTERVALS_DAYS, next_due, revisit_due
from service.groups.work_ups import Advice, Pass, days_played, goals, ladder, next_tempo

TODAY = date(2026, 11, 27)


def test_goals_go_from_a_tunes_lowest_tempo_to_its_highest() -> None:
    assert [goal.bpm for goal in goals(60, 80, 120, None)] == [60, 70, 80, 100, 120]


def test_no_goal_is_faster_than_hands_can_play_the_lick() -> None:
    assert [goal.bpm for goal in goals(60, 80, 120, 90)] == [60, 70, 80, 90, 90]


def test_a_ladder_climbs_from_three_fifths_of_the_goal_by_four_and_ends_on_it() -> None:
    assert ladder(80) == (48, 52, 56, 60, 64, 68, 72, 76, 80)
    assert ladder(83)[-2:] == (82, 83)


@given(st.integers(1, 400))
def test_a_ladder_rises_by_four_at_most_to_the_goal_itself(goal: int) -> None:
    steps = ladder(goal)
    assert steps[-1] == goal
    assert all(0 < b - a <= 4 for a, b in pairwise(steps))


def _passes(*told: tuple[int, str]) -> list[Pass]:
    """(72, "+-+") is three passes at 72, the second not clean."""
    return [Pass(bpm, mark == "+") for bpm, marks in told for mark in marks]


def test_who_has_not_played_it_begins() -> None:
    assert next_tempo([], goal=80, begin=48) == Advice(48, "begin")


def test_three_clean_passes_raise_the_tempo_by_a_step() -> None:
    assert next_tempo(_passes((60, "++")), 80, 48) == Advice(60, "stay")
    assert next_tempo(_passes((60, "+++")), 80, 48) == Advice(64, "step-up")


def test_clean_passes_must_be_in_a_row_and_no_slower() -> None:
    assert next_tempo(_passes((60, "++-+")), 80, 48) == Advice(60, "stay")
    assert next_tempo(_passes((56, "++"), (60, "+")), 80, 48) == Advice(60, "stay")


def test_two_passes_in_a_row_that_were_not_clean_ease_it_off_by_two_steps() -> None:
    assert next_tempo(_passes((72, "+--")), 80, 48) == Advice(64, "ease-off")


def test_the_goal_is_never_passed_and_half_of_it_is_the_least() -> None:
    assert next_tempo(_passes((78, "+++")), 80, 48) == Advice(80, "step-up")
    assert next_tempo(_passes((80, "+++")), 80, 48) == Advice(80, "goal-reached")
    assert next_tempo(_passes((42, "--")), 80, 48) == Advice(40, "ease-off")


def test_after_a_pause_one_begins_a_step_below_the_last_clean_tempo() -> None:
    passes = _passes((72, "+++"), (76, "-"))
    assert next_tempo(passes, 80, 48, days_since=15) == Advice(68, "come-back")
    assert next_tempo(passes, 80, 48, days_since=14) == Advice(76, "stay")


@given(
    st.lists(st.builds(Pass, st.integers(20, 300), st.booleans()), max_size=12),
    st.integers(20, 200), st.integers(0, 60),
)  # fmt: skip
def test_what_is_proposed_is_never_faster_than_the_goal(passes: list[Pass], goal: int, days: int) -> None:
    assert next_tempo(passes, goal, goal * 60 // 100, days).bpm <= goal


def test_days_are_counted_and_never_whether_they_follow_each_other() -> None:
    together = [TODAY - timedelta(days=n) for n in range(4)]
    apart = [TODAY - timedelta(days=7 * n) for n in range(4)]
    assert days_played([*together, *together], TODAY) == days_played(apart, TODAY) == 4
    assert days_played([TODAY - timedelta(days=28), TODAY + timedelta(days=1)], TODAY) == 0


def test_what_was_kept_is_asked_for_later_each_time_and_what_was_not_sooner() -> None:
    step, due = next_due(0, TODAY, kept=True)
    assert (step, due) == (1, TODAY + timedelta(days=3))
    assert next_due(4, TODAY, kept=False) == (2, TODAY + timedelta(days=7))
    assert next_due(0, TODAY, kept=False) == (0, TODAY + timedelta(days=1))


def test_the_longest_pause_is_the_last() -> None:
    last = len(INTERVALS_DAYS) - 1
    assert next_due(last, TODAY, kept=True) == (last, TODAY + timedelta(days=120))


def test_a_tune_is_due_again_after_so_many_days_and_not_before_it_was_ever_played() -> None:
    assert revisit_due(TODAY - timedelta(days=60), TODAY, 60)
    assert not revisit_due(TODAY - timedelta(days=59), TODAY, 60)
    assert not revisit_due(None, TODAY, 60)
