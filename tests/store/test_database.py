"""The SQLite file: migrations, the writer, readers. Real files throughout."""

import asyncio
import itertools
import sqlite3
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest

from service.errors import Busy
from service.store import migrate as migrations
from service.store.database import Database, back_up, connect, restore
from service.store.migrate import NewerDatabase, migrate, statements


def _run(work: Callable[[], Coroutine[Any, Any, Any]]) -> Any:
    return asyncio.run(work())


def _with_database(path: Path, work: Callable[[Database], Coroutine[Any, Any, Any]], queue: int = 100) -> Any:
    async def inside() -> Any:
        database = await Database.open(path, queue)
        try:
            return await work(database)
        finally:
            await database.close()

    return asyncio.run(inside())


def _add_group(slug: str) -> Callable[[sqlite3.Connection], int]:
    def unit(connection: sqlite3.Connection) -> int:
        done = connection.execute(
            "INSERT INTO groups (slug, name, instrument, tuning, created) VALUES (?, ?, 'banjo', 'open-g', '')",
            (slug, slug),
        )
        return int(done.lastrowid or 0)

    return unit


def test_every_table_is_strict(tmp_path: Path) -> None:
    connection = connect(tmp_path / "d")
    migrate(connection)
    loose = connection.execute(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND strict = 0 AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    connection.close()
    assert loose == []


def test_migrating_twice_does_nothing_the_second_time(tmp_path: Path) -> None:
    connection = connect(tmp_path / "d")
    assert migrate(connection) == [f"{number:04d}_{name}" for number, name, _ in migrations.migrations()]
    assert migrate(connection) == []
    connection.close()


def test_a_migration_that_fails_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = [
        *migrations.migrations(),
        (9999, "bad", "CREATE TABLE half (a TEXT) STRICT;\nCREATE TABLE half (b);"),
    ]
    monkeypatch.setattr(migrations, "migrations", lambda: known)
    connection = connect(tmp_path / "d")
    with pytest.raises(sqlite3.OperationalError):
        migrate(connection)
    assert connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchone() is None
    assert connection.execute("SELECT 1 FROM migrations WHERE number = 9999").fetchone() is None
    connection.close()


def test_a_database_of_a_newer_release_is_refused(tmp_path: Path) -> None:
    connection = connect(tmp_path / "d")
    migrate(connection)
    connection.execute("INSERT INTO migrations (number, name) VALUES (8000, 'later')")
    with pytest.raises(NewerDatabase):
        migrate(connection)
    connection.close()


def test_a_trigger_is_one_statement() -> None:
    script = (
        "CREATE TABLE a (b);\nCREATE TRIGGER t AFTER INSERT ON a BEGIN\n  DELETE FROM a;\n  SELECT 1;\nEND;\n"
    )
    assert len(list(statements(script))) == 2


def test_a_write_is_there_for_readers_once_acknowledged(tmp_path: Path) -> None:
    async def work(database: Database) -> None:
        await database.write(_add_group("a"))
        assert database.points.execute("SELECT slug FROM groups").fetchall() == [("a",)]
        rows = list(await database.slow.execute_fetchall("SELECT slug FROM groups"))
        assert [tuple(row) for row in rows] == [("a",)]

    _with_database(tmp_path / "d", work)


def test_one_unit_that_fails_takes_no_other_with_it(tmp_path: Path) -> None:
    async def work(database: Database) -> None:
        results = await asyncio.gather(
            *(database.write(_add_group(slug)) for slug in ("a", "b", "a", "c")), return_exceptions=True
        )
        assert [type(result) for result in results] == [int, int, sqlite3.IntegrityError, int]
        found = database.points.execute("SELECT slug FROM groups ORDER BY slug").fetchall()
        assert found == [("a",), ("b",), ("c",)]

    _with_database(tmp_path / "d", work)


def test_waiting_writes_share_one_commit(tmp_path: Path) -> None:
    async def work(database: Database) -> int:
        before = database.points.execute("PRAGMA data_version").fetchone()[0]
        await asyncio.gather(*(database.write(_add_group(f"g{n}")) for n in range(50)))
        return database.points.execute("PRAGMA data_version").fetchone()[0] - before

    assert _with_database(tmp_path / "d", work) <= 2


def test_a_full_queue_turns_writes_away_with_a_time_to_come_back(tmp_path: Path) -> None:
    async def work(database: Database) -> None:
        results = await asyncio.gather(
            *(database.write(_add_group(f"g{n}")) for n in range(10)), return_exceptions=True
        )
        refused = [result for result in results if isinstance(result, Busy)]
        assert len(refused) == 6
        assert refused[0].retry_after > 0
        assert database.points.execute("SELECT count(*) FROM groups").fetchone() == (4,)

    _with_database(tmp_path / "d", work, queue=4)


def test_a_caller_that_goes_away_does_not_stop_its_unit(tmp_path: Path) -> None:
    async def work(database: Database) -> None:
        task = asyncio.create_task(database.write(_add_group("a")))
        await asyncio.sleep(0)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        await database.write(_add_group("b"))
        assert database.points.execute("SELECT count(*) FROM groups").fetchone() == (2,)

    _with_database(tmp_path / "d", work)


def test_the_readers_cannot_write(tmp_path: Path) -> None:
    async def work(database: Database) -> None:
        with pytest.raises(sqlite3.OperationalError):
            database.points.execute("DELETE FROM groups")

    _with_database(tmp_path / "d", work)


def test_backups_taken_under_writes_hold_all_that_was_acknowledged_before(tmp_path: Path) -> None:
    path, acknowledged, copies = tmp_path / "d", [], []

    async def write_on(database: Database) -> None:
        for n in itertools.count():
            await asyncio.gather(*(database.write(_add_group(f"g{n}-{beside}")) for beside in range(4)))
            acknowledged.extend(f"g{n}-{beside}" for beside in range(4))

    async def work(database: Database) -> None:
        writing = asyncio.create_task(write_on(database))
        for n in range(6):
            await asyncio.sleep(0.05)
            copy, before = tmp_path / f"copy{n}", set(acknowledged)
            size = await asyncio.to_thread(back_up, path, copy)
            assert size == copy.stat().st_size
            copies.append((copy, before))
        assert len(acknowledged) > len(copies[-1][1]) > len(copies[0][1]) > 0
        assert "in use" in str(restore(copies[0][0], path))
        writing.cancel()

    _with_database(path, work)
    for copy, before in copies:
        assert restore(copy, path) is None
        connection = connect(path)
        kept = {slug for (slug,) in connection.execute("SELECT slug FROM groups")}
        assert before <= kept
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()


def test_a_backup_that_fails_leaves_what_was_there(tmp_path: Path) -> None:
    (tmp_path / "d").write_text("no database " * 500)
    (tmp_path / "copy").write_text("an older backup")
    with pytest.raises(sqlite3.DatabaseError):
        back_up(tmp_path / "d", tmp_path / "copy")
    assert (tmp_path / "copy").read_text() == "an older backup"
    assert sorted(place.name for place in tmp_path.iterdir()) == ["copy", "d"]


def test_what_is_no_backup_is_not_put_back(tmp_path: Path) -> None:
    (tmp_path / "junk").write_text("nothing of ours" * 100)
    assert "not a database" in str(restore(tmp_path / "junk", tmp_path / "d"))
    assert "no file" in str(restore(tmp_path / "none", tmp_path / "d"))


def test_a_full_disk_is_said_and_nothing_half_written(tmp_path: Path) -> None:
    async def work(database: Database) -> None:
        await database.write(_add_group("a"))
        await database.write(lambda connection: connection.execute("PRAGMA max_page_count = 1") and None)
        big = "x" * 500_000
        with pytest.raises(Busy) as caught:
            await database.write(_add_group(big))
        assert caught.value.code == "cannot-store"
        assert database.points.execute("SELECT slug FROM groups").fetchall() == [("a",)]
        await database.write(lambda connection: connection.execute("PRAGMA max_page_count = 100000") and None)
        await database.write(_add_group("b"))

    _with_database(tmp_path / "d", work)


@pytest.mark.parametrize("name", ["plain", "a b", "50%", "a#b", "a?b"])
def test_a_folder_may_have_any_name(tmp_path: Path, name: str) -> None:
    path = tmp_path / name / "d"

    async def work(database: Database) -> None:
        await database.write(_add_group("a"))
        assert database.points.execute("SELECT slug FROM groups").fetchall() == [("a",)]

    _with_database(path, work)
    back_up(path, tmp_path / "copy")
    assert path.stat().st_mode & 0o077 == 0
    connection = connect(tmp_path / "copy")
    assert connection.execute("SELECT slug FROM groups").fetchall() == [("a",)]
    connection.close()


def test_a_damaged_database_can_be_replaced_by_a_backup(tmp_path: Path) -> None:
    path, copy = tmp_path / "d", tmp_path / "copy"

    async def work(database: Database) -> None:
        await database.write(_add_group("a"))

    _with_database(path, work)
    back_up(path, copy)
    path.write_bytes(b"\x07" * 5000)
    assert restore(copy, path) is None
    connection = connect(path)
    assert connection.execute("SELECT slug FROM groups").fetchall() == [("a",)]
    connection.close()
