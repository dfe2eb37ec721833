"""Good breaks without a search: one that is dived for, made better lick by lick, and those beside it.

They are no proof of anything, but no break that costs more than the last of them need be looked at.
"""

from collections.abc import Callable

import numpy as np

from service.compose.best import NEVER, BestBreaks, Places
from service.compose.lattice import Pick
from service.compose.watches import Watch, passes

Path = tuple[Pick, ...]
BETTER = 200  # changes for the better at most
TRIED = 8  # changes tried for each one that is wanted


def good_breaks(
    plain: BestBreaks,
    begin: Path,
    watch: Watch | None,
    fits: Callable[[Path], bool],
    how_many: int,
    distinct: bool,
) -> list[Path]:
    """Breaks that fit, if ``distinct`` with no lick twice: ``begin`` made better one lick at a time by what ``plain`` says that
    they cost, and those with one lick changed; cheapest first, as far as that goes."""

    def may(path: Path) -> bool:
        watched = watch is None or passes(watch, [(pick.phrase, pick.candidate) for pick in path])
        return watched and fits(path)

    places = plain.places(begin)
    if not may(begin):
        return []
    for _ in range(BETTER):
        better = next(
            (
                near
                for cost, near in _beside(plain, places, TRIED, distinct)
                if cost < 0 and may(plain.path(near))
            ),
            None,
        )
        if better is None:
            break
        places = better
    found = [plain.path(places)]
    for _, near in _beside(plain, places, TRIED * how_many, distinct):
        path = plain.path(near)
        if may(path):
            found.append(path)
        if len(found) == how_many:
            break
    return found


def _beside(plain: BestBreaks, places: Places, most: int, distinct: bool) -> list[tuple[int, Places]]:
    """(change of cost, break) for the cheapest changes of one lick."""
    numbers = {plain.number(*place) for place in places} if distinct else set()
    found: list[tuple[int, int, int]] = []
    for turn, (phrase, own) in enumerate(places):
        changes = plain.changes(places, turn)
        changes[own] = NEVER
        # of those that change alike the first ones, on every machine
        enough = min(2 * most + len(places), len(changes) - 1)
        least = np.flatnonzero(changes <= np.partition(changes, enough)[enough])
        least = least[np.argsort(changes[least], kind="stable")][: enough + 1]
        told = [(int(changes[at]), turn, int(at)) for at in least if changes[at] < NEVER]
        found += [one for one in told if plain.number(phrase, one[2]) not in numbers]
    return [
        (cost, (*places[:turn], (places[turn][0], at), *places[turn + 1 :]))
        for cost, turn, at in sorted(found)[:most]
    ]
