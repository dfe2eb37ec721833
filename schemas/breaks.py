"""Breaks."""

from typing import Annotated, Literal

from msgspec import Meta

from schemas.base import BigNumber, Request, Response, Sentence
from schemas.judgements import FitOut, MelodyOut, TempoOut
from schemas.licks import Level, LickNumber
from schemas.tunes import Bpm


class Filters(Request):
    """What a break must be. No instrument means the group's own.

    ``bpm`` is a tempo in the tune's own beats at which it must be comfortable, ``melody`` the least share of the melody that it
    recalls, ``no_repeats`` no lick twice (but where a part is played the same again on purpose). A ``settled`` draw changes style
    twice and goes up the neck once in a part at most, and gives repeated phrases one target note. ``style_most`` is how many
    licks of a style at most, ``level_sum`` what the levels of all licks may come to. ``repeats`` plays a part that comes again
    the same, or different each time. ``favour`` makes breaks likelier that recall more of the melody, join more smoothly, or
    have licks that the last ten breaks served did not, or that the group voted for. ``differs_by``: in so many phrases at least it differs from each of those.
    """

    instrument: str | None = None
    tuning: str | None = None
    max_level: Level | None = None
    styles: Annotated[list[str], Meta(max_length=20)] = []
    avoid: Annotated[list[LickNumber], Meta(max_length=1000)] = []
    must_include: Annotated[list[LickNumber], Meta(max_length=4)] = []
    bpm: Bpm | None = None
    melody: Annotated[float, Meta(ge=0, le=1)] | None = None
    no_repeats: bool = False
    settled: bool = True
    style_most: dict[str, Annotated[int, Meta(ge=0, le=512)]] = {}
    level_sum: Annotated[int, Meta(ge=1, le=2560)] | None = None
    favour: Literal["melody", "smooth", "fresh", "favourites"] | None = None
    differs_by: Annotated[int, Meta(ge=1, le=512)] | None = None
    repeats: Literal["same", "different"] | None = None


class RandomIn(Filters):
    """With a seed the same pool gives the same break; without one, no break comes twice too soon."""

    seed: Annotated[int, Meta(ge=-(2**63), le=2**63 - 1)] | None = None


class BestIn(Filters, kw_only=True):
    """The best breaks ``by`` smoothness of their joins, ease, or how much of the melody they recall; or by a ``mix`` of these,
    each counting so many times."""

    by: Literal["smooth", "easy", "melody"] | None = None
    mix: dict[Literal["smooth", "easy", "melody"], Annotated[int, Meta(ge=0, le=100)]] = {}
    how_many: Annotated[int, Meta(ge=1, le=50)] = 10


class SwapIn(Request):
    """A phrase of a break, counted from 1, and the lick that shall fill it; without one, alternatives are told.

    Where licks were taken down, rests are filled before anything else is changed: all at once, the others with the same lick
    where the same one was taken down and it goes there, else with the one that suits best.
    """

    phrase: Annotated[int, Meta(ge=1, le=512)]
    lick: LickNumber | None = None


class SwapOut(Response):
    """A lick that could take the place of another, or of a rest: by how much level, share of the melody there and the joins
    around it change.

    ``joins`` is a share of the time there is at the tune's tempo; ``clean`` says that the lick breaks no rule there.
    """

    number: int
    revision: int
    name: str
    style: str
    level: int
    level_change: int
    melody_change: float
    joins_change: float
    clean: bool


class SwapList(Response):
    items: list[SwapOut]
    next: str | None = None


class CountOut(Response):
    """``per_phrase`` is how many licks may begin at each phrase. ``total`` is null where only whole breaks can tell (no lick twice,
    share of the melody, unlike the last ones); ``total_with_repeats`` then counts all breaks of the licks allowed."""

    total: BigNumber | None
    per_phrase: list[int]
    snapshot: str
    total_with_repeats: BigNumber | None = None


class SettingOut(Response):
    """``stop_fret`` is counted from the nut; 0 is open; null without a short string."""

    instrument: str
    tuning: str
    position: str
    sounding: str
    capo: int
    stop: int | None
    stop_fret: int | None


class LickRef(Response):
    number: int
    revision: int
    name: str
    level: int
    style: str
    role: str | None
    phrases: int


class JudgementOut(Response):
    """What is judged of a lick where it stands; ``level`` at the tune's tempo."""

    fit: FitOut
    level: int
    top: TempoOut | None
    melody: MelodyOut | None
    reasons: list[Sentence]


class BreakPhraseOut(Response):
    """``phrase`` counts from 1 in playing order, ``phrases`` is how many are filled; chords are in the playing position.

    Where a lick was taken down there is a rest: no ``lick``, no ``judgement``, and a ``note`` that says so.
    """

    phrase: int
    phrases: int
    part: str
    role: str
    measure: int
    chords: str
    lick: LickRef | None
    judgement: JudgementOut | None
    note: Sentence | None = None


class JoinOut(Response):
    """The seam before a phrase, where no rest is on either side. ``cost`` is the share of the time there is that the hands need at the tune's tempo."""

    phrase: int
    cost: float
    reasons: list[Sentence]


class BreakOut(Response):
    """``level`` is that of its worst moment or join at ``tempo``; ``top`` its comfortable top tempo, ``melody`` the share of
    the tune's melody that it recalls; all of what is left where licks were taken down."""

    code: str
    tune: str
    tune_name: str
    meter: str
    setting: SettingOut
    number: BigNumber
    total: BigNumber
    snapshot: str
    phrases: list[BreakPhraseOut]
    joins: list[JoinOut]
    level: int
    tempo: TempoOut
    top: TempoOut | None
    melody: float | None
    links: dict[str, str]


class BreakList(Response):
    items: list[BreakOut]
    next: str | None = None


class BestList(Response):
    """Best first. Where ``exact`` is false the search ended before it was shown that no others are better."""

    items: list[BreakOut]
    exact: bool
    next: str | None = None
