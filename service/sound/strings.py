"""A plucked string: a loop as long as one period, worked many samples at a time.

The string's wave runs round a delay; each time round it loses a little, highs more than lows. Delay and loss are one
short symmetric filter and a fractional delay (Lagrange, fifth order), so the period is exact. Because a period's worth
of samples depends on earlier periods alone, whole blocks are one convolution; later on, several times round are folded
into one longer filter, which gives the same samples with fewer steps. While the pitch glides the delay is read anew
for each sample.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.music.pitch import frequency
from service.sound.characters import Character, Mode

RATE = 44_100  # samples a second, of everything
Wave = NDArray[np.floating[Any]]
HIGHEST_HZ = 12_000.0  # no partial above: nothing folds back, and lossy coders drop it anyway; ours
_KNOCK_SECONDS = 0.25  # a body's own ring is let die away within this; ours
_TABLE = 8192  # points of one period's table; fine enough to read between them in a straight line
_ORDER = 5  # of the Lagrange delay; odd orders read in their middle never amplify
_MOST_LOSS = 0.2  # share of a neighbour in one section of the loop filter; below .25 no sign turns
_LONG_ENOUGH = 90  # samples of a block that are not worth folding; measured
_BLOCK = 512  # samples to fold shorter ones up to; measured
_LEAST_NULL = 0.05  # what is left of a partial whose node the pick hits: a pick has a width; ours
_SECOND_OF_COURSE = (
    0.38  # share of a course's sound by its second string: never equal, so they never cancel; ours
)
_CHIRP = (
    math.pi / 4
)  # phase of partial n is this times n squared: peaks 2.5 dB lower than of random ones; measured


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a string is set going. ``soft`` scales where the highs roll off, ``noise_db`` and ``knock_db`` are added
    to the character's, ``rise`` is seconds to full level, ``most_t60`` bounds the decay."""

    soft: float = 1.0
    noise_db: float = 0.0
    knock_db: float = 0.0
    rise: float = 0.0004
    most_t60: float = math.inf


@dataclass(frozen=True, slots=True)
class Glide:
    """From ``cents`` away at ``begins`` to the pitch at ``ends`` (seconds), as a finger moves: slow, quick, slow."""

    from_cents: float
    to_cents: float
    begins: float
    ends: float

    def cents(self, seconds: Wave) -> Wave:
        share = np.clip((seconds - self.begins) / (self.ends - self.begins), 0.0, 1.0)
        cents: Wave = self.from_cents + (self.to_cents - self.from_cents) * (
            0.5 - 0.5 * np.cos(np.pi * share)
        )
        return cents


def decay_seconds(character: Character, pitch: float, is_open: bool) -> float:
    """T60 of the fundamental: seconds to fall by 60 dB."""
    by_pitch: float = character.t60_slope ** ((pitch - 60) / 12)
    return character.t60 * by_pitch * (1.0 if is_open else character.fretted)


def plucked(
    character: Character, pitch: int, is_open: bool, samples: int, stroke: Stroke, glide: Glide | None = None
) -> Wave:
    """``samples`` of one stroke at MIDI ``pitch``, not yet levelled. The same arguments give the same samples, and
    fewer samples the beginning of more."""
    t60 = min(decay_seconds(character, pitch, is_open), stroke.most_t60)
    total = np.zeros(samples)
    table = _period(character, pitch, stroke.soft)
    for cents, level, longer in _voices(character):
        total += level * _loop(character, pitch + cents / 100, t60 * longer, table, samples, glide)
    rise = round(stroke.rise * RATE)
    total[:rise] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    level = math.sqrt(float(np.mean(table * table)))
    for burst, db in (
        (_noise(character), character.noise + stroke.noise_db),
        (_knock(character.body), character.knock + stroke.knock_db),
    ):
        length = min(samples, len(burst))
        total[:length] += burst[:length] * (level * 10 ** (db / 20))
    return total


def _voices(character: Character) -> tuple[tuple[float, float, float], ...]:
    """(cents, level, factor of the decay) of the loops that make one string or course."""
    if character.course_cents:
        return (
            (character.course_cents * _SECOND_OF_COURSE, 1 - _SECOND_OF_COURSE, 1.0),
            (-character.course_cents * (1 - _SECOND_OF_COURSE), _SECOND_OF_COURSE, 1.0),
        )
    return ((0.0, 1.0, 1.0), (0.0, 10 ** (character.after_db / 20), character.after))


# --- the loop ------------------------------------------------------------------------------------------


def _loop(
    character: Character, pitch: float, t60: float, table: Wave, samples: int, glide: Glide | None
) -> Wave:
    hz = frequency(pitch)
    if glide is None:
        kernel, delay = _filter(character, hz, t60)
        return _rung(table, np.empty(0), kernel, delay, RATE / hz, samples)
    lossy, sections = _loss(character, hz, t60)
    bent = _bent(table, lossy, sections, hz, glide, min(samples, math.ceil(glide.ends * RATE)))
    kernel, delay = _filter(character, hz * 2 ** (glide.to_cents / 1200), t60)
    return _rung(table, bent, kernel, delay, RATE / hz, samples)


def _rung(table: Wave, begun: Wave, kernel: Wave, delay: int, period: float, samples: int) -> Wave:
    """The wave from its first ``begun`` samples on; before those, one period of the table stands."""
    done = len(begun)
    before = delay + len(kernel)
    y = np.empty(before + samples)
    y[:before] = _read(table, np.arange(-before, 0) / period)
    y[before : before + done] = begun[:samples]
    at, end, fold = before + done, before + samples, 1
    most = _folds(delay)
    folded = {1: kernel[::-1].copy()}
    since = at - done  # no fold may look further back than what the loop itself has made
    while at < end:
        if fold < most and at - since >= 2 * fold * (delay + len(kernel)):
            fold *= 2
            half = folded[fold // 2]
            folded[fold] = np.convolve(half, half)
        taps = folded[fold]
        length = min(fold * delay, end - at)
        first = at - fold * delay - len(taps) + 1
        y[at : at + length] = np.correlate(y[first : first + length + len(taps) - 1], taps, "valid")
        at += length
    return y[before:]


def _folds(delay: int) -> int:
    fold = 1
    while delay < _LONG_ENOUGH and fold * 2 * delay <= _BLOCK:
        fold *= 2
    return fold


def _bent(table: Wave, lossy: Wave, sections: int, hz: float, glide: Glide, samples: int) -> Wave:
    """The gliding beginning: each sample is read one momentary period back, between samples (third-order Lagrange)."""
    periods = RATE / (hz * 2 ** (glide.cents(np.arange(-sections, samples + sections) / RATE) / 1200))
    before = math.ceil(periods.max()) + sections + 4
    y = np.empty(before + samples)
    y[:before] = _read(table, np.arange(-before, 0) / periods[0])
    step = math.floor(periods.min()) - sections - 4
    at = 0
    while at < samples:
        length = min(step, samples - at)
        where = (
            np.arange(at - sections, at + length + sections)
            - periods[at : at + length + 2 * sections]
            + before
        )
        whole = np.floor(where).astype(np.intp)
        f = where - whole
        read = (
            y[whole - 1] * (-f * (f - 1) * (f - 2) / 6)
            + y[whole] * ((f + 1) * (f - 1) * (f - 2) / 2)
            + y[whole + 1] * (-(f + 1) * f * (f - 2) / 2)
            + y[whole + 2] * ((f + 1) * f * (f - 1) / 6)
        )
        y[before + at : before + at + length] = np.correlate(read, lossy, "valid")
        at += length
    return y[before:]


def _filter(character: Character, hz: float, t60: float) -> tuple[Wave, int]:
    """What the wave meets each time round: taps, and whole samples of delay before the first."""
    lossy, sections = _loss(character, hz, t60)
    period = RATE / hz
    middle = (_ORDER - 1) // 2
    delay = math.floor(period - sections - middle)
    return np.convolve(lossy, _between(period - sections - delay)), delay


def _loss(character: Character, hz: float, t60: float) -> tuple[Wave, int]:
    """A symmetric filter that loses 60 dB in ``t60`` at ``hz`` and in the character's time in the highs."""
    high = max(character.bright_hz, 4 * hz)
    bright = min(character.bright_t60, 0.7 * t60)
    slow, quick = 10 ** (-3 / (t60 * hz)), 10 ** (-3 / (bright * hz))
    low_turn, high_turn = (1 - math.cos(2 * math.pi * f / RATE) for f in (hz, high))
    most = max(1, math.floor(RATE / hz / 6))
    sections = 1
    while True:
        ratio = (quick / slow) ** (1 / sections)
        share = (1 - ratio) / (2 * (high_turn - ratio * low_turn))
        if share <= _MOST_LOSS or sections >= most:
            break
        sections = min(most, max(sections + 1, math.ceil(sections * share / _MOST_LOSS)))
    share = min(share, _MOST_LOSS)
    gain = slow / (1 - 2 * share * low_turn) ** sections
    return gain * _powered(share, sections), sections


@lru_cache(maxsize=512)
def _powered_cached(share: float, sections: int) -> tuple[float, ...]:
    taps = np.array([1.0])
    base = np.array([share, 1 - 2 * share, share])
    while sections:
        if sections & 1:
            taps = np.convolve(taps, base)
        base = np.convolve(base, base)
        sections >>= 1
    return tuple(taps)


def _powered(share: float, sections: int) -> Wave:
    return np.array(_powered_cached(share, sections))


def _between(delay: float) -> Wave:
    """Lagrange taps for a delay in samples, 0 to the order."""
    taps = np.ones(_ORDER + 1)
    for k in range(_ORDER + 1):
        for j in range(_ORDER + 1):
            if j != k:
                taps[k] *= (delay - j) / (k - j)
    return taps


# --- what sets it going --------------------------------------------------------------------------------


def _period(character: Character, pitch: float, soft: float) -> Wave:
    """One period as it leaves the body: partials by picking place, pick, and the body's resonances."""
    hz = frequency(pitch)
    numbers = np.arange(1, max(2, math.floor(HIGHEST_HZ / hz)) + 1)
    at = numbers * hz
    place = np.maximum(np.abs(np.sin(np.pi * numbers * character.pick)), _LEAST_NULL)
    rolled = 1 / (1 + (at / (character.soft_hz * soft)) ** 2)
    size = place * rolled / numbers**character.tilt * response(character.body, character.body_floor_hz, at)
    return wave_table(size, _CHIRP * numbers**2)


def wave_table(sizes: Wave, phases: Wave) -> Wave:
    """One period of sines of these sizes, the first the fundamental; their power adds up to 1."""
    bins = np.zeros(_TABLE // 2 + 1, dtype=complex)
    bins[1 : len(sizes) + 1] = sizes * np.exp(1j * (phases - np.pi / 2))
    table: Wave = np.fft.irfft(bins, _TABLE)
    return table / math.sqrt(float(np.mean(table * table)))


def _read(table: Wave, turns: Wave) -> Wave:
    """The table at places counted in periods."""
    at = (turns % 1.0) * _TABLE
    whole = at.astype(np.intp)
    part = at - whole
    return table[whole % _TABLE] * (1 - part) + table[(whole + 1) % _TABLE] * part


def response(body: tuple[Mode, ...], floor_hz: float, at: Wave) -> Wave:
    """How loud a body makes a frequency, against one without resonances."""
    total = np.ones_like(at)
    for mode in body:
        total += (10 ** (mode.db / 20) - 1) / np.sqrt(1 + (mode.q * (at / mode.hz - mode.hz / at)) ** 2)
    heard: Wave = total / np.sqrt(1 + (floor_hz / at) ** 4)
    return heard


@lru_cache(maxsize=32)
def _knock(body: tuple[Mode, ...]) -> Wave:
    """The body's own short ring when it is struck through the string; power 1 in its first 20 ms."""
    t = np.arange(round(_KNOCK_SECONDS * RATE)) / RATE
    total = np.zeros_like(t)
    for mode in body:
        size = 10 ** (mode.db / 20) * (1 - np.exp(-t * 2 * mode.hz))
        total += size * np.exp(-t / mode.seconds) * np.sin(2 * np.pi * mode.hz * t)
    return _levelled(total * (0.5 + 0.5 * np.cos(np.pi * t / _KNOCK_SECONDS)))


@lru_cache(maxsize=32)
def _noise(character: Character) -> Wave:
    """The scrape of pick or finger: a few milliseconds of noise with the highs rolled off."""
    count = round(0.05 * RATE)
    drawn = np.random.default_rng(1).standard_normal(count)
    bins = np.fft.rfft(drawn)
    at = np.fft.rfftfreq(count, 1 / RATE)
    bins *= (at > 300) / (1 + (at / (1.2 * character.soft_hz)) ** 4)
    t = np.arange(count) / RATE
    shaped = np.fft.irfft(bins, count) * np.exp(-t / character.noise_seconds) * np.minimum(1, t / 0.0005)
    return _levelled(shaped)


def _levelled(wave: Wave) -> Wave:
    loud = wave[: round(0.02 * RATE)]
    return wave / math.sqrt(float(np.mean(loud * loud)))
