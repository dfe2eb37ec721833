"""Who is asking, and what they may reach."""

import hashlib
import re
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from sqlite3 import Connection

from service.clock import stamp
from service.errors import DomainError, Forbidden, NotFound, Unauthenticated
from service.groups.permissions import may
from service.store import groups as rows
from service.store import people, tokens
from service.store.groups import GroupRow
from service.store.tokens import TokenRow
from service.usecases.house import House

TOKEN_BYTES = 32
TOKEN_MARK = "bw"  # at the beginning: a command line takes what begins with a dash for an option
NOWHERE = -1  # the group of whoever asks from a server that belongs to none
_ACTING = re.compile(r"([!-9;-~]{1,40}):([!-~]{1,80})")


@dataclass(frozen=True, slots=True)
class Caller:
    """The holder of a token, or the person that a bot acts for.

    ``group_id`` is None for tokens of the whole service; ``scopes`` None is a token that is held to none; ``user`` is
    (platform, id) of a person that a bot acts for.
    """

    token_id: int
    role: str
    group_id: int | None
    member_id: int | None
    scopes: frozenset[str] | None = None
    member_number: int | None = None
    user: tuple[str, str] | None = None

    @property
    def name(self) -> str:
        """What this caller's Idempotency-Keys belong to."""
        who = "" if self.user is None else f":{self.group_id}:{self.user[0]}:{self.user[1]}"
        return f"token:{self.token_id}{who}"


# whoever sits at the machine may read what is kept on it
AT_THE_MACHINE = Caller(0, "operator", None, None)


def new_token() -> tuple[str, bytes]:
    """A fresh token and the digest that is kept of it."""
    token = TOKEN_MARK + secrets.token_urlsafe(TOKEN_BYTES)
    return token, digest(token)


def digest(token: str) -> bytes:
    return hashlib.sha256(token.encode()).digest()


def identify(
    house: House, token: str | None, on_behalf_of: str | None = None, acting_server: str | None = None
) -> Caller:
    """The caller behind a token; with ``on_behalf_of`` (``platform:user``) the person a bot acts for on a server.

    Raises Unauthenticated, Forbidden ``acting-not-allowed``, DomainError ``bad-acting``.
    """
    if not token:
        raise Unauthenticated("no-token")
    key = digest(token)
    row = house.callers.get(key)
    if row is None:
        row = tokens.token_by_digest(house.database.points, key)
        if row is None:
            raise Unauthenticated("bad-token")
        house.callers.put(key, row)
    if row.expires is not None and row.expires <= stamp(house.clock()):
        raise Unauthenticated("bad-token")
    caller = _caller(row)
    if on_behalf_of is None:
        return caller
    if row.role != "bot":
        raise Forbidden("acting-not-allowed")
    return _acting(house, caller, on_behalf_of, acting_server)


def _caller(row: TokenRow) -> Caller:
    """A token gives its member no more than the member is."""
    role = "member" if row.role == "organiser" and row.member_role == "member" else row.role
    return Caller(row.id, role, row.group_id, row.member_id, scopes_of(row), row.member_number)


def scopes_of(row: TokenRow) -> frozenset[str] | None:
    return None if row.scopes is None else frozenset(row.scopes.split())


def _acting(house: House, bot: Caller, on_behalf_of: str, acting_server: str | None) -> Caller:
    """The person a bot acts for: a member of the group that the server belongs to, or a guest there."""
    key = (bot.token_id, on_behalf_of, acting_server)
    known = house.acting.get(key)
    if known is not None:
        return known
    found = _ACTING.fullmatch(on_behalf_of)
    if found is None:
        raise DomainError("bad-acting", header="On-Behalf-Of")
    platform, user_id = found.groups()
    points = house.database.points
    group = None if acting_server is None else rows.group_by_server(points, platform, acting_server)
    caller = replace(
        bot, role="guest", group_id=NOWHERE if group is None else group.id, user=(platform, user_id)
    )
    if group is not None:
        member = people.member_by_user(points, group.id, platform, user_id)
        if member is not None and member.left_at is None:
            caller = replace(caller, role=member.role, member_id=member.id, member_number=member.number)
    house.acting.put(key, caller)
    return caller


def require(caller: Caller, action: str) -> None:
    """Raise Forbidden if the caller's role or token may not do this."""
    if not may(caller.role, caller.scopes, action):
        if caller.role == "guest":
            raise Forbidden("not-joined")
        raise Forbidden("not-allowed", action=action)


def reach_group(house: House, caller: Caller, slug: str, action: str) -> GroupRow:
    """The group, if the caller belongs to it and may do this there.

    Raises NotFound for another group's name just as for one that is not there.
    """
    if caller.group_id is None:
        require(caller, action)  # whoever may not reach groups learns of none
    group = house.groups.get(slug)
    if group is None:
        group = rows.group_by_slug(house.database.points, slug)
        if group is not None:
            house.groups.put(slug, group)
    if group is None or (caller.group_id is not None and caller.group_id != group.id):
        raise NotFound("not-found", what="group")
    require(caller, action)
    return group


def member_of(caller: Caller) -> int:
    """The id of the member who asks. Raises Forbidden ``no-member`` for a token that belongs to nobody."""
    if caller.member_id is None:
        raise Forbidden("no-member")
    return caller.member_id


def expiry(house: House, days: int | None) -> str | None:
    return None if days is None else stamp(house.clock() + timedelta(days=days))


async def make_token(
    house: House,
    role: str,
    group: str | None,
    member: str | None,
    days: int | None = None,
    scopes: Sequence[str] | None = None,
) -> str:
    """A new token, shown once. Raises NotFound for an unknown group."""
    token, kept = new_token()
    now, expires = stamp(house.clock()), expiry(house, days)
    group_id: int | None = None
    if group is not None:
        row = rows.group_by_slug(house.database.points, group)
        if row is None:
            raise NotFound("no-group-yet", name=group)
        group_id = row.id

    def unit(connection: Connection) -> None:
        member_id = None
        if member is not None and group_id is not None:
            member_id = people.member_named(connection, group_id, member, role, now)
        held = None if scopes is None else " ".join(sorted(set(scopes)))
        tokens.add_token(connection, kept, role, group_id, member_id, now, held, expires)

    await house.database.write(unit)
    return token


async def first_token(house: House) -> str | None:
    """The operator token of a new service; None if there is one already."""
    if tokens.has_operator(house.database.points, stamp(house.clock())):
        return None
    return await make_token(house, "operator", None, None)
