"""Whose turn it is: the rule by which a week's challenge is drawn."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

Key = tuple[str, str, int]  # tune, part, phrase of the part


@dataclass(frozen=True, slots=True)
class Spot:
    """A phrase of a tune, and the level of the lick that it would begin from; None where there is none."""

    tune: str
    part: str
    index: int
    role: str
    level: int | None

    @property
    def key(self) -> Key:
        return (self.tune, self.part, self.index)


def next_spot(spots: Sequence[Spot], past: Sequence[Key], levels: tuple[int, int], seed: str) -> Spot | None:
    """The spot whose turn it is; ``past`` are those that have come, oldest first. None without spots.

    Of the spots that suit the group's levels each comes once before any comes again. Of those left, the role that has not come for
    longest is taken, then the tune; what is alike in both is put in an order that ``seed`` decides.
    """
    cycle = _suiting(spots, levels)
    if not cycle:
        return None
    left = [cycle[key] for key in _left(cycle, past)]
    role_of = {spot.key: spot.role for spot in spots}
    roles = {role_of[key]: when for when, key in enumerate(past) if key in role_of}
    tunes = {key[0]: when for when, key in enumerate(past)}
    return min(
        left,
        key=lambda spot: (roles.get(spot.role, -1), tunes.get(spot.tune, -1), _by_seed(seed, spot.key)),
    )


def _suiting(spots: Sequence[Spot], levels: tuple[int, int]) -> dict[Key, Spot]:
    """Those at the group's levels, or of no known one; where there are none, those nearest to them."""

    def off(spot: Spot) -> int:
        return 0 if spot.level is None else max(levels[0] - spot.level, spot.level - levels[1], 0)

    nearest = min(map(off, spots), default=0)
    return {spot.key: spot for spot in spots if off(spot) == nearest}


def _left(cycle: dict[Key, Spot], past: Sequence[Key]) -> list[Key]:
    """What has not come in the cycle that runs. A new one does not begin with what came last."""
    came: set[Key] = set()
    for key in past:
        if key in cycle:
            came = {key} if key in came else came | {key}
    left = [key for key in cycle if key not in came]
    if left:
        return left
    last = next(key for key in reversed(past) if key in cycle)
    return [key for key in cycle if key != last] or [last]


def _by_seed(seed: str, key: Key) -> bytes:
    return hashlib.sha256(repr((seed, key)).encode()).digest()
