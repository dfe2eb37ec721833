"""The key of a melody by its notes, for files that name none: Krumhansl and Schmuckler's way."""

from collections.abc import Iterable
from math import sqrt

from service.music.harmony import Key
from service.music.pitch import sane_spelling
from service.music.tunes import MelodyNote

# How well each semitone above the tonic was felt to fit. Published: Krumhansl and Kessler, 1982.
_PROFILES = {
    "major": (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88),
    "minor": (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17),
}
_CLASSES = 12
_RELATIVE = 3  # fifths between a minor key and the major key of its signature


def likeliest_key(notes: Iterable[MelodyNote]) -> Key:
    """The key whose profile goes best with how long each tone sounds; C major of no notes."""
    lasts = [0.0] * _CLASSES
    for note in notes:
        lasts[note.pitch % _CLASSES] += note.duration
    tonic, mode = max(
        ((tonic, mode) for mode in _PROFILES for tonic in range(_CLASSES)),
        key=lambda key: _correlation(_PROFILES[key[1]], lasts[key[0] :] + lasts[: key[0]]),
    )
    relative = _RELATIVE if mode == "minor" else 0
    return Key(sane_spelling(7 * tonic - relative) + relative, mode)


def _correlation(one: Iterable[float], other: Iterable[float]) -> float:
    """Pearson's, 0 where one does not change."""
    a, b = list(one), list(other)
    mean_a, mean_b = sum(a) / len(a), sum(b) / len(b)
    away_a, away_b = [x - mean_a for x in a], [x - mean_b for x in b]
    spread = sqrt(sum(x * x for x in away_a) * sum(x * x for x in away_b))
    return sum(x * y for x, y in zip(away_a, away_b, strict=True)) / spread if spread else 0.0
