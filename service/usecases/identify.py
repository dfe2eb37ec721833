"""Who is asking, and what they may reach."""

import hashlib
import secrets
from dataclasses import dataclass
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Forbidden, NotFound, Unauthenticated
from service.groups.permissions import may
from service.store import groups as rows
from service.store.groups import GroupRow
from service.usecases.house import House

TOKEN_BYTES = 32


@dataclass(frozen=True, slots=True)
class Caller:
    """The holder of a token; ``group_id`` is None for tokens of the whole service."""

    token_id: int
    role: str
    group_id: int | None
    member_id: int | None


def new_token() -> tuple[str, bytes]:
    """A fresh token and the digest that is kept of it."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    return token, digest(token)


def digest(token: str) -> bytes:
    return hashlib.sha256(token.encode()).digest()


def identify(house: House, token: str | None) -> Caller:
    """The caller behind a token. Raises Unauthenticated."""
    if not token:
        raise Unauthenticated("no-token")
    key = digest(token)
    row = house.callers.get(key)
    if row is None:
        row = rows.token_by_digest(house.database.points, key)
        if row is None:
            raise Unauthenticated("bad-token")
        house.callers.put(key, row)
    return Caller(row.id, row.role, row.group_id, row.member_id)


def require(caller: Caller, action: str) -> None:
    """Raise Forbidden if the caller's role may not do this."""
    if not may(caller.role, action):
        raise Forbidden("not-allowed", action=action)


def reach_group(house: House, caller: Caller, slug: str, action: str) -> GroupRow:
    """The group, if the caller belongs to it and may do this there.

    Raises NotFound for another group's name just as for one that is not there.
    """
    group = house.groups.get(slug)
    if group is None:
        group = rows.group_by_slug(house.database.points, slug)
        if group is not None:
            house.groups.put(slug, group)
    if group is None or (caller.group_id is not None and caller.group_id != group.id):
        raise NotFound("not-found", what="group")
    require(caller, action)
    return group


async def make_token(house: House, role: str, group: str | None, member: str | None) -> str:
    """A new token, shown once. Raises NotFound for an unknown group."""
    token, kept = new_token()
    now = stamp(house.clock())
    group_id: int | None = None
    if group is not None:
        row = rows.group_by_slug(house.database.points, group)
        if row is None:
            raise NotFound("no-group-yet", name=group)
        group_id = row.id

    def unit(connection: Connection) -> None:
        member_id = None
        if member is not None and group_id is not None:
            member_id = rows.member_named(connection, group_id, member, now)
        rows.add_token(connection, kept, role, group_id, member_id, now)

    await house.database.write(unit)
    return token


async def first_token(house: House) -> str | None:
    """The operator token of a new service; None if there is one already."""
    if rows.has_operator(house.database.points):
        return None
    return await make_token(house, "operator", None, None)
