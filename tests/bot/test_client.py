"""The client of the service: what is asked again, what is not, and what is told of it, over real sockets."""

import asyncio
from collections.abc import Awaitable, Callable

import pytest
from aiohttp import web

from bot.api.client import Acting, Client, Refused, Slow, Unreachable

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


async def _cut(request: web.Request) -> web.StreamResponse:
    assert request.transport is not None
    request.transport.abort()
    return web.Response()


async def _busy(request: web.Request) -> web.StreamResponse:
    return web.json_response(
        {"type": "x", "title": "Busy", "status": 503, "detail": "Too much to do.", "code": "busy"},
        status=503,
        headers={"Retry-After": request.headers.get("X-Wait", "0")},
    )


async def _late(request: web.Request) -> web.StreamResponse:
    await asyncio.sleep(0.5)
    return web.Response(body=b"late")


async def _well(request: web.Request) -> web.StreamResponse:
    return web.Response(body=request.headers.get("Idempotency-Key", "").encode() + b" well")


def _asked(
    *handlers: Handler, key: str | None = "k1", timeout_s: float = 5, **headers: str
) -> tuple[bytes, int]:
    """What one ask brings from a service that handles it so, the last way for good; and how often it was asked."""
    seen = 0

    async def handle(request: web.Request) -> web.StreamResponse:
        nonlocal seen
        seen += 1
        return await handlers[min(seen, len(handlers)) - 1](request)

    async def run() -> bytes:
        app = web.Application()
        app.router.add_route("*", "/{rest:.*}", handle)
        runner = web.AppRunner(app, access_log=None)
        await runner.setup()
        site = web.TCPSite(runner, "127.0.0.1", 0)
        await site.start()
        try:
            async with Client(f"http://127.0.0.1:{runner.addresses[0][1]}", "t") as client:
                content, _ = await client.exchange(
                    "POST", "/v1/x", b"{}", Acting(key=key), headers, timeout_s=timeout_s
                )
                return content
        finally:
            await runner.cleanup()

    try:
        return asyncio.run(run()), seen
    except (Refused, Unreachable) as error:
        error.args = (*error.args, seen)
        raise


def test_what_was_cut_is_asked_again_under_the_same_key() -> None:
    assert _asked(_cut, _cut, _well) == (b"k1 well", 3)


def test_a_service_that_is_busy_for_a_moment_is_asked_again() -> None:
    assert _asked(_busy, _well) == (b"k1 well", 2)


def test_a_write_without_a_key_is_never_made_twice() -> None:
    with pytest.raises(Unreachable) as told:
        _asked(_cut, _well, key=None)
    assert told.value.args[-1] == 1


def test_a_service_that_wants_more_patience_than_a_player_has_is_not_waited_for() -> None:
    with pytest.raises(Refused, match="Too much to do") as told:
        _asked(_busy, _well, **{"X-Wait": "30"})
    assert told.value.args[-1] == 1


def test_what_takes_too_long_is_told_at_once() -> None:
    with pytest.raises(Slow) as told:
        _asked(_late, _well, timeout_s=0.1)
    assert told.value.args[-1] == 1


def test_a_service_that_stays_away_is_given_up() -> None:
    with pytest.raises(Unreachable) as told:
        _asked(_cut)
    assert told.value.args[-1] == 4
