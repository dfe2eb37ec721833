"""Who is asking, and where they belong."""

from importlib.metadata import version

from litestar import Response, get

from schemas.people import MeOut, MyGroupList, MyGroupOut
from service.usecases.people import my_groups, who_am_i
from service.web.parts import PAGE, Asked, Cursor, Limit, caller_of, house_of, page, problems, read_cursor

SERVICE = version("breakwright")
SPEAKS = 1  # the number of the API; DEVELOPERS.md says when it goes up


@get("/v1/me", tags=["people"], summary="Who is asking, and of which group", responses=problems())
async def me(request: Asked) -> MeOut:
    caller, group, member = who_am_i(house_of(request), caller_of(request))
    return MeOut(
        role=caller.role,
        group=None if group is None else group.slug,
        member=caller.member_number,
        name=None if member is None else member.name,
        scopes=None if caller.scopes is None else sorted(caller.scopes),
        service=SERVICE,
        speaks=SPEAKS,
    )


@get(
    "/v1/me/groups",
    tags=["people"],
    summary="Groups that whoever asks is a member of",
    responses=problems(),
)
async def groups(request: Asked, limit: Limit = PAGE, cursor: Cursor = None) -> Response[MyGroupList]:
    found = my_groups(house_of(request), caller_of(request), read_cursor(cursor), limit + 1)
    shown, following, headers = page(request, found, limit, lambda membership: membership.slug)
    items = [
        MyGroupOut(slug=one.slug, name=one.name, server_id=one.server_id, role=one.role, member=one.number)
        for one in shown
    ]
    return Response(MyGroupList(items=items, next=following), headers=headers)


ROUTES = [me, groups]
