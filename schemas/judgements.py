"""What is judged of licks: fit, hands, level, melody, joins, twins, versions."""

from typing import Annotated

from msgspec import Meta

from schemas.base import Request, Response, Sentence, Slug
from schemas.tunes import Bpm, Role


class TempoOut(Response):
    """Beats a minute; ``unit`` says what a beat is."""

    bpm: int
    unit: str


class JudgementIn(Request):
    """Over a phrase of a tune (both or neither), at a tempo in the tune's own beats."""

    tune: Slug | None = None
    phrase: Annotated[int, Meta(ge=1, le=512)] | None = None
    bpm: Bpm | None = None


class FitOut(Response):
    """``score`` 0..1; ``share`` of it that the notes earn, the rest is how usual the chords are in the key."""

    score: float
    reasons: list[Sentence]
    share: float | None = None
    classes: list[str] | None = None


class HandsOut(Response):
    """``left`` fingers 0-4 and ``right`` T I M, p i m a or d u, by note in the lick's order; null where there is none.

    ``top`` is the comfortable top tempo, null where no hand can play it; ``limits`` are the moments that set it.
    """

    left: list[int | None]
    right: list[str | None]
    top: TempoOut | None
    limits: list[Sentence]


class LevelOut(Response):
    """``level`` 1-5 at a tempo; ``points`` by what makes it hard."""

    level: int
    tempo: TempoOut
    points: dict[str, float]
    reasons: list[Sentence]


class MelodyNoteOut(Response):
    """A note of the tune, as the hand thinks of it, and whether the lick keeps it."""

    measure: int
    beat: str
    note: str
    kept: bool


class MelodyOut(Response):
    """``share`` 0..1 of the melody recalled; ``kept`` of ``strong`` notes on strong places; ``keeps`` if that is half or more.

    ``notes`` are the melody's, where they are asked for.
    """

    share: float
    kept: int
    strong: int
    keeps: bool
    notes: list[MelodyNoteOut] | None = None


class LickJudgementOut(Response):
    """``melody`` is null without a tune's melody; ``reasons`` is everything worth saying, rules that are broken first."""

    fit: FitOut
    hands: HandsOut
    level: LevelOut
    melody: MelodyOut | None
    role: str
    reasons: list[Sentence]


class NamedChord(Response):
    """A chord's name and how sure it is, 0..1."""

    name: str
    confidence: float


class TextJudgementIn(Request):
    """A lick as text, judged without being kept. Without chords they are named from the notes."""

    text: Annotated[str, Meta(min_length=1, max_length=20_000)]
    instrument: str
    key: Annotated[str, Meta(min_length=1, max_length=12)]
    chords: Annotated[str, Meta(min_length=1, max_length=400)] | None = None
    hand_style: str | None = None
    style: str | None = None
    role: Role | None = None
    tuning: str | None = None
    meter: str | None = None
    measures: Annotated[int, Meta(ge=1, le=64)] | None = None
    columns: Annotated[int, Meta(ge=1, le=96)] | None = None
    bpm: Bpm | None = None


class TextJudgementOut(Response):
    """``named`` are the likeliest chords of each measure, whether or not chords were given; ``tab`` has both hands' fingers."""

    judgement: LickJudgementOut
    chords: str
    named: list[list[NamedChord]]
    tab: str


class CandidateOut(Response):
    """A lick for a phrase. ``score`` 0..1 ranks it; ``clean`` says that it breaks no rule there at the tune's tempo."""

    number: int
    revision: int
    name: str
    style: str
    role: str | None
    phrases: int
    score: float
    fit: float
    melody: float
    level: int
    top: TempoOut | None
    clean: bool
    reasons: list[Sentence]


class CandidateList(Response):
    items: list[CandidateOut]
    next: str | None = None


class JoinJudgementOut(Response):
    """The seam from one lick into another: ``cost`` is the share of the time there is that the hands need at ``tempo``."""

    cost: float
    tempo: TempoOut
    reasons: list[Sentence]


class TwinOut(Response):
    number: int
    changed: int
    measures: list[int]
    moved: int
    text: str


class TwinList(Response):
    items: list[TwinOut]
    next: str | None = None


class VersionOut(Response):
    """A lick made from another: not kept until somebody submits its text."""

    name: str
    chords: str
    tab: str
    line: str | None
    level: int
    top: TempoOut | None
    fit: float
    reasons: list[Sentence]


class VersionList(Response):
    items: list[VersionOut]
    next: str | None = None


class MoveIn(Request):
    """Where to: the lick's first chord becomes ``chord``; or everything goes to ``key``, up ``semitones``, on as a sequence
    by ``steps`` of the scale, or to another ``instrument`` or ``tuning``."""

    chord: Annotated[str, Meta(min_length=1, max_length=12)] | None = None
    key: Annotated[str, Meta(min_length=1, max_length=12)] | None = None
    semitones: Annotated[int, Meta(ge=-11, le=11)] | None = None
    steps: Annotated[int, Meta(ge=-7, le=7)] | None = None
    instrument: str | None = None
    tuning: str | None = None
    hand_style: str | None = None
