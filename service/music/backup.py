"""Backup: what is played behind others, made from the chords alone.

The shapes of a whole stretch are chosen together: each easy for itself, and near the one before it. A pattern then says
what is struck when. Everything is in the playing position, as a hand thinks; the capo stands in the passage.
"""

from collections.abc import Iterator, Sequence

from service.music.backup_patterns import ABOVE, BASS, Pattern, Stroke, pattern_named
from service.music.basslines import above, bass_pair, shape_basses, walk_notes
from service.music.fretboard import Fretboard, Place
from service.music.harmony import Chord
from service.music.licks import Change, Note
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.setting import Setting
from service.music.shapes import Shape
from service.music.strokes import Stretch, starts_of, stretches_of, strokes_over, walk_onsets
from service.music.voicings import shapes_along


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
    starts = starts_of(measures)
    if played.holds == "line":
        shapes: list[Shape | None] = [None] * len(stretches)
        pairs = [bass_pair(s.chord, board) if s.chord else None for s in stretches]
    else:
        shapes = shapes_along(stretches, board, played)
        pairs = [shape_basses(shape, board) if shape else None for shape in shapes]
    notes: list[Note] = []
    for index, (stretch, shape, pair) in enumerate(zip(stretches, shapes, pairs, strict=True)):
        if pair is None or stretch.chord is None:
            continue
        own = list(_struck(stretch, shape, pair, starts, measures, meter, board, played))
        following = stretches[index + 1] if index + 1 < len(stretches) else None
        onsets = walk_onsets(stretch, following, starts, measures, meter, played)
        into = pairs[index + 1] if onsets else None
        if into is not None:
            steps = walk_notes(pair[0], into[0], onsets, stretch.end, stretch.chord, setting.position, board)
            own = _walked(own, pair[0], steps) if steps else own
        notes.extend(own)
    return notes


def _walked(own: Sequence[Note], root: Place, steps: Sequence[Note]) -> list[Note]:
    """A part with its last strokes given up for a walk, which starts from the root."""
    before = [note for note in own if note.onset < steps[0].onset]
    bar = max((note.onset for note in before), default=0)
    alone = [note for note in before if note.onset == bar]
    if len(alone) == 1:
        lasts = min(alone[0].duration, steps[0].onset - bar)
        before[before.index(alone[0])] = Note(bar, root.string, root.fret, lasts)
    return [*before, *steps]


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


def _struck(
    stretch: Stretch,
    shape: Shape | None,
    pair: tuple[Place, Place],
    starts: Sequence[int],
    measures: Sequence[int],
    meter: Meter,
    board: Fretboard,
    pattern: Pattern,
) -> Iterator[Note]:
    basses = 0
    for onset, end, stroke, fresh in strokes_over(stretch, starts, measures, meter, pattern):
        if fresh:
            basses = 0
        places = [pair[basses % 2]] if stroke.plays == BASS else _places(stroke, shape, pair, board)
        basses += stroke.plays == BASS
        fingers = stroke.fingers.ljust(len(places))
        for place, finger in zip(places, fingers, strict=False):
            yield Note(onset, place.string, place.fret, end - onset, None, finger.strip() or None)


def _places(stroke: Stroke, shape: Shape | None, pair: tuple[Place, Place], board: Fretboard) -> list[Place]:
    """The strings of a stroke from the lowest up, in the shape."""
    if shape is None:
        return []
    if stroke.plays == ABOVE:
        return above(shape, pair)
    strings = (
        [int(s) for s in stroke.plays] if stroke.plays.isdigit() else sorted(shape.strings, reverse=True)
    )
    short = board.instrument.short_string
    if short and not stroke.plays.isdigit():
        strings = [string for string in strings if string != short[0]]
    if short and shape.drone == "foreign" and stroke.plays == str(short[0]) and _grates(shape.chord, board):
        strings = [4]  # the thumb goes inside instead
    return [Place(s, shape.frets[s - 1] or 0) for s in strings if s in shape.strings]


def _grates(chord: Chord, board: Fretboard) -> bool:
    """Whether the drone lies a semitone under root or third: there it is no drone but a wrong note. Common practice."""
    short = board.instrument.short_string
    if short is None:
        return False
    drone = (board.pitch(short[0], 0) - board.capo) % 12
    fundamental = {place * 7 % 12 for place in chord.places[:2]}
    return (drone + 1) % 12 in fundamental
