"""What use cases work with: the database, the clock, and what is kept ready in memory."""

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar
from weakref import WeakValueDictionary

from service.clock import Clock
from service.compose.lattice import Lattice
from service.compose.pool import Pool
from service.compose.rungs import Rungs
from service.compose.stock import Column
from service.judge.fit import Fit
from service.judge.melody import Recall
from service.judge.twins import TwinIndex
from service.music.passages import Passage
from service.settings import Settings
from service.store.database import Database
from service.store.groups import GroupRow
from service.store.tokens import TokenRow
from service.usecases.renders import Renders

if TYPE_CHECKING:
    from service.usecases.identify import Caller
    from service.usecases.made_breaks import BreakJoin, BreakPhrase, Place
    from service.usecases.names import Names

FRESH_S = 1.0  # seconds: a token revoked by another process is refused well within five
RECENT = 1000
JUDGED = 8192  # licks over phrases kept ready
FINGERED = 128  # breaks and loops with the fingers of the picking hand, kept ready
PLACED = 4096  # licks in their places, and seams between them, kept ready
NAMES_BYTES = 32 << 20  # names of licks kept ready: a pool of 100,000 takes some 2 MB
GROWN_AFTER = 64  # look-ups after which kept values are weighed again: tables for drawing grow with use
# How the memory for composing is shared out, in parts of the whole.
SHARES = {"pools": 0.25, "over": 0.25, "lattices": 0.2, "drawable": 0.3}
K = TypeVar("K", bound=Hashable)
V = TypeVar("V")
R = TypeVar("R")


@dataclass(slots=True)
class Shapes:
    """Shapes of one instrument's pool by number, as of a version of the pool, and the index over them."""

    version: int
    index: TwinIndex


class Kept(Generic[K, V]):
    """The last so many values by key; the least recently used go first. Values that ``weigh`` (bytes) are kept as long as all
    together weigh no more than ``most_bytes``, the last one in any case."""

    def __init__(
        self, size: int, most_bytes: int | None = None, weigh: Callable[[V], int] = lambda value: 0
    ) -> None:
        self._size, self._most_bytes, self._weigh = size, most_bytes, weigh
        self._values: OrderedDict[K, V] = OrderedDict()
        self._looked_up = 0

    def get(self, key: K) -> V | None:
        value = self._values.get(key)
        if value is not None:
            self._values.move_to_end(key)
            self._looked_up += 1
            if self._looked_up % GROWN_AFTER == 0:
                self._keep_within()
        return value

    @property
    def nbytes(self) -> int:
        return sum(self._weigh(value) for value in self._values.values())

    def _keep_within(self) -> None:
        while len(self._values) > self._size:
            self._values.popitem(last=False)
        over = 0 if self._most_bytes is None else self.nbytes - self._most_bytes
        while over > 0 and len(self._values) > 1:
            over -= self._weigh(self._values.popitem(last=False)[1])

    def drop(self, key: K) -> None:
        self._values.pop(key, None)

    def clear(self) -> None:
        self._values.clear()

    def put(self, key: K, value: V) -> None:
        self._values[key] = value
        self._values.move_to_end(key)
        self._keep_within()


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
    places: "Kept[Hashable, Place]" = field(init=False)
    joins: "Kept[tuple[BreakPhrase, BreakPhrase], BreakJoin]" = field(init=False)
    shapes: "Kept[tuple[int, str], Shapes]" = field(init=False)
    callers: "Recent[bytes, TokenRow]" = field(init=False)
    acting: "Recent[Hashable, Caller]" = field(init=False)
    groups: "Recent[str, GroupRow]" = field(init=False)
    names: "Kept[int, Names]" = field(init=False)
    _making: "WeakValueDictionary[Hashable, asyncio.Lock]" = field(init=False)
    shown_breaks: "Kept[tuple[int, str], tuple[int, dict[str, bytes]]]" = field(init=False)
    renders: "Renders" = field(init=False)
    fingered: "Kept[Hashable, Passage]" = field(init=False)
    _thinker: ThreadPoolExecutor = field(init=False)

    async def think(self, work: Callable[[], R]) -> R:
        """What takes this process some time, off the loop, one thing at a time: many threads at once would starve it."""
        return await asyncio.get_running_loop().run_in_executor(self._thinker, work)

    async def close(self) -> None:
        """Give up what is being made; whoever waits for it is told to come again."""
        await self.renders.close()
        self._thinker.shutdown(wait=False, cancel_futures=True)

    def making(self, key: Hashable) -> asyncio.Lock:
        """Held by whoever makes what belongs to a key."""
        lock = self._making.get(key)
        if lock is None:
            lock = self._making[key] = asyncio.Lock()
        return lock

    def __post_init__(self) -> None:
        self._making = WeakValueDictionary()
        memory = self.settings.composing_memory_mib << 20
        most = {what: int(share * memory) for what, share in SHARES.items()}
        lattices = self.settings.lattice_cache
        self.pools = Kept(self.settings.pool_cache, most["pools"], lambda kept: kept[1].nbytes)
        self.over = Kept(JUDGED, most["over"], lambda kept: kept.nbytes)
        self.lattices = Kept(lattices, most["lattices"], lambda kept: kept[1].nbytes)
        self.drawable = Kept(lattices, most["drawable"], lambda kept: kept.nbytes)
        self.judged = Kept(JUDGED)
        self.places = Kept(PLACED)
        self.joins = Kept(PLACED)
        self.shapes = Kept(self.settings.pool_cache)
        self.callers = Recent(self.database, RECENT)
        self.acting = Recent(self.database, RECENT)
        self.groups = Recent(self.database, RECENT)
        self.names = Kept(RECENT, NAMES_BYTES, lambda kept: kept.nbytes)
        self.shown_breaks = Kept(self.settings.break_cache)
        self.fingered = Kept(FINGERED)
        self._thinker = ThreadPoolExecutor(1, "thinking")
        given = self.settings
        self.renders = Renders(
            given.renders, given.render_workers, given.render_queue, given.renders_mib << 20
        )
