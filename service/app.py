"""The composition root: opens what the service needs, hands it in, and closes it again."""

import asyncio
import contextlib
import gc
import signal
import socket
import sys
from collections.abc import AsyncIterator, Callable
from typing import Any

import uvicorn

from service.clock import Clock, system_clock
from service.logs import start_logs
from service.settings import Settings
from service.store.database import Database
from service.usecases.house import House
from service.web.application import make_web

BACKLOG = 2048
SHUTDOWN_S = 10
# A thread that thinks lets the loop go on after so many seconds. The loop waits so long at each of its own system calls, the
# database's among them: with Python's own .005 it was late by 50 ms and more.
SWITCH_S = 0.0002
# How many new objects bring a collection of garbage, how many of those one of what is older, and of all. Nearly everything is
# freed without the collector, and one of all takes 40 ms with some pools in memory: it comes after some minutes of full load.
COLLECTING = (10_000, 10, 200)


@contextlib.asynccontextmanager
async def open_house(settings: Settings, clock: Clock = system_clock) -> AsyncIterator[House]:
    """A house over the database of these settings; closed, with all writes done, at the end."""
    database = await Database.open(settings.database, settings.write_queue)
    try:
        house = House(database, settings, clock)
        try:
            yield house
        finally:
            await house.close()
    finally:
        await database.close()


def listen(host: str, port: int, *, or_free: bool = False) -> socket.socket:
    """A listening socket; with ``or_free`` any free port if that one is taken. Raises OSError."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for wanted in (port, 0) if or_free else (port,):
        found = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        # inherited by accepted connections: without it an answer in two parts waits 40 ms for an ACK
        found.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((host, wanted))
        except OSError:
            found.close()
            if not or_free or wanted == 0:
                raise
            continue
        found.listen(BACKLOG)
        return found
    raise OSError("no port")


def address_of(listening: socket.socket) -> str:
    """``http://host:port`` of a listening socket."""
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


class Server:
    """uvicorn over a house, started and stopped from outside; signals are the caller's part."""

    def __init__(self, house: House, listening: socket.socket) -> None:
        self._house = house
        self._log, self._stop_logs = start_logs(house.settings.log_level)
        self._web = make_web(house, self._log)
        config = uvicorn.Config(
            self._web,
            loop="none",
            http="httptools",
            lifespan="off",
            access_log=False,
            log_config=None,
            timeout_graceful_shutdown=SHUTDOWN_S,
            server_header=False,
        )
        self._server = _Quiet(config)
        self.listening = listening
        self._task: asyncio.Task[Any] | None = None

    async def start(self) -> None:
        """Returns once requests are answered."""
        # what is there for good is not looked at again by the collector of garbage, which holds up the loop while it looks
        gc.collect()
        gc.freeze()
        self._task = asyncio.create_task(self._server.serve([self.listening]), name="http")
        while not self._server.started:
            if self._task.done():
                await self._task
                raise RuntimeError("the HTTP server did not start")
            await asyncio.sleep(0.005)

    async def stop(self) -> None:
        """Finish the requests under way, but for what workers still make, then stop."""
        await self._house.renders.close()
        self._server.should_exit = True
        if self._task is not None:
            await self._task
        self.listening.close()
        await self._web.requests.finish()
        self._stop_logs()


class _Quiet(uvicorn.Server):
    @contextlib.contextmanager
    def capture_signals(self):  # type: ignore[no-untyped-def]
        yield


async def until_signal() -> None:
    """Waits for Ctrl-C or SIGTERM."""
    told = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, told.set)
    try:
        await told.wait()
    finally:
        for number in (signal.SIGINT, signal.SIGTERM):
            loop.remove_signal_handler(number)


def run(main: Callable[[], Any]) -> Any:
    """Run a coroutine function on uvloop, where there is one."""
    sys.setswitchinterval(SWITCH_S)
    gc.set_threshold(*COLLECTING)
    try:
        import uvloop
    except ImportError:
        return asyncio.run(main())
    with asyncio.Runner(loop_factory=uvloop.new_event_loop) as runner:
        return runner.run(main())
