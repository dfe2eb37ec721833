"""Weeks of a group: when one begins, when members are reminded, in the group's own time zone.

A local time that a change of the clock leaves out is taken with the offset before the gap, so it is later by the gap; one that
comes twice is the first of the two (RFC 5545, 3.3.5).
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

WEEK = timedelta(days=7)
MID_WEEK_DAYS = 3  # local days after a week began that members are reminded; ours
LEAST_OPEN = timedelta(days=2)  # a challenge is open for so long at least; ours
REMINDER_LATE = timedelta(hours=24)  # a reminder that is later than this is left out; ours


@dataclass(frozen=True, slots=True)
class Slot:
    """A day of the week (0 is Monday) and a time of day in an IANA zone."""

    weekday: int
    time: time
    zone: str


@dataclass(frozen=True, slots=True)
class Week:
    """Moments in UTC."""

    opens: datetime
    reminds: datetime
    closes: datetime


@lru_cache(maxsize=1024)
def zone_named(text: str) -> ZoneInfo:
    """Raises ValueError for what is no zone's name."""
    try:
        return ZoneInfo(text)
    except (OSError, LookupError, ValueError) as error:  # names may be like paths, or folders
        raise ValueError(text) from error


def _moment(day: date, at: time, zone: str) -> datetime:
    """The moment of a local time, in UTC. ``fold`` 0 is the offset before a gap, and the first of two."""
    return datetime.combine(day, at, zone_named(zone)).astimezone(UTC)


def next_slot(slot: Slot, after: datetime) -> datetime:
    """The first moment after another when a week begins."""
    # a day early: a zone may be a day ahead, and a gap moves a time on
    day = after.astimezone(zone_named(slot.zone)).date() - timedelta(days=1)
    day += timedelta(days=(slot.weekday - day.weekday()) % 7)
    while (found := _moment(day, slot.time, slot.zone)) <= after:
        day += WEEK
    return found


def last_slot(slot: Slot, moment: datetime) -> datetime:
    """The latest moment, this one or before it, when a week began."""
    day = moment.astimezone(zone_named(slot.zone)).date() + timedelta(days=1)
    day -= timedelta(days=(day.weekday() - slot.weekday) % 7)
    while (found := _moment(day, slot.time, slot.zone)) > moment:
        day -= WEEK
    return found


def week_of(slot: Slot, opens: datetime) -> Week:
    """The week that begins then, in the middle of which members are reminded."""
    closes = next_slot(slot, opens)
    day = opens.astimezone(zone_named(slot.zone)).date() + timedelta(days=MID_WEEK_DAYS)
    return Week(opens, _moment(day, slot.time, slot.zone), closes)


def opening(slot: Slot, now: datetime) -> datetime | None:
    """When the week that runs began, if enough of it is left for a challenge; None means to wait for the next one."""
    return last_slot(slot, now) if next_slot(slot, now) - now >= LEAST_OPEN else None


def reminder_still_useful(week: Week, now: datetime) -> bool:
    return now < week.closes and now - week.reminds <= REMINDER_LATE
