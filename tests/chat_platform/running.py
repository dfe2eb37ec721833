"""A client of the chat library in a thread of its own, so that tests stay plain functions."""

import asyncio
import threading
from collections.abc import Coroutine
from contextlib import suppress
from types import TracebackType
from typing import Any, Generic, Self, TypeVar

import discord

from tests.chat_platform.stand_in import Platform, redirect

T = TypeVar("T")
ClientT = TypeVar("ClientT", bound=discord.Client)


class Running(Generic[ClientT]):
    """``with Running(client, platform)``: connected and ready within, closed after it."""

    def __init__(self, client: ClientT, platform: Platform, *, wait_s: float = 20.0) -> None:
        self.client = client
        self.platform = platform
        self._wait_s = wait_s
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name="bot")
        self._ready = threading.Event()
        self._stop = asyncio.Event()
        self.token = platform.token
        self.failure: BaseException | None = None

    def __enter__(self) -> Self:
        redirect(self.platform.address)
        self._thread.start()
        if not self._ready.wait(self._wait_s) or self.failure is not None:
            failure = self.failure or TimeoutError("the client was not ready in time")
            self.__exit__(None, None, None)
            raise failure
        return self

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._live())
        except BaseException as error:
            self.failure = error
        finally:
            self._ready.set()
            rest = asyncio.all_tasks(self._loop)
            for task in rest:
                task.cancel()
            self._loop.run_until_complete(asyncio.gather(*rest, return_exceptions=True))
            asyncio.set_event_loop(None)
            self._loop.close()

    async def _live(self) -> None:
        async with self.client:
            starting = asyncio.create_task(self.client.start(self.token))
            ready = asyncio.create_task(self.client.wait_until_ready())
            ready.add_done_callback(lambda _: self._ready.set())
            stopping = asyncio.create_task(self._stop.wait())
            await asyncio.wait((starting, stopping), return_when=asyncio.FIRST_COMPLETED)
            if starting.done():
                await starting
            await self.client.close()
            await starting

    def call(self, work: Coroutine[Any, Any, T]) -> T:
        """On the client's own thread."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(60)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(RuntimeError):  # its loop may have ended of itself
            self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(30)
