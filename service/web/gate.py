"""Before any route: a request id, the token, the rate; after it: headers, one log line and the counters.

Plain ASGI around the whole application, because it runs for every request.
"""

import itertools
import logging
import math
import re
import secrets
import sqlite3
import time
from collections.abc import Callable
from typing import Any

from service.errors import BreakwrightError, Busy, DomainError
from service.logs import RequestLog
from service.usecases.house import House, Kept
from service.usecases.identify import Caller, identify
from service.web.metrics import Measured
from service.web.problems import MEDIA_TYPE, encoded, headers_of, spoken, status_of, storage_trouble

PUBLIC = frozenset({"/v1/health/live", "/v1/health/ready"})
BUCKETS = 10_000  # tokens whose rate is remembered
_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")  # a client's own that is kept; anything else is not

Scope = dict[str, Any]
Receive = Callable[[], Any]
Send = Callable[[dict[str, Any]], Any]


Header = tuple[bytes, bytes]
VARY: Header = (b"vary", b"accept-language")  # of every answer that holds words


class Rate:
    """A token bucket for each caller: ``burst`` at once, ``per_second`` over time.

    Told in the fields of draft-ietf-httpapi-ratelimit-headers-09: ``policy``, and one for each request.
    """

    def __init__(self, per_second: int, burst: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._per_second = per_second
        self._burst = burst
        self._clock = clock
        self._buckets: Kept[int, tuple[float, float]] = Kept(BUCKETS)
        window = math.ceil(burst / per_second)  # seconds in which an empty bucket is full again
        self.policy: Header = (b"ratelimit-policy", b'"burst";q=%d;w=%d' % (burst, window))

    def take(self, caller: int) -> tuple[float, Header]:
        """Take one: the seconds to wait if there is none left, else 0; and how many are left, until when all are back."""
        now = self._clock()
        left, then = self._buckets.get(caller) or (float(self._burst), now)
        left = min(self._burst, left + (now - then) * self._per_second)
        wait = 0.0
        if left < 1:
            wait = (1 - left) / self._per_second
        else:
            left -= 1
            self._buckets.put(caller, (left, now))
        full = math.ceil((self._burst - left) / self._per_second)
        return wait, (b"ratelimit", b'"burst";r=%d;t=%d' % (left, full))


class Gate:
    """``application`` sees only requests whose caller is known: ``scope["caller"]``."""

    def __init__(self, application: Any, house: House, log: logging.Logger, measured: Measured) -> None:
        self._application = application
        self._house = house
        self._log = log
        self.requests = RequestLog(log)
        self._measured = measured
        self._rate = Rate(house.settings.requests_per_second, house.settings.request_burst)
        self._run = secrets.token_hex(4)
        self._numbers = itertools.count(1)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._application(scope, receive, send)
            return
        began = time.perf_counter()
        own_id = _header(scope, b"x-request-id") or b""
        request_id = (
            own_id.decode() if _REQUEST_ID.fullmatch(own_id) else f"{self._run}-{next(self._numbers):x}"
        )
        scope["request_id"] = request_id
        # whoever asks for the head gets that of GET; the server leaves the body out
        asked = {**scope, "method": "GET"} if scope["method"] == "HEAD" else scope
        status = 500
        headers: list[Header] = [(b"x-request-id", request_id.encode())]

        async def tagged(message: dict[str, Any]) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                spoken_in = asked.get("language")
                told = () if spoken_in is None else ((b"content-language", spoken_in.encode()), VARY)
                message["headers"] = [*message.get("headers", ()), *headers, *told]
            await send(message)

        caller: Caller | None = None
        try:
            if scope["path"] not in PUBLIC:
                token, on_behalf_of, acting_server = _who(scope)
                caller = identify(self._house, token, on_behalf_of, acting_server)
                wait, rate = self._rate.take(caller.token_id)
                headers += (self._rate.policy, rate)
                if wait:
                    raise Busy("too-many-requests", retry_after=math.ceil(wait))
                asked["caller"] = caller
                _check_type(scope)
            await self._application(asked, receive, tagged)
        except BreakwrightError as error:
            await _refuse(error, asked, request_id, tagged)
        except sqlite3.Error:
            self._log.exception("storage trouble", extra={"fields": {"request_id": request_id}})
            await _refuse(storage_trouble(), asked, request_id, tagged)
        finally:
            seconds = time.perf_counter() - began
            self._measured.add(scope["method"], status, seconds)
            self.requests.add(
                {
                    "request_id": request_id,
                    "method": scope["method"],
                    "path": scope["path"],
                    "status": status,
                    "ms": round(seconds * 1000, 2),
                    "caller": caller.token_id if caller else None,
                }
            )


# bodies that are files, by how the path ends, and the media types they may come as; None: known by their first bytes
FILES_SENT: dict[str, frozenset[str] | None] = {
    "recording": None,
    "recordings": None,
    "files": None,
    "imports": frozenset(("application/zip", "application/octet-stream")),
}


def _check_type(scope: Scope) -> None:
    """Bodies are JSON, but for files; one that is sent as something else is refused before it is read."""
    if scope["method"] not in ("POST", "PUT", "PATCH"):
        return
    value = _header(scope, b"content-type")
    if value is None:
        return
    sent = value.split(b";")[0].strip().lower().decode("latin-1")
    end = scope["path"].rpartition("/")[2]
    if end in FILES_SENT:
        taken = FILES_SENT[end]
        fits = taken is None or sent in taken
    else:
        fits = sent == "application/json" or sent.endswith("+json")
    if not fits:
        raise DomainError("unsupported-type", type=sent[:80])


def _who(scope: Scope) -> tuple[str | None, str | None, str | None]:
    """The token, and for whom (On-Behalf-Of) and on which server (Acting-Server) a bot asks."""
    found = [_header(scope, name) for name in (b"authorization", b"on-behalf-of", b"acting-server")]
    kind, _, token = (found[0] or b"").partition(b" ")
    told = [None if value is None else str(value.strip(), "latin-1") for value in found[1:]]
    return str(token.strip(), "latin-1") if kind.lower() == b"bearer" else None, told[0], told[1]


def _header(scope: Scope, wanted: bytes) -> bytes | None:
    for name, value in scope["headers"]:
        if name == wanted:
            found: bytes = value
            return found
    return None


async def _refuse(error: BreakwrightError, scope: Scope, request_id: str, send: Send) -> None:
    body = encoded(error, spoken(scope), request_id)
    headers = [(b"content-type", MEDIA_TYPE.encode()), (b"content-length", str(len(body)).encode())]
    headers += [(name.encode(), value.encode()) for name, value in headers_of(error).items()]
    await send({"type": "http.response.start", "status": status_of(error), "headers": headers})
    await send({"type": "http.response.body", "body": body})
