"""What a draw is made from: the wish, and as many of a teacher's rules as leave any break."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial

import numpy as np

from service.compose.demands import AnyLattice
from service.compose.joined import JoinedLattice, alike
from service.compose.rungs import Rungs
from service.compose.seams import BySeam, Numbers, Shares, jumps_count, tempo_at
from service.compose.sections import SameLattice
from service.compose.stock import Column, Stock, each
from service.compose.targets import shared_targets
from service.music.tunes import UNIT_TICKS
from service.usecases.composing import Composed
from service.usecases.house import House
from service.usecases.refusals import no_breaks
from service.usecases.wishes import Wish, every, watch_of

# A default draw keeps to these rules of a teacher's: two neighbouring eighths never fall to one finger, jumps have air, tags
# land, notes belong, the tempo can be played; each part's first phrase recalls the melody, a part changes its style twice and
# goes up the neck once at most, and repeated phrases share their first target note.
HANDS_AND_EARS = frozenset(
    (
        "same-finger", "jump-without-air", "tag-does-not-land", "tag-without-air", "hurts", "too-fast",
        "cannot-be-stopped", "too-many-to-stop", "too-empty", "does-not-fit",
    )
)  # fmt: skip
MELODY = frozenset(("free-of-the-melody",))
RULE_SETS = (HANDS_AND_EARS | MELODY, HANDS_AND_EARS, frozenset[str]())  # tried in this order
# a lick that recalls all of the melody, or a join that asks nothing, counts ten times one at the other end; a lick counts half as
# much for each of the last ten breaks that had it
MOST_FAVOURED = 9
HALVINGS = 10
Weighed = tuple[
    int, tuple[tuple[int, int], ...]
]  # what a lick weighs, and the (lick number, weight) of those that weigh otherwise
EVENLY: Weighed = (1, ())


def by_freshness(played: Iterable[tuple[int, int]]) -> Weighed:
    """Weights by (lick number, in how many of the last breaks served)."""
    weights = ((lick, 1 << HALVINGS >> min(times, HALVINGS)) for lick, times in sorted(played))
    return 1 << HALVINGS, tuple(weights)


def rungs(house: House, composed: Composed, wish: Wish, weighed: Weighed = EVENLY) -> Rungs:
    """The lattices for a wish; ``weighed`` are weights by number, where such are favoured. Raises DomainError ``no-breaks``."""
    found = rungs_ready(house, composed, wish, weighed)
    if found is None:
        wished = every(composed, wish)
        if wished.total == 0:
            raise no_breaks(wished, composed, wish)
        found = Rungs(_by_the_rules(wished, composed, wish, weighed), wish.demands(composed.form))
        house.drawable.put((composed.key, wish.filters, weighed), found)
    return found


def rungs_ready(house: House, composed: Composed, wish: Wish, weighed: Weighed = EVENLY) -> Rungs | None:
    """The same if they are kept in memory."""
    return house.drawable.get((composed.key, wish.filters, weighed))


def _by_the_rules(
    wished: AnyLattice, composed: Composed, wish: Wish, weighed: Weighed
) -> Iterator[Callable[[], AnyLattice]]:
    """How to make lattices with fewer and fewer rules."""
    allows, weigh, must, form = seams(composed, wish), _weighing(wish, weighed), wish.watched(), composed.form
    for rules in RULE_SETS:
        clean = keeping_to(rules, wished.candidates)
        if wish.repeats == "same":  # and so with the same target notes
            for settled in (True, False) if wish.settled else (False,):
                yield partial(SameLattice, clean, form, allows, watch_of(must, settled), weigh)
            continue
        targets = shared_targets(form, clean) if wish.settled else None
        if targets is not None:
            yield partial(JoinedLattice, clean, allows, watch_of([targets, *must], True)(form), weigh)
        for settled in (True, False) if wish.settled else (False,):
            yield partial(JoinedLattice, clean, allows, watch_of(must, settled)(form), weigh)
    yield lambda: wished


def keeping_to(rules: frozenset[str], candidates: Sequence[Stock]) -> list[Stock]:
    """The licks that break none of these rules."""
    return each(candidates, lambda of: of.where(~of.breaks(rules)))


def _weighing(wish: Wish, weighed: Weighed) -> Callable[[Stock], Column]:
    """What a lick weighs by what is favoured."""

    def by_melody(of: Stock) -> Column:
        return 1 + np.round(MOST_FAVOURED * of.column("recall")).astype(np.int64)

    def by_number(of: Stock) -> Column:
        usual, others = weighed
        weight = np.full(len(of), usual, np.int64)
        for lick, own in others:
            weight[of.column("number") == lick] = own
        return weight

    if wish.favour == "melody":
        return by_melody
    return alike if weighed == EVENLY else by_number


def seams(composed: Composed, wish: Wish) -> BySeam:
    """Which seams can be played at the tempo asked for, or at the tune's own; what they weigh if smooth ones are favoured."""
    tune = composed.tune
    bpm = None if wish.bpm is None else wish.bpm * UNIT_TICKS[tune.tempo.unit] / tune.meter.beat_ticks

    def weigh(shares: Shares) -> Numbers:
        if wish.favour != "smooth":
            return np.ones(shares.shape, np.int64)
        return 1 + np.round(MOST_FAVOURED * (1 - shares)).astype(np.int64)

    return tempo_at(tune, composed.setting, bpm).weighed(jumps_count(tune), weigh)
