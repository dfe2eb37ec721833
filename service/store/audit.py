"""What organisers did: written within the unit that did it."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AuditRow:
    """``by`` is the name of the member who did it, None where a token belongs to nobody. ``params`` is JSON."""

    id: int
    at: str
    by: str | None
    action: str
    subject: str
    params: str


def note(
    connection: sqlite3.Connection,
    group_id: int,
    at: str,
    token_id: int,
    member_id: int | None,
    action: str,
    subject: str,
    params: str = "{}",
) -> None:
    connection.execute(
        "INSERT INTO audit (group_id, at, token_id, member_id, action, subject, params) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (group_id, at, token_id, member_id, action, subject, params),
    )


def audit_before(connection: sqlite3.Connection, group_id: int, before: int, limit: int) -> list[AuditRow]:
    """Newest first."""
    rows = connection.execute(
        "SELECT a.id, a.at, m.name, a.action, a.subject, a.params FROM audit a "
        "LEFT JOIN members m ON m.id = a.member_id WHERE a.group_id = ? AND a.id < ? ORDER BY a.id DESC LIMIT ?",
        (group_id, before, limit),
    )
    return [AuditRow(*row) for row in rows]
