"""The list of tables holds every table and column of the database, so nothing is forgotten in a copy or when somebody goes."""

import sqlite3
from collections.abc import Iterator

import pytest

from service.store.tables import BY_NAME, LEFT_OUT, TABLES, Table
from service.store.whole import columns_of, tried

EVERY = (*TABLES, *LEFT_OUT)
# what a row of a group always has, and no copy tells: whose it is and its number in the database
UNTOLD = {"group_id", "id"}


@pytest.fixture(scope="module")
def database() -> Iterator[sqlite3.Connection]:
    connection = tried()
    yield connection
    connection.close()


def _names(database: sqlite3.Connection) -> list[str]:
    found = database.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    )
    return sorted(str(name) for (name,) in found)


def test_every_table_is_on_the_list_once_or_left_out_with_a_reason(database: sqlite3.Connection) -> None:
    assert sorted(table.name for table in EVERY) == _names(database)
    assert all(table.why for table in LEFT_OUT)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_of_a_table_is_copied_or_left_with_a_reason(
    table: Table, database: sqlite3.Connection
) -> None:
    told = [column.name for column in table.columns]
    within = {table.within[2]} if table.within else set()
    known = set(columns_of(database, table.name))
    assert len(set(told)) == len(told)
    assert set(told) | set(table.left) | within | UNTOLD & known == known
    assert not set(told) & (set(table.left) | UNTOLD)
    assert bool(table.place) != bool(table.within)


@pytest.mark.parametrize("table", EVERY, ids=lambda table: table.name)
def test_whose_rows_are_can_be_asked_and_all_that_points_to_a_member_is_thought_of(
    table: Table, database: sqlite3.Connection
) -> None:
    for condition in filter(None, (table.of_group, table.of_member, table.along)):
        database.execute(
            f"SELECT count(*) FROM {table.name} WHERE {condition}", {"group": 1, "member": 1}
        ).fetchone()
    pointing = {
        row[3] for row in database.execute(f"PRAGMA foreign_key_list({table.name})") if row[2] == "members"
    }
    if pointing - {"member_id"}:  # another one: both must be asked about
        assert all(name in table.of_member for name in pointing), table.name
    if pointing and table.name not in ("licks", "lick_revisions", "variations"):  # those stay, with no name
        assert table.erase, f"{table.name} points to members: say what becomes of it when one is erased"


def test_row_ids_are_told_by_the_key_of_a_table_that_comes_before(database: sqlite3.Connection) -> None:
    before: set[str] = set()
    for table in TABLES:
        before.add(table.name)
        pointing = {
            row[3]: row[2]
            for row in database.execute(f"PRAGMA foreign_key_list({table.name})")
            if row[4] == "id" and row[2] != "groups"
        }
        told = {column.name: column.kind for column in table.columns if column.kind in BY_NAME}
        left = {*table.left, table.within[2] if table.within else ""}
        assert told == {name: other for name, other in pointing.items() if name not in left}
        assert set(told.values()) <= before
