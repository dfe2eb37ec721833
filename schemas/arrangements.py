"""Arrangements: a plain break of a tune out of its melody, and the positions to play it in."""

from typing import Annotated

from msgspec import Meta

from schemas.base import Request, Response, Sentence
from schemas.breaks import SettingOut
from schemas.judgements import TempoOut


class ArrangeIn(Request):
    """Without an instrument it is the group's own; without position and capo the tune's own setting, else the easiest one.

    ``level`` 1 is the melody with little between, 2 fills its gaps, 3 adds hammer-ons, pull-offs and slides. ``style`` may be
    ``melodic`` on the banjo. With ``keep`` the phrases become licks of the pool, and the tune's plain break on that instrument; with
    ``retire`` those of the plain break before that nobody has changed are retired: they are of a melody that is no more.
    """

    instrument: str | None = None
    tuning: str | None = None
    position: Annotated[str, Meta(min_length=1, max_length=12)] | None = None
    capo: Annotated[int, Meta(ge=0, le=11)] | None = None
    level: Annotated[int, Meta(ge=1, le=3)] = 2
    style: str | None = None
    keep: bool = False
    retire: bool = False


class ArrangedPhraseOut(Response):
    """``phrase`` counts from 1 in its part; ``lick`` is its number once it is kept. ``melody`` is the share of the melody that it
    recalls; ``reasons`` say what is left out of the melody and why, and what breaks a rule."""

    part: str
    phrase: int
    role: str
    lick: int | None
    level: int
    top: TempoOut | None
    melody: float | None
    chords: str
    tab: str
    line: str | None
    reasons: list[Sentence]


class ArrangementOut(Response):
    """``octave`` is how far the melody was moved to lie in reach, in semitones; ``melody`` the share of it that is recalled over all
    phrases; ``said`` tells the whole in sentences."""

    tune: str
    revision: int
    setting: SettingOut
    octave: int
    level: int
    style: str
    melody: float
    kept: bool
    phrases: list[ArrangedPhraseOut]
    said: list[Sentence]


class ProposedSettingOut(Response):
    """``low`` is the share of the melody, by time, on open strings and the first four frets; ``cost`` compares proposals."""

    setting: SettingOut
    octave: int
    low: float
    cost: float
    reasons: list[Sentence]


class ProposedSettings(Response):
    items: list[ProposedSettingOut]


class LickProposalOut(Response):
    """A lick proposed for a phrase, no lick of the pool yet: ``key`` names its notes and ``how`` tells how it was made. ``fit`` and
    ``melody`` (the share of it that is recalled; null without one) are 0..1; ``level`` and ``top`` are at the tune's tempo."""

    key: str
    name: str
    style: str
    chords: str
    tab: str
    line: str | None
    level: int
    top: TempoOut | None
    fit: float
    melody: float | None
    how: Sentence
    reasons: list[Sentence]


class LickProposals(Response):
    """Best first."""

    items: list[LickProposalOut]


class KeepProposalIn(Request):
    """Which proposal becomes a lick of the pool: its ``key``."""

    key: Annotated[str, Meta(min_length=1, max_length=40)]
