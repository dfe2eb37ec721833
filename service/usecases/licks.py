"""The pool: submitting, reading, changing and retiring licks."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from sqlite3 import Connection

from service.clock import stamp
from service.errors import BreakwrightError, Conflict, DomainError, Erased, Fault, NotFound, TakenDown
from service.judge.facts import RULES_VERSION, Facts, facts_of
from service.judge.hands import lick_hands
from service.judge.level import USUAL_BPM, lick_level
from service.judge.right_hand import with_fingers
from service.judge.rules import Finding
from service.judge.twins import told
from service.music.harmony import Key, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Lick, check_lick
from service.music.meter import Meter, meter_named
from service.music.passages import Passage, lick_passage
from service.notation.chart import read_changes
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab
from service.store import licks as rows
from service.store.facts import same_lick
from service.store.groups import GroupRow
from service.store.licks import LickRow
from service.store.taken_down import same_lick_taken_down
from service.usecases.facts import find_twins, identity_of, keep_facts, read_facts
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

UNKNOWN_LEVEL = 3  # until it is judged
# What keeps a lick out of the pool until it is mended or somebody who may says that it shall stay.
HOLDS_BACK = frozenset(
    (
        "does-not-fit",
        "foreign",
        "held-against",
        "blue-held",
        "cannot-be-stopped",
        "too-many-to-stop",
        "no-tempo",
        "too-empty",
        "twin",
        "twin-taken-down",
    )
)


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
    level: int | None = None
    tuning: str | None = None
    meter: str | None = None
    role: str | None = None
    phrases: int = 1
    columns: int | None = None
    number: int | None = None
    rights: Rights = OWN


@dataclass(frozen=True, slots=True)
class KeptLick:
    """A lick with its number, revision, what is judged of it, and what was noticed while it was read."""

    number: int
    revision: int
    state: str
    record: LickRecord
    lick: Lick
    facts: Facts
    warnings: tuple[Fault, ...] = ()


def in_hand(lick: Lick) -> Passage:
    """The lick as it is shown: with picking fingers, or the pick's way, where its hand style has them."""
    passage = lick_passage(lick)
    styles = [lick.style] * len(passage.notes)
    return replace(passage, notes=with_fingers(passage.notes, styles, lick.meter))


def read_lick(sent: Submission) -> tuple[LickRecord, Lick, tuple[Fault, ...]]:
    """Read a submission into a lick. Raises ReadingError or DomainError with every place to mend.

    The chords' measures say how many the tab has, so a short first measure is known to be a pickup.
    """
    key, meter = key_named(sent.key), meter_named(sent.meter or "2/2")
    return read_over(sent, key, meter, *read_changes(sent.chords, meter, key))


def read_over(
    sent: Submission, key: Key, meter: Meter, changes: tuple[Change, ...], chord_ticks: int
) -> tuple[LickRecord, Lick, tuple[Fault, ...]]:
    """Read a submission over chords that are known."""
    instrument = instrument_named(sent.instrument)
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
        fault = Fault("chords-length", measures_apart(chord_ticks, passage.ticks, meter), path="chords")
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
        sent.level or UNKNOWN_LEVEL,
        sent.phrases,
        passage.measures,
    )
    check_lick(lick)
    _check_writable(lick)
    if sent.level is None:
        lick = replace(lick, level=lick_level(lick, lick_hands(lick)).level)
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


def measures_apart(chords: int, lick: int, meter: Meter) -> dict[str, object]:
    """How many measures the chords make, and how many the lick has, as people say it: 1 1/2."""
    return {"chords": in_measures(chords, meter), "lick": in_measures(lick, meter)}


def in_measures(ticks: int, meter: Meter) -> str:
    whole, rest = divmod(Fraction(ticks, meter.measure_ticks), 1)
    return f"{whole} {rest}" if whole and rest else str(rest or whole)


def _check_writable(lick: Lick) -> None:
    """What the pool keeps can be printed and read back to the same notes. Raises DomainError ``bad-lick``."""
    passage = lick_passage(lick)
    try:
        back = read_tab(write_tab(passage), lick.instrument).passage
    except DomainError:
        back = None
    if back is None or (back.notes, back.measures) != (passage.notes, passage.measures):
        raise DomainError("bad-lick", at=[Fault("not-writable", path="text")], count=1)


async def judge_submission(
    house: House, group: GroupRow, lick: Lick, but: int | None = None
) -> tuple[Facts, str]:
    """Facts of a lick that is sent in, with what it doubles, and the state it goes into: the pool or a draft."""
    facts = facts_of(lick)
    findings = list(facts.findings)
    usual = USUAL_BPM[lick.meter.name]
    judged = facts.level(usual, lick.meter.beat_ticks)
    if abs(judged - lick.level) > 1:
        told_levels = (
            ("given", lick.level),
            ("level", judged),
            ("bpm", usual),
            ("unit", lick.meter.beat_unit),
        )
        findings.append(Finding("level-differs", 0, told_levels))
    doubled = await find_twins(house, group.id, group.pool_version, lick, but)
    findings.extend(told(twin, lick, other) for twin, other in doubled[:1])
    gone = same_lick_taken_down(house.database.points, group.id, identity_of(lick), but)
    if gone is not None:  # else sending it in again would undo what an organiser decided
        findings.append(Finding("twin-taken-down", 0, (("lick", gone),)))
    state = rows.DRAFT if any(finding.code in HOLDS_BACK for finding in findings) else rows.IN_POOL
    return replace(facts, findings=tuple(findings)), state


async def add_lick(
    house: House, caller: Caller, group_slug: str, sent: Submission, once: Once[KeptLick] | None
) -> KeptLick:
    """Read and judge a submission and keep it under the next free number (or the one it names).

    What clashes, cannot be played or is in the pool already is kept as a draft, its findings beside it.
    """
    group = reach_group(house, caller, group_slug, "add-lick")
    record, lick, warnings = await off_the_loop(lambda: read_lick(sent), sent.text)
    facts, state = await judge_submission(house, group, lick)
    body, now = encode(record).decode(), stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        judged, goes = unless_there(connection, group.id, lick, facts, state)
        number = rows.add_lick(
            connection, group.id, record.instrument, record.tuning, body, now, sent.number, goes
        )
        if number is None:
            raise Conflict("exists", what="lick", name=str(sent.number))
        keep_facts(connection, group.id, number, 1, lick, judged)
        return KeptLick(number, 1, goes, record, lick, judged, warnings)

    return await write_once(house, caller, once, unit)


def _is_still(row: LickRow, lick: Lick) -> bool:
    return identity_of(lick_of(lick_record(row.body))) == identity_of(lick)


def unless_there(
    connection: Connection, group_id: int, lick: Lick, facts: Facts, state: str, but: int | None = None
) -> tuple[Facts, str]:
    """Facts and state of a lick, looked at once more within the unit: somebody may have sent the same meanwhile."""
    same = same_lick(connection, group_id, identity_of(lick), but)
    if same is None or any(finding.code == "twin" for finding in facts.findings):
        return facts, state
    twin = Finding("twin", 0, (("lick", same), ("changed", 0), ("measures", ""), ("moved", 0)))
    return replace(facts, findings=(*facts.findings, twin)), rows.DRAFT


def get_lick(house: House, caller: Caller, group_slug: str, number: int) -> KeptLick:
    """The newest revision of a lick. Raises NotFound, TakenDown."""
    group = reach_group(house, caller, group_slug, "read-group")
    return find_lick(house, group.id, number)


def find_lick(house: House, group_id: int, number: int, revision: int | None = None) -> KeptLick:
    """The newest revision of a lick, or the one asked for. Raises NotFound, TakenDown, Erased."""
    row = rows.lick_by_number(house.database.points, group_id, number, RULES_VERSION, revision)
    if row is None:
        raise NotFound("not-found", what="lick")
    if row.state == rows.TAKEN_DOWN:
        raise TakenDown("taken-down", lick=number)
    if row.state == rows.ERASED:
        raise Erased("erased", lick=number)
    return kept(row)


def kept(row: LickRow) -> KeptLick:
    return KeptLick(row.number, row.revision, row.state, *_read(row.body, row.facts))


@lru_cache(maxsize=2048)
def _read(body: str, facts: str | None) -> tuple[LickRecord, Lick, Facts]:
    """A lick as it was kept; equal texts, equal licks, so those read a moment ago need not be read again."""
    record = lick_record(body)
    lick = lick_of(record)
    return record, lick, read_facts(facts, lick)


async def list_licks(
    house: House,
    caller: Caller,
    group_slug: str,
    after: int,
    limit: int,
    instrument: str | None,
    state: str | None = None,
) -> Sequence[KeptLick]:
    group = reach_group(house, caller, group_slug, "read-group")
    if instrument is not None:
        instrument = instrument_named(instrument).id
    found = await rows.licks_after(
        house.database.slow, group.id, after, limit, RULES_VERSION, instrument, state
    )
    return [kept(row) for row in found]


async def change_lick(
    house: House, caller: Caller, group_slug: str, number: int, revision: int, sent: Submission
) -> KeptLick:
    """Give a lick a new revision, made from ``revision``. Breaks keep the one they were made with."""
    group = reach_group(house, caller, group_slug, "change-licks")
    record, lick, warnings = await off_the_loop(lambda: read_lick(sent), sent.text)
    facts, state = await judge_submission(house, group, lick, but=number)
    before = rows.lick_by_number(house.database.points, group.id, number, RULES_VERSION)
    if before is not None and before.state == rows.IN_POOL and _is_still(before, lick):
        state = rows.IN_POOL  # nothing that is judged has changed: it stays where it was put
    body, now = encode(record).decode(), stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        made = rows.change_lick(
            connection, group.id, number, record.instrument, record.tuning, body, now, revision, state
        )
        if made is None:
            raise _no_longer(connection, group.id, number)
        keep_facts(connection, group.id, number, made, lick, facts)
        return KeptLick(number, made, state, record, lick, facts, warnings)

    return await house.database.write(unit)


async def take_into_pool(
    house: House, caller: Caller, group_slug: str, number: int, revision: int
) -> KeptLick:
    """Put a draft into the pool as it is: somebody who looks after the pool has looked at it."""
    group = reach_group(house, caller, group_slug, "change-licks")

    def unit(connection: Connection) -> KeptLick:
        if not rows.take_into_pool(connection, group.id, number, revision):
            row = rows.lick_by_number(connection, group.id, number, RULES_VERSION)
            if row is not None and row.state == rows.IN_POOL:
                raise Conflict("in-the-pool", lick=number)
            raise _no_longer(connection, group.id, number)
        row = rows.lick_by_number(connection, group.id, number, RULES_VERSION)
        if row is None:
            raise NotFound("not-found", what="lick")
        found = kept(row)
        # that it doubled another was a reason to look at it, and is none any more
        facts = replace(
            found.facts, findings=tuple(f for f in found.facts.findings if not f.code.startswith("twin"))
        )
        keep_facts(connection, group.id, number, row.revision, found.lick, facts)
        return replace(found, facts=facts)

    return await house.database.write(unit)


async def retire_lick(house: House, caller: Caller, group_slug: str, number: int, revision: int) -> None:
    """Take a lick out of the pool. Breaks made with it stay."""
    group = reach_group(house, caller, group_slug, "change-licks")

    def unit(connection: Connection) -> None:
        if not rows.retire_lick(connection, group.id, number, revision):
            raise _no_longer(connection, group.id, number)

    await house.database.write(unit)


def _no_longer(connection: Connection, group_id: int, number: int) -> BreakwrightError:
    """Why a lick could not be changed from the revision that was read."""
    row = rows.lick_by_number(connection, group_id, number, RULES_VERSION)
    if row is None or row.state == rows.RETIRED:
        return NotFound("not-found", what="lick")
    if row.state == rows.TAKEN_DOWN:
        return TakenDown("taken-down", lick=number)
    if row.state == rows.ERASED:
        return Erased("erased", lick=number)
    return Conflict("changed", revision=row.revision)


def lick_history(house: House, caller: Caller, group_slug: str, number: int) -> list[tuple[int, str]]:
    """(revision, when), newest first. Raises NotFound, TakenDown."""
    group = reach_group(house, caller, group_slug, "read-group")
    find_lick(house, group.id, number)
    return rows.revisions_of(house.database.points, group.id, number)
