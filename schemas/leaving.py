"""Copies that are brought in, and going for good."""

from typing import Literal

from schemas.base import Request, Response
from schemas.groups import GroupOut


class ErasureIn(Request):
    """``keep``: what was sent in stays, with no name. ``remove``: it goes too."""

    licks: Literal["keep", "remove"]


class ImportedOut(Response):
    """``rows``: how many of each kind came in."""

    group: GroupOut
    rows: dict[str, int]
