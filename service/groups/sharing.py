"""Who takes which break of an evening: turns as even as they can be.

How many turns each player may have, over all tunes, are the bases of a polymatroid: the sharing whose squares add up to
least is then also the one whose largest difference is least. It is found by passing turns on, from player to player through tunes
they have in common, as long as that makes anything better.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count


@dataclass(frozen=True, slots=True)
class Call:
    """A tune of the evening: breaks taken in it, who may take one (by member number, each once), who of them is still learning it,
    and who kicks it off."""

    turns: int
    able: tuple[int, ...]
    learning: frozenset[int] = frozenset()
    kick_off: int | None = None

    @property
    def least(self) -> int:
        """Turns that each of them takes at least: nobody takes two more of a tune than another."""
        return self.turns // len(self.able)

    @property
    def most(self) -> int:
        return -(-self.turns // len(self.able))


@dataclass(frozen=True, slots=True)
class _Pass:
    """A turn of a tune handed on; ``giver`` None takes one out of nowhere, ``taker`` None puts it back."""

    giver: int | None
    taker: int | None
    tune: int
    cost: int


_Taken = list[dict[int, int]]  # by tune: turns by player


def share(calls: Sequence[Call]) -> list[tuple[int, ...]]:
    """For each tune who takes its breaks, in playing order; nobody where nobody may.

    Over the evening the largest difference between two players is the least there can be; of all such sharings one that asks
    fewest breaks of those who are still learning a tune. The same calls are shared alike each time.
    """
    taken = _begun(calls)
    while (better := _better(calls, taken)) is not None:
        for step in better:
            if step.giver is not None and step.taker is not None:
                taken[step.tune][step.giver] -= 1
                taken[step.tune][step.taker] += 1
    return _in_order(calls, taken)


def _players(calls: Sequence[Call]) -> list[int]:
    return list(dict.fromkeys(player for call in calls for player in call.able))


def _totals(calls: Sequence[Call], taken: _Taken) -> dict[int, int]:
    return {player: sum(turns.get(player, 0) for turns in taken) for player in _players(calls)}


def _begun(calls: Sequence[Call]) -> _Taken:
    """A good beginning: tune by tune, whoever has had fewest."""
    taken: _Taken = []
    had = dict.fromkeys(_players(calls), 0)
    for call in calls:
        turns = dict.fromkeys(call.able, call.least if call.able else 0)
        left = call.turns - sum(turns.values()) if call.able else 0
        first = sorted(call.able, key=lambda player: (had[player], player in call.learning))
        for player in first[:left]:
            turns[player] += 1
        for player in call.able:
            had[player] += turns[player]
        taken.append(turns)
    return taken


def _passes(calls: Sequence[Call], taken: _Taken) -> Iterator[_Pass]:
    """Every turn that could be handed on, the cheapest tune for each two players, and what a turn more or less costs."""
    totals = _totals(calls, taken)
    most = len(totals) + 1  # worth more than whatever learners could be spared along one way
    for player, total in totals.items():
        yield _Pass(None, player, 0, most * (1 - 2 * total))
        yield _Pass(player, None, 0, most * (1 + 2 * total))
    cheapest: dict[tuple[int, int], _Pass] = {}
    for tune, (call, turns) in enumerate(zip(calls, taken, strict=True)):
        givers = [player for player in call.able if turns[player] > call.least]
        takers = [player for player in call.able if turns[player] < call.most]
        for giver in givers:
            for taker in takers:
                cost = (taker in call.learning) - (giver in call.learning)
                known = cheapest.get((giver, taker))
                if known is None or cost < known.cost:
                    cheapest[giver, taker] = _Pass(giver, taker, tune, cost)
    yield from cheapest.values()


def _better(calls: Sequence[Call], taken: _Taken) -> list[_Pass] | None:
    """A round of passes that makes the sharing better, None if there is none (a negative cycle, after Bellman and Ford)."""
    passes = list(_passes(calls, taken))
    nodes: list[int | None] = [None, *_players(calls)]
    cost = dict.fromkeys(nodes, 0)
    before: dict[int | None, _Pass] = {}
    lowered: int | None = None
    for _ in nodes:
        found = False
        for step in passes:
            reached = cost[step.giver] + step.cost
            if reached < cost[step.taker]:
                cost[step.taker], before[step.taker] = reached, step
                lowered, found = step.taker, True
        if not found:
            return None
    for _ in nodes:  # back into the cycle itself
        lowered = before[lowered].giver
    cycle = [before[lowered]]
    while cycle[-1].giver != lowered:
        cycle.append(before[cycle[-1].giver])
    return cycle


def _in_order(calls: Sequence[Call], taken: _Taken) -> list[tuple[int, ...]]:
    """Round after round; whoever kicks off begins, then those who have waited longest. Who has a turn more than others comes
    first in each round, so that nobody plays twice running where somebody else could play between."""
    found: list[tuple[int, ...]] = []
    last: dict[int, int] = {}
    places = count()
    for call, turns in zip(calls, taken, strict=True):
        most = max(turns.values(), default=0)
        ways = [
            (turns[player] < most, player != call.kick_off, last.get(player, -1), place, player)
            for place, player in enumerate(call.able)
            if turns[player]
        ]
        order = [player for *_, player in sorted(ways)]
        played = tuple(player for done in range(most) for player in order if turns[player] > done)
        last |= dict(zip(played, places, strict=False))
        found.append(played)
    return found
