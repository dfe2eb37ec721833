"""Groups."""

from typing import Annotated

from msgspec import Meta

from schemas.base import Name, Request, Response, Slug

Language = Annotated[str, Meta(pattern=r"^[a-z]{2}(-[A-Z]{2})?$(?!\n)")]


class GroupIn(Request):
    slug: Slug
    name: Name
    instrument: str = "banjo"
    tuning: str = "open-g"
    language: Language = "en"
    platform: Annotated[str, Meta(pattern=r"^[!-~]{1,40}$(?!\n)")] | None = None
    server_id: Annotated[str, Meta(pattern=r"^[!-~]{1,80}$(?!\n)")] | None = None


class GroupPatch(Request):
    name: Name | None = None
    instrument: str | None = None
    tuning: str | None = None
    language: Language | None = None


class GroupOut(Response):
    slug: str
    name: str
    instrument: str
    tuning: str
    language: str
    platform: str | None
    server_id: str | None
    revision: int


class GroupList(Response):
    items: list[GroupOut]
    next: str | None = None
