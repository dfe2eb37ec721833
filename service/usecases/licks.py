"""The pool: submitting and reading licks. changed_licks.py changes them, pool_care.py is what organisers decide."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import islice
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError, Erased, Fault, NotFound, TakenDown
from service.groups.pool_states import waits
from service.judge.facts import RULES_VERSION, Facts, facts_of
from service.judge.hands import lick_hands
from service.judge.level import USUAL_BPM, lick_level
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
from service.store.licks import Borrowed, LickRow, Sought
from service.store.taken_down import same_lick_taken_down
from service.usecases.facts import find_twins, identity_of, keep_facts, read_facts
from service.usecases.group_settings import settings_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.names import is_named, numbers_named
from service.usecases.once import Once, write_once
from service.usecases.readings import off_the_loop, read_any
from service.usecases.records import (
    OWN,
    LickRecord,
    Rights,
    check_rights,
    encode,
    lick_of,
    lick_record,
    record_of_lick,
)
from service.usecases.shown_licks import Shown, fingered, picking_fingers, read_shown

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
        "waits-for-review",
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
    """A lick with its number, revision, what is judged of it, and what was noticed while it was read.

    ``member_id`` and ``by`` are who sent it in, ``said`` what an organiser told them with the last decision, ``shown`` what pages
    show of it, if that is kept.
    """

    number: int
    revision: int
    state: str
    record: LickRecord
    lick: Lick
    facts: Facts
    warnings: tuple[Fault, ...] = ()
    member_id: int | None = None
    by: str | None = None
    said: str | None = None
    borrowed: Borrowed | None = None
    shown: Shown | None = None


@dataclass(frozen=True, slots=True)
class NewLick:
    """A lick that is sent in, read and judged, with the state it goes into and how it is kept."""

    record: LickRecord
    lick: Lick
    warnings: tuple[Fault, ...]
    facts: Facts
    state: str
    body: str


def in_hand(lick: Lick) -> Passage:
    """The lick as it is shown: with picking fingers, or the pick's way, where its hand style has them."""
    return fingered(lick, picking_fingers(lick))


def read_lick(sent: Submission) -> tuple[LickRecord, Lick, tuple[Fault, ...]]:
    """Read a submission into a lick. Raises ReadingError or DomainError with every place to mend.

    The chords' measures say how many the tab has, so a short first measure is known to be a pickup.
    """
    check_rights(sent.rights)
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
    written_out(lick_passage(lick))
    if sent.level is None:
        lick = replace(lick, level=lick_level(lick, lick_hands(lick)).level)
    record = record_of_lick(lick, passage.measures, sent.text, sent.rights)
    return record, lick, reading.warnings


def measures_apart(chords: int, lick: int, meter: Meter) -> dict[str, object]:
    """How many measures the chords make, and how many the lick has, as people say it: 1 1/2."""
    return {"chords": in_measures(chords, meter), "lick": in_measures(lick, meter)}


def in_measures(ticks: int, meter: Meter) -> str:
    whole, rest = divmod(Fraction(ticks, meter.measure_ticks), 1)
    return f"{whole} {rest}" if whole and rest else str(rest or whole)


def written_out(passage: Passage) -> str:
    """Its tab, which reads back to the same notes: so is everything that the pool keeps. Raises DomainError ``bad-lick``."""
    tab = write_tab(passage)
    try:
        back = read_tab(tab, passage.instrument).passage
    except DomainError:
        back = None
    if back is None or (back.notes, back.measures) != (passage.notes, passage.measures):
        raise DomainError("bad-lick", at=[Fault("not-writable", path="text")], count=1)
    return tab


async def judge_submission(
    house: House,
    group: GroupRow,
    lick: Lick,
    but: int | None = None,
    *,
    held: bool = False,
    facts: Facts | None = None,
) -> tuple[Facts, str]:
    """Facts of a lick that is sent in, with what it doubles, and the state it goes into: the pool or a draft.

    One that is ``held`` waits for an organiser in any case; ``facts`` are given where they are known.
    """
    facts = facts or facts_of(lick)
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
    if held:
        findings.append(Finding("waits-for-review", 0))
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
    judged = await judge_new(house, caller, group, record, lick, warnings)
    now = stamp(house.clock())

    def unit(connection: Connection) -> KeptLick:
        return keep_new(connection, caller, group.id, judged, now, sent.number)

    return await write_once(house, caller, once, unit)


async def judge_new(
    house: House,
    caller: Caller,
    group: GroupRow,
    record: LickRecord,
    lick: Lick,
    warnings: tuple[Fault, ...] = (),
    facts: Facts | None = None,
) -> NewLick:
    """A lick that somebody sends in, judged."""
    facts, state = await judge_submission(house, group, lick, held=is_held(caller, group), facts=facts)
    return NewLick(record, lick, warnings, facts, state, encode(record).decode())


def keep_new(
    connection: Connection,
    caller: Caller,
    group_id: int,
    judged: NewLick,
    now: str,
    wished: int | None = None,
) -> KeptLick:
    """Within a unit: keep a lick under the next free number, or the one it names. Raises Conflict ``exists``."""
    record, lick = judged.record, judged.lick
    facts, state = unless_there(connection, group_id, lick, judged.facts, judged.state)
    number = rows.add_lick(
        connection,
        group_id,
        record.instrument,
        record.tuning,
        judged.body,
        now,
        wished,
        state,
        caller.member_id,
    )
    if number is None:
        raise Conflict("exists", what="lick", name=str(wished))
    keep_facts(connection, group_id, number, 1, lick, facts)
    return just_kept(connection, group_id, number, record, lick, facts, judged.warnings)


def just_kept(
    connection: Connection,
    group_id: int,
    number: int,
    record: LickRecord,
    lick: Lick,
    facts: Facts,
    warnings: tuple[Fault, ...],
) -> KeptLick:
    row = rows.lick_by_number(connection, group_id, number, RULES_VERSION)
    if row is None:
        raise RuntimeError("a lick just kept is not there")
    return _told(row, record, lick, facts, warnings)


def is_held(caller: Caller, group: GroupRow, before: LickRow | None = None) -> bool:
    """Whether what somebody sends in, or makes of a lick, waits for an organiser."""
    state = None if before is None else before.state
    sent_back = before is not None and state == rows.DRAFT and before.said is not None
    return caller.role == "member" and waits(settings_of(group).review, state, sent_back)


def unless_there(
    connection: Connection, group_id: int, lick: Lick, facts: Facts, state: str, but: int | None = None
) -> tuple[Facts, str]:
    """Facts and state of a lick, looked at once more within the unit: somebody may have sent the same meanwhile."""
    same = same_lick(connection, group_id, identity_of(lick), but)
    if same is None or any(finding.code == "twin" for finding in facts.findings):
        return facts, state
    twin = Finding("twin", 0, (("lick", same), ("changed", 0), ("measures", ""), ("moved", 0)))
    return replace(facts, findings=(*facts.findings, twin)), rows.DRAFT


def get_lick(
    house: House, caller: Caller, group_slug: str, number: int, action: str = "read-group"
) -> KeptLick:
    """The newest revision of a lick, for whoever may do ``action``. Raises NotFound, TakenDown, Erased."""
    group = reach_group(house, caller, group_slug, action)
    return seen_by(caller, find_lick(house, group.id, number))


def find_lick(house: House, group_id: int, number: int, revision: int | None = None) -> KeptLick:
    """The newest revision of a lick, or the one asked for. Raises NotFound, TakenDown, Erased."""
    return kept(find_row(house.database.points, group_id, number, revision))


def find_row(connection: Connection, group_id: int, number: int, revision: int | None = None) -> LickRow:
    """A lick's row. Raises NotFound, TakenDown, Erased."""
    row = rows.lick_by_number(connection, group_id, number, RULES_VERSION, revision)
    if row is None:
        raise NotFound("not-found", what="lick")
    if row.state == rows.TAKEN_DOWN:
        raise TakenDown("taken-down", lick=number)
    if row.state == rows.ERASED:
        raise Erased("erased", lick=number)
    return row


def kept(row: LickRow) -> KeptLick:
    record, lick, facts, shown = _read(row.body, row.facts)
    return replace(_told(row, record, lick, facts), shown=shown)


def _told(
    row: LickRow, record: LickRecord, lick: Lick, facts: Facts, warnings: tuple[Fault, ...] = ()
) -> KeptLick:
    return KeptLick(
        row.number,
        row.revision,
        row.state,
        record,
        lick,
        facts,
        warnings,
        row.member_id,
        row.by,
        row.said,
        row.borrowed,
    )


def seen_by(caller: Caller, found: KeptLick) -> KeptLick:
    """What an organiser told its author is for the two of them."""
    if caller.role == "member" and (caller.member_id is None or caller.member_id != found.member_id):
        return replace(found, said=None)
    return found


@lru_cache(maxsize=2048)
def _read(body: str, facts: str | None) -> tuple[LickRecord, Lick, Facts, Shown | None]:
    """A lick as it was kept; equal texts, equal licks, so those read a moment ago need not be read again."""
    record = lick_record(body)
    lick = lick_of(record)
    return record, lick, read_facts(facts, lick), read_shown(facts)


async def list_licks(
    house: House,
    caller: Caller,
    group_slug: str,
    after: int,
    limit: int,
    sought: Sought,
    words: str = "",
) -> Sequence[KeptLick]:
    """Licks with larger numbers; with ``words`` those that have all of them in their names, or whose number they are."""
    group = reach_group(house, caller, group_slug, "read-group")
    if sought.instrument is not None:
        sought = replace(sought, instrument=instrument_named(sought.instrument).id)
    slow = house.database.slow
    if not words.strip():
        found = await rows.licks_after(slow, group.id, after, limit, RULES_VERSION, sought)
        return [seen_by(caller, kept(row)) for row in found]
    shown: list[KeptLick] = []
    numbers, at_once = await numbers_named(house, group.id, words, after), limit
    # as a rule all that are named so are shown; where they are not, more and more are looked at in one go
    while len(shown) < limit and (among := list(islice(numbers, at_once))):
        found = await rows.licks_after(
            slow, group.id, after, limit - len(shown), RULES_VERSION, sought, among
        )
        licks = (seen_by(caller, kept(row)) for row in found)
        shown += [lick for lick in licks if is_named(lick.number, lick.record.name, words)]
        at_once *= 2
    return shown
