"""What use cases work with: the database, the clock, and what is kept ready in memory."""

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from service.clock import Clock
from service.compose.lattice import Lattice
from service.compose.matching import Pooled
from service.settings import Settings
from service.store.database import Database

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


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


@dataclass(slots=True)
class House:
    """Made once by service/app.py and handed to every use case."""

    database: Database
    settings: Settings
    clock: Clock
    pools: "Kept[tuple[int, str, str], dict[tuple[int, int], Pooled]]" = field(init=False)
    lattices: "Kept[Hashable, tuple[str, Lattice]]" = field(init=False)
    shown_breaks: "Kept[tuple[int, str], dict[str, bytes]]" = field(init=False)

    def __post_init__(self) -> None:
        self.pools = Kept(self.settings.pool_cache)
        self.lattices = Kept(self.settings.lattice_cache)
        self.shown_breaks = Kept(self.settings.break_cache)
