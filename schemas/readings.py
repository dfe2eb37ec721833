"""Reading a tab without keeping it."""

from typing import Annotated

from msgspec import Meta

from schemas.base import Place, Request, Response


class ReadingIn(Request):
    """A tab, or the one-line form. What is stated here wins over what the text says."""

    text: Annotated[str, Meta(min_length=1, max_length=100_000)]
    instrument: str
    tuning: str | None = None
    meter: str | None = None
    measures: Annotated[int, Meta(ge=1, le=512)] | None = None
    columns: Annotated[int, Meta(ge=1, le=96, description="Time columns a measure: 8, 16.")] | None = None


class NoteOut(Response):
    """Ticks are 480 to the quarter; onset counts from the start of the measure; measure 0 is the pickup."""

    measure: int
    onset: int
    duration: int
    string: int
    fret: int
    pitch: int
    technique: str | None = None
    finger: str | None = None


class ChordOut(Response):
    measure: int
    onset: int
    name: str


class ReadingOut(Response):
    """``tidy`` is the tab written anew, ``line`` its one-line form (null where that cannot carry it)."""

    notes: list[NoteOut]
    chords: list[ChordOut]
    warnings: list[Place]
    tidy: str
    line: str | None
    measures: int
    played: list[int]
    instrument: str
    tuning: str
    meter: str
    capo: int
