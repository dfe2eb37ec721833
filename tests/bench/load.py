"""HTTP load: wrk (Debian's package) where it is installed for rates, else a plain client on bare sockets, which takes a share of
the machine and so brings ratios nearer to 1. Latencies come from the plain client."""

import asyncio
import re
import shutil
import socket
import statistics
import subprocess
import tempfile
import time
from urllib.parse import urlsplit

SECONDS = 4
CONNECTIONS = 16


def source() -> str:
    return "wrk" if shutil.which("wrk") else "own client (install wrk for stricter ratios)"


def per_second(url: str, token: str, body: bytes | None = None, seconds: int = SECONDS) -> float:
    """Requests a second over keep-alive connections; with a body they are POSTs of JSON."""
    if not shutil.which("wrk"):
        return asyncio.run(_own_load(url, token, body, seconds))
    command = ["wrk", "-t1", f"-c{CONNECTIONS}", f"-d{seconds}s", "-H", f"Authorization: Bearer {token}"]
    with tempfile.NamedTemporaryFile("w", suffix=".lua") as script:
        if body is not None:
            script.write(f'wrk.method = "POST"\nwrk.body = [[{body.decode()}]]\n')
            script.write('wrk.headers["Content-Type"] = "application/json"\n')
            script.flush()
            command += ["-s", script.name]
        done = subprocess.run([*command, url], capture_output=True, text=True, check=True)
    match = re.search(r"Requests/sec:\s+([\d.]+)", done.stdout)
    bad = re.search(r"Non-2xx or 3xx responses: (\d+)", done.stdout)
    if match is None or bad:
        raise RuntimeError(done.stdout)
    return float(match.group(1))


def latency_ms(url: str, token: str, body: bytes | None = None, rounds: int = 300) -> float:
    """The median of requests one after the other on one connection."""
    at = urlsplit(url)
    asked = _request(url, token, body)
    times = []
    with socket.create_connection((at.hostname or "", at.port or 80)) as connection:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        for _ in range(rounds):
            began = time.perf_counter()
            connection.sendall(asked)
            got = b""
            while (wanted := _length(got)) is None or len(got) < wanted:
                part = connection.recv(1 << 18)
                if not part:
                    raise ConnectionError("closed")
                got += part
            times.append((time.perf_counter() - began) * 1000)
    return statistics.median(times)


def _request(url: str, token: str, body: bytes | None) -> bytes:
    at = urlsplit(url)
    lines = [
        f"{'GET' if body is None else 'POST'} {at.path or '/'} HTTP/1.1",
        f"Host: {at.netloc}",
        f"Authorization: Bearer {token}",
    ]
    if body is not None:
        lines += ["Content-Type: application/json", f"Content-Length: {len(body)}"]
    return "\r\n".join([*lines, "", ""]).encode() + (body or b"")


def _length(got: bytes) -> int | None:
    """How long the whole answer is; None as long as its head has not come. Raises RuntimeError for another than 2xx."""
    head, found, _ = got.partition(b"\r\n\r\n")
    if not found:
        return None
    if not head.startswith(b"HTTP/1.1 2"):
        raise RuntimeError(got.decode(errors="replace"))
    match = re.search(rb"(?i)content-length: (\d+)", head)
    return len(head) + 4 + (int(match.group(1)) if match else 0)


async def _own_load(url: str, token: str, body: bytes | None, seconds: int) -> float:
    done = 0
    until = time.perf_counter() + seconds
    at = urlsplit(url)
    asked = _request(url, token, body)

    async def one() -> None:
        nonlocal done
        reader, writer = await asyncio.open_connection(at.hostname, at.port)
        while time.perf_counter() < until:
            writer.write(asked)
            head = await reader.readuntil(b"\r\n\r\n")
            await reader.readexactly((_length(head) or 0) - len(head))
            done += 1
        writer.close()
        await writer.wait_closed()

    await asyncio.gather(*(one() for _ in range(CONNECTIONS)))
    return done / seconds
