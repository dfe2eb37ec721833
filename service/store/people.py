"""Members of groups, and invitations."""

import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MemberRow:
    """``number`` counts within the group; ``left_at`` is when somebody left, ``shown_out``
    that others made them, ``erased`` when they were erased."""

    id: int
    group_id: int
    number: int
    name: str
    role: str
    platform: str | None
    user_id: str | None
    created: str
    left_at: str | None
    shown_out: bool
    erased: str | None


_MEMBER = "id, group_id, number, name, role, platform, user_id, created, left_at, shown_out, erased"


def member_by_id(connection: sqlite3.Connection, member_id: int) -> MemberRow | None:
    row = connection.execute(f"SELECT {_MEMBER} FROM members WHERE id = ?", (member_id,)).fetchone()
    return MemberRow(*row) if row else None


def member_by_number(connection: sqlite3.Connection, group_id: int, number: int) -> MemberRow | None:
    row = connection.execute(
        f"SELECT {_MEMBER} FROM members WHERE group_id = ? AND number = ?", (group_id, number)
    ).fetchone()
    return MemberRow(*row) if row else None


def member_by_user(
    connection: sqlite3.Connection, group_id: int, platform: str, user_id: str
) -> MemberRow | None:
    row = connection.execute(
        f"SELECT {_MEMBER} FROM members WHERE group_id = ? AND platform = ? AND user_id = ?",
        (group_id, platform, user_id),
    ).fetchone()
    return MemberRow(*row) if row else None


def member_named_so(connection: sqlite3.Connection, group_id: int, name: str) -> MemberRow | None:
    """The member of that name, if one is in the group."""
    row = connection.execute(
        f"SELECT {_MEMBER} FROM members WHERE group_id = ? AND name = ? AND left_at IS NULL", (group_id, name)
    ).fetchone()
    return MemberRow(*row) if row else None


@dataclass(frozen=True, slots=True)
class Membership:
    """A group on a chat platform's server, and who somebody is in it; ``server_id`` is null for one on no platform."""

    slug: str
    name: str
    server_id: str | None
    role: str
    number: int


_MEMBERSHIP = (
    "SELECT g.slug, g.name, g.server_id, m.role, m.number FROM members m JOIN groups g ON g.id = m.group_id "
)


def memberships_of_user(
    connection: sqlite3.Connection, platform: str, user_id: str, slug: str, limit: int
) -> list[Membership]:
    """Groups on a platform that somebody there is a member of now, with later slugs, in order."""
    rows = connection.execute(
        _MEMBERSHIP
        + "WHERE m.platform = ? AND m.user_id = ? AND m.left_at IS NULL AND g.platform = m.platform "
        "AND g.slug > ? ORDER BY g.slug LIMIT ?",
        (platform, user_id, slug, limit),
    )
    return [Membership(*row) for row in rows]


def membership(connection: sqlite3.Connection, member_id: int) -> Membership | None:
    """The group of a member who has not left."""
    row = connection.execute(_MEMBERSHIP + "WHERE m.id = ? AND m.left_at IS NULL", (member_id,)).fetchone()
    return Membership(*row) if row else None


def members_after(
    connection: sqlite3.Connection, group_id: int, number: int, limit: int, *, gone: bool = False
) -> list[MemberRow]:
    """Members with larger numbers, in order; those who left only if asked for."""
    rows = connection.execute(
        f"SELECT {_MEMBER} FROM members WHERE group_id = ? AND number > ? AND (? OR left_at IS NULL) "
        "ORDER BY number LIMIT ?",
        (group_id, number, gone, limit),
    )
    return [MemberRow(*row) for row in rows]


def organisers(connection: sqlite3.Connection, group_id: int) -> list[MemberRow]:
    rows = connection.execute(
        f"SELECT {_MEMBER} FROM members WHERE group_id = ? AND role = 'organiser' AND left_at IS NULL "
        "ORDER BY number",
        (group_id,),
    )
    return [MemberRow(*row) for row in rows]


def member_named(connection: sqlite3.Connection, group_id: int, name: str, role: str, created: str) -> int:
    """The id of the member of that name; added if the group has none. Whoever is named an organiser becomes one."""
    row = connection.execute(
        "SELECT id FROM members WHERE group_id = ? AND name = ?", (group_id, name)
    ).fetchone()
    if row is None:
        return add_member(connection, group_id, name, role, None, None, created).id
    if role == "organiser":
        connection.execute("UPDATE members SET role = ? WHERE id = ?", (role, row[0]))
    return int(row[0])


def add_member(
    connection: sqlite3.Connection,
    group_id: int,
    name: str,
    role: str,
    platform: str | None,
    user_id: str | None,
    created: str,
) -> MemberRow:
    """Add a member under the next number; a name that is taken gets a count behind it."""
    (number,) = connection.execute(
        "SELECT coalesce(max(number), 0) + 1 FROM members WHERE group_id = ?", (group_id,)
    ).fetchone()
    row = connection.execute(
        "INSERT INTO members (group_id, number, name, role, platform, user_id, created) "
        f"VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING {_MEMBER}",
        (group_id, number, _free_name(connection, group_id, name), role, platform, user_id, created),
    ).fetchone()
    return MemberRow(*row)


def _free_name(connection: sqlite3.Connection, group_id: int, name: str) -> str:
    count, free = 1, name
    while connection.execute(
        "SELECT 1 FROM members WHERE group_id = ? AND name = ?", (group_id, free)
    ).fetchone():
        count += 1
        free = f"{name} {count}"
    return free


def come_back(connection: sqlite3.Connection, member_id: int) -> None:
    connection.execute("UPDATE members SET left_at = NULL, shown_out = 0 WHERE id = ?", (member_id,))


def change_member(connection: sqlite3.Connection, member_id: int, name: str, role: str) -> bool:
    """False if another member has that name."""
    done = connection.execute(
        "UPDATE OR IGNORE members SET name = ?, role = ? WHERE id = ?", (name, role, member_id)
    )
    return done.rowcount == 1


def leave(connection: sqlite3.Connection, member_id: int, at: str, *, shown_out: bool = False) -> None:
    """A member is one no more: no token of theirs holds."""
    connection.execute(
        "UPDATE members SET left_at = ?, role = 'member', shown_out = ? WHERE id = ?",
        (at, shown_out, member_id),
    )
    connection.execute(
        "UPDATE tokens SET revoked = ? WHERE member_id = ? AND revoked IS NULL", (at, member_id)
    )


@dataclass(frozen=True, slots=True)
class InvitationRow:
    id: int
    role: str
    uses: int
    expires: str
    created: str


_INVITATION = "id, role, uses, expires, created"


def add_invitation(
    connection: sqlite3.Connection,
    group_id: int,
    digest: bytes,
    role: str,
    uses: int,
    expires: str,
    created: str,
) -> InvitationRow:
    row = connection.execute(
        "INSERT INTO invitations (group_id, digest, role, uses, expires, created) VALUES (?, ?, ?, ?, ?, ?) "
        f"RETURNING {_INVITATION}",
        (group_id, digest, role, uses, expires, created),
    ).fetchone()
    return InvitationRow(*row)


def invitations_after(
    connection: sqlite3.Connection, group_id: int, after: int, limit: int, now: str
) -> list[InvitationRow]:
    """Those that still let somebody in."""
    rows = connection.execute(
        f"SELECT {_INVITATION} FROM invitations WHERE group_id = ? AND id > ? AND uses > 0 AND expires > ? "
        "ORDER BY id LIMIT ?",
        (group_id, after, now, limit),
    )
    return [InvitationRow(*row) for row in rows]


def use_invitation(connection: sqlite3.Connection, group_id: int, digest: bytes, now: str) -> str | None:
    """Use an invitation up once; the role it gives, or None if it lets nobody in."""
    row = connection.execute(
        "UPDATE invitations SET uses = uses - 1 WHERE group_id = ? AND digest = ? AND uses > 0 AND expires > ? "
        "RETURNING role",
        (group_id, digest, now),
    ).fetchone()
    return str(row[0]) if row else None


def withdraw_invitation(connection: sqlite3.Connection, group_id: int, invitation_id: int) -> bool:
    done = connection.execute(
        "DELETE FROM invitations WHERE group_id = ? AND id = ?", (group_id, invitation_id)
    )
    return done.rowcount == 1
