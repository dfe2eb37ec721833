"""A group as a whole: its rows read for a copy, a copy's rows brought in, all of a member erased, all of a group deleted.

What belongs to whom stands in service/store/tables.py.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from service.store.groups import NEXT_GROUP_ID, pool_changed
from service.store.migrate import migrate
from service.store.tables import BY_NAME, LEFT_OUT, OWN, TABLES, Table

Row = dict[str, Any]
NUMBER = "number"  # what rows are called by that have no number in the database


class Copying:
    """The rows of a group, or of it what tells of a member, as of one moment: ``connection`` is in a transaction."""

    def __init__(self, connection: sqlite3.Connection, group_id: int, member_id: int | None = None) -> None:
        self._connection = connection
        self._values = {"group": group_id, "member": member_id}
        self._of_member = member_id is not None
        self._counted = {
            table.name: {row_id: at for at, (row_id,) in enumerate(self._ids(table), 1)}
            for table in TABLES
            if table.counted
        }
        self.tables = tuple(table for table in TABLES if self._goes_along(table))

    def _ids(self, table: Table) -> Iterator[tuple[int]]:
        sql = f"SELECT id FROM {table.name} WHERE {table.of_group} ORDER BY id"
        return self._connection.execute(sql, self._values)

    def _goes_along(self, table: Table) -> bool:
        return bool(table.of_member) if self._of_member else table.along != "false"

    def _where(self, table: Table) -> str:
        return f"({table.of_group}) AND ({table.of_member if self._of_member else table.along})"

    def count(self, table: Table) -> int:
        sql = f"SELECT count(*) FROM {table.name} WHERE {self._where(table)}"
        (count,) = self._connection.execute(sql, self._values).fetchone()
        return int(count)

    def rows(self, table: Table, condition: str = "true", **values: object) -> Iterator[Row]:
        """Rows in their order, as a copy has them, those of the tables that lie within them by those tables' names."""
        inner = [child for child in self.tables if child.within and child.within[0] == table.name]
        told = [
            f"NULL AS {column.name}"
            if column.kind == OWN and not self._of_member
            else _told(column.name, column.kind)
            for column in table.columns
        ]
        told += ["t.id AS row_id"] if table.counted else []
        told += [f"t.{inner[0].within[1]} AS link"] if inner and inner[0].within else []
        # a name with its point sorts as names of files do: 1. before 10., a-b. before a.
        named = f"{table.key} || '.'" if "{" in table.place else table.key
        order = table.order or ("id" if table.counted else named)
        sql = f"SELECT {', '.join(told)} FROM {table.name} t WHERE {self._where(table)} AND {condition} ORDER BY {order}"
        found = self._connection.execute(sql, {**self._values, **values})
        names = [described[0] for described in found.description]
        for row in found:
            yield self._complete(table, dict(zip(names, row, strict=True)), inner)

    def _complete(self, table: Table, row: Row, inner: Sequence[Table]) -> Row:
        for column in table.columns:
            counted = self._counted.get(column.kind)
            if counted is not None:
                row[column.name] = counted.get(row[column.name])
        if table.counted:
            row = {NUMBER: self._counted[table.name][row.pop("row_id")], **row}
        link = row.pop("link", None)
        for child in inner:
            if child.within is not None:
                row[child.name] = list(self.rows(child, f"t.{child.within[2]} = :link", link=link))
        return row

    def content(self, number: int) -> bytes:
        """A recording by the number it has in the copy."""
        row_id = next(row_id for row_id, at in self._counted["recordings"].items() if at == number)
        (content,) = self._connection.execute(
            "SELECT content FROM recordings WHERE id = ?", (row_id,)
        ).fetchone()
        return bytes(content)


def _told(column: str, kind: str) -> str:
    """A column in SQL; a row id as the key of the row it is of, where that has one."""
    other = BY_NAME.get(kind)
    if other is None or other.counted:
        return f"t.{column}"
    return f"(SELECT o.{other.key} FROM {other.name} o WHERE o.id = t.{column}) AS {column}"


# --- bringing in --------------------------------------------------------------------------------------------


class RowRefused(Exception):
    """A row that cannot be brought in: ``at`` counts the rows given from 0; ``why`` is twice, missing, not-allowed, or
    refers-to-none (then ``column`` does)."""

    def __init__(self, table: str, at: int, why: str, column: str = "") -> None:
        super().__init__(f"{table} {at} {why} {column}")
        self.table, self.at, self.why, self.column = table, at, why, column


_WHY = {
    sqlite3.SQLITE_CONSTRAINT_UNIQUE: "twice",
    sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY: "twice",
    sqlite3.SQLITE_CONSTRAINT_NOTNULL: "missing",
    sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY: "refers-to-none",
}


def bring_in(connection: sqlite3.Connection, rows: Mapping[str, Sequence[Row]]) -> int | None:
    """Insert a group with all its rows, by table; its id, or None if its name or its server is taken.

    Rows are as a copy has them, JSON as text; those that lie within others name those by their key. They may hold columns that a
    copy does not. Raises RowRefused, with something inserted.
    """
    (group,) = rows["groups"]
    made = connection.execute(
        f"INSERT INTO groups (id, {', '.join(group)}) VALUES ({NEXT_GROUP_ID}{', ?' * len(group)}) "
        "ON CONFLICT DO NOTHING RETURNING id",
        tuple(group.values()),
    ).fetchone()
    if made is None:
        return None
    group_id = int(made[0])
    ids: dict[str, dict[object, int]] = {}
    for table in TABLES[1:]:
        known = columns_of(connection, table.name)
        ids[table.name] = {}
        for at, row in enumerate(rows.get(table.name, ())):
            values = _by_ids(table, at, row, ids)
            if "group_id" in known:
                values["group_id"] = group_id
            row_id = _insert(
                connection, table.name, at, {name: values[name] for name in values if name in known}
            )
            if table.key in row:
                ids[table.name][row[table.key]] = row_id
    pool_changed(connection, group_id)
    return group_id


def columns_of(connection: sqlite3.Connection, table: str) -> dict[str, bool]:
    """The columns of a table, and whether each must hold something."""
    found = connection.execute('SELECT name, "notnull" FROM pragma_table_info(?)', (table,))
    return {str(name): bool(needed) for name, needed in found}


def _by_ids(table: Table, at: int, row: Row, ids: Mapping[str, Mapping[object, int]]) -> Row:
    """A row with the ids that those it refers to have got here."""
    values = dict(row)
    pointing = [(column.name, column.kind) for column in table.columns if column.kind in BY_NAME]
    if table.within is not None and table.within[1] == "id":
        pointing.append((table.within[2], table.within[0]))
    for column, other in pointing:
        if values[column] is not None:
            if values[column] not in ids[other]:
                raise RowRefused(table.name, at, "refers-to-none", column)
            values[column] = ids[other][values[column]]
    return values


def _insert(connection: sqlite3.Connection, table: str, at: int, values: Row) -> int:
    marks = ", ".join("?" * len(values))
    try:
        done = connection.execute(
            f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})", tuple(values.values())
        )
    except sqlite3.IntegrityError as error:
        raise RowRefused(table, at, _WHY.get(error.sqlite_errorcode, "not-allowed")) from error
    except (OverflowError, sqlite3.InterfaceError, sqlite3.ProgrammingError) as error:
        raise RowRefused(table, at, "not-allowed") from error
    return int(done.lastrowid or 0)


def tried() -> sqlite3.Connection:
    """A database of its own in memory, for rows to be brought into before they are brought in."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.execute("PRAGMA foreign_keys = ON")
    migrate(connection)
    return connection


# --- going --------------------------------------------------------------------------------------------------


def erase_member(
    connection: sqlite3.Connection, group_id: int, member_id: int, now: str, *, remove: bool
) -> None:
    """Nothing tells any more who a member was; what they sent in goes too if it shall. The row stays, for its number."""
    values = {"group": group_id, "member": member_id, "now": now}
    last = {"tokens", "members"}  # others look there who it is
    tables = (*LEFT_OUT, *sorted(TABLES, key=lambda table: table.name in last))
    for statement in [sql for table in tables for sql in table.remove if remove]:
        connection.execute(statement, values)
    for statement in [sql for table in tables for sql in table.erase]:
        connection.execute(statement, values)
    pool_changed(connection, group_id)


def delete_group(connection: sqlite3.Connection, group_id: int) -> None:
    """Everything of a group. Its id is not given again."""
    # from the last table on, so that nothing is looked for row by row because it belongs to what goes
    for table in (*LEFT_OUT, *reversed(TABLES)):
        if table.of_group:
            connection.execute(f"DELETE FROM {table.name} WHERE {table.of_group}", {"group": group_id})
    connection.execute("INSERT INTO deleted_groups (id) VALUES (?)", (group_id,))
