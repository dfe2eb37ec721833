"""Tempos to work up to, and the next one to try. Ladders like this are common practice, no source; no science is claimed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

STEP_BPM = 4  # common practice, no source
CLEAN_PASSES = 3  # in a row before the tempo rises; common practice, no source
FALSE_PASSES = 2  # in a row before it falls; ours
START_SHARE = 60  # per cent of the goal that a work-up starts from; ours
FLOOR_SHARE = 50  # per cent of the goal that it never falls below; ours
REST_DAYS = 14  # after a pause this long one begins a step lower; ours
DAYS_LOOKED_AT = 28


@dataclass(frozen=True, slots=True)
class Goal:
    """What players of a level may aim at, and the tempos on the way, in the tune's own beats a minute."""

    level: int
    bpm: int
    ladder: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Pass:
    bpm: int
    clean: bool


@dataclass(frozen=True, slots=True)
class Advice:
    """The tempo to try next; ``code`` says why."""

    bpm: int
    code: str


def goals(low: int, start: int, high: int, top: int | None) -> tuple[Goal, ...]:
    """Goals of levels 1 to 5 for a tune's tempos: its lowest, its usual one for level 3, its highest, and halfway between. None is
    faster than ``top``, what the hands can do."""
    wanted = (low, (low + start) // 2, start, (start + high) // 2, high)
    most = high if top is None else max(top, 1)
    return tuple(Goal(level, bpm := min(goal, most), ladder(bpm)) for level, goal in enumerate(wanted, 1))


def begin_at(goal: int) -> int:
    return max(1, round(goal * START_SHARE / 100))


def ladder(goal: int) -> tuple[int, ...]:
    """From the start of a work-up to its goal."""
    return (*range(begin_at(goal), goal, STEP_BPM), goal)


def next_tempo(passes: Sequence[Pass], goal: int, begin: int, days_since: int = 0) -> Advice:
    """The tempo to try next after these passes, oldest first.

    Three clean ones in a row at a tempo or above it: a step up, to the goal at most. Two in a row that were not: two steps back.
    After a pause of more than two weeks: a step below the last clean one.
    """
    if not passes:
        return Advice(min(begin, goal), "begin")
    floor = max(1, goal * FLOOR_SHARE // 100)
    last = passes[-1]
    if days_since > REST_DAYS:
        clean = next((done.bpm for done in reversed(passes) if done.clean), last.bpm)
        return Advice(max(floor, min(clean, goal) - STEP_BPM), "come-back")
    if _in_a_row(passes, clean=True, least=last.bpm) >= CLEAN_PASSES:
        if last.bpm >= goal:
            return Advice(goal, "goal-reached")
        return Advice(min(goal, last.bpm + STEP_BPM), "step-up")
    if _in_a_row(passes, clean=False) >= FALSE_PASSES:
        return Advice(max(floor, min(last.bpm, goal) - 2 * STEP_BPM), "ease-off")
    return Advice(min(last.bpm, goal), "stay")


def _in_a_row(passes: Sequence[Pass], *, clean: bool, least: int = 0) -> int:
    count = 0
    for done in reversed(passes):
        if done.clean != clean or done.bpm < least:
            break
        count += 1
    return count


def days_played(days: Iterable[date], today: date, window: int = DAYS_LOOKED_AT) -> int:
    """On how many of the last days somebody played. Days are counted, never whether they follow each other."""
    first = today - timedelta(days=window - 1)
    return len({day for day in days if first <= day <= today})
