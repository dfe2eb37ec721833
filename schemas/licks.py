"""Licks."""

from typing import Annotated

from msgspec import Meta

from schemas.base import Name, Place, Request, Response, Sentence
from schemas.judgements import FitOut, TempoOut
from schemas.readings import NoteOut
from schemas.tunes import RightsIn, Role

Level = Annotated[int, Meta(ge=1, le=5)]
LickNumber = Annotated[int, Meta(ge=1, le=9_999_999)]


class LickIn(Request):
    """``text`` is tab or the one-line form; ``chords`` a chart of its measures, without the pickup.

    Key, chords and frets are those the hand thinks in: no capo. A level that is given stands; without one it is judged.
    """

    name: Name
    text: Annotated[str, Meta(min_length=1, max_length=20_000)]
    instrument: str
    chords: Annotated[str, Meta(min_length=1, max_length=400)]
    key: Annotated[str, Meta(min_length=1, max_length=12)]
    hand_style: str
    style: str
    level: Level | None = None
    tuning: str | None = None
    meter: str | None = None
    role: Role | None = None
    phrases: Annotated[int, Meta(ge=1, le=8)] = 1
    columns: Annotated[int, Meta(ge=1, le=96)] | None = None
    rights: RightsIn = RightsIn()


class LickOut(Response):
    """``state`` is pool, draft or retired; ``reasons`` say what holds a draft back and what is worth knowing."""

    number: int
    revision: int
    state: str
    name: str
    instrument: str
    tuning: str
    hand_style: str
    style: str
    meter: str
    key: str
    role: str | None
    level: int
    phrases: int
    measures: int
    pickup: int
    chords: str
    notes: list[NoteOut]
    tab: str
    line: str | None
    fit: FitOut
    top: TempoOut | None
    reasons: list[Sentence]
    warnings: list[Place]
    rights: RightsIn
    links: dict[str, str]


class LickList(Response):
    items: list[LickOut]
    next: str | None = None


class RevisionOut(Response):
    revision: int
    created: str


class RevisionList(Response):
    items: list[RevisionOut]
    next: str | None = None


class TakenDownIn(Request):
    """Why a lick is taken down; organisers alone can read it."""

    reason: Annotated[str, Meta(min_length=1, max_length=500, pattern=r"\S")]


class TakenDownOut(Response):
    """A lick that is kept from everybody: nothing of it but its number and why. ``by`` is the member who said so, if known."""

    lick: int
    revision: int
    reason: str
    created: str
    by: str | None


class TakenDownList(Response):
    items: list[TakenDownOut]
    next: str | None = None
