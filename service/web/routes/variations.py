"""Variations of a challenge, recordings, votes."""

from typing import Annotated, Any

from litestar import Response, delete, get, post, put
from litestar.enums import MediaType
from litestar.openapi.datastructures import ResponseSpec
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.base import LINES, NAME
from schemas.challenges import VariationIn, VariationList, VariationOut, VariationReviewIn
from service.errors import DomainError
from service.usecases import recorded
from service.usecases import variations as usecases
from service.usecases.recorded import SUFFIXES
from service.usecases.variations import Sent, Variation
from service.usecases.voting import vote
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    IfMatch,
    Limit,
    body_within,
    caller_of,
    etag,
    house_of,
    language,
    page,
    problems,
    read_number_cursor,
    repeatable,
    revision_from,
)
from service.web.routes.challenges import ChallengeNumber
from service.web.served import bytes_answer
from service.web.show import rights_record
from service.web.show_challenges import variation_out

VariationNumber = Annotated[
    int, PathParameter(ge=1, le=9_999_999, description="A variation's number in its group.")
]
Title = Annotated[str | None, QueryParameter(name="name", min_length=1, max_length=120, pattern=NAME)]
Comment = Annotated[str, QueryParameter(name="comment", max_length=500, pattern=LINES)]


def _sent(data: VariationIn) -> Sent:
    return Sent(
        data.text,
        data.name,
        data.comment,
        data.instrument,
        data.tuning,
        data.hand_style,
        data.style,
        data.columns,
        rights_record(data.rights),
    )


@get(
    "/v1/groups/{group:str}/challenges/{challenge:int}/variations",
    tags=["challenges"],
    summary="Variations of a challenge; those held or refused only for their authors and organisers",
    responses=problems(),
)
async def every(
    request: Asked,
    group: FromPath[str],
    challenge: ChallengeNumber,
    limit: Limit = PAGE,
    cursor: Cursor = None,
) -> Response[VariationList]:
    found = usecases.list_variations(
        house_of(request), caller_of(request), group, challenge, read_number_cursor(cursor), limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda one: one.row.number)
    items = [variation_out(one, group, language(request)) for one in shown]
    return Response(VariationList(items=items, next=following), headers=headers)


def _made(request: Asked, group: str) -> Any:
    def made(found: Variation) -> tuple[VariationOut, int, dict[str, str]]:
        where = {"location": f"/v1/groups/{group}/variations/{found.row.number}"}
        return variation_out(found, group, language(request)), 201, {**etag(found.row.revision), **where}

    return made


@post(
    "/v1/groups/{group:str}/challenges/{challenge:int}/variations",
    tags=["challenges"],
    summary="Send a variation in, as tab or in one line",
    responses=problems(409, 422, 503),
)
async def enter(
    request: Asked,
    group: FromPath[str],
    challenge: ChallengeNumber,
    data: JSONBody[VariationIn],
    idempotency_key: IdempotencyKey = None,
) -> Response[VariationOut]:
    return await repeatable(
        request,
        idempotency_key,
        _made(request, group),
        lambda once: usecases.enter(
            house_of(request), caller_of(request), group, challenge, _sent(data), once
        ),
    )


@post(
    "/v1/groups/{group:str}/challenges/{challenge:int}/variations/recordings",
    tags=["challenges"],
    summary="Send a variation in as a recording: the sound itself is the body",
    responses=problems(409, 413, 415, 422, 451, 503),
    request_max_body_size=None,
)
async def enter_recording(
    request: Asked,
    group: FromPath[str],
    challenge: ChallengeNumber,
    name: Title = None,
    comment: Comment = "",
    idempotency_key: IdempotencyKey = None,
) -> Response[VariationOut]:
    content = await _content(request)
    return await repeatable(
        request,
        idempotency_key,
        _made(request, group),
        lambda once: recorded.enter_recording(
            house_of(request), caller_of(request), group, challenge, name, comment, content, once
        ),
        content=content,
    )


async def _content(request: Asked) -> bytes:
    most = house_of(request).settings.recording_mib << 20
    return await body_within(request, most, DomainError("too-large", most=most))


@get(
    "/v1/groups/{group:str}/variations/{variation:int}",
    tags=["challenges"],
    summary="One variation",
    responses=problems(451),
)
async def one(request: Asked, group: FromPath[str], variation: VariationNumber) -> Response[VariationOut]:
    found = usecases.get_variation(house_of(request), caller_of(request), group, variation)
    return _answer(request, group, found)


def _answer(request: Asked, group: str, found: Variation) -> Response[VariationOut]:
    return Response(variation_out(found, group, language(request)), headers=etag(found.row.revision))


@put(
    "/v1/groups/{group:str}/variations/{variation:int}",
    tags=["challenges"],
    summary="Send another version of one's own; or write a recording down, as any member may",
    responses=problems(409, 412, 422, 428, 451, 503),
)
async def revise(
    request: Asked,
    group: FromPath[str],
    variation: VariationNumber,
    data: JSONBody[VariationIn],
    if_match: IfMatch = None,
) -> Response[VariationOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(if_match, lambda: usecases.revision_to_revise(house, caller, group, variation))
    return _answer(
        request, group, await usecases.revise(house, caller, group, variation, revision, _sent(data))
    )


@delete(
    "/v1/groups/{group:str}/variations/{variation:int}",
    tags=["challenges"],
    summary="Take one's own variation back before the challenge closes",
    responses=problems(409, 451, 503),
)
async def withdraw(request: Asked, group: FromPath[str], variation: VariationNumber) -> None:
    await usecases.withdraw(house_of(request), caller_of(request), group, variation)


@post(
    "/v1/groups/{group:str}/variations/{variation:int}/review",
    tags=["challenges"],
    summary="Accept a variation that is held, refuse one, or take one into the pool",
    status_code=200,
    responses=problems(409, 412, 422, 451, 503),
)
async def review(
    request: Asked, group: FromPath[str], variation: VariationNumber, data: JSONBody[VariationReviewIn]
) -> Response[VariationOut]:
    found = await usecases.review(
        house_of(request), caller_of(request), group, variation, data.decision, data.reason
    )
    return _answer(request, group, found)


@get(
    "/v1/groups/{group:str}/variations/{variation:int}/recording",
    tags=["challenges"],
    summary="A variation's recording, as it came",
    media_type=MediaType.TEXT,
    responses={
        **problems(416, 451),
        200: ResponseSpec(bytes, generate_examples=False, description="The sound.", media_type="audio/*"),
    },
)
async def recording(request: Asked, group: FromPath[str], variation: VariationNumber) -> Response[bytes]:
    found = recorded.get_recording(house_of(request), caller_of(request), group, variation)
    return bytes_answer(
        request,
        found.content,
        found.media_type,
        f"variation-{variation}.{SUFFIXES[found.media_type]}",
        found.digest.hex()[:32],
    )


@put(
    "/v1/groups/{group:str}/variations/{variation:int}/recording",
    tags=["challenges"],
    summary="Add a recording to one's own variation: the sound itself is the body",
    responses=problems(409, 413, 415, 422, 451, 503),
    request_max_body_size=None,
)
async def record(request: Asked, group: FromPath[str], variation: VariationNumber) -> Response[VariationOut]:
    content = await _content(request)
    found = await recorded.set_recording(house_of(request), caller_of(request), group, variation, content)
    return _answer(request, group, found)


@put(
    "/v1/groups/{group:str}/variations/{variation:int}/vote",
    tags=["challenges"],
    summary="Vote for a variation, not one's own, until its challenge closes",
    responses=problems(409, 451, 503),
)
async def give(request: Asked, group: FromPath[str], variation: VariationNumber) -> VariationOut:
    found = await vote(house_of(request), caller_of(request), group, variation, given=True)
    return variation_out(found, group, language(request))


@delete(
    "/v1/groups/{group:str}/variations/{variation:int}/vote",
    tags=["challenges"],
    summary="Take one's vote back",
    status_code=200,
    responses=problems(409, 451, 503),
)
async def take_back(request: Asked, group: FromPath[str], variation: VariationNumber) -> VariationOut:
    found = await vote(house_of(request), caller_of(request), group, variation, given=False)
    return variation_out(found, group, language(request))


ROUTES = [
    every, enter, enter_recording, one, revise, withdraw, review, recording, record, give, take_back
]  # fmt: skip
