"""Weeks of a group: a slot at a wall time of its zone opens each, and the next slot closes it.

A wall time that the clocks leave out is moved on by the gap, one that comes twice is the first: RFC 5545, 3.3.5. That
is what ``zoneinfo`` makes of ``fold=0``.
"""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

MID_WEEK_DAYS = (
    3  # local days from opening to the reminder. Ours: later, with four days left, many still have time
)
LEAST_OPEN = timedelta(days=2)  # a week that would be shorter is not opened any more. Ours
REMINDER_LATE = timedelta(hours=24)  # a reminder that is later than this is left out. Ours

WEEK = timedelta(days=7)

# Names as the IANA database has them: no dots, no leading slash. Its folders `posix` and `right` hold every zone again,
# `right` with leap seconds; the other three differ from machine to machine or are no place's time.
_ZONE_NAME = re.compile(
    r"(?!(posix|right)/|(localtime|posixrules|Factory)$)[A-Za-z][\w+-]*(/[A-Za-z][\w+-]*)*", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Slot:
    """A time of the week: weekday 0 (Monday) to 6, wall time in whole minutes, zone of the IANA database."""

    weekday: int
    time: time
    zone: str


@dataclass(frozen=True, slots=True)
class Week:
    """Three moments in UTC, each later than the one before."""

    opens: datetime
    reminds: datetime
    closes: datetime


@cache
def zone_named(text: str) -> ZoneInfo:
    """Raises ValueError for what is not the name of a zone."""
    if not _ZONE_NAME.fullmatch(text):
        raise ValueError(text)
    try:
        return ZoneInfo(text)
    except (KeyError, OSError) as error:  # not there; a folder, or longer than a file's name can be
        raise ValueError(text) from error


def next_slot(slot: Slot, after: datetime) -> datetime:
    """The first occurrence after a moment, in UTC."""
    return next(moment for moment in _around(slot, after) if moment > after)


def last_slot(slot: Slot, moment: datetime) -> datetime:
    """The latest occurrence at a moment or before it, in UTC."""
    return max(found for found in _around(slot, moment) if found <= moment)


def week_of(slot: Slot, opens: datetime) -> Week:
    """The week that opens at a moment. One opened by hand between two slots is reminded of midway."""
    closes = next_slot(slot, opens)
    reminds = opens + (closes - opens) / 2
    for day in _days_around(slot, opens):
        if moment_of(day, slot.time, slot.zone) == opens:
            reminds = moment_of(day + timedelta(days=MID_WEEK_DAYS), slot.time, slot.zone)
    return Week(opens, reminds, closes)


def opening(slot: Slot, now: datetime) -> datetime | None:
    """When the week that should be open now opened: the latest slot, or None where too little of its week is left."""
    return last_slot(slot, now) if next_slot(slot, now) - now >= LEAST_OPEN else None


def reminder_still_useful(week: Week, now: datetime) -> bool:
    """Whether a reminder that is due may still be sent."""
    return now <= week.reminds + REMINDER_LATE and now < week.closes


def _around(slot: Slot, moment: datetime) -> list[datetime]:
    return [moment_of(day, slot.time, slot.zone) for day in _days_around(slot, moment)]


def _days_around(slot: Slot, moment: datetime) -> list[date]:
    """Local dates of the slot, ascending, enough of them that occurrences lie on both sides of the moment.

    Two ahead: where clocks go back over midnight, a slot of tomorrow may be over already (St John's, until 2011)."""
    today = moment.astimezone(zone_named(slot.zone)).date()
    latest = today - timedelta(days=(today.weekday() - slot.weekday) % 7)
    return [latest + weeks * WEEK for weeks in (-1, 0, 1, 2)]


def moment_of(day: date, at: time, zone: str) -> datetime:
    """The moment in UTC when the clocks of a zone show this."""
    return datetime.combine(day, at, zone_named(zone)).astimezone(UTC)
