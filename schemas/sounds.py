"""Sound, as what is told of it."""

from schemas.base import Response
from schemas.tunes import BeatUnit


class SoundFileOut(Response):
    """A file of sound, rounds counted from 1: those that begin in it."""

    link: str
    bytes: int
    seconds: float
    first_round: int
    last_round: int


class WorkUpTempo(Response):
    """A tempo, and the second at which it begins, its count-in included."""

    bpm: int
    starts: float


class SoundOut(Response):
    """Files to be played one after the other; tempos in beats of ``unit`` a minute."""

    files: list[SoundFileOut]
    unit: BeatUnit
    tempos: list[WorkUpTempo]
    seconds: float
    cautions: list[str]
