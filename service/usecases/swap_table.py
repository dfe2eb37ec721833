"""The swap table: licks that groups share with all others, and borrowing them.

Of another group nothing is seen but what it put there: notes, name, rights, its own name.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.errors import Conflict, Fault, NotFound
from service.judge.facts import RULES_VERSION
from service.music.instruments import instrument_named
from service.music.licks import Lick
from service.music.passages import lick_passage
from service.notation.tab_writer import write_tab
from service.store import swap_table as rows
from service.store.licks import IN_POOL, Borrowed, LickRow, lick_by_number
from service.store.swap_table import SharedRow
from service.usecases.audited import NEWEST, note
from service.usecases.changed_licks import no_longer
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import KeptLick, find_row, judge_new, keep_new
from service.usecases.once import Once, write_once
from service.usecases.records import LickRecord, encode, lick_of, lick_record


@dataclass(frozen=True, slots=True)
class Shared:
    """A lick on the table; ``own`` is whether the group that looks put it there."""

    row: SharedRow
    own: bool
    record: LickRecord
    lick: Lick


def _shared(row: SharedRow, group_id: int) -> Shared:
    record = lick_record(row.body)
    return Shared(row, row.group_id == group_id, record, lick_of(record))


async def share(
    house: House, caller: Caller, group_slug: str, number: int, once: Once[Shared] | None
) -> Shared:
    """Put a lick's newest revision on the table, in place of an older one.

    Raises NotFound, TakenDown, Conflict ``not-to-be-shared`` with every reason why not.
    """
    group = reach_group(house, caller, group_slug, "share-licks")
    found = find_row(house.database.points, group.id, number)
    record = lick_record(found.body)
    faults = _against_sharing(found, record)
    if faults:
        raise Conflict("not-to-be-shared", at=faults, lick=number)
    lick, now = lick_of(record), stamp(house.clock())

    def unit(connection: Connection) -> Shared:
        present = lick_by_number(connection, group.id, number, RULES_VERSION)
        if present is None or (present.revision, present.state) != (found.revision, IN_POOL):
            raise no_longer(connection, group.id, number)
        shared_id = rows.publish(connection, group.id, number, found.revision, now)
        note(connection, caller, group.id, now, "share-lick", f"lick {number}", revision=found.revision)
        row = SharedRow(shared_id, group.id, group.name, number, found.revision, found.body, now)
        return Shared(row, True, record, lick)

    return await write_once(house, caller, once, unit)


def _against_sharing(row: LickRow, record: LickRecord) -> list[Fault]:
    """Every reason why a lick cannot go on the table."""
    rights = record.rights
    faults = []
    if row.state != IN_POOL:
        faults.append(Fault("not-in-the-pool", {"state": row.state}))
    if row.borrowed is not None:
        faults.append(Fault("was-borrowed", {"group": row.borrowed.group}))
    elif not rights.may_share:
        faults.append(Fault("no-consent-to-share", path="rights.may_share"))
    if rights.origin == "adapted" and not rights.source:
        faults.append(Fault("source-needed", path="rights.source"))
    return faults


async def withdraw(house: House, caller: Caller, group_slug: str, number: int) -> None:
    """Take a lick off the table; what was borrowed stays. Raises NotFound ``not-on-the-table``."""
    group = reach_group(house, caller, group_slug, "share-licks")
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        if not rows.withdraw(connection, group.id, number):
            raise NotFound("not-on-the-table", lick=number)
        note(connection, caller, group.id, now, "withdraw-lick", f"lick {number}")

    await house.database.write(unit)


async def list_shared(
    house: House,
    caller: Caller,
    group_slug: str,
    before: int | None,
    limit: int,
    instrument: str | None = None,
    style: str | None = None,
    max_level: int | None = None,
) -> Sequence[Shared]:
    """What all groups have on the table, newest first."""
    group = reach_group(house, caller, group_slug, "read-group")
    if instrument is not None:
        instrument = instrument_named(instrument).id
    found = await rows.shared_before(
        house.database.slow, before or NEWEST, limit, instrument, style, max_level
    )
    return [_shared(row, group.id) for row in found]


async def borrow(
    house: House, caller: Caller, group_slug: str, shared_id: int, once: Once[KeptLick] | None
) -> KeptLick:
    """Copy a lick from the table into the own pool, judged like any other that is sent in.

    Raises NotFound, Conflict ``own-on-the-table``.
    """
    group = reach_group(house, caller, group_slug, "add-lick")
    found = _on_the_table(house.database.points, shared_id)
    if found.group_id == group.id:
        raise Conflict("own-on-the-table", lick=found.lick)
    record = lick_record(found.body)
    lick = lick_of(record)
    # the text it was sent in with is its own group's
    record = msgspec.structs.replace(record, text=write_tab(lick_passage(lick)))
    judged, now = await judge_new(house, caller, group, record, lick), stamp(house.clock())
    rights = encode(record.rights).decode()
    borrowed = Borrowed(found.group, found.lick, found.revision, rights, now)

    def unit(connection: Connection) -> KeptLick:
        _on_the_table(connection, shared_id)  # it may have been taken down meanwhile
        kept = keep_new(connection, caller, group.id, judged, now)
        rows.keep_borrowed(connection, group.id, kept.number, found.group_id, borrowed)
        return replace(kept, borrowed=borrowed)

    return await write_once(house, caller, once, unit)


def _on_the_table(connection: Connection, shared_id: int) -> SharedRow:
    row = rows.shared(connection, shared_id)
    if row is None:
        raise NotFound("not-found", what="lick on the swap table")
    return row
