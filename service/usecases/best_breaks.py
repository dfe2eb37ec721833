"""The best breaks there are, and one lick of a break changed for another."""

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from service.compose.best import BestBreaks, JoinCost
from service.compose.distinct import NotFound as NoneYet
from service.compose.distinct import best_distinct
from service.compose.lattice import Pick
from service.compose.matching import tempo_of
from service.compose.stock import Candidate, Column, Stock
from service.compose.watches import watching
from service.errors import Conflict, DomainError, NotFound
from service.judge.hands import strain
from service.judge.joins import Edge, judge_join
from service.music.tunes import phrases
from service.usecases.breaks import find_break, keep_break
from service.usecases.composing import Composed, compose
from service.usecases.facts import pooled
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.made_breaks import Break
from service.usecases.once import Once
from service.usecases.records import tune_record
from service.usecases.wishes import REDRAWS, RULE_SETS, Wish, every, keeping_to, no_breaks, seams

# What a lick and a join cost, in whole numbers, by what is asked for; ours. The cheapest break is the best. Small costs beside
# the large ones settle what would be alike.
SCALE = 1000
BY = ("smooth", "easy", "melody")
MOST = 50
STEPS = 150_000  # of the search for breaks with no lick twice
Share = Callable[[Edge, Edge], float]


def lick_cost(of: Stock, by: str) -> Column:
    if by == "melody":
        return np.round(SCALE * (1 - of.column("recall"))).astype(np.int64) * of.column("span")
    return of.ints("level") * (SCALE if by == "easy" else SCALE // 100)


def join_cost(share: float, by: str) -> int:
    """``share`` of the time there is that a seam takes, to the hundredth; of no account for the easiest."""
    if by == "easy":
        return 0
    return round(100 * share) * (SCALE // 100 if by == "smooth" else 1)


async def best_breaks(
    house: House, caller: Caller, group_slug: str, slug: str, wish: Wish, by: str, how_many: int
) -> list[Break]:
    """The best breaks that keep to a teacher's rules, as far as those leave any; exact, best first.

    Raises DomainError ``no-breaks``, or ``none-found`` if what only whole breaks can tell is met by none of the first ones.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    paths = await asyncio.to_thread(_best, composed, wish, by, how_many)
    return list(await asyncio.gather(*(keep_break(house, caller, composed, path, None) for path in paths)))


def _best(composed: Composed, wish: Wish, by: str, how_many: int) -> list[tuple[Pick, ...]]:
    wished = every(composed, wish)
    if wished.total == 0:
        raise no_breaks(wished, composed, wish)
    share, allows = seam_share(composed), seams(composed, wish)

    def joined(before: Edge, entry: Edge) -> int | None:
        return join_cost(share(before, entry), by) if allows(before, entry) else None

    watch = watching(wish.watched())
    for rules in RULE_SETS:
        candidates = keeping_to(rules, wished.candidates)
        if wish.no_repeats:
            distinct = _distinct(candidates, wish, by, joined, how_many)
            if distinct:
                return distinct
            continue
        found: list[tuple[Pick, ...]] = []
        for tried, (_, path) in enumerate(
            BestBreaks(candidates, lambda of, phrase: lick_cost(of, by), joined, watch)
        ):
            if wish.met_by(path):
                found.append(path)
            if len(found) == how_many or tried == REDRAWS:
                break
        if found:
            return found
    raise DomainError("none-found", tries=REDRAWS)


def _distinct(
    candidates: Sequence[Stock], wish: Wish, by: str, joined: JoinCost, how_many: int
) -> list[tuple[Pick, ...]]:
    watch = watching(wish.watched())
    try:
        found = best_distinct(
            candidates, lambda of, phrase: lick_cost(of, by), joined, how_many, STEPS, wish.met_by, watch
        )
    except NoneYet as none:
        raise DomainError("none-found", tries=none.tried) from None
    return [path for _, path in found]


def seam_share(composed: Composed) -> Share:
    """What share of the time there is a seam takes at the tune's tempo."""
    bpm, beat = tempo_of(composed.tune)
    scale, slot = composed.setting.instrument.scale_mm, composed.tune.meter.slot_ticks

    def share(before: Edge, entry: Edge) -> float:
        return strain(judge_join(before, entry, scale).load / slot, bpm, beat)

    return share


@dataclass(frozen=True, slots=True)
class Swap:
    """A lick that could take another's place: what changes, and how well it suits on the whole (less is better)."""

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
    """Licks that could take the place of the one at a phrase, ranked by what they do to joins, level and melody."""
    _, composed, path = await _opened(house, group_slug, caller, code)
    ranked = _ranked(composed, path, _place(path, phrase))[:MOST]
    licks = await pooled(
        house, composed.group.id, [(one.candidate.number, one.candidate.revision) for one in ranked]
    )
    return Swaps(ranked, {lick.number: lick.lick.name for lick in licks.values()})


def _ranked(composed: Composed, path: Sequence[Pick], place: int) -> list[Swap]:
    """Licks for a place of a break, best first."""
    share = seam_share(composed)
    here = path[place].candidate
    before = _seams_around(path, place, here, share)
    found = []
    for candidate in composed.lattice.candidates[path[place].phrase]:
        if candidate.span != here.span or candidate.number == here.number or candidate.edges is None:
            continue
        joins = _seams_around(path, place, candidate, share) - before
        level, recall = candidate.level - here.level, candidate.recall - here.recall
        # a join that gets harder, a level more and a tenth of the melody less weigh alike; breaking a rule more than any
        cost = round(SCALE * (joins + 0.1 * level - recall)) + 10 * SCALE * bool(candidate.broken)
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
    """The break with another lick at a phrase. Raises DomainError ``does-not-go-there``, NotFound, Conflict ``stale-break``."""
    reach_group(house, caller, group_slug, "draw-break")
    _, composed, path = await _opened(house, group_slug, caller, code)
    place = _place(path, phrase)
    begins, span = path[place].phrase, path[place].candidate.span
    chosen = next(
        (c for c in composed.lattice.candidates[begins] if c.number == lick and c.span == span), None
    )
    if chosen is None:
        raise DomainError("does-not-go-there", lick=lick, phrase=begins + 1)
    changed = (*path[:place], Pick(begins, chosen), *path[place + 1 :])
    return await keep_break(house, caller, composed, changed, None, once)


async def steps_from_plain(
    house: House, caller: Caller, group_slug: str, slug: str, wish: Wish
) -> list[Break]:
    """From the tune's plain break to one with every lick changed, one lick at a time, the last phrase first; each new lick keeps
    to the wish and suits its place best.

    Raises DomainError ``no-plain-break``.
    """
    group = reach_group(house, caller, group_slug, "draw-break")
    composed = await compose(house, group, slug, wish.instrument, wish.tuning)
    wish.check()
    path = _plain(composed)
    paths = [path]
    for place in range(len(path) - 1, -1, -1):
        of = composed.lattice.candidates[path[place].phrase]
        allowed = set(of.where(wish.allows(of)).column("number").tolist())
        ranked = [s.candidate for s in _ranked(composed, path, place) if s.candidate.number in allowed]
        chosen = next((c for c in ranked if not c.broken), None)
        if chosen is not None:
            path = (*path[:place], Pick(path[place].phrase, chosen), *path[place + 1 :])
            paths.append(path)
    return [await keep_break(house, caller, composed, one, None) for one in paths]


def _plain(composed: Composed) -> tuple[Pick, ...]:
    """The tune's plain break on the instrument, as picks."""
    by_part = tune_record(composed.row.body).plain.get(composed.setting.instrument.id, {})
    picks: list[Pick] = []
    phrase = 0
    form = phrases(composed.tune)
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
    """A break with the lattice it is a path of. Raises Conflict ``stale-break`` if the pool has lost one of its licks."""
    group = reach_group(house, caller, group_slug, "read-group")
    made = find_break(house, group, code)
    composed = await compose(house, group, made.tune.slug, made.setting.instrument.id, made.setting.tuning.id)
    picks = []
    for place in made.phrases:
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


def _seams_around(path: Sequence[Pick], place: int, candidate: Candidate, share: Share) -> float:
    """What the seams before and after a lick take together, were it at this place."""
    total = 0.0
    for before, after in (
        (path[place - 1].candidate if place else None, candidate),
        (candidate, path[place + 1].candidate if place + 1 < len(path) else None),
    ):
        if before is not None and after is not None and before.edges and after.edges:
            exits = before.edges.exits
            total += share(exits[min(after.edges.entry.cut, len(exits) - 1)], after.edges.entry)
    return total
