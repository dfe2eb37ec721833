"""What counting and ranking go along: phrases, blocks of licks that go on alike, and the states of what is watched.

What a seam allows depends on two edges alone. A lick leaves by another edge for each length of pickup that may cut it: a cell
is such a length with the edge that is left then. From phrase to phrase everything is known by cell and state.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.compose.seams import told_of
from service.compose.stock import NONE, Candidate, Column, Stock, each, stocked
from service.compose.watches import Everything, Watch
from service.judge.joins import CUTS, Edge

MOST_CUT = len(CUTS) - 1
Numbers = NDArray[np.int64]
MOST_STEPS = 200_000  # from state to state, of all phrases together: a second or two, some dozens of MiB
STATE_BYTES, STEP_BYTES = 700, 80  # that a state with its tables and a step take in memory, about (measured)
Judged = Callable[[Edge, Edge], int | None]  # None: the seam may not be


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Licks of a phrase that fill as much and are alike in what is watched; ``places`` in the stock, in order."""

    span: int
    places: NDArray[np.intp]
    one: Candidate


class TooManyStates(Exception):
    """More than MOST_STEPS from one state to another are to be minded along a break."""


class Used:
    """Which of so many small numbers occur: ``used`` in order, and the ``place`` of each among them."""

    __slots__ = ("place", "used")

    def __init__(self, numbers: Sequence[Column], size: int) -> None:
        there = np.zeros(size, np.bool_)
        for column in numbers:
            there[column] = True
        self.used: Numbers = np.flatnonzero(there)
        self.place: Numbers = np.cumsum(there) - 1


class Grid:
    """``stocks`` by phrase, only licks with edges; ``steps[phrase][state]`` are (block, state after it), small numbers both;
    states are numbered for each phrase, that of the beginning is 0. Raises TooManyStates."""

    def __init__(self, candidates: Sequence[Sequence[Candidate]], watch: Watch | None) -> None:
        self.watch: Watch = watch or Everything()
        self.stocks = tuple(
            of if (known := of.column("entry") != NONE).all() else of.where(known)
            for of in stocked(candidates)
        )
        self.size = len(self.stocks)
        edges = self.stocks[0].edges if self.stocks else None
        self.entries: list[Edge] = edges.entries if edges else []
        self.exits: list[Edge] = edges.exits if edges else []
        self.cells = len(CUTS) * len(self.exits)
        self.cuts = np.array([min(edge.cut, MOST_CUT) for edge in self.entries], np.int64)
        if isinstance(self.watch, Everything):
            self.blocks = each(self.stocks, lambda of: _blocks(of, self.watch.traits(of, 0)))
        else:
            self.blocks = [
                _blocks(of, self.watch.traits(of, phrase)) for phrase, of in enumerate(self.stocks)
            ]
        self._cells_of = each(self.stocks, self._leaves_by)
        # what occurs: by phrase the ways in of its licks, and the cells that lead to it (and past the end)
        self.ways_in = each(self.stocks, lambda of: Used([of.column("entry")], len(self.entries)))
        place = {id(of): used.place for of, used in zip(self.stocks, self.ways_in, strict=True)}
        self.entry_of: list[Numbers] = each(self.stocks, lambda of: place[id(of)][of.column("entry")])
        self.cells_into = self._cells_into()
        self.states: list[list[Hashable]] = [[] for _ in range(self.size + 1)]
        self.steps: list[list[list[tuple[int, int]]]] = []
        self._step()

    def _step(self) -> None:
        """Number the states that each phrase can begin in, and find what each block makes of them."""
        known: list[dict[Hashable, int]] = [{} for _ in range(self.size + 1)]
        known[0][self.watch.start] = 0
        so_far = 0
        for phrase in range(self.size):
            so_far += len(known[phrase]) * len(self.blocks[phrase])
            if so_far > MOST_STEPS:
                raise TooManyStates
            steps = []
            for state in known[phrase]:
                here = []
                for number, block in enumerate(self.blocks[phrase]):
                    after = self.watch.step(state, phrase, block.one)
                    if after is not None:
                        there = known[phrase + block.span]
                        here.append((number, there.setdefault(after, len(there))))
                steps.append(here)
            self.steps.append(steps)
        self.states = [list(states) for states in known]

    @property
    def nbytes(self) -> int:
        """Memory that states and steps take, about."""
        steps = sum(len(step) for steps in self.steps for step in steps)
        return STATE_BYTES * sum(len(states) for states in self.states) + STEP_BYTES * steps

    def _cells_into(self) -> list[Used]:
        leading: list[list[tuple[int, Block | None]]] = [[] for _ in range(self.size + 1)]
        for phrase, blocks in enumerate(self.blocks):
            for block in blocks:
                leading[phrase + block.span].append((phrase, None if len(blocks) == 1 else block))
        made: dict[Hashable, Used] = {}
        found = []
        for of in leading:
            # phrases that the same licks lead to share what they lead by
            key = tuple((id(self._cells_of[phrase]), id(block)) for phrase, block in of)
            if key not in made:
                cells = [
                    self._cells_of[phrase] if block is None else self._cells_of[phrase][block.places]
                    for phrase, block in of
                ]
                made[key] = Used(cells, self.cells)
            found.append(made[key])
        return found

    def leaving(self, phrase: int, block: Block) -> Numbers:
        """The places, among the cells that lead to the phrase after it, of those that licks of a block leave by: (licks, cuts)."""
        return self.cells_into[phrase + block.span].place[self._cells_of[phrase][block.places]]

    def local_seams(
        self, judged: Judged, never: int, unminded: Judged, free: frozenset[int]
    ) -> list[Numbers]:
        """What each seam into a phrase comes to: a row for each cell that leads there, a column for each way in; ``unminded`` before
        the phrases in ``free``."""
        minded, other = self.seams(judged, never), self.seams(unminded, never) if free else None
        made: dict[Hashable, Numbers] = {}
        found = []
        for phrase, (cells, entries) in enumerate(zip(self.cells_into[:-1], self.ways_in, strict=True)):
            of = other if other is not None and phrase in free else minded
            key = id(of), id(cells), id(entries)
            if key not in made:
                made[key] = of[np.ix_(cells.used, entries.used)]
            found.append(made[key])
        return found

    def _leaves_by(self, of: Stock) -> Numbers:
        """The cell of each lick by length of a pickup: (licks, cuts)."""
        return of.ints("exits") + np.arange(len(CUTS)) * len(self.exits)

    def seams(self, judged: Judged, never: int) -> Numbers:
        """What each seam comes to, by cell and way in; ``never`` where it may not be or the cut is another."""
        told = told_of(judged, self.exits, self.entries)
        told = np.where(told < 0, never, told)
        found = np.full((len(CUTS), len(self.exits), len(self.entries)), never, np.int64)
        for cut in range(len(CUTS)):
            here = self.cuts == cut
            found[cut][:, here] = told[:, here]
        return found.reshape(self.cells, len(self.entries))


def _blocks(of: Stock, traits: Column) -> list[Block]:
    if not len(of):
        return []
    spans = of.ints("span")
    if (spans == spans[0]).all() and (traits == traits[0]).all():
        return [Block(int(spans[0]), np.arange(len(of)), of[0])]
    keys: Column = (traits - traits.min()) * (int(spans.max()) + 1) + spans
    found = []
    for key in np.unique(keys).tolist():
        places = np.flatnonzero(keys == key)
        found.append(Block(int(spans[places[0]]), places, of[int(places[0])]))
    return found
