"""HTTP load at a set pace: each request has its time, whether those before it were answered or not, and its latency counts from
then on, so that a service that stands still is not spared."""

import asyncio
import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

LENGTH = re.compile(rb"(?i)content-length: (\d+)")
FRESH_S = 3  # a connection that was not used for longer may be closed at the other end
NOT_ANSWERED = 999  # stands for a status
PATIENCE_S = 120  # for one answer


@dataclass(frozen=True, slots=True)
class Request:
    method: str
    path: str
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""


@dataclass(slots=True)
class Latencies:
    """Milliseconds, in the order of the answers; ``refused`` are answers other than 2xx by status."""

    ms: list[float] = field(default_factory=list)
    refused: dict[int, int] = field(default_factory=dict)

    def at(self, share: float) -> float:
        """The latency that so many stay within."""
        ordered = sorted(self.ms)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0


class Connections:
    """Keep-alive connections to one service; as many as are needed at once."""

    def __init__(self, address: str) -> None:
        at = urlsplit(address)
        self._host, self._port = at.hostname or "", at.port or 80
        self._free: list[tuple[float, asyncio.StreamReader, asyncio.StreamWriter]] = []

    async def ask(self, request: Request) -> tuple[int, bytes]:
        """Status and body."""
        reader, writer = await self._one()
        lines = [f"{request.method} {request.path} HTTP/1.1", f"Host: {self._host}:{self._port}"]
        lines += [f"{name}: {value}" for name, value in request.headers]
        if request.method in ("POST", "PUT"):
            lines += ["Content-Type: application/json", f"Content-Length: {len(request.body)}"]
        writer.write("\r\n".join([*lines, "", ""]).encode() + request.body)
        head = await reader.readuntil(b"\r\n\r\n")
        found = LENGTH.search(head)
        body = await reader.readexactly(int(found.group(1)) if found else 0)
        self._free.append((time.monotonic() + FRESH_S, reader, writer))
        return int(head[9:12]), body

    async def _one(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """The connection that was used last, or a new one where the service may have closed it."""
        if self._free and self._free[-1][0] > time.monotonic():
            return self._free.pop()[1:]
        self.close()
        return await asyncio.open_connection(self._host, self._port)

    def close(self) -> None:
        while self._free:
            self._free.pop()[2].close()


async def one_by_one(connections: Connections, requests: Iterator[Request], how_many: int) -> Latencies:
    """Each as soon as the one before it was answered."""
    found = Latencies()
    for _ in range(how_many):
        await _timed(connections, next(requests), time.perf_counter(), found)
    return found


async def paced(
    connections: Connections,
    requests: Iterator[Request],
    per_second: int,
    until: Callable[[], bool],
    found: Latencies,
) -> None:
    """So many a second until then, and the answers to all of them."""
    began, sent = time.perf_counter(), 0
    under_way: set[asyncio.Task[None]] = set()
    while not until():
        due = began + sent / per_second
        wait = due - time.perf_counter()
        if wait > 0:
            await asyncio.sleep(wait)
        task = asyncio.create_task(_timed(connections, next(requests), due, found))
        under_way.add(task)
        task.add_done_callback(under_way.discard)
        sent += 1
    if under_way:
        await asyncio.wait(under_way, timeout=PATIENCE_S)


async def _timed(connections: Connections, request: Request, since: float, found: Latencies) -> None:
    try:
        status, _ = await connections.ask(request)
    except (OSError, asyncio.IncompleteReadError):
        status = NOT_ANSWERED
    found.ms.append((time.perf_counter() - since) * 1000)
    if status >= 300:
        found.refused[status] = found.refused.get(status, 0) + 1
