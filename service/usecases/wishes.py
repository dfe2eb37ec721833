"""What players ask of a break, and what a draw is made from: the wish, and as many of a teacher's rules as leave any.

Each part of a wish says how it is met. Levels, styles, tempo and licks to avoid choose the licks, licks that must be there
are states of the lattice: both exact, counted without drawing. No lick twice and a share of the melody can be told of a whole
break only: such a wish is met by drawing until a break does, evenly over all that do, up to REDRAWS tries.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.compose.joined import Allows, JoinedLattice, alike
from service.compose.lattice import Lattice, Pick
from service.compose.matching import changes_over, tempo_of
from service.compose.stock import Column, Mask, Stock
from service.compose.targets import shared_targets
from service.compose.watches import AtMost, Budget, Manner, MustHave, Watch, passes, watching
from service.errors import DomainError, Fault
from service.judge.hands import strain
from service.judge.joins import Edge, judge_join
from service.judge.level import LEVELS
from service.music.instruments import STYLES
from service.music.tunes import UNIT_TICKS, phrases
from service.usecases.composing import Composed
from service.usecases.house import House
from service.usecases.made_breaks import holding
from service.usecases.records import encode

# A default draw keeps to these rules of a teacher's: two neighbouring eighths never fall to one finger, jumps have air, tags
# land, notes belong, the tempo can be played; each part's first phrase recalls the melody, a part changes its style twice and
# goes up the neck once at most, and repeated phrases share their first target note.
HANDS_AND_EARS = frozenset(
    (
        "same-finger", "jump-without-air", "tag-does-not-land", "tag-without-air", "hurts", "too-fast",
        "cannot-be-stopped", "too-many-to-stop", "does-not-fit",
    )
)  # fmt: skip
MELODY = frozenset(("free-of-the-melody",))
RULE_SETS = (HANDS_AND_EARS | MELODY, HANDS_AND_EARS, frozenset[str]())  # tried in this order
MOST_INCLUDED = 4  # licks that a wish may insist on: each doubles what must be kept apart
REDRAWS = 20_000
MOST_FAVOURED = 9  # a lick that recalls all of the melody, or a join that asks nothing, counts ten times one at the other end


@dataclass(frozen=True, slots=True)
class Wish:
    """What a player asks for. No instrument means the group's own.

    ``bpm`` counts the tune's own beats: the break must be comfortable at that tempo. ``melody`` is the least share of the
    melody that the whole recalls. ``settled`` keeps each part to its manner: few changes of style, one stay up the neck,
    repeated phrases with one target. ``style_most`` is how many licks of a style at most, ``level_sum`` what the levels of all
    licks may come to. ``favour`` makes breaks likelier that recall more of the ``melody`` or have ``smooth`` joins. ``differs_by`` is in how many
    phrases it must differ from each of the last breaks served.
    """

    instrument: str | None = None
    tuning: str | None = None
    max_level: int | None = None
    styles: tuple[str, ...] = ()
    avoid: tuple[int, ...] = ()
    must_include: tuple[int, ...] = ()
    bpm: int | None = None
    melody: float | None = None
    no_repeats: bool = False
    settled: bool = True
    style_most: tuple[tuple[str, int], ...] = ()
    level_sum: int | None = None
    favour: str | None = None
    differs_by: int | None = None

    @property
    def filters(self) -> str:
        """What narrows the draw, in one fixed spelling: a seed's draw depends on it."""
        told: list[object] = [self.max_level, sorted(self.styles), sorted(self.avoid)]
        more = [
            sorted(self.must_include), self.bpm, self.melody, self.no_repeats, self.settled, sorted(self.style_most),
            self.level_sum, self.favour, self.differs_by,
        ]  # fmt: skip
        plain: list[object] = [[], None, None, False, True, [], None, None, None]
        return encode(told if more == plain else [*told, *more]).decode()

    @property
    def narrows(self) -> bool:
        """Whether some licks are left out or insisted on."""
        chosen = (self.max_level, self.styles, self.avoid, self.bpm)
        return chosen != (None, (), (), None) or bool(self.watched())

    def watched(self) -> list[Watch]:
        """What is minded along a whole break."""
        found: list[Watch] = []
        if self.must_include:
            found.append(MustHave(tuple(sorted(set(self.must_include)))))
        if self.style_most:
            found.append(AtMost(tuple(sorted(self.style_most))))
        if self.level_sum is not None:
            found.append(Budget(self.level_sum))
        return found

    @property
    def redrawn(self) -> bool:
        """Whether it asks for what only a whole break can tell."""
        return self.no_repeats or self.melody is not None or self.differs_by is not None

    def check(self) -> None:
        """Raise DomainError ``unknown-style`` for a style that no lick can have, ``too-many-included``."""
        known = [style for styles in STYLES.values() for style in styles]
        for style in (*self.styles, *(style for style, _ in self.style_most)):
            if style not in known:
                raise DomainError("unknown-style", style=style, known=", ".join(known))
        if len(set(self.must_include)) > MOST_INCLUDED:
            raise DomainError("too-many-included", most=MOST_INCLUDED)

    def allows(self, of: Stock) -> Mask:
        """Which licks may be part of such a break."""
        keep: Mask = ~np.isin(of.column("number"), self.avoid)
        if self.max_level is not None:
            keep &= of.column("level") <= self.max_level
        if self.styles:
            keep &= of.in_styles(self.styles)
        if self.bpm is not None:
            keep &= of.column("top") >= self.bpm
        return keep

    def met_by(self, path: Sequence[Pick]) -> bool:
        """Whether a whole break has what must be minded along it, and what only a whole one can have."""
        watch = watching(self.watched())
        if watch is not None and not passes(watch, [(pick.phrase, pick.candidate) for pick in path]):
            return False
        numbers = [pick.candidate.number for pick in path]
        if self.no_repeats and len(set(numbers)) < len(numbers):
            return False
        return self.melody is None or share_of_melody(path) >= self.melody


def share_of_melody(path: Sequence[Pick]) -> float:
    """Share of the melody that a break recalls, each lick by the length of what it fills."""
    whole = sum(pick.candidate.ticks for pick in path)
    return sum(pick.candidate.ticks * pick.candidate.recall for pick in path) / whole if whole else 0.0


def every(composed: Composed, wish: Wish) -> Lattice | JoinedLattice:
    """Every break of the wish's licks, rules and joins not minded. What is redrawn is not looked at.

    Raises DomainError ``unknown-style``, ``too-many-included``.
    """
    wish.check()
    if not wish.narrows:
        return composed.lattice
    narrowed = composed.lattice.only(wish.allows)
    watched = wish.watched()
    if not watched:
        return narrowed
    return JoinedLattice(narrowed.candidates, lambda before, entry: 1, watching(watched))


def drawable(house: House, composed: Composed, wish: Wish) -> Lattice | JoinedLattice:
    """What a draw is made from: as many of the rules as leave any break. Raises DomainError ``no-breaks``."""
    key = (composed.key, wish.filters)
    found = house.drawable.get(key)
    if found is None:
        wished = every(composed, wish)
        if wished.total == 0:
            raise no_breaks(wished, composed, wish)
        found = next(lattice for lattice in _by_the_rules(wished, composed, wish) if lattice.total)
        house.drawable.put(key, found)
    return found


def _by_the_rules(
    wished: Lattice | JoinedLattice, composed: Composed, wish: Wish
) -> Iterator[Lattice | JoinedLattice]:
    """Lattices with fewer and fewer rules."""
    allows = seams(composed, wish)
    weigh = _by_melody if wish.favour == "melody" else alike
    must = wish.watched()
    form = phrases(composed.tune)
    manner = Manner(frozenset(p.number - 1 for p in form if p.index == 1))
    for rules in RULE_SETS:
        clean = keeping_to(rules, wished.candidates)
        targets = shared_targets(form, clean)
        whole: list[Watch] = [manner] if targets is None else [manner, targets]
        for watches in ([*whole, *must], [manner, *must], must) if wish.settled else (must,):
            yield JoinedLattice(clean, allows, watching(watches), weigh)
    yield wished


def keeping_to(rules: frozenset[str], candidates: Sequence[Stock]) -> list[Stock]:
    """The licks that break none of these rules."""
    return [of.where(~of.breaks(rules)) for of in candidates]


def _by_melody(of: Stock) -> Column:
    return 1 + np.round(MOST_FAVOURED * of.column("recall")).astype(np.int64)


def _would_give(composed: Composed, wish: Wish) -> Iterator[Fault]:
    """The smallest change to each part of a wish that alone would give breaks, and how many."""

    def told(what: str, changed: Wish, value: object = "") -> Fault | None:
        total = every(composed, changed).total
        change = {"what": f"change-{what}", "value": value}
        return Fault("would-give", {"change": [change], "total": str(total)}, path=what) if total else None

    tried: list[Iterator[Fault | None]] = []
    if wish.max_level is not None:
        higher = range(wish.max_level + 1, LEVELS + 1)
        tried.append(told("max-level", replace(wish, max_level=level), level) for level in higher)
    if wish.styles:
        played = {of.styles[n] for of in composed.lattice.candidates for n in np.unique(of.column("style"))}
        others = sorted(played - set(wish.styles))
        tried.append(told("styles", replace(wish, styles=(*wish.styles, style)), style) for style in others)
    if wish.bpm is not None:
        known = np.unique(np.concatenate([of.column("top") for of in composed.lattice.candidates]))
        tops = [top for top in known.tolist() if 0 <= top < wish.bpm]
        tried.append(told("bpm", replace(wish, bpm=top), top) for top in reversed(tops))
    if wish.avoid:
        tried.append(iter([told("avoid", replace(wish, avoid=()))]))
    for lick in wish.must_include:
        others_too = tuple(number for number in wish.must_include if number != lick)
        tried.append(iter([told("must-include", replace(wish, must_include=others_too), lick)]))
    for changes in tried:
        first = next((fault for fault in changes if fault is not None), None)
        if first is not None:
            yield first


def seams(composed: Composed, wish: Wish) -> Allows:
    """Which seams can be played at the tempo asked for, or at the tune's own."""
    bpm, beat = tempo_of(composed.tune)
    if wish.bpm is not None:
        bpm = max(bpm, wish.bpm * UNIT_TICKS[composed.tune.tempo.unit] / beat)
    scale, meter = composed.setting.instrument.scale_mm, composed.tune.meter

    def allows(before: Edge, entry: Edge) -> int:
        join = judge_join(before, entry, scale)
        share = strain(join.load / meter.slot_ticks, bpm, beat)
        if holding(join, composed.tune) or share > 1:
            return 0
        return 1 + round(MOST_FAVOURED * (1 - share)) if wish.favour == "smooth" else 1

    return allows


def no_breaks(wished: Lattice | JoinedLattice, composed: Composed, wish: Wish) -> DomainError:
    """The error for a wish that nothing meets: the phrase that nothing fills, or the lick that fits nowhere."""
    form = phrases(composed.tune)
    missing = [
        number
        for number in wish.must_include
        if not any((of.column("number") == number).any() for of in wished.candidates)
    ]
    if missing:
        at = list(_would_give(composed, wish))
        return DomainError("fits-nowhere", at=at, lick=missing[0], tune=composed.tune.name)
    phrase = form[wished.dead_end() or 0]
    chords = [
        "N.C." if change.chord is None else change.chord.name
        for change in changes_over([phrase], composed.setting, composed.tune)
    ]
    return DomainError(
        "no-breaks",
        at=list(_would_give(composed, wish)),
        instrument=composed.setting.instrument.name,
        phrase=phrase.number,
        role=phrase.role,
        chords=" ".join(chords),
    )
