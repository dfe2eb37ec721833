"""Judging kept: once for each revision of a lick, and once for each kind of phrase it is played over.

Facts are made when a lick is sent in, so that nothing is in the pool without them. What another version of the rules
left behind is judged anew: in the background after a start, or when somebody asks first.
"""

import asyncio
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from sqlite3 import Connection

import msgspec

from service.compose.candidates import Spot, unjudged
from service.compose.matching import Ground, judge_over, known_rows, over_rows, packed_over
from service.compose.pool import Pool, packed
from service.compose.stock import Column
from service.judge.facts import RULES_VERSION, Facts, facts_of
from service.judge.twins import Twin, TwinIndex, essence, shape_of, twins
from service.music.licks import Lick
from service.music.meter import Meter
from service.music.setting import Setting
from service.store import facts as rows
from service.store import licks as lick_rows
from service.store.facts import FactsRow
from service.usecases.house import House, Shapes
from service.usecases.records import encode, lick_of, lick_record
from service.usecases.shown_licks import BEGINS, shown_of

AT_ONCE = 200  # licks judged between two writes
GROUPS_AT_ONCE = 20  # groups looked at in one query for licks without facts
_decoder = msgspec.json.Decoder(Facts)


@dataclass(frozen=True, slots=True)
class Pooled:
    """A lick of the pool with what is judged of it once."""

    number: int
    revision: int
    lick: Lick
    facts: Facts


def facts_body(lick: Lick, facts: Facts) -> str:
    """What is kept of a lick as JSON: what pages show of it comes first, so that its version is seen without reading all."""
    return encode({"shown": shown_of(lick)} | msgspec.to_builtins(facts)).decode()


def facts_row(number: int, revision: int, lick: Lick, facts: Facts) -> FactsRow:
    told = facts_body(lick, facts)
    return FactsRow(number, revision, told, shape_of(lick), identity_of(lick), packed(lick, facts))


def identity_of(lick: Lick) -> bytes:
    """What is equal for two licks that are one, and for no others."""
    return hashlib.sha256(repr(essence(lick)).encode()).digest()[:16]


def read_facts(body: str | None, lick: Lick) -> Facts:
    """Facts as they were kept, or made now."""
    return facts_of(lick) if body is None else _decoder.decode(body)


def keep_facts(
    connection: Connection, group_id: int, number: int, revision: int, lick: Lick, facts: Facts
) -> None:
    """Within a unit of SQL."""
    rows.keep_lick_facts(connection, group_id, RULES_VERSION, [facts_row(number, revision, lick, facts)])


async def pool_of(house: House, group_id: int, pool_version: int, instrument: str, tuning: str) -> Pool:
    """The licks of a pool for one instrument and tuning; what has no facts of this version is judged first."""
    key = (group_id, instrument, tuning)
    ready = house.pools.get(key)
    if ready is not None and ready[0] == pool_version:
        return ready[1]
    listed = await rows.pool_columns(house.database.slow, group_id, instrument, tuning, RULES_VERSION)
    missing = [(number, revision) for number, revision, columns in listed if columns is None]
    made = await judge_licks(house, group_id, missing)
    licks = [(number, revision, columns or made[number, revision]) for number, revision, columns in listed]
    pool = await asyncio.to_thread(Pool.of, licks)
    house.pools.put(key, (pool_version, pool))
    return pool


async def judge_licks(
    house: House, group_id: int, wanted: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], bytes]:
    """Judge these (number, revision) off the loop and store it; what composing looks at of each."""
    found = {}
    for start in range(0, len(wanted), AT_ONCE):
        bodies = await lick_rows.lick_bodies(house.database.slow, group_id, wanted[start : start + AT_ONCE])
        kept = await asyncio.to_thread(_judged, bodies)
        await house.database.write(
            lambda connection, kept=kept: rows.keep_lick_facts(connection, group_id, RULES_VERSION, kept)  # type: ignore[misc]
        )
        found.update({(row.number, row.revision): row.packed for row in kept})
    return found


def _judged(bodies: Mapping[tuple[int, int], str]) -> list[FactsRow]:
    found = []
    for (number, revision), body in bodies.items():
        lick = lick_of(lick_record(body))
        found.append(facts_row(number, revision, lick, facts_of(lick)))
    return found


async def pooled(
    house: House, group_id: int, wanted: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], Pooled]:
    """Licks of a pool with their facts."""
    bodies = await lick_rows.lick_bodies(house.database.slow, group_id, wanted)
    kept = await rows.lick_facts(house.database.slow, group_id, RULES_VERSION, wanted)
    known = {(row.number, row.revision): row.body for row in kept}
    licks = {pair: lick_of(lick_record(body)) for pair, body in bodies.items()}
    return {pair: Pooled(*pair, lick, read_facts(known.get(pair), lick)) for pair, lick in licks.items()}


async def judged_over(
    house: House, group_id: int, pool: Pool, setting: Setting, meter: Meter, wanted: Iterable[Spot]
) -> dict[bytes, Column]:
    """What is judged of the licks of these spots, by ground; what is not known yet is judged off the loop and stored."""
    found: dict[bytes, Column] = {}
    for spot in wanted:
        ground = spot.ground.key
        known = found.get(ground)
        if known is None:
            known = house.over.get((group_id, ground))
        if known is None:
            known = over_rows(await rows.judged_over(house.database.slow, group_id, RULES_VERSION, ground))
        missing = pool.rows[unjudged(pool, spot, known)]
        for start in range(0, len(missing), AT_ONCE):
            part = missing[["number", "revision"]][start : start + AT_ONCE].tolist()
            bodies = await lick_rows.lick_bodies(house.database.slow, group_id, part)
            fresh = await asyncio.to_thread(_judged_there, bodies, spot.ground, setting, meter)
            await house.database.write(
                lambda connection, fresh=fresh, ground=ground: rows.keep_phrase_facts(  # type: ignore[misc]
                    connection, group_id, RULES_VERSION, ground, fresh
                )
            )
            known = over_rows([*known_rows(known), *fresh])
        found[ground] = known
        house.over.put((group_id, ground), known)
    return found


def _judged_there(
    bodies: Mapping[tuple[int, int], str], ground: Ground, setting: Setting, meter: Meter
) -> list[tuple[int, int, bytes]]:
    return [
        (*pair, packed_over(judge_over(lick_of(lick_record(body)), ground, setting, meter)))
        for pair, body in bodies.items()
    ]


async def fill_facts(house: House) -> int:
    """Judge every lick of every pool that has no facts by these rules, or not as they are kept now; returns how many there were.

    It looks at some groups at a time: who lists licks meanwhile waits for no more than those.
    """
    count = 0
    for first in range(1, await rows.last_group(house.database.slow) + 1, GROUPS_AT_ONCE):
        missing = await rows.without_facts(
            house.database.slow, RULES_VERSION, BEGINS, first, first + GROUPS_AT_ONCE - 1
        )
        for group_id, wanted in groupby(missing, lambda row: row[0]):
            await judge_licks(house, group_id, [(number, revision) for _, number, revision in wanted])
        count += len(missing)
    return count


async def find_twins(
    house: House, group_id: int, pool_version: int, lick: Lick, but: int | None = None
) -> list[tuple[Twin, Lick]]:
    """Licks of the pool that are the same or nearly, nearest first."""
    key = (group_id, lick.instrument.id)
    shapes = house.shapes.get(key)
    if shapes is None or shapes.version != pool_version:
        known = await rows.pool_shapes(house.database.slow, group_id, lick.instrument.id, RULES_VERSION)
        shapes = Shapes(pool_version, TwinIndex(known))
        house.shapes.put(key, shapes)
    licks = {}
    for number in shapes.index.nearest(shape_of(lick)):
        row = lick_rows.lick_by_number(house.database.points, group_id, number, RULES_VERSION)
        if row is not None and row.state == lick_rows.IN_POOL:
            licks[number] = lick_of(lick_record(row.body))
    return [(twin, licks[twin.number]) for twin in twins(lick, shapes.index, licks, but)]
