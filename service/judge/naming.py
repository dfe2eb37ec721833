"""Which chords was a line made over? The likeliest way through, measure by measure.

Each measure is heard against every usual chord of the key; what is heard, how usual the chord is, which chord
likely follows which, and where parts open and close are weighed together over the whole line (forward and
backward sums, exact), so that each name comes with a confidence.
"""

import math
from collections.abc import Sequence
from functools import lru_cache

from service.judge.emphasis import CHORD_TONE_SHARE, HELD_POWER, place_of
from service.judge.usual import PRIOR, SCALES, Degree, follows, placed
from service.music.harmony import Chord, Key, key_named
from service.music.meter import Meter, meter_named
from service.music.pitch import nearest_spelling

# How a chord's own notes are shared out among its tones, and a dominant's seventh beside them. Ours.
TONE_SHARES = (0.37, 0.33, 0.30)
SEVENTH_SHARE = 0.10
IN_SCALE = 0.9  # of what is not in the chord, so much is at least in the key; common practice
TRUST = 0.8  # notes of a measure are not independent of each other: each counts for so much
PLACED_FROM = 4  # measures from which a line has a beginning and an end that say something
SHOWN = 3  # names given for a measure, likeliest first
TRIADS = {"major": (0, 4, 7), "minor": (0, 3, 7), "dim": (0, 3, 6)}
DOMINANTS: tuple[Degree, ...] = ((7, "major"), (2, "major"))  # chords that take a seventh
SUFFIX = {"major": "", "minor": "m", "dim": "dim"}
Sounds = Sequence[tuple[int, int, int]]  # (onset, duration, MIDI pitch) in ticks


def name_chords(notes: Sounds, meter: str, key: str, measures: int) -> list[list[tuple[str, float]]]:
    """Per measure, chord names with a confidence 0..1, likeliest first.

    ``notes`` are (onset, duration, pitch) with onsets in ticks from the first bar line; what begins before
    it is a pickup and left out. A dominant is named as a seventh where its seventh sounds.
    """
    time, home = meter_named(meter), key_named(key)
    by_measure: list[list[tuple[int, int, int]]] = [[] for _ in range(measures)]
    for onset, duration, pitch in notes:
        index = onset // time.measure_ticks
        if 0 <= index < measures:
            by_measure[index].append((onset, duration, pitch))
    degrees = list(PRIOR[home.mode])
    heard = [
        [
            _loudness(sounds, time, home, here)
            + (math.log(placed(here, number, measures)) if measures >= PLACED_FROM else 0.0)
            for here in degrees
        ]
        for number, sounds in enumerate(by_measure)
    ]
    shares = _posterior(heard, home.mode)
    found = []
    for sounds, of in zip(by_measure, shares, strict=True):
        ranked = sorted(zip(of, range(len(degrees)), strict=True), key=lambda pair: (-pair[0], pair[1]))
        found.append([(_name(degrees[i], home, sounds), share) for share, i in ranked[:SHOWN]])
    return found


def _name(here: Degree, key: Key, sounds: Sounds) -> str:
    root = key.tonic_class + here[0]
    seventh = here in DOMINANTS and any((pitch - root) % 12 == 10 for _, _, pitch in sounds)
    place = nearest_spelling(root % 12, key.signature)
    return Chord(place, "7" if seventh else SUFFIX[here[1]]).name


def _loudness(sounds: Sounds, meter: Meter, key: Key, here: Degree) -> float:
    """Log-likelihood of what sounds in a measure over a chord."""
    logs = _logs(here, key)
    return TRUST * sum(
        float((max(1, duration) / meter.slot_ticks) ** HELD_POWER) * logs[place_of(onset, meter)][pitch % 12]
        for onset, duration, pitch in sounds
    )


@lru_cache(maxsize=1024)
def _logs(here: Degree, key: Key) -> dict[str, tuple[float, ...]]:
    """Log-likelihood of each pitch class over a chord, by place in the measure."""
    root = key.tonic_class + here[0]
    triad = [(root + step) % 12 for step in TRIADS[here[1]]]
    scale = {(key.tonic_class + step) % 12 for step in SCALES[key.mode]}
    outside = len(scale - set(triad)), 12 - len(scale | set(triad))
    found = {}
    for place, share in CHORD_TONE_SHARE.items():
        row = []
        for pitch in range(12):
            if pitch in triad:
                likely = share * TONE_SHARES[triad.index(pitch)]
            elif here in DOMINANTS and (pitch - root) % 12 == 10:
                likely = SEVENTH_SHARE
            elif pitch in scale:
                likely = (1 - share) * IN_SCALE / outside[0]
            else:
                likely = (1 - share) * (1 - IN_SCALE) / outside[1]
            row.append(math.log(likely))
        found[place] = tuple(row)
    return found


def _posterior(heard: Sequence[Sequence[float]], mode: str) -> list[list[float]]:
    """Share of each chord in each measure, over every way through."""
    prior, steps = _steps(mode)
    size = range(len(prior))
    if not heard:
        return []
    ahead = [[prior[j] + heard[0][j] for j in size]]
    for row in heard[1:]:
        before = ahead[-1]
        ahead.append([_log_sum([before[i] + steps[i][j] for i in size]) + row[j] for j in size])
    behind = [[0.0 for _ in size]]
    for row in reversed(heard[1:]):
        after = behind[-1]
        behind.append([_log_sum([steps[i][j] + row[j] + after[j] for j in size]) for i in size])
    found = []
    for forward, backward in zip(ahead, reversed(behind), strict=True):
        both = [a + b for a, b in zip(forward, backward, strict=True)]
        whole = _log_sum(both)
        found.append([math.exp(value - whole) for value in both])
    return found


@lru_cache(maxsize=2)
def _steps(mode: str) -> tuple[list[float], list[list[float]]]:
    """Log prior of each chord, and log share of each chord after each."""
    degrees = list(PRIOR[mode])
    rows = []
    for before in degrees:
        likely = [follows(before, after, mode) for after in degrees]
        rows.append([math.log(value / sum(likely)) for value in likely])
    return [math.log(value) for value in PRIOR[mode].values()], rows


def _log_sum(values: Sequence[float]) -> float:
    top = max(values)
    return top + math.log(sum(math.exp(value - top) for value in values))
