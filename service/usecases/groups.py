"""Making, reading and changing groups."""

from collections.abc import Sequence
from dataclasses import replace
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError, Fault
from service.music.instruments import instrument_named
from service.store import groups as rows
from service.store.groups import GroupRow
from service.store.posts import bring_back
from service.usecases.audited import note
from service.usecases.group_settings import GroupSettings, check_settings, settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group, require
from service.usecases.once import Once, write_once
from service.usecases.records import check_slug, encode
from service.usecases.weekly import set_weeks

WEEKS = frozenset(("zone", "weekday", "time", "draws"))  # settings that say when weeks begin
SERVER = frozenset(("platform", "server_id"))
PLACES = frozenset(("channel", *SERVER))  # and where posts go: parked ones may be sent there


async def make_group(house: House, caller: Caller, wanted: GroupRow, once: Once[GroupRow] | None) -> GroupRow:
    """Add a group; ``wanted``'s id and revision are ignored.

    Raises Conflict if the name or the server is taken.
    """
    require(caller, "make-group")
    check_slug(wanted.slug)
    instrument_named(wanted.instrument).tuning(wanted.tuning)
    _check_server(wanted)
    now = stamp(house.clock())

    def unit(connection: Connection) -> GroupRow:
        if rows.add_group(connection, wanted, now) is None:
            if rows.group_by_slug(connection, wanted.slug) is None:
                raise Conflict("server-bound")
            raise Conflict("exists", what="group", name=wanted.slug)
        made = rows.group_by_slug(connection, wanted.slug)
        if made is None:
            raise RuntimeError("a group just added is not there")
        return made

    return await write_once(house, caller, once, unit)


def _check_server(group: GroupRow) -> None:
    """A server is a platform and an id. Raises DomainError ``bad-server``."""
    if (group.platform is None) != (group.server_id is None):
        path = "platform" if group.platform is None else "server_id"
        raise DomainError("bad-server", at=[Fault("server-in-two", path=path)], count=1)


def read_groups(house: House, caller: Caller, after: str, limit: int) -> Sequence[GroupRow]:
    require(caller, "list-groups")
    return rows.groups_after(house.database.points, after, limit)


async def change_group(
    house: House, caller: Caller, slug: str, revision: int, changes: dict[str, str]
) -> GroupRow:
    """Change name, instrument, tuning, language; an operator also the server it belongs to.

    Raises Conflict if it has changed since ``revision``, or the server is another group's.
    """
    group = reach_group(house, caller, slug, "change-group")
    if SERVER.intersection(changes):
        require(caller, "make-group")  # else somebody could bind a server that is not theirs
    changed = replace(group, **changes)  # type: ignore[arg-type]
    instrument_named(changed.instrument).tuning(changed.tuning)
    _check_server(changed)
    return await _save(house, caller, replace(changed, revision=revision), sorted(changes))


async def change_settings(
    house: House, caller: Caller, slug: str, revision: int, settings: GroupSettings
) -> GroupRow:
    """What the group has chosen, as a whole. Raises Conflict if it has changed since ``revision``."""
    group = reach_group(house, caller, slug, "change-group")
    before = settings_of(group)
    body = encode(check_settings(settings)).decode()
    changed = [
        name for name in settings.__struct_fields__ if getattr(settings, name) != getattr(before, name)
    ]
    return await _save(house, caller, replace(group, revision=revision, settings=body), changed)


async def _save(house: House, caller: Caller, expected: GroupRow, changed: list[str]) -> GroupRow:
    moment = house.clock()
    now = stamp(moment)

    def unit(connection: Connection) -> GroupRow:
        if expected.platform is not None and expected.server_id is not None:
            bound = rows.group_by_server(connection, expected.platform, expected.server_id)
            if bound is not None and bound.id != expected.id:
                raise Conflict("server-bound")
        if not rows.change_group(connection, expected):
            present = rows.group_by_id(connection, expected.id)
            raise Conflict("changed", revision=present.revision if present else 0)
        if WEEKS.intersection(changed):
            set_weeks(connection, expected, moment)
        if PLACES.intersection(changed):
            bring_back(connection, expected.id, now)
        note(connection, caller, expected.id, now, "change-group", f"group {expected.slug}", changed=changed)
        return replace(expected, revision=expected.revision + 1)

    return await house.database.write(unit)
