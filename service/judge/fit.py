"""Does a line fit its chords? A first, plain check: how much of what counts is at home in the chord.

Every note is worth something over its chord (a chord tone all, a colour tone most, a scale or blue tone
some, anything else nothing), weighed by the strength of its beat and by how long it lasts. Real tunes put
nine chord tones in ten on beat 1 and about half on the offbeats (computed over 424 reels), so a wrong
tone off the beat costs little.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from service.music.harmony import Chord, Key, chord_named, key_named
from service.music.meter import Meter, meter_named

# What a tone is worth over its chord. Common practice, no source.
WORTH = {"chord": 1.0, "colour": 0.7, "scale": 0.4, "blue": 0.4, "foreign": 0.0}
COLOURS = {"major": (2, 9), "minor": (2, 5, 10), "dim": (9,)}  # semitones above the root
BLUE = (3, 6, 10)  # semitones above the tonic, over a major key
MAJOR_SCALE = frozenset((0, 2, 4, 5, 7, 9, 11))
MINOR_SCALE = frozenset((0, 2, 3, 5, 7, 8, 10, 11))
STRONG = 0.5  # metrical weight from which a foreign tone is named as hurting
FIT_ENOUGH = 0.5  # a lick scores at least this over the chords it is used for


@dataclass(frozen=True, slots=True)
class Hurt:
    """A note that does not belong: its onset in ticks, pitch, and the chord it stands over."""

    onset: int
    pitch: int
    chord: str


@dataclass(frozen=True, slots=True)
class Fit:
    """``score`` 0..1 and the notes that hurt."""

    score: float
    hurts: tuple[Hurt, ...]

    @property
    def enough(self) -> bool:
        return self.score >= FIT_ENOUGH


def judge_fit(
    notes: Sequence[tuple[int, int, int]],
    changes: Sequence[tuple[int, str]],
    meter: str,
    key: str,
    drone: int | None = None,
) -> Fit:
    """Judge (onset, duration, MIDI pitch) notes against (onset, chord name) changes, in ticks.

    Pickup notes (negative onsets) are heard over the first chord. ``drone`` is a pitch that fits any
    chord: the banjo's open fifth string.
    """
    thinks = key_named(key)
    chords = [(onset, chord_named(name, thinks)) for onset, name in changes]
    return fit_of(notes, chords, meter_named(meter), thinks, drone)


def fit_of(
    notes: Sequence[tuple[int, int, int]],
    chords: Sequence[tuple[int, Chord | None]],
    meter: Meter,
    key: Key,
    drone: int | None = None,
) -> Fit:
    """``judge_fit`` with chords, meter and key already read."""
    onsets = [onset for onset, _ in chords]
    total = earned = 0.0
    hurts: list[Hurt] = []
    for index, (onset, duration, pitch) in enumerate(notes):
        if pitch == drone or not chords:
            continue
        chord = chords[max(0, bisect_right(onsets, onset) - 1)][1]
        if chord is None:
            continue
        weight = meter.weight_at(onset)
        worth = _worths(chord, key)[pitch % 12]
        if worth == WORTH["foreign"] and _slips_up(notes, index, chord, meter):
            worth = WORTH["blue"]
        total += weight * duration
        earned += weight * duration * worth
        if worth == WORTH["foreign"] and weight >= STRONG and onset >= 0:
            hurts.append(Hurt(onset, pitch, chord.name))
    return Fit(earned / total if total else 1.0, tuple(hurts))


def _slips_up(notes: Sequence[tuple[int, int, int]], index: int, chord: Chord, meter: Meter) -> bool:
    """Whether a note moves up a semitone into a chord tone within a beat: a third slid into from below."""
    onset, _, pitch = notes[index]
    return any(
        following == pitch + 1 and following % 12 in chord.pitch_classes
        for after, _, following in notes[index + 1 : index + 4]
        if 0 < after - onset <= meter.beat_ticks
    )


@lru_cache(maxsize=4096)
def _worths(chord: Chord, key: Key) -> tuple[float, ...]:
    """What each of the twelve pitch classes is worth over a chord."""
    root, kind = chord.family
    scale = MINOR_SCALE if key.mode == "minor" else MAJOR_SCALE
    found = []
    for pitch in range(12):
        above_tonic = (pitch - key.tonic_class) % 12
        if pitch in chord.pitch_classes:
            name = "chord"
        elif (pitch - root) % 12 in COLOURS[kind] and above_tonic in scale:
            name = "colour"
        elif above_tonic in scale:
            name = "scale"
        elif above_tonic in BLUE:
            name = "blue"
        else:
            name = "foreign"
        found.append(WORTH[name])
    return tuple(found)
