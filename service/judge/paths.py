"""The easiest way through a row of choices, exactly: first the least bad worst moment, then the least sum.

Moments cost a load (milliseconds that a hand needs for each tick it has). Loads up to an easy one are alike: there
only the sum counts. The sum is of the loads' fourth powers, so that it too minds hard moments most.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

S = TypeVar("S", bound=Hashable)
O = TypeVar("O")  # noqa: E741
POWER = 4


@dataclass(frozen=True, slots=True)
class Way(Generic[O]):
    """The choices taken, the load of each moment, the worst of them and the sum of their powers."""

    choices: tuple[O, ...]
    loads: tuple[float, ...]
    worst: float
    total: float


class NoWay(Exception):
    """Some moment has no choice that can follow; ``stage`` counts from 0."""

    def __init__(self, stage: int) -> None:
        super().__init__(stage)
        self.stage = stage


def easiest(
    stages: int, start: S, steps: Callable[[S, int], Iterable[tuple[O, S, float]]], easy: float
) -> Way[O]:
    """The easiest of all ways through ``stages`` moments.

    ``steps(state, stage)`` yields (choice, state after, load). Raises NoWay where none goes on.
    """
    known: dict[tuple[S, int], list[tuple[O, S, float]]] = {}

    def onward(state: S, stage: int) -> list[tuple[O, S, float]]:
        key = (state, stage)
        found = known.get(key)
        if found is None:
            found = known[key] = list(steps(state, stage))
        return found

    way = _least_sum(stages, start, onward, easy)
    if way is None:
        way = _least_sum(stages, start, onward, _least_worst(stages, start, onward))
    if way is None:
        raise RuntimeError("the least worst way is a way")
    return way


def _least_worst(stages: int, start: S, onward: Callable[[S, int], Sequence[tuple[O, S, float]]]) -> float:
    states: dict[S, float] = {start: 0.0}
    for stage in range(stages):
        following: dict[S, float] = {}
        for state, worst in states.items():
            for _, after, load in onward(state, stage):
                reached = load if load > worst else worst
                if reached < following.get(after, float("inf")):
                    following[after] = reached
        if not following:
            raise NoWay(stage)
        states = following
    return min(states.values())


def _least_sum(
    stages: int, start: S, onward: Callable[[S, int], Sequence[tuple[O, S, float]]], limit: float
) -> Way[O] | None:
    # a state's value is (sum, path), a path (path before, choice, load), nested
    states: dict[S, tuple[float, Any]] = {start: (0.0, None)}
    for stage in range(stages):
        following: dict[S, tuple[float, Any]] = {}
        for state, (total, path) in states.items():
            for choice, after, load in onward(state, stage):
                if load > limit:
                    continue
                reached = total + load**POWER
                before = following.get(after)
                if before is None or reached < before[0]:
                    following[after] = (reached, (path, choice, load))
        if not following:
            return None
        states = following
    total, path = min(states.values(), key=lambda value: value[0])
    choices: list[O] = []
    loads: list[float] = []
    while path is not None:
        path, choice, load = path
        choices.append(choice)
        loads.append(load)
    return Way(tuple(reversed(choices)), tuple(reversed(loads)), max(loads, default=0.0), total)
