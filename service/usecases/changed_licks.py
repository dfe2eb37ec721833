"""Licks changed, retired, made again what they were: organisers may any, members what they sent in."""

from collections.abc import Sequence
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.errors import BreakwrightError, Conflict, Erased, Fault, Forbidden, NotFound, TakenDown
from service.groups.permissions import may
from service.judge.facts import RULES_VERSION
from service.music.licks import Lick
from service.store import licks as rows
from service.store.groups import GroupRow
from service.store.licks import LickRow, RevisionRow
from service.usecases.audited import note
from service.usecases.facts import identity_of, keep_facts
from service.usecases.group_settings import settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group, require
from service.usecases.licks import (
    KeptLick,
    Submission,
    find_lick,
    find_row,
    is_held,
    judge_submission,
    just_kept,
    kept,
    read_lick,
    seen_by,
)
from service.usecases.readings import off_the_loop
from service.usecases.records import LickRecord, encode, lick_of, lick_record


def reach_to_change(house: House, caller: Caller, group_slug: str, number: int) -> tuple[GroupRow, LickRow]:
    """A lick for whoever may change or retire it: organisers any, members what they sent in themselves.

    Raises NotFound (also for one that is retired), TakenDown, Forbidden.
    """
    group = reach_group(house, caller, group_slug, "change-own-licks")
    row = find_row(house.database.points, group.id, number)
    if not may(caller.role, caller.scopes, "change-licks"):
        if caller.member_id is None or row.member_id != caller.member_id:
            require(caller, "change-licks")
        if row.state == rows.IN_POOL and settings_of(group).review:
            raise Forbidden("pool-is-reviewed", lick=number)
    if row.state == rows.RETIRED:
        raise NotFound("not-found", what="lick")
    return group, row


def _speaks_for(caller: Caller, row: LickRow) -> bool:
    """Whether the rights in a lick are the caller's to declare: its author's, or an organiser's where nobody sent it in."""
    return row.borrowed is None and (row.member_id is None or row.member_id == caller.member_id)


def _is_still(row: LickRow, lick: Lick) -> bool:
    return identity_of(lick_of(lick_record(row.body))) == identity_of(lick)


async def change_lick(
    house: House, caller: Caller, group_slug: str, number: int, revision: int, sent: Submission
) -> KeptLick:
    """Give a lick a new revision, made from ``revision``. Breaks keep the one they were made with."""
    reach_to_change(house, caller, group_slug, number)
    record, lick, warnings = await off_the_loop(lambda: read_lick(sent), sent.text)
    return await new_revision(house, caller, group_slug, number, revision, record, lick, warnings)


async def new_revision(
    house: House,
    caller: Caller,
    group_slug: str,
    number: int,
    revision: int,
    record: LickRecord,
    lick: Lick,
    warnings: tuple[Fault, ...] = (),
) -> KeptLick:
    """Judge what a lick becomes and keep it. Raises NotFound, TakenDown, Conflict ``changed``, Forbidden."""
    group, before = reach_to_change(house, caller, group_slug, number)
    if not _speaks_for(caller, before):
        declared = lick_record(before.body).rights
        if not declared.may_edit:
            raise Forbidden("author-edits", lick=number)
        record = msgspec.structs.replace(
            record,
            rights=msgspec.structs.replace(
                record.rights, may_submit=declared.may_submit, may_edit=True, may_share=declared.may_share
            ),
        )
    # where nothing that is judged has changed, it stays where it was put
    still = before.state in (rows.IN_POOL, rows.REVIEWED) and _is_still(before, lick)
    held = not still and is_held(caller, group, before)
    facts, state = await judge_submission(house, group, lick, but=number, held=held)
    if still or (before.state == rows.REVIEWED and state == rows.IN_POOL):
        state = before.state
    body, now = encode(record).decode(), stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        made = rows.change_lick(
            connection,
            group.id,
            number,
            record.instrument,
            record.tuning,
            body,
            now,
            revision,
            state,
            caller.member_id,
            before.state,
        )
        if made is None:
            raise no_longer(connection, group.id, number)
        keep_facts(connection, group.id, number, made, lick, facts)
        if caller.role != "member":
            note(connection, caller, group.id, now, "change-lick", f"lick {number}", revision=made)
        return just_kept(connection, group.id, number, record, lick, facts, warnings)

    return await house.database.write(unit)


async def retire_lick(house: House, caller: Caller, group_slug: str, number: int, revision: int) -> None:
    """Take a lick out of the pool. Breaks made with it stay."""
    group, before = reach_to_change(house, caller, group_slug, number)
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        if not rows.move_lick(connection, group.id, number, revision, rows.RETIRED, (before.state,)):
            raise no_longer(connection, group.id, number)
        if caller.role != "member":
            note(connection, caller, group.id, now, "retire-lick", f"lick {number}")

    await house.database.write(unit)


def no_longer(connection: Connection, group_id: int, number: int) -> BreakwrightError:
    """Why a lick could not be changed from the revision that was read."""
    row = rows.lick_by_number(connection, group_id, number, RULES_VERSION)
    if row is None or row.state == rows.RETIRED:
        return NotFound("not-found", what="lick")
    if row.state == rows.TAKEN_DOWN:
        return TakenDown("taken-down", lick=number)
    if row.state == rows.ERASED:
        return Erased("erased", lick=number)
    return Conflict("changed", revision=row.revision)


def lick_history(house: House, caller: Caller, group_slug: str, number: int) -> Sequence[RevisionRow]:
    """Newest first. Raises NotFound, TakenDown."""
    group = reach_group(house, caller, group_slug, "read-group")
    find_lick(house, group.id, number)
    return rows.revisions_of(house.database.points, group.id, number)


def get_revision(house: House, caller: Caller, group_slug: str, number: int, revision: int) -> KeptLick:
    """A lick as it was. Raises NotFound, TakenDown."""
    group = reach_group(house, caller, group_slug, "read-group")
    find_lick(house, group.id, number)
    return seen_by(caller, _as_it_was(house, group.id, number, revision))


def _as_it_was(house: House, group_id: int, number: int, revision: int) -> KeptLick:
    row = rows.lick_by_number(house.database.points, group_id, number, RULES_VERSION, revision)
    if row is None:
        raise NotFound("not-found", what="revision")
    return kept(row)


async def restore(
    house: House, caller: Caller, group_slug: str, number: int, wanted: int, revision: int
) -> KeptLick:
    """Make a lick what it was in a revision: a new one, judged like any other.

    Raises NotFound, TakenDown, Forbidden, Conflict ``changed``.
    """
    group, _ = reach_to_change(house, caller, group_slug, number)
    was = _as_it_was(house, group.id, number, wanted)
    return await new_revision(house, caller, group_slug, number, revision, was.record, was.lick)
