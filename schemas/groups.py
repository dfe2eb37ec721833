"""Groups."""

from typing import Annotated, Literal

from msgspec import Meta

from schemas.base import Name, Request, Response, Slug
from schemas.licks import Level

Language = Annotated[str, Meta(pattern=r"^[a-z]{2}(-[A-Z]{2})?$(?!\n)")]


Platform = Annotated[
    str, Meta(pattern=r"^[!-9;-~]{1,40}$(?!\n)", description="A chat platform's name, no colon.")
]
PlatformId = Annotated[
    str, Meta(pattern=r"^[!-~]{1,80}$(?!\n)", description="An id as the platform gives it.")
]


class GroupIn(Request):
    slug: Slug
    name: Name
    instrument: str = "banjo"
    tuning: str = "open-g"
    language: Language = "en"
    platform: Platform | None = None
    server_id: PlatformId | None = None


class GroupPatch(Request):
    name: Name | None = None
    instrument: str | None = None
    tuning: str | None = None
    language: Language | None = None
    platform: Platform | None = None
    server_id: PlatformId | None = None


class GroupOut(Response):
    slug: str
    name: str
    instrument: str
    tuning: str
    language: str
    platform: str | None
    server_id: str | None
    revision: int


class GroupList(Response):
    items: list[GroupOut]
    next: str | None = None


Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
Door = Literal["open", "invited"]
TimeOfDay = Annotated[str, Meta(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$(?!\n)", description="HH:MM")]
Zone = Annotated[str, Meta(min_length=1, max_length=64, description="A name of the IANA time zone database.")]


class SettingsIn(Request):
    """What a group has chosen; what is left out has its default.

    ``weekday``, ``time`` and ``zone`` are when a week begins, ``channel`` where posts go on the group's platform. ``draws``: a
    challenge is drawn each week; ``levels``: the least and the most it shall ask. ``door``: whoever is on the server may join,
    or only who was invited. Tunes not played for ``revisit_days`` are due again. ``review``: what members send in waits for an
    organiser.
    """

    zone: Zone = "UTC"
    weekday: Weekday = "monday"
    time: TimeOfDay = "18:00"
    channel: PlatformId | None = None
    draws: bool = False
    reminds: bool = True
    secret_votes: bool = False
    levels: tuple[Level, Level] = (1, 5)
    door: Door = "open"
    revisit_days: Annotated[int, Meta(ge=1, le=3650)] = 60
    review: bool = False


class SettingsOut(Response):
    """``week_begins`` is the next time a week begins (UTC)."""

    zone: str
    weekday: str
    time: str
    channel: str | None
    draws: bool
    reminds: bool
    secret_votes: bool
    levels: Annotated[list[int], Meta(min_length=2, max_length=2)]
    door: str
    revisit_days: int
    review: bool
    week_begins: str
    revision: int
