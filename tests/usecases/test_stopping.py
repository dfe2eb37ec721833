"""The service stops while workers make something: real processes, real signals."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import psutil
import pytest

from tests.support import missing_part

GROUP = "/v1/groups/ferry-lane"
LONG = "work-up.mp3?from=30&tempo=60&step=2&each=1"  # minutes of work


def _workers(process: psutil.Process) -> list[psutil.Process]:
    found = []
    for child in process.children():
        with contextlib.suppress(psutil.NoSuchProcess, psutil.ZombieProcess):
            if "spawn_main" in " ".join(child.cmdline()):
                found.append(child)
    return found


@pytest.fixture
def serving(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], httpx.Client, str]]:
    """A service in a process of its own, over the demo; a client, and the code of a break."""
    if not hasattr(signal, "SIGKILL"):
        missing_part("needs SIGKILL")
    run = [sys.executable, "-m", "service"]
    subprocess.run(
        [*run, "demo", "--data", str(tmp_path), "--no-serve", "--no-files"], check=True, capture_output=True
    )
    environment = {**os.environ, "BREAKWRIGHT_LOG_LEVEL": "error"}
    with subprocess.Popen(
        [*run, "serve", "--data", str(tmp_path), "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    ) as process:
        assert process.stdout is not None
        address = process.stdout.readline().split()[-1]
        token = process.stdout.readline().split()[-1]
        with httpx.Client(
            base_url=address, headers={"Authorization": f"Bearer {token}"}, timeout=60
        ) as client:
            made = client.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 1}).json()
            yield process, client, made["code"]
        process.kill()


def _ask(client: httpx.Client, path: str, answers: list[httpx.Response]) -> threading.Thread:
    thread = threading.Thread(target=lambda: answers.append(client.get(path)))
    thread.start()
    return thread


def _until_at_work(process: subprocess.Popen[str]) -> list[psutil.Process]:
    service = psutil.Process(process.pid)
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        busy = [worker for worker in _workers(service) if worker.cpu_times().user > 0.5]
        if busy:
            return _workers(service)
        time.sleep(0.1)
    raise AssertionError("no worker began")


def test_whoever_waits_when_the_service_stops_is_told_to_come_again_and_it_stops_at_once(
    serving: tuple[subprocess.Popen[str], httpx.Client, str],
) -> None:
    process, client, code = serving
    answers: list[httpx.Response] = []
    asking = _ask(client, f"{GROUP}/breaks/{code}/{LONG}", answers)
    workers = _until_at_work(process)
    began = time.monotonic()
    process.send_signal(signal.SIGTERM)
    assert process.wait(10) == 0
    assert time.monotonic() - began < 8
    asking.join(10)
    (answer,) = answers
    assert (answer.status_code, answer.json()["code"]) == (503, "renders-busy")
    _, alive = psutil.wait_procs(workers, timeout=5)
    assert alive == []


def test_workers_leave_when_the_service_was_killed(
    serving: tuple[subprocess.Popen[str], httpx.Client, str],
) -> None:
    process, client, code = serving
    threading.Thread(target=lambda: _swallow(client, f"{GROUP}/breaks/{code}/{LONG}"), daemon=True).start()
    workers = _until_at_work(process)
    process.kill()
    _, alive = psutil.wait_procs(workers, timeout=10)
    assert alive == []


def _swallow(client: httpx.Client, path: str) -> None:
    try:
        client.get(path)
    except httpx.HTTPError:
        return
