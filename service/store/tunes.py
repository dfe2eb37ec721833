"""Tunes and their revisions. Bodies are JSON, made and read by the use cases."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TuneRow:
    id: int
    slug: str
    revision: int
    body: str
    spots: str | None = None


_JOINED = (
    "SELECT t.id, t.slug, r.revision, r.body, r.spots FROM tunes t "
    "JOIN tune_revisions r ON r.tune_id = t.id AND r.revision = {revision} "
)


def tune_by_slug(connection: sqlite3.Connection, group_id: int, slug: str) -> TuneRow | None:
    row = connection.execute(
        _JOINED.format(revision="t.revision") + "WHERE t.group_id = ? AND t.slug = ? AND t.hidden IS NULL",
        (group_id, slug),
    ).fetchone()
    return TuneRow(*row) if row else None


def tune_revision(connection: sqlite3.Connection, tune_id: int, revision: int) -> TuneRow | None:
    row = connection.execute(_JOINED.format(revision="?") + "WHERE t.id = ?", (revision, tune_id)).fetchone()
    return TuneRow(*row) if row else None


def tunes_after(connection: sqlite3.Connection, group_id: int, slug: str, limit: int) -> list[TuneRow]:
    rows = connection.execute(
        _JOINED.format(revision="t.revision")
        + "WHERE t.group_id = ? AND t.slug > ? AND t.hidden IS NULL ORDER BY t.slug LIMIT ?",
        (group_id, slug, limit),
    )
    return [TuneRow(*row) for row in rows]


def save_tune(
    connection: sqlite3.Connection,
    group_id: int,
    slug: str,
    body: str,
    created: str,
    expected: int | None,
    spots: str | None = None,
) -> int | None:
    """Add a tune (``expected`` None) or a revision of it; the new revision, or None if that no longer holds.

    A hidden tune's name may be used again: its revisions go on.
    """
    row = connection.execute(
        "SELECT id, revision, hidden FROM tunes WHERE group_id = ? AND slug = ?", (group_id, slug)
    ).fetchone()
    present = row is not None and row[2] is None
    if (expected is None and present) or (expected is not None and (not present or row[1] != expected)):
        return None
    if row is None:
        (tune_id,) = connection.execute(
            "INSERT INTO tunes (group_id, slug, revision) VALUES (?, ?, 1) RETURNING id", (group_id, slug)
        ).fetchone()
        revision = 1
    else:
        tune_id, revision = row[0], row[1] + 1
        connection.execute("UPDATE tunes SET revision = ?, hidden = NULL WHERE id = ?", (revision, tune_id))
    connection.execute(
        "INSERT INTO tune_revisions (tune_id, revision, body, created, spots) VALUES (?, ?, ?, ?, ?)",
        (tune_id, revision, body, created, spots),
    )
    return revision


def hide_tune(connection: sqlite3.Connection, group_id: int, slug: str, expected: int, now: str) -> bool:
    done = connection.execute(
        "UPDATE tunes SET hidden = ? WHERE group_id = ? AND slug = ? AND revision = ? AND hidden IS NULL",
        (now, group_id, slug, expected),
    )
    return done.rowcount == 1
