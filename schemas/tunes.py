"""Tunes."""

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from schemas.base import Name, Place, Request, Response, Slug

Origin = Literal["own", "traditional", "adapted"]
BeatUnit = Literal["half", "quarter", "dotted quarter", "eighth"]
Role = Literal["opener", "body", "set-up", "tag"]
Bpm = Annotated[int, Meta(ge=1, le=400)]
PartName = Annotated[str, Meta(min_length=1, max_length=12)]


class RightsIn(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Where it comes from. Traditional tunes are in the public domain; a recorded solo or a printed
    arrangement usually is not. This is a caution, not legal advice."""

    origin: Origin = "own"
    source: Annotated[str, Meta(max_length=200)] | None = None
    licence: Annotated[str, Meta(max_length=80)] | None = None
    credit: Annotated[str, Meta(max_length=120)] | None = None
    year: Annotated[int, Meta(ge=1, le=2200)] | None = None


class TempoIn(Request):
    """Beats a minute; ``unit`` says what a beat is."""

    low: Bpm
    high: Bpm
    start: Bpm
    unit: BeatUnit


class SettingIn(Request):
    """How an instrument plays the tune; ``stop`` is the sounding MIDI pitch of the open fifth string."""

    instrument: str
    tuning: str | None = None
    position: str | None = None
    capo: Annotated[int, Meta(ge=0, le=11)] = 0
    stop: Annotated[int, Meta(ge=0, le=127)] | None = None


class RoleIn(Request):
    """The role of one phrase of a part, counted from 1."""

    part: PartName
    phrase: Annotated[int, Meta(ge=1, le=512)]
    role: Role


class TuneBody(Request):
    name: Name
    key: Annotated[str, Meta(min_length=1, max_length=24, description="G, Em, Bb, or with a mode: A dorian.")]
    meter: str
    tempo: TempoIn
    chart: Annotated[str, Meta(min_length=1, max_length=20_000, description="A: | G | C D | ...")]
    order: Annotated[str, Meta(min_length=1, max_length=200)] | None = None
    cuts: dict[PartName, Annotated[list[Annotated[int, Meta(ge=1, le=64)]], Meta(max_length=512)]] = {}
    roles: list[RoleIn] = []
    melody: Annotated[str, Meta(max_length=20_000)] | None = None
    settings: list[SettingIn] = []
    plain: dict[str, dict[PartName, list[Annotated[int, Meta(ge=1, le=9_999_999)]]]] = {}
    rights: RightsIn = RightsIn(origin="traditional")


class TuneIn(TuneBody, kw_only=True):
    slug: Slug


class PhraseOut(Response):
    """``number`` counts in playing order, repeats written out; chords are in the sounding key."""

    number: int
    part: str
    index: int
    measure: int
    ticks: int
    role: str
    chords: str


class PhraseInHandOut(Response):
    """A phrase as the hand thinks of it on one instrument: ``key`` and ``chart`` (its measures) are in the playing position."""

    number: int
    part: str
    index: int
    role: str
    meter: str
    instrument: str
    tuning: str
    key: str
    chart: str


class TuneOut(Response):
    """``cuts`` are those of every part; ``roles`` those that somebody gave, the others are proposed from the chords."""

    slug: str
    revision: int
    name: str
    key: str
    meter: str
    tempo: TempoIn
    chart: str
    order: list[str]
    cuts: dict[str, list[int]]
    phrases: list[PhraseOut]
    melody: str | None
    settings: list[SettingIn]
    plain: dict[str, dict[str, list[int]]]
    rights: RightsIn
    roles: list[RoleIn] = []


class TuneList(Response):
    items: list[TuneOut]
    next: str | None = None


class UnsureChordOut(Response):
    """A measure of a part, from 1, whose chord could well be the other one."""

    part: str
    measure: int
    proposed: str
    other: str


class TuneProposalOut(Response):
    """A tune out of a file, as it can be sent in; ``number`` is its place in the file. ``chords_proposed`` says that the file had none and they were named from the
    melody; ``unsure`` are those that could be others. ``remarks`` say what was read by inference or left out."""

    name: str
    key: str
    mode: str
    meter: str
    tempo: TempoIn
    chart: str
    melody: str
    source: str
    chords_proposed: bool
    unsure: list[UnsureChordOut]
    remarks: list[Place]
    number: int = 1


class TuneNotReadOut(Response):
    """A tune of a book that cannot be read: its place in the file, its name, empty without one, and where it is wrong."""

    number: int
    name: str
    at: list[Place]


class TuneProposals(Response):
    """Tunes that can be read, and those beside them that cannot; a file of which none can be read is refused."""

    items: list[TuneProposalOut]
    not_read: list[TuneNotReadOut] = []
