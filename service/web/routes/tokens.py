"""Tokens of a group, and those of the whole service."""

from dataclasses import replace
from typing import Annotated, Any

from litestar import Response, delete, get, post
from litestar.params import FromPath, JSONBody, PathParameter

from schemas.people import RotationIn, ServiceTokenIn, TokenIn, TokenList, TokenOut
from service.usecases import tokens as usecases
from service.usecases.tokens import Token
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    Limit,
    caller_of,
    house_of,
    page,
    problems,
    read_number_cursor,
    repeatable,
)

TokenId = Annotated[int, PathParameter(ge=1, le=2**53)]


def token_out(made: Token) -> TokenOut:
    row = made.row
    return TokenOut(
        id=row.id,
        role=row.role,
        member=row.member_number,
        scopes=None if row.scopes is None else row.scopes.split(),
        expires=row.expires,
        label=row.label,
        created=row.created,
        secret=made.secret,
    )


def _made(made: Token) -> tuple[TokenOut, int, dict[str, str]]:
    return token_out(made), 201, {}


def _without_secret(made: Token) -> Token:
    return replace(made, secret=None)


def _listed(request: Asked, group: str | None, limit: int, cursor: str | None) -> Response[TokenList]:
    found = usecases.list_tokens(
        house_of(request), caller_of(request), group, read_number_cursor(cursor), limit + 1
    )
    shown, following, headers = page(request, found, limit, lambda made: made.row.id)
    return Response(TokenList(items=[token_out(made) for made in shown], next=following), headers=headers)


async def _rotated(
    request: Asked, group: str | None, token: int, data: RotationIn, key: str | None
) -> Response[Any]:
    return await repeatable(
        request,
        key,
        _made,
        lambda once: usecases.rotate_token(
            house_of(request), caller_of(request), group, token, data.overlap_s, data.days, once
        ),
        without_secret=_without_secret,
    )


@get("/v1/groups/{group:str}/tokens", tags=["tokens"], summary="A group's tokens", responses=problems())
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[TokenList]:
    return _listed(request, group, limit, cursor)


@post(
    "/v1/groups/{group:str}/tokens",
    tags=["tokens"],
    summary="Make a token; its secret is shown this once",
    responses=problems(409, 422, 503),
)
async def make(
    request: Asked, group: FromPath[str], data: JSONBody[TokenIn], idempotency_key: IdempotencyKey = None
) -> Response[TokenOut]:
    return await repeatable(
        request,
        idempotency_key,
        _made,
        lambda once: usecases.make_token(
            house_of(request),
            caller_of(request),
            group,
            data.role,
            data.member,
            data.scopes,
            data.days,
            data.label,
            once,
        ),
        without_secret=_without_secret,
    )


@post(
    "/v1/groups/{group:str}/tokens/{token:int}/rotations",
    tags=["tokens"],
    summary="A new secret for the same rights",
    responses=problems(409, 422, 503),
)
async def rotate(
    request: Asked,
    group: FromPath[str],
    token: TokenId,
    data: JSONBody[RotationIn],
    idempotency_key: IdempotencyKey = None,
) -> Response[TokenOut]:
    return await _rotated(request, group, token, data, idempotency_key)


@delete(
    "/v1/groups/{group:str}/tokens/{token:int}",
    tags=["tokens"],
    summary="Revoke a token, good everywhere within five seconds",
    responses=problems(503),
)
async def revoke(request: Asked, group: FromPath[str], token: TokenId) -> None:
    await usecases.revoke_token(house_of(request), caller_of(request), group, token)


@get("/v1/tokens", tags=["tokens"], summary="Tokens of the whole service (operator)", responses=problems())
async def every_service(request: Asked, limit: Limit = PAGE, cursor: Cursor = None) -> Response[TokenList]:
    return _listed(request, None, limit, cursor)


@post(
    "/v1/tokens",
    tags=["tokens"],
    summary="Make a token for a bot or another operator",
    responses=problems(409, 422, 503),
)
async def make_service(
    request: Asked, data: JSONBody[ServiceTokenIn], idempotency_key: IdempotencyKey = None
) -> Response[TokenOut]:
    return await repeatable(
        request,
        idempotency_key,
        _made,
        lambda once: usecases.make_token(
            house_of(request),
            caller_of(request),
            None,
            data.role,
            None,
            data.scopes,
            data.days,
            data.label,
            once,
        ),
        without_secret=_without_secret,
    )


@post(
    "/v1/tokens/{token:int}/rotations",
    tags=["tokens"],
    summary="A new secret for the same rights",
    responses=problems(409, 422, 503),
)
async def rotate_service(
    request: Asked, token: TokenId, data: JSONBody[RotationIn], idempotency_key: IdempotencyKey = None
) -> Response[TokenOut]:
    return await _rotated(request, None, token, data, idempotency_key)


@delete("/v1/tokens/{token:int}", tags=["tokens"], summary="Revoke a token", responses=problems(409, 503))
async def revoke_service(request: Asked, token: TokenId) -> None:
    await usecases.revoke_token(house_of(request), caller_of(request), None, token)


ROUTES = [every, make, rotate, revoke, every_service, make_service, rotate_service, revoke_service]
