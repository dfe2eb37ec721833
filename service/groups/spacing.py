"""When to try again from memory, and when a tune is due again."""

from datetime import date, timedelta

# days between one time and the next: longer each time it is still there; ours, after common practice
INTERVALS_DAYS = (1, 3, 7, 14, 30, 60, 120)
BACK = 2  # steps that are lost where it is not
NEVER_MARKED = -1  # the step of what has no mark yet: the first comes after the first interval


def next_due(step: int, marked: date, kept: bool) -> tuple[int, date]:
    """The step after a try, and the day of the next."""
    after = min(step + 1, len(INTERVALS_DAYS) - 1) if kept else max(0, step - BACK)
    return after, marked + timedelta(days=INTERVALS_DAYS[after])


def revisit_due(last_played: date | None, today: date, every_days: int) -> bool:
    """Whether a tune has not been played for so long that it is due again; one that never was is not."""
    return last_played is not None and today - last_played >= timedelta(days=every_days)
