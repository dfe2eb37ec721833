"""Practice: what members log, which tempo comes next, and what comes up again. A member's logs are their own."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from sqlite3 import Connection

from service.clock import stamp
from service.errors import NotFound
from service.groups.spacing import NEVER_MARKED, next_due
from service.groups.work_ups import START_SHARE, Advice, Pass, next_tempo
from service.store import practice as rows
from service.store.practice import ChoicesRow, LogRow, ReminderRow
from service.usecases.group_settings import local_day, settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.once import Once, write_once
from service.usecases.pieces import Piece, Practised, find_piece
from service.usecases.reminding import put_down
from service.usecases.repertoire import check_past

LOGS_SEEN = 20  # of a piece, for what comes next; ours
PLAY_CAUTION_MIN = (
    45  # minutes logged of a day after which hands are thought of; ours (common practice: take breaks)
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A log as it is sent in; ``day`` None is today."""

    piece: Piece
    bpm: int
    clean: bool
    passes: int
    without_tab: bool
    from_memory: bool
    minutes: int | None
    day: date | None


@dataclass(frozen=True, slots=True)
class Logged:
    """What was kept, what comes next in the same unit, and minutes logged of that day altogether."""

    row: LogRow
    next: Advice
    minutes: int


async def log_practice(
    house: House, caller: Caller, group_slug: str, wanted: Wanted, once: Once[Logged] | None
) -> Logged:
    """Raises NotFound, TakenDown, DomainError ``day-to-come``."""
    group = reach_group(house, caller, group_slug, "log-practice")
    member_id = member_of(caller)
    today = local_day(settings_of(group), house.clock())
    day = wanted.day or today
    check_past(house, group, day)
    practised = find_piece(house, group, wanted.piece)
    piece = practised.piece.told
    log = LogRow(
        0,
        piece,
        day.isoformat(),
        wanted.bpm,
        practised.unit,
        wanted.clean,
        wanted.passes,
        wanted.without_tab,
        wanted.from_memory,
        wanted.minutes,
        stamp(house.clock()),
    )
    points = house.database.points
    before = rows.last_logs(points, member_id, piece, LOGS_SEEN)
    advice = _advice(practised, [*before, log], today)
    minutes = rows.minutes_on(points, member_id, log.day) + (wanted.minutes or 0)
    reminder = _reminder(points, member_id, log, day)

    def unit(connection: Connection) -> Logged:
        row = rows.add_log(connection, member_id, log)
        if reminder is not None:
            rows.keep_reminder(connection, member_id, reminder)
            put_down(connection, group, member_id, today)
        return Logged(row, advice, minutes)

    return await write_once(house, caller, once, unit)


def _advice(practised: Practised, logs: Sequence[LogRow], today: date) -> Advice:
    """What comes next of a piece after all these, the last day's last. A lick that was put into another meter counts anew."""
    in_time = sorted((log for log in logs if log.unit == practised.unit), key=lambda log: log.day)
    passes = [Pass(log.bpm, log.clean) for log in in_time for _ in range(log.passes)]
    since = (today - date.fromisoformat(in_time[-1].day)).days
    return next_tempo(passes, practised.goal, max(1, practised.goal * START_SHARE // 100), since)


def _reminder(points: Connection, member_id: int, log: LogRow, day: date) -> ReminderRow | None:
    """When to try again whether it is still there, for who asked to be reminded and played without tab or from memory."""
    if not (log.without_tab or log.from_memory) or not rows.choices(points, member_id).reminders:
        return None
    known = rows.reminder_of(points, member_id, log.piece)
    step, due = next_due(NEVER_MARKED if known is None else known.step, day, log.clean)
    return ReminderRow(log.piece, step, due.isoformat())


def list_logs(house: House, caller: Caller, group_slug: str, before: int, limit: int) -> Sequence[LogRow]:
    """One's own, newest first."""
    reach_group(house, caller, group_slug, "see-ones-own")
    return rows.logs_before(house.database.points, member_of(caller), before, limit)


async def drop_log(house: House, caller: Caller, group_slug: str, log_id: int) -> None:
    """Raises NotFound for what is not one's own, too."""
    reach_group(house, caller, group_slug, "log-practice")
    member_id = member_of(caller)

    def unit(connection: Connection) -> None:
        if not rows.drop_log(connection, member_id, log_id):
            raise NotFound("not-found", what="practice log")

    await house.database.write(unit)


def due_pieces(house: House, caller: Caller, group_slug: str) -> Sequence[ReminderRow]:
    """What comes up again for the caller by today, longest due first."""
    group = reach_group(house, caller, group_slug, "see-ones-own")
    today = local_day(settings_of(group), house.clock())
    return rows.reminders_until(house.database.points, member_of(caller), today.isoformat())


def get_choices(house: House, caller: Caller, group_slug: str, number: int) -> ChoicesRow:
    """One's own. Raises NotFound for anybody else's."""
    reach_group(house, caller, group_slug, "see-ones-own")
    return rows.choices(house.database.points, _own(caller, number))


def _own(caller: Caller, number: int) -> int:
    member_id = member_of(caller)
    if number != caller.member_number:
        raise NotFound("not-found", what="member's practice")
    return member_id


async def choose(
    house: House, caller: Caller, group_slug: str, number: int, chosen: ChoicesRow
) -> ChoicesRow:
    """Whether the group may see how one's practice goes, and whether to be reminded; without reminders none are kept."""
    group = reach_group(house, caller, group_slug, "log-practice")
    member_id = _own(caller, number)
    today = local_day(settings_of(group), house.clock())

    def unit(connection: Connection) -> ChoicesRow:
        rows.keep_choices(connection, member_id, chosen)
        if not chosen.reminders:
            rows.drop_reminders(connection, member_id)
            put_down(connection, group, member_id, today)
        return chosen

    return await house.database.write(unit)
