"""Before any route: a request id, the token, the rate; after it: one log line and the counters.

Plain ASGI around the whole application, because it runs for every request.
"""

import itertools
import logging
import secrets
import sqlite3
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from service.errors import BreakwrightError, Busy, DomainError
from service.logs import RequestLog
from service.usecases.house import House, Kept
from service.usecases.identify import Caller, identify
from service.web.problems import MEDIA_TYPE, encoded, headers_of, language_of, status_of, storage_trouble

PUBLIC = frozenset({"/v1/health/live", "/v1/health/ready"})
BUCKETS = 10_000  # tokens whose rate is remembered
# bodies that are not JSON: the method, how the path ends, the media type
OTHER_BODIES = (("POST", "/imports", "application/zip"),)

Scope = dict[str, Any]
Receive = Callable[[], Any]
Send = Callable[[dict[str, Any]], Any]


@dataclass(slots=True)
class Measured:
    """What /metrics tells."""

    requests: Counter[int] = field(default_factory=Counter)
    seconds: float = 0.0
    started: float = field(default_factory=time.monotonic)


class Rate:
    """A token bucket for each caller: ``burst`` at once, ``per_second`` over time."""

    def __init__(self, per_second: int, burst: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._per_second = per_second
        self._burst = burst
        self._clock = clock
        self._buckets: Kept[int, tuple[float, float]] = Kept(BUCKETS)

    def take(self, caller: int) -> float:
        """Take one; the seconds to wait if there is none left, else 0."""
        now = self._clock()
        left, then = self._buckets.get(caller) or (float(self._burst), now)
        left = min(self._burst, left + (now - then) * self._per_second)
        if left < 1:
            return (1 - left) / self._per_second
        self._buckets.put(caller, (left - 1, now))
        return 0.0


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
        request_id = f"{self._run}-{next(self._numbers):x}"
        scope["request_id"] = request_id
        status = 500
        id_header = (b"x-request-id", request_id.encode())

        async def tagged(message: dict[str, Any]) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [*message.get("headers", ()), id_header]
            await send(message)

        caller: Caller | None = None
        try:
            if scope["path"] not in PUBLIC:
                token, on_behalf_of, acting_server = _who(scope)
                caller = identify(self._house, token, on_behalf_of, acting_server)
                wait = self._rate.take(caller.token_id)
                if wait:
                    raise Busy("too-many-requests", retry_after=max(1, round(wait)))
                scope["caller"] = caller
                _check_type(scope)
            # whoever asks for the head gets that of GET; the server leaves the body out
            asked = {**scope, "method": "GET"} if scope["method"] == "HEAD" else scope
            await self._application(asked, receive, tagged)
        except BreakwrightError as error:
            await _refuse(error, scope, request_id, tagged)
        except sqlite3.Error:
            self._log.exception("storage trouble")
            await _refuse(storage_trouble(), scope, request_id, tagged)
        finally:
            seconds = time.perf_counter() - began
            self._measured.requests[status] += 1
            self._measured.seconds += seconds
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


def _check_type(scope: Scope) -> None:
    """Bodies are JSON, but for OTHER_BODIES; a body sent as something else is refused before it is read."""
    if scope["method"] not in ("POST", "PUT", "PATCH"):
        return
    for name, value in scope["headers"]:
        if name == b"content-type":
            sent = value.split(b";")[0].strip().lower().decode("latin-1")
            if any(
                (method, media) == (scope["method"], sent) and scope["path"].endswith(end)
                for method, end, media in OTHER_BODIES
            ):
                return
            if sent != "application/json" and not sent.endswith("+json"):
                raise DomainError("unsupported-type", type=sent[:80])


def _who(scope: Scope) -> tuple[str | None, str | None, str | None]:
    """The token, and for whom (On-Behalf-Of) and on which server (Acting-Server) a bot asks."""
    token = on_behalf_of = acting_server = None
    for name, value in scope["headers"]:
        if name == b"authorization":
            kind, _, given = value.partition(b" ")
            token = str(given.strip(), "latin-1") if kind.lower() == b"bearer" else None
        elif name == b"on-behalf-of":
            on_behalf_of = str(value.strip(), "latin-1")
        elif name == b"acting-server":
            acting_server = str(value.strip(), "latin-1")
    return token, on_behalf_of, acting_server


async def _refuse(error: BreakwrightError, scope: Scope, request_id: str, send: Send) -> None:
    accept = next((v.decode("latin-1") for n, v in scope["headers"] if n == b"accept-language"), None)
    body = encoded(error, language_of(accept), request_id)
    headers = [(b"content-type", MEDIA_TYPE.encode()), (b"content-length", str(len(body)).encode())]
    headers += [(name.encode(), value.encode()) for name, value in headers_of(error).items()]
    await send({"type": "http.response.start", "status": status_of(error), "headers": headers})
    await send({"type": "http.response.body", "body": body})
