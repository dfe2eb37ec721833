"""Making, reading and changing groups."""

import re
from collections.abc import Sequence
from dataclasses import replace
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError
from service.music.instruments import instrument_named
from service.store import groups as rows
from service.store.groups import GroupRow
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group, require
from service.usecases.once import Once, write_once

_SLUG = re.compile(r"[a-z][a-z0-9-]{0,39}")


def check_slug(slug: str) -> str:
    """A short name that people type. Raises DomainError ``bad-slug``."""
    if not _SLUG.fullmatch(slug):
        raise DomainError("bad-slug", slug=slug)
    return slug


async def make_group(house: House, caller: Caller, wanted: GroupRow, once: Once[GroupRow] | None) -> GroupRow:
    """Add a group; ``wanted``'s id and revision are ignored. Raises Conflict if the name is taken."""
    require(caller, "make-group")
    check_slug(wanted.slug)
    instrument_named(wanted.instrument).tuning(wanted.tuning)
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


def read_groups(house: House, caller: Caller, after: str, limit: int) -> Sequence[GroupRow]:
    require(caller, "list-groups")
    return rows.groups_after(house.database.points, after, limit)


async def change_group(
    house: House, caller: Caller, slug: str, revision: int, changes: dict[str, str]
) -> GroupRow:
    """Change name, instrument, tuning or language. Raises Conflict if it has changed since ``revision``."""
    group = reach_group(house, caller, slug, "change-group")
    changed = replace(group, **changes)  # type: ignore[arg-type]
    instrument_named(changed.instrument).tuning(changed.tuning)
    expected = replace(changed, revision=revision)

    def unit(connection: Connection) -> GroupRow:
        if not rows.change_group(connection, expected):
            raise Conflict("changed", revision=group.revision)
        return replace(expected, revision=revision + 1)

    return await house.database.write(unit)
