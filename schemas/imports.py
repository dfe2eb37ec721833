"""Many licks at once."""

from typing import Literal

from schemas.base import Place, Response, Sentence


class ImportedOut(Response):
    """A lick of a file (its ``place`` there, from 1), or a file without one. One that is ``kept`` has a number and a state, with what
    holds a draft back; one that is ``skipped`` has ``why``; a ``faulty`` one the places ``at`` which it cannot be read."""

    file: str
    place: int | None
    name: str | None
    outcome: Literal["kept", "skipped", "faulty"]
    number: int | None = None
    state: str | None = None
    reasons: list[Sentence] = []
    why: Sentence | None = None
    at: list[Place] = []


class ImportOut(Response):
    """What became of each lick; of a ``dry`` import: what would. Its numbers are those that the licks would have had just now."""

    dry: bool
    kept: int
    skipped: int
    faulty: int
    items: list[ImportedOut]
    cautions: list[Sentence] = []
