"""Groups, members and tokens."""

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


@dataclass(frozen=True, slots=True)
class TokenRow:
    id: int
    role: str
    group_id: int | None
    member_id: int | None


_GROUP = "id, slug, name, instrument, tuning, language, platform, server_id, revision, pool_version"


def group_by_slug(connection: sqlite3.Connection, slug: str) -> GroupRow | None:
    row = connection.execute(f"SELECT {_GROUP} FROM groups WHERE slug = ?", (slug,)).fetchone()
    return GroupRow(*row) if row else None


def groups_after(connection: sqlite3.Connection, slug: str, limit: int) -> list[GroupRow]:
    rows = connection.execute(
        f"SELECT {_GROUP} FROM groups WHERE slug > ? ORDER BY slug LIMIT ?", (slug, limit)
    )
    return [GroupRow(*row) for row in rows]


def add_group(connection: sqlite3.Connection, row: GroupRow, created: str) -> int | None:
    """The new group's id; None if the slug or the server is taken."""
    found = connection.execute(
        "INSERT INTO groups (slug, name, instrument, tuning, language, platform, server_id, created) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING RETURNING id",
        (row.slug, row.name, row.instrument, row.tuning, row.language, row.platform, row.server_id, created),
    ).fetchone()
    return int(found[0]) if found else None


def change_group(connection: sqlite3.Connection, row: GroupRow) -> bool:
    """Save a group whose ``revision`` is the one that was read; False if it has changed since."""
    done = connection.execute(
        "UPDATE groups SET name = ?, instrument = ?, tuning = ?, language = ?, revision = revision + 1 "
        "WHERE id = ? AND revision = ?",
        (row.name, row.instrument, row.tuning, row.language, row.id, row.revision),
    )
    return done.rowcount == 1


def pool_changed(connection: sqlite3.Connection, group_id: int) -> None:
    connection.execute("UPDATE groups SET pool_version = pool_version + 1 WHERE id = ?", (group_id,))


def member_named(connection: sqlite3.Connection, group_id: int, name: str, created: str) -> int:
    """The member's id; added if the group has no member of that name."""
    connection.execute(
        "INSERT INTO members (group_id, name, created) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
        (group_id, name, created),
    )
    row = connection.execute(
        "SELECT id FROM members WHERE group_id = ? AND name = ?", (group_id, name)
    ).fetchone()
    return int(row[0])


def add_token(
    connection: sqlite3.Connection,
    digest: bytes,
    role: str,
    group_id: int | None,
    member_id: int | None,
    created: str,
) -> int:
    row = connection.execute(
        "INSERT INTO tokens (digest, role, group_id, member_id, created) VALUES (?, ?, ?, ?, ?) RETURNING id",
        (digest, role, group_id, member_id, created),
    ).fetchone()
    return int(row[0])


def token_by_digest(connection: sqlite3.Connection, digest: bytes) -> TokenRow | None:
    row = connection.execute(
        "SELECT id, role, group_id, member_id FROM tokens WHERE digest = ? AND revoked IS NULL", (digest,)
    ).fetchone()
    return TokenRow(*row) if row else None


def has_operator(connection: sqlite3.Connection) -> bool:
    row = connection.execute("SELECT 1 FROM tokens WHERE role = 'operator' AND revoked IS NULL LIMIT 1")
    return row.fetchone() is not None
