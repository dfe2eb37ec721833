"""Lessons and practice."""

from datetime import date
from typing import Annotated

from msgspec import Meta, field

from schemas.base import Request, Response, Sentence
from schemas.licks import Level, LickNumber
from schemas.people import MemberNumber
from schemas.tunes import Bpm

BreakCode = Annotated[str, Meta(min_length=1, max_length=20, description="A break's code.")]
PhraseNumber = Annotated[
    int, Meta(ge=1, le=512, description="A phrase in playing order, repeats written out.")
]
Comment = Annotated[str, Meta(max_length=2000)]


class PieceIn(Request):
    """What is practised: a ``lick``, or a ``break``, perhaps the loop of one of its phrases."""

    lick: LickNumber | None = None
    break_: BreakCode | None = field(default=None, name="break")
    phrase: PhraseNumber | None = None


class LessonIn(PieceIn, kw_only=True):
    """For one member by a day; ``level`` is what the teacher thinks of the member, seen by those two alone."""

    member: MemberNumber
    due: date
    comment: Comment = ""
    level: Level | None = None


class LessonPatch(Request):
    """``shared``: the group may see it, all but the level."""

    shared: bool | None = None
    done: bool | None = None


class PieceOut(Response):
    lick: int | None
    break_: str | None = field(name="break")
    phrase: int | None


class LessonOut(PieceOut):
    """``member`` and ``teacher`` are numbers in the group; ``level`` is null for anybody else."""

    number: int
    member: int
    teacher: int
    due: date
    comment: str
    level: int | None
    shared: bool
    done: bool
    created: str


class LessonList(Response):
    items: list[LessonOut]
    next: str | None = None


class LogIn(PieceIn, kw_only=True):
    """``bpm`` counts the beats of the lick's meter or the break's tune; ``day`` is today in the group's zone unless another is
    named. ``passes`` at that tempo, all of them clean or not."""

    bpm: Bpm
    clean: bool
    passes: Annotated[int, Meta(ge=1, le=99)] = 1
    without_tab: bool = False
    from_memory: bool = False
    minutes: Annotated[int, Meta(ge=1, le=1440)] | None = None
    day: date | None = None


class LogOut(PieceOut):
    id: int
    day: date
    bpm: int
    unit: str
    clean: bool
    passes: int
    without_tab: bool
    from_memory: bool
    minutes: int | None
    created: str


class LogList(Response):
    items: list[LogOut]
    next: str | None = None


class NextTempo(Response):
    bpm: int
    unit: str
    code: str
    text: str


class LoggedOut(LogOut):
    """A log as it was kept, and what to play next."""

    next: NextTempo
    cautions: list[Sentence]


class CleanTempo(Response):
    day: date
    bpm: int


class PieceProgressOut(PieceOut):
    """``best`` is the best clean tempo and the day it was first reached, ``rises`` every day on which it rose; ``days`` on which
    it was practised."""

    unit: str
    days: int
    best: CleanTempo | None
    rises: list[CleanTempo]


class WeekMinutes(Response):
    """``week`` is its Monday."""

    week: date
    minutes: int


class ProgressOut(Response):
    """``days_played`` of the last ``of_days``. ``picture`` describes the plot of a single piece for those who cannot see it."""

    member: int
    pieces: list[PieceProgressOut]
    days_played: int
    of_days: int
    weeks: list[WeekMinutes]
    cautions: list[Sentence]
    picture: str | None


class DueOut(PieceOut):
    """``step`` counts how far apart the days are by now."""

    due: date
    step: int


class DueList(Response):
    items: list[DueOut]
    next: str | None = None


class PracticeChoicesIn(Request):
    """``shared``: the group may see how practice goes. ``reminders``: what is played without tab or from memory comes up again."""

    shared: bool
    reminders: bool


class PracticeChoicesOut(Response):
    shared: bool
    reminders: bool
