"""Licks."""

from typing import Annotated, Literal

from msgspec import Meta

from schemas.base import Name, Place, Request, Response, Sentence
from schemas.judgements import FitOut, TempoOut
from schemas.readings import NoteOut
from schemas.tunes import RightsIn, Role

Level = Annotated[int, Meta(ge=1, le=5)]
LickNumber = Annotated[int, Meta(ge=1, le=9_999_999)]
Said = Annotated[str, Meta(min_length=1, max_length=500, pattern=r"\S")]


class LickRightsIn(RightsIn, frozen=True, kw_only=True):
    """``source`` and ``year`` say what an adapted lick is taken from. Whoever sends a lick in says that they may
    (``may_submit``), whether others may edit it (``may_edit``), and whether other groups may have it (``may_share``).
    Only they can say otherwise later."""

    may_submit: bool = True
    may_edit: bool = True
    may_share: bool = False


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
    rights: LickRightsIn = LickRightsIn()


class LickProposalOut(Response):
    """A lick out of a file, as it can be sent in. ``text`` is its tab; ``chords`` is empty where the file has no chord symbols.
    ``remarks`` say what was read by inference or left out."""

    name: str
    text: str
    instrument: str
    tuning: str
    meter: str
    key: str
    chords: str
    remarks: list[Place]


class BorrowedOut(Response):
    """Where a borrowed lick comes from: the group's name, its lick and revision, and the rights as they were then."""

    group: str
    lick: int
    revision: int
    borrowed: str
    rights: LickRightsIn


class LickOut(Response):
    """``state`` is draft, reviewed, pool or retired; ``reasons`` say what holds a draft back and what is worth knowing. ``by`` is
    the member who sent it in, if known. ``said`` is what an organiser told them with the last decision, for the two of them to read.
    ``cautions`` are said once, when it is sent in; ``arranged`` says that the service made it out of a tune's melody or another lick. ``chart`` is its chords by measure, as it can be sent in again.
    """

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
    chart: str
    notes: list[NoteOut]
    tab: str
    line: str | None
    fit: FitOut
    top: TempoOut | None
    reasons: list[Sentence]
    warnings: list[Place]
    rights: LickRightsIn
    by: str | None
    borrowed_from: BorrowedOut | None
    said: str | None
    links: dict[str, str]
    cautions: list[Sentence] = []
    arranged: bool = False


class LickList(Response):
    items: list[LickOut]
    next: str | None = None


class RevisionOut(Response):
    """``by`` is the member who wrote it, if known."""

    revision: int
    created: str
    by: str | None


class RevisionList(Response):
    items: list[RevisionOut]
    next: str | None = None


class ReviewIn(Request):
    """What becomes of a lick: ``keep`` puts it into the pool as it is, ``reviewed`` says that it is good and waits, ``back`` makes
    a draft of it again, with a ``reason`` for its author, ``retire`` is to be done with it."""

    decision: Literal["keep", "reviewed", "back", "retire"]
    reason: Said | None = None


class TakenDownIn(Request):
    """Why a lick is taken down; organisers alone can read it."""

    reason: Said


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
