"""Who is asking."""

from litestar import get

from schemas.people import MeOut
from service.usecases.people import who_am_i
from service.web.parts import Asked, caller_of, house_of, problems


@get("/v1/me", tags=["people"], summary="Who is asking, and of which group", responses=problems())
async def me(request: Asked) -> MeOut:
    caller, group, member = who_am_i(house_of(request), caller_of(request))
    return MeOut(
        role=caller.role,
        group=None if group is None else group.slug,
        member=caller.member_number,
        name=None if member is None else member.name,
        scopes=None if caller.scopes is None else sorted(caller.scopes),
    )


ROUTES = [me]
