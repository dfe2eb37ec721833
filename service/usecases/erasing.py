"""Going for good: a member of whom nothing shall be known any more, a group that shall be no more."""

import logging
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.errors import DomainError, NotFound
from service.store import licks as lick_rows
from service.store import people as rows
from service.store import posts as post_rows
from service.store import variations as variation_rows
from service.store import whole
from service.store.groups import GroupRow
from service.store.reports import tell_borrowers
from service.usecases import posting
from service.usecases.audited import note
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.people import keep_an_organiser, reach_member


async def erase_member(house: House, caller: Caller, group_slug: str, number: int, *, remove: bool) -> None:
    """Make somebody nobody: themselves, or an organiser for who asked, also one who left.

    Their name, user id, tokens, comments, recordings and all that they kept to themselves go. What they sent in stays with no
    name, or goes with them (``remove``): their licks are blank then, and breaks have rests there. Raises NotFound, Conflict
    ``last-organiser``.
    """
    group = reach_member(house, caller, group_slug, number, None)
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        row = rows.member_by_number(connection, group.id, number)
        if row is None or row.erased is not None:
            raise NotFound("not-found", what="member")
        if len(rows.members_after(connection, group.id, 0, 2)) > 1:
            keep_an_organiser(connection, group.id, row)
        licks = "remove" if remove else "keep"
        note(connection, caller, group.id, now, "erase-member", f"member {number}", licks=licks)
        if remove:
            for lick in lick_rows.licks_of(connection, group.id, row.id):
                tell_borrowers(connection, group.id, lick, now)
        whole.erase_member(connection, group.id, row.id, now, remove=remove)
        _bring_posts_up_to_date(connection, group, number, now)

    await house.database.write(unit)
    await house.renders.forget(group.id)
    await house.database.empty_log()


def _bring_posts_up_to_date(connection: Connection, group: GroupRow, number: int, now: str) -> None:
    """Posts in the chat that tell of a member say now what is left, or are taken away."""
    for about in post_rows.posts_telling_of(connection, group.id, number):
        params = msgspec.json.decode(about.params)
        variation = params.get("variation")
        row = (
            None if variation is None else variation_rows.variation_by_number(connection, group.id, variation)
        )
        if row is not None and row.state == variation_rows.WITHDRAWN:
            posting.delete(connection, group, about, now)
        else:
            posting.edit(connection, group, about, params, now)


async def delete_group(house: House, caller: Caller, group_slug: str, confirm: str | None) -> None:
    """Everything of a group, for good. Whoever asks for it names the group once more: DomainError ``confirm-first`` without."""
    group = reach_group(house, caller, group_slug, "delete-group")
    if confirm != group.slug:
        raise DomainError("confirm-first", group=group.slug)
    await house.database.write(lambda connection: whole.delete_group(connection, group.id))
    house.fingered.clear()  # known by the group's name, which may be used again
    await house.renders.forget(group.id)
    await house.database.empty_log()
    fields = {"group": group.slug, "caller": caller.token_id}
    logging.getLogger("breakwright").info("group deleted", extra={"fields": fields})
