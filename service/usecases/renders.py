"""Pictures, sheets and sound: made by two worker processes, kept on disk.

What is asked for twice at once is made once. So many may wait; whoever comes after is told to try again. The disk holds no
more than it is allowed: what was asked for longest ago goes first.
"""

import asyncio
import contextlib
import ctypes
import hashlib
import math
import multiprocessing
import os
import shutil
import threading
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from service.errors import Busy

RENDERER = 3  # raise it when anything that is drawn or sounded changes: what was kept is then made anew
RETRY_S, MOST_RETRY_S = (
    3,
    300,
)  # seconds after which whoever was turned away may try again, at least and at most
USUAL_SHARE = 0.2  # how much the last job counts for what a job usually takes
NICE = 10  # workers take what processor time the service leaves
WATCH_S = 1.0  # how often a worker looks whether the service is still there
JOBS_EACH = 400  # a worker is replaced after so many, so that what libraries keep in memory goes
GROUP_SHARE = 0.75  # of all that may wait: what one group may have waiting
TRIES = 3
MANIFEST = "made.json"
ASIDE = "making"  # the folder of what is not finished


class Made(msgspec.Struct, frozen=True):
    """What a job made: sizes of its files in bytes, in their order, and facts about them."""

    sizes: list[int]
    facts: dict[str, Any] = {}


# A job is called in a worker with what keeps a file (on disk at once: the next may be as large) and its arguments; it
# returns facts about the files that JSON can carry.
Keep = Callable[[bytes], None]
Facts = dict[str, Any]
Job = Callable[..., Facts]


def key_of(*told: object) -> str:
    """The name of a render: it is the same as long as everything told and the renderer are."""
    return hashlib.sha256(msgspec.json.encode([RENDERER, *told])).hexdigest()[:32]


@dataclass(frozen=True, slots=True)
class Order:
    """A job and its arguments. ``long`` ones leave a worker free for those that are done at once."""

    job: Job
    arguments: tuple[object, ...]
    long: bool = False


Ordering = Callable[[], Awaitable[Order]]  # asked only where nothing was made before


class Renders:
    """Made once, closed at the end; the worker processes start with the first job."""

    def __init__(self, folder: Path, workers: int, queue: int, most_bytes: int) -> None:
        self._folder, self._workers, self._most_bytes = folder, workers, most_bytes
        self._room = workers + queue
        self._forgotten = 0
        self._closed = False
        self._pool: ProcessPoolExecutor | None = None
        self._free = asyncio.Semaphore(workers)
        self._long = asyncio.Semaphore(max(1, workers - 1))
        self._usual_s = 1.0
        self.finished = 0  # renders made by this process
        self._making: dict[str, asyncio.Task[Made]] = {}
        self._kept: OrderedDict[str, int] = OrderedDict()
        shutil.rmtree(folder / ASIDE, ignore_errors=True)
        places = [place for place in folder.glob("*/*") if (place / MANIFEST).is_file()]
        for place in sorted(places, key=lambda place: (place / MANIFEST).stat().st_mtime):
            self._kept[place.relative_to(folder).as_posix()] = sum(p.stat().st_size for p in place.iterdir())

    async def made(self, group_id: int, key: str, ordering: Ordering) -> Made:
        """What was made under a key, from disk where it was made before, else what is ordered.

        Raises Busy ``renders-busy`` when too many wait, altogether or of this group, and whatever DomainError ordering or the
        job raises.
        """
        name = f"{group_id}/{key}"
        if name in self._kept:
            found = await asyncio.to_thread(self._look_up, name)
            if found is not None:
                if name in self._kept:
                    self._kept.move_to_end(name)
                return found
            self._kept.pop(name, None)
        task = self._making.get(name)
        if task is None:
            of_group = sum(other.startswith(f"{group_id}/") for other in self._making)
            # a group that asks for very much leaves room to the others
            if (
                self._closed
                or len(self._making) >= self._room
                or of_group >= math.ceil(self._room * GROUP_SHARE)
            ):
                raise self._busy()
            task = asyncio.create_task(self._make(name, ordering), name=f"render {key}")
            self._making[name] = task
            task.add_done_callback(lambda done: self._making.pop(name, None))
            task.add_done_callback(lambda done: done.cancelled() or done.exception())
        try:
            return await asyncio.shield(task)
        except asyncio.CancelledError:
            if task.cancelled():
                raise self._busy() from None  # given up with the service
            raise

    @property
    def making(self) -> int:
        """Renders that are being made or wait to be."""
        return len(self._making)

    def _busy(self) -> Busy:
        """Told to come again when those who wait are likely to be served."""
        wait = math.ceil(self._usual_s * len(self._making) / self._workers)
        return Busy("renders-busy", retry_after=min(MOST_RETRY_S, max(RETRY_S, wait)))

    async def part(
        self, group_id: int, key: str, number: int, ordering: Ordering
    ) -> tuple[Made, bytes | None]:
        """The same with one of its files, counted from 0; None if there is no such file.

        Raises Busy ``renders-busy`` too where it is forgotten again and again before it can be read.
        """
        for _ in range(TRIES):
            made = await self.made(group_id, key, ordering)
            if number >= len(made.sizes):
                return made, None
            try:
                return made, await asyncio.to_thread(self._place(group_id, key, number).read_bytes)
            except OSError:
                self._kept.pop(f"{group_id}/{key}", None)
        raise self._busy()

    def _place(self, group_id: int, key: str, number: int) -> Path:
        return self._folder / str(group_id) / key / str(number)

    async def _make(self, name: str, ordering: Ordering) -> Made:
        """Made aside, then put in its place as a whole."""
        forgotten, aside = self._forgotten, self._folder / ASIDE / name.replace("/", "-")
        order = await ordering()
        try:
            async with self._long if order.long else contextlib.nullcontext(), self._free:
                began = time.monotonic()
                made = await self._with_new_workers(aside, order)
                self._usual_s += (time.monotonic() - began - self._usual_s) * USUAL_SHARE
            await asyncio.to_thread(_put, aside, self._folder / name)
            if forgotten != self._forgotten:
                # made of something that may have been taken down meanwhile: whoever asked may ask again
                await asyncio.to_thread(_remove, [self._folder / name])
                raise self._busy()
        finally:
            await asyncio.to_thread(_remove, [aside])
        self._kept[name] = sum(made.sizes)
        self.finished += 1
        gone = []
        while sum(self._kept.values()) > self._most_bytes and len(self._kept) > 1:
            gone.append(self._folder / self._kept.popitem(last=False)[0])
        if gone:
            await asyncio.to_thread(_remove, gone)
        return made

    async def _with_new_workers(self, place: Path, order: Order) -> Made:
        """Once more where a worker was killed from outside, for want of memory perhaps."""
        for _ in range(2):
            pool = self._pool
            if pool is None:
                pool = self._pool = self._new_pool()
            loop = asyncio.get_running_loop()
            try:
                return await loop.run_in_executor(pool, made_in, str(place), order.job, order.arguments)
            except BrokenProcessPool:
                # of all whose work was lost the first makes new workers
                if self._pool is pool:
                    self._pool = None
                if self._closed:
                    break
        raise self._busy()

    async def warm(self, ready: Callable[[], None]) -> None:
        """Start the workers now, so that the first picture need not wait for them. ``ready`` is called in each, and takes longer
        than handing it to the next."""
        if self._pool is None and not self._closed:
            self._pool = self._new_pool()
        pool, loop = self._pool, asyncio.get_running_loop()
        if pool is not None:
            starting = [loop.run_in_executor(pool, ready) for _ in range(self._workers)]
            await asyncio.gather(*starting, return_exceptions=True)

    def _new_pool(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            self._workers,
            multiprocessing.get_context("spawn"),
            initializer=begin_worker,
            initargs=(os.getpid(),),
            max_tasks_per_child=JOBS_EACH,
        )

    def _look_up(self, name: str) -> Made | None:
        manifest = self._folder / name / MANIFEST
        try:
            found = msgspec.json.decode(manifest.read_bytes(), type=Made)
            manifest.touch()
        except (OSError, msgspec.MsgspecError):
            return None
        return found

    async def forget(self, group_id: int) -> None:
        """Everything that was made for a group: something of it may not be shown any more."""
        self._forgotten += 1
        for name in [name for name in self._kept if name.startswith(f"{group_id}/")]:
            del self._kept[name]
        await asyncio.to_thread(_remove, [self._folder / str(group_id)])

    async def close(self) -> None:
        """Whatever is in the making is given up, and whoever waits is told to come again; workers end at once."""
        self._closed = True
        for task in list(self._making.values()):
            task.cancel()
        pool, self._pool = self._pool, None
        if pool is not None:
            # a job that has begun cannot be called back, and may take minutes; nothing of it is needed any more
            for worker in list((getattr(pool, "_processes", None) or {}).values()):
                worker.terminate()
            await asyncio.to_thread(pool.shutdown, wait=True, cancel_futures=True)


def begin_worker(service: int) -> None:
    """Ctrl-C reaches the whole group of processes: the service ends its workers itself. One that was killed cannot, so they look
    whether it is there."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(NICE)

    def watch() -> None:
        while os.getppid() == service:
            time.sleep(WATCH_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def made_in(folder: str, job: Job, arguments: tuple[object, ...]) -> Made:
    """In a worker: what a job makes, in a folder of its own. Files come first, the manifest last: without one nothing is there."""
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    sizes: list[int] = []

    def keep(data: bytes) -> None:
        (place / str(len(sizes))).write_bytes(data)
        sizes.append(len(data))

    made = Made(sizes, job(keep, *arguments))
    (place / MANIFEST).write_bytes(msgspec.json.encode(made))
    give_back()
    return made


def give_back() -> None:
    """Free memory goes back to the system, where the C library can: it keeps hundreds of MB of pixels and samples otherwise."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


def _put(aside: Path, place: Path) -> None:
    shutil.rmtree(place, ignore_errors=True)
    place.parent.mkdir(parents=True, exist_ok=True)
    aside.replace(place)


def _remove(folders: list[Path]) -> None:
    for folder in folders:
        shutil.rmtree(folder, ignore_errors=True)
