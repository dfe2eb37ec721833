"""What use cases work with: the database, the clock, and what is kept ready in memory."""

import asyncio
import time
from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Generic, TypeVar
from weakref import WeakValueDictionary

from service.clock import Clock
from service.compose.lattice import Lattice
from service.compose.pool import Pool
from service.compose.rungs import Rungs
from service.compose.stock import Column
from service.judge.fit import Fit
from service.judge.melody import Recall
from service.judge.twins import TwinIndex
from service.settings import Settings
from service.store.database import Database
from service.store.groups import GroupRow, TokenRow

FRESH_S = 1.0  # seconds: a token revoked by another process is refused well within five
RECENT = 1000
JUDGED = 8192  # licks over phrases kept ready
K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


@dataclass(slots=True)
class Shapes:
    """Shapes of one instrument's pool by number, as of a version of the pool, and the index over them."""

    version: int
    index: TwinIndex


class Kept(Generic[K, V]):
    """The last so many values by key; the least recently used go first."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._values: OrderedDict[K, V] = OrderedDict()

    def get(self, key: K) -> V | None:
        value = self._values.get(key)
        if value is not None:
            self._values.move_to_end(key)
        return value

    def drop(self, key: K) -> None:
        self._values.pop(key, None)

    def put(self, key: K, value: V) -> None:
        self._values[key] = value
        self._values.move_to_end(key)
        while len(self._values) > self._size:
            self._values.popitem(last=False)


class Recent(Generic[K, V]):
    """Values looked up a moment ago: good until this process writes, and for ``FRESH_S`` in any case."""

    def __init__(self, database: Database, size: int) -> None:
        self._database = database
        self._values: Kept[K, tuple[V, int, float]] = Kept(size)

    def get(self, key: K) -> V | None:
        found = self._values.get(key)
        if found is None or found[1] != self._database.commits or found[2] < time.monotonic():
            return None
        return found[0]

    def put(self, key: K, value: V) -> None:
        self._values.put(key, (value, self._database.commits, time.monotonic() + FRESH_S))


@dataclass(slots=True)
class House:
    """Made once by service/app.py and handed to every use case."""

    database: Database
    settings: Settings
    clock: Clock
    pools: "Kept[tuple[int, str, str], tuple[int, Pool]]" = field(init=False)
    over: "Kept[tuple[int, bytes], Column]" = field(init=False)
    lattices: "Kept[Hashable, tuple[str, Lattice]]" = field(init=False)
    drawable: "Kept[Hashable, Rungs]" = field(init=False)
    judged: "Kept[Hashable, tuple[Fit, Recall]]" = field(init=False)
    shapes: "Kept[tuple[int, str], Shapes]" = field(init=False)
    callers: "Recent[bytes, TokenRow]" = field(init=False)
    groups: "Recent[str, GroupRow]" = field(init=False)
    _making: "WeakValueDictionary[Hashable, asyncio.Lock]" = field(init=False)
    shown_breaks: "Kept[tuple[int, str], dict[str, bytes]]" = field(init=False)

    def making(self, key: Hashable) -> asyncio.Lock:
        """Held by whoever makes what belongs to a key."""
        lock = self._making.get(key)
        if lock is None:
            lock = self._making[key] = asyncio.Lock()
        return lock

    def __post_init__(self) -> None:
        self._making = WeakValueDictionary()
        self.pools = Kept(self.settings.pool_cache)
        self.over = Kept(JUDGED)
        self.lattices = Kept(self.settings.lattice_cache)
        self.drawable = Kept(self.settings.lattice_cache)
        self.judged = Kept(JUDGED)
        self.shapes = Kept(self.settings.pool_cache)
        self.callers = Recent(self.database, RECENT)
        self.groups = Recent(self.database, RECENT)
        self.shown_breaks = Kept(self.settings.break_cache)
