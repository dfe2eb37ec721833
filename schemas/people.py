"""Members, invitations, tokens, and the trail of what organisers did."""

from typing import Annotated, Any, Literal

from msgspec import Meta

from schemas.base import Name, Request, Response

MemberRole = Literal["organiser", "member"]
MemberNumber = Annotated[int, Meta(ge=1, le=9_999_999)]
Days = Annotated[int, Meta(ge=1, le=3650)]
Scope = Literal["read", "play", "contribute", "organise", "deliver", "operate"]


class MemberIn(Request):
    """Somebody who joins, through a bot that acts for them, or whom an organiser writes down (then with a ``role``).

    ``invitation`` is the code of one; ``manages_server`` is what the chat platform says, and names the first organiser.
    """

    name: Name
    role: MemberRole | None = None
    invitation: Annotated[str, Meta(min_length=1, max_length=64)] | None = None
    manages_server: bool = False


class MemberPatch(Request):
    name: Name | None = None
    role: MemberRole | None = None


class MemberOut(Response):
    """``user`` is ``platform:id``, null for somebody on none."""

    number: int
    name: str
    role: str
    user: str | None
    created: str
    left: str | None


class MeOut(Response):
    """``service`` is the release of the service. ``speaks`` is the number of its API: it goes up when a client that was written for
    the number before would be misunderstood, or would misunderstand.

    ``role`` is operator, bot, organiser, member, or guest: somebody in the chat who has not joined. ``group`` is the one that
    they, or the server they ask from, belong to; null for those of the whole service and for a server of no group."""

    role: str
    group: str | None
    member: int | None
    name: str | None
    scopes: list[str] | None
    service: str
    speaks: int


class MyGroupOut(Response):
    """A group that whoever asks is a member of; ``member`` is their number there, ``server_id`` null for a group on no platform."""

    slug: str
    name: str
    server_id: str | None
    role: str
    member: int


class MyGroupList(Response):
    items: list[MyGroupOut]
    next: str | None = None


class MemberList(Response):
    items: list[MemberOut]
    next: str | None = None


class InvitationIn(Request):
    role: MemberRole = "member"
    uses: Annotated[int, Meta(ge=1, le=1000)] = 1
    days: Days = 7


class InvitationOut(Response):
    """``code`` is shown once, when it is made; a repeated Idempotency-Key brings it back no more."""

    id: int
    role: str
    uses: int
    expires: str
    created: str
    code: str | None = None


class InvitationList(Response):
    items: list[InvitationOut]
    next: str | None = None


class TokenIn(Request):
    """``member`` is whose it is, by number; ``scopes`` hold it to some of what the role may do; it ends after ``days``."""

    role: MemberRole
    member: MemberNumber | None = None
    scopes: Annotated[list[Scope], Meta(min_length=1, max_length=6)] | None = None
    days: Days | None = None
    label: Name | None = None


class ServiceTokenIn(Request):
    role: Literal["operator", "bot"]
    scopes: Annotated[list[Scope], Meta(min_length=1, max_length=6)] | None = None
    days: Days | None = None
    label: Name | None = None


class RotationIn(Request):
    """The old token holds ``overlap_s`` seconds longer; the new one ends after ``days``, or when the old one would have."""

    overlap_s: Annotated[int, Meta(ge=0, le=604_800)] = 0
    days: Days | None = None


class TokenOut(Response):
    """``secret`` is shown once, when it is made; a repeated Idempotency-Key brings it back no more: rotate the token."""

    id: int
    role: str
    member: int | None
    scopes: list[str] | None
    expires: str | None
    label: str | None
    created: str
    secret: str | None = None


class TokenList(Response):
    items: list[TokenOut]
    next: str | None = None


class AuditOut(Response):
    """``by`` is null where a token belonged to nobody, or to somebody who was erased."""

    id: int
    at: str
    by: str | None
    action: str
    subject: str
    params: dict[str, Any]


class AuditList(Response):
    items: list[AuditOut]
    next: str | None = None
