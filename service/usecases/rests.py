"""Rests of a break, where licks were taken down, filled again.

While a break is changed a rest stands in its path as a lick of no notes: no level, nothing of the melody, no edges that a
neighbour could join.
"""

from collections.abc import Callable, Sequence

from service.compose.lattice import Pick
from service.compose.stock import Candidate
from service.errors import Conflict
from service.usecases.made_breaks import Rest

REST = "rest"  # the style of what stands for a rest; no lick has it
Suiting = Callable[[Sequence[Pick], int], list[Candidate]]  # licks for a place of a path, best first


def resting(rest: Rest) -> Pick:
    """A rest in a path, under the number of the lick that was taken down."""
    silence = Candidate(rest.lick, 0, len(rest.form), 0, REST, 0.0)
    return Pick(rest.form[0].number - 1, silence)


def is_rest(pick: Pick) -> bool:
    return pick.candidate.style == REST


def check_rests(path: Sequence[Pick], place: int) -> None:
    """Raise Conflict ``fill-the-rest-first`` for a place that holds a lick while another holds a rest: such a break would have
    no number and could not be kept."""
    rests = [pick for pick in path if is_rest(pick)]
    if rests and not is_rest(path[place]):
        first = rests[0]
        raise Conflict("fill-the-rest-first", phrase=first.phrase + 1, lick=first.candidate.number)


def fill_rests(path: Sequence[Pick], place: int, chosen: Candidate, suiting: Suiting) -> tuple[Pick, ...]:
    """A path with ``chosen`` at a place and with no rest left.

    If a rest is filled so, the others where the same lick stood get the same one as far as it goes there, so that what was
    alike stays alike; all else gets what suits best. Raises Conflict ``nothing-fills-the-rest``.
    """
    before = path[place]
    filled = (*path[:place], Pick(before.phrase, chosen), *path[place + 1 :])
    for at, pick in enumerate(filled):
        if not is_rest(pick):
            continue
        suits = suiting(filled, at)
        alike = [
            c for c in suits if c.number == chosen.number and pick.candidate.number == before.candidate.number
        ]
        best = next(iter([*alike, *suits]), None)
        if best is None:
            raise Conflict("nothing-fills-the-rest", phrase=pick.phrase + 1, lick=pick.candidate.number)
        filled = (*filled[:at], Pick(pick.phrase, best), *filled[at + 1 :])
    return filled
