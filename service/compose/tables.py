"""Tables that draws from a lattice go by: made when they are first needed, and as many as a bound of memory allows."""

from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from sys import getsizeof
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.compose.grid import Numbers
from service.compose.limbs import Limbs
from service.compose.stock import Column
from service.judge.joins import CUTS

MOST_READY = 32 << 20  # bytes of tables kept at once; more are made again when they are needed
T = TypeVar("T")
Small: TypeAlias = "array[int]"


class Here:
    """Tables of a phrase and a state, made as they are needed. ``ways_in`` and ``ways_out`` are the ways to go on by way in and by
    cell; ``beginnings`` by kind of cell, ``options`` by way in: see JoinedLattice."""

    __slots__ = ("beginnings", "options", "ways_in", "ways_out")

    def __init__(self) -> None:
        self.beginnings: dict[int, tuple[Small, Small, list[int]]] = {}
        self.options: dict[int, tuple[list[int], Small, Small, Small]] = {}
        self.ways_in: list[int] | None = None
        self.ways_out: list[int] | None = None


class Tables:
    """``at[phrase][state]`` of a lattice with so many states by phrase, and members of blocks by (phrase, block). When all that
    was kept takes more than MOST_READY, it is forgotten."""

    def __init__(self, states: Sequence[int]) -> None:
        self._states = states
        self._begin()

    def _begin(self) -> None:
        self.at = [[Here() for _ in range(count)] for count in self._states]
        self.members: dict[tuple[int, int], Members] = {}
        self.nbytes = 0

    def kept(self, table: T) -> T:
        """Count what a table takes that is kept from now on."""
        if self.nbytes > MOST_READY:
            self._begin()
        self.nbytes += _bytes_of(table)
        return table


def _bytes_of(table: object) -> int:
    """Memory that a table takes, about: its last entry stands for all of a list."""
    if isinstance(table, tuple):
        return 56 + sum(_bytes_of(value) for value in table)
    if isinstance(table, list):
        return 56 + len(table) * (8 + (getsizeof(table[-1]) if table else 0))
    return getsizeof(table)


class Flow:
    """How many licks of a block lead from each way in to each cell, as far as there are any: a number for each such pair, in order
    of the way in, then the cell. ``times`` is what the licks of a pair weigh together."""

    __slots__ = ("cells", "entries", "starts", "times")

    def __init__(self, entries: Numbers, cells: Numbers, weights: Column, shape: tuple[int, int]) -> None:
        keys = _keys(entries, cells, shape)
        # weights come as floating point, exact below 2^53
        each = None if (weights == 1).all() else np.repeat(weights, len(CUTS)).astype(np.float64)
        counted = np.bincount(keys, each, shape[0] * shape[1])
        found = np.flatnonzero(counted)
        self.times = counted[found].astype(np.int64)
        into, self.cells = np.divmod(found, shape[1])
        self.starts = np.flatnonzero(np.diff(into, prepend=-1))
        self.entries = into[self.starts]

    @property
    def nbytes(self) -> int:
        return sum(of.nbytes for of in (self.times, self.cells, self.starts, self.entries))

    def ways(self, after: Limbs) -> Limbs:
        """Sums of the ways on by way in."""
        return np.add.reduceat(after[self.cells] * self.times[:, None], self.starts)

    def pairs(self, entry: int) -> range:
        """The pairs of a way in."""
        place = int(np.searchsorted(self.entries, entry))
        if place == len(self.entries) or self.entries[place] != entry:
            return range(0)
        end = self.starts[place + 1] if place + 1 < len(self.starts) else len(self.cells)
        return range(int(self.starts[place]), int(end))


class Members:
    """The licks of a block by pair: ``places`` in the stock from ``starts[pair]`` on, in order, and running ``sums`` of what they
    weigh; None where each weighs 1."""

    __slots__ = ("places", "starts", "sums")

    def __init__(
        self,
        entries: Numbers,
        cells: Numbers,
        weights: Column,
        shape: tuple[int, int],
        places: NDArray[np.intp],
    ) -> None:
        keys = _keys(entries, cells, shape)
        order = np.argsort(keys, kind="stable")
        ordered = keys[order]
        first = np.flatnonzero(np.diff(ordered, prepend=-1))
        here = order // len(CUTS)
        self.places = array("i", places[here].astype(np.int32).tobytes())
        self.starts = array("i", np.append(first, len(order)).astype(np.int32).tobytes())
        alike = bool((weights == 1).all())
        self.sums = None if alike else array("q", np.cumsum(weights[here]).astype(np.int64).tobytes())

    def at(self, pair: int, left: int) -> int:
        """The place of the lick of a pair that what is ``left`` of its weight falls to."""
        first = self.starts[pair]
        if self.sums is None:
            return self.places[first + left]
        before = self.sums[first - 1] if first else 0
        return self.places[bisect_right(self.sums, before + left, first, self.starts[pair + 1])]

    def within(self, pair: int, place: int) -> int | None:
        """Which lick of a pair a place is, from 0; None if it is none of them."""
        first, end = self.starts[pair], self.starts[pair + 1]
        found = bisect_left(self.places, place, first, end)
        return found - first if found < end and self.places[found] == place else None

    def __sizeof__(self) -> int:
        return sum(getsizeof(of) for of in (self.places, self.starts, self.sums))


def _keys(entries: Numbers, cells: Numbers, shape: tuple[int, int]) -> Numbers:
    keys: Numbers = ((entries * shape[1])[:, None] + cells).ravel()
    return keys
