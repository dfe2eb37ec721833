"""The tunes that members know, sing and learn; what was played when, and what is due again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from sqlite3 import Connection

from service.clock import stamp
from service.errors import DomainError, Forbidden, NotFound
from service.groups.spacing import revisit_due
from service.music.harmony import key_named
from service.store import repertoire as rows
from service.store.groups import GroupRow
from service.store.people import MemberRow
from service.store.repertoire import KnowerRow, KnownRow
from service.store.tunes import TuneRow
from service.usecases.audited import note
from service.usecases.group_settings import local_day, settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.people import find_member
from service.usecases.records import TuneRecord, tune_record
from service.usecases.tunes import find_tune

KNOW, LEARNING = "know", "learning"


def list_of(
    house: House, caller: Caller, group_slug: str, number: int, after: str, limit: int
) -> Sequence[KnownRow]:
    """A member's list, for the whole group to see."""
    group = reach_group(house, caller, group_slug, "read-group")
    member = find_member(house.database.points, group.id, number)
    return rows.known_after(house.database.points, member.id, after, limit)


def _whose(house: House, caller: Caller, group_slug: str, number: int) -> tuple[GroupRow, MemberRow]:
    """Everybody keeps their own list; an organiser keeps it for somebody who is on no platform. Raises Forbidden."""
    own = number == caller.member_number
    group = reach_group(house, caller, group_slug, "keep-own-list" if own else "change-members")
    member = find_member(house.database.points, group.id, number)
    if not own and member.user_id is not None:
        raise Forbidden("own-list")
    return group, member


async def keep_on_list(
    house: House,
    caller: Caller,
    group_slug: str,
    number: int,
    slug: str,
    standing: str,
    sings_in: Sequence[str],
    remark: str,
) -> KnownRow:
    """Put a tune on a list, or change what stands there. Raises DomainError for what is no key."""
    group, member = _whose(house, caller, group_slug, number)
    tune = find_tune(house, group.id, slug)
    keys = dict.fromkeys(key_named(name).name for name in sings_in)
    row = KnownRow(tune.slug, standing, " ".join(keys), remark)

    def unit(connection: Connection) -> KnownRow:
        rows.keep_known(connection, member.id, tune.id, row)
        _note_for(house, connection, caller, member, slug)
        return row

    return await house.database.write(unit)


def _note_for(house: House, connection: Connection, caller: Caller, member: MemberRow, slug: str) -> None:
    """Within the unit: that somebody's list was kept for them."""
    if member.number != caller.member_number:
        now, subject = stamp(house.clock()), f"member {member.number}"
        note(connection, caller, member.group_id, now, "keep-list", subject, tune=slug)


async def drop_from_list(house: House, caller: Caller, group_slug: str, number: int, slug: str) -> None:
    group, member = _whose(house, caller, group_slug, number)
    tune = find_tune(house, group.id, slug)

    def unit(connection: Connection) -> None:
        if not rows.drop_known(connection, member.id, tune.id):
            raise NotFound("not-found", what="tune on that list")
        _note_for(house, connection, caller, member, slug)

    await house.database.write(unit)


@dataclass(frozen=True, slots=True)
class KnownTune:
    """A tune and who knows it: ``sung`` holds the keys that its singers sing it in, with their names."""

    slug: str
    record: TuneRecord
    know: tuple[KnowerRow, ...]
    learning: tuple[KnowerRow, ...]
    last_played: date | None

    @property
    def sung(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for knower in (*self.know, *self.learning):
            for key in knower.sings_in.split():
                found.setdefault(key, []).append(knower.name)
        return found


async def _every_tune(house: House, group_id: int) -> list[KnownTune]:
    slow = house.database.slow
    knowers, tunes = await rows.knowers(slow, group_id), await rows.every_tune(slow, group_id)
    return await house.think(lambda: _with_knowers(tunes, knowers))


def _with_knowers(
    tunes: Sequence[tuple[TuneRow, str | None]], knowers: Sequence[KnowerRow]
) -> list[KnownTune]:
    of: dict[tuple[int, str], list[KnowerRow]] = {}
    for knower in knowers:
        of.setdefault((knower.tune_id, knower.standing), []).append(knower)
    return [
        KnownTune(
            row.slug,
            tune_record(row.body),
            tuple(of.get((row.id, KNOW), ())),
            tuple(of.get((row.id, LEARNING), ())),
            None if played is None else date.fromisoformat(played),
        )
        for row, played in tunes
    ]


async def known_tunes(
    house: House, caller: Caller, group_slug: str, key: str | None, least: int
) -> Sequence[KnownTune]:
    """What ``least`` members know, in one sounding key if asked: first what most know, then what most are learning."""
    group = reach_group(house, caller, group_slug, "read-group")
    wanted = None if key is None else key_named(key)
    found = [
        tune
        for tune in await _every_tune(house, group.id)
        if len(tune.know) >= least and (wanted is None or key_named(tune.record.key) == wanted)
    ]
    return sorted(found, key=lambda tune: (-len(tune.know), -len(tune.learning), tune.slug))


async def due_tunes(house: House, caller: Caller, group_slug: str) -> Sequence[KnownTune]:
    """What has not been played for as long as the group's settings say: longest ago first, never played ones last."""
    group = reach_group(house, caller, group_slug, "read-group")
    settings = settings_of(group)
    today = local_day(settings, house.clock())
    found = [
        tune
        for tune in await _every_tune(house, group.id)
        if tune.last_played is None or revisit_due(tune.last_played, today, settings.revisit_days)
    ]
    return sorted(found, key=lambda tune: (tune.last_played or date.max, tune.slug))


def check_past(house: House, group: GroupRow, day: date) -> None:
    """What was done was done by today. Raises DomainError ``day-to-come``."""
    today = local_day(settings_of(group), house.clock())
    if day > today:
        raise DomainError("day-to-come", day=day.isoformat(), today=today.isoformat())


async def mark_played(house: House, caller: Caller, group_slug: str, slug: str, day: date | None) -> date:
    """The day on which a tune was played, today unless said otherwise."""
    group = reach_group(house, caller, group_slug, "mark-played")
    on = day or local_day(settings_of(group), house.clock())
    check_past(house, group, on)
    tune = find_tune(house, group.id, slug)
    await house.database.write(lambda connection: rows.mark_played(connection, tune.id, on.isoformat(), None))
    return on


async def not_played(house: House, caller: Caller, group_slug: str, slug: str, day: date) -> None:
    """It was marked by mistake. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "mark-played")
    tune = find_tune(house, group.id, slug)

    def unit(connection: Connection) -> None:
        if not rows.not_played(connection, tune.id, day.isoformat()):
            raise NotFound("not-found", what="mark of that day")

    await house.database.write(unit)
