"""What counting and ranking go along: phrases, blocks of licks that go on alike, and the states of what is watched.

What a seam allows depends on two edges alone. A lick leaves by another edge for each length of pickup that may cut it: a cell
is such a length with the edge that is left then. From phrase to phrase everything is known by cell and state.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.compose.seams import told_of
from service.compose.stock import NONE, Candidate, Column, Stock, stocked
from service.compose.watches import Everything, Watch
from service.judge.joins import CUTS, Edge

MOST_CUT = len(CUTS) - 1
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Licks of a phrase that fill as much and are alike in what is watched; ``places`` in the stock, in order."""

    span: int
    places: NDArray[np.intp]
    one: Candidate


class Grid:
    """``stocks`` by phrase, only licks with edges; ``steps[phrase][state]`` are (block, state after it), small numbers both;
    states are numbered for each phrase, that of the beginning is 0."""

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
        self.blocks = [_blocks(of, self.watch.traits(of, phrase)) for phrase, of in enumerate(self.stocks)]
        self.states: list[list[Hashable]] = [[] for _ in range(self.size + 1)]
        self.steps: list[list[list[tuple[int, int]]]] = []
        self._step()

    def _step(self) -> None:
        """Number the states that each phrase can begin in, and find what each block makes of them."""
        known: list[dict[Hashable, int]] = [{} for _ in range(self.size + 1)]
        known[0][self.watch.start] = 0
        for phrase in range(self.size):
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

    def cells_of(self, phrase: int) -> Numbers:
        """The cell of each lick of a phrase by length of a pickup: (licks, cuts)."""
        ways_out = self.stocks[phrase].ints("exits")
        return ways_out + np.arange(len(CUTS)) * len(self.exits)

    def seams(self, judged: Callable[[Edge, Edge], int | None], never: int) -> Numbers:
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
    keys: Column = (traits - traits.min()) * (int(spans.max()) + 1) + spans
    found = []
    for key in np.unique(keys).tolist():
        places = np.flatnonzero(keys == key)
        found.append(Block(int(spans[places[0]]), places, of[int(places[0])]))
    return found
