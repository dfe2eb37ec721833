"""Whether the bot can do its work, told over HTTP to whoever looks after it."""

import time
from collections.abc import Awaitable, Callable

from aiohttp import web

STALE_S = 60.0  # posts were looked for successfully within so many seconds; ours


class Health:
    """What is known of the connections to the chat and of the service."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._shards: dict[int, bool] = {}
        self._posts_looked: float | None = None

    def connected(self, shard: int) -> None:
        self._shards[shard] = True

    def disconnected(self, shard: int) -> None:
        self._shards[shard] = False

    def all_disconnected(self) -> None:
        self._shards = {}

    def looked_for_posts(self) -> None:
        self._posts_looked = self._clock()

    def told(self) -> dict[str, object]:
        chat = bool(self._shards) and all(self._shards.values())
        service = self._posts_looked is not None and self._clock() - self._posts_looked < STALE_S
        down = sorted(shard for shard, up in self._shards.items() if not up)
        return {"ready": chat and service, "chat": chat, "service": service, "shards_down": down}


async def serve_health(health: Health, host: str, port: int) -> tuple[int, Callable[[], Awaitable[None]]]:
    """Answer ``/health/live`` and ``/health/ready``; the port, and how to stop."""

    async def live(_: web.Request) -> web.Response:
        return web.json_response({"live": True})

    async def ready(_: web.Request) -> web.Response:
        told = health.told()
        return web.json_response(told, status=200 if told["ready"] else 503)

    app = web.Application()
    app.router.add_get("/health/live", live)
    app.router.add_get("/health/ready", ready)
    runner = web.AppRunner(app, access_log=None)
    await runner.setup()
    await web.TCPSite(runner, host, port).start()
    return int(runner.addresses[0][1]), runner.cleanup
