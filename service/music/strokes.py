"""A chart cut up for a pattern: how long each chord lasts, and which strokes fall into it."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from service.music.backup_patterns import BASS, Pattern, Stroke
from service.music.harmony import Chord
from service.music.licks import Change
from service.music.meter import Meter
from service.music.tunes import merged

WALK_FROM = 2  # measures of a chord from which the bass has time to walk out of it; ours
# Where its two steps stand in the last measure.
WALK_SLOTS = {"two": (4, 6), "three": (2, 4), "six": (3, 5), "nine": (6, 8), "twelve": (9, 11)}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A chord from one tick to another."""

    onset: int
    end: int
    chord: Chord | None


def stretches_of(changes: Sequence[Change], end: int) -> list[Stretch]:
    """Where each chord begins and ends; the same chord again is one."""
    kept = [
        change for change in merged(sorted(changes, key=lambda change: change.onset)) if change.onset < end
    ]
    ends = [*(change.onset for change in kept[1:]), end]
    return [Stretch(change.onset, stop, change.chord) for change, stop in zip(kept, ends, strict=True)]


def starts_of(measures: Sequence[int]) -> list[int]:
    starts = [0]
    for ticks in measures[:-1]:
        starts.append(starts[-1] + ticks)
    return starts


def strokes_over(
    stretch: Stretch, starts: Sequence[int], measures: Sequence[int], meter: Meter, pattern: Pattern
) -> list[tuple[int, int, Stroke, bool]]:
    """(onset, end, stroke, whether the bass begins anew with its root) over one chord.

    A measure longer than the pattern begins it again, a shorter one breaks it off. A change that nothing would strike in
    time is struck where it comes.
    """
    slot = meter.slot_ticks
    several = sum(stroke.plays == BASS for stroke in pattern.strokes) > 1
    found: list[tuple[int, int, Stroke, bool]] = []
    first = max(0, bisect_right(starts, stretch.onset) - 1)
    for start, ticks in zip(starts[first:], measures[first:], strict=True):
        if start >= stretch.end:
            break
        for again in range(start, start + ticks, pattern.slots * slot):
            for stroke in pattern.strokes:
                onset = again + stroke.at * slot
                if stretch.onset <= onset < min(stretch.end, start + ticks):
                    end = min(onset + stroke.lasts * slot // 2, stretch.end, start + ticks)
                    fresh = not found or (several and onset == again)
                    found.append((onset, end, stroke, fresh))
    if not found or found[0][0] >= stretch.onset + pattern.within * slot:
        begins = bisect_right(starts, stretch.onset) - 1
        end = min(
            [
                stretch.onset + pattern.within * slot,
                stretch.end,
                starts[begins] + measures[begins],
                *(onset for onset, *_ in found[:1]),
            ]
        )
        own = _own(pattern)
        end = min(end, stretch.onset + own.lasts * slot // 2)
        found.insert(0, (stretch.onset, end, own, True))
    return found


def _own(pattern: Pattern) -> Stroke:
    """The stroke that tells a change by itself: the bass, or else the fullest one there is."""
    basses = [stroke for stroke in pattern.strokes if stroke.plays == BASS]
    return basses[0] if basses else max(pattern.strokes, key=lambda s: (not s.plays.isdigit(), len(s.plays)))


def walk_onsets(
    stretch: Stretch,
    following: Stretch | None,
    starts: Sequence[int],
    measures: Sequence[int],
    meter: Meter,
    pattern: Pattern,
) -> tuple[int, ...]:
    """Onsets of two steps into the next chord; none where the pattern does not walk, there is no time, or nowhere to go."""
    if not pattern.walks or following is None or following.chord is None or stretch.chord is None:
        return ()
    if stretch.end not in starts or stretch.chord.root == following.chord.root:
        return ()
    last = starts.index(stretch.end) - 1
    full = measures[last] == meter.measure_ticks
    if not full or stretch.end - stretch.onset < WALK_FROM * meter.measure_ticks:
        return ()
    return tuple(starts[last] + slot * meter.slot_ticks for slot in WALK_SLOTS[pattern.family])
