"""Tokens: kept as digests, with what they reach."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TokenRow:
    """``role`` is what the token gives at most, ``member_role`` what its member is. ``scopes`` None: all of the role."""

    id: int
    role: str
    group_id: int | None
    member_id: int | None
    scopes: str | None
    expires: str | None
    label: str | None
    created: str
    member_role: str | None
    member_number: int | None


_JOINED = (
    "SELECT t.id, t.role, t.group_id, t.member_id, t.scopes, t.expires, t.label, t.created, m.role, m.number "
    "FROM tokens t LEFT JOIN members m ON m.id = t.member_id "
)
_HOLDS = "t.revoked IS NULL AND (t.expires IS NULL OR t.expires > ?)"


def add_token(
    connection: sqlite3.Connection,
    digest: bytes,
    role: str,
    group_id: int | None,
    member_id: int | None,
    created: str,
    scopes: str | None = None,
    expires: str | None = None,
    label: str | None = None,
) -> TokenRow:
    (token_id,) = connection.execute(
        "INSERT INTO tokens (digest, role, group_id, member_id, created, scopes, expires, label) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
        (digest, role, group_id, member_id, created, scopes, expires, label),
    ).fetchone()
    return TokenRow(*connection.execute(_JOINED + "WHERE t.id = ?", (token_id,)).fetchone())


def token_by_digest(connection: sqlite3.Connection, digest: bytes) -> TokenRow | None:
    """A token that was not revoked; whether it has expired is the caller's to see."""
    row = connection.execute(_JOINED + "WHERE t.digest = ? AND t.revoked IS NULL", (digest,)).fetchone()
    return TokenRow(*row) if row else None


def token_by_id(
    connection: sqlite3.Connection, group_id: int | None, token_id: int, now: str
) -> TokenRow | None:
    """A token that holds, of a group (None: of the whole service)."""
    row = connection.execute(
        _JOINED + f"WHERE t.id = ? AND t.group_id IS ? AND {_HOLDS}", (token_id, group_id, now)
    ).fetchone()
    return TokenRow(*row) if row else None


def tokens_after(
    connection: sqlite3.Connection, group_id: int | None, after: int, limit: int, now: str
) -> list[TokenRow]:
    """Tokens of a group (None: of the whole service) that hold, in order of their ids."""
    rows = connection.execute(
        _JOINED + f"WHERE t.group_id IS ? AND t.id > ? AND {_HOLDS} ORDER BY t.id LIMIT ?",
        (group_id, after, now, limit),
    )
    return [TokenRow(*row) for row in rows]


def revoke_token(connection: sqlite3.Connection, token_id: int, at: str) -> None:
    connection.execute("UPDATE tokens SET revoked = ? WHERE id = ?", (at, token_id))


def expire_token(connection: sqlite3.Connection, token_id: int, at: str) -> None:
    """Let a token hold no longer than until then."""
    connection.execute(
        "UPDATE tokens SET expires = min(coalesce(expires, ?), ?) WHERE id = ?", (at, at, token_id)
    )


def has_operator(connection: sqlite3.Connection, now: str) -> bool:
    row = connection.execute(
        f"SELECT 1 FROM tokens t WHERE t.group_id IS NULL AND t.role = 'operator' AND {_HOLDS} LIMIT 1",
        (now,),
    )
    return row.fetchone() is not None
