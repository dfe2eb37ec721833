"""Groups and what a token reaches."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GroupRow:
    id: int
    slug: str
    name: str
    instrument: str
    tuning: str
    language: str
    platform: str | None
    server_id: str | None
    revision: int
    pool_version: int
    settings: str = "{}"


_GROUP = "id, slug, name, instrument, tuning, language, platform, server_id, revision, pool_version, settings"


# in SQL: one that no group has or had
NEXT_GROUP_ID = (
    "1 + max(coalesce((SELECT max(id) FROM groups), 0), coalesce((SELECT max(id) FROM deleted_groups), 0))"
)


def group_by_slug(connection: sqlite3.Connection, slug: str) -> GroupRow | None:
    row = connection.execute(f"SELECT {_GROUP} FROM groups WHERE slug = ?", (slug,)).fetchone()
    return GroupRow(*row) if row else None


def group_by_id(connection: sqlite3.Connection, group_id: int) -> GroupRow | None:
    row = connection.execute(f"SELECT {_GROUP} FROM groups WHERE id = ?", (group_id,)).fetchone()
    return GroupRow(*row) if row else None


def group_by_server(connection: sqlite3.Connection, platform: str, server_id: str) -> GroupRow | None:
    row = connection.execute(
        f"SELECT {_GROUP} FROM groups WHERE platform = ? AND server_id = ?", (platform, server_id)
    ).fetchone()
    return GroupRow(*row) if row else None


def groups_after(connection: sqlite3.Connection, slug: str, limit: int) -> list[GroupRow]:
    rows = connection.execute(
        f"SELECT {_GROUP} FROM groups WHERE slug > ? ORDER BY slug LIMIT ?", (slug, limit)
    )
    return [GroupRow(*row) for row in rows]


def add_group(connection: sqlite3.Connection, row: GroupRow, created: str) -> int | None:
    """The new group's id; None if the slug or the server is taken."""
    found = connection.execute(
        "INSERT INTO groups (id, slug, name, instrument, tuning, language, platform, server_id, created) "
        f"VALUES ({NEXT_GROUP_ID}, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING RETURNING id",
        (row.slug, row.name, row.instrument, row.tuning, row.language, row.platform, row.server_id, created),
    ).fetchone()
    return int(found[0]) if found else None


def change_group(connection: sqlite3.Connection, row: GroupRow) -> bool:
    """Save a group whose ``revision`` is the one that was read; False if it has changed since."""
    done = connection.execute(
        "UPDATE groups SET name = ?, instrument = ?, tuning = ?, language = ?, platform = ?, server_id = ?, "
        "settings = ?, revision = revision + 1 WHERE id = ? AND revision = ?",
        (
            row.name,
            row.instrument,
            row.tuning,
            row.language,
            row.platform,
            row.server_id,
            row.settings,
            row.id,
            row.revision,
        ),
    )
    return done.rowcount == 1


def pool_changed(connection: sqlite3.Connection, group_id: int) -> None:
    connection.execute("UPDATE groups SET pool_version = pool_version + 1 WHERE id = ?", (group_id,))
