"""Instruments, tunings, hand styles."""

from schemas.base import Response


class TuningOut(Response):
    """``pitches`` are MIDI numbers of the open strings, string 1 first."""

    id: str
    name: str
    pitches: list[int]
    labels: list[str]


class InstrumentOut(Response):
    id: str
    name: str
    strings: int
    frets: int
    scale_mm: int
    short_string: int | None
    tunings: list[TuningOut]
    hand_styles: dict[str, list[str]]


class InstrumentList(Response):
    items: list[InstrumentOut]
    next: str | None = None
