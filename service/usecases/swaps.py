"""One lick of a break changed for another, and the way from the plain break to one with every lick changed."""

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.compose.demands import AnyLattice, Demands, impossible
from service.compose.joined import JoinedLattice
from service.compose.lattice import Pick
from service.compose.seams import tempo_at
from service.compose.sections import SameLattice
from service.compose.stock import Candidate, Column, Stock
from service.compose.whole import best_whole
from service.errors import Conflict, DomainError, NotFound
from service.judge.joins import CUTS, Edge
from service.usecases.best_breaks import MOST_SHARE, STEPS_WITH_MELODY
from service.usecases.breaks import find_break, keep_break, recent_breaks
from service.usecases.composing import Composed, compose
from service.usecases.drawable import RULE_SETS, seams
from service.usecases.facts import pooled
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.made_breaks import Break, Rest
from service.usecases.once import Once, check_once
from service.usecases.records import tune_record
from service.usecases.refusals import no_breaks, none_found
from service.usecases.rests import check_rests, fill_rests, resting
from service.usecases.wishes import Wish, every, watch_of

MOST = 50  # alternatives told
# A join that gets harder, a level more and a tenth of the melody less weigh alike; breaking a rule more than any. Ours.
SCALE = 1000
LEVEL, RULE, SAME = SCALE // 10, 10 * SCALE, 100 * SCALE


@dataclass(frozen=True, slots=True)
class Swap:
    """A lick that could take another's place, or a rest's: what changes, and how well it suits on the whole (less is better)."""

    candidate: Candidate
    level: int
    recall: float
    joins: float
    cost: int


@dataclass(frozen=True, slots=True)
class Swaps:
    """Alternatives for one phrase of a break, best first, and the names of licks by number."""

    ranked: list[Swap]
    names: dict[int, str]


async def swaps_for(house: House, caller: Caller, group_slug: str, code: str, phrase: int) -> Swaps:
    """Licks that could take the place of the one at a phrase, or of a rest there, ranked by what they do to joins, level and
    melody. Raises Conflict ``fill-the-rest-first``, ``stale-break``."""
    _, composed, path = await _opened(house, group_slug, caller, code)
    place = _place(path, phrase)
    check_rests(path, place)
    ranked = _ranked(composed, path, place)[:MOST]
    licks = await pooled(
        house, composed.group.id, [(one.candidate.number, one.candidate.revision) for one in ranked]
    )
    return Swaps(ranked, {lick.number: lick.lick.name for lick in licks.values()})


def _ranked(composed: Composed, path: Sequence[Pick], place: int) -> list[Swap]:
    """Licks for a place of a break, best first."""
    share = tempo_at(composed.tune, composed.setting).share
    here = path[place].candidate
    before = _seams_around(path, place, here, share)
    found = []
    for candidate in composed.lattice.candidates[path[place].phrase]:
        if candidate.span != here.span or candidate.number == here.number or candidate.edges is None:
            continue
        joins = _seams_around(path, place, candidate, share) - before
        level, recall = candidate.level - here.level, candidate.recall - here.recall
        cost = round(SCALE * (joins - recall)) + LEVEL * level + RULE * bool(candidate.broken)
        found.append(Swap(candidate, level, recall, joins, cost))
    return sorted(found, key=lambda s: (s.cost, s.candidate.number))


async def swap(
    house: House,
    caller: Caller,
    group_slug: str,
    code: str,
    phrase: int,
    lick: int,
    once: Once[Break] | None = None,
) -> Break:
    """The break with another lick at a phrase; with one for a rest, all rests are filled.

    Raises DomainError ``does-not-go-there``, NotFound, Conflict ``stale-break``, ``fill-the-rest-first``,
    ``nothing-fills-the-rest``.
    """
    reach_group(house, caller, group_slug, "draw-break")
    check_once(house, caller, once)
    _, composed, path = await _opened(house, group_slug, caller, code)
    place = _place(path, phrase)
    check_rests(path, place)
    begins, span = path[place].phrase, path[place].candidate.span
    chosen = next(
        (c for c in composed.lattice.candidates[begins] if c.number == lick and c.span == span), None
    )
    if chosen is None:
        raise DomainError("does-not-go-there", lick=lick, phrase=begins + 1)
    changed = fill_rests(
        path, place, chosen, lambda filled, at: [s.candidate for s in _ranked(composed, filled, at)]
    )
    return await keep_break(house, caller, composed, changed, None, once)


async def steps_from_plain(
    house: House, caller: Caller, group_slug: str, slug: str, wish: Wish
) -> list[Break]:
    """From the tune's plain break to one as asked with every lick changed, as far as there are others: one lick at a time, the
    last phrase first, each seam on the way playable.

    Raises DomainError ``no-plain-break``, ``nothing-to-swap``, ``no-breaks``, or why what is asked is met by none.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    plain = plain_picks(composed)
    others = recent_breaks(house, composed) if wish.differs_by is not None else []
    target = await asyncio.to_thread(_changed, composed, wish, plain, wish.demands(composed.form, others))
    changed = [place for place in range(len(plain)) if plain[place] != target[place]]
    if not changed:
        raise DomainError("nothing-to-swap", tune=composed.tune.name)
    paths = [plain, *((*plain[:place], *target[place:]) for place in reversed(changed))]
    return [await keep_break(house, caller, composed, path, None) for path in paths]


def _changed(composed: Composed, wish: Wish, plain: Sequence[Pick], demands: Demands) -> tuple[Pick, ...]:
    """The break as asked that suits best, of licks that can follow the plain ones too: each comes in after those. Where there is no
    other lick the plain one stays."""
    wished = every(composed, wish)
    if not wished.total:
        raise no_breaks(wished, composed, wish)
    allows, tempo = seams(composed, replace(wish, favour=None)), tempo_at(composed.tune, composed.setting)
    stocks = [of.where(np.zeros(len(of), np.bool_)) for of in composed.lattice.candidates]
    for place, pick in enumerate(plain):
        of, before = composed.lattice.candidates[pick.phrase], plain[place - 1].candidate if place else None
        own = of.column("number") == pick.candidate.number
        allowed = wish.allows(of)
        keep = allowed & ~of.breaks(RULE_SETS[0]) & ~own & (of.column("span") == pick.candidate.span)
        if before is not None and before.edges is not None:
            entries = of.edges.entries
            cuts = [min(entry.cut, len(CUTS) - 1) for entry in entries]
            follows = allows.every(before.edges.exits, entries)[cuts, range(len(entries))] > 0
            keep &= follows[of.column("entry")]
        keep |= own & allowed if keep.any() else own
        stocks[pick.phrase] = of.where(keep)
    plainly = {pick.phrase: pick.candidate.number for pick in plain}

    def cost(of: Stock, phrase: int) -> Column:
        suits = np.round(SCALE * (1 - of.column("recall"))).astype(np.int64) + LEVEL * of.ints("level")
        unchanged: Column = of.column("number") == plainly.get(phrase)
        total: Column = suits + SAME * unchanged
        return total

    form = composed.form
    watch = watch_of(wish.watched(), False)
    lattice: AnyLattice
    if wish.repeats == "same":
        lattice = SameLattice(stocks, form, allows, watch)
    else:
        lattice = JoinedLattice(stocks, allows, watch(form))
    if not lattice.total:
        raise no_breaks(lattice, composed, wish)
    if impossible(lattice, demands):
        raise none_found(lattice, demands)
    joins = tempo.costing(lambda shares: np.round(SCALE * np.minimum(shares, MOST_SHARE)).astype(np.int64))
    found = best_whole(lattice, demands, cost, joins, 1, STEPS_WITH_MELODY)
    if not found.paths:
        raise none_found(lattice, demands)
    return found.paths[0]


def plain_picks(composed: Composed) -> tuple[Pick, ...]:
    """The tune's plain break on the instrument, as picks."""
    by_part = tune_record(composed.row.body).plain.get(composed.setting.instrument.id, {})
    picks: list[Pick] = []
    phrase = 0
    form = composed.form
    while phrase < len(form):
        numbers = by_part.get(form[phrase].part, [])
        index = form[phrase].index - 1
        number = numbers[index] if index < len(numbers) else None
        found = next((c for c in composed.lattice.candidates[phrase] if c.number == number), None)
        if found is None:
            raise DomainError(
                "no-plain-break", tune=composed.tune.name, instrument=composed.setting.instrument.name
            )
        picks.append(Pick(phrase, found))
        phrase += found.span
    return tuple(picks)


async def _opened(
    house: House, group_slug: str, caller: Caller, code: str
) -> tuple[Break, Composed, tuple[Pick, ...]]:
    """A break with the lattice it is a path of, but for its rests. Raises Conflict ``stale-break`` if the pool has lost one of
    its licks."""
    group = reach_group(house, caller, group_slug, "read-group")
    made = find_break(house, group, code)
    composed = await compose(house, group, made.tune.slug, made.setting.instrument.id, made.setting.tuning.id)
    picks = []
    for place in made.phrases:
        if isinstance(place, Rest):
            picks.append(resting(place))
            continue
        begins = place.form[0].number - 1
        of = composed.lattice.candidates[begins] if begins < len(composed.lattice.candidates) else ()
        wanted = (place.lick.number, place.lick.revision, len(place.form))
        found = next((c for c in of if (c.number, c.revision, c.span) == wanted), None)
        if found is None:
            raise Conflict("stale-break", break_code=made.code, lick=place.lick.number)
        picks.append(Pick(begins, found))
    if sum(pick.candidate.span for pick in picks) != len(composed.lattice.candidates):
        raise Conflict("stale-tune", break_code=made.code, tune=composed.tune.name)
    return made, composed, tuple(picks)


def _place(path: Sequence[Pick], phrase: int) -> int:
    """Which lick of a break fills a phrase counted from 1."""
    for place, pick in enumerate(path):
        if pick.phrase < phrase <= pick.phrase + pick.candidate.span:
            return place
    raise NotFound("no-such-phrase", phrase=phrase, phrases=path[-1].phrase + path[-1].candidate.span)


def _seams_around(
    path: Sequence[Pick], place: int, candidate: Candidate, share: Callable[[Edge, Edge], float]
) -> float:
    """What the seams before and after a lick take together, were it at this place."""
    total = 0.0
    for before, after in (
        (path[place - 1].candidate if place else None, candidate),
        (candidate, path[place + 1].candidate if place + 1 < len(path) else None),
    ):
        if before is not None and after is not None and before.edges and after.edges:
            total += share(before.edges.into(after.edges.entry), after.edges.entry)
    return total
