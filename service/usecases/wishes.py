"""What players ask of a break.

Each part of a wish says how it is met. Levels, styles, tempo and licks to avoid choose the licks; licks that must be there, so
many of a style and a sum of levels are states of the lattice; repeated parts played the same are chosen once: all exact, counted
without drawing. No lick twice, a share of the melody, another lick than before: that can be told of a whole break only. Such a
wish is met by drawing until a break does, evenly over all that do.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from service.compose.demands import AnyLattice, Demands, plays_of_repeated_parts
from service.compose.grid import TooManyStates
from service.compose.joined import JoinedLattice
from service.compose.seams import ANY_SEAM
from service.compose.sections import SameLattice
from service.compose.stock import Mask, Stock
from service.compose.watches import AtMost, Budget, Manner, MustHave, Watch, watching
from service.errors import DomainError
from service.music.instruments import STYLES
from service.music.tunes import Phrase
from service.usecases.composing import Composed
from service.usecases.records import encode

CHOOSING = ("max_level", "styles", "bpm", "avoid")  # what chooses licks one by one
MOST_INCLUDED = 4  # licks that a wish may insist on: each doubles what must be kept apart


@dataclass(frozen=True, slots=True)
class Wish:
    """What a player asks for. No instrument means the group's own.

    ``bpm`` counts the tune's own beats: the break must be comfortable at that tempo. ``melody`` is the least share of the
    melody that the whole recalls. ``settled`` keeps each part to its manner: few changes of style, one stay up the neck,
    repeated phrases with one target. ``style_most`` is how many licks of a style at most, ``level_sum`` what the levels of all
    licks may come to. ``favour`` makes breaks likelier that recall more of the ``melody``, have ``smooth`` joins, or licks that are
    ``fresh`` or the group's ``favourites``. ``differs_by`` is in how many phrases it must differ from each of the last breaks served. ``repeats`` plays a part that
    comes again the ``same`` or ``different``.
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
    repeats: str | None = None

    @property
    def filters(self) -> str:
        """What narrows the draw, in one fixed spelling: a seed's draw depends on it."""
        told: list[object] = [self.max_level, sorted(set(self.styles)), sorted(set(self.avoid))]
        more = [
            sorted(set(self.must_include)), self.bpm, self.melody or None, self.no_repeats, self.settled,
            sorted(self.style_most), self.level_sum, self.favour, self.differs_by, self.repeats,
        ]  # fmt: skip
        plain: list[object] = [[], None, None, False, True, [], None, None, None, None]
        return encode(told if more == plain else [*told, *more]).decode()

    @property
    def narrows(self) -> bool:
        """Whether some licks are left out or insisted on."""
        chosen = (self.max_level, self.styles, self.avoid, self.bpm)
        return chosen != (None, (), (), None) or bool(self.watched()) or self.repeats == "same"

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

    def demands(self, form: Sequence[Phrase], others: Sequence[frozenset[tuple[int, int]]] = ()) -> Demands:
        """What only a whole break can have; ``others`` are those that it must differ from, if it must."""
        plays = tuple(plays_of_repeated_parts(form).values())
        return Demands(
            self.no_repeats,
            self.melody or None,
            self.differs_by or 0,
            tuple(others),
            otherwise=plays if self.repeats == "different" else (),
            alike=plays if self.repeats == "same" else (),
        )

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


def every(composed: Composed, wish: Wish) -> AnyLattice:
    """Every break of the wish's licks, rules and joins not minded. What only whole breaks can have is not looked at.

    Raises DomainError ``unknown-style``, ``too-many-included``, ``too-much-at-once``.
    """
    wish.check()
    if not wish.narrows:
        return composed.lattice
    try:
        return _narrowed(composed, wish)
    except TooManyStates:
        raise DomainError("too-much-at-once") from None


def _narrowed(composed: Composed, wish: Wish) -> AnyLattice:
    narrowed = composed.lattice.only(wish.allows)
    if wish.repeats == "same":
        return SameLattice(narrowed.candidates, composed.form, ANY_SEAM, watch_of(wish.watched(), False))
    watched = wish.watched()
    if not watched:
        return narrowed
    return JoinedLattice(narrowed.candidates, ANY_SEAM, watching(watched))


def counted(composed: Composed, wish: Wish) -> tuple[AnyLattice, int | None]:
    """Every break of the wish's licks, and how many there are; None where only drawing could tell.

    That a repeated part is played otherwise is counted by taking away those that play it the same, for parts that come twice.
    """
    lattice, form = every(composed, wish), composed.form
    plays = plays_of_repeated_parts(form)
    if wish.no_repeats or wish.melody or wish.differs_by:
        return lattice, None
    if wish.repeats != "different" or not plays:
        return lattice, lattice.total
    if any(len(of) > 2 for of in plays.values()):
        return lattice, None
    total = lattice.total
    for size in range(1, len(plays) + 1):
        for same in combinations(plays, size):
            again = SameLattice(
                lattice.candidates, form, ANY_SEAM, watch_of(wish.watched(), False), same=frozenset(same)
            )
            total += (-1) ** size * again.total
    return lattice, total


def watch_of(must: Sequence[Watch], settled: bool) -> Callable[[Sequence[Phrase]], Watch | None]:
    """What is minded along a form."""

    def watch(form: Sequence[Phrase]) -> Watch | None:
        begins = frozenset(place for place, phrase in enumerate(form) if phrase.index == 1)
        return watching([Manner(begins), *must] if settled else must)

    return watch
