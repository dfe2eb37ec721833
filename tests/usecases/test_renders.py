"""Render workers, their queue, and what is kept on disk: real processes, a real folder."""

import asyncio
import contextlib
import shutil
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import psutil
import pytest

from service.errors import Busy, DomainError
from service.usecases.renders import Job, Order, Ordering, Renders, key_of
from tests.usecases import jobs


def _run(
    folder: Path, work: Callable[[Renders], Awaitable[None]], *, queue: int = 8, most: int = 1 << 20
) -> None:
    async def main() -> None:
        renders = Renders(folder, 1, queue, most)
        try:
            await work(renders)
        finally:
            await renders.close()

    asyncio.run(main())


def _order(job: Job, *arguments: object, long: bool = False) -> Ordering:
    async def order() -> Order:
        return Order(job, arguments, long)

    return order


def _workers(but: frozenset[int] = frozenset()) -> list[psutil.Process]:
    """Worker processes of this one that are alive, but for those of other services."""
    found = []
    for child in psutil.Process().children():
        with contextlib.suppress(psutil.NoSuchProcess, psutil.ZombieProcess):
            if child.pid not in but and "spawn_main" in " ".join(child.cmdline()):
                found.append(child)
    return found


def _times_made(log: Path) -> int:
    return log.read_text().count("made") if log.exists() else 0


def test_what_was_made_once_is_read_from_disk_after_a_restart_too(tmp_path: Path) -> None:
    log = tmp_path / "log"

    async def ask(renders: Renders) -> None:
        made, body = await renders.part(1, "k", 0, _order(jobs.written, "hello", str(log)))
        assert (made.sizes, made.facts, body) == ([5, 6], {"text": "hello"}, b"hello")
        assert (await renders.part(1, "k", 1, _order(jobs.written, "hello", str(log))))[1] == b"second"
        assert (await renders.part(1, "k", 2, _order(jobs.written, "hello", str(log))))[1] is None

    _run(tmp_path / "renders", ask)
    _run(tmp_path / "renders", ask)
    assert _times_made(log) == 1


def test_what_is_asked_for_twice_at_once_is_made_once(tmp_path: Path) -> None:
    log = tmp_path / "log"

    async def ask(renders: Renders) -> None:
        both = await asyncio.gather(
            *(renders.made(1, "k", _order(jobs.slow, "x", str(log))) for _ in range(5))
        )
        assert len(set(map(id, both))) == 1

    _run(tmp_path / "renders", ask)
    assert _times_made(log) == 1


def test_whoever_asked_and_went_away_leaves_the_work_to_the_others(tmp_path: Path) -> None:
    log = tmp_path / "log"

    async def ask(renders: Renders) -> None:
        first = asyncio.create_task(renders.made(1, "k", _order(jobs.slow, "x", str(log))))
        await asyncio.sleep(0.1)
        first.cancel()
        assert (await renders.made(1, "k", _order(jobs.slow, "x", str(log)))).facts == {"text": "x"}

    _run(tmp_path / "renders", ask)
    assert _times_made(log) == 1


def test_beyond_the_queue_is_no_room(tmp_path: Path) -> None:
    log = str(tmp_path / "log")

    async def ask(renders: Renders) -> None:
        waiting = [
            asyncio.create_task(renders.made(1, f"k{n}", _order(jobs.slow, "x", log))) for n in range(3)
        ]
        await asyncio.sleep(0)
        with pytest.raises(Busy) as busy:
            await renders.made(1, "k9", _order(jobs.slow, "x", log))
        assert busy.value.retry_after >= 1
        await asyncio.gather(*waiting)
        assert (await renders.made(1, "k9", _order(jobs.written, "x", log))).sizes == [1, 6]

    _run(tmp_path / "renders", ask, queue=2)


def test_the_disk_holds_no_more_than_it_may_and_the_oldest_goes_first(tmp_path: Path) -> None:
    folder = tmp_path / "renders"

    async def ask(renders: Renders) -> None:
        for name in ("a", "b", "c"):
            await renders.made(1, name, _order(jobs.large, 100))
        await renders.made(1, "a", _order(jobs.large, 100))  # looked at again
        await renders.made(1, "d", _order(jobs.large, 100))
        assert {path.parent.name for path in folder.rglob("made.json")} == {"a", "c", "d"}

    _run(folder, ask, most=350 << 10)


def test_what_is_too_large_for_the_disk_alone_is_still_answered(tmp_path: Path) -> None:
    async def ask(renders: Renders) -> None:
        _, body = await renders.part(1, "a", 0, _order(jobs.large, 400))
        assert body is not None
        assert len(body) == 400 << 10

    _run(tmp_path / "renders", ask, most=100 << 10)


def test_a_folder_that_was_emptied_by_hand_is_filled_again(tmp_path: Path) -> None:
    log = tmp_path / "log"

    async def ask(renders: Renders) -> None:
        await renders.made(1, "k", _order(jobs.written, "x", str(log)))
        shutil.rmtree(tmp_path / "renders")
        assert (await renders.part(1, "k", 0, _order(jobs.written, "x", str(log))))[1] == b"x"

    _run(tmp_path / "renders", ask)
    assert _times_made(log) == 2


def test_an_error_of_the_job_reaches_whoever_asked_and_nothing_is_kept(tmp_path: Path) -> None:
    async def ask(renders: Renders) -> None:
        for _ in range(2):
            with pytest.raises(DomainError) as error:
                await renders.made(1, "k", _order(jobs.refusing))
            assert (error.value.code, error.value.params) == ("unknown-key", {"name": "H"})

    _run(tmp_path / "renders", ask)
    assert [path for path in (tmp_path / "renders").rglob("*") if path.is_file()] == []


def test_a_worker_that_is_killed_is_replaced_and_its_work_done_again(tmp_path: Path) -> None:
    async def ask(renders: Renders) -> None:
        _, body = await renders.part(1, "k", 0, _order(jobs.dies_once, str(tmp_path / "log")))
        assert body == b"alive"

    _run(tmp_path / "renders", ask)


def test_work_that_kills_every_worker_is_given_up(tmp_path: Path) -> None:
    async def ask(renders: Renders) -> None:
        with pytest.raises(Busy):
            await renders.made(1, "k", _order(jobs.dies, ""))
        assert (await renders.made(1, "m", _order(jobs.large, 1))).sizes == [1024]

    _run(tmp_path / "renders", ask)


def test_many_who_lost_their_worker_share_new_ones(tmp_path: Path) -> None:
    """One worker that is killed must not bring a worker for each job that waits."""
    others = frozenset(worker.pid for worker in _workers())

    async def ask(renders: Renders) -> None:
        await renders.made(1, "warm", _order(jobs.sleeps, 0.0))
        waiting = [
            asyncio.create_task(renders.part(1, f"k{n}", 0, _order(jobs.sleeps, 0.2))) for n in range(8)
        ]
        await asyncio.sleep(0.1)
        _workers(others)[0].kill()
        most = 0
        while not all(task.done() for task in waiting):
            most = max(most, len(_workers(others)))
            await asyncio.sleep(0.05)
        assert all(task.result()[1] for task in waiting)
        assert most <= 2

    _run(tmp_path / "renders", ask, queue=20)


def test_stopping_waits_for_no_job_and_whoever_waits_is_told_to_come_again(tmp_path: Path) -> None:
    async def main() -> None:
        renders = Renders(tmp_path / "renders", 2, 8, 1 << 20)
        waiting = [asyncio.create_task(renders.made(1, f"k{n}", _order(jobs.sleeps, 60.0))) for n in range(4)]
        await asyncio.sleep(2)
        began = time.monotonic()
        await renders.close()
        assert time.monotonic() - began < 5
        for answer in await asyncio.gather(*waiting, return_exceptions=True):
            assert isinstance(answer, Busy)

    asyncio.run(main())


def test_long_jobs_leave_a_worker_to_short_ones(tmp_path: Path) -> None:
    async def main() -> None:
        renders = Renders(tmp_path / "renders", 2, 8, 1 << 20)
        try:
            await renders.made(1, "warm", _order(jobs.sleeps, 0.0))
            long = [
                asyncio.create_task(renders.made(1, f"long{n}", _order(jobs.sleeps, 3.0, long=True)))
                for n in range(3)
            ]
            await asyncio.sleep(0.1)
            await asyncio.wait_for(renders.made(1, "short", _order(jobs.sleeps, 0.0)), 2.5)
            assert not any(task.done() for task in long)
        finally:
            await renders.close()
            await asyncio.gather(*long, return_exceptions=True)

    asyncio.run(main())


def test_one_group_leaves_room_to_others(tmp_path: Path) -> None:
    async def ask(renders: Renders) -> None:
        waiting = [asyncio.create_task(renders.made(1, f"k{n}", _order(jobs.sleeps, 0.05))) for n in range(9)]
        await asyncio.sleep(0)
        refused = [
            answer
            for answer in await asyncio.gather(*waiting, return_exceptions=True)
            if isinstance(answer, Busy)
        ]
        assert len(refused) == 2  # of nine places, a quarter is kept for others
        assert (await renders.made(2, "k", _order(jobs.large, 1))).sizes == [1024]

    _run(tmp_path / "renders", ask, queue=8)


def test_what_is_forgotten_while_it_is_made_is_not_kept(tmp_path: Path) -> None:
    log = str(tmp_path / "log")

    async def ask(renders: Renders) -> None:
        await renders.made(2, "other", _order(jobs.written, "x", log))
        making = asyncio.create_task(renders.made(1, "k", _order(jobs.slow, "x", log)))
        await asyncio.sleep(0.1)
        await renders.forget(1)
        with pytest.raises(Busy):
            await making

    _run(tmp_path / "renders", ask)
    assert [path.parent.name for path in (tmp_path / "renders").rglob("made.json")] == ["other"]


def test_a_key_changes_with_everything_that_is_told() -> None:
    assert key_of("break", 1) == key_of("break", 1)
    assert len({key_of("break", 1), key_of("break", 2), key_of("break", "1"), key_of(["break", 1])}) == 4


def test_workers_that_were_started_early_do_the_first_job(tmp_path: Path) -> None:
    def workers() -> set[int]:
        return {
            child.pid for child in psutil.Process().children() if "spawn_main" in " ".join(child.cmdline())
        }

    async def ask(renders: Renders) -> None:
        before = workers()
        await renders.warm(jobs.ready)
        started = workers() - before
        assert len(started) == 1
        await renders.made(1, "k", _order(jobs.written, "x", str(tmp_path / "log")))
        assert workers() - before == started

    _run(tmp_path / "renders", ask)
