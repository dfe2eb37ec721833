"""Lattices that hold fewer and fewer breaks back: a draw goes to the first that has what is demanded."""

from collections.abc import Callable, Iterator
from itertools import count
from threading import Lock

from service.compose.demands import AnyLattice, Demands, Impossible, impossible
from service.compose.grid import TooManyStates


class Rungs:
    """Those that hold any break, of which nothing shows that none meets the demands; made as they are needed, for several
    threads."""

    def __init__(self, coming: Iterator[Callable[[], AnyLattice]], demands: Demands) -> None:
        self._coming, self._demands = coming, demands
        self._made: list[AnyLattice] = []
        self._lock = Lock()
        self._why: Impossible | None = None  # the last one was left out
        self._loosest: AnyLattice | None = None

    def __iter__(self) -> Iterator[AnyLattice]:
        for place in count():
            with self._lock:
                while len(self._made) <= place:
                    lattice = self._next()
                    if lattice is None:
                        return
                    self._add(lattice)
            yield self._made[place]

    @property
    def first(self) -> AnyLattice | None:
        """The first one, if it was made."""
        return self._made[0] if self._made else None

    def make_first(self) -> AnyLattice:
        """The same, made if need be. Raises ValueError if there is none."""
        for lattice in self:
            return lattice
        raise ValueError("no lattice holds a break")

    @property
    def nbytes(self) -> int:
        """Memory that those made so far take, about."""
        return sum(lattice.nbytes for lattice in self._made)

    @property
    def impossible(self) -> Impossible | None:
        """Why none of them can meet the demands, after all were made."""
        return None if self._made else self._why

    @property
    def loosest(self) -> AnyLattice:
        """The last one. Raises ValueError if none of them holds a break."""
        if self._loosest is None:
            raise ValueError("no lattice holds a break")
        return self._loosest

    def _next(self) -> AnyLattice | None:
        """The next one that does not mind too much."""
        for make in self._coming:
            try:
                return make()
            except TooManyStates:
                continue
        return None

    def _add(self, lattice: AnyLattice) -> None:
        if not lattice.total:
            return
        self._loosest = lattice
        self._why = impossible(lattice, self._demands)
        if self._why is None:
            self._made.append(lattice)
