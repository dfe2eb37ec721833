"""Challenges of the week: made by hand, opened, closed, rounded up. What the clock does is in service/usecases/weekly.py."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from sqlite3 import Connection

import msgspec

from service.clock import moment, stamp
from service.compose.ranking import ranked
from service.errors import Conflict, DomainError, NotFound
from service.groups.ballots import Ballot, Entry, Standing, Tally, standings, tallies
from service.groups.weeks import LEAST_OPEN, next_slot, week_of
from service.store import challenges as rows
from service.store import licks as lick_rows
from service.store import posts as post_rows
from service.store import variations as variation_rows
from service.store.challenges import CLOSE, OPEN, REMIND, ChallengeRow, NewChallenge
from service.store.groups import GroupRow
from service.store.taken_down import taken_down
from service.store.variations import EntryRow, VariationRow
from service.usecases.audited import NEWEST, note
from service.usecases.composing import compose
from service.usecases.group_settings import settings_of, slot_of
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.judging import setting_and_phrase, tune_beat
from service.usecases.licks import KeptLick, find_lick
from service.usecases.once import Once, check_once, write_once
from service.usecases.posting import edit, post
from service.usecases.records import encode
from service.usecases.spots import (
    ChallengeRecord,
    Place,
    challenge_record,
    make_record,
    place_of,
    plain_numbers,
)
from service.usecases.tunes import find_tune

CHALLENGE, REMINDER, ROUND_UP = "challenge", "reminder", "round-up"  # kinds of posts
ROUND_UP_USEFUL = timedelta(days=14)  # for so long a round-up waits for a channel; ours
SHOWN_IN_ROUND_UP = 10  # the first places that a round-up names


@dataclass(frozen=True, slots=True)
class Challenge:
    row: ChallengeRow
    record: ChallengeRecord


def told(connection: Connection, row: ChallengeRow) -> Challenge:
    """A challenge as it is shown: of a lick that was taken down neither number nor name."""
    record = challenge_record(row.record)
    if row.lick is not None and taken_down(connection, row.group_id, row.lick) is not None:
        return Challenge(
            replace(row, lick=None, lick_revision=None), msgspec.structs.replace(record, lick_name=None)
        )
    return Challenge(row, record)


@dataclass(frozen=True, slots=True)
class Wish:
    """A challenge by hand. ``lick`` None: the plain break's there, or the one that suits best. ``next_week``: it opens when the
    group's next week begins, else now."""

    tune: str
    phrase: int
    instrument: str | None = None
    tuning: str | None = None
    lick: int | None = None
    note: str = ""
    next_week: bool = False
    secret: bool | None = None


async def make_challenge(
    house: House, caller: Caller, group_slug: str, wish: Wish, once: Once[Challenge] | None
) -> Challenge:
    """Raises NotFound, DomainError ``not-for-this-phrase``, Conflict ``challenge-under-way``."""
    group = reach_group(house, caller, group_slug, "run-challenges")
    check_once(house, caller, once)
    settings = settings_of(group)
    row = find_tune(house, group.id, wish.tune)
    instrument = wish.instrument or group.instrument
    tuning = wish.tuning or (group.tuning if wish.instrument is None else None)
    place = place_of(row, wish.phrase, instrument, tuning)
    base = await _base_lick(house, group, place, wish.lick)
    now = house.clock()
    opens = next_slot(slot_of(settings), now) if wish.next_week else now
    secret = settings.secret_votes if wish.secret is None else wish.secret
    new = new_challenge(group, place, base, opens, secret=secret, drawn=False, text=wish.note)
    state, at = ("planned" if wish.next_week else "open"), stamp(now)

    def unit(connection: Connection) -> Challenge:
        made = rows.add_challenge(connection, group.id, new, state, at)
        if made is None:
            raise Conflict("challenge-under-way", state=state)
        if state == "open":
            begin(connection, group, made, now)
        else:
            rows.make_due(connection, group.id, OPEN, made.id, made.opens)
        note(connection, caller, group.id, at, "make-challenge", f"challenge {made.number}")
        return told(connection, made)

    return await write_once(house, caller, once, unit)


async def _base_lick(house: House, group: GroupRow, place: Place, number: int | None) -> KeptLick | None:
    """The lick asked for, else that of the plain break, else the one that suits best; None where there is none."""
    phrase = place.phrase
    if number is not None:
        found = find_lick(house, group.id, number)
        if found.state != lick_rows.IN_POOL:
            raise Conflict("lick-not-in-the-pool", lick=number)
        if found.lick.instrument != place.setting.instrument:
            raise DomainError("other-instrument", lick=number, instrument=place.setting.instrument.name)
        setting_and_phrase(house, group.id, place.row.slug, phrase.number, found.lick)
        return found
    plain = plain_numbers(place).get((phrase.part, phrase.index))
    if plain is not None and plain in lick_rows.first_choices(house.database.points, group.id, [plain]):
        return find_lick(house, group.id, plain)
    setting = place.setting
    composed = await compose(house, group, place.row.slug, setting.instrument.id, setting.tuning.id)
    best = next((c for c in ranked(composed.lattice.candidates[phrase.number - 1]) if c.span == 1), None)
    return None if best is None else find_lick(house, group.id, best.number)


def new_challenge(
    group: GroupRow,
    place: Place,
    base: KeptLick | None,
    opens: datetime,
    *,
    secret: bool,
    drawn: bool,
    text: str = "",
) -> NewChallenge:
    top = None
    if base is not None:
        own = base.facts.top_bpm(base.lick.meter)
        top = None if own is None else tune_beat(place.tune, base.lick).shown(own, base.lick)
    record = make_record(place, None if base is None else base.lick.name, top, text)
    return NewChallenge(
        drawn=drawn,
        tune_id=place.row.id,
        tune_revision=place.row.revision,
        part=place.phrase.part,
        place=place.phrase.index,
        phrase=place.phrase.number,
        lick=None if base is None else base.number,
        lick_revision=None if base is None else base.revision,
        record=encode(record).decode(),
        secret=secret,
        opens=stamp(opens),
        closes=stamp(closing(group, opens)),
    )


def closing(group: GroupRow, opens: datetime) -> datetime:
    """When a challenge that opens then closes: as the next week begins, or the one after where that would be too soon."""
    slot = slot_of(settings_of(group))
    closes = next_slot(slot, opens)
    return closes if closes - opens >= LEAST_OPEN else next_slot(slot, closes)


# --- what happens to one, within a unit of SQL --------------------------------------------------------------


def begin(connection: Connection, group: GroupRow, row: ChallengeRow, now: datetime) -> None:
    """A challenge that has just been opened is announced, and the clock told of it."""
    tell_clock(connection, group, row)
    post(connection, group, CHALLENGE, post_params(row), stamp(now), useful_until=row.closes)


def tell_clock(connection: Connection, group: GroupRow, row: ChallengeRow) -> None:
    """A challenge that is open will be reminded of and closed."""
    settings = settings_of(group)
    reminds = stamp(week_of(slot_of(settings), moment(row.opens)).reminds)
    if settings.reminds and row.opens < reminds < row.closes:
        rows.make_due(connection, group.id, REMIND, row.id, reminds)
    rows.make_due(connection, group.id, CLOSE, row.id, row.closes)


def post_params(row: ChallengeRow) -> dict[str, object]:
    """What posts tell of a challenge."""
    record = challenge_record(row.record)
    return {
        "challenge": row.number,
        "tune": row.tune,
        "tune_name": record.tune_name,
        "phrase": row.phrase,
        "part": row.part,
        "place": row.place,
        "role": record.role,
        "chords": record.chords,
        "lick": row.lick,
        "lick_name": record.lick_name,
        "unit": record.unit,
        "goals": [[level, bpm] for level, bpm, _ in record.goals],
        "note": record.note,
        "secret": bool(row.secret),
        "opens": row.opens,
        "closes": row.closes,
        "state": row.state,
    }


def remind(connection: Connection, group: GroupRow, row: ChallengeRow, now: datetime) -> None:
    entries = len(variation_rows.entered(connection, row.id))
    params = {**post_params(row), "entries": entries}
    post(connection, group, REMINDER, params, stamp(now), useful_until=row.closes)


def finish(connection: Connection, group: GroupRow, row: ChallengeRow, now: datetime) -> None:
    """A challenge that was open is counted, rounded up, and its announcement brought up to date."""
    at = stamp(now)
    rows.move_on(connection, row.id, "open", "closed")
    if at < row.closes:
        rows.set_times(connection, row.id, row.opens, at)
        row = replace(row, closes=at)
    rows.no_longer_due(connection, group.id, row.id, (REMIND, CLOSE))
    entries = {entry.id: entry for entry in variation_rows.entries(connection, row.id)}
    placed = _result(connection, row.id, tuple(entries.values()))
    variation_rows.set_results(connection, [(one.entry, one.votes, one.chances) for one in placed])
    closed = replace(row, state="closed")
    params = post_params(closed)
    shown = [
        {
            "rank": standing.rank,
            "variation": entries[standing.entry].number,
            "name": entries[standing.entry].name,
            "by": entries[standing.entry].member,
            "votes": standing.votes,
        }
        for standing in placed[:SHOWN_IN_ROUND_UP]
    ]
    told_of = {**params, "entries": len(entries), "standings": shown}
    post(connection, group, ROUND_UP, told_of, at, useful_until=stamp(now + ROUND_UP_USEFUL))
    announced = post_rows.announcement(connection, group.id, row.number)
    if announced is not None:
        edit(connection, group, announced, params, at)


def _result(connection: Connection, challenge_id: int, entered: Sequence[EntryRow]) -> Sequence[Standing]:
    """How the entries of a challenge stand by the votes there are, best first."""
    entries = [Entry(entry.id, entry.member_id or 0, entry.entered) for entry in entered]
    ballots = [Ballot(*vote) for vote in variation_rows.votes_in(connection, challenge_id)]
    return standings(tallies(entries, ballots))


# --- reading and closing --------------------------------------------------------------------------------------


def find_challenge(connection: Connection, group_id: int, number: int) -> ChallengeRow:
    row = rows.challenge_by_number(connection, group_id, number)
    if row is None:
        raise NotFound("not-found", what="challenge")
    return row


def get_challenge(house: House, caller: Caller, group_slug: str, number: int | None) -> Challenge:
    """A challenge by its number; None is the one that is open. Raises NotFound ``no-challenge-open``."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    if number is not None:
        return told(points, find_challenge(points, group.id, number))
    row = rows.under_way(points, group.id, "open")
    if row is None:
        raise NotFound("no-challenge-open")
    return told(points, row)


def list_challenges(
    house: House, caller: Caller, group_slug: str, before: int | None, limit: int
) -> Sequence[Challenge]:
    """Newest first."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    return [told(points, row) for row in rows.challenges_before(points, group.id, before or NEWEST, limit)]


async def close_challenge(house: House, caller: Caller, group_slug: str, number: int) -> Challenge:
    """Close one before its time, with its round-up; one that is planned is called off. Raises Conflict ``not-under-way``."""
    group = reach_group(house, caller, group_slug, "run-challenges")
    now = house.clock()

    def unit(connection: Connection) -> Challenge:
        row = find_challenge(connection, group.id, number)
        if row.state == "open":
            finish(connection, group, row, now)
        elif rows.move_on(connection, row.id, "planned", "cancelled"):
            rows.no_longer_due(connection, group.id, row.id, (OPEN,))
        else:
            raise Conflict("not-under-way", challenge=number)
        note(connection, caller, group.id, stamp(now), "close-challenge", f"challenge {number}")
        return told(connection, find_challenge(connection, group.id, number))

    return await house.database.write(unit)


@dataclass(frozen=True, slots=True)
class Placed:
    """An entry with its place in the round-up."""

    standing: Standing
    variation: VariationRow


def round_up(
    house: House, caller: Caller, group_slug: str, number: int
) -> tuple[Challenge, Sequence[Placed]]:
    """How a closed challenge came out, best first. Raises Conflict ``not-closed``."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    row = find_challenge(points, group.id, number)
    if row.state != "closed":
        raise Conflict("not-closed", challenge=number)
    entries = {entry.id: entry for entry in variation_rows.entered(points, row.id)}
    counted = [
        Tally(entry.id, entry.votes, entry.chances or 0)
        for entry in entries.values()
        if entry.votes is not None
    ]
    return told(points, row), [Placed(found, entries[found.entry]) for found in standings(counted)]
