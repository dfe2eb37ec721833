"""The SQLite file: one writer that commits in groups, and readers that never wait for it.

A unit of work is a function of a connection that runs SQL and nothing else. The writer takes all units
that are waiting, gives each a savepoint inside one BEGIN IMMEDIATE transaction, commits once with
synchronous=FULL, and only then tells their callers. A caller that went away does not stop its unit.
"""

import asyncio
import contextlib
import logging
import os
import sqlite3
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import aiosqlite

from service.errors import Busy
from service.store.migrate import migrate

T = TypeVar("T")
Unit = Callable[[sqlite3.Connection], T]

BUSY_TIMEOUT_MS = 5_000
GROUP_COMMIT = 256  # most units in one transaction: bounds how long the first of them waits
RETRY_AFTER_S = 2
TROUBLE_RETRY_S = 30
WAL_KEPT_BYTES = 16 << 20  # what a long reader made the log grow to beyond it is given back; ours
EMPTY_AGAIN_S = 1.0  # after which a log that a reader held is tried again; ours
PROBE_S = 2.0  # how long what a probe found holds; ours
PROBE_WAIT_S = 2.0  # a small write that takes longer is no sign of readiness; ours


def connect(path: Path) -> sqlite3.Connection:
    """A read-write connection in autocommit mode with this house's pragmas."""
    if not path.exists():
        path.touch(0o600)  # the journal files inherit it
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    make_ready(connection)
    return connection


def make_ready(connection: sqlite3.Connection) -> None:
    """Set what every writing connection of this house goes by."""
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(f"PRAGMA journal_size_limit = {WAL_KEPT_BYTES}")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA secure_delete = ON")  # what is deleted or changed is overwritten with zeros


def _readonly(path: Path) -> str:
    return f"{path.absolute().as_uri()}?mode=ro"


def connect_readonly(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(_readonly(path), uri=True, isolation_level=None, check_same_thread=False)
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    return connection


def remove_database(path: Path) -> None:
    """Delete a database with its journal files."""
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)


def back_up(source: Path, target: Path) -> int:
    """Copy a database, also one that is being written to, into one file; its bytes. What stood there is replaced.

    All is copied in one step, so of one moment. The copy gets its name once it is whole and on the disk.
    """
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    os.close(handle)
    aside = Path(name)
    try:
        with (
            contextlib.closing(connect_readonly(source)) as reading,
            contextlib.closing(sqlite3.connect(aside)) as writing,
        ):
            reading.backup(writing)
        with aside.open("rb+") as whole:
            os.fsync(whole.fileno())
        size = aside.stat().st_size
        aside.replace(target)
        _sync_folder(target.parent)
    finally:
        remove_database(aside)
    return size


def _sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk, where the system can."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def restore(source: Path, target: Path) -> str | None:
    """Put a backup in the place of a database that nobody has open. Says what is wrong, else None."""
    if not source.exists():
        return f"there is no file {source}"
    backup = connect_readonly(source)
    try:
        sound = backup.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        ours = backup.execute("SELECT 1 FROM sqlite_master WHERE name = 'migrations'").fetchone()
    except sqlite3.DatabaseError:
        return f"{source} is not a database"
    finally:
        backup.close()
    if not sound or not ours:
        return f"{source} is not a sound backup of Breakwright"
    target.parent.mkdir(parents=True, exist_ok=True)
    if _in_use(target):
        return f"{target} is in use; stop the service first"
    fresh = target.with_suffix(".restoring")
    back_up(source, fresh)
    for ending in ("-wal", "-shm"):
        Path(f"{target}{ending}").unlink(missing_ok=True)
    fresh.replace(target)
    _sync_folder(target.parent)
    return None


def _in_use(path: Path) -> bool:
    """Whether somebody has a database open. A damaged one nobody can have."""
    if not path.exists():
        return False
    present = sqlite3.connect(path, isolation_level=None, timeout=0)
    try:
        present.execute("PRAGMA locking_mode = EXCLUSIVE")
        present.execute("BEGIN EXCLUSIVE")
        present.execute("ROLLBACK")
    except sqlite3.OperationalError as error:
        return error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    except sqlite3.DatabaseError:
        return False
    finally:
        present.close()
    return False


Outcome = tuple[Any, Exception | None]


def commit_together(connection: sqlite3.Connection, units: list[Unit[Any]]) -> list[Outcome]:
    """Run units in one transaction, a savepoint each, and commit: each one's result, or why nothing of it was kept."""
    outcomes: list[Outcome] = []
    connection.execute("BEGIN IMMEDIATE")
    try:
        for unit in units:
            connection.execute("SAVEPOINT unit")
            try:
                outcomes.append((unit(connection), None))
            except Exception as error:
                connection.execute("ROLLBACK TO unit")
                outcomes.append((None, error))
            connection.execute("RELEASE unit")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    return outcomes


def _touch(connection: sqlite3.Connection) -> None:
    """A page written and nothing changed. A row made what it was would write none: SQLite compares."""
    connection.execute("INSERT INTO migrations (number, name) VALUES (0, 'probe')")
    connection.execute("DELETE FROM migrations WHERE number = 0")


def _ending(failure: Exception | None) -> str:
    if failure is None:
        return "committed"
    return "failed" if isinstance(failure, sqlite3.OperationalError) else "refused"


@dataclass(slots=True)
class _Waiting:
    unit: Unit[Any]
    done: "asyncio.Future[Any]"


class Database:
    """Open with ``await Database.open(path, queue)``, close with ``await close()``.

    ``points`` is a read-only connection for indexed point reads on the event loop; ``slow`` is an
    aiosqlite connection for queries that may take longer.
    """

    def __init__(
        self, path: Path, points: sqlite3.Connection, slow: aiosqlite.Connection, queue: int
    ) -> None:
        self.path = path
        self.points = points
        self.slow = slow
        self._queue: asyncio.Queue[_Waiting] = asyncio.Queue(queue)
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="writer")
        self._connection: sqlite3.Connection | None = None
        self._task: asyncio.Task[None] | None = None
        self._emptying: asyncio.Task[None] | None = None
        self._probing: asyncio.Task[bool] | None = None
        self._probed = 0.0
        self.commits = 0  # groups of units committed by this process
        self.units: Counter[str] = Counter()  # how units ended: committed, refused (by themselves), failed

    @classmethod
    async def open(cls, path: Path, queue: int) -> "Database":
        """Open or make the file, bring it up to date, start the writer."""
        path.parent.mkdir(parents=True, exist_ok=True)
        writer = connect(path)
        try:
            migrate(writer)
            points = connect_readonly(path)
            slow = await aiosqlite.connect(_readonly(path), uri=True, isolation_level=None)
        except BaseException:
            writer.close()
            raise
        database = cls(path, points, slow, queue)
        database._connection = writer
        database._task = asyncio.create_task(database._drain(), name="writer")
        return database

    @contextlib.contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A read-only connection of one's own, for work in another thread."""
        connection = connect_readonly(self.path)
        try:
            yield connection
        finally:
            connection.close()

    async def write(self, unit: Unit[T]) -> T:
        """Run a unit; returns once its commit is on the disk.

        Raises Busy when the queue is full or the disk does not take it.
        """
        done: asyncio.Future[T] = asyncio.get_running_loop().create_future()
        try:
            self._queue.put_nowait(_Waiting(unit, done))
        except asyncio.QueueFull:
            raise Busy("busy", retry_after=RETRY_AFTER_S) from None
        try:
            return await done
        except sqlite3.OperationalError as error:
            raise Busy("cannot-store", retry_after=TROUBLE_RETRY_S) from error

    async def empty_log(self) -> None:
        """What was written goes into the file and the log is cut to nothing, so that no older state of a page is left in it. While
        a reader holds it, that is tried again behind the caller's back."""
        if not await self._emptied() and (self._emptying is None or self._emptying.done()):
            self._emptying = asyncio.create_task(self._empty_log_later(), name="emptying the log")

    async def _empty_log_later(self) -> None:
        while True:
            await asyncio.sleep(EMPTY_AGAIN_S)
            if await self._emptied():
                return

    async def _emptied(self) -> bool:
        return await asyncio.get_running_loop().run_in_executor(self._thread, self._cut_log)

    def _cut_log(self) -> bool:
        if self._connection is None:
            return True  # closing it has emptied the log
        self._connection.execute("PRAGMA busy_timeout = 0")  # nobody shall wait for a reader
        try:
            (busy, _, _) = self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        except sqlite3.OperationalError:
            busy = True
        finally:
            self._connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        return not busy

    @property
    def waiting(self) -> int:
        return self._queue.qsize()

    async def ready(self) -> bool:
        """Whether the file can be read, and a small write was on the disk within ``PROBE_WAIT_S``.

        There is one write at most every ``PROBE_S``, however many ask.
        """
        try:
            self.points.execute("SELECT 1 FROM groups LIMIT 1").fetchone()
        except sqlite3.Error:
            return False
        probing = self._probing
        if probing is None or (probing.done() and time.monotonic() >= self._probed + PROBE_S):
            probing = self._probing = asyncio.create_task(self._probe(), name="probe")
        await asyncio.wait({probing}, timeout=PROBE_WAIT_S)
        return probing.done() and probing.result()

    async def _probe(self) -> bool:
        try:
            await self.write(_touch)
        except (Busy, sqlite3.Error):
            return False
        finally:
            self._probed = time.monotonic()
        return True

    async def _drain(self) -> None:
        loop = asyncio.get_running_loop()
        while True:
            batch = [await self._queue.get()]
            while len(batch) < GROUP_COMMIT and not self._queue.empty():
                batch.append(self._queue.get_nowait())
            try:
                outcomes = await loop.run_in_executor(self._thread, self._apply, [w.unit for w in batch])
                self.commits += 1
            except Exception as error:
                outcomes = [(None, error)] * len(batch)
            self._count(outcomes)
            for waiting, (result, failure) in zip(batch, outcomes, strict=True):
                if not waiting.done.done():
                    if failure is None:
                        waiting.done.set_result(result)
                    else:
                        waiting.done.set_exception(failure)
                self._queue.task_done()

    def _count(self, outcomes: list[Outcome]) -> None:
        endings = Counter(_ending(failure) for _, failure in outcomes)
        self.units.update(endings)
        if endings["failed"]:
            failure = next(failure for _, failure in outcomes if _ending(failure) == "failed")
            # one line for all that were turned away together: a full disk has no room for more
            fields = {"writes": endings["failed"]}
            logging.getLogger("breakwright").error("cannot store", exc_info=failure, extra={"fields": fields})

    def _apply(self, units: list[Unit[Any]]) -> list[Outcome]:
        if self._connection is None:
            raise RuntimeError("the writer is closed")
        return commit_together(self._connection, units)

    @property
    def file_bytes(self) -> dict[str, int]:
        """Sizes of the database and of the log of what is not in it yet."""
        files = {"database": self.path, "log": Path(f"{self.path}-wal")}
        return {what: file.stat().st_size if file.exists() else 0 for what, file in files.items()}

    async def close(self) -> None:
        """Finish what waits, then close every connection."""
        if self._task is not None:
            await self._queue.join()
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
        if self._emptying is not None:
            self._emptying.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._emptying
        self._thread.shutdown()
        await self.slow.close()
        self.points.close()
        if self._connection is not None:
            self._connection.close()
            self._connection = None
