"""What a group has chosen: when and where its week begins, who may come in, how it votes."""

from datetime import date, datetime, time
from functools import lru_cache
from typing import Literal

import msgspec

from service.errors import DomainError, Fault
from service.groups.weeks import Slot, zone_named
from service.store.groups import GroupRow

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
Door = Literal["open", "invited"]


class GroupSettings(msgspec.Struct, frozen=True):
    """``channel`` is where posts go on the group's platform; ``weekday``, ``time`` (HH:MM) and ``zone`` (IANA) are when a
    week begins. ``draws``: a challenge is drawn each week; ``levels``: the least and the most it shall ask. ``door``: whoever is
    on the server may join, or only who was invited. ``review``: what members send in waits for an organiser."""

    zone: str = "UTC"
    weekday: Weekday = "monday"
    time: str = "18:00"
    channel: str | None = None
    draws: bool = False
    reminds: bool = True
    secret_votes: bool = False
    levels: tuple[int, int] = (1, 5)
    door: Door = "open"
    revisit_days: int = 60
    review: bool = False


_decoder = msgspec.json.Decoder(GroupSettings)


@lru_cache(maxsize=16_384)
def read_settings(body: str) -> GroupSettings:
    return _decoder.decode(body)


def settings_of(group: GroupRow) -> GroupSettings:
    return read_settings(group.settings)


def check_settings(settings: GroupSettings) -> GroupSettings:
    """Raises DomainError ``bad-settings`` with the field to mend."""
    faults = []
    try:
        zone_named(settings.zone)
    except ValueError:
        faults.append(Fault("no-such-zone", {"zone": settings.zone}, path="zone"))
    if settings.levels[0] > settings.levels[1]:
        faults.append(Fault("levels-apart", path="levels"))
    if faults:
        raise DomainError("bad-settings", at=faults, count=len(faults))
    return settings


@lru_cache(maxsize=16_384)
def slot_of(settings: GroupSettings) -> Slot:
    """When the group's week begins."""
    return Slot(WEEKDAYS.index(settings.weekday), time.fromisoformat(settings.time), settings.zone)


def local_day(settings: GroupSettings, now: datetime) -> date:
    """The day it is where the group is."""
    return now.astimezone(zone_named(settings.zone)).date()
