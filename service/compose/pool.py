"""A pool of licks in columns: what is judged of each once, in a form that is kept and read as it stands.

A lick's kind is what it asks of a phrase: meter, how many phrases, how long, over which harmony. Licks of one kind stand together,
so that a phrase finds its candidates without looking at the others.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from service.compose.stock import BROKEN, NONE, Column, EdgeTable, bits, unpacked
from service.judge.facts import Facts
from service.judge.joins import CUTS, Edge
from service.music.harmony import Chord
from service.music.instruments import STYLES
from service.music.licks import RIGHT_HANDS, ROLES, Change, Lick
from service.music.meter import METER_NAMES

STYLE_NAMES = tuple(style for styles in STYLES.values() for style in styles)
# The order of the tables above is kept with the licks: change it only together with the version of the rules.
PACKED = np.dtype(
    [
        ("kind", "<u8"), ("load", "<f8"), ("level_load", "<f8"), ("points", "<f8"), ("entry", "<u4"),
        ("exits", "<u4", (len(CUTS),)), ("broken", "<u4"), ("ticks", "<i4"), ("phrases", "<i2"), ("level", "i1"),
        ("role", "i1"), ("style", "i1"), ("meter", "i1"), ("up", "?"), ("target", "i1"),
    ]
)  # fmt: skip
ROW = np.dtype([("number", "<i8"), ("revision", "<i4"), ("facts", PACKED)])
# fingers a bit each, then what else makes an edge, each in so many bits
_BITS = (("slots", 2), ("fret", 5), ("fretted_slots", 3), ("cut", 2))


@dataclass(frozen=True, slots=True)
class Signature:
    """What a stretch of music asks for; ``harmony`` is (onset, chord family) with repeats left out."""

    phrases: int
    ticks: int
    harmony: tuple[tuple[int, tuple[int, str] | None], ...]

    def stretched(self, up: int, down: int) -> "Signature | None":
        """The same in ticks of another meter; None if they are not whole there."""
        ticks = [self.ticks, *(onset for onset, _ in self.harmony)]
        if any(tick * up % down for tick in ticks):
            return None
        harmony = tuple((onset * up // down, family) for onset, family in self.harmony)
        return Signature(self.phrases, self.ticks * up // down, harmony)

    def kind(self, meter: str) -> int:
        """A number for the signature in a meter: 64 bits of SHA-256."""
        told = repr((meter, self.phrases, self.ticks, self.harmony)).encode()
        return int.from_bytes(hashlib.sha256(told).digest()[:8], "little")


def signature_of(phrases: int, ticks: int, changes: Sequence[Change]) -> Signature:
    kept: list[tuple[int, tuple[int, str] | None]] = []
    for change in changes:
        family = _family(change.chord)
        if not kept or kept[-1][1] != family:
            kept.append((change.onset, family))
    return Signature(phrases, ticks, tuple(kept))


def _family(chord: Chord | None) -> tuple[int, str] | None:
    return None if chord is None else chord.family


def packed(lick: Lick, facts: Facts) -> bytes:
    """A lick and its facts as one record of PACKED."""
    kind = signature_of(lick.phrases, lick.ticks, lick.changes).kind(lick.meter.name)
    record = np.zeros(1, PACKED)
    record[0] = (
        kind,
        np.nan if facts.load is None else facts.load,
        facts.level_load,
        facts.points,
        edge_code(facts.edges.entry),
        [edge_code(edge) for edge in facts.edges.exits],
        bits(facts.broken & frozenset(BROKEN)),
        lick.ticks,
        lick.phrases,
        lick.level,
        NONE if lick.role is None else ROLES.index(lick.role),
        STYLE_NAMES.index(lick.style),
        METER_NAMES.index(lick.meter.name),
        facts.up,
        NONE if facts.target is None else facts.target,
    )
    return record.tobytes()


def edge_code(edge: Edge) -> int:
    """An edge as a number. Raises ValueError for a finger that there is not, OverflowError for what takes more bits."""
    code = sum(1 << RIGHT_HANDS.index(finger) for finger in edge.fingers)
    shift = len(RIGHT_HANDS)
    for name, size in _BITS:
        value: int = getattr(edge, name)
        if not 0 <= value < 1 << size:
            raise OverflowError(f"{name} {value}")
        code |= value << shift
        shift += size
    return code


@lru_cache(maxsize=65536)
def edge_of(code: int) -> Edge:
    fingers = "".join(finger for place, finger in enumerate(RIGHT_HANDS) if code >> place & 1)
    shift = len(RIGHT_HANDS)
    values = {}
    for name, size in _BITS:
        values[name] = code >> shift & ((1 << size) - 1)
        shift += size
    return Edge(fingers=fingers, **values)


COLUMNS = ("load", "level_load", "points", "broken", "level", "role", "style", "meter", "up", "target")


class Pool:
    """Licks of one instrument and tuning in order of number; ``edges`` are theirs, ``entry`` and ``exits`` numbers into it."""

    __slots__ = ("_kinds", "_order", "columns", "edges", "entry", "exits", "phrases", "rows")

    def __init__(self, rows: Column) -> None:
        self.rows = rows
        ways_in, self.entry = _numbered(rows["facts"]["entry"])
        ways_out, self.exits = _numbered(rows["facts"]["exits"])
        self.edges = EdgeTable([edge_of(code) for code in ways_in], [edge_of(code) for code in ways_out])
        # apart from each other: picking from a column is several times faster than from rows
        self.columns: dict[str, Column] = {
            name: np.ascontiguousarray(rows[name]) for name in ("number", "revision")
        }
        self.columns |= {name: np.ascontiguousarray(rows["facts"][name]) for name in COLUMNS}
        kinds = rows["facts"]["kind"]
        self._order = np.argsort(kinds, kind="stable")
        self._kinds = kinds[self._order]
        self.phrases: list[int] = np.unique(rows["facts"]["phrases"]).tolist()  # how many its licks fill

    @classmethod
    def of(cls, licks: Sequence[tuple[int, int, bytes]]) -> "Pool":
        """From (number, revision, packed) by rising number."""
        return cls(unpacked(licks, ROW, "facts"))

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def nbytes(self) -> int:
        """Memory that it takes, about."""
        columns = (self.rows, self.entry, self.exits, self._order, self._kinds, *self.columns.values())
        return sum(of.nbytes for of in columns)

    def picked(self, places: NDArray[np.intp]) -> dict[str, Column]:
        """The columns of these licks."""
        return {name: column[places] for name, column in self.columns.items()}

    def of_kinds(self, kinds: Sequence[int]) -> NDArray[np.intp]:
        """Places of the licks of these kinds, in order."""
        found = []
        for kind in kinds:
            first, last = (
                int(np.searchsorted(self._kinds, np.uint64(kind), side)) for side in ("left", "right")
            )
            found.append(self._order[first:last])
        return np.sort(np.concatenate(found)) if found else np.zeros(0, np.intp)


def _numbered(codes: Column) -> tuple[list[int], NDArray[np.int16]]:
    """Different codes in order, and the place of each among them."""
    found = np.unique(codes)
    places = np.searchsorted(found, codes)
    if len(found) > np.iinfo(np.int16).max:
        raise OverflowError("too many different edges")
    return found.tolist(), places.astype(np.int16)
