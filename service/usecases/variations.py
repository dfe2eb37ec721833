"""Variations: sent in, read and judged, mended, withdrawn, reviewed, taken into the pool."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, DomainError, Fault, Forbidden, NotFound, TakenDown
from service.judge.facts import Facts
from service.judge.rules import Finding
from service.music.instruments import STYLES
from service.music.licks import Lick
from service.music.tunes import place_name
from service.store import challenges as challenge_rows
from service.store import licks as lick_rows
from service.store import posts as post_rows
from service.store import variations as rows
from service.store.challenges import ChallengeRow
from service.store.groups import GroupRow
from service.store.taken_down import same_lick_taken_down
from service.store.variations import ENTERED, HELD, REFUSED, TAKEN_DOWN, WITHDRAWN, Content, VariationRow
from service.usecases import posting
from service.usecases.audited import note
from service.usecases.challenges import find_challenge
from service.usecases.facts import facts_body, identity_of, keep_facts, read_facts
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.licks import HOLDS_BACK, Submission, judge_submission, read_over, unless_there
from service.usecases.once import Once, check_once, write_once
from service.usecases.readings import off_the_loop
from service.usecases.records import OWN, LickRecord, Rights, encode, lick_of, lick_record
from service.usecases.shown_licks import Shown, read_shown
from service.usecases.spots import place_of_challenge

VARIATION = "variation"  # the kind of post
MOST_ENTRIES = 10  # of a member in a challenge: each is a message in the chat; ours


@dataclass(frozen=True, slots=True)
class Sent:
    """A variation as it is sent in. What is left out is as in the challenge."""

    text: str
    name: str | None = None
    comment: str = ""
    instrument: str | None = None
    tuning: str | None = None
    hand_style: str | None = None
    style: str | None = None
    columns: int | None = None
    rights: Rights = OWN


@dataclass(frozen=True, slots=True)
class Variation:
    """``lick`` and ``facts`` are None while there is only a recording. ``votes`` is None where they are secret still;
    ``mine`` and ``voted`` are about whoever asks;
    ``shown`` is what pages show of it, if that is kept."""

    row: VariationRow
    challenge: ChallengeRow
    record: LickRecord | None
    lick: Lick | None
    facts: Facts | None
    votes: int | None
    mine: bool
    voted: bool
    warnings: tuple[Fault, ...] = ()
    shown: Shown | None = None


def open_challenge(connection: Connection, group_id: int, number: int, now: str) -> ChallengeRow:
    """Raises Conflict ``challenge-not-open``, from its last second on, whether or not the clock has closed it yet."""
    row = find_challenge(connection, group_id, number)
    if row.state != "open" or row.closes <= now:
        raise Conflict("challenge-not-open", challenge=number)
    return row


@dataclass(frozen=True, slots=True)
class _Read:
    """A variation read and judged: what is kept of it, and the lick itself."""

    content: Content
    record: LickRecord
    lick: Lick
    facts: Facts
    warnings: tuple[Fault, ...]


async def _read(
    house: House, group: GroupRow, challenge: ChallengeRow, sent: Sent, but: int | None = None
) -> _Read:
    """Raises ReadingError or DomainError with every place to mend."""
    points = house.database.points
    place = place_of_challenge(points, challenge, sent.instrument)
    setting = place.setting
    hand = sent.hand_style or setting.instrument.hand_styles[0]
    submission = Submission(
        name=sent.name or f"{place.tune.name} {place_name(place.phrase.part, place.phrase.index)}",
        text=sent.text,
        instrument=setting.instrument.id,
        chords="",
        key=setting.position.name,
        hand_style=hand,
        style=sent.style or STYLES.get(hand, (hand,))[0],
        tuning=sent.tuning or setting.tuning.id,
        meter=place.tune.meter.name,
        role=place.phrase.role,
        columns=sent.columns,
        rights=sent.rights,
    )
    try:
        record, lick, warnings = await off_the_loop(
            lambda: read_over(
                submission, setting.position, place.tune.meter, place.changes, place.phrase.ticks
            ),
            sent.text,
        )
    except DomainError as error:
        if any(fault.code == "chords-length" for fault in error.at):
            fault = Fault("phrase-length", error.at[0].params, path="text")
            raise DomainError("bad-lick", at=[fault], count=1) from None
        raise
    facts, _ = await judge_submission(house, group, lick)
    identity = identity_of(lick)
    twin = rows.same_variation(points, challenge.id, identity, but)
    refused = twin is None and rows.was_refused(points, challenge.id, identity, but)
    if twin is not None:
        told_twin = Finding("twin-variation", 0, (("variation", twin),))
        facts = replace(facts, findings=(*facts.findings, told_twin))
    elif refused:
        facts = replace(facts, findings=(*facts.findings, Finding("refused-before", 0, ())))
    held = any(f.code in HOLDS_BACK for f in facts.findings) or twin is not None or refused
    content = Content(
        HELD if held else ENTERED,
        record.name,
        sent.comment,
        encode(record).decode(),
        facts_body(lick, facts),
        identity,
    )
    return _Read(content, record, lick, facts, warnings)


async def enter(
    house: House,
    caller: Caller,
    group_slug: str,
    challenge_number: int,
    sent: Sent,
    once: Once[Variation] | None,
) -> Variation:
    """Send a variation in. What clashes, cannot be played or is there already is held: its author is told what to mend."""
    group = reach_group(house, caller, group_slug, "enter-variation")
    member_id = member_of(caller)
    check_once(house, caller, once)
    now = stamp(house.clock())
    challenge = open_challenge(house.database.points, group.id, challenge_number, now)
    read = await _read(house, group, challenge, sent)

    def unit(connection: Connection) -> Variation:
        open_challenge(connection, group.id, challenge_number, now)
        check_room(connection, challenge, member_id)
        content = _unless_sent(connection, challenge, read)
        number = rows.add_variation(connection, group.id, challenge.id, member_id, content, None, now)
        row = find_variation(connection, group.id, number)
        if row.state == ENTERED:
            announce(connection, group, row, challenge, now)
        return replace(shown(connection, row, challenge, caller), warnings=read.warnings)

    return await write_once(house, caller, once, unit)


def check_room(connection: Connection, challenge: ChallengeRow, member_id: int) -> None:
    """Raises Conflict ``entries-enough``."""
    if rows.entries_of(connection, challenge.id, member_id) >= MOST_ENTRIES:
        raise Conflict("entries-enough", most=MOST_ENTRIES)


def _unless_sent(
    connection: Connection, challenge: ChallengeRow, read: _Read, but: int | None = None
) -> Content:
    """What is kept, looked at once more within the unit: somebody may have sent the same meanwhile."""
    content = read.content
    if content.state == ENTERED and content.identity is not None:
        twin = rows.same_variation(connection, challenge.id, content.identity, but)
        if twin is not None:
            return replace(content, state=HELD)
    return content


def find_variation(connection: Connection, group_id: int, number: int) -> VariationRow:
    """Raises NotFound, TakenDown where its lick in the pool was taken down."""
    row = rows.variation_by_number(connection, group_id, number)
    if row is None or row.state == WITHDRAWN:
        raise NotFound("not-found", what="variation")
    if row.state == TAKEN_DOWN:
        raise TakenDown("taken-down", lick=row.lick)
    return row


def shown(connection: Connection, row: VariationRow, challenge: ChallengeRow, caller: Caller) -> Variation:
    return told(row, challenge, caller, *counted(connection, row, challenge, caller))


def counted(
    connection: Connection, row: VariationRow, challenge: ChallengeRow, caller: Caller
) -> tuple[int | None, bool]:
    """Its votes, None where they are secret still; and whether the caller's is among them."""
    voted = caller.member_id is not None and rows.has_voted(connection, row, caller.member_id)
    if row.votes is None and not challenge.secret:
        return rows.count_votes(connection, row), voted
    return row.votes, voted


def told(
    row: VariationRow, challenge: ChallengeRow, caller: Caller, votes: int | None, voted: bool
) -> Variation:
    """A variation, read from how it is kept."""
    record = lick = facts = None
    if row.body is not None:
        record = lick_record(row.body)
        lick = lick_of(record)
        facts = read_facts(row.facts, lick)
    mine = caller.member_id is not None and caller.member_id == row.member_id
    return Variation(row, challenge, record, lick, facts, votes, mine, voted, shown=read_shown(row.facts))


def revision_to_revise(house: House, caller: Caller, group_slug: str, number: int) -> int:
    """The newest revision, for members who may send another. Raises NotFound, Forbidden ``no-member``."""
    reach_group(house, caller, group_slug, "enter-variation")
    member_of(caller)
    return get_variation(house, caller, group_slug, number).row.revision


def get_variation(house: House, caller: Caller, group_slug: str, number: int) -> Variation:
    """Raises NotFound; a variation that is held or refused is there for its author and organisers alone."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    row = find_variation(points, group.id, number)
    may_see(row, caller)
    return shown(points, row, _challenge_of(points, row), caller)


def may_see(row: VariationRow, caller: Caller) -> None:
    if row.state != ENTERED and caller.role == "member" and caller.member_id != row.member_id:
        raise NotFound("not-found", what="variation")


def _challenge_of(connection: Connection, row: VariationRow) -> ChallengeRow:
    challenge = challenge_rows.challenge_by_id(connection, row.challenge_id)
    if challenge is None:
        raise NotFound("not-found", what="challenge")
    return challenge


def list_variations(
    house: House, caller: Caller, group_slug: str, challenge_number: int, after: int, limit: int
) -> Sequence[Variation]:
    """By number; those held or refused only for their authors and organisers."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    challenge = find_challenge(points, group.id, challenge_number)
    private = None if caller.role != "member" else caller.member_id or 0
    found = rows.variations_of(points, challenge.id, after, limit, private)
    return [shown(points, row, challenge, caller) for row in found]


async def revise(
    house: House, caller: Caller, group_slug: str, number: int, revision: int, sent: Sent
) -> Variation:
    """Send another version before the challenge closes. While there is only a recording, any member may write it down.

    One with other notes begins without votes. Raises Forbidden ``not-yours``, Conflict.
    """
    group = reach_group(house, caller, group_slug, "enter-variation")
    member_id = member_of(caller)
    points = house.database.points
    present = find_variation(points, group.id, number)
    mine = present.member_id == member_id
    if not mine and present.body is not None:
        raise Forbidden("not-yours", what="variation")
    if present.state not in (HELD, ENTERED):
        raise Conflict("not-entered", variation=number)
    challenge = _challenge_of(points, present)
    read = await _read(house, group, challenge, sent if mine else _written_down(sent, present), but=number)
    # what came as a recording is in the challenge, and voted for, as it was played
    played = present.body is None or present.tab_by is not None
    other_notes = present.body is not None and (
        identity_of(lick_of(lick_record(present.body))) != read.content.identity
    )
    now = stamp(house.clock())

    def unit(connection: Connection) -> Variation:
        if not played:
            open_challenge(connection, group.id, challenge.number, now)
        before = find_variation(connection, group.id, number)
        content = _unless_sent(connection, challenge, read, number)
        if played:
            content = replace(content, state=before.state, name=sent.name or before.name)
        if not mine:
            content = replace(content, name=before.name, comment=before.comment)
        tab_by = member_id if played else None
        if not rows.change_variation(connection, before.id, revision, content, tab_by):
            raise Conflict("changed", revision=before.revision)
        if other_notes and not played:
            rows.drop_votes(connection, before)
        row = find_variation(connection, group.id, number)
        announce(connection, group, row, challenge, now)
        return replace(shown(connection, row, challenge, caller), warnings=read.warnings)

    return await house.database.write(unit)


def _written_down(sent: Sent, present: VariationRow) -> Sent:
    """Somebody else's tab of a recording: the music stays its author's."""
    return replace(sent, rights=Rights(credit=present.member_name))


async def withdraw(house: House, caller: Caller, group_slug: str, number: int) -> None:
    """Take one's own variation back before the challenge closes."""
    group = reach_group(house, caller, group_slug, "enter-variation")
    member_id = member_of(caller)
    now = stamp(house.clock())

    def unit(connection: Connection) -> None:
        row = find_variation(connection, group.id, number)
        if row.member_id != member_id:
            raise Forbidden("not-yours", what="variation")
        challenge = _challenge_of(connection, row)
        open_challenge(connection, group.id, challenge.number, now)
        _take_away(connection, group, row, WITHDRAWN, now)

    await house.database.write(unit)


def _take_away(connection: Connection, group: GroupRow, row: VariationRow, state: str, now: str) -> None:
    rows.set_state(connection, row, state)
    announced = post_rows.post_about_variation(connection, group.id, VARIATION, row.number)
    if announced is not None:
        posting.delete(connection, group, announced, now)


def announce(
    connection: Connection, group: GroupRow, row: VariationRow, challenge: ChallengeRow, now: str
) -> None:
    """Let the chat show a variation that has been entered, or what has become of it."""
    announced = post_rows.post_about_variation(connection, group.id, VARIATION, row.number)
    gone = (
        announced is None
        or announced.state == post_rows.LAPSED
        or post_rows.deleted(connection, announced.id)
    )
    if row.state != ENTERED:
        if announced is not None and not gone:
            posting.delete(connection, group, announced, now)
        return
    params = {
        "variation": row.number,
        "in_challenge": challenge.number,
        "tune": challenge.tune,
        "phrase": challenge.phrase,
        "secret": bool(challenge.secret),
        "opens": challenge.opens,
        "closes": challenge.closes,
        "revision": row.revision,
        "name": row.name,
        "by": row.member,
        "comment": row.comment,
        "tab": row.body is not None,
        "recording": row.recording_id is not None,
    }
    if announced is None or gone:
        posting.post(connection, group, VARIATION, params, now, useful_until=challenge.closes)
    else:
        posting.edit(connection, group, announced, params, now)


async def review(
    house: House, caller: Caller, group_slug: str, number: int, decision: str, reason: str
) -> Variation:
    """``accept`` one that is held into the challenge, ``refuse`` one, or take it into the ``pool`` as well.

    Raises Conflict ``cannot-review`` where that is no longer possible.
    """
    group = reach_group(house, caller, group_slug, "review-variations")
    points = house.database.points
    present = find_variation(points, group.id, number)
    lick = None if present.body is None else lick_of(lick_record(present.body))
    judged = None
    if decision == "pool" and lick is not None:
        judged = await judge_submission(house, group, lick)
    now = stamp(house.clock())

    def unit(connection: Connection) -> Variation:
        row = find_variation(connection, group.id, number)
        challenge = _challenge_of(connection, row)
        if row.revision != present.revision:
            raise Conflict("changed", revision=row.revision)
        if decision == "accept":
            gone = (
                None if lick is None else same_lick_taken_down(connection, group.id, identity_of(lick), None)
            )
            if gone is not None:
                raise TakenDown("taken-down", lick=gone)
            if row.state != HELD or challenge.state != "open":
                raise Conflict("cannot-review", variation=number, state=row.state)
            rows.set_state(connection, row, ENTERED)
            announce(connection, group, find_variation(connection, group.id, number), challenge, now)
        elif decision == "refuse":
            if row.state not in (HELD, ENTERED):
                raise Conflict("cannot-review", variation=number, state=row.state)
            _take_away(connection, group, row, REFUSED, now)
            rows.set_reason(connection, row.id, reason)
        else:
            if row.state not in (HELD, ENTERED):
                raise Conflict("cannot-review", variation=number, state=row.state)
            if lick is None or judged is None or row.body is None or row.lick is not None:
                raise Conflict("no-tab-yet" if row.lick is None else "pooled-already", lick=row.lick)
            facts, state = unless_there(connection, group.id, lick, *judged)
            made = lick_rows.add_lick(
                connection,
                group.id,
                lick.instrument.id,
                lick.tuning.id,
                row.body,
                now,
                None,
                state,
                row.member_id,
            )
            if made is None:
                raise RuntimeError("a new lick has no number")
            keep_facts(connection, group.id, made, 1, lick, facts)
            rows.set_lick(connection, row.id, made)
        note(connection, caller, group.id, now, f"{decision}-variation", f"variation {number}")
        return shown(connection, find_variation(connection, group.id, number), challenge, caller)

    return await house.database.write(unit)
