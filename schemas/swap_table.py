"""The swap table: what groups share with all others."""

from schemas.base import Request, Response
from schemas.licks import LickNumber


class ShareIn(Request):
    """The lick whose newest revision goes on the table."""

    lick: LickNumber


class SharedOut(Response):
    """A lick on the table. ``group`` is the name of the group that shares it; ``own`` says that it is the asker's, and ``lick`` is
    its number there, null for others'."""

    id: int
    group: str
    own: bool
    lick: int | None
    published: str
    name: str
    instrument: str
    tuning: str
    hand_style: str
    style: str
    meter: str
    key: str
    role: str | None
    level: int
    chords: str
    tab: str
    origin: str
    source: str | None
    year: int | None
    credit: str | None
    licence: str | None


class SharedList(Response):
    items: list[SharedOut]
    next: str | None = None
