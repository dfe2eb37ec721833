"""A constraint solver looking for the cheapest break: OR-tools' CP-SAT, told of licks and seams alone."""

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.compose.stock import Column

FORBIDDEN = 1 << 40  # in tables of costs: the seam may not be


@dataclass(slots=True)
class Solver:
    """OR-tools CP-SAT over a layered flow: a literal for each lick in its phrase and for each seam that may be."""

    costs: Sequence[Column]  # of each lick, by phrase
    seams: Sequence[Column]  # of each pair of neighbours, FORBIDDEN where it may not be
    numbers: Sequence[Sequence[int]] | None = None  # given where no lick may come twice
    excluded: Sequence[tuple[int, ...]] = ()  # breaks that may not come, as places
    workers: int = 0  # threads that solve; 0: as many as the solver likes

    def cheapest(self) -> tuple[int, tuple[int, ...], float] | None:
        """The cost, places and seconds of solving; None if there is no break."""
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        takes = [[model.new_bool_var("") for _ in of] for of in self.costs]
        terms = [
            (var, int(c))
            for of, costs in zip(takes, self.costs, strict=True)
            for var, c in zip(of, costs, strict=True)
        ]
        for of in takes:
            model.add_exactly_one(of)
        for phrase, seams in enumerate(self.seams):
            out: list[list[cp_model.IntVar]] = [[] for _ in takes[phrase]]
            into: list[list[cp_model.IntVar]] = [[] for _ in takes[phrase + 1]]
            for a, b in zip(*np.nonzero(seams < FORBIDDEN), strict=True):
                pair = model.new_bool_var("")
                out[a].append(pair)
                into[b].append(pair)
                terms.append((pair, int(seams[a, b])))
            for var, pairs in (
                *zip(takes[phrase], out, strict=True),
                *zip(takes[phrase + 1], into, strict=True),
            ):
                model.add(sum(pairs) == var)
        if self.numbers is not None:
            by_lick: dict[int, list[cp_model.IntVar]] = {}
            for vars_, numbers in zip(takes, self.numbers, strict=True):
                for var, number in zip(vars_, numbers, strict=True):
                    by_lick.setdefault(number, []).append(var)
            for same in by_lick.values():
                model.add_at_most_one(same)
        for places in self.excluded:
            model.add_bool_or(takes[phrase][place].negated() for phrase, place in enumerate(places))
        model.minimize(sum(var * cost for var, cost in terms))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = self.workers
        began = time.perf_counter()
        status = solver.solve(model)
        took = time.perf_counter() - began
        if status != cp_model.OPTIMAL:
            return None
        chosen = tuple(next(i for i, var in enumerate(of) if solver.value(var)) for of in takes)
        return round(solver.objective_value), chosen, took
