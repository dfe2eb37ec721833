"""Which finger picks which note: the easiest way through, exactly.

Three-finger banjo. Every way to give thumb, index and middle to the picked notes is a path; each moment of
it costs something when a finger must come again too soon or reaches beyond its home strings. The path taken
has the least bad worst moment, and among those the least sum; moments that are easy anyway count in the sum
alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Any

from service.music.licks import LINKED, Note
from service.music.meter import EIGHTH

FINGERS = ("T", "I", "M")

# What it costs a finger to reach a string, by style; strings not named are out of reach.
# Thumb 5-2, index 3-2 and at need 4 and 1, middle 1 and at need 2 and 3; in single-string style thumb and index
# take turns anywhere. Common practice, no source; the steps are our choice.
REACH: dict[str, dict[str, dict[int, float]]] = {
    "roll": {
        "T": {5: 0.0, 4: 0.0, 3: 0.0, 2: 0.1},
        "I": {3: 0.1, 2: 0.0, 4: 0.2, 1: 0.2},
        "M": {1: 0.0, 2: 0.2, 3: 0.3},
    },
    "single-string": {
        "T": {5: 0.0, 4: 0.0, 3: 0.0, 2: 0.0, 1: 0.1},
        "I": {4: 0.1, 3: 0.0, 2: 0.0, 1: 0.0},
        "M": {1: 0.1, 2: 0.3, 3: 0.4},
    },
}
REACH["melodic"] = REACH["roll"]
AGAIN = 1.0  # a finger that must pick again after an eighth
AGAIN_FALLS = 4  # power with which that falls over time: after a quarter it costs a sixteenth of it
COMFORT = 0.2  # a moment up to this is easy: below it only the sum counts
FORGOTTEN = 2 * EIGHTH  # ticks after which a finger is fresh again
FASTEST = EIGHTH // 4  # ticks; anything closer counts as this close


@dataclass(frozen=True, slots=True)
class RightHand:
    """``fingers`` by position among the notes, None where the left hand sounds the note or more
    strings are struck at once than there are fingers; ``worst`` and ``total`` are costs, ``worst_at`` the onset of the worst moment.
    """

    fingers: tuple[str | None, ...]
    worst: float
    worst_at: int | None
    total: float


_Used = tuple[int | None, ...]  # onset of each finger's last note, in the order of FINGERS
_Path = Any  # (what came before, the last way), or None at the start


def right_hand(notes: Sequence[Note], styles: Sequence[str]) -> RightHand:
    """The easiest fingering of notes (sorted by onset), each in its three-finger style.

    A finger that a note has already is kept.
    """
    groups = _groups(notes)
    ways = [list(_ways([notes[i] for i in group], REACH[styles[group[0]]])) for _, group in groups]
    onsets = [onset for onset, _ in groups]
    limit = _least_worst(onsets, ways)
    total, chosen = _least_sum(onsets, ways, max(limit, COMFORT))
    fingers: list[str | None] = [None] * len(notes)
    for (_, group), way in zip(groups, chosen, strict=True):
        for index, finger in zip(group, way.fingers, strict=True):
            fingers[index] = finger
    costs = _costs(onsets, chosen)
    hardest = max(range(len(costs)), key=costs.__getitem__, default=None)
    if hardest is None:
        return RightHand(tuple(fingers), 0.0, None, 0.0)
    return RightHand(tuple(fingers), costs[hardest], onsets[hardest], total)


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to strike the strings of a moment: a finger for each, and what the reach costs."""

    fingers: tuple[str | None, ...]
    reach: float


def _groups(notes: Sequence[Note]) -> list[tuple[int, list[int]]]:
    """Picked notes by onset, as indexes; what the left hand sounds is left out."""
    found: dict[int, list[int]] = {}
    for index, note in enumerate(notes):
        if note.technique not in LINKED:
            found.setdefault(note.onset, []).append(index)
    return sorted(found.items())


def _ways(struck: Sequence[Note], reach: dict[str, dict[int, float]]) -> Iterator[_Way]:
    """Fingers for notes struck together: the thumb lowest, the middle highest, none across another."""
    found = False
    if len(struck) <= len(FINGERS):
        for fingers in permutations(FINGERS, len(struck)):
            pairs = list(zip(fingers, struck, strict=True))
            if any(note.string not in reach[finger] for finger, note in pairs):
                continue
            if any(note.finger in FINGERS and note.finger != finger for finger, note in pairs):
                continue
            strings = [note.string for _, note in sorted(pairs, key=lambda pair: FINGERS.index(pair[0]))]
            if strings == sorted(strings, reverse=True):
                found = True
                yield _Way(fingers, max(reach[finger][note.string] for finger, note in pairs))
    if not found:
        yield _Way(tuple(note.finger for note in struck), AGAIN)  # a brush, or as the player wrote it


def _step(used: _Used, onset: int, way: _Way) -> tuple[_Used, float]:
    """Fingers' last onsets after a moment, and what the moment costs."""
    again = 0.0
    after: list[int | None] = []
    for finger, last in zip(FINGERS, used, strict=True):
        if finger in way.fingers:
            if last is not None and onset - last <= FORGOTTEN:
                again = max(again, AGAIN * (EIGHTH / max(FASTEST, onset - last)) ** AGAIN_FALLS)
            after.append(onset)
        else:
            after.append(last if last is not None and onset - last < FORGOTTEN else None)
    return tuple(after), again + way.reach


def _costs(onsets: Sequence[int], chosen: Sequence[_Way]) -> list[float]:
    used: _Used = (None,) * len(FINGERS)
    costs = []
    for onset, way in zip(onsets, chosen, strict=True):
        used, cost = _step(used, onset, way)
        costs.append(cost)
    return costs


def _least_worst(onsets: Sequence[int], ways: Sequence[Sequence[_Way]]) -> float:
    """The smallest worst moment that any path has."""
    states: dict[_Used, float] = {(None,) * len(FINGERS): 0.0}
    for onset, here in zip(onsets, ways, strict=True):
        following: dict[_Used, float] = {}
        for used, worst in states.items():
            for way in here:
                after, cost = _step(used, onset, way)
                reached = max(worst, cost)
                if reached < following.get(after, float("inf")):
                    following[after] = reached
        states = following
    return min(states.values())


def _least_sum(
    onsets: Sequence[int], ways: Sequence[Sequence[_Way]], limit: float
) -> tuple[float, list[_Way]]:
    """The smallest sum among the paths whose worst moment is ``limit``, and the path."""
    states: dict[_Used, tuple[float, _Path]] = {(None,) * len(FINGERS): (0.0, None)}
    for onset, here in zip(onsets, ways, strict=True):
        following: dict[_Used, tuple[float, _Path]] = {}
        for used, (total, path) in states.items():
            for way in here:
                after, cost = _step(used, onset, way)
                if cost > limit:
                    continue
                known = following.get(after)
                if known is None or total + cost < known[0]:
                    following[after] = (total + cost, (path, way))
        states = following
    total, path = min(states.values(), key=lambda found: found[0])
    chosen: list[_Way] = []
    while path is not None:
        path, way = path
        chosen.append(way)
    return total, chosen[::-1]


def with_fingers(notes: Sequence[Note], styles: Sequence[str]) -> tuple[Note, ...]:
    """The notes with their picking fingers."""
    fingers = right_hand(notes, styles).fingers
    return tuple(
        replace(note, finger=finger) if finger else note for note, finger in zip(notes, fingers, strict=True)
    )
