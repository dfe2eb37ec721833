"""Reminders of what a member wants to keep by heart: one message on a day on which something comes up again.

A row of what is due holds the next such day of a member. Whatever came up is told once; it is told again only after it was tried
and put down for another day.
"""

from datetime import date, datetime, time, timedelta
from sqlite3 import Connection

from service.clock import stamp
from service.groups.weeks import moment_of
from service.store import challenges as due_rows
from service.store import people
from service.store import practice as rows
from service.store.challenges import DueRow
from service.store.groups import GroupRow
from service.usecases.group_settings import local_day, settings_of
from service.usecases.pieces import read_piece
from service.usecases.posting import post

PRACTICE = "practice"  # the kind of row, and of post
USEFUL = timedelta(days=2)  # for so long a reminder is worth bringing; ours


def put_down(connection: Connection, group: GroupRow, member_id: int, after: date) -> None:
    """Within a unit: the clock will look at the first day after this one on which something comes up for a member."""
    day = rows.next_reminder(connection, member_id, after.isoformat())
    if day is None:
        due_rows.no_longer_due(connection, group.id, member_id, (PRACTICE,))
        return
    due_rows.make_due(
        connection, group.id, PRACTICE, member_id, stamp(_moment(group, date.fromisoformat(day)))
    )


def _moment(group: GroupRow, day: date) -> datetime:
    """The hour at which the group's week begins, on that day."""
    settings = settings_of(group)
    return moment_of(day, time.fromisoformat(settings.time), settings.zone)


def tell(connection: Connection, group: GroupRow, row: DueRow, now: datetime) -> None:
    """Within a unit: what came up for a member is told to them, if they want that and can be reached."""
    today = local_day(settings_of(group), now)
    pieces = [reminder.piece for reminder in rows.reminders_until(connection, row.subject, today.isoformat())]
    member = people.member_by_id(connection, row.subject)
    if member is None:
        return
    put_down(connection, group, row.subject, today)
    here = member.left_at is None and member.user_id is not None
    reachable = here and member.platform == group.platform
    if pieces and reachable and rows.choices(connection, row.subject).reminders:
        post(
            connection,
            group,
            PRACTICE,
            {"pieces": ", ".join(pieces), "each": [read_piece(piece).parts for piece in pieces]},
            stamp(now),
            useful_until=stamp(now + USEFUL),
            recipient=member.user_id,
        )
