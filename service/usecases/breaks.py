"""Counting, drawing and finding breaks."""

import asyncio
import hashlib
import secrets
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.compose.demands import AnyLattice, Demands, impossible
from service.compose.drawing import REDRAWS, draw_fresh, seeded
from service.compose.lattice import Pick
from service.compose.rungs import Rungs
from service.compose.whole import Drawn, draw_whole
from service.errors import Conflict, NotFound
from service.music.tunes import Tune
from service.store import breaks as rows
from service.store import taken_down
from service.store import tunes as tune_rows
from service.store.breaks import BreakRow, NumberRow
from service.store.groups import GroupRow
from service.usecases.composing import Composed, compose
from service.usecases.drawable import EVENLY, by_freshness, rungs, rungs_ready
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.made_breaks import Break, placed, seams_between
from service.usecases.once import Once, check_once, write_once
from service.usecases.records import (
    encode,
    kept_form,
    kept_tune,
    record_of,
    setting_of,
    setting_record,
    tune_record,
)
from service.usecases.refusals import none_found
from service.usecases.voting import lick_weights
from service.usecases.wishes import Wish, counted, every

RECENT = 10  # breaks served last that a wish to differ is measured against
CODE_SALTS = 8  # codes tried when one is taken: with 40 bits each, all eight taken is out of the question
_CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_AS_TYPED = str.maketrans("ILOilo", "110110")
_licks_decoder = msgspec.json.Decoder(list[tuple[int, int, int]])


@dataclass(frozen=True, slots=True)
class Count:
    """``total`` is None where only whole breaks can tell: ``with_repeats`` then counts all of the wish's licks."""

    total: int | None
    with_repeats: int
    per_phrase: tuple[int, ...]
    snapshot: str


async def count_breaks(house: House, caller: Caller, group_slug: str, slug: str, wish: Wish) -> Count:
    """How many breaks the pool makes under a wish, and how many licks may begin each phrase."""
    group = reach_group(house, caller, group_slug, "read-group")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    lattice, total = await asyncio.to_thread(counted, composed, wish)
    per_phrase = tuple(len(of) for of in lattice.candidates)
    return Count(total, lattice.total, per_phrase, composed.snapshot)


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

    With a seed the draw depends on seed, snapshot and wish alone (and on the votes, where favourites are favoured). Without one, no break comes again until all that the wish
    allows have come, those that keep to the rules first; of more breaks than can be looked through, those that only drawing
    finds or that are favoured come again where SERVED_DRAWS in a row were served. Where the rules leave none, the manner of the
    parts is given up first, then the melody, then the others. Raises DomainError ``no-breaks`` naming the phrase that nothing
    fills, or why what only whole breaks can have is met by none.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    check_once(house, caller, once)
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    minds_recent = seed is None and (wish.differs_by is not None or wish.favour == "fresh")
    recent = recent_breaks(house, composed) if minds_recent else []
    weighed = EVENLY
    if wish.favour == "fresh":
        weighed = by_freshness(
            Counter(number for licks in recent for number in {n for _, n in licks}).items()
        )
    elif wish.favour == "favourites":
        weighed = lick_weights(house.database.points, group.id)
    demands = wish.demands(composed.form, recent if wish.differs_by else ())
    lattices = rungs_ready(house, composed, wish, weighed)
    if lattices is None:
        lattices = await asyncio.to_thread(rungs, house, composed, wish, weighed)
    if seed is not None:
        randbelow = seeded(f"{composed.snapshot}|{wish.filters}|{seed}")
        drawn = await asyncio.to_thread(_drawn, lattices, demands, randbelow)
        return await keep_break(house, caller, composed, drawn.path, None, once)
    while True:
        if demands or wish.favour:
            known = set(rows.served_numbers(house.database.points, composed.row.id, composed.snapshot))
            was_served = _among(composed, known)
            drawn = await asyncio.to_thread(_drawn, lattices, demands, secrets.randbelow, was_served)
            again = tuple(_number(composed, path) for path in drawn.again)
            path, fresh = drawn.path, _Fresh(again) if drawn.fresh or again else None
        else:
            first = lattices.first
            if first is None:
                first = await asyncio.to_thread(lattices.make_first)
            path, fresh = await _fresh(house, composed, first, wish)
        try:
            return await keep_break(house, caller, composed, path, fresh, once)
        except _ServedMeanwhile:
            continue


def _drawn(
    lattices: Rungs,
    demands: Demands,
    randbelow: Callable[[int], int],
    was_served: Callable[[tuple[Pick, ...]], bool] = lambda path: False,
) -> Drawn:
    """A break that meets the demands, from the first lattice that has one that was not served. Raises DomainError."""
    served: list[Drawn] = []
    for lattice in lattices:
        if demands.others and impossible(lattice, demands):
            continue
        found = draw_whole(lattice, demands, randbelow, was_served)
        if found is not None and found.fresh:
            return found
        served += [found] if found is not None else []
    if served:
        return replace(
            served[0], again=tuple(dict.fromkeys(chain.from_iterable(one.again for one in served)))
        )
    raise none_found(lattices, demands)


def _among(composed: Composed, numbers: set[int]) -> Callable[[tuple[Pick, ...]], bool]:
    return lambda path: _number(composed, path) in numbers


def recent_breaks(house: House, composed: Composed) -> list[frozenset[tuple[int, int]]]:
    """The breaks of the tune served last, each as (phrase from 0, lick number)."""
    found = rows.recent_breaks(house.database.points, composed.group.id, composed.row.id, RECENT)
    return [
        frozenset((phrase - 1, number) for phrase, number, _ in _licks_decoder.decode(licks))
        for licks in found
    ]


@dataclass(frozen=True, slots=True)
class _Fresh:
    """A draw that goes to what was served; ``again`` are numbers among all breaks that may be served again."""

    again: tuple[int, ...] = ()


class _ServedMeanwhile(Exception):
    """Somebody else was served this break, or began the round anew, between drawing and storing it."""


async def _fresh(
    house: House, composed: Composed, lattice: AnyLattice, wish: Wish
) -> tuple[tuple[Pick, ...], _Fresh]:
    """A break in ``lattice`` that was not served. When all of those were, the wish's other breaks come, which break a
    teacher's rules somewhere; when all of them were too, the round begins anew."""
    points, tune_id = house.database.points, composed.row.id
    if lattice.total > 2 * house.settings.served_kept:
        # less than half can have been served: draw again until one was not
        while True:
            path = lattice.path(1 + secrets.randbelow(lattice.total))
            if not rows.was_served(points, tune_id, composed.snapshot, str(_number(composed, path))):
                return path, _Fresh()
    served = rows.served_numbers(points, tune_id, composed.snapshot)
    return await asyncio.to_thread(_not_served, composed, lattice, wish, served)


def _not_served(
    composed: Composed, lattice: AnyLattice, wish: Wish, numbers: Sequence[int]
) -> tuple[tuple[Pick, ...], _Fresh]:
    """The same, of breaks that may all have been served."""
    known = set(numbers)
    for _ in range(REDRAWS):
        path = lattice.path(1 + secrets.randbelow(lattice.total))
        if _number(composed, path) not in known:
            return path, _Fresh()
    served = {number: _licks(composed.lattice.path(number)) for number in numbers}
    for among in (lattice, every(composed, wish)):
        ranks = [rank for licks in served.values() if (rank := among.number(licks)) is not None]
        if len(ranks) < among.total:
            number, _ = draw_fresh(among.total, ranks)
            return among.path(number), _Fresh()
    again = tuple(number for number, licks in served.items() if among.number(licks) is not None)
    return lattice.path(1 + secrets.randbelow(lattice.total)), _Fresh(again)


def _licks(path: Sequence[Pick]) -> list[tuple[int, int]]:
    return [(pick.candidate.number, pick.candidate.revision) for pick in path]


def _number(composed: Composed, path: Sequence[Pick]) -> int:
    number = composed.lattice.number(_licks(path))
    if number is None:
        raise RuntimeError("a drawn break is not among all breaks")
    return number


async def keep_break(
    house: House,
    caller: Caller,
    composed: Composed,
    path: Sequence[Pick],
    fresh: _Fresh | None,
    once: Once[Break] | None = None,
) -> Break:
    """Give a break its code and store it; a fresh one goes to what was served.

    Raises _ServedMeanwhile, with nothing stored, if a fresh one is fresh no more; Conflict ``taken-down-meanwhile``.
    """
    setting = encode(record_of(composed.setting)).decode()
    licks = encode([(p.phrase + 1, p.candidate.number, p.candidate.revision) for p in path]).decode()
    identity = identity_of_break(
        composed.group.slug, composed.row.slug, composed.row.revision, composed.tune, setting, licks
    )
    possible = codes(identity)
    row = BreakRow(possible[0], identity, composed.row.id, composed.row.revision, setting, licks)
    numbered = NumberRow(composed.snapshot, str(_number(composed, path)), str(composed.lattice.total))
    shown = _shown(house, composed.group, row, numbered)
    group_id, tune_id, now = composed.group.id, composed.row.id, stamp(house.clock())

    def unit(connection: Connection) -> Break:
        gone = taken_down.first_taken_down(connection, group_id, [pick.candidate.number for pick in path])
        if gone is not None:
            raise Conflict("taken-down-meanwhile", lick=gone)
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


def identity_of_break(group: str, slug: str, revision: int, tune: Tune, setting: str, licks: str) -> bytes:
    """What is equal for two breaks of a group that are one; ``setting`` and ``licks`` as they are kept."""
    cuts = [(part.name, part.cuts) for part in tune.parts]
    return hashlib.sha256(encode([group, slug, revision, cuts, setting, licks])).digest()


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
    """A break as ``show`` makes it, kept until the break gets a number in a newer snapshot or the pool changes: a lick of it
    may have been taken down."""
    group = reach_group(house, caller, group_slug, "read-group")
    key = (group.id, typed_code(code))
    version, ready = house.shown_breaks.get(key) or (group.pool_version, {})
    if version != group.pool_version or language not in ready:
        others = ready if version == group.pool_version else {}
        ready = {**others, language: show(find_break(house, group, code), language)}
        house.shown_breaks.put(key, (group.pool_version, ready))
    return ready[language]


def get_break(house: House, caller: Caller, group_slug: str, code: str) -> Break:
    """The break with this code. Raises NotFound."""
    return find_break(house, reach_group(house, caller, group_slug, "read-group"), code)


@dataclass(frozen=True, slots=True)
class BreakName:
    """What names a break as it may be shown now: its code, and the phrases whose licks are taken down."""

    group_id: int
    code: str
    tune: str
    hidden: tuple[int, ...]


def name_of_break(house: House, caller: Caller, group_slug: str, code: str) -> BreakName:
    """Found without making the break. Raises NotFound."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    row = rows.break_by_code(points, group.id, typed_code(code))
    tune = None if row is None else tune_rows.tune_revision(points, row.tune_id, row.tune_revision)
    if row is None or tune is None:
        raise NotFound("not-found", what="break")
    licks = _licks_decoder.decode(row.licks)
    gone = taken_down.taken_down_among(points, group.id, [number for _, number, _ in licks])
    return BreakName(
        group.id, row.code, tune.slug, tuple(phrase for phrase, number, _ in licks if number in gone)
    )


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
    form = kept_form(tune_row.id, tune_row.revision, tune_row.slug, tune_row.body)
    where = (group.id, group.pool_version, row.tune_id, row.tune_revision, row.setting)
    licks = _licks_decoder.decode(row.licks)
    ends = [*(phrase for phrase, _, _ in licks[1:]), len(form) + 1]
    places = tuple(
        placed(house, group.id, tune, setting, form[phrase - 1 : end - 1], number, revision, where)
        for (phrase, number, revision), end in zip(licks, ends, strict=True)
    )
    joins = seams_between(house, tune, setting, places)
    rights = tune_record(tune_row.body).rights
    return Break(row.code, numbered, group.slug, tune, setting, places, joins, rights)


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
        # it may have got another number since, and the pool be as it was again
        numbered = NumberRow(snapshot, str(number), str(composed.lattice.total))
        return replace(find_break(house, group, code), numbered=numbered)
    return await keep_break(house, caller, composed, composed.lattice.path(number), None)
