"""Looking after the pool: review, and what licks were before."""

from typing import Annotated

from litestar import Response, get, post
from litestar.params import FromPath, JSONBody, PathParameter

from schemas.licks import LickOut, ReviewIn, RevisionList, RevisionOut
from service.usecases import changed_licks, pool_care
from service.usecases.licks import get_lick
from service.web.parts import (
    Asked,
    IfMatch,
    caller_of,
    etag,
    house_of,
    language,
    problems,
    revision_from,
)
from service.web.routes.licks import LickNumber
from service.web.show import lick_out, member_name

Revision = Annotated[int, PathParameter(ge=1, le=9_999_999, description="A revision, from 1.")]


@post(
    "/v1/groups/{group:str}/licks/{lick_number:int}/review",
    tags=["licks"],
    summary="Decide what becomes of a lick: the pool, reviewed, back to draft, retired",
    status_code=200,
    responses=problems(409, 412, 422, 428, 451, 503),
)
async def review(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    data: JSONBody[ReviewIn],
    if_match: IfMatch = None,
) -> Response[LickOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: get_lick(house, caller, group, lick_number, "change-licks").revision
    )
    kept = await pool_care.review(house, caller, group, lick_number, revision, data.decision, data.reason)
    return Response(lick_out(kept, group, language(request)), headers=etag(kept.revision))


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/revisions",
    tags=["licks"],
    summary="A lick's revisions, newest first",
    responses=problems(451),
)
async def revisions(request: Asked, group: FromPath[str], lick_number: LickNumber) -> RevisionList:
    found = changed_licks.lick_history(house_of(request), caller_of(request), group, lick_number)
    return RevisionList(
        items=[
            RevisionOut(
                revision=row.revision,
                created=row.created,
                by=row.by and member_name(row.by, language(request)),
            )
            for row in found
        ]
    )


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/revisions/{revision:int}",
    tags=["licks"],
    summary="A lick as it was",
    responses=problems(451),
)
async def one_revision(
    request: Asked, group: FromPath[str], lick_number: LickNumber, revision: Revision
) -> LickOut:
    kept = changed_licks.get_revision(house_of(request), caller_of(request), group, lick_number, revision)
    return lick_out(kept, group, language(request))


@post(
    "/v1/groups/{group:str}/licks/{lick_number:int}/revisions/{revision:int}/restore",
    tags=["licks"],
    summary="Make a lick again what it was: a new revision",
    status_code=200,
    responses=problems(412, 428, 451, 503),
)
async def restore(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    revision: Revision,
    if_match: IfMatch = None,
) -> Response[LickOut]:
    house, caller = house_of(request), caller_of(request)
    newest = revision_from(
        if_match, lambda: get_lick(house, caller, group, lick_number, "change-own-licks").revision
    )
    kept = await changed_licks.restore(house, caller, group, lick_number, revision, newest)
    return Response(lick_out(kept, group, language(request)), headers=etag(kept.revision))


ROUTES = [review, revisions, one_revision, restore]
