"""Tokens over the API: made, listed, rotated, revoked. ``group_slug`` None means those of the whole service."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, Forbidden, NotFound
from service.store import tokens as rows
from service.store.tokens import TokenRow
from service.usecases.audited import note
from service.usecases.house import House
from service.usecases.identify import Caller, expiry, new_token, reach_group, require, scopes_of
from service.usecases.once import Once, write_once
from service.usecases.people import find_member


@dataclass(frozen=True, slots=True)
class Token:
    """``secret`` is shown once, when it is made."""

    row: TokenRow
    secret: str | None = None


def _reach(house: House, caller: Caller, group_slug: str | None) -> int | None:
    if group_slug is None:
        require(caller, "change-service-tokens")
        return None
    return reach_group(house, caller, group_slug, "change-tokens").id


def _noted(
    connection: Connection, caller: Caller, group_id: int | None, now: str, action: str, token_id: int
) -> None:
    if group_id is not None:
        note(connection, caller, group_id, now, action, f"token {token_id}")


async def make_token(
    house: House,
    caller: Caller,
    group_slug: str | None,
    role: str,
    member: int | None,
    scopes: Sequence[str] | None,
    days: int | None,
    label: str | None,
    once: Once[Token] | None,
) -> Token:
    """A token for a member (by number) or for nobody in particular, held to what its maker's is unless to less.

    Raises Forbidden for scopes that the maker's own token lacks.
    """
    group_id = _reach(house, caller, group_slug)
    held = caller.scopes if scopes is None else frozenset(scopes)
    _within(caller, held)
    secret, kept = new_token()
    now, expires = stamp(house.clock()), expiry(house, days)

    def unit(connection: Connection) -> Token:
        member_id = None
        if member is not None and group_id is not None:
            found = find_member(connection, group_id, member)
            if found.user_id is not None and found.id != caller.member_id and caller.role != "operator":
                raise Forbidden("not-your-token", member=member)
            if role == "organiser" and found.role != "organiser":
                raise Conflict("not-an-organiser", member=member)
            member_id = found.id
        row = rows.add_token(
            connection,
            kept,
            role,
            group_id,
            member_id,
            now,
            None if held is None else " ".join(sorted(held)),
            expires,
            label,
        )
        _noted(connection, caller, group_id, now, "make-token", row.id)
        return Token(row, secret)

    return await write_once(house, caller, once, unit)


def list_tokens(
    house: House, caller: Caller, group_slug: str | None, after: int, limit: int
) -> Sequence[Token]:
    group_id = _reach(house, caller, group_slug)
    found = rows.tokens_after(house.database.points, group_id, after, limit, stamp(house.clock()))
    return [Token(row) for row in found]


def _within(caller: Caller, scopes: frozenset[str] | None) -> None:
    """Nobody hands out more than their own token holds. Raises Forbidden ``beyond-own-scopes``."""
    if caller.scopes is not None and (scopes is None or not scopes <= caller.scopes):
        raise Forbidden("beyond-own-scopes", scopes=", ".join(sorted(caller.scopes)))


def _find(connection: Connection, group_id: int | None, token_id: int, now: str) -> TokenRow:
    row = rows.token_by_id(connection, group_id, token_id, now)
    if row is None:
        raise NotFound("not-found", what="token")
    return row


async def rotate_token(
    house: House,
    caller: Caller,
    group_slug: str | None,
    token_id: int,
    overlap_s: int,
    days: int | None,
    once: Once[Token] | None,
) -> Token:
    """A new secret for the same rights; the old one holds ``overlap_s`` seconds longer.

    Raises Forbidden for a token that reaches further than the caller's own.
    """
    group_id = _reach(house, caller, group_slug)
    secret, kept = new_token()
    now, expires = stamp(house.clock()), expiry(house, days)
    ends = stamp(house.clock() + timedelta(seconds=overlap_s))

    def unit(connection: Connection) -> Token:
        old = _find(connection, group_id, token_id, now)
        _within(caller, scopes_of(old))
        row = rows.add_token(
            connection,
            kept,
            old.role,
            group_id,
            old.member_id,
            now,
            old.scopes,
            old.expires if expires is None else expires,
            old.label,
        )
        rows.expire_token(connection, old.id, ends)
        _noted(connection, caller, group_id, now, "rotate-token", old.id)
        return Token(row, secret)

    return await write_once(house, caller, once, unit)


async def revoke_token(house: House, caller: Caller, group_slug: str | None, token_id: int) -> None:
    """The token holds no more. The last operator token stays: nobody could make another over the API."""
    group_id = _reach(house, caller, group_slug)
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        row = _find(connection, group_id, token_id, now)
        rows.revoke_token(connection, row.id, now)
        if row.role == "operator" and not rows.has_operator(connection, now):
            raise Conflict("last-operator")
        _noted(connection, caller, group_id, now, "revoke-token", row.id)

    await house.database.write(unit)
