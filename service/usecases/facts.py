"""Judging kept: once for each revision of a lick, and once for each kind of phrase it is played over.

Facts are made when a lick is sent in, so that nothing is in the pool without them. What another version of the rules
left behind is judged anew: in the background after a start, or when somebody asks first.
"""

import asyncio
import hashlib
from collections.abc import Mapping, MutableMapping, Sequence
from sqlite3 import Connection

import msgspec

from service.compose.matching import PhraseFacts, PhraseKey, Pooled
from service.judge.facts import RULES_VERSION, Facts, facts_of
from service.judge.twins import Twin, TwinIndex, essence, shape_of, twins
from service.music.licks import Lick
from service.store import facts as rows
from service.store import licks as lick_rows
from service.store.facts import FactsRow, PhraseFactsRow
from service.usecases.house import House, Shapes
from service.usecases.records import encode, lick_of, lick_record

AT_ONCE = 200  # licks judged between two writes
_decoder = msgspec.json.Decoder(Facts)


def facts_row(number: int, revision: int, lick: Lick, facts: Facts) -> FactsRow:
    return FactsRow(number, revision, encode(facts).decode(), shape_of(lick), identity_of(lick))


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


async def pool(house: House, group_id: int, instrument: str, tuning: str) -> Sequence[Pooled]:
    """The licks of a pool for one instrument and tuning; only what changed is read again."""
    wanted = await lick_rows.pool_revisions(house.database.slow, group_id, instrument, tuning)
    key = (group_id, instrument, tuning)
    ready: dict[tuple[int, int], Pooled] = house.pools.get(key) or {}
    missing = [pair for pair in wanted if pair not in ready]
    loaded = await _load(house, group_id, missing)
    fresh = {pair: ready[pair] if pair in ready else loaded[pair] for pair in wanted}
    house.pools.put(key, fresh)
    return list(fresh.values())


async def _load(
    house: House, group_id: int, wanted: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], Pooled]:
    """Licks with their facts; what has none of this version is judged off the loop and stored."""
    bodies = await lick_rows.lick_bodies(house.database.slow, group_id, wanted)
    found = await rows.lick_facts(house.database.slow, group_id, RULES_VERSION, wanted)
    known = {(row.number, row.revision): row.body for row in found}
    licks = {pair: lick_of(lick_record(bodies[pair])) for pair in wanted}
    unjudged = [pair for pair in wanted if pair not in known]
    made = {}
    for start in range(0, len(unjudged), AT_ONCE):
        part = unjudged[start : start + AT_ONCE]
        judged = await asyncio.to_thread(lambda part=part: {pair: facts_of(licks[pair]) for pair in part})  # type: ignore[misc]
        made.update(judged)
        kept = [
            facts_row(number, revision, licks[number, revision], facts)
            for (number, revision), facts in judged.items()
        ]
        await house.database.write(
            lambda connection, kept=kept: rows.keep_lick_facts(connection, group_id, RULES_VERSION, kept)  # type: ignore[misc]
        )
    return {
        pair: Pooled(*pair, licks[pair], made.get(pair) or _decoder.decode(known[pair])) for pair in wanted
    }


async def known_over(house: House, group_id: int, grounds: Sequence[bytes]) -> dict[PhraseKey, PhraseFacts]:
    """Everything already judged over these grounds."""
    found = await rows.phrase_facts(
        house.database.slow, group_id, RULES_VERSION, list(dict.fromkeys(grounds))
    )
    return {
        (row.number, row.revision, row.ground): PhraseFacts(
            row.fit, row.share, row.hurts, row.recall, row.kept, row.strong
        )
        for row in found
    }


async def keep_over(house: House, group_id: int, fresh: Mapping[PhraseKey, PhraseFacts]) -> None:
    """Store what was judged over grounds."""
    if fresh:
        kept = [
            PhraseFactsRow(*key, facts.fit, facts.share, facts.hurts, facts.recall, facts.kept, facts.strong)
            for key, facts in fresh.items()
        ]
        await house.database.write(
            lambda connection: rows.keep_phrase_facts(connection, group_id, RULES_VERSION, kept)
        )


async def fill_facts(house: House) -> int:
    """Judge every lick of every pool that has no facts by these rules; returns how many there were."""
    missing = await rows.groups_without_facts(house.database.slow, RULES_VERSION)
    by_group: MutableMapping[int, list[tuple[int, int]]] = {}
    for group_id, number, revision in missing:
        by_group.setdefault(group_id, []).append((number, revision))
    for group_id, wanted in by_group.items():
        await _load(house, group_id, wanted)
    return len(missing)


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
