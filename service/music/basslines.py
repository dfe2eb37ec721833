"""Bass notes: root and fifth where they lie low, and the steps that walk into the next chord."""

from collections.abc import Iterator, Sequence

from service.music.fretboard import Fretboard, Place
from service.music.harmony import MAJOR_STEPS, Chord, Key
from service.music.licks import Note
from service.music.pitch import pitch_class
from service.music.shapes import Shape

FIFTHS = (1, -6, 8)  # plain, diminished, augmented, on the line of fifths above the root
MINOR_STEPS = (0, 2, -3, -1, 1, -4, -2)  # the minor scale's numbers 1-7 on the line of fifths
# Strings that a bass is played on in the shape, by instrument; elsewhere the lowest of the shape.
BASS_STRINGS = {"guitar": (4, 5, 6), "banjo": (3, 4)}
REACHES_OVER = ("guitar",)  # where the second bass may lie beside the shape
HAND_FRETS = 3  # frets above the lowest finger where a bass note is in reach
STRUMMED = 4  # strings that a strum takes above the basses, common practice
WALK_LEAP = 5  # semitones to the first step of a walk at most; ours
LETTERS = 7


def bass_tones(chord: Chord) -> tuple[int, int]:
    """Pitch classes that the bass takes in turn: root and fifth; over another bass that and the root."""
    root = pitch_class(chord.root)
    if chord.bass is not None:
        return pitch_class(chord.bass), root
    steps = {place - chord.root for place in chord.places}
    fifth = next((step for step in FIFTHS if step in steps), 0)
    return root, pitch_class(chord.root + fifth)


def low_place(board: Fretboard, tone: int) -> Place:
    """The lowest place of a pitch class."""
    lowest = min(board.tuning.pitches)
    return place_of(board, lowest + (tone - lowest) % 12)


def place_of(board: Fretboard, pitch: int) -> Place:
    """Where a pitch (without capo) lies nearest to the nut."""
    return min(board.places(pitch + board.capo), key=lambda place: place.fret)


def bass_pair(chord: Chord, board: Fretboard) -> tuple[Place, Place]:
    """Root and fifth on a bass: the root as low as it goes, the fifth under it if there is one, else above."""
    first, second = bass_tones(chord)
    low = low_place(board, first)
    pitch = board.pitch(low.string, low.fret) - board.capo
    down = (first - second) % 12
    under = pitch - down >= min(board.tuning.pitches)
    return low, place_of(board, pitch - down if under else pitch + (second - first) % 12)


def shape_basses(shape: Shape, board: Fretboard) -> tuple[Place, Place]:
    """The two bass notes that a hand holding a shape plays in turn; the same twice where there is but one.

    On a guitar the second one may be an open string beside the shape, or one that a finger reaches over to.
    """
    strings = BASS_STRINGS.get(board.instrument.id, ())
    first, second = bass_tones(shape.chord)

    def sounds(string: int, fret: int) -> int:
        return board.pitch(string, fret) - board.capo

    held = [Place(s, shape.frets[s - 1] or 0) for s in strings if s in shape.strings]
    if not held:
        lowest = max(shape.strings)
        only = Place(lowest, shape.frets[lowest - 1] or 0)
        return only, only
    order = (first, second)

    def rank(place: Place) -> tuple[int, int]:
        tone = sounds(place.string, place.fret)
        return (order.index(tone % 12) if tone % 12 in order else len(order), tone)

    root = min(held, key=rank)
    if board.instrument.id not in REACHES_OVER:
        others = [place for place in held if place != root]
        return root, (others[0] if others else root)
    near = range(max(1, shape.lies), max(1, shape.lies) + HAND_FRETS + 1)
    beside = [
        (0.0 if string in shape.strings or fret == 0 else 1.0, sounds(string, fret), Place(string, fret))
        for string in strings
        for fret in ((shape.frets[string - 1] or 0,) if string in shape.strings else (0, *near))
        if sounds(string, fret) % 12 == second and string != root.string
    ]
    return root, min(beside, default=(0.0, 0, root))[2]


def scale_places(key: Key, chord: Chord) -> tuple[int, ...]:
    """Seven tones on the line of fifths: the key's, with the chord's own where they differ."""
    steps = MINOR_STEPS if key.mode == "minor" else MAJOR_STEPS
    letters = {(key.tonic + step) % LETTERS: key.tonic + step for step in steps}
    letters.update({place % LETTERS: place for place in chord.places})
    return tuple(letters.values())


def above(shape: Shape, pair: tuple[Place, Place]) -> list[Place]:
    """What a strum takes: the strings above the basses, four at most, the lowest first."""
    lowest = min(STRUMMED, *(place.string - 1 for place in pair))
    return [Place(s, shape.frets[s - 1] or 0) for s in sorted(shape.strings, reverse=True) if s <= lowest]


def walk_notes(
    before: Place,
    into: Place,
    onsets: Sequence[int],
    end: int,
    chord: Chord,
    key: Key,
    board: Fretboard,
) -> list[Note]:
    """Two steps of the key from one bass note into another, low on the neck; none where they would leap."""
    strings = BASS_STRINGS.get(board.instrument.id, range(1, board.instrument.strings + 1))

    def sounds(place: Place) -> int:
        return board.pitch(place.string, place.fret) - board.capo

    pitches = walk(sounds(before), sounds(into), key, chord, min(board.tuning.pitches))
    if pitches is None:
        return []
    ways = [
        [place for place in board.places(pitch + board.capo) if place.string in strings] for pitch in pitches
    ]
    if not all(ways):
        return []
    places = [min(way, key=lambda place: place.fret) for way in ways]
    ends = (*onsets[1:], end)
    return [
        Note(onset, place.string, place.fret, until - onset)
        for onset, until, place in zip(onsets, ends, places, strict=True)
    ]


def walk(before: int, target: int, key: Key, chord: Chord, lowest: int) -> tuple[int, int] | None:
    """Two scale steps that lead from a pitch into ``target``, from the side that is nearer; None if neither is near."""
    classes = {pitch_class(place) for place in scale_places(key, chord)}
    ways = [tuple(_steps(target, by, classes))[::-1] for by in (-1, 1)]
    near = [
        (abs(first - before), first > target, (first, second))
        for first, second in ways
        if first >= lowest and first != before and abs(first - before) <= WALK_LEAP
    ]
    return min(near)[2] if near else None


def _steps(target: int, by: int, classes: set[int]) -> Iterator[int]:
    """The two scale tones next to a pitch, the nearer first."""
    found: list[int] = []
    pitch = target + by
    while len(found) < 2:
        if pitch % 12 in classes:
            found.append(pitch)
        pitch += by
    yield from found
