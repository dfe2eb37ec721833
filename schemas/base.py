"""What all messages on the wire share."""

from typing import Annotated, Any

import msgspec
from msgspec import Meta

Slug = Annotated[
    str, Meta(pattern=r"^[a-z][a-z0-9-]{0,39}$(?!\n)", description="A short name that people type.")
]
# No control characters, nor any that turn the direction of writing or cannot be seen.
_PLAIN = r"[^\x00-\x1f\x7f-\x9f\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff]"
NAME = rf"^(?=.*\S){_PLAIN}*$(?!\n)"
Name = Annotated[str, Meta(min_length=1, max_length=120, pattern=NAME)]
LINES = rf"^(?:{_PLAIN}|\n)*$(?!\n)"
BigNumber = Annotated[
    str, Meta(pattern="^[0-9]+$", description="A whole number of any length, as decimal digits.")
]


class Request(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    """What clients send: unknown fields are refused."""


class Response(msgspec.Struct, kw_only=True):
    """What the service answers: readers let unknown fields pass."""


class Sentence(Response):
    """Something said to people: its code, parameters, and text in the language asked for.

    ``advice`` says what to do about it, ``measure`` and ``beat`` where it is, as far as there is such a thing.
    """

    code: str
    params: dict[str, Any]
    text: str
    advice: str | None = None
    measure: int | None = None
    beat: str | None = None


class Place(Response):
    """Where something is wrong and what to do; only what is known is given."""

    code: str
    text: str
    advice: str | None = None
    line: int | None = None
    column: int | None = None
    excerpt: str | None = None
    path: str | None = None
    measure: int | None = None
    beat: str | None = None


class Problem(Response):
    """Every error, as RFC 9457 problem details."""

    type: str
    title: str
    status: int
    detail: str
    code: str
    at: list[Place] = []
    request_id: str | None = None
