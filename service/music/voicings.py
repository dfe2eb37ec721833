"""How the chords of a chart are held one after the other: each shape easy for itself and near the one before it, exactly."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from service.music.backup_patterns import BASS, Pattern
from service.music.basslines import REACHES_OVER, above, bass_tones, shape_basses
from service.music.fretboard import Fretboard
from service.music.harmony import Chord
from service.music.shapes import Shape, double_stops, shapes
from service.music.strokes import Stretch

# Ours. How many shapes of a chord are weighed against each other, and what going from one to the next costs, in fingers.
CONSIDERED = 16
LOW_POSITION = 5  # fret of the lowest finger, where chords are held openly
LEAST_STRUMMED = 3  # strings above the bass; common practice, no source
LEAST_OPEN = {"guitar": 4}  # strings of such a chord; elsewhere as for any shape
MOVE = 0.03  # each mm that the hand goes along the neck
REGRIP = 0.15  # each string that is stopped otherwise than before
SWAP = 0.2  # each string that stays as it is, but under another finger
FALLBACKS = {"minor": "m", "dim": "dim", "major": ""}  # what a chord is when its finer tones have no place


def shapes_along(stretches: Sequence[Stretch], board: Fretboard, pattern: Pattern) -> list[Shape | None]:
    """The easiest way through: one shape for each stretch, None where there is no chord. Exact."""
    wanted = [
        (i, _candidates(s.chord, board, pattern)) for i, s in enumerate(stretches) if s.chord is not None
    ]
    found: list[Shape | None] = [None] * len(stretches)
    if not wanted:
        return found
    costs = [shape.effort for shape in wanted[0][1]]
    came: list[list[int]] = []
    for (_, before), (_, here) in pairwise(wanted):
        changing = _change_efforts(before, here, board)
        ways = [[cost + more for cost, more in zip(costs, row, strict=True)] for row in changing]
        came.append([way.index(min(way)) for way in ways])
        costs = [min(way) + shape.effort for way, shape in zip(ways, here, strict=True)]
    at = costs.index(min(costs))
    for step in range(len(wanted) - 1, -1, -1):
        index, options = wanted[step]
        found[index] = options[at]
        at = came[step - 1][at] if step else at
    return found


@lru_cache(maxsize=512)
def _change_efforts(
    before: tuple[Shape, ...], after: tuple[Shape, ...], board: Fretboard
) -> tuple[tuple[float, ...], ...]:
    """For each shape after, what coming from each shape before costs."""
    return tuple(tuple(change_effort(one, other, board) for one in before) for other in after)


def change_effort(before: Shape, after: Shape, board: Fretboard) -> float:
    """What changing from one shape to another costs, in fingers."""
    left = board.instrument.scale_mm * 2 ** (-board.capo / 12)
    low, high = sorted((max(1, before.lies), max(1, after.lies)))
    apart = left * (2 ** (-low / 12) - 2 ** (-high / 12))
    stopped = after.stopped
    kept = set(before.stopped) & set(stopped)
    swapped = sum(before.fingers[string - 1] != after.fingers[string - 1] for string, _ in kept)
    return MOVE * apart + REGRIP * (len(stopped) - len(kept)) + SWAP * swapped


@lru_cache(maxsize=512)
def _candidates(chord: Chord, board: Fretboard, pattern: Pattern) -> tuple[Shape, ...]:
    """Shapes that the pattern can be played over; of a plainer chord where a fine one has no place, and under a bar of two
    strings only where no three will do."""
    plain = Chord(chord.root, FALLBACKS[chord.family[1]])
    plain = plain if plain.pitch_classes <= chord.pitch_classes else chord
    for least in (3, 2) if pattern.holds == "bar" else (0,):
        for wanted in dict.fromkeys((chord, plain)):
            found = [
                shape
                for shape in _asked(wanted, board, pattern)
                if len(shape.strings) >= least and _serves(shape, board, pattern)
            ]
            quick = [shape for shape in found if not shape.wide]
            if found:
                return tuple((quick or found)[:CONSIDERED])
    return (double_stops(chord, board) or double_stops(plain, board))[:CONSIDERED]


def _asked(chord: Chord, board: Fretboard, pattern: Pattern) -> tuple[Shape, ...]:
    if pattern.holds == "double":
        return double_stops(chord, board)
    if pattern.holds == "bar":
        return shapes(chord, board, bar=True)
    if pattern.holds == "closed":
        three = 3 if pattern.instrument == "banjo" else None
        return shapes(chord, board, closed=True, least=three, most=three)
    return shapes(chord, board, least=LEAST_OPEN.get(pattern.instrument), highest=LOW_POSITION)


def _serves(shape: Shape, board: Fretboard, pattern: Pattern) -> bool:
    """Whether a shape has what the strokes want: all strings of a roll, a bass under the guitar's chord."""
    named = {int(s) for stroke in pattern.strokes if stroke.plays.isdigit() for s in stroke.plays}
    if pattern.holds == "bar":
        return len(named & set(shape.strings)) >= min(2, len(shape.strings))
    if named - set(shape.strings):
        return False
    if any(stroke.plays == BASS for stroke in pattern.strokes) and pattern.instrument in REACHES_OVER:
        pair = shape_basses(shape, board)
        lowest = board.pitch(pair[0].string, pair[0].fret) - board.capo
        return (
            pair[0].string == max(shape.strings)
            and lowest % 12 == bass_tones(shape.chord)[0]
            and len(above(shape, pair)) >= LEAST_STRUMMED
        )
    return True
