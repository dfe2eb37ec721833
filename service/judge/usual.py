"""Which chords are usual in a key, and which follow which. Common practice of string-band tunes, no source;
the numbers are our choice and are the whole of what is assumed about harmony.
"""

from functools import lru_cache

from service.music.harmony import Chord, Key

Degree = tuple[int, str]  # semitones above the tonic, kind of third (major, minor, dim)

# How likely a chord is before anything is heard, by mode. What is not listed is RARE.
PRIOR: dict[str, dict[Degree, float]] = {
    "major": {
        (0, "major"): 0.45,
        (7, "major"): 0.24,
        (5, "major"): 0.14,
        (2, "minor"): 0.05,
        (9, "minor"): 0.05,
        (10, "major"): 0.02,
        (2, "major"): 0.02,
        (4, "minor"): 0.012,
        (11, "dim"): 0.003,
    },
    "minor": {
        (0, "minor"): 0.42,
        (10, "major"): 0.17,
        (7, "major"): 0.14,
        (5, "minor"): 0.08,
        (3, "major"): 0.08,
        (7, "minor"): 0.04,
        (8, "major"): 0.04,
        (5, "major"): 0.02,
        (2, "dim"): 0.003,
    },
}
# How much likelier a chord becomes after another; everything else counts once.
STAYS = 1.6
SUCCESSION: dict[tuple[Degree, Degree], float] = {
    ((7, "major"), (0, "major")): 2.2,
    ((7, "major"), (0, "minor")): 2.2,
    ((5, "major"), (7, "major")): 1.8,
    ((5, "minor"), (7, "major")): 1.8,
    ((2, "minor"), (7, "major")): 1.8,
    ((2, "major"), (7, "major")): 3.0,
    ((10, "major"), (0, "minor")): 1.5,
    ((7, "major"), (5, "major")): 0.5,
}
# How much likelier the tonic or the dominant is at a place of an eight-measure part (counted from 0), and at the end.
OPENS_HOME, CLOSES_HOME, HALFWAY, BEFORE_THE_CLOSE, ENDS_HOME = 2.0, 2.0, 1.4, 1.4, 6.0
PART_MEASURES = 8

# Semitones above the tonic that belong to a key; minor has its sixth and seventh steps both ways.
SCALES = {
    "major": frozenset((0, 2, 4, 5, 7, 9, 11)),
    "minor": frozenset((0, 2, 3, 5, 7, 8, 9, 10, 11)),
}

# How much at home a chord is in its key, 0..1, by mode; what is not listed is a GUEST.
HOME: dict[str, dict[Degree, float]] = {
    "major": {
        (0, "major"): 1.0,
        (7, "major"): 0.9,
        (5, "major"): 0.85,
        (9, "minor"): 0.6,
        (2, "minor"): 0.55,
        (10, "major"): 0.55,
        (4, "minor"): 0.35,
        (11, "dim"): 0.25,
    },
    "minor": {
        (0, "minor"): 1.0,
        (10, "major"): 0.85,
        (7, "major"): 0.8,
        (5, "minor"): 0.8,
        (7, "minor"): 0.65,
        (5, "major"): 0.6,
        (8, "major"): 0.6,
        (3, "major"): 0.6,
        (2, "dim"): 0.2,
    },
}
GUEST = 0.3


def degree(chord: Chord, key: Key) -> Degree:
    root, kind = chord.family
    return ((root - key.tonic_class) % 12, kind)


@lru_cache(maxsize=4096)
def at_home(chord: Chord, key: Key) -> float:
    """How much at home a chord is in a key, 0..1."""
    return HOME[key.mode].get(degree(chord, key), GUEST)


def follows(before: Degree, after: Degree, mode: str) -> float:
    """How likely ``after`` comes in the measure after ``before``; not yet a share."""
    likely = PRIOR[mode][after]
    if before == after:
        return likely * STAYS
    return likely * SUCCESSION.get((before, after), 1.0)


def placed(here: Degree, measure: int, measures: int) -> float:
    """How much likelier a chord is at a measure (from 0) of so many: parts open and close at home."""
    tonic, dominant = here[0] == 0, here == (7, "major")
    within = measure % PART_MEASURES
    likelier = 1.0
    if tonic and measure == measures - 1:
        likelier *= ENDS_HOME
    if tonic and within == 0:
        likelier *= OPENS_HOME
    if tonic and within == PART_MEASURES - 1:
        likelier *= CLOSES_HOME
    if (tonic or dominant) and within == PART_MEASURES // 2 - 1:
        likelier *= HALFWAY
    if dominant and within == PART_MEASURES - 2:
        likelier *= BEFORE_THE_CLOSE
    return likelier
