"""Looking after the pool: what organisers decide of licks."""

from dataclasses import replace
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError, Fault
from service.groups.pool_states import MOVES, leads_to, states_before
from service.store import licks as rows
from service.store.licks import DRAFT, IN_POOL
from service.usecases.audited import note
from service.usecases.changed_licks import no_longer
from service.usecases.facts import keep_facts
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import KeptLick, find_row, kept


async def review(
    house: House,
    caller: Caller,
    group_slug: str,
    number: int,
    revision: int,
    decision: str,
    reason: str | None = None,
) -> KeptLick:
    """Put a lick where an organiser wants it; ``reason`` is told to its author.

    Raises NotFound, TakenDown, Conflict ``changed``, ``in-the-pool`` or ``cannot-be-decided``, DomainError ``reason-needed``.
    """
    group = reach_group(house, caller, group_slug, "change-licks")
    if decision == "back" and reason is None:
        raise DomainError("reason-needed", at=[Fault("reason-needed", path="reason")])
    now = stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        state = find_row(connection, group.id, number).state
        goes = leads_to(state, decision)
        if goes is None:
            code = "in-the-pool" if decision == "keep" and state == IN_POOL else "cannot-be-decided"
            raise Conflict(
                code, lick=number, state=state, decision=decision, possible=", ".join(MOVES[state])
            )
        if not rows.move_lick(connection, group.id, number, revision, goes, states_before(decision), reason):
            raise no_longer(connection, group.id, number)
        note(connection, caller, group.id, now, "review-lick", f"lick {number}", decision=decision)
        found = kept(find_row(connection, group.id, number))
        if goes == DRAFT:
            return found
        # that it doubled another, or waited, was a reason to look at it, and is none any more
        looked_at = tuple(
            finding
            for finding in found.facts.findings
            if not finding.code.startswith("twin") and finding.code != "waits-for-review"
        )
        facts = replace(found.facts, findings=looked_at)
        keep_facts(connection, group.id, number, found.revision, found.lick, facts)
        return replace(found, facts=facts)

    return await house.database.write(unit)
