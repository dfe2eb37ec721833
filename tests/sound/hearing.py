"""What the tests hear with: an outside decoder, an outside estimator of pitch, and rulers."""

import io
import math
from collections.abc import Sequence
from functools import cache

import av
import numpy as np
import parselmouth
from numpy.typing import NDArray

from service.music.instruments import Instrument, instrument_named
from service.music.licks import Note
from service.music.meter import meter_named
from service.music.passages import Passage
from service.music.timeline import Part, Plan
from service.notation.one_line import read_one_line
from service.sound.notes import NoteCache
from service.sound.playing import Sound, play

RATE = 44_100
HALF = 960
CUT = meter_named("2/2")
Heard = NDArray[np.float64]


@cache
def shared() -> NoteCache:
    return NoteCache()


def decoded(data: bytes) -> Heard:
    """The file as FFmpeg decodes it, shape (channels, samples), full scale 1."""
    with av.open(io.BytesIO(data)) as container:
        frames = [frame.to_ndarray() for frame in container.decode(audio=0)]
        layout = container.streams.audio[0]
        channels = layout.channels
    joined = np.concatenate(frames, axis=1)
    if joined.dtype == np.int16:
        joined = joined / 32768
    if joined.shape[0] != channels:  # samples of both channels in one row
        joined = joined.reshape(-1, channels).T
    return joined.astype(np.float64)


def praat_cents(sound: Heard, hz: float) -> float:
    """How far Praat's pitch (median over the stretch) lies from ``hz``, in cents."""
    made = parselmouth.Sound(sound, RATE).to_pitch_ac(
        time_step=0.02, pitch_floor=max(20.0, hz / 1.5), pitch_ceiling=hz * 1.5
    )
    values = made.selected_array["frequency"]
    found = values[values > 0]
    return 1200 * math.log2(float(np.median(found)) / hz)


def decibels(sound: Heard) -> float:
    """RMS."""
    return 10 * math.log10(float(np.mean(sound * sound)) + 1e-20)


def onset(sound: Heard, share: float = 0.05) -> int:
    """The first sample that reaches a share of the peak."""
    return int(np.argmax(np.abs(sound) >= share * np.abs(sound).max()))


def spaced(instrument: Instrument, places: Sequence[tuple[int, int]], *techniques: str | None) -> Passage:
    """A note a measure, each three quarters of it long."""
    kinds = techniques or (None,) * len(places)
    notes = tuple(
        Note(1920 * at, string, fret, 1440, kind)
        for at, ((string, fret), kind) in enumerate(zip(places, kinds, strict=True))
    )
    return Passage(instrument, instrument.tuning(), CUT, (1920,) * len(notes), notes)


def passage(text: str, instrument: str = "banjo") -> Passage:
    return read_one_line(text, instrument_named(instrument), meter="2/2").passage


def plan(*passages: Passage, rounds: tuple[int, ...] = (60,), **more: object) -> Plan:
    """Parts called ``part 1`` and on, the first of them the lead."""
    parts = tuple(Part(f"part {n}", p, lead=n == 1) for n, p in enumerate(passages, 1))
    return Plan(parts, passages[0].meter, HALF, rounds, **{"count_in": 0, **more})  # type: ignore[arg-type]


def sounded(*passages: Passage, **more: object) -> Sound:
    return play(plan(*passages, **more), shared())  # type: ignore[arg-type]
