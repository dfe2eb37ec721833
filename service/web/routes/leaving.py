"""Copies of a group and of oneself, a group brought in from elsewhere, going for good."""

import tempfile
from typing import Annotated

from litestar import Response, delete, get, post
from litestar.openapi.datastructures import ResponseSpec
from litestar.params import FromPath, JSONBody, QueryParameter
from litestar.response import Stream

from schemas.leaving import ErasureIn, ImportedOut
from service.errors import DomainError
from service.usecases import erasing
from service.usecases.group_copies import Copy, export_group, export_member
from service.usecases.group_imports import import_group
from service.usecases.identify import require
from service.web.parts import Asked, caller_of, etag, house_of, problems
from service.web.routes.people import MemberNumber
from service.web.show import group_out

ZIP = "application/zip"
SLUG = r"^[a-z][a-z0-9-]{0,39}$"
NewSlug = Annotated[
    str | None,
    QueryParameter(
        name="slug", pattern=SLUG, description="What the group is called here; as it was without."
    ),
]
Bind = Annotated[
    bool,
    QueryParameter(
        name="bind", description="It belongs to the chat server that it did, if no other group does."
    ),
]
Confirm = Annotated[
    str | None,
    QueryParameter(name="confirm", max_length=40, description="The group's name once more."),
]
_ZIPPED = ResponseSpec(bytes, generate_examples=False, description="The copy.", media_type=ZIP)


def _sent(copy: Copy) -> Stream:
    headers = {
        "content-disposition": f'attachment; filename="{copy.name}"',
        "content-length": str(copy.size),
        "cache-control": "private, no-store",
        "x-content-type-options": "nosniff",
    }
    return Stream(copy.chunks(), media_type=ZIP, headers=headers)


@get(
    "/v1/groups/{group:str}/export",
    tags=["leaving"],
    summary="Everything of a group, as a zip of JSON and text",
    media_type=ZIP,
    responses={**problems(503), 200: _ZIPPED},
)
async def whole(request: Asked, group: FromPath[str]) -> Stream:
    return _sent(await export_group(house_of(request), caller_of(request), group))


@get(
    "/v1/groups/{group:str}/members/{member:int}/export",
    tags=["leaving"],
    summary="Everything that is known of oneself, as a zip of JSON and text",
    media_type=ZIP,
    responses={**problems(503), 200: _ZIPPED},
)
async def oneself(request: Asked, group: FromPath[str], member: MemberNumber) -> Stream:
    return _sent(await export_member(house_of(request), caller_of(request), group, member))


@post(
    "/v1/imports",
    tags=["leaving"],
    summary="A new group from a copy (operator): the zip itself is the body",
    responses=problems(409, 413, 422, 503),
    request_max_body_size=None,
)
async def bring(request: Asked, slug: NewSlug = None, bind: Bind = False) -> Response[ImportedOut]:
    house, caller = house_of(request), caller_of(request)
    require(caller, "import-group")  # before a body is taken in
    most = house.settings.group_import_mib << 20
    with tempfile.TemporaryFile(dir=house.settings.data) as file:
        size = 0
        async for chunk in request.stream():
            size += len(chunk)
            if size > most:
                raise DomainError("too-large", most=most)
            file.write(chunk)
        made = await import_group(house, caller, file, slug, bind=bind)
    headers = {**etag(made.group.revision), "location": f"/v1/groups/{made.group.slug}"}
    return Response(
        ImportedOut(group=group_out(made.group), rows=made.rows), status_code=201, headers=headers
    )


@post(
    "/v1/groups/{group:str}/members/{member:int}/erasure",
    tags=["leaving"],
    summary="Be erased, or erase somebody who asked for it: nothing tells any more who they were",
    status_code=204,
    responses=problems(409, 422, 503),
)
async def erase(
    request: Asked, group: FromPath[str], member: MemberNumber, data: JSONBody[ErasureIn]
) -> None:
    remove = data.licks == "remove"
    await erasing.erase_member(house_of(request), caller_of(request), group, member, remove=remove)


@delete(
    "/v1/groups/{group:str}",
    tags=["leaving"],
    summary="Delete a group with everything in it, for good",
    responses=problems(422, 503),
)
async def end(request: Asked, group: FromPath[str], confirm: Confirm = None) -> None:
    await erasing.delete_group(house_of(request), caller_of(request), group, confirm)


ROUTES = [whole, oneself, bring, erase, end]
