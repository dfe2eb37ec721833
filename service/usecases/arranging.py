"""A plain break of a tune of the group's own: positions proposed, the melody arranged, and kept as licks if an organiser says so."""

import asyncio
from dataclasses import dataclass, replace
from sqlite3 import Connection

from service.arrange.plain import Arrangement, arrange
from service.arrange.positions import Proposed, proposed_settings
from service.clock import stamp
from service.errors import Conflict
from service.judge.facts import RULES_VERSION
from service.music.instruments import instrument_named
from service.music.licks import Lick
from service.music.passages import lick_passage
from service.music.setting import Setting, make_setting
from service.music.tunes import Tune
from service.notation.tab_writer import write_tab
from service.store import licks as lick_rows
from service.store import tunes as rows
from service.store.facts import same_lick
from service.store.groups import GroupRow
from service.store.tunes import TuneRow
from service.usecases.audited import note
from service.usecases.breaks import keep_break
from service.usecases.composing import compose
from service.usecases.facts import identity_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import NewLick, judge_new, keep_new
from service.usecases.made_breaks import Break
from service.usecases.once import Once, check_once, write_once
from service.usecases.records import (
    LickRecord,
    Rights,
    SettingRecord,
    TuneRecord,
    encode,
    kept_tune,
    lick_record,
    record_of,
    record_of_lick,
    setting_of,
    tune_record,
)
from service.usecases.spots import outline_of
from service.usecases.swaps import plain_picks
from service.usecases.tunes import find_tune


@dataclass(frozen=True, slots=True)
class ArrangeWish:
    """How a tune shall be arranged; the group's instrument, and the tune's own setting or the easiest one, where nothing is said."""

    instrument: str | None = None
    tuning: str | None = None
    position: str | None = None
    capo: int | None = None
    level: int = 2
    style: str | None = None


@dataclass(frozen=True, slots=True)
class Made:
    """An arrangement of a tune's revision; ``licks`` are their numbers in the pool, phrase by phrase, once it is kept."""

    tune: Tune
    revision: int
    arrangement: Arrangement
    licks: tuple[int, ...] = ()


async def settings_for(
    house: House, caller: Caller, group_slug: str, slug: str, instrument: str | None, tuning: str | None
) -> tuple[Proposed, ...]:
    """The positions in which an instrument can play a tune, the easiest first."""
    group = reach_group(house, caller, group_slug, "read-group")
    row = find_tune(house, group.id, slug)
    tune = kept_tune(row.id, row.revision, row.slug, row.body)
    played, tuned = instrument_of(group, instrument, tuning)
    chosen = instrument_named(played)
    return await asyncio.to_thread(proposed_settings, tune, chosen, chosen.tuning(tuned))


async def propose(house: House, caller: Caller, group_slug: str, slug: str, wish: ArrangeWish) -> Made:
    """An arrangement that nothing is kept of."""
    group = reach_group(house, caller, group_slug, "draw-break")
    return await _made(group, find_tune(house, group.id, slug), wish)


async def keep(
    house: House,
    caller: Caller,
    group_slug: str,
    slug: str,
    wish: ArrangeWish,
    once: Once[Made] | None = None,
    *,
    retire: bool = False,
) -> Made:
    """An arrangement whose phrases become licks of the pool, and the tune's plain break on its instrument; its setting becomes the
    tune's; with ``retire`` what was arranged of another melody before leaves the pool. Phrases that the pool has note for note take that lick. Raises Conflict ``changed`` if the tune changes meanwhile.
    """
    group = reach_group(house, caller, group_slug, "change-tunes")
    check_once(house, caller, once)
    row = find_tune(house, group.id, slug)
    made = await _made(group, row, wish)
    rights = Rights(origin="own", source=made.tune.name)
    judged = [
        await judge_new(house, caller, group, made_record(one.lick, rights), one.lick)
        for one in made.arrangement.phrases
    ]
    now = stamp(house.clock())

    def unit(connection: Connection) -> Made:
        numbers = tuple(_kept(connection, caller, group.id, one, now) for one in judged)
        kept = replace(made, licks=numbers)
        before = tune_record(row.body)
        if retire:
            _retire(connection, group.id, before, kept)
        record = _with_break(before, kept)
        revision = rows.save_tune(
            connection, group.id, slug, encode(record).decode(), now, row.revision, outline_of(made.tune)
        )
        if revision is None:
            raise Conflict("changed", revision=row.revision)
        note(connection, caller, group.id, now, "arrange-tune", f"tune {slug}", revision=revision)
        return replace(kept, revision=revision)

    return await write_once(house, caller, once, unit)


async def plain_break(
    house: House, caller: Caller, group_slug: str, slug: str, instrument: str | None, tuning: str | None
) -> Break:
    """The tune's plain break on an instrument. Raises DomainError ``no-plain-break``."""
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, instrument, tuning)
    return await keep_break(house, caller, composed, plain_picks(composed), None)


async def _made(group: GroupRow, row: TuneRow, wish: ArrangeWish) -> Made:
    tune = kept_tune(row.id, row.revision, row.slug, row.body)
    return await asyncio.to_thread(_arranged, group, tune, tune_record(row.body), row.revision, wish)


def _arranged(group: GroupRow, tune: Tune, record: TuneRecord, revision: int, wish: ArrangeWish) -> Made:
    return Made(tune, revision, arrange(tune, _setting(group, tune, record, wish), wish.level, wish.style))


def _setting(group: GroupRow, tune: Tune, record: TuneRecord, wish: ArrangeWish) -> Setting:
    name, tuning = instrument_of(group, wish.instrument, wish.tuning)
    instrument = instrument_named(name)
    if wish.position is not None or wish.capo is not None:
        found = [
            one.setting
            for one in proposed_settings(tune, instrument, instrument.tuning(tuning))
            if (wish.position is None or one.setting.position.name == wish.position)
            and (wish.capo is None or one.setting.capo == wish.capo)
        ]
        if found:
            return found[0]
        return make_setting(
            instrument, tuning=tuning, sounding=tune.key, position=wish.position, capo=wish.capo or 0
        )
    own = next((s for s in record.settings if s.instrument == name and tuning in (None, s.tuning)), None)
    if own is not None:
        return setting_of(own, tune)
    return proposed_settings(tune, instrument, instrument.tuning(tuning))[0].setting


def instrument_of(group: GroupRow, instrument: str | None, tuning: str | None) -> tuple[str, str | None]:
    """The group's own with its tuning where none is named."""
    return (group.instrument, tuning or group.tuning) if instrument is None else (instrument, tuning)


def made_record(lick: Lick, rights: Rights) -> LickRecord:
    """A lick that the service made as it is kept, marked so."""
    passage = lick_passage(lick)
    return record_of_lick(lick, passage.measures, write_tab(passage), rights, arranged=True)


def _kept(connection: Connection, caller: Caller, group_id: int, judged: NewLick, now: str) -> int:
    """The number of the lick that has these notes; of a new one in the pool otherwise: whoever keeps an arrangement has seen it."""
    same = same_lick(connection, group_id, identity_of(judged.lick), None)
    if same is not None:
        return same
    return keep_new(connection, caller, group_id, replace(judged, state=lick_rows.IN_POOL), now).number


def _retire(connection: Connection, group_id: int, before: TuneRecord, made: Made) -> None:
    """Licks of the plain break before that were arranged, as they were arranged, and are not in this one."""
    old = before.plain.get(made.arrangement.setting.instrument.id, {})
    for number in {number for numbers in old.values() for number in numbers} - set(made.licks):
        row = lick_rows.lick_by_number(connection, group_id, number, RULES_VERSION)
        if row is not None and row.state == lick_rows.IN_POOL and lick_record(row.body).arranged:
            lick_rows.move_lick(
                connection, group_id, number, row.revision, lick_rows.RETIRED, (lick_rows.IN_POOL,)
            )


def _with_break(record: TuneRecord, made: Made) -> TuneRecord:
    """The tune with its plain break on the instrument, and the setting that it is played in."""
    instrument = made.arrangement.setting.instrument.id
    by_part: dict[str, list[int]] = {}
    for one, number in zip(made.arrangement.phrases, made.licks, strict=True):
        by_part.setdefault(one.part, []).append(number)
    own: SettingRecord = record_of(made.arrangement.setting)
    others = [s for s in record.settings if (s.instrument, s.tuning) != (own.instrument, own.tuning)]
    return TuneRecord(
        **{
            **{name: getattr(record, name) for name in TuneRecord.__struct_fields__},
            "settings": [own, *others],
            "plain": {**record.plain, instrument: by_part},
        }
    )
