"""What the clock does: a week begins, a challenge opens, members are reminded, it closes.

Each is a row in the store. What it takes is worked out first; then one unit takes the row away, does the work and writes the next
row, or finds the row gone and does nothing. So whatever is repeated is done once, and a service that was down does what is left
when it is back: a reminder that comes too late is left out, of several weeks that were missed only the one that still runs opens.
"""

import asyncio
import logging
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from sqlite3 import Connection

from service.clock import moment, stamp
from service.errors import Busy
from service.groups.weeks import Week, next_slot, opening, reminder_still_useful
from service.judge.facts import RULES_VERSION
from service.store import challenges as rows
from service.store import groups as group_rows
from service.store import licks as lick_rows
from service.store.challenges import CLOSE, OPEN, REMIND, WEEK, DueRow, NewChallenge
from service.store.groups import GroupRow
from service.usecases import reminding
from service.usecases.challenges import begin, closing, finish, new_challenge, remind
from service.usecases.group_settings import settings_of, slot_of
from service.usecases.house import House
from service.usecases.licks import kept
from service.usecases.posting import tell_organisers
from service.usecases.spots import draw_place

AT_ONCE = 64  # rows worked out in one go, off the loop
TROUBLE_AGAIN = timedelta(minutes=10)  # what failed for no known reason is tried again after so long
NOTHING_TO_DRAW = "nothing-to-draw"  # the kind of post that tells organisers
TOLD_EVERY = timedelta(days=28)
LATE = timedelta(hours=1)  # from which on a planned challenge that opens is given a whole week

Deed = Callable[[Connection], None]


async def run_due(house: House) -> int:
    """Do everything that is due by now; how many rows were worked on."""
    done = 0
    while True:
        now = house.clock()
        due = rows.due_until(house.database.points, stamp(now), AT_ONCE)
        if not due:
            return done
        # one row of a group after the other: a challenge closes before the next one opens
        first = list({row.group_id: row for row in reversed(due)}.values())
        planned = await house.think(lambda: _planned(house, first, now))  # noqa: B023
        written = await asyncio.gather(
            *(house.database.write(deed) for deed in planned), return_exceptions=True
        )
        for row, outcome in zip(first, written, strict=True):
            if isinstance(outcome, Busy):
                raise outcome  # nothing can be stored just now
            if isinstance(outcome, BaseException):
                logging.getLogger("breakwright").error("what was due failed", exc_info=outcome)
                await house.database.write(_later(row, now))
        done += len(planned)


def _planned(house: House, due: Sequence[DueRow], now: datetime) -> list[Deed]:
    """What is to be done for each row; runs on the thinking thread, on a connection of its own."""
    with house.database.reading() as connection:
        return [_plan(connection, row, now) for row in due]


def _plan(connection: Connection, row: DueRow, now: datetime) -> Deed:
    try:
        return _PLANS[row.kind](connection, row, now)
    except Exception:
        logging.getLogger("breakwright").exception(
            "what was due failed", extra={"fields": {"kind": row.kind}}
        )
        return _later(row, now)


def _later(row: DueRow, now: datetime) -> Deed:
    """One that cannot be done must not keep others waiting."""
    at = stamp(now + TROUBLE_AGAIN)
    return lambda writing: rows.make_due(writing, row.group_id, row.kind, row.subject, at)


def _group(connection: Connection, group_id: int) -> GroupRow:
    group = group_rows.group_by_id(connection, group_id)
    if group is None:
        raise RuntimeError("what is due belongs to no group")
    return group


def _week_begins(connection: Connection, row: DueRow, now: datetime) -> Deed:
    """A challenge is drawn, unless one is under way; the next week is put down."""
    group = _group(connection, row.group_id)
    settings, slot = settings_of(group), slot_of(settings_of(group))
    following, opens = stamp(next_slot(slot, now)), opening(slot, now)
    new = None if opens is None or not settings.draws else _drawn(connection, group, opens)

    def deed(writing: Connection) -> None:
        if not rows.take_due(writing, row):
            return
        present = _group(writing, row.group_id)
        if not settings_of(present).draws:
            return
        rows.make_due(writing, row.group_id, WEEK, 0, following)
        if opens is None or _busy(writing, row.group_id, following):
            return
        if new is None:
            params = {"group": present.slug}
            tell_organisers(writing, present, NOTHING_TO_DRAW, params, stamp(now), stamp(now - TOLD_EVERY))
            return
        made = rows.add_challenge(writing, row.group_id, new, "open", stamp(now))
        if made is not None:
            begin(writing, present, made, now)

    return deed


def _busy(connection: Connection, group_id: int, following: str) -> bool:
    """Whether this week has a challenge already, made by hand."""
    planned = rows.under_way(connection, group_id, "planned")
    return rows.under_way(connection, group_id, "open") is not None or (
        planned is not None and planned.opens < following
    )


def _drawn(connection: Connection, group: GroupRow, opens: datetime) -> NewChallenge | None:
    drawn = draw_place(connection, group)
    if drawn is None:
        return None
    base = None
    if drawn.lick is not None:
        row = lick_rows.lick_by_number(connection, group.id, drawn.lick.number, RULES_VERSION)
        base = None if row is None or row.state != lick_rows.IN_POOL else kept(row)
    secret = settings_of(group).secret_votes
    return new_challenge(group, drawn.place, base, opens, secret=secret, drawn=True)


def _opens(connection: Connection, row: DueRow, now: datetime) -> Deed:
    """A challenge that was planned opens, as soon as none other is open."""

    def deed(writing: Connection) -> None:
        if not rows.take_due(writing, row):
            return
        group = _group(writing, row.group_id)
        planned = rows.challenge_by_id(writing, row.subject)
        if planned is None or planned.state != "planned":
            return
        if rows.under_way(writing, row.group_id, "open") is not None:
            following = stamp(next_slot(slot_of(settings_of(group)), now))
            rows.make_due(writing, row.group_id, OPEN, row.subject, following)
            return
        rows.move_on(writing, row.subject, "planned", "open")
        # one that opens late has its time all the same
        late = now - moment(planned.opens) >= LATE
        closes = stamp(closing(group, now)) if late else planned.closes
        rows.set_times(writing, row.subject, stamp(now), closes)
        opened = rows.challenge_by_id(writing, row.subject)
        if opened is not None:
            begin(writing, group, opened, now)

    return deed


def _reminds(connection: Connection, row: DueRow, now: datetime) -> Deed:
    def deed(writing: Connection) -> None:
        if not rows.take_due(writing, row):
            return
        challenge = rows.challenge_by_id(writing, row.subject)
        if challenge is None or challenge.state != "open":
            return
        week = Week(moment(challenge.opens), moment(row.at), moment(challenge.closes))
        if reminder_still_useful(week, now):
            remind(writing, _group(writing, row.group_id), challenge, now)

    return deed


def _closes(connection: Connection, row: DueRow, now: datetime) -> Deed:
    def deed(writing: Connection) -> None:
        if not rows.take_due(writing, row):
            return
        challenge = rows.challenge_by_id(writing, row.subject)
        if challenge is not None and challenge.state == "open":
            finish(writing, _group(writing, row.group_id), challenge, now)

    return deed


def _practice(connection: Connection, row: DueRow, now: datetime) -> Deed:
    def deed(writing: Connection) -> None:
        if rows.take_due(writing, row):
            reminding.tell(writing, _group(writing, row.group_id), row, now)

    return deed


_PLANS: dict[str, Callable[[Connection, DueRow, datetime], Deed]] = {
    WEEK: _week_begins,
    OPEN: _opens,
    REMIND: _reminds,
    CLOSE: _closes,
    reminding.PRACTICE: _practice,
}


def set_weeks(connection: Connection, group: GroupRow, now: datetime) -> None:
    """Within the unit that changes a group's settings: its weeks begin as they say now. A challenge that is open closes when it
    was said to; one that is planned opens with the next week."""
    settings = settings_of(group)
    following = next_slot(slot_of(settings), now)
    if settings.draws:
        rows.make_due(connection, group.id, WEEK, 0, stamp(following))
    else:
        rows.no_longer_due(connection, group.id, 0, (WEEK,))
    planned = rows.under_way(connection, group.id, "planned")
    if planned is not None:
        closes = next_slot(slot_of(settings), following)
        rows.set_times(connection, planned.id, stamp(following), stamp(closes))
        rows.make_due(connection, group.id, OPEN, planned.id, stamp(following))
