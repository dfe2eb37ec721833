"""Licks taken down, for rights' sake or another reason, and put back.

To retire a lick is to be done with it: breaks go on playing it. One that is taken down is kept from everybody: its pages
say so, and breaks that hold it have a rest in its place, until it is put back.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, Erased, NotFound
from service.judge.facts import RULES_VERSION
from service.store import licks as lick_rows
from service.store import taken_down as rows
from service.store.licks import IN_POOL, LickRow
from service.store.reports import tell_borrowers
from service.store.taken_down import TakenDownRow
from service.usecases.audited import note
from service.usecases.facts import keep_facts
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import kept, unless_there


@dataclass(frozen=True, slots=True)
class TakenDownLick:
    """``created`` is when the lick was first taken down; ``by`` the member who gave the reason, if known."""

    number: int
    revision: int
    reason: str
    created: str
    by: str | None


def _told(row: TakenDownRow) -> TakenDownLick:
    return TakenDownLick(row.number, row.revision, row.reason, row.created, row.by)


def revision_to_take_down(house: House, caller: Caller, group_slug: str, number: int) -> int:
    """The newest revision of a lick, taken down or not, for those who may take it down. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "take-licks-down")
    return _lick(house, group.id, number).revision


def _lick(house: House, group_id: int, number: int) -> LickRow:
    row = lick_rows.lick_by_number(house.database.points, group_id, number, RULES_VERSION)
    if row is None:
        raise NotFound("not-found", what="lick")
    if row.state == lick_rows.ERASED:
        raise Erased("erased", lick=number)
    return row


async def take_down(
    house: House, caller: Caller, group_slug: str, number: int, revision: int, reason: str
) -> TakenDownLick:
    """Take a lick down, retired ones and drafts too; one that is down already gets another reason.

    Raises NotFound, Conflict ``changed``.
    """
    group = reach_group(house, caller, group_slug, "take-licks-down")
    now = stamp(house.clock())

    def unit(connection: Connection) -> TakenDownLick:
        return taken_down_within(connection, caller, group.id, number, revision, reason, now)

    told = await house.database.write(unit)
    await house.renders.forget(group.id)
    return told


def taken_down_within(
    connection: Connection, caller: Caller, group_id: int, number: int, revision: int, reason: str, now: str
) -> TakenDownLick:
    """Within a unit: take a lick down and tell those who borrowed it. Renders are the caller's to forget.

    Raises NotFound, Conflict ``changed``.
    """
    if rows.take_down(connection, group_id, number, revision, reason, caller.member_id, now):
        tell_borrowers(connection, group_id, number, now)
        note(connection, caller, group_id, now, "take-lick-down", f"lick {number}")
        row = rows.taken_down(connection, group_id, number)
        if row is not None:
            return _told(row)
    present = lick_rows.lick_by_number(connection, group_id, number, RULES_VERSION)
    if present is None:
        raise NotFound("not-found", what="lick")
    raise Conflict("changed", revision=present.revision)


async def put_back(house: House, caller: Caller, group_slug: str, number: int, revision: int) -> None:
    """Put a lick back as it was: into the pool, among the drafts, or retired. If the pool has got the same lick meanwhile it
    comes back as a draft.

    Raises NotFound ``not-taken-down``, Conflict ``changed``.
    """
    group = reach_group(house, caller, group_slug, "take-licks-down")
    found = kept(_lick(house, group.id, number))
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        row = rows.taken_down(connection, group.id, number)
        if row is None:
            raise NotFound("not-taken-down", lick=number)
        if row.revision != revision or found.revision != revision:
            raise Conflict("changed", revision=row.revision)
        state = row.state
        if state == IN_POOL:
            facts, state = unless_there(connection, group.id, found.lick, found.facts, state, but=number)
            keep_facts(connection, group.id, number, revision, found.lick, facts)
        rows.put_back(connection, group.id, number, state)
        note(connection, caller, group.id, now, "put-lick-back", f"lick {number}")

    await house.database.write(unit)


def get_taken_down(house: House, caller: Caller, group_slug: str, number: int) -> TakenDownLick:
    """Why a lick was taken down. Raises NotFound ``not-found`` or ``not-taken-down``."""
    group = reach_group(house, caller, group_slug, "take-licks-down")
    _lick(house, group.id, number)
    row = rows.taken_down(house.database.points, group.id, number)
    if row is None:
        raise NotFound("not-taken-down", lick=number)
    return _told(row)


def list_taken_down(
    house: House, caller: Caller, group_slug: str, after: int, limit: int
) -> Sequence[TakenDownLick]:
    """Every lick that is taken down, by number."""
    group = reach_group(house, caller, group_slug, "take-licks-down")
    return [_told(row) for row in rows.taken_down_after(house.database.points, group.id, after, limit)]
