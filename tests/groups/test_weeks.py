"""Weeks in a group's own time: against recurrences worked out by python-dateutil, over ten years of changing clocks."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import WEEKLY, rrule
from dateutil.tz import gettz, resolve_imaginary
from hypothesis import given
from hypothesis import strategies as st

from service.groups.weeks import (
    LEAST_OPEN,
    REMINDER_LATE,
    Slot,
    last_slot,
    next_slot,
    opening,
    reminder_still_useful,
    week_of,
    zone_named,
)

FIRST, LAST = datetime(2019, 1, 1, tzinfo=UTC), datetime(2029, 1, 1, tzinfo=UTC)

# Weekday (0 is Monday) and time of slots, some of which fall into hours that a change of the clock leaves out or brings twice.
SLOTS = {
    "Europe/Berlin": [(0, "19:00"), (6, "02:30"), (6, "03:00")],
    "Europe/Dublin": [(6, "01:30"), (2, "20:15")],
    "America/New_York": [(6, "02:30"), (6, "01:30"), (3, "18:00")],
    "America/Santiago": [(5, "23:30"), (6, "00:30")],
    "Australia/Lord_Howe": [(6, "02:15"), (6, "01:45")],  # half an hour's change
    "Asia/Kathmandu": [(4, "19:45")],  # a quarter of an hour off
    "Africa/Casablanca": [(6, "02:30"), (6, "02:00")],
    "Pacific/Apia": [(6, "03:30"), (4, "00:00")],
    "UTC": [(0, "00:00")],
}
CASES = [(zone, *slot) for zone, slots in SLOTS.items() for slot in slots]


def _by_dateutil(zone: str, weekday: int, at: str) -> list[datetime]:
    """Every occurrence in the ten years: RFC 5545's weekly rule in local time, made moments by dateutil's own zones."""
    hour, minute = map(int, at.split(":"))
    local = rrule(
        WEEKLY, byweekday=weekday, byhour=hour, byminute=minute, bysecond=0,
        dtstart=datetime.fromisoformat("2018-12-20"), until=datetime.fromisoformat("2029-01-10"),
    )  # fmt: skip
    found = (resolve_imaginary(each.replace(tzinfo=gettz(zone))).astimezone(UTC) for each in local)
    return [moment for moment in found if FIRST < moment < LAST]


@pytest.mark.parametrize(("zone", "weekday", "at"), CASES)
def test_weeks_begin_when_a_weekly_recurrence_says(zone: str, weekday: int, at: str) -> None:
    slot = Slot(weekday, time.fromisoformat(at), zone)
    expected = _by_dateutil(zone, weekday, at)
    assert len(expected) > 520
    found = []
    moment = FIRST
    while (moment := next_slot(slot, moment)) < LAST:
        found.append(moment)
    assert found == expected


@pytest.mark.parametrize(("zone", "weekday", "at"), CASES)
def test_the_wall_clock_shows_the_slots_time_but_for_hours_left_out(zone: str, weekday: int, at: str) -> None:
    slot, there = Slot(weekday, time.fromisoformat(at), zone), ZoneInfo(zone)
    moment, moved = FIRST, 0
    while (moment := next_slot(slot, moment)) < LAST:
        local = moment.astimezone(there)
        if (local.weekday(), local.time()) != (weekday, slot.time):
            moved += 1
            # a time that does not exist: there was no such hour that day
            wished = datetime.combine(local.date(), slot.time, there)
            assert wished.astimezone(UTC).astimezone(there).time() != slot.time
    assert moved <= 11  # once a year at most


def test_a_slot_in_the_hour_that_spring_leaves_out_comes_an_hour_later() -> None:
    # Berlin, 30 March 2025: 02:00 CET becomes 03:00 CEST [IANA time zone database]
    slot = Slot(6, time(2, 30), "Europe/Berlin")
    moment = next_slot(slot, datetime(2025, 3, 29, tzinfo=UTC))
    assert moment == datetime(2025, 3, 30, 1, 30, tzinfo=UTC)
    assert moment.astimezone(ZoneInfo("Europe/Berlin")).time() == time(3, 30)


def test_a_slot_in_the_hour_that_autumn_brings_twice_is_the_first() -> None:
    # New York, 2 November 2025: 02:00 EDT becomes 01:00 EST [IANA time zone database]
    slot = Slot(6, time(1, 30), "America/New_York")
    assert next_slot(slot, datetime(2025, 11, 2, tzinfo=UTC)) == datetime(2025, 11, 2, 5, 30, tzinfo=UTC)


zones = st.sampled_from(sorted(SLOTS))
slots = st.builds(
    Slot, st.integers(0, 6), st.times().map(lambda t: t.replace(second=0, microsecond=0)), zones
)
moments = st.datetimes(datetime.fromisoformat("2019-01-01"), datetime.fromisoformat("2028-12-31")).map(
    lambda m: m.replace(microsecond=0, tzinfo=UTC)
)


@given(slots, moments)
def test_the_last_slot_and_the_next_have_the_moment_between_them(slot: Slot, moment: datetime) -> None:
    last, following = last_slot(slot, moment), next_slot(slot, moment)
    assert last <= moment < following
    assert next_slot(slot, last) == following
    assert last_slot(slot, following) == following
    assert timedelta(days=6, hours=22) <= following - last <= timedelta(days=7, hours=2)


@given(slots, moments)
def test_members_are_reminded_between_opening_and_closing(slot: Slot, moment: datetime) -> None:
    opens = last_slot(slot, moment)
    week = week_of(slot, opens)
    assert opens < week.reminds < week.closes
    assert timedelta(days=2, hours=22) < week.reminds - opens < timedelta(days=3, hours=2)


@given(slots, moments)
def test_a_week_that_was_missed_opens_late_only_if_enough_of_it_is_left(slot: Slot, now: datetime) -> None:
    opens = opening(slot, now)
    left = next_slot(slot, now) - now
    assert (opens is not None) == (left >= LEAST_OPEN)
    assert opens in (None, last_slot(slot, now))


def test_a_reminder_is_left_out_when_it_would_come_a_day_late_or_after_closing() -> None:
    slot = Slot(0, time(19), "UTC")
    week = week_of(slot, datetime(2026, 11, 2, 19, tzinfo=UTC))
    assert week.reminds == datetime(2026, 11, 5, 19, tzinfo=UTC)
    assert reminder_still_useful(week, week.reminds)
    assert reminder_still_useful(week, week.reminds + REMINDER_LATE)
    assert not reminder_still_useful(week, week.reminds + REMINDER_LATE + timedelta(seconds=1))
    assert not reminder_still_useful(week, week.closes)


@pytest.mark.parametrize(
    "name", ["", "Nowhere/Land", "../etc/passwd", "/etc/localtime", "Europe", "Europe/Berlin\n"]
)
def test_what_is_no_zone_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        zone_named(name)
