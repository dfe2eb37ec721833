"""Reports: what members say against licks. A report hides nothing; an organiser answers it."""

from collections.abc import Sequence
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, NotFound
from service.groups.permissions import may
from service.judge.facts import RULES_VERSION
from service.store import reports as rows
from service.store.licks import lick_by_number
from service.store.reports import ReportRow
from service.usecases.audited import NEWEST, note
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.licks import find_row
from service.usecases.once import Once, write_once
from service.usecases.taken_down import taken_down_within


async def report(
    house: House,
    caller: Caller,
    group_slug: str,
    lick: int,
    reason: str,
    text: str,
    once: Once[ReportRow] | None,
) -> ReportRow:
    """A member has one open report of a lick: repeating it says it otherwise. Raises NotFound, TakenDown, Forbidden."""
    group = reach_group(house, caller, group_slug, "report-lick")
    member_id, now = member_of(caller), stamp(house.clock())

    def unit(connection: Connection) -> ReportRow:
        find_row(connection, group.id, lick)
        report_id = rows.report(connection, group.id, lick, member_id, reason, text, now)
        return _report(connection, group.id, report_id)

    return await write_once(house, caller, once, unit)


def _report(connection: Connection, group_id: int, report_id: int) -> ReportRow:
    row = rows.report_by_id(connection, group_id, report_id)
    if row is None:
        raise NotFound("not-found", what="report")
    return row


def reports_of(
    house: House, caller: Caller, group_slug: str, lick: int, before: int | None, limit: int
) -> Sequence[ReportRow]:
    """Newest first: organisers see all reports of a lick, taken down or not, members their own. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    if lick_by_number(points, group.id, lick, RULES_VERSION) is None:
        raise NotFound("not-found", what="lick")
    member_id = None if may(caller.role, caller.scopes, "answer-reports") else caller.member_id or 0
    return rows.reports_before(points, group.id, before or NEWEST, limit, lick=lick, member_id=member_id)


def list_reports(
    house: House, caller: Caller, group_slug: str, status: str | None, before: int | None, limit: int
) -> Sequence[ReportRow]:
    """Newest first, ``open`` or ``answered`` ones or all."""
    group = reach_group(house, caller, group_slug, "answer-reports")
    return rows.reports_before(house.database.points, group.id, before or NEWEST, limit, status=status)


async def answer(
    house: House, caller: Caller, group_slug: str, report_id: int, decision: str, text: str
) -> ReportRow:
    """Answer a report; ``taken-down`` takes the lick down in the same unit.

    Raises NotFound, Conflict ``report-answered``.
    """
    group = reach_group(house, caller, group_slug, "answer-reports")
    now = stamp(house.clock())

    def unit(connection: Connection) -> ReportRow:
        row = _report(connection, group.id, report_id)
        if not rows.answer(connection, group.id, report_id, decision, text, now):
            raise Conflict("report-answered", report=report_id)
        note(connection, caller, group.id, now, "answer-report", f"report {report_id}", decision=decision)
        if decision == "taken-down":
            present = lick_by_number(connection, group.id, row.lick, RULES_VERSION)
            if present is None:
                raise NotFound("not-found", what="lick")
            taken_down_within(connection, caller, group.id, row.lick, present.revision, text, now)
        return _report(connection, group.id, report_id)

    found = await house.database.write(unit)
    if decision == "taken-down":
        await house.renders.forget(group.id)
    return found
