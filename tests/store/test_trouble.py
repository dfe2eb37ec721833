"""Storage in trouble: a full disk, a database that somebody else holds, a reader that does not end."""

import signal
import sqlite3
import sys
import time
from contextlib import closing
from pathlib import Path
from threading import Thread

import httpx
import pytest

from service.store import database as storing
from service.store.database import connect_readonly
from tests.support import RunningService, ServedProcess, held, missing_part


def _group(client: httpx.Client, slug: str) -> httpx.Response:
    return client.post("/v1/groups", json={"slug": slug, "name": slug * 20})


def _refused(answer: httpx.Response, code: str) -> None:
    assert (answer.status_code, answer.json()["code"]) == (503, code)
    assert int(answer.headers["retry-after"]) > 0


def _ready_again(client: httpx.Client) -> None:
    """What the probe found holds for some seconds."""
    until = time.monotonic() + 10
    while client.get("/v1/health/ready").status_code != 200:
        assert time.monotonic() < until
        time.sleep(0.05)


def test_a_full_disk_refuses_writes_keeps_reading_and_goes_on_when_there_is_room(tmp_path: Path) -> None:
    if sys.platform != "linux":
        missing_part("needs Linux's prlimit, to let no file grow")
    import resource

    with ServedProcess(tmp_path) as serving, serving.client(serving.token) as client:
        assert _group(client, "first").status_code == 201
        log = tmp_path / "breakwright.sqlite3-wal"
        _, most = resource.prlimit(serving.process.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(serving.process.pid, resource.RLIMIT_FSIZE, (log.stat().st_size, most))
        for slug in ("a", "b"):
            _refused(_group(client, slug), "cannot-store")
        _refused(client.get("/v1/health/ready"), "not-ready")
        assert client.get("/v1/health/live").status_code == 200
        assert client.get("/v1/groups/first").status_code == 200
        assert client.get("/v1/groups/a").status_code == 404

        resource.prlimit(serving.process.pid, resource.RLIMIT_FSIZE, (most, most))
        assert _group(client, "b").status_code == 201
        _ready_again(client)
        assert [item["slug"] for item in client.get("/v1/groups").json()["items"]] == ["b", "first"]
        assert serving.end(signal.SIGTERM) == 0
    with closing(connect_readonly(tmp_path / "breakwright.sqlite3")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_a_write_waits_for_another_process_that_holds_the_database_and_is_done(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=False) as running, held(running.house.database.path, 1.5) as holding:
        assert _group(running.operator, "quay").status_code == 201
        assert holding.wait(1) == 0
        assert running.operator.get("/v1/groups/quay").status_code == 200


def test_a_database_that_is_held_for_too_long_is_said_and_later_all_is_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storing, "BUSY_TIMEOUT_MS", 200)
    with RunningService(tmp_path, demo=False) as running:
        with held(running.house.database.path, 2):
            _refused(_group(running.operator, "quay"), "cannot-store")
            _refused(running.operator.get("/v1/health/ready"), "not-ready")
            assert running.operator.get("/v1/health/live").status_code == 200
            assert running.operator.get("/v1/groups/quay").status_code == 404
        assert _group(running.operator, "quay").status_code == 201
        _ready_again(running.operator)


def test_readiness_does_not_wait_as_long_as_the_writer_does_nor_asks_it_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storing, "PROBE_WAIT_S", 0.2)
    with RunningService(tmp_path, demo=False) as running:
        database = running.house.database
        with held(database.path, 1.5):
            began = time.monotonic()
            askers = [
                Thread(target=lambda: _refused(httpx.get(f"{running.address}/v1/health/ready"), "not-ready"))
                for _ in range(8)
            ]
            for asker in askers:
                asker.start()
            assert running.operator.get("/v1/health/live").elapsed.total_seconds() < 0.5
            for asker in askers:
                asker.join()
            assert time.monotonic() - began < 1
        _ready_again(running.operator)
        assert (
            database.units["committed"] + database.units["failed"] <= 3
        )  # the client's token, a probe or two


def test_a_probe_is_a_write_and_holds_for_a_while(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=False) as running:
        database = running.house.database
        log, commits = database.file_bytes["log"], database.commits
        assert [running.operator.get("/v1/health/ready").status_code for _ in range(20)] == [200] * 20
        assert database.file_bytes["log"] > log
        assert database.commits == commits + 1


def test_a_log_that_a_reader_let_grow_is_given_back_when_the_reader_has_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storing, "WAL_KEPT_BYTES", 1 << 20)
    with RunningService(tmp_path, demo=False) as running:
        database = running.house.database
        reading = connect_readonly(database.path)
        reading.execute("BEGIN")
        reading.execute("SELECT count(*) FROM groups").fetchone()

        def fill(connection: sqlite3.Connection) -> None:
            connection.execute(
                "INSERT INTO groups (slug, name, instrument, tuning, created) "
                "VALUES (hex(randomblob(8)), hex(randomblob(500000)), 'banjo', 'open-g', '')"
            )

        for _ in range(12):
            running.call(lambda: database.write(fill))
        assert database.file_bytes["log"] > 12_000_000
        reading.execute("COMMIT")
        reading.close()
        for _ in range(3):
            running.call(lambda: database.write(fill))
        assert database.file_bytes["log"] < 6_000_000
        assert running.operator.get("/v1/groups").status_code == 200
