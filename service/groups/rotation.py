"""Which phrase comes next: every one once before any comes again."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

Place = tuple[str, str, int]  # tune, part, index of the phrase


@dataclass(frozen=True, slots=True)
class Spot:
    """A phrase of a tune that has a base lick, its role, and that lick's level if it is known."""

    tune: str
    part: str
    index: int
    role: str
    level: int | None

    @property
    def place(self) -> Place:
        return (self.tune, self.part, self.index)


def next_spot(
    spots: Sequence[Spot], past: Sequence[Place], levels: tuple[int, int], seed: str
) -> Spot | None:
    """The spot for the next week, or None if there are none.

    The spots of the wanted levels (lowest, highest; an unknown level fits) make up a cycle, or those nearest to these
    if none fits. A cycle ends when all of today's have come since it began, and the next does not begin with the one
    that came last, if there is another. Of what a cycle still lacks, the role goes first that was not used for the
    longest time, then the tune, then an order that the seed decides. ``past`` is what came, oldest first.
    """
    least = min((_distance(spot, levels) for spot in spots), default=0)
    cycle = [spot for spot in spots if _distance(spot, levels) == least]
    over = _come_in_this_cycle({spot.place for spot in cycle}, past)
    roles = {spot.place: spot.role for spot in spots}
    role_used = {roles[place]: when for when, place in enumerate(past) if place in roles}
    tune_used = {tune: when for when, (tune, _, _) in enumerate(past)}
    return min(
        (spot for spot in cycle if spot.place not in over),
        key=lambda s: (role_used.get(s.role, -1), tune_used.get(s.tune, -1), _chance(s, seed)),
        default=None,
    )


def _distance(spot: Spot, levels: tuple[int, int]) -> int:
    lowest, highest = levels
    return 0 if spot.level is None else max(lowest - spot.level, spot.level - highest, 0)


def _come_in_this_cycle(cycle: set[Place], past: Sequence[Place]) -> set[Place]:
    """What may not come now: the running cycle's so far, or what came last where a new one begins."""
    over: set[Place] = set()
    last: set[Place] = set()
    for place in past:
        if place in cycle:
            over.add(place)
            last = {place}
            if over == cycle:
                over = set()
    return over or (last if len(cycle) > 1 else set())


def _chance(spot: Spot, seed: str) -> bytes:
    return hashlib.sha256(repr((seed, spot.place, spot.level)).encode()).digest()
