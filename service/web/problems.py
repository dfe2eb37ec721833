"""The one table from errors to HTTP, and the one shape of every error (RFC 9457)."""

import re
import sqlite3
from typing import Any

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException, ValidationException

from schemas.base import Place, Problem
from service.errors import (
    BreakwrightError,
    Busy,
    Conflict,
    DomainError,
    Erased,
    Fault,
    Forbidden,
    NotFound,
    PreconditionNeeded,
    TakenDown,
    Unauthenticated,
)
from service.web.field_faults import field_fault
from service.wording import advise, known_language, say, told, word

MEDIA_TYPE = "application/problem+json"
STORAGE_RETRY_S = 30
TYPE_PREFIX = "urn:breakwright:problem:"

# The most specific class first.
STATUS: tuple[tuple[type[BreakwrightError], int], ...] = (
    (DomainError, 422),
    (NotFound, 404),
    (TakenDown, 451),
    (Erased, 410),
    (Forbidden, 403),
    (Unauthenticated, 401),
    (Conflict, 409),
    (PreconditionNeeded, 428),
    (Busy, 503),
    (BreakwrightError, 500),
)
# codes whose meaning HTTP has a status of its own for
STATUS_OF_CODE = {
    "changed": 412,
    "no-breaks": 409,
    "none-found": 409,
    "none-together": 409,
    "too-few-licks": 409,
    "melody-too-much": 409,
    "differs-too-much": 409,
    "nothing-to-swap": 409,
    "fits-nowhere": 409,
    "too-many-requests": 429,
    "bad-request": 400,
    "bad-cursor": 400,
    "bad-acting": 400,
    "no-recording": 415,
    "too-large": 413,
    "unpacks-too-large": 413,
    "unsupported-type": 415,
    "bad-range": 416,
    "import-too-large": 413,
}
TITLES = {
    400: "Bad request",
    401: "Not signed in",
    403: "Not allowed",
    404: "Not found",
    405: "Method not allowed",
    409: "Conflict",
    410: "Erased",
    412: "Changed since",
    413: "Too large",
    415: "Unsupported media type",
    416: "No such range",
    422: "Cannot be used as it is",
    428: "Revision needed",
    429: "Too many requests",
    451: "Taken down",
    500: "Internal error",
    503: "Busy",
}
_HTTP_CODES = {404: "no-route", 405: "no-method"}
# a language and how much it is liked
_RANGE = re.compile(
    r"\s*(?P<tag>\*|[A-Za-z]{1,8})(?:-[A-Za-z0-9]{1,8})*\s*(?:;\s*[qQ]=(?P<q>0(?:\.[0-9]{0,3})?|1(?:\.0{0,3})?)\s*)?"
)
_encode = msgspec.json.Encoder().encode


def status_of(error: BreakwrightError) -> int:
    if error.code in STATUS_OF_CODE:
        return STATUS_OF_CODE[error.code]
    return next(status for kind, status in STATUS if isinstance(error, kind))


def place(fault: Fault, language: str) -> Place:
    params = told(fault)
    return Place(
        code=fault.code,
        text=say(fault.code, params, language),
        advice=advise(fault.code, params, language),
        line=fault.line,
        column=fault.column,
        excerpt=fault.excerpt,
        path=fault.path,
        measure=fault.measure,
        beat=fault.beat,
    )


def problem(error: BreakwrightError, language: str = "en", request_id: str | None = None) -> Problem:
    status = status_of(error)
    text = say(error.code, error.params, language)
    advice = advise(error.code, error.params, language)
    return Problem(
        type=TYPE_PREFIX + error.code,
        title=word("title", TITLES[status], language),
        status=status,
        detail=f"{text} {advice}" if advice else text,
        code=error.code,
        at=[place(fault, language) for fault in error.at],
        request_id=request_id,
    )


def headers_of(error: BreakwrightError) -> dict[str, str]:
    if isinstance(error, Busy):
        return {"retry-after": str(error.retry_after)}
    if isinstance(error, Unauthenticated):
        return {"www-authenticate": "Bearer"}
    return {}


def encoded(error: BreakwrightError, language: str, request_id: str | None) -> bytes:
    return _encode(problem(error, language, request_id))


def language_of(accept: str) -> str:
    """Of the languages of an Accept-Language header (RFC 9110, 12.5.4) the one liked best that the house speaks, else English.

    What follows a language, as in ``de-AT``, is not looked at; ``*`` is English.
    """
    liked = [(float(m["q"] or 1), m["tag"].lower()) for m in map(_RANGE.fullmatch, accept.split(",")) if m]
    for quality, tag in sorted(liked, key=lambda pair: -pair[0]):
        if not quality:
            break
        if tag in ("en", "*"):
            return "en"
        if known_language(tag) == tag:
            return tag
    return "en"


def spoken(scope: Any) -> str:
    """The language that an answer is asked in. Whoever looks has the gate tell it with the answer."""
    # cheaper than the request's own header mapping
    sent = next((value for name, value in scope["headers"] if name == b"accept-language"), b"")
    found = scope["language"] = language_of(sent.decode("latin-1"))
    return found


def _answer(
    request: Request[Any, Any, Any], error: BreakwrightError, status: int | None = None
) -> Response[bytes]:
    language = spoken(request.scope)
    found = problem(error, language, _request_id(request))
    if status is not None:
        title = word("title", TITLES.get(status, "Error"), language)
        found = msgspec.structs.replace(found, status=status, title=title)
    return Response(
        _encode(found), status_code=found.status, media_type=MEDIA_TYPE, headers=headers_of(error)
    )


def _request_id(request: Request[Any, Any, Any]) -> str | None:
    found = request.scope.get("request_id")
    return found if isinstance(found, str) else None


def on_domain_error(request: Request[Any, Any, Any], error: BreakwrightError) -> Response[bytes]:
    return _answer(request, error)


def on_validation(request: Request[Any, Any, Any], error: ValidationException) -> Response[bytes]:
    """A body, query or path that is not of its schema, with the field named."""
    faults = [
        field_fault(str(item.get("message", "")), str(item["key"]) if item.get("key") else None)
        for item in (error.extra if isinstance(error.extra, list) else [])
        if isinstance(item, dict)
    ]
    if request.method in ("POST", "PUT", "PATCH") and request.headers.get("content-length", "0") == "0":
        return _answer(request, DomainError("bad-request", reason="a JSON body is needed."), 400)
    if not faults:
        return _answer(request, DomainError("bad-request", reason=_reason(error.detail)), 400)
    first = {"what": faults[0].code, **faults[0].params}
    return _answer(request, DomainError("bad-request", at=faults, reason=(first,)), 400)


def _reason(message: str) -> str:
    return message.split("\n")[0].rstrip(".") + "."


def on_http_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[bytes]:
    """What the framework refuses by itself: no such address, wrong method, too large, not JSON."""
    status = error.status_code
    if status in _HTTP_CODES:
        answer = _answer(request, NotFound(_HTTP_CODES[status]), status)
        answer.headers.update(error.headers or {})
        return answer
    if status == 413:
        return _answer(
            request, DomainError("too-large", most=request.app.state.house.settings.max_body_bytes), 413
        )
    if status >= 500:
        return on_unexpected(request, error)
    return _answer(request, DomainError("bad-request", reason=_reason(error.detail)), status)


def on_unexpected(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    request_id = _request_id(request)
    request.app.state.log.error(
        "unexpected error", exc_info=error, extra={"fields": {"request_id": request_id}}
    )
    return _answer(request, BreakwrightError("internal", request_id=request_id))


def on_storage(request: Request[Any, Any, Any], error: sqlite3.Error) -> Response[bytes]:
    """A database that cannot be read: damaged, gone, or held by somebody."""
    request.app.state.log.error(
        "storage trouble", exc_info=error, extra={"fields": {"request_id": _request_id(request)}}
    )
    return _answer(request, storage_trouble())


def storage_trouble() -> Busy:
    return Busy("storage-trouble", retry_after=STORAGE_RETRY_S)


def on_recursion(request: Request[Any, Any, Any], error: RecursionError) -> Response[bytes]:
    reason = "it is nested too deeply."
    return _answer(request, DomainError("bad-request", reason=reason), 400)


def on_wrong_bytes(request: Request[Any, Any, Any], error: UnicodeDecodeError) -> Response[bytes]:
    return _answer(request, DomainError("bad-request", reason="it is not text in UTF-8."), 400)


HANDLERS: dict[Any, Any] = {
    sqlite3.Error: on_storage,
    RecursionError: on_recursion,
    UnicodeDecodeError: on_wrong_bytes,
    BreakwrightError: on_domain_error,
    ValidationException: on_validation,
    HTTPException: on_http_error,
    Exception: on_unexpected,
}
