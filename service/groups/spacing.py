"""Provisional: days on which things come up again."""

from datetime import date, timedelta

STEPS = (1, 3, 7, 14, 30, 60)


def next_due(step: int, marked: date, kept: bool) -> tuple[int, date]:
    found = min(step + 1, len(STEPS)) if kept else 1
    return found, marked + timedelta(STEPS[found - 1])


def revisit_due(last_played: date | None, today: date, every_days: int) -> bool:
    return last_played is None or (today - last_played).days >= every_days
