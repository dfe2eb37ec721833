"""The metronome: two short blocks of wood, the downbeat's higher."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from service.sound.strings import RATE

_SECONDS = 0.07
# (Hz against the first, level, decay in seconds): partials that no string has. Ours.
_PARTIALS = ((1.0, 1.0, 0.012), (1.53, 0.5, 0.008), (2.71, 0.35, 0.004))
DOWNBEAT_HZ = 1870.0  # ours; above the strings' strongest partials and between their pitches
BEAT_HZ = 1240.0


@lru_cache(maxsize=2)
def click_wave(downbeat: bool) -> NDArray[np.float32]:
    """One click, its peak at 1."""
    t = np.arange(round(_SECONDS * RATE)) / RATE
    hz = DOWNBEAT_HZ if downbeat else BEAT_HZ
    wave = np.zeros_like(t)
    for ratio, level, seconds in _PARTIALS:
        wave += level * np.exp(-t / seconds) * np.sin(2 * np.pi * hz * ratio * t)
    wave /= np.abs(wave).max()
    fade = round(0.01 * RATE)
    wave[-fade:] *= np.linspace(1.0, 0.0, fade)
    return wave.astype(np.float32)
