"""SIGKILL under load: no acknowledged lick is lost."""

import json
import os
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.support import missing_part

SUBMISSIONS = 2000
KILL_AFTER = 700
LICK = {
    "name": "Rope's end", "text": "32514251, 32514251", "instrument": "banjo", "tuning": "open-g",
    "meter": "2/2", "key": "G", "chords": "| G | G |", "hand_style": "three-finger", "style": "roll", "level": 1,
}  # fmt: skip


def _serve(folder: Path) -> tuple[subprocess.Popen[str], str, str]:
    """A service in a process of its own; its address and operator token (only the first start has one)."""
    environment = {**os.environ, "BREAKWRIGHT_LOG_LEVEL": "error"}
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "serve", "--data", str(folder), "--port", "0"],
        stdout=subprocess.PIPE, text=True, env=environment,
    )  # fmt: skip
    assert process.stdout is not None
    address = process.stdout.readline().split()[-1]
    token = process.stdout.readline().split()[-1] if not (folder / "seen").exists() else ""
    (folder / "seen").touch()
    return process, address, token


def _post(address: str, token: str, path: str, content: dict[str, object]) -> dict[str, object]:
    request = urllib.request.Request(
        address + path,
        json.dumps(content).encode(),
        {"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=20) as response:
        answer: dict[str, object] = json.load(response)
        return answer


def _get(address: str, token: str, path: str) -> dict[str, object]:
    request = urllib.request.Request(address + path, headers={"Authorization": f"Bearer {token}"})
    with urllib.request.urlopen(request, timeout=20) as response:
        answer: dict[str, object] = json.load(response)
        return answer


def test_killing_the_service_during_2000_submissions_loses_no_acknowledged_lick(tmp_path: Path) -> None:
    if not hasattr(signal, "SIGKILL"):
        missing_part("needs SIGKILL")
    process, address, token = _serve(tmp_path)
    _post(address, token, "/v1/groups", {"slug": "quay", "name": "Quay"})
    acknowledged: list[int] = []
    enough = threading.Event()

    def submit(_: int) -> None:
        try:
            made = _post(address, token, "/v1/groups/quay/licks", LICK)
        except (urllib.error.URLError, ConnectionError, TimeoutError, OSError):
            return
        acknowledged.append(int(str(made["number"])))
        if len(acknowledged) >= KILL_AFTER:
            enough.set()

    with ThreadPoolExecutor(16) as threads:
        sent = [threads.submit(submit, n) for n in range(SUBMISSIONS)]
        assert enough.wait(120)
        process.kill()
        for each in sent:
            each.result()
    process.wait(20)
    assert process.stdout is not None
    process.stdout.close()
    assert KILL_AFTER <= len(acknowledged) < SUBMISSIONS
    assert len(set(acknowledged)) == len(acknowledged)

    process, address, _ = _serve(tmp_path)
    try:
        kept: set[int] = set()
        path: str | None = "/v1/groups/quay/licks?limit=200"
        while path:
            page = _get(address, token, path)
            kept.update(item["number"] for item in page["items"])  # type: ignore[attr-defined]
            path = f"/v1/groups/quay/licks?limit=200&cursor={page['next']}" if page["next"] else None
        assert set(acknowledged) <= kept
    finally:
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0
        assert process.stdout is not None
        process.stdout.close()
