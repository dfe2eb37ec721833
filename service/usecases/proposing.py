"""Licks proposed for a phrase of a tune; kept as licks of the pool if an organiser says so."""

import asyncio
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from sqlite3 import Connection

import msgspec

from service.arrange.manners import LEVELS, MELODIC
from service.arrange.plain import Arrangement, arrange
from service.arrange.proposals import MOST, MOVED, OF_A_KIND, Place, Proposal, is_twin, proposals
from service.arrange.variations import How, variations
from service.clock import stamp
from service.compose.matching import changes_over, kinds_to_move, melody_over, tempo_of
from service.errors import Conflict, DomainError, NotFound
from service.music.licks import Lick
from service.music.setting import Setting
from service.music.tunes import Phrase, Tune, phrases
from service.store.facts import same_lick
from service.store.groups import GroupRow
from service.store.licks import IN_POOL, lick_bodies
from service.store.taken_down import same_lick_taken_down
from service.usecases.arranging import instrument_of, made_record
from service.usecases.audited import note
from service.usecases.drawable import HANDS_AND_EARS
from service.usecases.facts import find_twins, identity_of, pool_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import HOLDS_BACK, KeptLick, judge_new, keep_new
from service.usecases.once import Once, check_once, write_once
from service.usecases.records import (
    LickRecord,
    Rights,
    choose_setting,
    kept_tune,
    lick_of,
    lick_record,
    tune_record,
)
from service.usecases.tunes import find_tune

MOST_TRIED = 60  # licks of a pool that are moved to a phrase; of more, so many from all over the pool
MOST_COMPARED = 3 * MOST  # of the best, for twins in the pool
NOT_PROPOSED = (
    HOLDS_BACK | HANDS_AND_EARS | {"change-not-heard", "finger-hops"}
)  # whoever is offered something may expect it to be good
MOST_SOURCE = 200  # characters, as much as may be sent in
KEY_DIGITS = 8


@dataclass(frozen=True, slots=True)
class Offered:
    """A proposal and what it would be kept with; ``key`` names its notes."""

    key: str
    proposal: Proposal
    rights: Rights


async def offered(
    house: House, caller: Caller, group_slug: str, slug: str, phrase: int, instrument: str | None
) -> list[Offered]:
    """Licks proposed for a phrase, best first. Raises NotFound ``no-such-phrase``."""
    group = reach_group(house, caller, group_slug, "draw-break")
    return await _offered(house, group, slug, phrase, instrument)


async def keep_offered(
    house: House,
    caller: Caller,
    group_slug: str,
    slug: str,
    phrase: int,
    instrument: str | None,
    key: str,
    named: Callable[[Proposal], str],
    once: Once[KeptLick] | None = None,
) -> KeptLick:
    """A proposal as a lick of the pool, ``named`` as it was shown: whoever keeps it has seen it. Raises NotFound ``no-such-phrase``, Conflict
    ``no-such-proposal`` where pool or tune have changed since."""
    group = reach_group(house, caller, group_slug, "change-tunes")
    check_once(house, caller, once)
    found = await _offered(house, group, slug, phrase, instrument)
    one = next((one for one in found if one.key == key), None)
    if one is None:
        raise Conflict("no-such-proposal", key=key)
    lick = replace(one.proposal.lick, name=named(one.proposal))
    judged = await judge_new(house, caller, group, made_record(lick, one.rights), lick)
    now = stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        if same_lick(connection, group.id, identity_of(lick), None) is not None:  # somebody else was quicker
            raise Conflict("no-such-proposal", key=key)
        kept = keep_new(connection, caller, group.id, replace(judged, state=IN_POOL), now)
        note(connection, caller, group.id, now, "keep-proposal", f"lick {kept.number}", tune=slug)
        return kept

    return await write_once(house, caller, once, unit)


async def _offered(
    house: House, group: GroupRow, slug: str, number: int, instrument: str | None
) -> list[Offered]:
    row = find_tune(house, group.id, slug)
    tune = kept_tune(row.id, row.revision, row.slug, row.body)
    form = phrases(tune)
    if not 1 <= number <= len(form):
        raise NotFound("no-such-phrase", phrase=number, phrases=len(form))
    phrase = form[number - 1]
    setting = choose_setting(tune_record(row.body), tune, *instrument_of(group, instrument, None))
    records = await _to_move(house, group, phrase, setting, tune)
    made = await asyncio.to_thread(_made, phrase, setting, tune, records)
    found: list[Offered] = []
    alike: Counter[str] = Counter()
    for one in made[:MOST_COMPARED]:
        if len(found) == MOST:
            break
        if one.how.code != MOVED and alike[one.how.code] == OF_A_KIND:
            continue
        await asyncio.sleep(0)  # looking for twins takes a moment in a large pool: others get their turn
        if not await _has(house, group, one):
            key = identity_of(one.lick).hex()[:KEY_DIGITS]
            found.append(Offered(key, one, _rights(one, tune, records)))
            alike[one.how.code] += 1
    return found


async def _to_move(
    house: House, group: GroupRow, phrase: Phrase, setting: Setting, tune: Tune
) -> dict[int, LickRecord]:
    """Licks of the pool, by number, whose chords change as the phrase's do, and whose authors let others edit them."""
    pool = await pool_of(house, group.id, group.pool_version, setting.instrument.id, setting.tuning.id)
    places = pool.of_kinds(kinds_to_move(phrase, setting, tune))
    every = max(1, -(-len(places) // MOST_TRIED))
    wanted = pool.rows[places[::every]][["number", "revision"]].tolist()
    bodies = await lick_bodies(house.database.slow, group.id, wanted)
    records = {number: lick_record(body) for (number, _), body in sorted(bodies.items())}
    return {number: record for number, record in records.items() if record.rights.may_edit}


def _made(phrase: Phrase, setting: Setting, tune: Tune, records: dict[int, LickRecord]) -> list[Proposal]:
    place = Place(
        phrase.part,
        phrase.index,
        phrase.role,
        setting.position,
        tune.meter,
        tempo_of(tune)[0],
        changes_over((phrase,), setting, tune),
        melody_over((phrase,), setting, tune),
    )
    pool = [(number, lick_of(record)) for number, record in records.items()]
    return proposals(
        place, pool, _arrangements(tune, setting), _variations(tune, phrase, setting), NOT_PROPOSED
    )


@lru_cache(maxsize=64)
def _arrangements(tune: Tune, setting: Setting) -> tuple[Arrangement, ...]:
    """The tune at every level, and in melodic style where the instrument has it; nothing without a melody."""
    found = []
    for level, style in (*((level, None) for level in LEVELS), (2, MELODIC.style)):
        try:
            found.append(arrange(tune, setting, level, style))
        except DomainError:  # no melody, or no such style on the instrument
            continue
    return tuple(found)


@lru_cache(maxsize=256)
def _variations(tune: Tune, phrase: Phrase, setting: Setting) -> tuple[tuple[Lick, How], ...]:
    return tuple(variations(tune, phrase, setting))


async def _has(house: House, group: GroupRow, one: Proposal) -> bool:
    """Whether the pool has a lick already, note for note or nearly, or an organiser took it down."""
    points, identity = house.database.points, identity_of(one.lick)
    if same_lick(points, group.id, identity, None) or same_lick_taken_down(points, group.id, identity, None):
        return True
    doubled = await find_twins(house, group.id, group.pool_version, one.lick)
    return any(is_twin(one.lick, other) for _, other in doubled)


def _rights(one: Proposal, tune: Tune, records: dict[int, LickRecord]) -> Rights:
    """A moved lick is as much its author's as the one it comes from, but whether other groups may have it is not declared for it."""
    if one.how.number is None:
        return Rights(origin="own", source=tune.name)
    of = records[one.how.number]
    source = f"{of.name} ({one.how.number})"
    if of.rights.source:
        source = f"{source}; {of.rights.source}"
    return msgspec.structs.replace(of.rights, source=source[:MOST_SOURCE], may_share=False)
