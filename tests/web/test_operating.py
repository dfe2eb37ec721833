"""What whoever runs the service goes by: rates, request ids, metrics, an end on request."""

import itertools
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from service.app import SHUTDOWN_S
from service.web.gate import Rate
from service.web.metrics import BOUNDS_S
from tests.support import RunningService, ServedProcess, held

GROUP = "/v1/groups/ferry-lane"


# --- rates -----------------------------------------------------------------------------------------


def test_a_rate_tells_what_is_left_and_when_all_is_back() -> None:
    now = 100.0
    rate = Rate(per_second=2, burst=5, clock=lambda: now)
    assert rate.policy == (b"ratelimit-policy", b'"burst";q=5;w=3')
    told = [rate.take(1) for _ in range(6)]
    assert [wait for wait, _ in told] == [0, 0, 0, 0, 0, 0.5]
    assert [header[1].decode() for _, header in told] == [
        '"burst";r=4;t=1', '"burst";r=3;t=1', '"burst";r=2;t=2', '"burst";r=1;t=2', '"burst";r=0;t=3',
        '"burst";r=0;t=3',
    ]  # fmt: skip
    assert rate.take(2)[1][1] == b'"burst";r=4;t=1'  # another token's is its own
    now = 101.0
    assert rate.take(1) == (0.0, (b"ratelimit", b'"burst";r=1;t=2'))
    now = 1000.0
    assert rate.take(1) == (0.0, (b"ratelimit", b'"burst";r=4;t=1'))


def test_every_answer_to_a_token_tells_its_rate_and_too_many_when_to_come_back(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True, requests_per_second=1, request_burst=3) as slow:
        answers = [
            slow.member.get(path) for path in ("/v1/instruments", "/nowhere", "/v1/instruments", "/v1")
        ]
        assert [answer.status_code for answer in answers] == [200, 404, 200, 429]
        assert [answer.headers["ratelimit-policy"] for answer in answers] == ['"burst";q=3;w=3'] * 4
        assert [answer.headers["ratelimit"] for answer in answers] == [
            '"burst";r=2;t=1', '"burst";r=1;t=2', '"burst";r=0;t=3', '"burst";r=0;t=3',
        ]  # fmt: skip
        assert answers[3].headers["retry-after"] == "1"
        assert answers[3].json()["code"] == "too-many-requests"
        assert slow.operator.get("/v1/instruments").status_code == 200
        assert "ratelimit" not in httpx.get(f"{slow.address}/v1/health/live").headers
        time.sleep(1.05)
        assert slow.member.get("/v1/instruments").status_code == 200


# --- request ids -----------------------------------------------------------------------------------


@pytest.mark.parametrize("sent", ["a", "Trace_1.2-3", "x" * 64])
def test_a_clients_own_request_id_is_kept(demo: RunningService, sent: str) -> None:
    answer = demo.member.get("/nowhere", headers={"X-Request-Id": sent})
    assert (answer.headers["x-request-id"], answer.json()["request_id"]) == (sent, sent)
    refused = httpx.get(f"{demo.address}/v1/instruments", headers={"X-Request-Id": sent})
    assert (refused.status_code, refused.json()["request_id"]) == (401, sent)


@pytest.mark.parametrize("sent", ["", "x" * 65, "a b", "a\tb", "é".encode(), '"', "{}"])
def test_any_other_is_replaced_by_one_of_ours(demo: RunningService, sent: str | bytes) -> None:
    answers = [demo.member.get("/nowhere", headers={"X-Request-Id": sent}) for _ in range(2)]
    ids = [answer.headers["x-request-id"] for answer in answers]
    assert ids == [answer.json()["request_id"] for answer in answers]
    assert len({*ids, sent}) == 3


# --- metrics ---------------------------------------------------------------------------------------


def _metrics(running: RunningService) -> dict[str, dict[tuple[str, ...], float]]:
    """Samples by name and the values of their labels."""
    found: dict[str, dict[tuple[str, ...], float]] = {}
    for family in text_string_to_metric_families(running.operator.get("/metrics").text):
        assert family.documentation, family.name
        assert family.type in ("counter", "gauge", "histogram"), family.name
        for sample in family.samples:
            found.setdefault(sample.name, {})[tuple(sample.labels.values())] = sample.value
    return found


def test_metrics_are_the_operators_and_of_the_prometheus_format(demo: RunningService) -> None:
    assert demo.member.get("/metrics").status_code == 403
    answer = demo.operator.get("/metrics")
    assert answer.headers["content-type"] == "text/plain; version=0.0.4; charset=utf-8"
    names = [line.split()[2] for line in answer.text.splitlines() if line.startswith("# TYPE")]
    assert names == [line.split()[2] for line in answer.text.splitlines() if line.startswith("# HELP")]
    assert len(set(names)) == len(names)


def test_metrics_count_what_happens(service: RunningService) -> None:
    before = _metrics(service)
    for slug, status in (("quay", 201), ("wharf", 201), ("quay", 409)):
        made = service.operator.post("/v1/groups", json={"slug": slug, "name": slug})
        assert made.status_code == status
    assert service.member.get("/nowhere").status_code == 404
    assert service.member.get(f"{GROUP}/licks/1/tab.svg").status_code == 200
    after = _metrics(service)

    def grown(name: str, *labels: str) -> float:
        return after[f"breakwright_{name}"][labels] - before.get(f"breakwright_{name}", {}).get(labels, 0)

    assert [grown("requests_total", status) for status in ("201", "409", "404")] == [2, 1, 1]
    assert [grown("request_seconds_count", kind) for kind in ("read", "write")] == [3, 3]  # metrics is one
    assert 0 < grown("request_seconds_sum", "write") < 3
    assert [grown("writes_total", how) for how in ("committed", "refused", "failed")] == [2, 1, 0]
    assert 2 <= grown("commits_total") <= 3
    assert after["breakwright_writes_waiting"] == {(): 0}
    assert after["breakwright_posts_waiting"] == {(): 0}
    assert after["breakwright_file_bytes"][("database",)] == service.house.settings.database.stat().st_size
    assert grown("file_bytes", "log") > 0
    assert grown("renders_total") == 1
    assert after["breakwright_renders_making"] == {(): 0}
    buckets = after["breakwright_request_seconds_bucket"]
    for kind in ("read", "write"):
        counts = [buckets[(kind, bound)] for bound in (*map(str, BOUNDS_S), "+Inf")]
        assert counts == sorted(counts)
        assert counts[-1] == after["breakwright_request_seconds_count"][(kind,)]


# --- the end ---------------------------------------------------------------------------------------


def _post(client: httpx.Client, slug: str) -> int | None:
    """The status; None for a connection that was closed."""
    try:
        return client.post("/v1/groups", json={"slug": slug, "name": slug}).status_code
    except httpx.TransportError:
        return None


def test_a_service_told_to_end_under_load_keeps_all_it_acknowledged(tmp_path: Path) -> None:
    numbers, enough = itertools.count(), threading.Event()
    answers: dict[str, int | None] = {}

    def send() -> None:
        with serving.client(serving.token) as client:
            for n in numbers:
                answers[f"g{n}"] = _post(client, f"g{n}")
                if n > 300:
                    enough.set()
                if answers[f"g{n}"] is None:
                    return

    with ServedProcess(tmp_path) as serving, ThreadPoolExecutor(8) as threads:
        sent = [threads.submit(send) for _ in range(8)]
        assert enough.wait(30)
        began = time.monotonic()
        assert serving.end(signal.SIGTERM) == 0
        assert time.monotonic() - began < SHUTDOWN_S
        for each in sent:
            each.result(30)
        token = serving.token
    assert set(answers.values()) <= {201, 503, None}
    acknowledged = {slug for slug, status in answers.items() if status == 201}
    assert len(acknowledged) > 250
    with ServedProcess(tmp_path) as serving, serving.client(token) as client:
        assert {slug for slug in acknowledged if client.get(f"/v1/groups/{slug}").status_code != 200} == set()


def test_requests_under_way_when_it_is_told_to_end_are_answered(tmp_path: Path) -> None:
    with (
        ServedProcess(tmp_path) as serving,
        serving.client(serving.token) as client,
        ThreadPoolExecutor(8) as threads,
    ):
        with held(tmp_path / "breakwright.sqlite3", 3):
            sent = [threads.submit(_post, client, f"g{n}") for n in range(8)]
            time.sleep(1)  # all wait for the database by now
            assert serving.end(signal.SIGTERM) == 0
        assert [each.result() for each in sent] == [201] * 8
