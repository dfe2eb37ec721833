"""Members: joining, inviting, what they are, leaving."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, Forbidden, NotFound
from service.store import groups as group_rows
from service.store import people as rows
from service.store.groups import GroupRow
from service.store.people import InvitationRow, MemberRow, Membership
from service.usecases.audited import note
from service.usecases.group_settings import settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, digest, expiry, member_of, reach_group, require
from service.usecases.once import Once, write_once

INVITATION_BYTES = 9  # 72 bits in 12 characters that can be read out


def list_members(
    house: House, caller: Caller, group_slug: str, after: int, limit: int, *, gone: bool = False
) -> Sequence[MemberRow]:
    group = reach_group(house, caller, group_slug, "read-group")
    return rows.members_after(house.database.points, group.id, after, limit, gone=gone)


def who_am_i(house: House, caller: Caller) -> tuple[Caller, GroupRow | None, MemberRow | None]:
    """The caller with their group and what is known of them there."""
    points = house.database.points
    group = None if caller.group_id is None else group_rows.group_by_id(points, caller.group_id)
    member = None if caller.member_id is None else rows.member_by_id(points, caller.member_id)
    return caller, group, member


def my_groups(house: House, caller: Caller, after: str, limit: int) -> Sequence[Membership]:
    """The groups that a person is a member of: of somebody whom a bot acts for those on that platform, whichever server they ask
    from; of a token's member the one. Raises Forbidden for whoever is no person: an operator, a bot for itself, nobody's token.
    """
    require(caller, "read-own-groups")
    points = house.database.points
    if caller.user is not None:
        return rows.memberships_of_user(points, *caller.user, after, limit)
    own = rows.membership(points, member_of(caller))
    return [own] if own is not None and own.slug > after else []


def get_member(house: House, caller: Caller, group_slug: str, number: int) -> MemberRow:
    group = reach_group(house, caller, group_slug, "read-group")
    return find_member(house.database.points, group.id, number)


def find_member(connection: Connection, group_id: int, number: int) -> MemberRow:
    """A member who has not left. Raises NotFound."""
    row = rows.member_by_number(connection, group_id, number)
    if row is None or row.left_at is not None:
        raise NotFound("not-found", what="member")
    return row


async def add_member(
    house: House, caller: Caller, group_slug: str, name: str, role: str, once: Once[MemberRow] | None
) -> MemberRow:
    """An organiser writes somebody down who is on no platform."""
    group = reach_group(house, caller, group_slug, "change-members")
    now = stamp(house.clock())

    def unit(connection: Connection) -> MemberRow:
        row = rows.add_member(connection, group.id, name, role, None, None, now)
        note(connection, caller, group.id, now, "add-member", f"member {row.number}", role=role)
        return row

    return await write_once(house, caller, once, unit)


async def join(
    house: House,
    caller: Caller,
    group_slug: str,
    name: str,
    invitation: str | None,
    manages_server: bool,
    once: Once[MemberRow] | None = None,
) -> MemberRow:
    """The person a bot acts for becomes a member; one who is already is told so.

    Whoever may manage the server becomes the first organiser, if there is none yet. Raises Forbidden where only those who
    were invited may come in.
    """
    group = reach_group(house, caller, group_slug, "join")
    if caller.user is None:
        raise Forbidden("no-user")
    platform, user_id = caller.user
    invited_only = settings_of(group).door == "invited"
    now = stamp(house.clock())

    def unit(connection: Connection) -> MemberRow:
        present = rows.member_by_user(connection, group.id, platform, user_id)
        first = manages_server and not rows.organisers(connection, group.id)
        if present is not None and present.left_at is None and not first:
            return present
        role = None
        if invitation is not None:
            role = rows.use_invitation(connection, group.id, digest(invitation), now)
            if role is None:
                raise NotFound("no-such-invitation")
        if first:
            role = "organiser"
        if role is None and (invited_only or (present is not None and present.shown_out)):
            raise Forbidden("invited-only")
        if present is not None:
            rows.come_back(connection, present.id)
            rows.change_member(connection, present.id, present.name, role or "member")
        else:
            rows.add_member(connection, group.id, name, role or "member", platform, user_id, now)
        row = rows.member_by_user(connection, group.id, platform, user_id)
        if row is None:
            raise RuntimeError("a member just added is not there")
        note(connection, caller, group.id, now, "join", f"member {row.number}", role=row.role)
        return row

    return await write_once(house, caller, once, unit)


async def change_member(
    house: House, caller: Caller, group_slug: str, number: int, name: str | None, role: str | None
) -> MemberRow:
    """Another name or role. Members may change their own name. Raises Conflict if nobody would be left to organise."""
    group = reach_member(house, caller, group_slug, number, "change-members" if role is not None else None)
    now = stamp(house.clock())

    def unit(connection: Connection) -> MemberRow:
        row = find_member(connection, group.id, number)
        if role == "member":
            keep_an_organiser(connection, group.id, row)
        if not rows.change_member(connection, row.id, name or row.name, role or row.role):
            raise Conflict("exists", what="member", name=name)
        if role is not None:
            note(connection, caller, group.id, now, "change-role", f"member {number}", role=role)
        if name is not None and row.id != caller.member_id:
            note(connection, caller, group.id, now, "rename-member", f"member {number}")
        return find_member(connection, group.id, number)

    return await house.database.write(unit)


def reach_member(house: House, caller: Caller, group_slug: str, number: int, action: str | None) -> GroupRow:
    """The group: for oneself anybody's, for others an organiser's."""
    if action is None and number == caller.member_number:
        return reach_group(house, caller, group_slug, "change-oneself")
    return reach_group(house, caller, group_slug, action or "change-members")


def keep_an_organiser(connection: Connection, group_id: int, leaving: MemberRow) -> None:
    """Raises Conflict ``last-organiser``."""
    others = [row for row in rows.organisers(connection, group_id) if row.id != leaving.id]
    if leaving.role == "organiser" and not others:
        raise Conflict("last-organiser")


async def leave(house: House, caller: Caller, group_slug: str, number: int) -> None:
    """A member leaves, or is shown out, and then comes back by invitation alone; what they sent in stays, with their name. Their
    tokens hold no more."""
    group = reach_member(house, caller, group_slug, number, None)
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        row = find_member(connection, group.id, number)
        others = rows.members_after(connection, group.id, 0, 2)
        if len(others) > 1:  # the last one of all may go
            keep_an_organiser(connection, group.id, row)
        rows.leave(connection, row.id, now, shown_out=number != caller.member_number)
        note(connection, caller, group.id, now, "leave", f"member {number}")

    await house.database.write(unit)


@dataclass(frozen=True, slots=True)
class Invitation:
    """``code`` is shown once, when it is made."""

    row: InvitationRow
    code: str | None = None


async def invite(
    house: House,
    caller: Caller,
    group_slug: str,
    role: str,
    uses: int,
    days: int,
    once: Once[Invitation] | None,
) -> Invitation:
    group = reach_group(house, caller, group_slug, "change-members")
    code, now = secrets.token_urlsafe(INVITATION_BYTES), stamp(house.clock())
    expires = expiry(house, days) or now

    def unit(connection: Connection) -> Invitation:
        row = rows.add_invitation(connection, group.id, digest(code), role, uses, expires, now)
        note(connection, caller, group.id, now, "invite", f"invitation {row.id}", role=role, uses=uses)
        return Invitation(row, code)

    return await write_once(house, caller, once, unit)


def list_invitations(
    house: House, caller: Caller, group_slug: str, after: int, limit: int
) -> Sequence[Invitation]:
    group = reach_group(house, caller, group_slug, "change-members")
    now = stamp(house.clock())
    found = rows.invitations_after(house.database.points, group.id, after, limit, now)
    return [Invitation(row) for row in found]


async def withdraw_invitation(house: House, caller: Caller, group_slug: str, invitation_id: int) -> None:
    group = reach_group(house, caller, group_slug, "change-members")
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        if not rows.withdraw_invitation(connection, group.id, invitation_id):
            raise NotFound("not-found", what="invitation")
        note(connection, caller, group.id, now, "withdraw-invitation", f"invitation {invitation_id}")

    await house.database.write(unit)
