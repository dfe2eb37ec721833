"""What composing is measured against: a general graph library, a constraint solver, drawing until it fits, and plain Python."""

import random
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from types import FrameType

import networkx
import numpy as np

from service.compose.stock import Column, Stock
from tests.bench.solver import Solver
from tests.bench.subject import FORBIDDEN, Subject


def cheapest_of_all_pairs(subject: Subject, by: str) -> int:
    """The cost of the cheapest break, every lick looked at with every other one of the next phrase, in numpy."""
    stocks = subject.lattice.candidates
    cost = subject.cost(by)
    least: Column = cost(stocks[-1], len(stocks) - 1).astype(np.int64)
    for phrase in range(len(stocks) - 2, -1, -1):
        on = (subject.seam_costs(phrase, by) + least).min(axis=1)
        least = cost(stocks[phrase], phrase) + on
    return int(least.min())


# --- networkx ------------------------------------------------------------------------------------------


def graph_of(subject: Subject, by: str) -> networkx.DiGraph:
    """A node for each lick in its phrase, an edge for each seam that may be, weighing the seam and the lick it leads to."""
    graph = networkx.DiGraph()
    first = 0
    for phrase, of in enumerate(subject.lattice.candidates):
        here = np.arange(first, first + len(of))
        costs = subject.cost(by)(of, phrase)
        if phrase == 0:
            graph.add_weighted_edges_from(
                ("start", n, c) for n, c in zip(here.tolist(), costs.tolist(), strict=True)
            )
        else:
            seams = subject.seam_costs(phrase - 1, by)
            may = seams < FORBIDDEN
            before, after = np.nonzero(may)
            weights = seams[may] + costs[after]
            earlier = first - len(subject.lattice.candidates[phrase - 1])
            rows = zip((before + earlier).tolist(), here[after].tolist(), weights.tolist(), strict=True)
            graph.add_weighted_edges_from(rows)
        first += len(of)
    last = len(subject.lattice.candidates[-1])
    graph.add_weighted_edges_from((node, "end", 0) for node in range(first - last, first))
    return graph


class _TimeIsUp(Exception):
    pass


def graph_library(graph: networkx.DiGraph, how_many: int, limit_s: float) -> tuple[list[int], float, bool]:
    """Costs of the best breaks, the seconds that took, and whether all were found before the time was up."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise _TimeIsUp

    found: list[int] = []
    before = signal.signal(signal.SIGALRM, stop)
    began = time.perf_counter()
    signal.setitimer(signal.ITIMER_REAL, limit_s)
    try:
        for path in networkx.shortest_simple_paths(graph, "start", "end", weight="weight"):
            found.append(networkx.path_weight(graph, path, "weight"))
            if len(found) == how_many:
                break
    except _TimeIsUp:
        pass
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    return found, time.perf_counter() - began, len(found) == how_many


# --- a constraint solver -------------------------------------------------------------------------------


def solver_of(subject: Subject, by: str, *, no_repeats: bool = False) -> Solver:
    stocks = subject.lattice.candidates
    return Solver(
        [subject.cost(by)(of, phrase) for phrase, of in enumerate(stocks)],
        [subject.seam_costs(phrase, by) for phrase in range(len(stocks) - 1)],
        [of.column("number").tolist() for of in stocks] if no_repeats else None,
    )


# --- drawing until it fits -----------------------------------------------------------------------------


class Rejection:
    """Licks drawn one for each phrase, evenly from all, until every seam can be played."""

    def __init__(self, subject: Subject) -> None:
        self._sizes = [len(of) for of in subject.lattice.candidates]
        self._may = [
            (subject.seam_costs(phrase, "smooth") < FORBIDDEN).tolist()
            for phrase in range(len(self._sizes) - 1)
        ]
        self.draws = self.tries = 0

    def draw(self, rand: random.Random, fits: Callable[[list[int]], bool] = lambda places: True) -> list[int]:
        self.draws += 1
        while True:
            self.tries += 1
            places = [rand.randrange(size) for size in self._sizes]
            if all(may[a][b] for may, a, b in zip(self._may, places, places[1:], strict=False)) and fits(
                places
            ):
                return places


def any_licks(stocks: Sequence[Stock], rand: random.Random) -> list[int]:
    """A lick for each phrase at random, seams not minded."""
    return [int(of.rows["number"][rand.randrange(len(of))]) for of in stocks]


# --- counting in plain Python --------------------------------------------------------------------------


def counted_plainly(subject: Subject) -> int:
    """The same sums with Python's integers: by the lick's edges, lick by lick, from the end."""
    stocks = subject.lattice.candidates
    edges = stocks[0].edges
    cuts = len(stocks[0].rows["exits"][0])
    may = (subject.seams_of_pool() > 0).tolist()
    cut_of = [min(edge.cut, cuts - 1) for edge in edges.entries]
    ways: dict[int, int] = {}
    for phrase in range(len(stocks) - 1, -1, -1):
        kept: dict[tuple[int, int], int] = {}  # from a way out at a cut
        found: dict[int, int] = {}
        for entry, exits in _edges(stocks[phrase]):
            on = 1 if phrase == len(stocks) - 1 else 0
            for cut, leaves in enumerate(exits) if not on else ():
                if (cut, leaves) not in kept:
                    kept[cut, leaves] = sum(n for e, n in ways.items() if cut_of[e] == cut and may[leaves][e])
                on += kept[cut, leaves]
            found[entry] = found.get(entry, 0) + on
        ways = found
    return sum(ways.values())


def _edges(of: Stock) -> Iterator[tuple[int, list[int]]]:
    return zip(of.column("entry").tolist(), of.column("exits").tolist(), strict=True)
