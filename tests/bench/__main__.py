"""Benchmarks: ``python -m tests.bench``. Ratios against a named baseline of the same run; nothing is asserted.

HTTP load comes from wrk (Debian's package) where it is installed, else from a small client of our own, which
understates what the server can do and brings ratios nearer to 1.
"""

import asyncio
import contextlib
import os
import platform
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import psutil

from service.compose.lattice import Lattice
from service.compose.stock import Candidate
from service.music.instruments import instrument_named
from service.notation.tab_reader import read_tab
from tests.bench import judging
from tests.bench.baseline import BaselineServer
from tests.judge.material import ROLLS
from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"
SECONDS = 4
CONNECTIONS = 16
# the limiter counts, but never refuses
LIMITLESS = {"BREAKWRIGHT_REQUESTS_PER_SECOND": "1000000000", "BREAKWRIGHT_REQUEST_BURST": "1000000000"}
TAB = """
   G                C
1|-------0-------0|-------2---------|
2|---0-------0----|---1-------1-----|
3|-0--------------|-2/4-----0-------|
4|---------0------|-----------------|
5|-----0-------0--|---------0-------|
   T I T M T I T M
"""


def per_second(url: str, token: str) -> float:
    """Requests a second over keep-alive connections."""
    if shutil.which("wrk"):
        done = subprocess.run(
            ["wrk", "-t1", f"-c{CONNECTIONS}", f"-d{SECONDS}s", "-H", f"Authorization: Bearer {token}", url],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        match = re.search(r"Requests/sec:\s+([\d.]+)", done.stdout)
        bad = re.search(r"Non-2xx or 3xx responses: (\d+)", done.stdout)
        if match is None or bad:
            raise RuntimeError(done.stdout)
        return float(match.group(1))
    return asyncio.run(_own_load(url, token))


async def _own_load(url: str, token: str) -> float:
    done = 0
    until = time.perf_counter() + SECONDS

    async def one(client: httpx.AsyncClient) -> None:
        nonlocal done
        while time.perf_counter() < until:
            (await client.get(url, headers={"Authorization": f"Bearer {token}"})).raise_for_status()
            done += 1

    async with httpx.AsyncClient() as client:
        await asyncio.gather(*(one(client) for _ in range(CONNECTIONS)))
    return done / SECONDS


def median_ms(work: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        times.append((time.perf_counter() - began) * 1000)
    return statistics.median(times)


def show(name: str, value: str, baseline: str, target: str) -> None:
    print(f"{name:<46} {value:>16}   {baseline:<44} {target}", flush=True)


@contextlib.contextmanager
def served() -> Iterator[tuple[httpx.Client, int]]:
    """The service as it is run, a process of its own that writes its log; a client and the process's id."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "service"]
        subprocess.run([*command, "demo", "--data", folder, "--no-serve"], check=True, capture_output=True)
        token = subprocess.run(
            [*command, "token", "--data", folder, "--role", "operator"],
            check=True,
            capture_output=True,
            text=True,
        ).stdout.strip()
        process = subprocess.Popen(
            [*command, "serve", "--data", folder, "--port", "0"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
            env={**os.environ, **LIMITLESS},
        )  # fmt: skip
        assert process.stdout is not None
        address = process.stdout.readline().split()[-1]
        with httpx.Client(base_url=address, headers={"Authorization": f"Bearer {token}"}) as client:
            yield client, process.pid
        process.terminate()
        process.wait()
        process.stdout.close()


def stored_break() -> None:
    with served() as (client, _):
        made = client.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 1}).json()
        where = made["links"]["self"]
        url, token = str(client.base_url.join(where)), client.headers["authorization"].split()[1]
        with BaselineServer(client.get(where).content) as bare:
            rounds = [(per_second(bare.url, token), per_second(url, token)) for _ in range(3)]
    base, ours = (statistics.median(column) for column in zip(*rounds, strict=True))
    show(
        "stored break, token, rate limit, log", f"{ours / base:.2f}",
        f"of a bare litestar handler ({base:,.0f}/s)", "at least .45",
    )  # fmt: skip


def _measure(chord: str, number: int) -> str:
    """A measure of rolls over a chord, 64 different ones."""
    roll = ROLLS[number % 8]
    turned = roll[number // 8 % 8 :] + roll[: number // 8 % 8]
    shape = {"G": "0-0-0-0", "C": "2-0-1-2", "D": "4-2-3-4", "Em": "2-0-0-2"}[chord]
    return f"{chord} {shape}: {turned},"


def random_break(folder: Path) -> None:
    """16 phrases x 500 licks, all different."""
    with RunningService(folder, demo=True) as service:
        organiser = service.organiser
        kinds = {
            (p["chords"], p["role"]) for p in organiser.get(f"{GROUP}/tunes/heron-ferry").json()["phrases"]
        }
        wanted = {(chords, "body" if role == "opener" else role) for chords, role in kinds}
        for chords, role in sorted(wanted):
            measures = chords.split() * (2 if " " not in chords else 1)
            for n in range(500):
                line = " ".join(_measure(c, n if place else n // 64) for place, c in enumerate(measures))
                sent = {
                    "name": f"{role} {n}", "text": line, "instrument": "banjo", "tuning": "open-g", "meter": "2/2",
                    "key": "G", "chords": f"| {' | '.join(measures)} |", "hand_style": "three-finger",
                    "style": "roll", "level": 1 + n % 5, "role": role,
                }  # fmt: skip
                organiser.post(f"{GROUP}/licks", json=sent).raise_for_status()
        path = f"{GROUP}/tunes/heron-ferry/breaks/random"
        counted = organiser.post(f"{GROUP}/tunes/heron-ferry/breaks/count", json={}).json()
        ms = median_ms(lambda: organiser.post(path, json={}).raise_for_status(), 200)
        bare = median_ms(lambda: organiser.get("/v1/health/live").raise_for_status(), 200)
        show(
            f"random break, phrases x {min(counted['per_phrase'])}+ licks", f"{ms:.1f} ms p50",
            f"{ms / bare:.1f} x a health check ({bare:.1f} ms)", "at most 25 ms",
        )  # fmt: skip


def reading() -> None:
    banjo = instrument_named("banjo")
    text = TAB * 4
    ms = median_ms(lambda: read_tab(text, banjo), 200)
    lines = median_ms(lambda: [list(line) for line in text.splitlines()], 200)
    show(
        "reading an 8-measure tab",
        f"{ms:.2f} ms",
        f"{ms / lines:.0f} x touching each character",
        "at most 2 ms",
    )


def counting() -> None:
    def lattice() -> int:
        return Lattice([[Candidate(n, 1, 1, 1, "roll", 1.0) for n in range(500)] for _ in range(16)]).total

    ms = median_ms(lattice, 20)
    product = median_ms(lambda: 500**16, 20)
    show("counting 16 phrases x 500 licks", f"{ms:.2f} ms", f"the product alone takes {product:.4f} ms", "")


def demo_start() -> None:
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "service", "demo", "--data", folder, "--fresh", "--no-serve"]
        ms = median_ms(lambda: subprocess.run(command, check=True, capture_output=True), 5)
        bare = median_ms(
            lambda: subprocess.run([sys.executable, "-c", "import litestar, aiohttp"], check=True), 5
        )
    show(
        "breakwright demo, start to printed break",
        f"{ms / 1000:.2f} s",
        f"{ms / bare:.1f} x importing the libraries",
        "at most 3 s",
    )


def memory() -> None:
    with served() as (client, pid):
        for seed in range(50):
            client.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": seed}).raise_for_status()
        client.get("/schema/openapi.json").raise_for_status()
        used = psutil.Process(pid).memory_info().rss / 1e6
    imports = "import litestar, uvicorn, psutil; print(psutil.Process().memory_info().rss / 1e6)"
    bare = subprocess.run([sys.executable, "-c", imports], check=True, capture_output=True, text=True).stdout
    show(
        "resident memory of the service", f"{used:.0f} MB", f"the libraries alone {float(bare):.0f} MB",
        "under 120 MB",
    )  # fmt: skip


def main() -> None:
    load = "wrk" if shutil.which("wrk") else "own client (install wrk for a stricter ratio)"
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load from {load}\n")
    for measure in (judging.judging, judging.twins, judging.joins, judging.likeness):
        measure(show, median_ms)
    reading()
    counting()
    demo_start()
    memory()
    stored_break()
    with tempfile.TemporaryDirectory() as folder:
        random_break(Path(folder))


if __name__ == "__main__":
    main()
