"""The trail of what organisers did."""

from collections.abc import Sequence
from sqlite3 import Connection

import msgspec

from service.store import audit as rows
from service.store.audit import AuditRow
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group

NEWEST = 2**62


def note(
    connection: Connection,
    caller: Caller,
    group_id: int,
    now: str,
    action: str,
    subject: str,
    **params: object,
) -> None:
    """Within the unit that does it: who did what to which thing. Never what somebody wrote."""
    told = msgspec.json.encode(params).decode()
    rows.note(connection, group_id, now, caller.token_id, caller.member_id, action, subject, told)


def read_audit(
    house: House, caller: Caller, group_slug: str, before: int | None, limit: int
) -> Sequence[AuditRow]:
    """Newest first."""
    group = reach_group(house, caller, group_slug, "read-audit")
    return rows.audit_before(house.database.points, group.id, before or NEWEST, limit)
