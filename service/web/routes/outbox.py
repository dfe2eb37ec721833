"""The outbox: claimed and answered by a bot, looked at by organisers."""

from typing import Annotated

from litestar import Response, get, post, put
from litestar.params import FromPath, JSONBody, PathParameter

from schemas.challenges import (
    BroughtBackOut,
    ClaimsIn,
    FailedIn,
    PostList,
    PostStateList,
    PostStateOut,
    SentIn,
)
from service.usecases import posting as usecases
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    Limit,
    caller_of,
    house_of,
    page,
    problems,
    read_number_cursor,
)
from service.web.show_challenges import post_out, post_state_out

PostId = Annotated[int, PathParameter(ge=1, le=2**53)]


@post(
    "/v1/outbox/claims",
    tags=["outbox"],
    summary="Claim posts to be sent (bot)",
    status_code=200,
    responses=problems(503),
)
async def claim(request: Asked, data: JSONBody[ClaimsIn]) -> PostList:
    found = await usecases.claim(
        house_of(request), caller_of(request), data.platform, data.most, data.lease_s
    )
    return PostList(items=[post_out(claimed) for claimed in found])


@put(
    "/v1/outbox/{post_id:int}/sent",
    tags=["outbox"],
    summary="A claimed post was sent, also after its lease (bot)",
    responses=problems(409, 503),
)
async def sent(request: Asked, post_id: PostId, data: JSONBody[SentIn]) -> PostStateOut:
    row = await usecases.mark_sent(house_of(request), caller_of(request), post_id, data.message_id)
    return post_state_out(row)


@put(
    "/v1/outbox/{post_id:int}/failed",
    tags=["outbox"],
    summary="A claimed post could not be sent (bot)",
    responses=problems(409, 503),
)
async def failed(request: Asked, post_id: PostId, data: JSONBody[FailedIn]) -> PostStateOut:
    row = await usecases.mark_failed(
        house_of(request), caller_of(request), post_id, data.reason, data.retry_after_s
    )
    return post_state_out(row)


@get(
    "/v1/groups/{group:str}/posts",
    tags=["outbox"],
    summary="A group's posts and what became of them, newest first",
    responses=problems(),
)
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[PostStateList]:
    found = usecases.list_posts(
        house_of(request), caller_of(request), group, read_number_cursor(cursor) or None, limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda row: row.id)
    return Response(
        PostStateList(items=[post_state_out(row) for row in shown], next=following), headers=headers
    )


@post(
    "/v1/groups/{group:str}/posts/retries",
    tags=["outbox"],
    summary="Let parked posts that are still of use be tried again",
    status_code=200,
    responses=problems(503),
)
async def retry(request: Asked, group: FromPath[str]) -> BroughtBackOut:
    return BroughtBackOut(posts=await usecases.bring_back(house_of(request), caller_of(request), group))


ROUTES = [claim, sent, failed, every, retry]
