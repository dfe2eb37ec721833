"""``breakwright import-licks``: a folder of licks sent in at a terminal."""

import argparse
from dataclasses import replace
from pathlib import Path

from service.errors import Fault, NotFound
from service.settings import Settings
from service.store.groups import group_by_slug
from service.store.people import member_named_so
from service.usecases.identify import AT_THE_MACHINE
from service.usecases.lick_files import files_of_folder
from service.usecases.lick_imports import Imported, import_licks
from service.web.imported import as_submission
from service.wording import said


async def import_folder(given: argparse.Namespace, settings: Settings) -> int:
    """Send in what lies in a folder and print what became of it; 1 if something is faulty.

    Raises NotFound for an unknown group or member, OSError for a folder that cannot be read.
    """
    from service.app import open_house

    async with open_house(settings) as house:
        group = group_by_slug(house.database.points, given.group)
        if group is None:
            raise NotFound("no-group-yet", name=given.group)
        member = member_named_so(house.database.points, group.id, given.member)
        if member is None:
            raise NotFound("not-found", what="member")
        caller = replace(AT_THE_MACHINE, member_id=member.id, member_number=member.number)
        folder = Path(given.folder)
        report = await import_licks(
            house, caller, group.slug, lambda: files_of_folder(folder), {}, as_submission, dry=given.dry
        )
    for item in report.items:
        print(_line(item))
    kept = sum(item.kept is not None for item in report.items)
    faulty = sum(bool(item.at) for item in report.items)
    skipped = len(report.items) - kept - faulty
    nothing = " Nothing was kept: it was a dry run." if report.dry else ""
    print(f"{kept} kept, {skipped} skipped, {faulty} faulty.{nothing}")
    return 1 if faulty else 0


def _line(item: Imported) -> str:
    found = item.found
    which = f"{found.path}, {found.name}" if found.name else found.path
    if item.kept is not None:
        return f"{which}: lick {item.kept.number}, {item.kept.state}"
    if item.skipped is not None:
        return f"{which}: skipped. {said(item.skipped)}"
    return "\n".join(f"{which}: {_where(fault)}{said(fault)}" for fault in item.at)


def _where(fault: Fault) -> str:
    if fault.line is None:
        return ""
    return f"line {fault.line}: " if fault.column is None else f"line {fault.line}, column {fault.column}: "
