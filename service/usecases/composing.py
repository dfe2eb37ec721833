"""A tune in a setting with every break there is of it, kept ready in memory."""

import asyncio
import hashlib
from collections.abc import Hashable
from dataclasses import dataclass
from itertools import chain

from service.compose.candidates import build_lattice, spots
from service.compose.lattice import Lattice
from service.compose.pool import Pool
from service.judge.facts import RULES_VERSION
from service.music.setting import Setting
from service.music.tunes import Phrase, Tune
from service.store.groups import GroupRow
from service.store.tunes import TuneRow
from service.usecases.facts import judged_over, pool_of
from service.usecases.house import House
from service.usecases.records import choose_setting, encode, kept_form, kept_tune, record_of, tune_record
from service.usecases.tunes import find_tune


@dataclass(frozen=True, slots=True)
class Composed:
    """A tune in a setting with every break there is of it; ``snapshot`` names that state of the pool, ``key`` it and all else
    that they depend on; ``form`` are the tune's phrases in playing order, repeats written out."""

    group: GroupRow
    row: TuneRow
    tune: Tune
    setting: Setting
    key: Hashable
    snapshot: str
    lattice: Lattice
    form: tuple[Phrase, ...]


async def compose(
    house: House, group: GroupRow, slug: str, instrument: str | None, tuning: str | None
) -> Composed:
    """The lattice of a tune for an instrument, from memory where nothing has changed."""
    row = find_tune(house, group.id, slug)
    tune = kept_tune(row.id, row.revision, row.slug, row.body)
    if instrument is None:
        instrument = group.instrument
        tuning = tuning or group.tuning
    setting = choose_setting(tune_record(row.body), tune, instrument, tuning)
    key = (group.id, group.pool_version, row.id, row.revision, setting)
    found = house.lattices.get(key)
    if found is None:
        async with house.making(key):  # of many who ask at once, one makes it
            found = house.lattices.get(key) or await _made(house, group, row, tune, setting)
            house.lattices.put(key, found)
    form = kept_form(row.id, row.revision, row.slug, row.body)
    return Composed(group, row, tune, setting, key, *found, form)


async def _made(
    house: House, group: GroupRow, row: TuneRow, tune: Tune, setting: Setting
) -> tuple[str, Lattice]:
    instrument, tuning = setting.instrument.id, setting.tuning.id
    pool = await pool_of(house, group.id, group.pool_version, instrument, tuning)
    wanted = await asyncio.to_thread(spots, pool, tune, setting)
    over = await judged_over(house, group.id, pool, setting, tune.meter, chain.from_iterable(wanted))
    lattice = await asyncio.to_thread(build_lattice, pool, tune, wanted, over)
    return _snapshot(row, setting, pool), lattice


def _snapshot(row: TuneRow, setting: Setting, pool: Pool) -> str:
    """Names what numbers depend on: the tune's revision, the setting, the pool, the rules."""
    told = encode([RULES_VERSION, row.slug, row.revision, record_of(setting)])
    return hashlib.sha256(told + pool.rows[["number", "revision"]].tobytes()).hexdigest()[:16]
