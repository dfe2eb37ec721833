"""Many licks sent in at once: each is kept or not, and the report says which."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from sqlite3 import Connection

from service.clock import stamp
from service.errors import DomainError, Fault
from service.judge.facts import Facts, facts_of
from service.music.licks import Lick
from service.store.facts import same_lick
from service.store.groups import GroupRow
from service.store.licks import LIVING
from service.store.taken_down import taken_down_among
from service.usecases.audited import note
from service.usecases.facts import identity_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.lick_files import AsSubmission, FoundFile, FoundLick, licks_of_files
from service.usecases.licks import KeptLick, NewLick, Submission, judge_new, keep_new, read_lick
from service.usecases.once import Once, check_once, write_once
from service.usecases.records import LickRecord


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a lick or file: ``kept``, ``skipped`` for a reason, or neither, with faults ``at`` places."""

    found: FoundLick
    kept: KeptLick | None = None
    skipped: Fault | None = None
    at: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class Import:
    """A report; nothing is kept by a ``dry`` one."""

    dry: bool
    items: tuple[Imported, ...]


class _Rehearsed(Exception):
    """A dry import: what its unit did is undone. Not an error."""

    def __init__(self, report: Import) -> None:
        super().__init__("rehearsed")
        self.report = report


@dataclass(frozen=True, slots=True)
class _Read:
    record: LickRecord
    lick: Lick
    warnings: tuple[Fault, ...]
    facts: Facts


async def import_licks(
    house: House,
    caller: Caller,
    group_slug: str,
    files: Callable[[], Sequence[FoundFile]],
    given: Mapping[str, str],
    as_submission: AsSubmission,
    once: Once[Import] | None = None,
    *,
    dry: bool = False,
) -> Import:
    """Send in every lick of the files; what a living lick of the group is already is left out.

    ``given`` are fields for licks that say nothing of them. A dry import does all of it and undoes it. Raises what ``files``
    and ``licks_of_files`` raise.
    """
    group = reach_group(house, caller, group_slug, "add-lick")
    check_once(house, caller, once)
    async with house.making(
        ("import", group.id)
    ):  # one at a time, so that others of the group wait, not everybody
        found = await asyncio.to_thread(lambda: licks_of_files(files(), given, as_submission))
        judged = [await _judged(house, caller, group, one) for one in found]
    now = stamp(house.clock())

    def unit(connection: Connection) -> Import:
        items = tuple(
            _kept(connection, caller, group.id, one, now) if isinstance(one, _Ready) else one
            for one in judged
        )
        kept = sum(item.kept is not None for item in items)
        if kept and caller.role != "member":
            note(connection, caller, group.id, now, "import-licks", f"group {group_slug}", licks=kept)
        report = Import(dry, items)
        if dry:
            raise _Rehearsed(report)
        return report

    try:
        return await write_once(house, caller, once, unit)
    except _Rehearsed as rehearsed:
        return rehearsed.report


@dataclass(frozen=True, slots=True)
class _Ready:
    found: FoundLick
    judged: NewLick
    identity: bytes


async def _judged(house: House, caller: Caller, group: GroupRow, found: FoundLick) -> Imported | _Ready:
    sent = found.sent
    if sent is None:
        return Imported(found, skipped=found.skipped, at=found.at)
    try:
        read = await house.think(lambda: _read(sent))
    except DomainError as error:
        at = error.at or (Fault(error.code, error.params),)
        return Imported(found, at=found.in_file(at))
    warnings = found.in_file(read.warnings)
    judged = await judge_new(house, caller, group, read.record, read.lick, warnings, read.facts)
    return _Ready(found, judged, identity_of(read.lick))


def _read(sent: Submission) -> _Read:
    record, lick, warnings = read_lick(sent)
    return _Read(record, lick, warnings, facts_of(lick))


def _kept(connection: Connection, caller: Caller, group_id: int, ready: _Ready, now: str) -> Imported:
    same = same_lick(connection, group_id, ready.identity, None, LIVING)
    if same is not None:
        return Imported(ready.found, skipped=Fault("lick-is-there", {"lick": same}))
    return Imported(ready.found, keep_new(connection, caller, group_id, ready.judged, now))


def taken_down_since(house: House, caller: Caller, group_slug: str, numbers: Sequence[int]) -> frozenset[int]:
    """Those of these licks that are taken down: what is told again of an import leaves them out."""
    group = reach_group(house, caller, group_slug, "add-lick")
    return taken_down_among(house.database.points, group.id, numbers)
