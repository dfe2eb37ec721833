"""The process killed under load: what was acknowledged is there, and what is sent again is done once."""

import contextlib
import itertools
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx

from tests.support import ServedProcess, missing_part

CLIENTS = 16
REQUESTS = 2400
LICK_EACH = 6  # one request in so many adds a lick, the others a group
KILL_AT = (150, 500, 900, 1300, 1900)  # acknowledged answers
LICK = {
    "name": "Rope's end", "text": "32514251, 32514251", "instrument": "banjo", "tuning": "open-g",
    "meter": "2/2", "key": "G", "chords": "| G | G |", "hand_style": "three-finger", "style": "roll", "level": 1,
}  # fmt: skip


def _content(n: int) -> tuple[str, dict[str, object]]:
    if n % LICK_EACH == 0:
        return "/v1/groups/quay/licks", LICK
    return "/v1/groups", {"slug": f"g{n}", "name": f"Group {n}"}


def _all(client: httpx.Client, path: str, name: str) -> list[object]:
    found: list[object] = []
    cursor = ""
    while True:
        page = client.get(f"{path}?limit=200{cursor}").json()
        found += [item[name] for item in page["items"]]
        if page["next"] is None:
            return found
        cursor = f"&cursor={page['next']}"


def test_killed_five_times_no_acknowledged_write_is_lost_and_none_that_is_repeated_done_twice(
    tmp_path: Path,
) -> None:
    if not hasattr(signal, "SIGKILL"):
        missing_part("needs SIGKILL")
    acknowledged: dict[int, dict[str, object]] = {}
    repeated: set[int] = set()
    replayed: set[int] = set()
    serving = ServedProcess(tmp_path)
    token = serving.token
    with serving.client(token) as client:
        client.post("/v1/groups", json={"slug": "quay", "name": "Quay"}).raise_for_status()
    numbers, over = itertools.count(), threading.Event()

    def send_all() -> None:
        """Each request with its key, again and again until it is acknowledged."""
        client, address = serving.client(token), serving.address
        for n in numbers:
            if n >= REQUESTS:
                break
            path, content = _content(n)
            while not over.is_set():
                if address != serving.address:
                    client.close()
                    client, address = serving.client(token), serving.address
                with contextlib.suppress(httpx.TransportError):
                    answer = client.post(path, json=content, headers={"Idempotency-Key": f"key {n}"})
                    assert answer.status_code == 201, answer.text  # 409 would be a group made twice
                    acknowledged[n] = answer.json()
                    if "idempotent-replay" in answer.headers:
                        replayed.add(n)
                    break
                repeated.add(n)
                time.sleep(0.02)
        client.close()

    with ThreadPoolExecutor(CLIENTS) as threads:
        clients = [threads.submit(send_all) for _ in range(CLIENTS)]
        try:
            for enough in KILL_AT:
                while len(acknowledged) < enough:
                    assert not any(client.done() and client.exception() for client in clients)
                    time.sleep(0.002)
                with serving:
                    serving.end(signal.SIGKILL)
                serving = ServedProcess(tmp_path)
            for each in clients:
                each.result(120)
        finally:
            over.set()

    assert len(acknowledged) == REQUESTS
    assert len(repeated) >= len(KILL_AT)  # each kill met somebody who waited
    assert replayed <= repeated
    licks = {int(str(made["number"])) for n, made in acknowledged.items() if n % LICK_EACH == 0}
    assert len(licks) == REQUESTS // LICK_EACH
    with serving:
        with serving.client(token) as client:
            assert _all(client, "/v1/groups/quay/licks", "number") == sorted(licks)
            groups = {str(made["slug"]) for n, made in acknowledged.items() if n % LICK_EACH}
            assert _all(client, "/v1/groups", "slug") == sorted(groups | {"quay"})
        assert serving.end(signal.SIGTERM) == 0
