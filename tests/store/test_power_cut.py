"""Power cuts at any moment of a writer's work: what was acknowledged is there, and nothing is there by halves."""

import random
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import apsw
import pytest

from service.store.database import commit_together, connect, make_ready
from service.store.migrate import migrate
from tests.store.power import Disk, Operation, Recorded

GROUPS = 60  # transactions of up to six units
MEMBERS = 3  # rows beside the group's own that a unit writes
# Smaller than in use, so that the log is emptied every few transactions, and cut back at times.
CHECKPOINT_PAGES, LOG_KEPT_BYTES = 40, 180_000
CUTS, CUTS_EACH = 250, 2  # moments of a cut, about, and ways in which the files may look after each
NAME = "breakwright.sqlite3"


class Refused(Exception):
    pass


def _unit(slug: str, refused: bool) -> Callable[[sqlite3.Connection], None]:
    def unit(connection: sqlite3.Connection) -> None:
        connection.execute(
            "INSERT INTO groups (slug, name, instrument, tuning, created) VALUES (?, ?, 'banjo', 'open-g', '')",
            (slug, slug * random.Random(slug).randrange(1, 900)),
        )
        for n in range(MEMBERS):
            connection.execute(
                "INSERT INTO members (group_id, number, name, created) SELECT id, ?, ?, '' FROM groups WHERE slug = ?",
                (n + 1, f"member {n}", slug),
            )
        if refused:
            raise Refused

    return unit


@dataclass(frozen=True, slots=True)
class Work:
    """What was written from ``start`` on, and how many operations there were when each transaction was acknowledged."""

    start: bytes
    operations: list[Operation]
    acknowledged: list[tuple[int, frozenset[str]]]


def _work(folder: Path, synchronous: str | None = None) -> Work:
    """The house's own migrations and transactions, through a SQLite whose files are watched. ``synchronous``: another
    way of syncing than its own."""
    path, layer = folder / NAME, Recorded()
    connection = apsw.Connection(str(path), vfs="recorded")
    make_ready(connection)
    if synchronous is not None:
        connection.execute(f"PRAGMA synchronous = {synchronous}")
    connection.execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
    connection.execute(f"PRAGMA journal_size_limit = {LOG_KEPT_BYTES}")
    start = path.read_bytes()
    layer.operations.clear()
    migrate(connection)
    acknowledged = []
    for number in range(GROUPS):
        slugs = [f"g{number}-{beside}" for beside in range(1 + number % 6)]
        outcomes = commit_together(connection, [_unit(slug, slug.endswith("-4")) for slug in slugs])
        kept = frozenset(slug for slug, (_, failure) in zip(slugs, outcomes, strict=True) if failure is None)
        acknowledged.append((len(layer.operations), kept))
    assert min(len(kept) for _, kept in acknowledged) > 0
    operations = list(layer.operations)
    connection.close()
    layer.unregister()
    return Work(start, operations, acknowledged)


def _found(folder: Path, files: dict[str, bytes]) -> dict[str, int]:
    """What a service that starts after the cut reads: groups with the number of their members."""
    for name, content in files.items():
        (folder / name).write_bytes(content)
    connection = connect(folder / NAME)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    migrate(connection)
    found = dict(
        connection.execute(
            "SELECT slug, count(members.id) FROM groups LEFT JOIN members ON group_id = groups.id GROUP BY slug"
        )
    )
    connection.close()
    return found


def _lost(folder: Path, work: Work) -> list[int]:
    """Acknowledged units that were gone, for each cut. Raises AssertionError for anything found by halves."""
    chance, disk, lost = random.Random(7), Disk({NAME: bytearray(work.start)}), []
    transactions = [slugs for _, slugs in work.acknowledged]
    for moment, operation in enumerate(work.operations, 1):
        disk.take(operation)
        if chance.random() > CUTS / len(work.operations):
            continue
        for _ in range(CUTS_EACH):
            place = folder / f"{moment}"
            place.mkdir(exist_ok=True)
            found = _found(place, disk.after_a_cut(chance))
            assert set(found.values()) <= {MEMBERS}
            whole = [slugs <= found.keys() for slugs in transactions]
            assert found.keys() == {
                slug
                for slugs, is_whole in zip(transactions, whole, strict=True)
                if is_whole
                for slug in slugs
            }
            before = sum(count <= moment for count, _ in work.acknowledged)
            lost.append(before - sum(whole[:before]))
            assert whole == sorted(whole, reverse=True)  # none without those before it
    return lost


def test_a_power_cut_at_any_moment_loses_nothing_acknowledged_and_leaves_no_halves(tmp_path: Path) -> None:
    (tmp_path / "written").mkdir()
    work = _work(tmp_path / "written")
    lost = _lost(tmp_path, work)
    assert len(lost) > CUTS
    assert set(lost) == {0}


def test_the_simulation_finds_what_is_lost_where_commits_are_not_synced(tmp_path: Path) -> None:
    (tmp_path / "written").mkdir()
    work = _work(tmp_path / "written", "NORMAL")
    lost = _lost(tmp_path, work)
    assert max(lost) > 1


def test_the_simulation_finds_damage_where_nothing_is_synced(tmp_path: Path) -> None:
    (tmp_path / "written").mkdir()
    work = _work(tmp_path / "written", "OFF")
    with pytest.raises((sqlite3.DatabaseError, AssertionError)):
        _lost(tmp_path, work)
