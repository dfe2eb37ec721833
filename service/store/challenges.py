"""Challenges, and what the clock will do with them."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ChallengeRow:
    """``record`` is JSON; stamps are UTC. ``tune`` is the tune's slug."""

    id: int
    group_id: int
    number: int
    state: str
    drawn: bool
    tune_id: int
    tune: str
    tune_revision: int
    part: str
    place: int
    phrase: int
    lick: int | None
    lick_revision: int | None
    record: str
    secret: bool
    opens: str
    closes: str


_JOINED = (
    "SELECT c.id, c.group_id, c.number, c.state, c.drawn, c.tune_id, t.slug, c.tune_revision, c.part, c.place, c.phrase, "
    "c.lick, c.lick_revision, c.record, c.secret, c.opens, c.closes FROM challenges c JOIN tunes t ON t.id = c.tune_id "
)


def _row(row: tuple[object, ...] | None) -> ChallengeRow | None:
    return ChallengeRow(*row) if row else None  # type: ignore[arg-type]


def challenge_by_number(connection: sqlite3.Connection, group_id: int, number: int) -> ChallengeRow | None:
    return _row(
        connection.execute(_JOINED + "WHERE c.group_id = ? AND c.number = ?", (group_id, number)).fetchone()
    )


def challenge_by_id(connection: sqlite3.Connection, challenge_id: int) -> ChallengeRow | None:
    return _row(connection.execute(_JOINED + "WHERE c.id = ?", (challenge_id,)).fetchone())


def under_way(connection: sqlite3.Connection, group_id: int, state: str) -> ChallengeRow | None:
    """The one that is ``open``, or the one that is ``planned``."""
    return _row(
        connection.execute(_JOINED + "WHERE c.group_id = ? AND c.state = ?", (group_id, state)).fetchone()
    )


def challenges_before(
    connection: sqlite3.Connection, group_id: int, before: int, limit: int
) -> list[ChallengeRow]:
    """Newest first."""
    rows = connection.execute(
        _JOINED + "WHERE c.group_id = ? AND c.number < ? ORDER BY c.number DESC LIMIT ?",
        (group_id, before, limit),
    )
    return [ChallengeRow(*row) for row in rows]


def past_spots(connection: sqlite3.Connection, group_id: int, limit: int) -> list[tuple[str, str, int]]:
    """(tune, part, place) of the last challenges, oldest first."""
    rows = connection.execute(
        "SELECT t.slug, c.part, c.place FROM challenges c JOIN tunes t ON t.id = c.tune_id "
        "WHERE c.group_id = ? AND c.state <> 'cancelled' ORDER BY c.number DESC LIMIT ?",
        (group_id, limit),
    ).fetchall()
    return [(str(row[0]), str(row[1]), int(row[2])) for row in reversed(rows)]


@dataclass(frozen=True, slots=True)
class NewChallenge:
    """What a challenge is made of."""

    drawn: bool
    tune_id: int
    tune_revision: int
    part: str
    place: int
    phrase: int
    lick: int | None
    lick_revision: int | None
    record: str
    secret: bool
    opens: str
    closes: str


def add_challenge(
    connection: sqlite3.Connection, group_id: int, new: NewChallenge, state: str, created: str
) -> ChallengeRow | None:
    """None if the group has one in that state already."""
    found = connection.execute(
        "INSERT INTO challenges (group_id, number, state, drawn, tune_id, tune_revision, part, place, phrase, lick, "
        "lick_revision, record, secret, opens, closes, created) VALUES (?, "
        "(SELECT coalesce(max(number), 0) + 1 FROM challenges WHERE group_id = ?), "
        "?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING RETURNING id",
        (
            group_id,
            group_id,
            state,
            new.drawn,
            new.tune_id,
            new.tune_revision,
            new.part,
            new.place,
            new.phrase,
            new.lick,
            new.lick_revision,
            new.record,
            new.secret,
            new.opens,
            new.closes,
            created,
        ),
    ).fetchone()
    return challenge_by_id(connection, int(found[0])) if found else None


def move_on(connection: sqlite3.Connection, challenge_id: int, state: str, becomes: str) -> bool:
    """Whether the challenge was in ``state`` and now is in the other; nothing changes otherwise."""
    done = connection.execute(
        "UPDATE OR IGNORE challenges SET state = ? WHERE id = ? AND state = ?", (becomes, challenge_id, state)
    )
    return done.rowcount == 1


def set_times(connection: sqlite3.Connection, challenge_id: int, opens: str, closes: str) -> None:
    connection.execute(
        "UPDATE challenges SET opens = ?, closes = ? WHERE id = ?", (opens, closes, challenge_id)
    )


# --- what is due ------------------------------------------------------------------------------------------

WEEK, OPEN, REMIND, CLOSE = "week", "open", "remind", "close"


@dataclass(frozen=True, slots=True)
class DueRow:
    """``subject`` is a challenge's id, a member's where they practise; 0 where a group's week begins."""

    group_id: int
    kind: str
    subject: int
    at: str


def make_due(connection: sqlite3.Connection, group_id: int, kind: str, subject: int, at: str) -> None:
    """The clock will do this then, and not when it would have."""
    connection.execute(
        "INSERT INTO due (group_id, kind, subject, at) VALUES (?, ?, ?, ?) "
        "ON CONFLICT (group_id, kind, subject) DO UPDATE SET at = excluded.at",
        (group_id, kind, subject, at),
    )


def no_longer_due(connection: sqlite3.Connection, group_id: int, subject: int, kinds: Sequence[str]) -> None:
    for kind in kinds:
        connection.execute(
            "DELETE FROM due WHERE group_id = ? AND kind = ? AND subject = ?", (group_id, kind, subject)
        )


def take_due(connection: sqlite3.Connection, row: DueRow) -> bool:
    """Whether this was still due; it is no more."""
    done = connection.execute(
        "DELETE FROM due WHERE group_id = ? AND kind = ? AND subject = ? AND at = ?",
        (row.group_id, row.kind, row.subject, row.at),
    )
    return done.rowcount == 1


def due_until(connection: sqlite3.Connection, at: str, limit: int) -> list[DueRow]:
    """What is due by then, the longest first; at one time closing comes before a new week."""
    rows = connection.execute(
        "SELECT group_id, kind, subject, at FROM due WHERE at <= ? ORDER BY at, kind LIMIT ?", (at, limit)
    )
    return [DueRow(*row) for row in rows]


def next_due(connection: sqlite3.Connection) -> str | None:
    (at,) = connection.execute("SELECT min(at) FROM due").fetchone()
    return None if at is None else str(at)
