"""Working a tune up: tempos to aim at, and the one to play next. Tempos are in the tune's own beats a minute.

Nothing here says how often anybody should play: days are counted, never chained.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

# All of these are common practice, no source.
START_SHARE = 60  # percent of the goal at which a ladder begins
FLOOR_SHARE = 50  # percent of the goal below which nobody is sent back
STEP_BPM = 4
CLEAN_PASSES = 3  # in a row, before it goes faster
MISSED_PASSES = 2  # in a row, before it goes slower
BACK_STEPS = 2
REST_DAYS = 14  # since the last pass; after more than that it begins a step lower
DAYS_LOOKED_AT = 28


@dataclass(frozen=True, slots=True)
class Goal:
    """The tempo to aim at for a level 1..5, and the tempos that climb to it, ascending, the goal last."""

    level: int
    bpm: int
    ladder: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Pass:
    bpm: int
    clean: bool


@dataclass(frozen=True, slots=True)
class Advice:
    """The tempo to play next, and why: ``begin``, ``stay``, ``step-up``, ``goal-reached``, ``ease-off`` or
    ``come-back``."""

    bpm: int
    code: str


def goals(low: int, start: int, high: int, top: int | None) -> tuple[Goal, ...]:
    """For levels 1 to 5 of a tune with that range of tempos. None is above ``top``, the base lick's comfortable tempo."""
    tempos = (low, _rounded(low + start, 2), start, _rounded(start + high, 2), high)
    reached = (bpm if top is None else min(bpm, top) for bpm in tempos)
    return tuple(Goal(level, bpm, _ladder(bpm)) for level, bpm in enumerate(reached, start=1))


def next_tempo(passes: Sequence[Pass], goal: int, begin: int, days_since: int = 0) -> Advice:
    """What to play after these passes (oldest first), ``days_since`` days after the last. Never above the goal.

    Three clean passes in a row at a tempo or faster: a step faster than that tempo; at the goal it stays there. Two in a
    row not clean at a tempo, or slower: two steps back, though not below half the goal. Else the tempo stays. After a
    pause: one step slower than the last clean pass.
    """
    clean = [one.bpm for one in passes if one.clean]
    if not passes or (days_since > REST_DAYS and not clean):
        return Advice(min(begin, goal), "begin")
    if days_since > REST_DAYS:
        return Advice(_back(min(clean[-1], goal), 1, goal), "come-back")
    tempo = passes[-1].bpm
    steady = passes[-CLEAN_PASSES:]
    if len(steady) == CLEAN_PASSES and all(one.clean for one in steady):
        sure = min(one.bpm for one in steady)
        if sure >= goal:
            return Advice(goal, "goal-reached")
        faster = min(sure + STEP_BPM, goal)
        if faster > tempo:
            return Advice(faster, "step-up")
    missed = passes[-MISSED_PASSES:]
    if len(missed) == MISSED_PASSES and all(not one.clean and one.bpm <= tempo for one in missed):
        eased = _back(min(tempo, goal), BACK_STEPS, goal)
        if eased < tempo:
            return Advice(eased, "ease-off")
    return Advice(min(tempo, goal), "stay")


def days_played(days: Iterable[date], today: date, window: int = DAYS_LOOKED_AT) -> int:
    """On how many of the last ``window`` days, today among them, somebody played."""
    return len({day for day in days if 0 <= (today - day).days < window})


def _ladder(goal: int) -> tuple[int, ...]:
    return (*range(_rounded(goal * START_SHARE, 100), goal, STEP_BPM), goal)


def _back(bpm: int, steps: int, goal: int) -> int:
    """Some steps slower, but not below the floor, and never faster."""
    return min(bpm, max(bpm - steps * STEP_BPM, _rounded(goal * FLOOR_SHARE, 100)))


def _rounded(whole: int, parts: int) -> int:
    """A quotient to the nearest whole number, half up."""
    return (2 * whole + parts) // (2 * parts)
