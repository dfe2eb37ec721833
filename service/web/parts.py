"""Small things that routes share: the caller, revisions, cursors, repeatable writes."""

import asyncio
import base64
import binascii
from collections.abc import Awaitable, Callable, Sequence
from typing import Annotated, Any, TypeVar
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response
from litestar.datastructures import State
from litestar.exceptions import InternalServerException
from litestar.openapi.datastructures import ResponseSpec
from litestar.params import HeaderParameter, QueryParameter

from schemas.base import Problem
from service.errors import Conflict, DomainError, PreconditionNeeded
from service.store.idempotency import Answer
from service.usecases.house import House
from service.usecases.identify import Caller
from service.usecases.once import Answered, Once, request_hash
from service.web.problems import MEDIA_TYPE, TITLES, spoken

T = TypeVar("T")
Asked = Request[Any, Any, State]

PAGE, PAGE_MOST = 50, 200
KEY_MOST = 200
WORDS_MOST = (
    100  # characters that names are looked for by: as many as a chat's field of choices takes, common
)
BODY_S = 60  # a file that is sent has to come within so many seconds
Limit = Annotated[int, QueryParameter(name="limit", ge=1, le=PAGE_MOST, description="Items on a page.")]
Cursor = Annotated[
    str | None, QueryParameter(name="cursor", max_length=200, description="`next` of the page before.")
]
IfMatch = Annotated[
    str | None, HeaderParameter(name="If-Match", description="ETag of the revision the edit was made from.")
]
IdempotencyKey = Annotated[
    str | None,
    HeaderParameter(
        name="Idempotency-Key",
        description="A fresh random key: repeating the request does it once.",
        schema_extra={"minLength": 1, "maxLength": KEY_MOST, "pattern": "^[ -~]+$"},  # as once_of checks
    ),
]

encode = msgspec.json.Encoder().encode


def problems(*statuses: int) -> dict[int, ResponseSpec]:
    """The error answers of a route for the API description; what any route may answer is added."""
    gone = {410} if 451 in statuses else ()  # a lick that may be taken down may be erased as well
    return {
        status: ResponseSpec(
            Problem, generate_examples=False, description=TITLES[status], media_type=MEDIA_TYPE
        )
        for status in sorted({*statuses, *gone, 400, 401, 403, 404, 429, 500})
    }


def house_of(request: Asked) -> House:
    house: House = request.app.state.house
    return house


def caller_of(request: Asked) -> Caller:
    caller: Caller = request.scope["caller"]  # type: ignore[typeddict-item]
    return caller


def language(request: Asked) -> str:
    return spoken(request.scope)


def etag(revision: int) -> dict[str, str]:
    return {"etag": f'"{revision}"'}


def revision_from(if_match: str | None, current: Callable[[], int]) -> int:
    """The revision an edit was made from; ``*`` means whichever is the newest (RFC 9110, 13.1.1).

    Raises what ``current`` raises, PreconditionNeeded without the header, Conflict if none of its tags is
    the newest revision. Weak tags never match.
    """
    newest = current()
    if if_match is None:
        raise PreconditionNeeded("if-match-needed")
    tags = [tag.strip() for tag in if_match.split(",")]
    if tags != ["*"] and f'"{newest}"' not in tags:
        raise Conflict("changed", revision=newest)
    return newest


def read_cursor(cursor: str | None) -> str:
    """The key that a page begins after; empty for the first. Raises DomainError ``bad-cursor``."""
    if cursor is None:
        return ""
    try:
        padded = cursor.encode() + b"=" * (-len(cursor) % 4)
        return base64.b64decode(padded, altchars=b"-_", validate=True).decode()
    except (binascii.Error, UnicodeError, ValueError):
        raise DomainError("bad-cursor") from None


def read_number_cursor(cursor: str | None) -> int:
    text = read_cursor(cursor)
    if text and not (text.isascii() and text.isdigit() and len(text) <= 12):
        raise DomainError("bad-cursor")
    return int(text or 0)


def page(
    request: Asked, found: Sequence[T], limit: int, key: Callable[[T], object]
) -> tuple[Sequence[T], str | None, dict[str, str]]:
    """Of up to ``limit + 1`` items: those of this page, the next cursor, and the Link header (RFC 8288)."""
    if len(found) <= limit:
        return found, None, {}
    shown = found[:limit]
    cursor = base64.urlsafe_b64encode(str(key(shown[-1])).encode()).decode().rstrip("=")
    others = [(k, v) for k, v in request.query_params.multi_items() if k not in ("cursor", "limit")]
    query = urlencode([*others, ("limit", limit), ("cursor", cursor)])
    return shown, cursor, {"link": f'<{request.url.path}?{query}>; rel="next"'}


async def once_of(
    request: Asked,
    key: str | None,
    answer: Callable[[T], tuple[object, int, dict[str, str]]],
    content: bytes | None = None,
) -> Once[T] | None:
    """The Idempotency-Key of a request with how to answer it; ``content`` is a body that was read already.

    Raises DomainError ``bad-key``.
    """
    if key is None:
        return None
    if not (0 < len(key) <= KEY_MOST and key.isascii() and key.isprintable()):
        raise DomainError("bad-key", most=KEY_MOST)
    body = await request.body() if content is None else content
    query = request.url.query
    target = f"{request.url.path}?{query}" if query else request.url.path
    hashed = request_hash(request.method, target, body)

    def kept(result: T) -> Answer:
        content, status, headers = answer(result)
        return Answer(hashed, status, encode(headers).decode(), encode(content))

    return Once(key, hashed, kept)


def answered(before: Answered) -> Response[Any]:
    """The answer of a request that was done before."""
    headers = msgspec.json.decode(before.answer.headers, type=dict[str, str])
    return Response(
        before.answer.body,
        status_code=before.answer.status,
        headers={**headers, "idempotent-replay": "true"},
        media_type="application/json",
    )


async def body_within(request: Asked, most: int, refusal: DomainError) -> bytes:
    """A body that is no JSON, of so many bytes at most, else ``refusal`` is raised. Raises DomainError ``bad-request`` where it
    ends early or takes too long."""
    if (request.content_length or 0) > most:
        raise refusal
    found = bytearray()
    try:
        async with asyncio.timeout(BODY_S):
            async for chunk in request.stream():
                found += chunk
                if len(found) > most:
                    raise refusal
    except TimeoutError:
        raise DomainError("bad-request", reason="it took too long to come.") from None
    except InternalServerException:  # the framework's word for an asker who went away
        raise DomainError("bad-request", reason="it ended early.") from None
    return bytes(found)


async def repeatable(
    request: Asked,
    key: str | None,
    answer: Callable[[T], tuple[object, int, dict[str, str]]],
    work: Callable[[Once[T] | None], Awaitable[T]],
    *,
    content: bytes | None = None,
    without_secret: Callable[[T], T] | None = None,
) -> Response[Any]:
    """Do what may be asked for twice with one key, and answer; or say again what was answered before.

    ``without_secret`` takes out of a result what is shown once: it is not kept with the key, and not said again.
    """

    def kept(result: T) -> tuple[object, int, dict[str, str]]:
        return answer(result if without_secret is None else without_secret(result))

    try:
        result = await work(await once_of(request, key, kept, content))
    except Answered as before:
        return answered(before)
    told, status, headers = answer(result)
    return Response(told, status_code=status, headers=headers)
