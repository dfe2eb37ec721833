"""Every break there is: counted exactly, numbered, and drawn without favour.

A lattice holds, for each phrase, the licks that may begin there. The number of ways to go on from phrase
i is the sum, over licks that begin there, of the ways to go on from where they end; big integers all the
way. Number k of N and back are walks along those sums, so drawing uniformly is drawing k.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

import numpy as np

from service.compose.stock import Candidate, Mask, Stock, each, stocked


@dataclass(frozen=True, slots=True)
class Pick:
    """A candidate in its place; ``phrase`` counts from 0."""

    phrase: int
    candidate: Candidate


class Lattice:
    """Candidates by phrase. Their order is what numbers mean: keep it fixed within a snapshot."""

    def __init__(self, candidates: Sequence[Sequence[Candidate]]) -> None:
        self.candidates = stocked(candidates)

    @cached_property
    def ways(self) -> tuple[int, ...]:
        """Ways to finish from each phrase; the last entry, past the end, is 1."""
        ways = [0] * len(self.candidates) + [1]
        for phrase in range(len(self.candidates) - 1, -1, -1):
            spans, times = np.unique(self.candidates[phrase].column("span"), return_counts=True)
            ways[phrase] = sum(
                count * ways[phrase + span]
                for span, count in zip(spans.tolist(), times.tolist(), strict=True)
            )
        return tuple(ways)

    @property
    def total(self) -> int:
        return self.ways[0]

    @property
    def states(self) -> int:
        """One for each phrase, and the end: nothing is minded."""
        return len(self.candidates) + 1

    @property
    def nbytes(self) -> int:
        """Memory that it takes, about; stocks that phrases share count once."""
        return bytes_of(self.candidates)

    @cached_property
    def _sums(self) -> list[tuple[int, ...] | None]:
        """Running sums of the ways that go on from each lick; None where all licks go on in equally many."""
        found: list[tuple[int, ...] | None] = []
        for phrase, of in enumerate(self.candidates):
            spans = of.column("span")
            alike = not len(spans) or bool((spans == spans[0]).all())
            found.append(None if alike else tuple(accumulate(self.ways[phrase + s] for s in spans.tolist())))
        return found

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number``, counted from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left = number - 1
        phrase = 0
        picks: list[Pick] = []
        while phrase < len(self.candidates):
            of, sums = self.candidates[phrase], self._sums[phrase]
            if sums is None:
                place, left = divmod(left, self.ways[phrase + int(of.rows["span"][0])])
            else:
                place = bisect_right(sums, left)
                left -= sums[place - 1] if place else 0
            picks.append(Pick(phrase, of[place]))
            phrase += picks[-1].candidate.span
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them."""
        phrase, number = 0, 1
        for lick in licks:
            place = self.candidates[phrase].place(*lick) if phrase < len(self.candidates) else None
            if place is None:
                return None
            span, sums = int(self.candidates[phrase].rows["span"][place]), self._sums[phrase]
            on = self.ways[phrase + span]
            if on == 0:
                return None
            if sums is None:
                number += place * on
            elif place:
                number += sums[place - 1]
            phrase += span
        return number if phrase == len(self.candidates) else None

    def only(self, keep: Callable[[Stock], Mask]) -> "Lattice":
        """The same phrases with only the candidates that pass."""
        return Lattice(each(self.candidates, lambda of: of.where(keep(of))))

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        if self.total:
            return None
        return furthest(self.candidates)


def bytes_of(candidates: Sequence[Stock]) -> int:
    """Memory that stocks take, those that are shared once."""
    return sum({id(of.rows): of.nbytes for of in candidates}.values())


def furthest(candidates: Sequence[Stock]) -> int:
    """The last phrase (from 0) that can be reached, where nothing goes on."""
    reachable = {0}
    for phrase, of in enumerate(candidates):
        if phrase in reachable:
            reachable.update(phrase + span for span in np.unique(of.column("span")).tolist())
    return max(phrase for phrase in reachable if phrase < len(candidates))
