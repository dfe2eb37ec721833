"""Provisional: tempos that rise only after clean passes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

STEP = 4


@dataclass(frozen=True, slots=True)
class Pass:
    bpm: int
    clean: bool


@dataclass(frozen=True, slots=True)
class Advice:
    bpm: int
    code: str


def next_tempo(passes: Sequence[Pass], goal: int, begin: int, days_since: int = 0) -> Advice:
    if not passes:
        return Advice(begin, "work-up-begin")
    if passes[-1].clean:
        return Advice(passes[-1].bpm + STEP, "work-up-rise")
    return Advice(max(1, passes[-1].bpm - STEP), "work-up-fall")


def days_played(days: Sequence[date], today: date, window: int = 28) -> int:
    return len({day for day in days if today - timedelta(window) < day <= today})
