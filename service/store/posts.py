"""The outbox: what the chat shall post, claimed with a lease, and what became of it."""

import sqlite3
from dataclasses import dataclass

WAITING, CLAIMED, SENT, PARKED, LAPSED = "waiting", "claimed", "sent", "parked", "lapsed"
SEND, EDIT, DELETE = "send", "edit", "delete"


@dataclass(frozen=True, slots=True)
class PostRow:
    """``params`` is JSON. ``channel`` and ``message_id`` are those of the message it made, or of the one it is ``about``."""

    id: int
    group_id: int
    kind: str
    params: str
    deed: str
    about: int | None
    recipient: str | None
    nonce: str
    state: str
    due: str
    useful_until: str | None
    claims: int
    lease_until: str | None
    channel: str | None
    message_id: str | None
    reason: str | None
    created: str
    done: str | None


_POST = (
    "p.id, p.group_id, p.kind, p.params, p.deed, p.about, p.recipient, p.nonce, p.state, p.due, p.useful_until, p.claims, "
    "p.lease_until, p.channel, p.message_id, p.reason, p.created, p.done"
)


def post_by_id(connection: sqlite3.Connection, post_id: int) -> PostRow | None:
    row = connection.execute(f"SELECT {_POST} FROM posts p WHERE p.id = ?", (post_id,)).fetchone()
    return PostRow(*row) if row else None


def posts_before(connection: sqlite3.Connection, group_id: int, before: int, limit: int) -> list[PostRow]:
    """Newest first."""
    rows = connection.execute(
        f"SELECT {_POST} FROM posts p WHERE p.group_id = ? AND p.id < ? ORDER BY p.id DESC LIMIT ?",
        (group_id, before, limit),
    )
    return [PostRow(*row) for row in rows]


def add_post(
    connection: sqlite3.Connection,
    group_id: int,
    kind: str,
    params: str,
    now: str,
    *,
    useful_until: str | None = None,
    recipient: str | None = None,
    deed: str = SEND,
    about: int | None = None,
) -> int:
    """The post's id; its nonce is for the caller to set, who knows how it is made."""
    (post_id,) = connection.execute(
        "INSERT INTO posts (group_id, kind, params, deed, about, recipient, state, due, useful_until, created) "
        "VALUES (?, ?, ?, ?, ?, ?, 'waiting', ?, ?, ?) RETURNING id",
        (group_id, kind, params, deed, about, recipient, now, useful_until, now),
    ).fetchone()
    return int(post_id)


def set_nonce(connection: sqlite3.Connection, post_id: int, nonce: str) -> None:
    connection.execute("UPDATE posts SET nonce = ? WHERE id = ?", (nonce, post_id))


def set_params(connection: sqlite3.Connection, post_id: int, params: str) -> None:
    connection.execute("UPDATE posts SET params = ? WHERE id = ?", (params, post_id))


def set_lapsed(connection: sqlite3.Connection, post_id: int, now: str) -> None:
    connection.execute("UPDATE posts SET state = 'lapsed', done = ? WHERE id = ?", (now, post_id))


def lapse(connection: sqlite3.Connection, now: str) -> int:
    """Posts that were not sent while they were of use are of none any more. One that is claimed may have been sent, and is
    looked for."""
    done = connection.execute(
        "UPDATE posts SET state = 'lapsed', done = ? WHERE state = 'waiting' AND useful_until <= ?",
        (now, now),
    )
    return done.rowcount


def claimable(connection: sqlite3.Connection, platform: str, now: str, limit: int) -> list[PostRow]:
    """Posts for groups on a platform that wait, or whose lease is over; of each group the first that is under way, so that a
    group's posts keep their order. Posts to a channel wait until the group has one, those about another until that was sent.

    They are gone through in the order in which they are due, until there are enough: CROSS JOIN keeps the planner from taking
    every group with all its posts instead.
    """
    rows = connection.execute(
        f"SELECT {_POST} FROM posts p INDEXED BY posts_by_time CROSS JOIN groups g ON g.id = p.group_id "
        "WHERE p.state IN ('waiting', 'claimed') AND p.due <= ? "
        "AND (p.state = 'waiting' OR p.lease_until <= ?) AND g.platform = ? "
        "AND (p.recipient IS NOT NULL OR json_extract(g.settings, '$.channel') IS NOT NULL) "
        "AND NOT EXISTS (SELECT 1 FROM posts e WHERE e.group_id = p.group_id AND e.id < p.id "
        "AND e.state IN ('waiting', 'claimed') AND e.recipient IS p.recipient) "
        "ORDER BY p.due, p.id LIMIT ?",
        (now, now, platform, limit),
    )
    return [PostRow(*row) for row in rows]


def claim(connection: sqlite3.Connection, post_id: int, lease_until: str, channel: str | None) -> None:
    connection.execute(
        "UPDATE posts SET state = 'claimed', claims = claims + 1, lease_until = ?, channel = coalesce(?, channel) "
        "WHERE id = ?",
        (lease_until, channel, post_id),
    )


def sent(connection: sqlite3.Connection, post_id: int, message_id: str, now: str) -> None:
    connection.execute(
        "UPDATE posts SET state = 'sent', message_id = ?, reason = NULL, lease_until = NULL, done = ? WHERE id = ?",
        (message_id, now, post_id),
    )


def wait_again(connection: sqlite3.Connection, post_id: int, due: str, reason: str | None) -> None:
    connection.execute(
        "UPDATE posts SET state = 'waiting', due = ?, reason = ?, lease_until = NULL, done = NULL WHERE id = ?",
        (due, reason, post_id),
    )


def park(connection: sqlite3.Connection, post_id: int, reason: str, now: str) -> None:
    connection.execute(
        "UPDATE posts SET state = 'parked', reason = ?, lease_until = NULL, done = ? WHERE id = ?",
        (reason, now, post_id),
    )


def bring_back(connection: sqlite3.Connection, group_id: int, now: str) -> int:
    """Parked posts of a group to its channel that are still of use wait again; how many."""
    done = connection.execute(
        "UPDATE posts SET state = 'waiting', due = ?, done = NULL, channel = NULL, claims = 1 "
        "WHERE group_id = ? AND state = 'parked' "
        "AND recipient IS NULL AND (useful_until IS NULL OR useful_until > ?)",
        (now, group_id, now),
    )
    return done.rowcount


def told_of(connection: sqlite3.Connection, group_id: int, kind: str, since: str) -> bool:
    """Whether a post of this kind was made for a group since then."""
    row = connection.execute(
        "SELECT 1 FROM posts WHERE group_id = ? AND kind = ? AND created > ? LIMIT 1", (group_id, kind, since)
    ).fetchone()
    return row is not None


def announcement(connection: sqlite3.Connection, group_id: int, challenge: int) -> PostRow | None:
    """The post that announces a challenge."""
    row = connection.execute(
        f"SELECT {_POST} FROM posts p WHERE p.group_id = ? AND p.kind = 'challenge' AND p.deed = 'send' "
        "AND json_extract(p.params, '$.challenge') = ? ORDER BY p.id DESC LIMIT 1",
        (group_id, challenge),
    ).fetchone()
    return PostRow(*row) if row else None


def deleted(connection: sqlite3.Connection, post_id: int) -> bool:
    """Whether an earlier post was deleted, or is going to be."""
    row = connection.execute(
        "SELECT 1 FROM posts WHERE about = ? AND deed = 'delete' AND state <> 'lapsed' LIMIT 1", (post_id,)
    ).fetchone()
    return row is not None


def post_about_variation(
    connection: sqlite3.Connection, group_id: int, kind: str, variation: int
) -> PostRow | None:
    """The newest post of a kind about a variation."""
    row = connection.execute(
        f"SELECT {_POST} FROM posts p WHERE p.group_id = ? AND p.kind = ? AND p.deed = 'send' "
        "AND json_extract(p.params, '$.variation') = ? ORDER BY p.id DESC LIMIT 1",
        (group_id, kind, variation),
    ).fetchone()
    return PostRow(*row) if row else None


def posts_telling_of(connection: sqlite3.Connection, group_id: int, member: int) -> list[PostRow]:
    """Messages, not yet taken away, that tell of a member by number: of something of theirs, or of how it stood."""
    rows = connection.execute(
        f"SELECT {_POST} FROM posts p WHERE p.group_id = ? AND p.deed = 'send' AND p.state <> 'lapsed' "
        "AND NOT EXISTS (SELECT 1 FROM posts d WHERE d.about = p.id AND d.deed = 'delete') "
        "AND (json_extract(p.params, '$.by') = ? OR EXISTS (SELECT 1 FROM json_each(p.params, '$.standings') s "
        "WHERE json_extract(s.value, '$.by') = ?)) ORDER BY p.id",
        (group_id, member, member),
    ).fetchall()
    return [PostRow(*row) for row in rows]


def count_waiting(connection: sqlite3.Connection) -> int:
    (count,) = connection.execute(
        "SELECT count(*) FROM posts WHERE state IN ('waiting', 'claimed')"
    ).fetchone()
    return int(count)
