"""Members, invitations, and the trail of what organisers did."""

from dataclasses import replace
from typing import Annotated

import msgspec
from litestar import Response, delete, get, patch, post
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.people import (
    AuditList,
    AuditOut,
    InvitationIn,
    InvitationList,
    InvitationOut,
    MemberIn,
    MemberList,
    MemberOut,
    MemberPatch,
)
from service.store.people import MemberRow
from service.usecases import people as usecases
from service.usecases.audited import read_audit
from service.usecases.once import Once
from service.usecases.people import Invitation
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    Limit,
    caller_of,
    house_of,
    language,
    page,
    problems,
    read_number_cursor,
    repeatable,
)
from service.web.show import member_name

MemberNumber = Annotated[
    int, PathParameter(ge=1, le=9_999_999, description="A member's number in the group.")
]
Id = Annotated[int, PathParameter(ge=1, le=2**53)]
Gone = Annotated[bool, QueryParameter(name="gone", description="Those who left, too.")]


def member_out(row: MemberRow, language: str) -> MemberOut:
    return MemberOut(
        number=row.number,
        name=member_name(row.name, language),
        role=row.role,
        user=None if row.user_id is None else f"{row.platform}:{row.user_id}",
        created=row.created,
        left=row.left_at,
    )


@get("/v1/groups/{group:str}/members", tags=["people"], summary="Members, by number", responses=problems())
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None, gone: Gone = False
) -> Response[MemberList]:
    found = usecases.list_members(
        house_of(request), caller_of(request), group, read_number_cursor(cursor), limit + 1, gone=gone
    )
    shown, following, headers = page(request, found, limit, lambda row: row.number)
    return Response(
        MemberList(items=[member_out(row, language(request)) for row in shown], next=following),
        headers=headers,
    )


@post(
    "/v1/groups/{group:str}/members",
    tags=["people"],
    summary="Join, as the person a bot acts for; or write somebody down, as an organiser",
    responses=problems(409, 422, 503),
)
async def add(
    request: Asked, group: FromPath[str], data: JSONBody[MemberIn], idempotency_key: IdempotencyKey = None
) -> Response[MemberOut]:
    house, caller = house_of(request), caller_of(request)

    def made(row: MemberRow) -> tuple[MemberOut, int, dict[str, str]]:
        return (
            member_out(row, language(request)),
            201,
            {"location": f"/v1/groups/{group}/members/{row.number}"},
        )

    async def work(once: Once[MemberRow] | None) -> MemberRow:
        if data.role is not None:
            return await usecases.add_member(house, caller, group, data.name, data.role, once)
        return await usecases.join(
            house, caller, group, data.name, data.invitation, data.manages_server, once
        )

    return await repeatable(request, idempotency_key, made, work)


@get(
    "/v1/groups/{group:str}/members/{member:int}", tags=["people"], summary="One member", responses=problems()
)
async def one(request: Asked, group: FromPath[str], member: MemberNumber) -> MemberOut:
    found = usecases.get_member(house_of(request), caller_of(request), group, member)
    return member_out(found, language(request))


@patch(
    "/v1/groups/{group:str}/members/{member:int}",
    tags=["people"],
    summary="Another name or role; everybody may change their own name",
    responses=problems(409, 422, 503),
)
async def change(
    request: Asked, group: FromPath[str], member: MemberNumber, data: JSONBody[MemberPatch]
) -> MemberOut:
    row = await usecases.change_member(
        house_of(request), caller_of(request), group, member, data.name, data.role
    )
    return member_out(row, language(request))


@delete(
    "/v1/groups/{group:str}/members/{member:int}",
    tags=["people"],
    summary="Leave, or show somebody out; what they sent in stays",
    responses=problems(409, 503),
)
async def leave(request: Asked, group: FromPath[str], member: MemberNumber) -> None:
    await usecases.leave(house_of(request), caller_of(request), group, member)


def invitation_out(made: Invitation) -> InvitationOut:
    row = made.row
    return InvitationOut(
        id=row.id, role=row.role, uses=row.uses, expires=row.expires, created=row.created, code=made.code
    )


@get(
    "/v1/groups/{group:str}/invitations",
    tags=["people"],
    summary="Invitations that still let somebody in",
    responses=problems(),
)
async def invitations(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[InvitationList]:
    found = usecases.list_invitations(
        house_of(request), caller_of(request), group, read_number_cursor(cursor), limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda made: made.row.id)
    items = [invitation_out(made) for made in shown]
    return Response(InvitationList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/invitations",
    tags=["people"],
    summary="Invite somebody; the code is shown this once",
    responses=problems(409, 422, 503),
)
async def invite(
    request: Asked, group: FromPath[str], data: JSONBody[InvitationIn], idempotency_key: IdempotencyKey = None
) -> Response[InvitationOut]:
    def made(found: Invitation) -> tuple[InvitationOut, int, dict[str, str]]:
        return invitation_out(found), 201, {}

    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.invite(
            house_of(request), caller_of(request), group, data.role, data.uses, data.days, once
        ),
        without_secret=lambda made: replace(made, code=None),
    )


@delete(
    "/v1/groups/{group:str}/invitations/{invitation:int}",
    tags=["people"],
    summary="Withdraw an invitation",
    responses=problems(503),
)
async def withdraw(request: Asked, group: FromPath[str], invitation: Id) -> None:
    await usecases.withdraw_invitation(house_of(request), caller_of(request), group, invitation)


@get(
    "/v1/groups/{group:str}/audit",
    tags=["people"],
    summary="What organisers did, newest first",
    responses=problems(),
)
async def audit(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[AuditList]:
    found = read_audit(
        house_of(request), caller_of(request), group, read_number_cursor(cursor) or None, limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda row: row.id)
    items = [
        AuditOut(
            id=row.id,
            at=row.at,
            by=row.by,
            action=row.action,
            subject=row.subject,
            params=msgspec.json.decode(row.params),
        )
        for row in shown
    ]
    return Response(AuditList(items=items, next=following), headers=headers)


ROUTES = [every, add, one, change, leave, invitations, invite, withdraw, audit]
