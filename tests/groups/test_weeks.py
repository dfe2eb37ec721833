"""Weekly slots, against a minute-by-minute search of the clock and against weekly recurrence by python-dateutil."""

import zoneinfo
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from dateutil import rrule, tz
from hypothesis import given
from hypothesis import strategies as st

from service.groups.weeks import (
    LEAST_OPEN,
    REMINDER_LATE,
    Slot,
    Week,
    last_slot,
    next_slot,
    opening,
    reminder_still_useful,
    week_of,
    zone_named,
)

SUNDAY = 6
MINUTE, DAY, WEEK = timedelta(minutes=1), timedelta(days=1), timedelta(days=7)
FIRST, LAST = datetime(2010, 1, 1, tzinfo=UTC), datetime(2021, 1, 1, tzinfo=UTC)  # eleven years of changes

# Slots that fall into gaps and repeated hours, and one that never does, in zones that each do something of their own.
SLOTS = [
    Slot(SUNDAY, time(2, 30), "Europe/Berlin"),
    Slot(3, time(19, 0), "Europe/Berlin"),
    Slot(SUNDAY, time(1, 15), "Europe/Dublin"),  # its summer time is the standard one
    Slot(SUNDAY, time(1, 30), "America/New_York"),
    Slot(SUNDAY, time(2, 30), "America/New_York"),
    Slot(SUNDAY, time(0, 0), "America/Sao_Paulo"),  # midnights that do not exist
    Slot(5, time(23, 30), "America/Sao_Paulo"),  # Saturday evenings that come twice
    Slot(SUNDAY, time(0, 0), "America/Santiago"),
    Slot(SUNDAY, time(0, 0), "America/St_Johns"),  # until 2011 back at 00:01: two midnights
    Slot(SUNDAY, time(1, 45), "Australia/Lord_Howe"),  # half an hour
    Slot(SUNDAY, time(2, 15), "Australia/Lord_Howe"),
    Slot(0, time(18, 45), "Asia/Kathmandu"),
    Slot(SUNDAY, time(2, 30), "Africa/Casablanca"),  # back for Ramadan, and on again
    Slot(4, time(10, 0), "Pacific/Apia"),  # Friday 30 December 2011 was left out
    Slot(SUNDAY, time(3, 30), "Pacific/Apia"),
    Slot(2, time(12, 0), "UTC"),
]
slots = pytest.mark.parametrize("slot", SLOTS, ids=lambda s: f"{s.zone} {s.weekday} {s.time:%H:%M}")


@pytest.fixture(scope="module", autouse=True)
def _zones_of_the_package() -> Iterator[None]:
    """Zones come from tzdata, as on a machine without a zone database: every machine tests the same clocks."""
    zoneinfo.reset_tzpath(to=())
    _forget_zones()
    yield
    zoneinfo.reset_tzpath()
    _forget_zones()


def _forget_zones() -> None:
    ZoneInfo.clear_cache()
    zone_named.cache_clear()


def _occurrences(slot: Slot) -> list[datetime]:
    """All from before FIRST to after LAST, by stepping from one to the next."""
    found = [last_slot(slot, FIRST)]
    while found[-1] <= LAST:
        found.append(next_slot(slot, found[-1]))
    return found


def _offset(zone: ZoneInfo, moment: datetime) -> timedelta:
    offset = moment.astimezone(zone).utcoffset()
    assert offset is not None
    return offset


def _by_looking_at_the_clock(zone: ZoneInfo, wall: datetime) -> tuple[datetime, str]:
    """The moment (UTC) at which a clock on the wall first shows it, or would by the offset before a gap; and which."""
    near = wall.replace(tzinfo=UTC)
    offsets = {_offset(zone, near + timedelta(hours=hours)) for hours in range(-48, 49, 2)}
    showing = sorted(near - o for o in offsets if _offset(zone, near - o) == o)
    if showing:
        return showing[0], "twice" if len(showing) > 1 else "once"
    minute = near - 2 * DAY
    while minute.astimezone(zone).replace(tzinfo=None) < wall:
        minute += MINUTE
    return near - _offset(zone, minute - MINUTE), "never"


@cache
def _searched(slot: Slot) -> dict[datetime, tuple[datetime, str]]:
    """Of each wall time of the slot, from before FIRST to after LAST: the moment that is found, and which."""
    zone = ZoneInfo(slot.zone)
    days = [date(2009, 12, 1) + n * DAY for n in range(4080)]
    walls = [datetime.combine(day, slot.time) for day in days if day.weekday() == slot.weekday]
    return {wall: _by_looking_at_the_clock(zone, wall) for wall in walls}


@slots
def test_slots_are_where_a_clock_on_the_wall_shows_them(slot: Slot) -> None:
    found = _occurrences(slot)
    assert found[0] <= FIRST
    assert found[-1] > LAST
    assert found == [moment for moment, _ in _searched(slot).values() if found[0] <= moment <= found[-1]]


def test_the_slots_tested_fall_into_gaps_and_repeated_hours() -> None:
    kinds = [kind for slot in SLOTS for _, kind in _searched(slot).values()]
    assert kinds.count("never") >= 40
    assert kinds.count("twice") >= 40


@slots
def test_slots_are_a_weekly_recurrence_in_wall_time(slot: Slot) -> None:
    zone = ZoneInfo(slot.zone)
    found = _occurrences(slot)
    walls = rrule.rrule(
        rrule.WEEKLY,
        dtstart=datetime(2009, 12, 1),  # noqa: DTZ001 - wall time
        until=datetime(2021, 1, 20),  # noqa: DTZ001
        byweekday=slot.weekday,
        byhour=slot.time.hour,
        byminute=slot.time.minute,
        bysecond=0,
    )
    moments = (tz.resolve_imaginary(wall.replace(tzinfo=zone)).astimezone(UTC) for wall in walls)
    assert found == [moment for moment in moments if found[0] <= moment <= found[-1]]


@slots
def test_two_slots_in_a_row_are_seven_days_apart_but_for_what_the_clocks_were_moved(slot: Slot) -> None:
    zone = ZoneInfo(slot.zone)
    for before, after in pairwise(_occurrences(slot)):
        moved = _offset(zone, after) - _offset(zone, before)
        gap = after.astimezone(zone).replace(tzinfo=None) - before.astimezone(zone).replace(tzinfo=None)
        assert after - before == gap - moved
        assert abs(gap - WEEK) in (timedelta(0), timedelta(minutes=30), timedelta(hours=1), DAY)


@slots
def test_a_week_has_three_moments_and_is_reminded_of_three_local_days_on(slot: Slot) -> None:
    zone = ZoneInfo(slot.zone)
    for (wall, (opens, _)), (_, (closes, _)) in pairwise(_searched(slot).items()):
        week = week_of(slot, opens)
        assert week == Week(opens, _by_looking_at_the_clock(zone, wall + 3 * DAY)[0], closes)
        assert week.opens < week.reminds < week.closes


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


BERLIN = Slot(SUNDAY, time(2, 30), "Europe/Berlin")


def test_a_slot_that_the_clocks_leave_out_comes_an_hour_later_by_the_clock() -> None:
    """RFC 5545, 3.3.5: 02:30 by the offset before the gap, which the clock shows as 03:30."""
    assert next_slot(BERLIN, _utc("2020-03-28T00:00")) == _utc("2020-03-29T01:30")


def test_a_slot_that_comes_twice_is_the_first() -> None:
    assert next_slot(BERLIN, _utc("2020-10-24T00:00")) == _utc("2020-10-25T00:30")
    assert next_slot(BERLIN, _utc("2020-10-25T00:30")) == _utc("2020-11-01T01:30")
    assert last_slot(BERLIN, _utc("2020-10-25T01:30")) == _utc("2020-10-25T00:30")


def test_a_day_that_a_country_leaves_out_moves_its_slot_to_the_next() -> None:
    """Samoa went from Thursday 29 to Saturday 31 December 2011."""
    friday = Slot(4, time(10, 0), "Pacific/Apia")
    moved = _utc("2011-12-30T20:00")  # Saturday 10:00 there
    assert next_slot(friday, _utc("2011-12-29T00:00")) == moved
    assert week_of(friday, moved) == Week(moved, _utc("2012-01-01T20:00"), _utc("2012-01-05T20:00"))


def test_tomorrows_slot_may_be_over_where_the_clocks_go_back_over_midnight() -> None:
    """St John's, 7 November 2010: 00:00, 00:01, then 23:01 of Saturday again."""
    midnight = Slot(SUNDAY, time(0, 0), "America/St_Johns")
    saturday_again = _utc("2010-11-07T03:00")
    assert saturday_again.astimezone(ZoneInfo(midnight.zone)).date() == date(2010, 11, 6)
    assert last_slot(midnight, saturday_again) == _utc("2010-11-07T02:30")
    assert next_slot(midnight, saturday_again) == _utc("2010-11-14T03:30")


moments = st.datetimes(
    datetime(1995, 1, 1),  # noqa: DTZ001 - hypothesis adds the zone
    datetime(2060, 1, 1),  # noqa: DTZ001
    timezones=st.just(UTC),
)
any_slot = st.builds(
    Slot,
    weekday=st.integers(0, 6),
    time=st.builds(time, st.integers(0, 23), st.integers(0, 59)),
    zone=st.sampled_from(sorted({slot.zone for slot in SLOTS})),
)


@given(any_slot, moments)
def test_next_and_last_agree(slot: Slot, moment: datetime) -> None:
    last, following = last_slot(slot, moment), next_slot(slot, moment)
    assert last <= moment < following
    assert last_slot(slot, following) == following
    assert next_slot(slot, last) == following
    assert last_slot(slot, following - timedelta(microseconds=1)) == last
    assert last.tzinfo is UTC
    assert following.tzinfo is UTC


@given(any_slot, moments)
def test_a_week_opened_by_hand_is_reminded_of_between_its_ends(slot: Slot, opens: datetime) -> None:
    week = week_of(slot, opens)
    assert week.opens == opens
    assert week.closes == next_slot(slot, opens)
    if week.closes - week.opens > timedelta(seconds=1):
        assert week.opens < week.reminds < week.closes


def test_a_week_opened_between_slots_is_reminded_of_midway() -> None:
    slot = Slot(0, time(12, 0), "UTC")
    assert week_of(slot, _utc("2026-03-05T12:00")).reminds == _utc("2026-03-07T12:00")  # Thursday to Monday


@pytest.mark.parametrize(
    ("now", "opened"),
    [
        ("2026-03-02T12:00", "2026-03-02T12:00"),  # Monday noon, on time
        ("2026-03-02T11:59", None),  # a minute of the old week is left
        ("2026-03-07T12:00", "2026-03-02T12:00"),  # two days are
        ("2026-03-07T12:01", None),
    ],
)
def test_after_an_outage_a_week_is_opened_if_two_days_of_it_are_left(now: str, opened: str | None) -> None:
    slot = Slot(0, time(12, 0), "UTC")
    assert opening(slot, _utc(now)) == (None if opened is None else _utc(opened))


@given(any_slot, moments)
def test_a_week_is_opened_late_only_with_enough_of_it_left(slot: Slot, now: datetime) -> None:
    opened = opening(slot, now)
    assert (opened is not None) == (next_slot(slot, now) >= now + LEAST_OPEN)
    assert opened in (None, last_slot(slot, now))


def test_a_reminder_may_be_a_day_late_and_never_after_the_close() -> None:
    week = Week(_utc("2026-03-02T12:00"), _utc("2026-03-05T12:00"), _utc("2026-03-09T12:00"))
    assert reminder_still_useful(week, week.reminds)
    assert reminder_still_useful(week, week.reminds + REMINDER_LATE)
    assert not reminder_still_useful(week, week.reminds + REMINDER_LATE + MINUTE)
    short = Week(week.opens, week.reminds, _utc("2026-03-05T18:00"))
    assert reminder_still_useful(short, short.closes - MINUTE)
    assert not reminder_still_useful(short, short.closes)


@pytest.mark.parametrize(
    "name",
    ["", " ", "Nowhere/Town", "Europe", "../etc/passwd", "/etc/passwd", "Europe/../Europe/Berlin", "./UTC",
     "Europe/Berlin/", "Europe/Berlin\n", "Europe//Berlin", "Europe\\Berlin", "zone.tab", "a\0b", "x" * 5000,
     "Zürich", "\ud800", "localtime", "posixrules", "Factory", "right/Europe/Berlin", "posix/UTC", "+01:00", "UTC+1"],
)  # fmt: skip
def test_what_is_no_name_of_a_zone_is_refused(name: str) -> None:
    for path in ((), None):  # by the package, and by the machine's own database
        zoneinfo.reset_tzpath(to=path)
        with pytest.raises(ValueError):  # noqa: PT011 - the message is the name itself
            zone_named(name)
    zoneinfo.reset_tzpath(to=())


def test_every_zone_of_the_database_can_be_named() -> None:
    names = zoneinfo.available_timezones() - {"Factory", "localtime"}
    assert len(names) > 400
    assert {zone_named(name).key for name in names} == names
