"""The HTTP side: what every request goes through, and how its body and path are read."""

import asyncio
import json
import re
import time
from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import BodyPartReader, web

from tests.chat_platform.asked import Asked
from tests.chat_platform.faults import Fault
from tests.chat_platform.refusals import Refused, form
from tests.chat_platform.rules import File
from tests.chat_platform.world import Request, Violation, World

BASE = "/api/v10"
# The greatest request that is taken (API reference, "Create Message").
LARGEST_REQUEST = 25 << 20
WORLD = web.AppKey("world", World)
Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_TELLS_ITSELF = re.compile(r"/(interactions|webhooks)/.*")
_HTML = "<html><body><h1>The stand-in is not itself today</h1></body></html>"


def answer(data: Any, status: int = 200) -> web.Response:
    """The library takes an answer for JSON only if its type is exactly this."""
    return web.Response(
        body=json.dumps(data).encode(), status=status, headers={"Content-Type": "application/json"}
    )


@web.middleware
async def through(request: web.Request, handler: Handler) -> web.StreamResponse:
    """Faults first, then rate limits and the token; then the route; what it refuses becomes an answer."""
    world = request.app[WORLD]
    path = request.path.removeprefix(BASE)
    if path == request.path:
        return await handler(request)
    parts = path.split("/")
    asked = world.asked.get(parts[3]) if len(parts) > 3 else None
    if asked is None:
        return await _met(world, request, path, handler)
    asked.busy += 1
    try:
        return await _met(world, request, path, handler)
    finally:
        # The answer is written as soon as this function is left.
        asyncio.get_running_loop().call_soon(_done, world, asked)


def _done(world: World, asked: Asked) -> None:
    asked.busy -= 1
    world.notify()


async def _met(world: World, request: web.Request, path: str, handler: Handler) -> web.StreamResponse:
    at = time.time()
    fault = world.faults.take(request.method, path) or Fault()
    if fault.delay_s:
        await asyncio.sleep(fault.delay_s)
    response: web.Response | None = None
    code = None
    if fault.takes_effect:
        response, code = await _effect(world, request, path, handler)
    if fault.drop or fault.truncated:
        world.requests.append(Request(request.method, path, at, None, code))
        return await _spoilt(request, response if fault.truncated else None)
    if fault.status is not None:
        response = _false(fault)
    assert response is not None
    world.requests.append(Request(request.method, path, at, response.status, code))
    world.notify()
    return response


async def _effect(
    world: World, request: web.Request, path: str, handler: Handler
) -> tuple[web.Response, int | None]:
    verdict = world.limits.ask(request.method, path)
    if verdict.retry_after_s is not None:
        return _too_often(verdict.retry_after_s, everything=verdict.everything, headers=verdict.headers), None
    code = None
    try:
        if not _TELLS_ITSELF.fullmatch(path) and request.headers.get("Authorization") != (
            f"Bot {world.settings.token}"
        ):
            raise Refused(40001)
        found = await handler(request)
        assert isinstance(found, web.Response)
    except Refused as error:
        world.refused(error, request.method, path)
        found, code = answer(error.wire(), error.status), error.code
    except web.HTTPRequestEntityTooLarge:
        world.refused(Refused(40005), request.method, path)
        found, code = answer(Refused(40005).wire(), 413), 40005
    except Exception as error:
        # Not the bot's fault perhaps, but a test that goes on would look in the wrong place.
        world.violations.append(Violation(0, f"the stand-in fell over {error!r}", request.method, path))
        raise
    found.headers.update(verdict.headers)
    return found, code


def _too_often(after_s: float, *, everything: bool, headers: dict[str, str] | None = None) -> web.Response:
    said = {"message": "You are being rate limited.", "retry_after": round(after_s, 3), "global": everything}
    found = answer(said, 429)
    found.headers.update({"Via": "1.1 stand-in", "Retry-After": str(int(after_s) + 1)} | (headers or {}))
    return found


def _false(fault: Fault) -> web.Response:
    if fault.status == 429:
        return _too_often(fault.retry_after_s, everything=fault.everything)
    assert fault.status is not None
    if fault.html:
        return web.Response(text=_HTML, status=fault.status, content_type="text/html")
    return answer({"message": f"{fault.status}: stand-in fault", "code": 0}, fault.status)


async def _spoilt(request: web.Request, response: web.Response | None) -> web.StreamResponse:
    """Half of an answer, or none, and then the connection is cut."""
    half = web.StreamResponse(headers={"Content-Type": "application/json"})
    if response is not None and isinstance(response.body, bytes):
        half.content_length = len(response.body)
        await half.prepare(request)
        await half.write(response.body[: len(response.body) // 2])
    if request.transport is not None:
        if response is not None:
            request.transport.close()
        else:
            request.transport.abort()
    return half


async def body(request: web.Request, expected: type = dict) -> tuple[Any, list[File]]:
    """JSON of the expected kind, or a form with ``payload_json`` and ``files[n]``."""
    files: list[File] = []
    kind = request.content_type
    if kind == "multipart/form-data":
        data: Any = {}
        async for part in await request.multipart():
            if not isinstance(part, BodyPartReader):
                raise form("form", "A form within a form.")
            if part.name == "payload_json":
                data = json.loads(await part.text())
            elif found := re.fullmatch(r"files\[(\d+)\]", part.name or ""):
                files.append(File(int(found[1]), part.filename or "", bytes(await part.read())))
            else:
                raise form(part.name or "form", "Unknown part of a form.")
        if sum(len(file.data) for file in files) > LARGEST_REQUEST:
            raise Refused(40005)
    elif kind == "application/json":
        try:
            data = json.loads(await request.read() or b"{}")
        except ValueError:
            raise form("body", "Not JSON.") from None
    else:
        raise form("body", f"Expected JSON or a form, not {kind}.")
    if not isinstance(data, expected):
        raise form("body", f"Expected a {expected.__name__}.")
    return data, files


def number(request: web.Request, name: str) -> int:
    try:
        return int(request.match_info[name])
    except ValueError:
        raise form(name, "Value is not snowflake.") from None


def yes(request: web.Request, name: str) -> bool:
    return request.query.get(name, "").lower() in ("1", "true")
