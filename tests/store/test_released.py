"""Databases of earlier releases are taken over with everything in them."""

import json
import sqlite3
from importlib.resources import files
from pathlib import Path

import pytest

from service.judge.facts import RULES_VERSION
from service.store.database import connect
from service.store.licks import IN_POOL, lick_by_number
from service.store.migrate import migrate, migrations, statements
from service.store.taken_down import TakenDownRow, put_back, take_down, taken_down
from service.usecases.facts import fill_facts
from service.usecases.licks import read_lick
from service.usecases.records import encode
from service.usecases.seeding import load_fixtures
from tests.support import RunningService


def _first_release(path: Path) -> sqlite3.Connection:
    """A database as the first release left it, with one group, some licks and a retired one."""
    connection = connect(path)
    connection.execute(
        "CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL, "
        "applied TEXT NOT NULL DEFAULT CURRENT_TIMESTAMP) STRICT"
    )
    first = files("service.store").joinpath("migrations", "0001_foundation.sql").read_text()
    for statement in statements(first):
        connection.execute(statement)
    connection.execute("INSERT INTO migrations (number, name) VALUES (1, 'foundation')")
    connection.execute(
        "INSERT INTO groups (id, slug, name, instrument, tuning, created) "
        "VALUES (1, 'quay', 'Quay', 'banjo', 'open-g', 'then')"
    )
    for sent in load_fixtures().licks[:12]:
        record = read_lick(sent)[0]
        state = "retired" if sent.number == 12 else "pool"
        connection.execute(
            "INSERT INTO licks VALUES (1, ?, 2, ?, ?, ?)",
            (sent.number, record.instrument, record.tuning, state),
        )
        for revision in (1, 2):
            connection.execute(
                "INSERT INTO lick_revisions VALUES (1, ?, ?, ?, 'then')",
                (sent.number, revision, encode(record).decode()),
            )
    return connection


@pytest.mark.parametrize("release", [number for number, _, _ in migrations()])
def test_a_database_of_any_release_takes_a_lick_down_and_puts_it_back(tmp_path: Path, release: int) -> None:
    connection = _first_release(tmp_path / "db")
    for number, name, sql in migrations()[1:release]:
        for statement in statements(sql):
            connection.execute(statement)
        connection.execute("INSERT INTO migrations (number, name) VALUES (?, ?)", (number, name))
    assert migrate(connection) == [f"{number:04d}_{name}" for number, name, _ in migrations()[release:]]
    for number, state in ((3, "pool"), (12, "retired")):
        assert not take_down(connection, 1, number, 1, "why", None, "now")  # revision 2 is the newest
        assert take_down(connection, 1, number, 2, "why", None, "now")
        row = taken_down(connection, 1, number)
        assert row == TakenDownRow(number, 2, state, "why", "now", None)
        put_back(connection, 1, number, state)
        assert taken_down(connection, 1, number) is None
    assert connection.execute("SELECT state, count(*) FROM licks GROUP BY state").fetchall() == [
        ("pool", 11),
        ("retired", 1),
    ]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()


def test_licks_of_the_first_release_keep_their_states_and_revisions(tmp_path: Path) -> None:
    connection = _first_release(tmp_path / "db")
    kept = "SELECT group_id, number, revision, body, created FROM lick_revisions ORDER BY number, revision"
    before = connection.execute(kept).fetchall()
    assert migrate(connection) == [f"{number:04d}_{name}" for number, name, _ in migrations()[1:]]
    assert connection.execute(kept).fetchall() == before
    assert connection.execute("SELECT state, count(*) FROM licks GROUP BY state").fetchall() == [
        ("pool", 11),
        ("retired", 1),
    ]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(
            "INSERT INTO lick_revisions (group_id, number, revision, body, created) VALUES (1, 99, 1, '{}', 'now')"
        )  # no such lick
    connection.execute("DELETE FROM licks WHERE number = 1")
    left = connection.execute("SELECT count(*) FROM lick_revisions WHERE number = 1").fetchone()
    assert left == (0,)  # a lick still owns its revisions
    connection.close()


def test_a_taken_over_pool_is_judged_and_makes_what_it_made(tmp_path: Path) -> None:
    settings_file = tmp_path / "breakwright.sqlite3"
    with RunningService(tmp_path, demo=False) as probe:  # where the service keeps its database
        settings_file = probe.house.settings.database
    settings_file.unlink()
    _first_release(settings_file).close()
    with RunningService(tmp_path, demo=False) as running:
        assert running.call(lambda: fill_facts(running.house)) == 11
        assert running.call(lambda: fill_facts(running.house)) == 0
        row = lick_by_number(running.house.database.points, 1, 1, RULES_VERSION)
        assert row is not None
        assert (row.state, row.revision) == (IN_POOL, 2)
        assert row.facts is not None
        assert json.loads(row.facts)["fit"] > 0.8
        shown = running.operator.get("/v1/groups/quay/licks/1").json()
        assert (shown["state"], shown["reasons"]) == ("pool", [])


def test_facts_of_older_rules_are_made_anew(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True) as running:
        path = running.house.settings.database
    connection = connect(path)
    connection.execute("UPDATE lick_facts SET rules = 1, body = 'not even JSON'")
    connection.close()
    with RunningService(tmp_path, demo=True) as running:
        candidates = running.member.get("/v1/groups/ferry-lane/tunes/heron-ferry/phrases/1/licks").json()[
            "items"
        ]
        assert candidates[0]["fit"] > 0.8
        assert running.call(lambda: fill_facts(running.house)) > 0  # the other instruments' licks
        assert running.call(lambda: fill_facts(running.house)) == 0
