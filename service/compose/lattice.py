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

from service.judge.joins import Edges


@dataclass(frozen=True, slots=True)
class Candidate:
    """A lick that may begin at a phrase, and what is judged of it there.

    ``span`` is how many phrases it fills; ``level`` is at the tune's tempo; ``fit``, the ``share`` of
    it that the notes earn and ``recall`` of the melody are 0..1; ``kept`` counts melody notes on strong places, and how many there
    are; ``broken`` holds codes of rules that it would break there; ``top`` is
    its comfortable tempo in the tune's own beats, ``ticks`` what it fills, ``up`` whether it
    lies up the neck, ``target`` the pitch class on its first strong place; ``edges`` are None in a lattice that minds no joins.
    """

    number: int
    revision: int
    span: int
    level: int
    style: str
    fit: float
    share: float = 1.0
    recall: float = 0.0
    kept: tuple[int, int] = (0, 0)
    role_agrees: bool = True
    broken: frozenset[str] = frozenset()
    top: int | None = None
    ticks: int = 0
    name: str = ""
    up: bool = False
    target: int | None = None
    edges: Edges | None = None


@dataclass(frozen=True, slots=True)
class Pick:
    """A candidate in its place; ``phrase`` counts from 0."""

    phrase: int
    candidate: Candidate


class Lattice:
    """Candidates by phrase. Their order is what numbers mean: keep it fixed within a snapshot."""

    def __init__(self, candidates: Sequence[Sequence[Candidate]]) -> None:
        size = len(candidates)
        self.candidates = tuple(
            tuple(c for c in of if phrase + c.span <= size) for phrase, of in enumerate(candidates)
        )

    @cached_property
    def ways(self) -> tuple[int, ...]:
        """Ways to finish from each phrase; the last entry, past the end, is 1."""
        ways = [0] * len(self.candidates) + [1]
        for phrase in range(len(self.candidates) - 1, -1, -1):
            ways[phrase] = sum(ways[phrase + c.span] for c in self.candidates[phrase])
        return tuple(ways)

    @property
    def total(self) -> int:
        return self.ways[0]

    @cached_property
    def _sums(self) -> tuple[tuple[int, ...], ...]:
        return tuple(
            tuple(accumulate(self.ways[phrase + c.span] for c in of))
            for phrase, of in enumerate(self.candidates)
        )

    @cached_property
    def _places(self) -> tuple[dict[tuple[int, int], int], ...]:
        return tuple({(c.number, c.revision): place for place, c in enumerate(of)} for of in self.candidates)

    def path(self, number: int) -> tuple[Pick, ...]:
        """Break number ``number``, counted from 1. Raises IndexError outside 1..total."""
        if not 1 <= number <= self.total:
            raise IndexError(number)
        left = number - 1
        phrase = 0
        picks: list[Pick] = []
        while phrase < len(self.candidates):
            sums = self._sums[phrase]
            place = bisect_right(sums, left)
            left -= sums[place - 1] if place else 0
            candidate = self.candidates[phrase][place]
            picks.append(Pick(phrase, candidate))
            phrase += candidate.span
        return tuple(picks)

    def number(self, licks: Sequence[tuple[int, int]]) -> int | None:
        """The number of the break made of these (lick number, revision); None if it is not among them."""
        phrase, number = 0, 1
        for lick in licks:
            place = self._places[phrase].get(lick) if phrase < len(self.candidates) else None
            if place is None:
                return None
            candidate = self.candidates[phrase][place]
            if self.ways[phrase + candidate.span] == 0:
                return None
            number += self._sums[phrase][place - 1] if place else 0
            phrase += candidate.span
        return number if phrase == len(self.candidates) else None

    def only(self, keep: Callable[[Candidate], bool]) -> "Lattice":
        """The same phrases with only the candidates that pass."""
        return Lattice([[c for c in of if keep(c)] for of in self.candidates])

    def dead_end(self) -> int | None:
        """The first phrase (from 0) that no lick can begin or fill, if there are no breaks at all."""
        if self.total:
            return None
        return furthest(self.candidates)


def furthest(candidates: Sequence[Sequence[Candidate]]) -> int:
    """The last phrase (from 0) that can be reached, where nothing goes on."""
    reachable = {0}
    for phrase, of in enumerate(candidates):
        if phrase in reachable:
            reachable.update(phrase + c.span for c in of)
    return max(phrase for phrase in reachable if phrase < len(candidates))
