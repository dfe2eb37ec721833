"""The pool: submitting, reading, changing and retiring licks."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from sqlite3 import Connection

from service.clock import stamp
from service.compose.matching import Pooled
from service.errors import Conflict, DomainError, Fault, NotFound
from service.judge.fit import Fit
from service.judge.judgement import lick_fit
from service.judge.right_hand import with_fingers
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.music.licks import Lick, check_lick
from service.music.meter import meter_named
from service.music.passages import Passage, lick_passage
from service.notation.chart import read_changes
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab
from service.store import licks as rows
from service.store.licks import LickRow
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.once import Once, write_once
from service.usecases.readings import off_the_loop, read_any
from service.usecases.records import (
    OWN,
    LickRecord,
    Rights,
    change_record,
    encode,
    lick_of,
    lick_record,
    note_record,
)

THREE_FINGER = "three-finger"


@dataclass(frozen=True, slots=True)
class Submission:
    """A lick as it is sent in; ``text`` is tab or the one-line form, ``chords`` a chart of its measures."""

    name: str
    text: str
    instrument: str
    chords: str
    key: str
    hand_style: str
    style: str
    level: int
    tuning: str | None = None
    meter: str | None = None
    role: str | None = None
    phrases: int = 1
    columns: int | None = None
    number: int | None = None
    rights: Rights = OWN


@dataclass(frozen=True, slots=True)
class KeptLick:
    """A lick of the pool with its number, revision, and what was noticed while it was read."""

    number: int
    revision: int
    state: str
    record: LickRecord
    lick: Lick
    fit: Fit
    warnings: tuple[Fault, ...] = ()


def in_hand(lick: Lick) -> Passage:
    """The lick as it is shown: with picking fingers where its hand style has them."""
    passage = lick_passage(lick)
    if lick.hand_style != THREE_FINGER:
        return passage
    return replace(passage, notes=with_fingers(passage.notes, [lick.style] * len(passage.notes)))


def read_lick(sent: Submission) -> tuple[LickRecord, Lick, tuple[Fault, ...]]:
    """Read a submission into a lick. Raises ReadingError or DomainError with every place to mend.

    The chords' measures say how many the tab has, so a short first measure is known to be a pickup.
    """
    instrument = instrument_named(sent.instrument)
    key = key_named(sent.key)
    meter = meter_named(sent.meter or "2/2")
    changes, chord_ticks = read_changes(sent.chords, meter, key)
    measures = -(-chord_ticks // meter.measure_ticks)
    reading = read_any(
        sent.text,
        sent.instrument,
        tuning=sent.tuning,
        meter=meter.name,
        measures=measures,
        columns=sent.columns,
    )
    passage = reading.passage
    if passage.ticks != chord_ticks:
        fault = Fault("chords-length", {"chords": chord_ticks, "lick": passage.ticks}, path="chords")
        raise DomainError("bad-lick", at=[fault], count=1)
    lick = Lick(
        sent.name,
        instrument,
        passage.tuning,
        sent.hand_style,
        sent.style,
        meter,
        key,
        passage.ticks,
        passage.notes,
        changes,
        sent.role,
        sent.level,
        sent.phrases,
        passage.measures,
    )
    check_lick(lick)
    _check_writable(lick)
    record = LickRecord(
        name=lick.name,
        instrument=instrument.id,
        tuning=lick.tuning.id,
        hand_style=lick.hand_style,
        style=lick.style,
        meter=meter.name,
        key=key.name,
        role=lick.role,
        level=lick.level,
        phrases=lick.phrases,
        ticks=lick.ticks,
        measures=list(passage.measures),
        changes=[change_record(change) for change in lick.changes],
        notes=[note_record(note) for note in lick.notes],
        text=sent.text,
        rights=sent.rights,
    )
    return record, lick, reading.warnings


def _check_writable(lick: Lick) -> None:
    """What the pool keeps can be printed and read back to the same notes. Raises DomainError ``bad-lick``."""
    passage = lick_passage(lick)
    try:
        back = read_tab(write_tab(passage), lick.instrument).passage
    except DomainError:
        back = None
    if back is None or (back.notes, back.measures) != (passage.notes, passage.measures):
        raise DomainError("bad-lick", at=[Fault("not-writable", path="text")], count=1)


async def add_lick(
    house: House, caller: Caller, group_slug: str, sent: Submission, once: Once[KeptLick] | None
) -> KeptLick:
    """Read a submission and put it in the pool under the next free number (or the one it names)."""
    group = reach_group(house, caller, group_slug, "add-lick")
    record, lick, warnings = await off_the_loop(lambda: read_lick(sent), sent.text)
    fit = lick_fit(lick)
    body, now = encode(record).decode(), stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        number = rows.add_lick(connection, group.id, record.instrument, record.tuning, body, now, sent.number)
        if number is None:
            raise Conflict("exists", what="lick", name=str(sent.number))
        return KeptLick(number, 1, rows.IN_POOL, record, lick, fit, warnings)

    return await write_once(house, caller, once, unit)


def get_lick(house: House, caller: Caller, group_slug: str, number: int) -> KeptLick:
    """The newest revision of a lick. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "read-group")
    row = rows.lick_by_number(house.database.points, group.id, number)
    if row is None:
        raise NotFound("not-found", what="lick")
    return kept(row)


def kept(row: LickRow) -> KeptLick:
    record = lick_record(row.body)
    lick = lick_of(record)
    return KeptLick(row.number, row.revision, row.state, record, lick, lick_fit(lick))


async def list_licks(
    house: House, caller: Caller, group_slug: str, after: int, limit: int, instrument: str | None
) -> Sequence[KeptLick]:
    group = reach_group(house, caller, group_slug, "read-group")
    if instrument is not None:
        instrument = instrument_named(instrument).id
    found = await rows.licks_after(house.database.slow, group.id, after, limit, instrument)
    return [kept(row) for row in found]


async def change_lick(
    house: House, caller: Caller, group_slug: str, number: int, revision: int, sent: Submission
) -> KeptLick:
    """Give a lick a new revision, made from ``revision``. Breaks keep the one they were made with."""
    group = reach_group(house, caller, group_slug, "change-licks")
    record, lick, warnings = await off_the_loop(lambda: read_lick(sent), sent.text)
    fit = lick_fit(lick)
    body, now = encode(record).decode(), stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        made = rows.change_lick(
            connection, group.id, number, record.instrument, record.tuning, body, now, revision
        )
        if made is None:
            raise _no_longer(connection, group.id, number)
        return KeptLick(number, made, rows.IN_POOL, record, lick, fit, warnings)

    return await house.database.write(unit)


async def retire_lick(house: House, caller: Caller, group_slug: str, number: int, revision: int) -> None:
    """Take a lick out of the pool. Breaks made with it stay."""
    group = reach_group(house, caller, group_slug, "change-licks")

    def unit(connection: Connection) -> None:
        if not rows.retire_lick(connection, group.id, number, revision):
            raise _no_longer(connection, group.id, number)

    await house.database.write(unit)


def _no_longer(connection: Connection, group_id: int, number: int) -> Exception:
    row = rows.lick_by_number(connection, group_id, number)
    if row is None or row.state != rows.IN_POOL:
        return NotFound("not-found", what="lick")
    return Conflict("changed", revision=row.revision)


def lick_history(house: House, caller: Caller, group_slug: str, number: int) -> list[tuple[int, str]]:
    """(revision, when), newest first. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "read-group")
    found = rows.revisions_of(house.database.points, group.id, number)
    if not found:
        raise NotFound("not-found", what="lick")
    return found


async def pool(house: House, group_id: int, instrument: str, tuning: str) -> Sequence[Pooled]:
    """The licks of a pool for one instrument and tuning; only what changed is read again."""
    wanted = await rows.pool_revisions(house.database.slow, group_id, instrument, tuning)
    key = (group_id, instrument, tuning)
    ready: dict[tuple[int, int], Pooled] = house.pools.get(key) or {}
    missing = [pair for pair in wanted if pair not in ready]
    bodies = await rows.lick_bodies(house.database.slow, group_id, missing)
    fresh: dict[tuple[int, int], Pooled] = {}
    for pair in wanted:
        if pair in ready:
            fresh[pair] = ready[pair]
        else:
            lick = lick_of(lick_record(bodies[pair]))
            fresh[pair] = Pooled(*pair, lick, lick_fit(lick))
    house.pools.put(key, fresh)
    return list(fresh.values())
