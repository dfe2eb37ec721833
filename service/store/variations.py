"""Variations of challenges, their recordings, and votes on them."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

HELD, ENTERED, REFUSED, WITHDRAWN = "held", "entered", "refused", "withdrawn"
TAKEN_DOWN = "taken-down"  # its lick in the pool was


@dataclass(frozen=True, slots=True)
class VariationRow:
    """``challenge`` is its challenge's number, ``member_id`` whose it is, ``tab_by`` who wrote it down; ``body`` and ``facts`` are JSON, None while there is only a
    recording; ``votes`` and ``chances`` are counted when its challenge closes; ``lick`` is its number in the pool."""

    id: int
    group_id: int
    number: int
    challenge_id: int
    challenge: int
    member_id: int | None
    member: int | None
    member_name: str | None
    revision: int
    state: str
    name: str
    comment: str
    body: str | None
    facts: str | None
    tab_by: int | None
    recording_id: int | None
    lick: int | None
    reason: str | None
    entered: str
    votes: int | None
    chances: int | None


_JOINED = (
    "SELECT v.id, v.group_id, v.number, v.challenge_id, c.number, v.member_id, m.number, m.name, v.revision, CASE WHEN t.number IS NULL THEN v.state ELSE 'taken-down' END, v.name, v.comment, "
    "v.body, v.facts, w.number, v.recording_id, v.lick, v.reason, v.entered, v.votes, v.chances FROM variations v "
    "JOIN challenges c ON c.id = v.challenge_id LEFT JOIN members m ON m.id = v.member_id LEFT JOIN members w ON w.id = v.tab_by "
    "LEFT JOIN taken_down t ON t.group_id = v.group_id AND t.number = v.lick "
)


def variation_by_number(connection: sqlite3.Connection, group_id: int, number: int) -> VariationRow | None:
    row = connection.execute(_JOINED + "WHERE v.group_id = ? AND v.number = ?", (group_id, number)).fetchone()
    return VariationRow(*row) if row else None


def variations_of(
    connection: sqlite3.Connection, challenge_id: int, after: int, limit: int, member_id: int | None
) -> list[VariationRow]:
    """All but the withdrawn, by number; for a member those held or refused only if they are their own."""
    rows = connection.execute(
        _JOINED + "WHERE v.challenge_id = ? AND v.number > ? AND v.state <> 'withdrawn' AND t.number IS NULL "
        "AND (? IS NULL OR v.state = 'entered' OR v.member_id = ?) ORDER BY v.number LIMIT ?",
        (challenge_id, after, member_id, member_id, limit),
    )
    return [VariationRow(*row) for row in rows]


def entered(connection: sqlite3.Connection, challenge_id: int) -> list[VariationRow]:
    """Those that can be voted for."""
    rows = connection.execute(
        _JOINED + "WHERE v.challenge_id = ? AND v.state = 'entered' AND t.number IS NULL ORDER BY v.number",
        (challenge_id,),
    )
    return [VariationRow(*row) for row in rows]


@dataclass(frozen=True, slots=True)
class EntryRow:
    """What counting and a round-up need of a variation; ``member`` is its author's number."""

    id: int
    number: int
    name: str
    member_id: int | None
    member: int | None
    entered: str


def entries(connection: sqlite3.Connection, challenge_id: int) -> list[EntryRow]:
    """Those that can be voted for, without what they say."""
    rows = connection.execute(
        "SELECT v.id, v.number, v.name, v.member_id, m.number, v.entered FROM variations v "
        "LEFT JOIN members m ON m.id = v.member_id LEFT JOIN taken_down t ON t.group_id = v.group_id AND t.number = v.lick "
        "WHERE v.challenge_id = ? AND v.state = 'entered' AND t.number IS NULL ORDER BY v.number",
        (challenge_id,),
    )
    return [EntryRow(*row) for row in rows]


def same_variation(
    connection: sqlite3.Connection, challenge_id: int, identity: bytes, but: int | None
) -> int | None:
    """The number of one of the same challenge that is the same, note for note, other than number ``but``."""
    row = connection.execute(
        "SELECT number FROM variations WHERE challenge_id = ? AND identity = ? AND number IS NOT ? "
        "AND state IN ('held', 'entered') ORDER BY number LIMIT 1",
        (challenge_id, identity, but),
    ).fetchone()
    return int(row[0]) if row else None


@dataclass(frozen=True, slots=True)
class Content:
    """What a variation says: all of it is replaced by a revision."""

    state: str
    name: str
    comment: str
    body: str | None
    facts: str | None
    identity: bytes | None


def add_variation(
    connection: sqlite3.Connection,
    group_id: int,
    challenge_id: int,
    member_id: int,
    content: Content,
    recording_id: int | None,
    at: str,
) -> int:
    """Its number in the group."""
    (number,) = connection.execute(
        "INSERT INTO variations (group_id, number, challenge_id, member_id, revision, state, name, comment, body, facts, "
        "identity, recording_id, entered) VALUES (?, (SELECT coalesce(max(number), 0) + 1 FROM variations "
        "WHERE group_id = ?), ?, ?, 1, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING number",
        (
            group_id,
            group_id,
            challenge_id,
            member_id,
            content.state,
            content.name,
            content.comment,
            content.body,
            content.facts,
            content.identity,
            recording_id,
            at,
        ),
    ).fetchone()
    return int(number)


def change_variation(
    connection: sqlite3.Connection, variation_id: int, expected: int, content: Content, tab_by: int | None
) -> bool:
    """Replace what it says, made from revision ``expected``; False if that is not the newest."""
    done = connection.execute(
        "UPDATE variations SET revision = revision + 1, state = ?, name = ?, comment = ?, body = ?, facts = ?, "
        "identity = ?, tab_by = ? WHERE id = ? AND revision = ? AND state IN ('held', 'entered')",
        (
            content.state,
            content.name,
            content.comment,
            content.body,
            content.facts,
            content.identity,
            tab_by,
            variation_id,
            expected,
        ),
    )
    return done.rowcount == 1


def set_state(connection: sqlite3.Connection, row: VariationRow, state: str) -> None:
    """Votes for one that can be voted for no more are gone."""
    connection.execute("UPDATE variations SET state = ? WHERE id = ?", (state, row.id))
    if state != ENTERED:
        drop_votes(connection, row)


def set_reason(connection: sqlite3.Connection, variation_id: int, reason: str) -> None:
    connection.execute("UPDATE variations SET reason = ? WHERE id = ?", (reason, variation_id))


def set_lick(connection: sqlite3.Connection, variation_id: int, lick: int) -> None:
    connection.execute("UPDATE variations SET lick = ? WHERE id = ?", (lick, variation_id))


def set_results(connection: sqlite3.Connection, results: Sequence[tuple[int, int, int]]) -> None:
    """(variation id, votes, chances) of all entries in one statement: at each one, and at each row, a thread gives way to others."""
    connection.execute(
        "UPDATE variations SET votes = r.value ->> 1, chances = r.value ->> 2 FROM json_each(?) r "
        "WHERE variations.id = r.value ->> 0",
        (json.dumps(results),),
    )


def results(connection: sqlite3.Connection, group_id: int) -> list[tuple[int, int, int, int | None]]:
    """(variation number, votes, chances, lick in the pool) of all whose challenge has closed."""
    rows = connection.execute(
        "SELECT v.number, v.votes, v.chances, v.lick FROM variations v LEFT JOIN taken_down t "
        "ON t.group_id = v.group_id AND t.number = v.lick WHERE v.group_id = ? AND v.state = 'entered' "
        "AND v.votes IS NOT NULL AND t.number IS NULL ORDER BY v.number",
        (group_id,),
    )
    return [(int(row[0]), int(row[1]), int(row[2]), row[3]) for row in rows]


# --- recordings -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RecordingRow:
    media_type: str
    digest: bytes
    content: bytes


def add_recording(
    connection: sqlite3.Connection, group_id: int, media_type: str, digest: bytes, content: bytes, at: str
) -> int:
    (recording_id,) = connection.execute(
        "INSERT INTO recordings (group_id, media_type, digest, content, created) VALUES (?, ?, ?, ?, ?) RETURNING id",
        (group_id, media_type, digest, content, at),
    ).fetchone()
    return int(recording_id)


def set_recording(connection: sqlite3.Connection, variation_id: int, recording_id: int | None) -> None:
    """Another recording in the place of the one there was, which is deleted."""
    connection.execute(
        "DELETE FROM recordings WHERE id = (SELECT recording_id FROM variations WHERE id = ?)",
        (variation_id,),
    )
    connection.execute(
        "UPDATE variations SET recording_id = ?, revision = revision + 1 WHERE id = ?",
        (recording_id, variation_id),
    )


def recording(connection: sqlite3.Connection, recording_id: int) -> RecordingRow | None:
    row = connection.execute(
        "SELECT media_type, digest, content FROM recordings WHERE id = ?", (recording_id,)
    ).fetchone()
    return RecordingRow(*row) if row else None


def recorded_bytes(connection: sqlite3.Connection, group_id: int) -> int:
    """What a group's recordings come to."""
    (total,) = connection.execute(
        "SELECT coalesce(sum(length(content)), 0) FROM recordings WHERE group_id = ?", (group_id,)
    ).fetchone()
    return int(total)


# --- votes ------------------------------------------------------------------------------------------------


def cast_vote(
    connection: sqlite3.Connection, challenge_id: int, variation_id: int, member_id: int, at: str
) -> bool:
    """False if this member has voted for it already."""
    done = connection.execute(
        "INSERT INTO votes (challenge_id, variation_id, member_id, given) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING",
        (challenge_id, variation_id, member_id, at),
    )
    return done.rowcount == 1


def take_vote_back(
    connection: sqlite3.Connection, challenge_id: int, variation_id: int, member_id: int
) -> None:
    connection.execute(
        "DELETE FROM votes WHERE challenge_id = ? AND variation_id = ? AND member_id = ?",
        (challenge_id, variation_id, member_id),
    )


def votes_in(connection: sqlite3.Connection, challenge_id: int) -> list[tuple[int, int, str]]:
    """(variation id, member id, when) of every vote in a challenge."""
    (votes,) = connection.execute(
        "SELECT json_group_array(json_array(variation_id, member_id, given)) FROM votes WHERE challenge_id = ?",
        (challenge_id,),
    ).fetchone()
    return [(int(entry), int(member), str(given)) for entry, member, given in json.loads(votes)]


def has_voted(connection: sqlite3.Connection, row: VariationRow, member_id: int) -> bool:
    found = connection.execute(
        "SELECT 1 FROM votes WHERE challenge_id = ? AND variation_id = ? AND member_id = ?",
        (row.challenge_id, row.id, member_id),
    ).fetchone()
    return found is not None


def count_votes(connection: sqlite3.Connection, row: VariationRow) -> int:
    (count,) = connection.execute(
        "SELECT count(*) FROM votes WHERE challenge_id = ? AND variation_id = ?", (row.challenge_id, row.id)
    ).fetchone()
    return int(count)


def drop_votes(connection: sqlite3.Connection, row: VariationRow) -> None:
    connection.execute(
        "DELETE FROM votes WHERE challenge_id = ? AND variation_id = ?", (row.challenge_id, row.id)
    )
