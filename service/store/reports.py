"""What members say against licks, and what organisers answered."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReportRow:
    """``by`` is the member who reported it, None for the service or somebody erased; ``origin`` the name of the group that
    the lick was borrowed from, if it was. ``decision`` is None while nobody has answered.
    """

    id: int
    lick: int
    by: str | None
    reason: str
    text: str
    created: str
    decision: str | None
    answer: str | None
    answered: str | None
    origin: str | None


_JOINED = (
    "SELECT r.id, r.lick, m.name, r.reason, r.text, r.created, r.decision, r.answer, r.answered, b.from_name "
    "FROM reports r LEFT JOIN members m ON m.id = r.member_id "
    "LEFT JOIN borrowed b ON b.group_id = r.group_id AND b.lick = r.lick "
)


def report_by_id(connection: sqlite3.Connection, group_id: int, report_id: int) -> ReportRow | None:
    row = connection.execute(_JOINED + "WHERE r.group_id = ? AND r.id = ?", (group_id, report_id)).fetchone()
    return ReportRow(*row) if row else None


def reports_before(
    connection: sqlite3.Connection,
    group_id: int,
    before: int,
    limit: int,
    *,
    lick: int | None = None,
    member_id: int | None = None,
    status: str | None = None,
) -> list[ReportRow]:
    """Newest first: of one lick, by one member, open or answered, as far as asked."""
    rows = connection.execute(
        _JOINED + "WHERE r.group_id = ? AND r.id < ? AND (? IS NULL OR r.lick = ?) "
        "AND (? IS NULL OR r.member_id = ?) AND (? IS NULL OR (r.decision IS NULL) = (? = 'open')) "
        "ORDER BY r.id DESC LIMIT ?",
        (group_id, before, lick, lick, member_id, member_id, status, status, limit),
    )
    return [ReportRow(*row) for row in rows]


def report(
    connection: sqlite3.Connection,
    group_id: int,
    lick: int,
    member_id: int,
    reason: str,
    text: str,
    created: str,
) -> int:
    """The id of a member's open report of a lick; one that is there already says this from now on."""
    (report_id,) = connection.execute(
        "INSERT INTO reports (group_id, lick, member_id, reason, text, created) VALUES (?, ?, ?, ?, ?, ?) "
        "ON CONFLICT (group_id, lick, member_id) WHERE decision IS NULL "
        "DO UPDATE SET reason = excluded.reason, text = excluded.text RETURNING id",
        (group_id, lick, member_id, reason, text, created),
    ).fetchone()
    return int(report_id)


def tell_borrowers(connection: sqlite3.Connection, group_id: int, lick: int, created: str) -> None:
    """A lick that others borrowed was taken down: each of those groups gets an open report of its copy, if it has none."""
    connection.execute(
        "INSERT INTO reports (group_id, lick, reason, text, created) "
        "SELECT group_id, lick, 'taken-down-at-origin', '', ? FROM borrowed "
        "WHERE from_group_id = ? AND from_lick = ? ON CONFLICT DO NOTHING",
        (created, group_id, lick),
    )


def answer(
    connection: sqlite3.Connection, group_id: int, report_id: int, decision: str, text: str, answered: str
) -> bool:
    """False if it has been answered."""
    done = connection.execute(
        "UPDATE reports SET decision = ?, answer = ?, answered = ? "
        "WHERE group_id = ? AND id = ? AND decision IS NULL",
        (decision, text, answered, group_id, report_id),
    )
    return done.rowcount == 1
