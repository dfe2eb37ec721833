"""Counting, drawing and finding breaks."""

import asyncio
import hashlib
import secrets
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.compose.drawing import draw_fresh, seeded
from service.compose.joined import JoinedLattice
from service.compose.lattice import Candidate, Lattice, Pick
from service.compose.matching import (
    PhraseFacts,
    PhraseKey,
    build_lattice,
    changes_over,
    ground_of,
    tempo_of,
)
from service.errors import Conflict, DomainError, NotFound
from service.judge.facts import RULES_VERSION
from service.judge.hands import strain
from service.judge.joins import Edge, judge_join
from service.music.instruments import STYLES
from service.music.setting import Setting
from service.music.tunes import Tune, phrases
from service.store import breaks as rows
from service.store import tunes as tune_rows
from service.store.breaks import BreakRow, NumberRow
from service.store.groups import GroupRow
from service.store.tunes import TuneRow
from service.usecases.facts import keep_over, known_over, pool
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import find_lick
from service.usecases.made_breaks import Break, holding, in_place, seam_of
from service.usecases.once import Once, write_once
from service.usecases.records import (
    choose_setting,
    encode,
    kept_tune,
    record_of,
    setting_of,
    setting_record,
    tune_record,
)
from service.usecases.tunes import find_tune

# A default draw keeps to these rules of a teacher's: two neighbouring eighths never fall to one finger, jumps have air, tags
# land, notes belong, the tempo can be played; each part's first phrase recalls the melody.
HANDS_AND_EARS = frozenset(
    (
        "same-finger", "jump-without-air", "tag-does-not-land", "tag-without-air", "hurts", "too-fast",
        "cannot-be-stopped", "does-not-fit",
    )
)  # fmt: skip
MELODY = frozenset(("free-of-the-melody",))
CODE_SALTS = 8  # codes tried when one is taken: with 40 bits each, all eight taken is out of the question
_CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_AS_TYPED = str.maketrans("ILOilo", "110110")
_licks_decoder = msgspec.json.Decoder(list[tuple[int, int, int]])


@dataclass(frozen=True, slots=True)
class Wish:
    """What a player asks for. No instrument means the group's own."""

    instrument: str | None = None
    tuning: str | None = None
    max_level: int | None = None
    styles: tuple[str, ...] = ()
    avoid: tuple[int, ...] = ()

    @property
    def filters(self) -> str:
        """What narrows the draw, in one fixed spelling: a seed's draw depends on it."""
        return encode([self.max_level, sorted(self.styles), sorted(self.avoid)]).decode()

    def check(self) -> None:
        """Raise DomainError ``unknown-style`` for a style that no lick can have."""
        known = [style for styles in STYLES.values() for style in styles]
        for style in self.styles:
            if style not in known:
                raise DomainError("unknown-style", style=style, known=", ".join(known))

    def allows(self, candidate: Candidate) -> bool:
        return (
            (self.max_level is None or candidate.level <= self.max_level)
            and (not self.styles or candidate.style in self.styles)
            and candidate.number not in self.avoid
        )


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


@dataclass(frozen=True, slots=True)
class Count:
    total: int
    per_phrase: tuple[int, ...]
    snapshot: str


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


async def count_breaks(house: House, caller: Caller, group_slug: str, slug: str, wish: Wish) -> Count:
    """How many breaks the pool makes under a wish, and how many licks may begin each phrase."""
    group = reach_group(house, caller, group_slug, "read-group")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    lattice = _wished(composed.lattice, wish)
    return Count(lattice.total, tuple(len(of) for of in lattice.candidates), composed.snapshot)


def _wished(lattice: Lattice, wish: Wish) -> Lattice:
    wish.check()
    if wish.max_level is None and not wish.styles and not wish.avoid:
        return lattice
    return lattice.only(wish.allows)


async def draw_break(
    house: House,
    caller: Caller,
    group_slug: str,
    slug: str,
    wish: Wish,
    seed: int | None,
    once: Once[Break] | None = None,
) -> Break:
    """A break drawn evenly from all that the wish and a teacher's rules allow.

    With a seed the draw depends on seed, snapshot and wish alone. Without one, no break comes again
    until all of them have come. Where the rules leave none, the melody's is given up first, then the others. Raises
    DomainError ``no-breaks`` naming the phrase that nothing fills.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    lattice = await asyncio.to_thread(_drawable, house, composed, wish)
    if seed is not None:
        told = f"{composed.snapshot}|{wish.filters}|{seed}"
        number = 1 + seeded(told)(lattice.total)
        return await _keep(house, caller, composed, lattice.path(number), None, once)
    while True:
        fresh = _fresh(house, composed, lattice)
        try:
            return await _keep(house, caller, composed, lattice.path(fresh.number), fresh, once)
        except _ServedMeanwhile:
            continue


def _drawable(house: House, composed: Composed, wish: Wish) -> Lattice | JoinedLattice:
    """What a draw is made from: as many of the rules as leave any break."""
    key = (composed.key, wish.filters)
    found = house.drawable.get(key)
    if found is None:
        wished = _wished(composed.lattice, wish)
        if wished.total == 0:
            raise _no_breaks(wished, composed)
        found = next(lattice for lattice in _by_the_rules(wished, composed) if lattice.total)
        house.drawable.put(key, found)
    return found


def _by_the_rules(wished: Lattice, composed: Composed) -> Iterator[Lattice | JoinedLattice]:
    """Lattices with fewer and fewer rules."""
    bpm, beat = tempo_of(composed.tune)
    scale, meter = composed.setting.instrument.scale_mm, composed.tune.meter

    def allows(before: Edge, entry: Edge) -> bool:
        join = judge_join(before, entry, scale)
        return not holding(join, composed.tune) and strain(join.load / meter.slot_ticks, bpm, beat) <= 1

    for rules in (HANDS_AND_EARS | MELODY, HANDS_AND_EARS, frozenset[str]()):
        yield JoinedLattice([[c for c in of if not c.broken & rules] for of in wished.candidates], allows)
    yield wished


@dataclass(frozen=True, slots=True)
class _Fresh:
    """A number drawn in a lattice, and the numbers among all breaks that may be served again."""

    number: int
    again: tuple[int, ...] = ()


class _ServedMeanwhile(Exception):
    """Somebody else was served this break, or began the round anew, between drawing and storing it."""


def _fresh(house: House, composed: Composed, lattice: Lattice | JoinedLattice) -> _Fresh:
    """A number in ``lattice`` whose break was not served; if all were, the round begins anew."""
    points, tune_id = house.database.points, composed.row.id
    if lattice.total > 2 * house.settings.served_kept:
        # less than half can have been served: draw again until one was not
        while True:
            number = 1 + secrets.randbelow(lattice.total)
            everyone = str(_number(composed, lattice.path(number)))
            if not rows.was_served(points, tune_id, composed.snapshot, everyone):
                return _Fresh(number)
    ranks: dict[int, int] = {}
    for everyones in rows.served_numbers(points, tune_id, composed.snapshot):
        rank = lattice.number(_licks(composed.lattice.path(everyones)))
        if rank is not None:
            ranks[rank] = everyones
    number, anew = draw_fresh(lattice.total, list(ranks))
    return _Fresh(number, tuple(ranks.values()) if anew else ())


def _licks(path: Sequence[Pick]) -> list[tuple[int, int]]:
    return [(pick.candidate.number, pick.candidate.revision) for pick in path]


def _number(composed: Composed, path: Sequence[Pick]) -> int:
    number = composed.lattice.number(_licks(path))
    if number is None:
        raise RuntimeError("a drawn break is not among all breaks")
    return number


def _no_breaks(lattice: Lattice, composed: Composed) -> DomainError:
    form = phrases(composed.tune)
    phrase = form[lattice.dead_end() or 0]
    chords = [
        "N.C." if change.chord is None else change.chord.name
        for change in changes_over([phrase], composed.setting, composed.tune)
    ]
    return DomainError(
        "no-breaks",
        instrument=composed.setting.instrument.name,
        phrase=phrase.number,
        role=phrase.role,
        chords=" ".join(chords),
    )


async def _keep(
    house: House,
    caller: Caller,
    composed: Composed,
    path: Sequence[Pick],
    fresh: _Fresh | None,
    once: Once[Break] | None = None,
) -> Break:
    """Give a break its code and store it; a fresh one goes to what was served.

    Raises _ServedMeanwhile, with nothing stored, if a fresh one is fresh no more.
    """
    setting = encode(record_of(composed.setting)).decode()
    licks = encode([(p.phrase + 1, p.candidate.number, p.candidate.revision) for p in path]).decode()
    cuts = [(part.name, part.cuts) for part in composed.tune.parts]
    identity = hashlib.sha256(
        encode([composed.group.slug, composed.row.slug, composed.row.revision, cuts, setting, licks])
    ).digest()
    possible = codes(identity)
    row = BreakRow(possible[0], identity, composed.row.id, composed.row.revision, setting, licks)
    numbered = NumberRow(composed.snapshot, str(_number(composed, path)), str(composed.lattice.total))
    shown = _shown(house, composed.group, row, numbered)
    group_id, tune_id, now = composed.group.id, composed.row.id, stamp(house.clock())

    def unit(connection: Connection) -> Break:
        if fresh is not None:
            begun = fresh.again and not rows.forget_served(
                connection, tune_id, numbered.snapshot, fresh.again
            )
            if begun or rows.was_served(connection, tune_id, numbered.snapshot, numbered.number):
                raise _ServedMeanwhile
        stored = rows.keep_break(connection, group_id, possible, row, numbered, now)
        if fresh is not None:
            rows.remember_served(
                connection,
                group_id,
                tune_id,
                numbered.snapshot,
                numbered.number,
                stored.code,
                now,
                house.settings.served_kept,
            )
        return replace(shown, code=stored.code)

    kept_break = await write_once(house, caller, once, unit)
    house.shown_breaks.drop((group_id, kept_break.code))
    return kept_break


def codes(identity: bytes) -> list[str]:
    """The code of a break, and the ones used instead should it be taken: 40 bits in base 32 each."""
    found = []
    for salt in range(CODE_SALTS):
        hashed = identity if salt == 0 else hashlib.sha256(identity + bytes([salt])).digest()
        bits = int.from_bytes(hashed[:5], "big")
        found.append("".join(_CROCKFORD[bits >> shift & 31] for shift in range(35, -1, -5)))
    return found


def typed_code(text: str) -> str:
    """A code as a person typed it: any case, spaces and dashes free, I and L for 1, O for 0."""
    return text.translate(_AS_TYPED).replace("-", "").replace(" ", "").upper()


def shown_break(
    house: House,
    caller: Caller,
    group_slug: str,
    code: str,
    language: str,
    show: Callable[[Break, str], bytes],
) -> bytes:
    """A break as ``show`` makes it, kept until the break gets a number in a newer snapshot."""
    group = reach_group(house, caller, group_slug, "read-group")
    key = (group.id, typed_code(code))
    ready = house.shown_breaks.get(key) or {}
    if language not in ready:
        ready = {**ready, language: show(find_break(house, group, code), language)}
        house.shown_breaks.put(key, ready)
    return ready[language]


def get_break(house: House, caller: Caller, group_slug: str, code: str) -> Break:
    """The break with this code. Raises NotFound."""
    return find_break(house, reach_group(house, caller, group_slug, "read-group"), code)


def find_break(house: House, group: GroupRow, code: str) -> Break:
    row = rows.break_by_code(house.database.points, group.id, typed_code(code))
    if row is None:
        raise NotFound("not-found", what="break")
    numbered = rows.latest_number(house.database.points, group.id, row.code)
    if numbered is None:
        raise RuntimeError("a stored break has a number")
    return _shown(house, group, row, numbered)


def _shown(house: House, group: GroupRow, row: BreakRow, numbered: NumberRow) -> Break:
    points = house.database.points
    tune_row = tune_rows.tune_revision(points, row.tune_id, row.tune_revision)
    if tune_row is None:
        raise NotFound("not-found", what="tune")
    tune = kept_tune(tune_row.id, tune_row.revision, tune_row.slug, tune_row.body)
    setting = setting_of(setting_record(row.setting), tune)
    form = phrases(tune)
    filled = [
        in_place(
            house, group.id, tune, setting, form[phrase - 1 :], find_lick(house, group.id, number, revision)
        )
        for phrase, number, revision in _licks_decoder.decode(row.licks)
    ]
    joins = tuple(seam_of(tune, setting, a, b) for a, b in pairwise(filled))
    return Break(row.code, numbered, group.slug, tune, setting, tuple(filled), joins)


async def numbered_break(
    house: House, caller: Caller, group_slug: str, slug: str, number: int, snapshot: str, wish: Wish
) -> Break:
    """Number ``number`` of a snapshot. A number of an older one is answered with its code, if it has one.

    Raises NotFound ``no-such-number``, Conflict ``stale-snapshot`` or ``unknown-snapshot``.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    if snapshot != composed.snapshot:
        code = rows.code_of_number(house.database.points, group.id, snapshot, str(number))
        if code is not None:
            raise Conflict("stale-snapshot", break_code=code, present=composed.snapshot)
        raise Conflict("unknown-snapshot", snapshot=snapshot[:32], present=composed.snapshot)
    if not 1 <= number <= composed.lattice.total:
        raise NotFound("no-such-number", number=str(number)[:40], total=str(composed.lattice.total))
    code = rows.code_of_number(house.database.points, group.id, snapshot, str(number))
    if code is not None:
        return find_break(house, group, code)
    return await _keep(house, caller, composed, composed.lattice.path(number), None)
