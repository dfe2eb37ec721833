"""A tune in a setting with every break there is of it, kept ready in memory."""

import asyncio
import hashlib
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from service.compose.lattice import Lattice
from service.compose.matching import PhraseFacts, PhraseKey, build_lattice, ground_of
from service.judge.facts import RULES_VERSION
from service.music.setting import Setting
from service.music.tunes import Tune, phrases
from service.store.groups import GroupRow
from service.store.tunes import TuneRow
from service.usecases.facts import keep_over, known_over, pool
from service.usecases.house import House
from service.usecases.records import choose_setting, encode, kept_tune, record_of, tune_record
from service.usecases.tunes import find_tune


@dataclass(frozen=True, slots=True)
class Composed:
    """A tune in a setting with every break there is of it; ``snapshot`` names that state of the pool, ``key`` it and all else
    that they depend on."""

    group: GroupRow
    row: TuneRow
    tune: Tune
    setting: Setting
    key: Hashable
    snapshot: str
    lattice: Lattice


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
        licks = await pool(house, group.id, setting.instrument.id, setting.tuning.id)
        form = phrases(tune)
        spans = {pooled.lick.phrases for pooled in licks}
        stretches = [form[i : i + span] for i in range(len(form)) for span in spans]
        grounds = [ground_of(stretch, setting, tune).key for stretch in stretches if stretch]
        known = await known_over(house, group.id, grounds)
        fresh: dict[PhraseKey, PhraseFacts] = {}
        lattice = await asyncio.to_thread(build_lattice, licks, tune, setting, known, fresh)
        await keep_over(house, group.id, fresh)
        found = (_snapshot(row, setting, [(lick.number, lick.revision) for lick in licks]), lattice)
        house.lattices.put(key, found)
    return Composed(group, row, tune, setting, key, *found)


def _snapshot(row: TuneRow, setting: Setting, licks: Sequence[tuple[int, int]]) -> str:
    """Names what numbers depend on: the tune's revision, the setting, the pool, the rules."""
    told = encode([RULES_VERSION, row.slug, row.revision, record_of(setting), sorted(licks)])
    return hashlib.sha256(told).hexdigest()[:16]
