"""Evenings: which tunes are played in which keys, who kicks off, who takes which break, and what was played."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.errors import BreakwrightError, Conflict, DomainError, Fault, NotFound
from service.groups.sharing import Call, share
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.store import evenings as rows
from service.store import people
from service.store import repertoire as repertoire_rows
from service.store.evenings import EveningRow
from service.store.groups import GroupRow
from service.store.tunes import TuneRow, tune_by_slug
from service.usecases.audited import note
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.once import Once, write_once
from service.usecases.people import find_member
from service.usecases.records import encode, tune_record
from service.usecases.repertoire import KNOW, LEARNING, check_past
from service.usecases.tunes import find_tune


class TurnRecord(msgspec.Struct, frozen=True):
    """A break taken by a member, by number, on an instrument."""

    member: int
    instrument: str


class ItemRecord(msgspec.Struct, frozen=True):
    """A tune of an evening; ``key`` is the one it is played in, ``turns`` how many breaks are taken."""

    tune: str
    key: str
    turns: int
    kick_off: int | None = None
    breaks: tuple[TurnRecord, ...] = ()


_items = msgspec.json.Decoder(tuple[ItemRecord, ...])


@dataclass(frozen=True, slots=True)
class Plan:
    """An evening as it is wished for; a key that is left out (empty) is the tune's."""

    day: date
    title: str
    items: tuple[ItemRecord, ...]


@dataclass(frozen=True, slots=True)
class Evening:
    """``names`` are those of all members who play, by number; ``played`` what was played of it or besides."""

    number: int
    revision: int
    plan: Plan
    names: dict[int, str]
    played: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Joining:
    """Who wants to take breaks, on which instrument, in tunes still being ``learning`` too if they ask."""

    member: int
    instrument: str
    learning: bool = False


def _evening(connection: Connection, group_id: int, row: EveningRow) -> Evening:
    items = _items.decode(row.record)
    numbers = {turn.member for item in items for turn in item.breaks} | {
        item.kick_off for item in items if item.kick_off is not None
    }
    members = [people.member_by_number(connection, group_id, number) for number in sorted(numbers)]
    return Evening(
        row.number,
        row.revision,
        Plan(date.fromisoformat(row.day), row.title, items),
        {member.number: member.name for member in members if member is not None},
        tuple(repertoire_rows.played_on(connection, row.id)),
    )


def _find(connection: Connection, group_id: int, number: int) -> EveningRow:
    row = rows.evening_by_number(connection, group_id, number)
    if row is None:
        raise NotFound("not-found", what="evening")
    return row


def get_evening(
    house: House, caller: Caller, group_slug: str, number: int, action: str = "read-group"
) -> Evening:
    group = reach_group(house, caller, group_slug, action)
    points = house.database.points
    return _evening(points, group.id, _find(points, group.id, number))


def list_evenings(
    house: House, caller: Caller, group_slug: str, before: int, limit: int
) -> Sequence[Evening]:
    """Those planned last come first."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    return [_evening(points, group.id, row) for row in rows.evenings_before(points, group.id, before, limit)]


def _checked(house: House, group: GroupRow, plan: Plan) -> Plan:
    """With the tune's key where none is named, all names as they are written here. Raises DomainError ``bad-evening``."""
    faults = [
        fault
        for place, item in enumerate(plan.items)
        for fault in _faults(house, group, item, f"tunes[{place}]")
    ]
    if faults:
        raise DomainError("bad-evening", at=faults, count=len(faults))
    return Plan(plan.day, plan.title, tuple(_written_out(house, group, item) for item in plan.items))


def _written_out(house: House, group: GroupRow, item: ItemRecord) -> ItemRecord:
    key = key_named(item.key or tune_record(find_tune(house, group.id, item.tune).body).key).name
    breaks = tuple(TurnRecord(turn.member, instrument_named(turn.instrument).id) for turn in item.breaks)
    return msgspec.structs.replace(item, key=key, breaks=breaks)


def _faults(house: House, group: GroupRow, item: ItemRecord, path: str) -> Iterator[Fault]:
    points = house.database.points
    if tune_by_slug(points, group.id, item.tune) is None:
        yield Fault("evening-tune", {"tune": item.tune}, path=f"{path}.tune")
    if item.key:
        try:
            key_named(item.key)
        except BreakwrightError as error:
            yield Fault(error.code, error.params, path=f"{path}.key")
    players: list[tuple[int, str | None, str]] = [
        (turn.member, turn.instrument, f"{path}.breaks[{place}]") for place, turn in enumerate(item.breaks)
    ]
    if item.kick_off is not None:
        players.append((item.kick_off, None, f"{path}.kick_off"))
    for member, instrument, where in players:
        yield from _player_faults(points, group.id, member, instrument, where)


def _player_faults(
    points: Connection, group_id: int, member: int, instrument: str | None, path: str
) -> Iterator[Fault]:
    try:
        find_member(points, group_id, member)
        if instrument is not None:
            instrument_named(instrument)
    except NotFound:
        yield Fault("evening-member", {"member": member}, path=path)
    except DomainError as error:
        yield Fault(error.code, error.params, path=path)


async def add_evening(
    house: House, caller: Caller, group_slug: str, plan: Plan, once: Once[Evening] | None
) -> Evening:
    group = reach_group(house, caller, group_slug, "plan-evenings")
    checked = _checked(house, group, plan)
    record, now = encode(checked.items).decode(), stamp(house.clock())

    def unit(connection: Connection) -> Evening:
        row = rows.add_evening(connection, group.id, checked.day.isoformat(), checked.title, record)
        note(connection, caller, group.id, now, "plan-evening", f"evening {row.number}")
        return _evening(connection, group.id, row)

    return await write_once(house, caller, once, unit)


async def change_evening(
    house: House, caller: Caller, group_slug: str, number: int, revision: int, plan: Plan
) -> Evening:
    """Raises Conflict if it has changed since ``revision``."""
    group = reach_group(house, caller, group_slug, "plan-evenings")
    return await _save(house, caller, group, number, revision, _checked(house, group, plan), "change-evening")


async def drop_evening(house: House, caller: Caller, group_slug: str, number: int) -> None:
    """What was played on it stays played on that day."""
    group = reach_group(house, caller, group_slug, "plan-evenings")
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        rows.drop_evening(connection, _find(connection, group.id, number).id)
        note(connection, caller, group.id, now, "drop-evening", f"evening {number}")

    await house.database.write(unit)


async def _save(
    house: House, caller: Caller, group: GroupRow, number: int, revision: int, plan: Plan, action: str
) -> Evening:
    record, now = encode(plan.items).decode(), stamp(house.clock())

    def unit(connection: Connection) -> Evening:
        present = _find(connection, group.id, number)
        row = rows.change_evening(connection, present.id, revision, plan.day.isoformat(), plan.title, record)
        if row is None:
            raise Conflict("changed", revision=present.revision)
        note(connection, caller, group.id, now, action, f"evening {number}")
        return _evening(connection, group.id, row)

    return await house.database.write(unit)


async def share_breaks(
    house: House, caller: Caller, group_slug: str, number: int, joining: Sequence[Joining]
) -> Evening:
    """Share the breaks of all tunes of an evening anew among those who join in.

    Whoever knows a tune (or is learning it, and asks) and plays an instrument that has a setting in it takes part; a tune without
    settings is everybody's. Raises DomainError ``bad-evening``, Conflict if the evening changes meanwhile.
    """
    group = reach_group(house, caller, group_slug, "plan-evenings")
    points = house.database.points
    row = _find(points, group.id, number)
    faults = [
        fault
        for place, one in enumerate(joining)
        for fault in _player_faults(points, group.id, one.member, one.instrument, f"players[{place}]")
    ]
    numbers = [one.member for one in joining]
    faults += [
        Fault("player-twice", {"member": number}, path=f"players[{place}]")
        for place, number in enumerate(numbers)
        if number in numbers[:place]
    ]
    if faults:
        raise DomainError("bad-evening", at=faults, count=len(faults))
    standing = {
        (knower.tune_id, knower.number): knower.standing
        for knower in await repertoire_rows.knowers(house.database.slow, group.id)
    }
    items = _items.decode(row.record)
    calls = [_call(item, tune_by_slug(points, group.id, item.tune), joining, standing) for item in items]
    shared = await house.think(lambda: share(calls))
    plays = {one.member: instrument_named(one.instrument).id for one in joining}
    filled = tuple(
        msgspec.structs.replace(item, breaks=tuple(TurnRecord(member, plays[member]) for member in taken))
        for item, taken in zip(items, shared, strict=True)
    )
    plan = Plan(date.fromisoformat(row.day), row.title, filled)
    return await _save(house, caller, group, number, row.revision, plan, "share-breaks")


def _call(
    item: ItemRecord,
    tune: TuneRow | None,
    joining: Sequence[Joining],
    standing: dict[tuple[int, int], str],
) -> Call:
    if tune is None:  # off the group's list since
        return Call(item.turns, ())
    set_for = {setting.instrument for setting in tune_record(tune.body).settings}
    able, learning = [], set()
    for one in joining:
        how = standing.get((tune.id, one.member))
        plays = not set_for or instrument_named(one.instrument).id in set_for
        if plays and (how == KNOW or (how == LEARNING and one.learning)):
            able.append(one.member)
            if how == LEARNING:
                learning.add(one.member)
    return Call(item.turns, tuple(able), frozenset(learning), item.kick_off)


async def mark_played(house: House, caller: Caller, group_slug: str, number: int, slug: str) -> date:
    """A tune was played on that evening, whether it was planned or not."""
    group = reach_group(house, caller, group_slug, "mark-played")
    row = _find(house.database.points, group.id, number)
    check_past(house, group, date.fromisoformat(row.day))
    tune = find_tune(house, group.id, slug)
    await house.database.write(
        lambda connection: repertoire_rows.mark_played(connection, tune.id, row.day, row.id)
    )
    return date.fromisoformat(row.day)
