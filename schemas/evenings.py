"""Tunes that members know, evenings, and what was played."""

from datetime import date
from typing import Annotated, Literal

from msgspec import Meta

from schemas.base import Name, Request, Response, Slug
from schemas.people import MemberNumber

Standing = Literal["know", "learning", "parked"]
KeyName = Annotated[str, Meta(min_length=1, max_length=12, description="As in G, Em, Bb.")]
Remark = Annotated[str, Meta(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$(?!\n)")]
InstrumentName = Annotated[str, Meta(min_length=1, max_length=40)]


class KnownIn(Request):
    """How a member stands with a tune; ``sings_in`` are the keys they sing it in. The group can see all of it."""

    standing: Standing
    sings_in: Annotated[list[KeyName], Meta(max_length=12)] | None = None
    note: Remark | None = None


class KnownOut(Response):
    tune: str
    standing: str
    sings_in: list[str] | None
    note: str | None


class KnownList(Response):
    items: list[KnownOut]
    next: str | None = None


class WhoOut(Response):
    """A member by number in the group."""

    member: int
    name: str


class SungOut(Response):
    """A key, and who sings the tune in it."""

    key: str
    singers: list[str]


class KnownTuneOut(Response):
    """``key`` is the sounding key; ``last_played`` null where it never was."""

    tune: str
    name: str
    key: str
    know: list[WhoOut]
    learning: list[WhoOut]
    sung: list[SungOut]
    last_played: date | None


class KnownTuneList(Response):
    items: list[KnownTuneOut]
    next: str | None = None


class BreakTurnIn(Request):
    """A break taken by a member, by number, on an instrument."""

    member: MemberNumber
    instrument: InstrumentName


class EveningTuneIn(Request):
    """A tune of an evening, in the tune's own key unless another is named; ``turns`` is how many breaks are taken when they are
    shared out, ``breaks`` who takes them, in playing order."""

    tune: Slug
    key: KeyName | None = None
    turns: Annotated[int, Meta(ge=1, le=24)] = 3
    kick_off: MemberNumber | None = None
    breaks: Annotated[list[BreakTurnIn], Meta(max_length=24)] = []


class EveningIn(Request):
    day: date
    title: Name
    tunes: Annotated[list[EveningTuneIn], Meta(max_length=60)] = []


class BreakTurnOut(Response):
    member: int
    name: str
    instrument: str


class EveningTuneOut(Response):
    tune: str
    key: str
    turns: int
    kick_off: WhoOut | None
    breaks: list[BreakTurnOut]


class EveningOut(Response):
    """``played`` are the tunes played on it, planned or not."""

    number: int
    day: date
    title: str
    tunes: list[EveningTuneOut]
    played: list[str]
    revision: int


class EveningList(Response):
    items: list[EveningOut]
    next: str | None = None


class JoiningIn(Request):
    """A member who wants to take breaks, on one instrument; ``learning`` asks for turns in tunes still being learnt, too."""

    member: MemberNumber
    instrument: InstrumentName
    learning: bool = False


class SharingIn(Request):
    players: Annotated[list[JoiningIn], Meta(min_length=1, max_length=40)]


class PlayedThenIn(Request):
    tune: Slug


class PlayedIn(PlayedThenIn):
    """``day`` is today in the group's zone unless another is named."""

    day: date | None = None


class PlayedOut(Response):
    tune: str
    day: date
