"""Backup: what is played behind others, made from the chords alone.

The shapes of a whole stretch are chosen together: each easy for itself, and near the one before it. A pattern then says
what is struck when. Everything is in the playing position, as a hand thinks; the capo stands in the passage.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from service.music.backup_patterns import ABOVE, BASS, Pattern, Stroke, pattern_named
from service.music.basslines import bass_pair, bass_tones, place_of, shape_basses, walk
from service.music.fretboard import Fretboard, Place
from service.music.harmony import Chord, Key
from service.music.licks import Change, Note
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.setting import Setting
from service.music.shapes import Shape, double_stops, shapes
from service.music.tunes import merged

# Ours. How many shapes of a chord are weighed against each other, and what going from one to the next costs, in fingers.
CONSIDERED = 16
LOW_POSITION = 5  # fret of the lowest finger, where chords are held openly
LEAST_OPEN = {"guitar": 4}  # strings of such a chord; elsewhere as for any shape
MOVE = 0.03  # each mm that the hand goes along the neck
REGRIP = 0.15  # each string that is stopped otherwise than before
WALK_FROM = 2  # measures of a chord from which the bass has time to walk out of it; ours
WALK_SLOTS = {"two": (4, 6), "three": (2, 4), "six": (3, 5)}  # where its two steps stand in the last measure
WALK_LEAP = 7  # semitones to the first of them at most; ours
FALLBACKS = {"minor": "m", "dim": "dim", "major": ""}  # what a chord is when its finer tones have no place


@dataclass(frozen=True, slots=True)
class Stretch:
    """A chord from one tick to another."""

    onset: int
    end: int
    chord: Chord | None


def backup(
    changes: Sequence[Change],
    measures: Sequence[int],
    meter: Meter,
    setting: Setting,
    pattern: str | None = None,
) -> Passage:
    """A part behind others over a chart.

    ``changes`` are in the playing position, with onsets in ticks; ``measures`` are lengths in ticks, odd ones too: a short
    measure has as much of the pattern as there is room for. Without a pattern the usual one of the instrument in this meter
    is played. Where there is no chord there is silence. Raises DomainError ``unknown-pattern``.
    """
    played = pattern_named(setting.instrument.id, meter, pattern)
    notes = strokes_of(played, changes, measures, meter, setting)
    return passage_of(setting, meter, measures, notes, changes)


def strokes_of(
    played: Pattern,
    changes: Sequence[Change],
    measures: Sequence[int],
    meter: Meter,
    setting: Setting,
) -> list[Note]:
    """The notes of a pattern over a chart."""
    board = setting.fretboard
    stretches = stretches_of(changes, sum(measures))
    starts = _starts(measures)
    if played.holds == "line":
        return _line(stretches, starts, measures, meter, setting, played)
    return [
        note
        for stretch, shape in zip(stretches, shapes_along(stretches, board, played), strict=True)
        if shape is not None
        for note in _struck(stretch, shape, starts, measures, meter, board, played)
    ]


def passage_of(
    setting: Setting,
    meter: Meter,
    measures: Sequence[int],
    notes: Sequence[Note],
    changes: Sequence[Change],
) -> Passage:
    """A passage in a setting; a short string that goes up with the capo is not mentioned."""
    short = setting.instrument.short_string
    usual = Fretboard(setting.instrument, setting.tuning, setting.capo)
    stop = None if short is None or usual.pitch(short[0], 0) == setting.stop else setting.stop
    return Passage(
        setting.instrument,
        setting.tuning,
        meter,
        tuple(measures),
        tuple(sorted(notes, key=lambda note: (note.onset, note.string))),
        tuple(changes),
        setting.capo,
        stop,
    )


def stretches_of(changes: Sequence[Change], end: int) -> list[Stretch]:
    """Where each chord begins and ends; the same chord again is one."""
    kept = [
        change for change in merged(sorted(changes, key=lambda change: change.onset)) if change.onset < end
    ]
    ends = [*(change.onset for change in kept[1:]), end]
    return [Stretch(change.onset, stop, change.chord) for change, stop in zip(kept, ends, strict=True)]


def _starts(measures: Sequence[int]) -> list[int]:
    starts = [0]
    for ticks in measures[:-1]:
        starts.append(starts[-1] + ticks)
    return starts


# --- which shapes --------------------------------------------------------------------------------------


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


@lru_cache(maxsize=4096)
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
    return MOVE * apart + REGRIP * (len(stopped) - len(set(before.stopped) & set(stopped)))


@lru_cache(maxsize=2048)
def _candidates(chord: Chord, board: Fretboard, pattern: Pattern) -> tuple[Shape, ...]:
    """Shapes that the pattern can be played over; of a plainer chord where a fine one has no place."""
    for plainer in dict.fromkeys((chord, Chord(chord.root, FALLBACKS[chord.family[1]]))):
        found = [shape for shape in _asked(plainer, board, pattern) if _serves(shape, board, pattern)]
        if found:
            return tuple(found[:CONSIDERED])
    return (
        shapes(Chord(chord.root, FALLBACKS[chord.family[1]]), board, least=2)
        or double_stops(Chord(chord.root, "5"), board)
    )[:CONSIDERED]


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
        return bool(named & set(shape.strings))
    if named - set(shape.strings):
        return False
    if any(stroke.plays == BASS for stroke in pattern.strokes) and pattern.instrument == "guitar":
        root, other = shape_basses(shape, board)
        low = max(shape.strings)
        return root.string == low and low >= 4 and len(_above(shape, (root, other))) >= 3
    return True


# --- what is struck ------------------------------------------------------------------------------------


def _struck(
    stretch: Stretch,
    shape: Shape,
    starts: Sequence[int],
    measures: Sequence[int],
    meter: Meter,
    board: Fretboard,
    pattern: Pattern,
) -> Iterator[Note]:
    pair = shape_basses(shape, board)
    basses = 0
    for onset, end, stroke, fresh in strokes_over(stretch, starts, measures, meter, pattern):
        if fresh:
            basses = 0
        places = _places(stroke, shape, pair, basses, board)
        basses += stroke.plays == BASS
        fingers = stroke.fingers.ljust(len(places))
        for place, finger in zip(places, fingers, strict=False):
            yield Note(onset, place.string, place.fret, end - onset, None, finger.strip() or None)


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


def _places(
    stroke: Stroke, shape: Shape, pair: tuple[Place, Place], basses: int, board: Fretboard
) -> list[Place]:
    """The strings of a stroke from the lowest up, in the shape."""
    if stroke.plays == BASS:
        return [pair[basses % 2]]
    if stroke.plays == ABOVE:
        return _above(shape, pair)
    strings = (
        [int(s) for s in stroke.plays] if stroke.plays.isdigit() else sorted(shape.strings, reverse=True)
    )
    short = board.instrument.short_string
    if short and not stroke.plays.isdigit():
        strings = [string for string in strings if string != short[0]]
    if short and shape.drone == "foreign" and stroke.plays == str(short[0]) and _grates(shape.chord, board):
        strings = [4]  # the thumb goes inside instead
    return [Place(s, shape.frets[s - 1] or 0) for s in strings if s in shape.strings]


def _above(shape: Shape, pair: tuple[Place, Place]) -> list[Place]:
    """What a strum takes: the strings above the basses, four at most."""
    lowest = min(4, *(place.string - 1 for place in pair))
    return [Place(s, shape.frets[s - 1] or 0) for s in sorted(shape.strings, reverse=True) if s <= lowest]


def _grates(chord: Chord, board: Fretboard) -> bool:
    """Whether the drone lies a semitone under root or third: there it is no drone but a wrong note. Common practice."""
    short = board.instrument.short_string
    if short is None:
        return False
    drone = (board.pitch(short[0], 0) - board.capo) % 12
    fundamental = {place * 7 % 12 for place in chord.places[:2]}
    return (drone + 1) % 12 in fundamental


# --- the bass ------------------------------------------------------------------------------------------


def _line(
    stretches: Sequence[Stretch],
    starts: Sequence[int],
    measures: Sequence[int],
    meter: Meter,
    setting: Setting,
    pattern: Pattern,
) -> list[Note]:
    """Root and fifth, walking into a change where there is time."""
    board = setting.fretboard
    notes: list[Note] = []
    for index, stretch in enumerate(stretches):
        if stretch.chord is None:
            continue
        pair = bass_pair(stretch.chord, board)
        after = stretches[index + 1].chord if index + 1 < len(stretches) else None
        steps = _walk_out(stretch, after, starts, measures, meter, pattern)
        count = 0
        own: list[Note] = []
        for onset, end, _, fresh in strokes_over(stretch, starts, measures, meter, pattern):
            count = 0 if fresh else count + 1
            place = pair[count % 2]
            own.append(Note(onset, place.string, place.fret, end - onset))
        if steps:
            before = [note for note in own if note.onset < steps[0]]
            walked = _walked(pair[0], stretch.chord, after, steps, stretch.end, setting.position, board)
            if walked:
                lasts = min(before[-1].duration, steps[0] - before[-1].onset)
                root = Note(before[-1].onset, pair[0].string, pair[0].fret, lasts)
                own = [*before[:-1], root, *walked]
        notes.extend(own)
    return notes


def _walk_out(
    stretch: Stretch,
    after: Chord | None,
    starts: Sequence[int],
    measures: Sequence[int],
    meter: Meter,
    pattern: Pattern,
) -> tuple[int, ...]:
    """Onsets of the steps into the next chord; none where there is no time, or nowhere to go."""
    if after is None or stretch.chord is None or stretch.end not in starts or len(pattern.strokes) == 0:
        return ()
    same = bass_tones(after)[0] == bass_tones(stretch.chord)[0]
    last = starts.index(stretch.end) - 1
    full = measures[last] == meter.measure_ticks
    long = stretch.end - stretch.onset >= WALK_FROM * meter.measure_ticks
    if same or not full or not long or pattern.name != "root and fifth":
        return ()
    return tuple(starts[last] + slot * meter.slot_ticks for slot in WALK_SLOTS[pattern.family])


def _walked(
    before: Place,
    chord: Chord,
    after: Chord | None,
    steps: Sequence[int],
    end: int,
    key: Key,
    board: Fretboard,
) -> list[Note]:
    if after is None:
        return []
    root, _ = bass_pair(after, board)
    pitches = walk(
        board.pitch(before.string, before.fret) - board.capo,
        board.pitch(root.string, root.fret) - board.capo,
        key,
        chord,
        min(board.tuning.pitches),
        WALK_LEAP,
    )
    if pitches is None:
        return []
    notes = []
    for onset, until, pitch in zip(steps, (*steps[1:], end), pitches, strict=True):
        place = place_of(board, pitch)
        notes.append(Note(onset, place.string, place.fret, until - onset))
    return notes
