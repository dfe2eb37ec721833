"""When to come back to something: what was played from memory, and what has not been played for long."""

from datetime import date, timedelta

# Ours: expanding intervals after common practice, no source.
INTERVALS_DAYS = (1, 3, 7, 14, 30, 60, 120)
LOST_STEPS = 2  # back by that many where it was not kept. Ours

NEVER_MARKED = -1  # the step of what has no mark yet: the first one is due after the first interval


def next_due(step: int, marked: date, kept: bool) -> tuple[int, date]:
    """The step after a mark, and the day on which the next is due. ``kept``: it went from memory."""
    step = min(step + 1, len(INTERVALS_DAYS) - 1) if kept else max(0, step - LOST_STEPS)
    return step, marked + timedelta(days=INTERVALS_DAYS[step])


def revisit_due(last_played: date | None, today: date, every_days: int) -> bool:
    """Whether something was played once, and not for that many days. What never was has nothing to come back to."""
    return last_played is not None and (today - last_played).days >= every_days
