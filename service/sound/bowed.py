"""A bowed string: it sounds as long as the bow goes, so it is put together of partials, not plucked."""

import math
from functools import lru_cache

import numpy as np

from service.music.pitch import frequency
from service.sound.characters import Bowed
from service.sound.strings import HIGHEST_HZ, RATE, Glide, Wave, response, wave_table

_SHIMMER_HZ = 3.1  # how quickly a bow's pressure wanders; ours
_SHIMMER = 0.10  # of the level; ours
_SWELL_SECONDS = 0.35  # a stroke settles a little after it has spoken; ours
_SWELL = 0.12  # by this share; ours
_TABLE = 8192


def bowed(
    character: Bowed,
    pitch: int,
    samples: int,
    *,
    soft: float = 1.0,
    slurred: bool = False,
    glide: Glide | None = None,
) -> Wave:
    """``samples`` of one bow stroke at MIDI ``pitch``, not yet levelled; vibrato swings evenly about the pitch.

    The same arguments give the same samples, and fewer samples the beginning of more.
    """
    hz = frequency(pitch)
    t = np.arange(samples) / RATE
    grown = np.clip((t - character.vibrato_after) / character.vibrato_after, 0.0, 1.0)
    cents = character.vibrato_cents * grown * np.sin(2 * np.pi * character.vibrato_hz * t)
    if glide is not None:
        cents += glide.cents(t)
    turns = np.cumsum(hz / RATE * np.exp2(cents / 1200))
    at = (turns % 1.0) * _TABLE
    whole = at.astype(np.intp)
    part = at - whole
    table = _table(character, pitch, soft)
    wave: Wave = table[whole] * (1 - part) + table[whole + 1] * part
    rise = character.slurred if slurred else character.rise
    wave *= 1 - _SHIMMER * (0.5 + 0.5 * np.sin(2 * np.pi * _SHIMMER_HZ * t + pitch))
    wave *= 1 + _SWELL * np.exp(-t / _SWELL_SECONDS)
    wave += _hair(samples) * 10 ** (character.noise / 20)
    spoken = min(samples, round(rise * RATE))
    wave[:spoken] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(spoken) / max(1, round(rise * RATE)))
    return wave


@lru_cache(maxsize=64)
def _table(character: Bowed, pitch: int, soft: float) -> Wave:
    """A bow's saw-tooth through the body, with its first sample again at the end."""
    hz = frequency(pitch)
    numbers = np.arange(1, max(2, math.floor(HIGHEST_HZ / hz)) + 1)
    at = numbers * hz
    rolled = 1 / (1 + (at / (character.soft_hz * soft)) ** 2)
    sizes = rolled / numbers**character.tilt * response(character.body, character.body_floor_hz, at)
    table = wave_table(sizes, np.random.default_rng(pitch).uniform(-0.6, 0.6, len(numbers)))
    return np.append(table, table[0])


def _hair(samples: int) -> Wave:
    """The hiss of the hair: noise, lows taken out, the same each time."""
    drawn = np.random.default_rng(2).standard_normal(samples + 1)
    return np.diff(drawn) * math.sqrt(0.5)
