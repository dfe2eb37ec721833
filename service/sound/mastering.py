"""Every file equally loud, no peak over the ceiling.

Loudness is measured as ITU-R BS.1770 says (K weighting, gating), on windows spread over the file. Peaks that would
pass the ceiling are turned down for some milliseconds around them by a gain curve that is known before a sample is
written.
"""

import math

import numpy as np
from numpy.typing import NDArray

from service.sound.strings import RATE

Samples = NDArray[np.float32]
LOUDNESS_LUFS = -18.0  # ours: between broadcast (-23) and streaming (-14), with room for plucked peaks
CEILING_DBFS = -2.0  # ours: a lossy coder and a converter add up to a dB of their own
FRAME = 64  # samples that share one measured peak
WINDOW = 17_640  # samples of a loudness window: .4 s, published, ITU-R BS.1770
MOST_WINDOWS = 64  # measured of one file; ours, so that an hour costs no more than a minute
_ABSOLUTE_GATE = -70.0  # LUFS; published, ITU-R BS.1770
_RELATIVE_GATE = -10.0  # LU; published, ITU-R BS.1770
_OFFSET = -0.691  # published, ITU-R BS.1770
_RAMP = (np.arange(FRAME, dtype=np.float32) / FRAME)[None, :]
_RADIUS = 16  # frames that the gain takes to go down and up again: 23 ms; ours
_CURVE_FRAMES = 65_536  # of the curve worked out at once, so that an hour takes little memory; ours
MOST_TURNED_DOWN_DB = (
    2.5  # a peak; more would level melody and fill. A line with much silence stays softer instead; ours
)
# Biquads (b, a) of the K weighting at 48 kHz; published, ITU-R BS.1770.
_K_RATE = 48_000
_K_STAGES = (
    ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585)),
    ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
)


def k_weights(samples: int) -> NDArray[np.float64]:
    """Power gain of the K weighting for each bin of a real transform of so many samples."""
    turns = np.exp(-2j * np.pi * np.fft.rfftfreq(samples, 1 / RATE) / _K_RATE)
    total = np.ones(len(turns))
    for b, a in _K_STAGES:
        top = b[0] + b[1] * turns + b[2] * turns**2
        total *= np.abs(top / (a[0] + a[1] * turns + a[2] * turns**2)) ** 2
    return total


def window_power(window: NDArray[np.float32], weights: NDArray[np.float64]) -> float:
    """K-weighted mean square of a window, shape (channels, WINDOW), channels added."""
    power = np.abs(np.fft.rfft(window, axis=-1)) ** 2
    return float(2 * np.sum(power * weights) / window.shape[-1] ** 2)


def loudness(powers: list[float]) -> float:
    """LUFS of windows, gated; minus infinity of silence."""
    loud = [p for p in powers if p > 0 and _lufs(p) > _ABSOLUTE_GATE]
    if not loud:
        return -math.inf
    gate = _lufs(sum(loud) / len(loud)) + _RELATIVE_GATE
    loud = [p for p in loud if _lufs(p) > gate]
    return _lufs(sum(loud) / len(loud))


def _lufs(power: float) -> float:
    return _OFFSET + 10 * math.log10(power)


def makeup(lufs: float, peak: float) -> float:
    """What to multiply by to reach LOUDNESS_LUFS, as far as MOST_TURNED_DOWN_DB lets a file of this peak; 1 for silence."""
    if math.isinf(lufs) or peak <= 0:
        return 1.0
    room = CEILING_DBFS + MOST_TURNED_DOWN_DB - 20 * math.log10(peak)
    return 10 ** (min(LOUDNESS_LUFS - lufs, room) / 20)


def frame_peaks(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Highest absolute value of each FRAME, over all channels; the last frame may be short."""
    peaks = np.maximum(samples.max(axis=0), -samples.min(axis=0)) if len(samples) > 1 else np.abs(samples[0])
    padded = np.pad(peaks, (0, -len(peaks) % FRAME))
    highest: NDArray[np.float32] = padded.reshape(-1, FRAME).max(axis=1)
    return highest


def gain_curve(peaks: Samples, factor: float) -> Samples:
    """A gain for the middle of each frame, ``factor`` included, so that no peak passes the ceiling.

    Each frame's need is spread over its neighbours, then smoothed over one frame less to each side, so that what is
    read between two frames is never above the need of either.
    """
    found = [
        _curved(peaks, factor, at, min(at + _CURVE_FRAMES, len(peaks)))
        for at in range(0, len(peaks), _CURVE_FRAMES)
    ]
    return np.concatenate(found)


def _curved(peaks: Samples, factor: float, start: int, stop: int) -> Samples:
    ceiling = 10 ** (CEILING_DBFS / 20)
    reach = 2 * _RADIUS  # frames beyond that have a say
    low, high = max(0, start - reach), min(len(peaks), stop + reach)
    need = np.minimum(1.0, ceiling / np.maximum(peaks[low:high].astype(np.float64) * factor, 1e-9))
    if need.min() >= 1.0:
        return np.full(stop - start, factor, dtype=np.float32)
    need = np.pad(need, (reach - (start - low), reach - (high - stop)), mode="edge")
    # the least of each frame and its neighbours, in doublings
    width, whole = 1, 2 * _RADIUS + 1
    while width < whole:
        step = min(width, whole - width)
        need = np.minimum(need[:-step], need[step:])
        width += step
    inner = 2 * _RADIUS - 1
    summed = np.cumsum(np.concatenate(([0.0], need[1:-1])))
    smooth = (summed[inner:] - summed[:-inner]) / inner
    curve: Samples = (np.minimum(smooth, 1.0) * factor).astype(np.float32)
    return curve


def mastered(samples: Samples, start: int, curve: Samples) -> Samples:
    """Samples from ``start`` of the file on, shape (channels, n), with the curve applied."""
    count = samples.shape[1]
    if count == 0:
        return samples
    # one more frame to each side than is touched, so that neighbours are known wherever a stretch begins
    first = max(0, start // FRAME - 1)
    last = min(len(curve), -(-(start + count) // FRAME) + 1)
    part = curve[first:last]
    if part.min() == part.max():
        even: Samples = samples * part[0]
        return even
    # straight lines from frame to frame; where two meet, the lower gain of both
    knots = np.minimum(np.append(part[:1], part), np.append(part, part[-1:]))
    gain = (knots[:-1, None] + (knots[1:] - knots[:-1])[:, None] * _RAMP).reshape(-1)
    shaped: Samples = samples * gain.astype(np.float32)[start - first * FRAME : start - first * FRAME + count]
    return shaped
