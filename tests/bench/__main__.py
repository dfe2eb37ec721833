"""Benchmarks: ratios against a named baseline of the same run; nothing is asserted."""

import argparse
import contextlib
import os
import platform
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import httpx
import psutil

from service.music.instruments import instrument_named
from service.notation.tab_reader import read_tab
from tests.bench import judging
from tests.bench.baseline import BaselineServer
from tests.bench.chatting import chatting
from tests.bench.composing import composing
from tests.bench.crowd import crowd
from tests.bench.filled import serving
from tests.bench.growth import growing
from tests.bench.load import per_second, source
from tests.bench.measuring import median_ms
from tests.bench.rendering import rendering
from tests.bench.sounding import sounding

GROUP = "/v1/groups/ferry-lane"
TAB = """
   G                C
1|-------0-------0|-------2---------|
2|---0-------0----|---1-------1-----|
3|-0--------------|-2/4-----0-------|
4|---------0------|-----------------|
5|-----0-------0--|---------0-------|
   T I T M T I T M
"""


def show(name: str, value: str, baseline: str, target: str) -> None:
    print(f"{name:<46} {value:>16}   {baseline:<44} {target}", flush=True)


@contextlib.contextmanager
def served() -> Iterator[tuple[httpx.Client, int]]:
    """The service as it is run, over the demo group; a client and the process's id."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "service", "demo", "--data", folder, "--no-serve", "--no-files"]
        subprocess.run(command, check=True, capture_output=True)
        with serving(Path(folder)) as (address, token, process):
            bearer = {"Authorization": f"Bearer {token}"}
            with httpx.Client(base_url=address, headers=bearer) as client:
                yield client, process


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


def demo_start() -> None:
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable,
            "-m",
            "service",
            "demo",
            "--data",
            folder,
            "--fresh",
            "--no-serve",
            "--no-files",
        ]
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


def others() -> None:
    """All but composing."""
    for measure in (judging.judging, judging.twins, judging.joins, judging.likeness):
        measure(show, median_ms)
    reading()
    demo_start()
    memory()
    stored_break()
    print()


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument(
        "what",
        nargs="?",
        choices=("all", "composing", "rendering", "sounding", "crowd", "chat"),
        default="all",
    )
    parser.add_argument("--plots", type=Path, default=Path("bench"), help="folder for plots (bench)")
    chosen = parser.parse_args()
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load from {source()}\n")
    if chosen.what == "all":
        others()
    if chosen.what in ("all", "composing"):
        composing()
        growing(chosen.plots)
    if chosen.what in ("all", "rendering"):
        rendering()
    if chosen.what in ("all", "sounding"):
        sounding(show)
    if chosen.what in ("all", "chat"):
        chatting()
    if chosen.what == "crowd":  # not among all: it takes gigabytes of the disk
        crowd()


if __name__ == "__main__":
    main()
