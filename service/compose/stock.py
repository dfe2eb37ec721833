"""The licks that may begin a phrase: a column for each thing that is judged of them there.

Pools run to tens of thousands of licks, so what choosing, counting and ranking look at stands in numpy columns; a lick
becomes a Candidate only when somebody looks at it. Edges are small numbers into a table that all phrases share.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from struct import Struct
from typing import Any, NamedTuple, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from service.judge.joins import CUTS, Edge, Edges

Column = NDArray[Any]
Mask = NDArray[np.bool_]
T = TypeVar("T")
NONE = -1  # in columns of small numbers: there is none

# What a lick may break where it stands; a bit each, so the order stays as it is.
BROKEN = (
    "change-not-heard", "finger-hops", "same-finger", "jump-without-air", "tag-does-not-land", "tag-without-air",
    "cannot-be-stopped", "too-many-to-stop", "too-empty", "does-not-fit", "hurts", "too-fast", "free-of-the-melody",
)  # fmt: skip
PLACE_BYTES = 200  # that a place takes where it can be looked up, about
ROW = np.dtype(
    [
        ("number", np.int64), ("revision", np.int32), ("span", np.int16), ("level", np.int8), ("style", np.int16),
        ("fit", np.float64), ("share", np.float64), ("recall", np.float64), ("kept", np.int16), ("strong", np.int16),
        ("role_agrees", np.bool_), ("broken", np.uint32), ("top", np.int32), ("ticks", np.int32), ("up", np.bool_),
        ("target", np.int8), ("entry", np.int16), ("exits", np.int16, (len(CUTS),)),
    ]
)  # fmt: skip
# the same for struct, which makes one row a tuple several times faster
_RECORD = Struct("=qihbhdddhh?Iii?bh4h")


class Candidate(NamedTuple):
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
    up: bool = False
    target: int | None = None
    edges: Edges | None = None


class EdgeTable:
    """Edges by small numbers, equal for equal ones: ways in and ways out apart."""

    def __init__(self, entries: Sequence[Edge] = (), exits: Sequence[Edge] = ()) -> None:
        self.entries, self.exits = list(entries), list(exits)
        self._entry = {edge: number for number, edge in enumerate(self.entries)}
        self._exit = {edge: number for number, edge in enumerate(self.exits)}
        self._edges: dict[tuple[int, ...], Edges] = {}

    def number(self, edges: Edges | None) -> tuple[int, tuple[int, ...]]:
        """The numbers of a way in and the ways out; new edges are added."""
        if edges is None:
            return NONE, (NONE,) * len(CUTS)
        return (
            _numbered(edges.entry, self._entry, self.entries),
            tuple(_numbered(edge, self._exit, self.exits) for edge in edges.exits),
        )

    def edges(self, numbers: tuple[int, ...]) -> Edges | None:
        """The edges of a way in and the ways out."""
        if numbers[0] == NONE:
            return None
        found = self._edges.get(numbers)
        if found is None:
            entry, *exits = numbers
            found = self._edges[numbers] = Edges(self.entries[entry], tuple(self.exits[n] for n in exits))
        return found


def _numbered(edge: Edge, known: dict[Edge, int], found: list[Edge]) -> int:
    if edge not in known:
        known[edge] = len(found)
        found.append(edge)
    return known[edge]


class Stock(Sequence[Candidate]):
    """``rows`` have the dtype ROW, ``styles`` are what its numbers of styles mean."""

    __slots__ = ("_bytes", "_known", "edges", "rows", "styles")

    def __init__(self, rows: Column, styles: Sequence[str], edges: EdgeTable) -> None:
        self.rows, self.styles, self.edges = rows, styles, edges
        self._known: dict[tuple[int, int], int] | None = None
        self._bytes = np.ascontiguousarray(rows).view(np.uint8).data

    @classmethod
    def of(cls, candidates: Sequence[Candidate], edges: EdgeTable) -> "Stock":
        styles = sorted({c.style for c in candidates})
        rows = np.zeros(len(candidates), ROW)
        for place, c in enumerate(candidates):
            entry, exits = edges.number(c.edges)
            rows[place] = (
                c.number, c.revision, c.span, c.level, styles.index(c.style), c.fit, c.share, c.recall, *c.kept,
                c.role_agrees, bits(c.broken), NONE if c.top is None else c.top, c.ticks, c.up,
                NONE if c.target is None else c.target, entry, exits,
            )  # fmt: skip
        return cls(rows, styles, edges)

    def __len__(self) -> int:
        return len(self.rows)

    @overload
    def __getitem__(self, place: int) -> Candidate: ...
    @overload
    def __getitem__(self, place: slice) -> list[Candidate]: ...
    def __getitem__(self, place: int | slice) -> Candidate | list[Candidate]:
        if isinstance(place, slice):
            return [self._candidate(row) for row in _RECORD.iter_unpack(self.rows[place].tobytes())]
        if place < 0:
            place += len(self.rows)
        if not 0 <= place < len(self.rows):
            raise IndexError(place)
        return self._candidate(_RECORD.unpack_from(self._bytes, place * _RECORD.size))

    def __iter__(self) -> Iterator[Candidate]:
        return (self._candidate(row) for row in _RECORD.iter_unpack(self.rows.tobytes()))

    def _candidate(self, row: tuple[Any, ...]) -> Candidate:
        (number, revision, span, level, style, fit, share, recall, kept, strong, agrees, broken, top, ticks, up, target,
         *edges) = row  # fmt: skip
        return Candidate(
            number, revision, span, level, self.styles[style], fit, share, recall, (kept, strong), agrees,
            codes(broken), None if top == NONE else top, ticks, up, None if target == NONE else target,
            self.edges.edges(tuple(edges)),
        )  # fmt: skip

    def joint(self, place: int) -> tuple[int, int, tuple[int, ...]]:
        """How many phrases a lick fills, its way in and its ways out."""
        row = _RECORD.unpack_from(self._bytes, place * _RECORD.size)
        return row[2], row[16], row[17:]

    def column(self, name: str) -> Column:
        return self.rows[name]

    def ints(self, name: str) -> Column:
        """A column of small numbers, wide enough to reckon with."""
        return self.rows[name].astype(np.int64)

    def in_styles(self, wanted: Sequence[str]) -> Mask:
        """Which licks are in one of these styles."""
        return np.array([style in wanted for style in self.styles], np.bool_)[self.column("style")]

    def breaks(self, rules: frozenset[str]) -> Mask:
        """Which licks break one of these rules."""
        found: Mask = self.column("broken") & bits(rules) != 0
        return found

    def where(self, mask: Column) -> "Stock":
        """Those licks only, in the same order."""
        return Stock(self.rows[mask], self.styles, self.edges)

    @property
    def nbytes(self) -> int:
        """Memory that it takes, about, with what is looked up in it."""
        return int(self.rows.nbytes) + PLACE_BYTES * len(self._known or ())

    def place(self, number: int, revision: int) -> int | None:
        """Where a lick stands; None if it is not here."""
        return self._places.get((number, revision))

    @property
    def _places(self) -> dict[tuple[int, int], int]:
        if self._known is None:
            pairs = zip(self.column("number").tolist(), self.column("revision").tolist(), strict=True)
            self._known = {pair: place for place, pair in enumerate(pairs)}
        return self._known


def stocked(candidates: Sequence[Sequence[Candidate]]) -> tuple[Stock, ...]:
    """Stocks by phrase over one table of edges, each lick where it can be played to its end."""
    size = len(candidates)
    stocks = [of for of in candidates if isinstance(of, Stock)]
    if len(stocks) < size or len({id(of.edges) for of in stocks}) > 1:
        table = EdgeTable()
        stocks = [Stock.of(of, table) for of in candidates]
    return tuple(
        of if (fits := of.column("span") <= size - phrase).all() else of.where(fits)
        for phrase, of in enumerate(stocks)
    )


def each(stocks: Sequence[Stock], make: Callable[[Stock], T]) -> list[T]:
    """What is made of each stock; once for those that are one and the same, as phrases alike share theirs."""
    made: dict[int, T] = {}
    for of in stocks:
        if id(of) not in made:
            made[id(of)] = make(of)
    return [made[id(of)] for of in stocks]


def unpacked(licks: Sequence[tuple[int, int, bytes]], dtype: np.dtype[Any], name: str) -> Column:
    """Rows of (number, revision, one record of the field ``name`` of ``dtype``)."""
    size = len(licks)
    rows = np.zeros(size, dtype)
    rows["number"] = np.fromiter((number for number, _, _ in licks), np.int64, size)
    rows["revision"] = np.fromiter((revision for _, revision, _ in licks), np.int32, size)
    rows[name] = np.frombuffer(b"".join([told for _, _, told in licks]), dtype[name])
    return rows


def edges_of(candidate: Candidate) -> Edges:
    """The edges of a candidate that has some. Raises ValueError for another."""
    if candidate.edges is None:
        raise ValueError(f"lick {candidate.number} has no edges")
    return candidate.edges


def bits(broken: frozenset[str]) -> int:
    """Rules as a number, a bit each. Raises ValueError for what is no rule of a lick."""
    return sum(1 << BROKEN.index(code) for code in broken)


@lru_cache(maxsize=4096)
def codes(broken: int) -> frozenset[str]:
    return frozenset(code for place, code in enumerate(BROKEN) if broken >> place & 1)
