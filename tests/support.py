"""A real service for tests: real HTTP on loopback, a real file, a thread or a process of its own."""

import asyncio
import atexit
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any, NoReturn, Self, TypeVar

import httpx
import pytest

from service.app import Server, address_of, listen, open_house
from service.clock import Clock, system_clock
from service.settings import load_settings
from service.usecases.house import House
from service.usecases.identify import make_token
from service.usecases.seeding import seed_demo
from service.usecases.weekly import run_due

T = TypeVar("T")


def missing_part(reason: str) -> NoReturn:
    """Skip a test for want of a part of the system; fail it where the parts were promised."""
    if os.environ.get("BREAKWRIGHT_REQUIRE_PARTS"):
        pytest.fail(f"BREAKWRIGHT_REQUIRE_PARTS is set: {reason}")
    pytest.skip(reason)


@cache
def seeded() -> Path:
    """A database with the demo group in it, made once for a process: judging its licks takes a while."""
    folder = Path(tempfile.mkdtemp(prefix="breakwright-seeded-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)

    async def seed() -> Path:
        async with open_house(load_settings({}, data=str(folder))) as house:
            await seed_demo(house)
            return house.settings.database

    return asyncio.run(seed())


HOLDING = """
import sqlite3, sys, time
holding = sqlite3.connect(sys.argv[1], isolation_level=None)
holding.execute("BEGIN IMMEDIATE")
print("held", flush=True)
time.sleep(float(sys.argv[2]))
holding.execute("COMMIT")
"""


@contextmanager
def held(path: Path, seconds: float) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds a database's write lock for so long."""
    holding = subprocess.Popen(
        [sys.executable, "-c", HOLDING, str(path), str(seconds)], stdout=subprocess.PIPE, text=True
    )
    assert holding.stdout is not None
    assert holding.stdout.readline() == "held\n"
    try:
        yield holding
    finally:
        assert holding.wait(20) == 0
        holding.stdout.close()


class ServedProcess:
    """``breakwright serve`` over a folder. Its operator ``token`` is told at the folder's first start only."""

    def __init__(self, folder: Path, port: str = "0") -> None:
        first = not any(folder.iterdir())
        self.process = subprocess.Popen(
            [sys.executable, "-m", "service", "serve", "--data", str(folder), "--port", port],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().split()[-1]
        self.token = self.process.stdout.readline().split()[-1] if first else ""

    def __enter__(self) -> Self:
        return self

    def client(self, token: str) -> httpx.Client:
        return httpx.Client(base_url=self.address, headers={"Authorization": f"Bearer {token}"}, timeout=30)

    def end(self, number: signal.Signals) -> int:
        """Send a signal; the exit status."""
        self.process.send_signal(number)
        return self.process.wait(30)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(30)
        assert self.process.stdout is not None
        self.process.stdout.close()


class RunningService:
    """``operator``, ``organiser`` and ``member`` are HTTP clients that hold such tokens."""

    def __init__(self, folder: Path, *, demo: bool, clock: Clock = system_clock, **given: object) -> None:
        self._clock = clock
        self._settings = load_settings({}, data=str(folder), log_level="error", **given)
        self._demo = demo
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._failure: BaseException | None = None
        self._stop: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._run)
        self.house: House
        self.address = ""

    def __enter__(self) -> Self:
        database = self._settings.database
        if self._demo and not database.exists():
            database.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(seeded(), database)
        self._thread.start()
        self._ready.wait(30)
        if self._failure is not None:
            raise self._failure
        self.operator = self.client("operator")
        if self._demo:
            self.organiser = self.client("organiser", "ferry-lane")
            self.member = self.client("member", "ferry-lane", "Wren")
        return self

    def client(self, role: str, group: str | None = None, member: str | None = None) -> httpx.Client:
        token = self.call(lambda: make_token(self.house, role, group, member))
        return self.client_with(token)

    def client_with(self, token: str | None) -> httpx.Client:
        headers = {"Authorization": f"Bearer {token}"} if token else {}
        return httpx.Client(base_url=self.address, headers=headers, timeout=30)

    def tick(self) -> int:
        """Do what is due by the service's clock; how many things there were."""
        return self.call(lambda: run_due(self.house))

    def call(self, work: Callable[[], Coroutine[Any, Any, T]]) -> T:
        return asyncio.run_coroutine_threadsafe(work(), self._loop).result(30)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._serve())
        except BaseException as error:
            self._failure = error
            self._ready.set()
        finally:
            self._loop.run_until_complete(self._loop.shutdown_default_executor())
            self._loop.close()

    async def _serve(self) -> None:
        self._stop = asyncio.Event()
        async with open_house(self._settings, self._clock) as house:
            self.house = house
            server = Server(house, listen("127.0.0.1", 0))
            self.address = address_of(server.listening)
            await server.start()
            self._ready.set()
            await self._stop.wait()
            await server.stop()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for client in ("operator", "organiser", "member"):
            if hasattr(self, client):
                getattr(self, client).close()
        if self._stop is not None:
            self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(30)
