"""Tempos to aim at, and the one to play next."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.groups.work_ups import Advice, Pass, days_played, goals, next_tempo

bpms = st.integers(30, 320)
logs = st.lists(st.builds(Pass, st.integers(60, 130), st.booleans()), max_size=8)


def _passes(text: str) -> list[Pass]:
    """``80+ 84-``: clean at 80, then not clean at 84."""
    return [Pass(int(word[:-1]), word[-1] == "+") for word in text.split()]


def test_levels_climb_from_the_lowest_tempo_by_the_usual_one_to_the_highest() -> None:
    assert [(g.level, g.bpm) for g in goals(60, 85, 120, None)] == [
        (1, 60),
        (2, 73),  # midway is 72.5: half goes up
        (3, 85),
        (4, 103),
        (5, 120),
    ]


def test_no_goal_is_above_the_comfortable_tempo_of_the_base_lick() -> None:
    assert [g.bpm for g in goals(60, 80, 120, 90)] == [60, 70, 80, 90, 90]
    assert [g.bpm for g in goals(60, 80, 120, 50)] == [50] * 5


def test_a_ladder_climbs_from_sixty_percent_by_fours_to_the_goal() -> None:
    lowest, *_, highest = goals(60, 80, 102, None)
    assert lowest.ladder == (36, 40, 44, 48, 52, 56, 60)
    assert highest.ladder == (61, 65, 69, 73, 77, 81, 85, 89, 93, 97, 101, 102)  # 61.2 rounded


@given(st.tuples(bpms, bpms, bpms).map(sorted), st.none() | bpms)
def test_goals_never_fall_and_every_ladder_ends_at_its_goal(tempos: list[int], top: int | None) -> None:
    low, start, high = tempos
    found = goals(low, start, high, top)
    assert [g.level for g in found] == [1, 2, 3, 4, 5]
    assert [g.bpm for g in found] == sorted(g.bpm for g in found)
    for goal in found:
        assert goal.ladder[-1] == goal.bpm <= (top or high)
        assert abs(goal.ladder[0] - 0.6 * goal.bpm) <= 0.5
        steps = [after - before for before, after in pairwise(goal.ladder)]
        assert steps[:-1] == [4] * (len(steps) - 1)
        assert 1 <= steps[-1] <= 4


@pytest.mark.parametrize(
    ("log", "bpm", "code"),
    [
        ("", 60, "begin"),
        ("80+", 80, "stay"),
        ("80+ 80+", 80, "stay"),
        ("80+ 80+ 80+", 84, "step-up"),
        ("80+ 84+ 82+", 84, "step-up"),  # at 80 or faster
        ("80+ 80+ 84+", 84, "stay"),  # is there already
        ("80+ 96+ 96+", 96, "stay"),  # went on alone: not called back
        ("80+ 80+ 80+ 84+", 84, "stay"),
        ("80+ 80+ 80+ 84+ 84+ 84+", 88, "step-up"),
        ("80+ 80+ 80- 80+", 80, "stay"),  # in a row, that is
        ("80+ 80+ 80-", 80, "stay"),
        ("80- 80-", 72, "ease-off"),
        ("80+ 80+ 80+ 84- 84-", 76, "ease-off"),
        ("80- 80+ 80-", 80, "stay"),
        ("80- 84-", 76, "ease-off"),  # not clean at 80, so not at 84 either
        ("84- 80-", 80, "stay"),  # has slowed down already
        ("80- 80- 72+", 72, "stay"),
        ("52- 52-", 50, "ease-off"),  # the floor: half of 100
        ("50- 50-", 50, "stay"),
        ("40- 40-", 40, "stay"),  # below it by choice: not sent up
        ("98+ 98+ 98+", 100, "step-up"),  # the last step is shorter
        ("100+ 100+ 100+", 100, "goal-reached"),
        ("100+ 104+ 108+", 100, "goal-reached"),
        ("98+ 98+ 101+", 100, "stay"),
        ("96+ 100+ 100+", 100, "stay"),
        ("100+ 100+", 100, "stay"),
        ("120+", 100, "stay"),
        ("120- 120-", 92, "ease-off"),  # from the goal
    ],
)
def test_the_next_tempo_towards_a_goal_of_100(log: str, bpm: int, code: str) -> None:
    assert next_tempo(_passes(log), goal=100, begin=60) == Advice(bpm, code)


@pytest.mark.parametrize(
    ("log", "days", "bpm", "code"),
    [
        ("80+ 80+ 80+", 14, 84, "step-up"),
        ("80+ 80+ 80+", 15, 76, "come-back"),
        ("80+ 84- 84-", 15, 76, "come-back"),  # from the last clean one
        ("80+ 76+", 15, 72, "come-back"),
        ("84- 84-", 15, 60, "begin"),  # none was clean
        ("52+", 15, 50, "come-back"),
        ("44+", 15, 44, "come-back"),
        ("120+", 15, 96, "come-back"),
        ("", 15, 60, "begin"),
    ],
)
def test_the_next_tempo_after_a_pause(log: str, days: int, bpm: int, code: str) -> None:
    assert next_tempo(_passes(log), goal=100, begin=60, days_since=days) == Advice(bpm, code)


def test_nobody_begins_above_the_goal() -> None:
    assert next_tempo([], goal=50, begin=60) == Advice(50, "begin")


@given(logs, st.integers(60, 130), st.integers(0, 20))
def test_what_is_advised_is_never_above_the_goal_and_says_which_way_it_goes(
    log: list[Pass], goal: int, days: int
) -> None:
    advice = next_tempo(log, goal, 60, days)
    assert advice.bpm <= goal
    if not log:
        return
    last = min(log[-1].bpm, goal)
    holds = {
        "begin": advice.bpm == 60,
        "stay": advice.bpm == last,
        "step-up": last < advice.bpm <= last + 4,
        "goal-reached": advice.bpm == goal,
        "ease-off": advice.bpm == max(last - 8, (goal + 1) // 2),
        "come-back": days > 14 and advice.bpm < goal,
    }
    assert holds[advice.code]


def test_who_plays_all_clean_climbs_the_ladder_to_the_goal() -> None:
    ladder = goals(60, 80, 102, None)[4].ladder
    played: list[Pass] = []
    while (advice := next_tempo(played, 102, ladder[0])).code != "goal-reached":
        played.append(Pass(advice.bpm, clean=True))
    assert [one.bpm for one in played] == [bpm for bpm in ladder for _ in range(3)]


def test_days_are_counted_and_not_chained() -> None:
    today = date(2026, 3, 29)
    ago = [today - timedelta(days=n) for n in (0, 0, 1, 5, 27, 28, 400, -1)]
    assert days_played(ago, today) == 4  # today, yesterday, five and twenty-seven days ago
    assert days_played(reversed(ago), today, window=2) == 2
    assert days_played([], today) == 0
