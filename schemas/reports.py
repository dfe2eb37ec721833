"""Reports of licks, and their answers."""

from typing import Annotated, Literal

from msgspec import Meta

from schemas.base import Request, Response, Sentence
from schemas.licks import Said

Text = Annotated[str, Meta(max_length=1000)]


class ReportIn(Request):
    """What is the matter with a lick: somebody else has rights in it, it is wrong, it hurts somebody, or something else."""

    reason: Literal["rights", "wrong", "unkind", "other"]
    text: Text = ""


class AnswerIn(Request):
    """``taken-down`` takes the lick down with this text as the reason; ``kept`` leaves it. Whoever reported it reads the text."""

    decision: Literal["taken-down", "kept"]
    text: Said


class ReportOut(Response):
    """``by`` is null for what the service noticed itself (``taken-down-at-origin``), which ``about`` says in a sentence, and for
    somebody who was erased. ``decision``, ``answer`` and ``answered`` (when) are null while it is open."""

    id: int
    lick: int
    by: str | None
    reason: str
    text: str
    about: Sentence | None
    created: str
    decision: str | None
    answer: str | None
    answered: str | None


class ReportList(Response):
    items: list[ReportOut]
    next: str | None = None
