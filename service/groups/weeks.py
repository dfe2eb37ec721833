"""Weekly slots in a time zone."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class Slot:
    weekday: int
    time: time
    zone: str


@lru_cache(maxsize=1024)
def zone_named(text: str) -> ZoneInfo:
    try:
        return ZoneInfo(text)
    except Exception as error:
        raise ValueError(text) from error


def next_slot(slot: Slot, after: datetime) -> datetime:
    local = after.astimezone(zone_named(slot.zone))
    day = local.date() + timedelta((slot.weekday - local.weekday()) % 7)
    while True:
        found = datetime.combine(day, slot.time, zone_named(slot.zone)).astimezone(UTC)
        if found > after:
            return found
        day += timedelta(7)
