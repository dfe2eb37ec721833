"""A service with a crowd in it: one group made by the use cases, then copied by SQL under other names.

What is made is kept in the system's folder for temporary files until this module, the rules or the migrations change.
"""

import asyncio
import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from sqlite3 import Connection

from service.app import open_house
from service.clock import stamp
from service.store import people
from service.store import variations as variation_rows
from service.store.groups import GroupRow, change_group, group_by_slug
from service.store.migrate import migrations
from service.store.variations import ENTERED, Content
from service.usecases.challenges import Wish, close_challenge, find_challenge, make_challenge
from service.usecases.composing import compose
from service.usecases.house import House
from service.usecases.identify import Caller
from service.usecases.seeding import DEMO_GROUP, seed_demo
from service.usecases.shown_licks import BEGINS
from service.usecases.variations import announce, find_variation
from tests.bench.filled import settings_for

GROUPS, MEMBERS, CHALLENGES, ENTRIES, VOTES = 10_000, 20, 10, 10, 5
LICKS = 102  # the demo's first: its plain breaks are among them
PLATFORM = "chat"
ZONES = ("UTC", "Europe/Berlin", "America/New_York", "Asia/Tokyo", "America/Los_Angeles", "Asia/Kolkata")
LATER = "2099-01-05T18:00:00Z"  # when what is open closes, until a measurement says otherwise


def server_of(group: int) -> str:
    return f"server-{group}"


def slug_of(group: int) -> str:
    """Groups count from 1; the first is the one that all others are copies of."""
    return DEMO_GROUP if group == 1 else f"{DEMO_GROUP}-{group}"


def user_of(member: int) -> str:
    """A member's id on the platform, by the number in the group."""
    return f"user-{member}"


# --- the group that is copied ------------------------------------------------------------------------------


async def _one_group(folder: Path) -> None:
    async with open_house(settings_for(folder)) as house:
        await seed_demo(house)
        await house.database.write(_peopled)
        group = group_by_slug(house.database.points, DEMO_GROUP)
        assert group is not None
        tunes = [row[0] for row in house.database.points.execute("SELECT slug FROM tunes ORDER BY slug")]
        for tune in tunes:
            await compose(house, group, tune, None, None)  # so that what licks are over its phrases is kept
        organiser = Caller(0, "organiser", group.id, 1, member_number=1)
        for number in range(1, CHALLENGES + 1):
            wish = Wish(tunes[number % len(tunes)], number)
            await make_challenge(house, organiser, DEMO_GROUP, wish, None)
            await house.database.write(lambda c, number=number: _entered(house, c, group, number))  # type: ignore[misc]
            if number < CHALLENGES:
                await close_challenge(house, organiser, DEMO_GROUP, number)
        await house.database.write(_posted)


def _peopled(connection: Connection) -> None:
    connection.execute("DELETE FROM licks WHERE number > ?", (LICKS,))
    group = group_by_slug(connection, DEMO_GROUP)
    assert group is not None
    for number in range(1, MEMBERS + 1):
        role = "organiser" if number == 1 else "member"
        people.add_member(
            connection, group.id, f"Member {number}", role, PLATFORM, user_of(number), "2026-01-05T18:00:00Z"
        )
    settings = json.dumps({"draws": True, "channel": "channel-1"})
    told = GroupRow(
        group.id, group.slug, group.name, group.instrument, group.tuning, group.language, PLATFORM,
        server_of(1), group.revision, group.pool_version, settings,
    )  # fmt: skip
    assert change_group(connection, told)


def _entered(house: House, connection: Connection, group: GroupRow, number: int) -> None:
    """Licks of the pool as variations, each of another member's, each with some votes."""
    now = stamp(house.clock())
    challenge = find_challenge(connection, group.id, number)
    for entry in range(ENTRIES):
        body, facts, identity = connection.execute(
            "SELECT r.body, f.body, f.identity FROM lick_revisions r JOIN lick_facts f USING (group_id, number, revision) "
            "WHERE r.group_id = ? AND r.number = ?",
            (group.id, (number - 1) * ENTRIES + entry + 1),
        ).fetchone()
        said = Content(ENTERED, f"Variation {entry + 1}", "", body, facts, identity)
        made = variation_rows.add_variation(connection, group.id, challenge.id, entry + 2, said, None, now)
        row = find_variation(connection, group.id, made)
        announce(connection, group, row, challenge, now)
        for vote in range(VOTES):
            voter = (entry + 2 + 3 * vote) % MEMBERS + 1
            variation_rows.cast_vote(connection, challenge.id, row.id, voter, now)


def _posted(connection: Connection) -> None:
    connection.execute("UPDATE posts SET state = 'sent', claims = 1, message_id = id, channel = 'channel-1'")
    connection.execute("UPDATE challenges SET closes = ? WHERE state = 'open'", (LATER,))
    connection.execute("DELETE FROM due")
    connection.execute("DELETE FROM audit")


# --- its copies ----------------------------------------------------------------------------------------------

# What is copied, and which columns count on from group to group: each by the last number of the table it belongs to.
COPIED: Mapping[str, Mapping[str, str]] = {
    "groups": {"id": "groups"},
    "members": {"id": "members", "group_id": "groups"},
    "tunes": {"id": "tunes", "group_id": "groups"},
    "tune_revisions": {"tune_id": "tunes"},
    "licks": {"group_id": "groups", "member_id": "members"},
    "lick_revisions": {"group_id": "groups"},
    "lick_facts": {"group_id": "groups"},
    "lick_columns": {"group_id": "groups"},
    "phrase_facts": {"group_id": "groups"},
    "challenges": {"id": "challenges", "group_id": "groups", "tune_id": "tunes"},
    "variations": {
        "id": "variations",
        "group_id": "groups",
        "challenge_id": "challenges",
        "member_id": "members",
    },
    "votes": {"challenge_id": "challenges", "variation_id": "variations", "member_id": "members"},
    "posts": {"id": "posts", "group_id": "groups"},
}
# What a copy says otherwise; n is how many copies were made before it, and one.
OTHERWISE = {
    "groups": {
        "slug": "s.slug || '-' || (n.n + 1)",
        "server_id": "'server-' || (n.n + 1)",
        "settings": "json_set(s.settings, '$.zone', n.zone)",
    },
    "lick_revisions": {"body": "'{\"name\":\"' || n.n || ' ' || substr(s.body, 10)"},  # no two the same
    "variations": {"body": "'{\"name\":\"' || n.n || ' ' || substr(s.body, 10)"},
    "tune_revisions": {"body": "json_set(s.body, '$.name', json_extract(s.body, '$.name') || ' ' || n.n)"},
}


def _multiply(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for pragma in (
            "journal_mode = OFF",
            "synchronous = OFF",
            "foreign_keys = OFF",
            "cache_size = -400000",
        ):
            connection.execute(f"PRAGMA {pragma}")
        connection.execute("BEGIN")
        connection.execute("CREATE TEMP TABLE copies (n INTEGER PRIMARY KEY, zone TEXT)")
        connection.executemany(
            "INSERT INTO copies VALUES (?, ?)", [(n, ZONES[n % len(ZONES)]) for n in range(1, GROUPS)]
        )
        owners = sorted({owner for counting in COPIED.values() for owner in counting.values()})
        last = {owner: connection.execute(f"SELECT max(id) FROM {owner}").fetchone()[0] for owner in owners}
        for table, counting in COPIED.items():
            _copy(connection, table, {column: last[owner] for column, owner in counting.items()})
        connection.execute(
            "INSERT INTO due (group_id, kind, subject, at) SELECT group_id, 'close', id, closes FROM challenges "
            "WHERE state = 'open' UNION ALL SELECT id, 'week', 0, ? FROM groups ORDER BY 1, 2",
            (LATER,),
        )
        connection.execute("COMMIT")
        connection.execute("PRAGMA journal_mode = WAL")


def _copy(connection: Connection, table: str, steps: Mapping[str, int]) -> None:
    """``steps``: how far a column counts on from copy to copy."""
    info = connection.execute(f"PRAGMA table_info({table})").fetchall()
    columns = [row[1] for row in info]
    key = ", ".join(row[1] for row in sorted(info, key=lambda row: row[5]) if row[5])
    connection.execute(f"CREATE TEMP TABLE template AS SELECT * FROM main.{table} ORDER BY {key or 'rowid'}")
    told = [OTHERWISE.get(table, {}).get(column) or f"s.{column}" for column in columns]
    for at, column in enumerate(columns):
        if column in steps:
            told[at] = f"s.{column} + n.n * {steps[column]}"
    connection.execute(
        f"INSERT INTO main.{table} ({', '.join(columns)}) SELECT {', '.join(told)} "
        "FROM copies n CROSS JOIN template s ORDER BY n.n, s.rowid"
    )
    connection.execute("DROP TABLE template")


# --- kept between runs ---------------------------------------------------------------------------------------


def crowded() -> Path:
    """The folder of a service with a crowd in it. It is not to be changed: ``working_copy`` makes one that may be."""
    told = [BEGINS, Path(__file__).read_text(), [sql for _, _, sql in migrations()]]
    key = hashlib.sha256(repr(told).encode()).hexdigest()[:16]
    kept = Path(tempfile.gettempdir()) / f"breakwright-crowd-{os.getuid()}-{key}"
    if not kept.exists():
        with tempfile.TemporaryDirectory(dir=tempfile.gettempdir()) as folder:
            making = Path(folder) / "made"
            asyncio.run(_one_group(making))
            _multiply(settings_for(making).database)
            making.rename(kept)
    return kept


def working_copy(folder: Path) -> Path:
    shutil.copytree(crowded(), folder, dirs_exist_ok=True)
    os.sync()  # the disk shall not be busy with the copy
    return folder
