"""Sounding: how much faster than it is heard, each beside a baseline of the same run.

``python -m tests.bench sounding`` prints it alone. The rival is a general synthesiser with a small sound font
(``tinysoundfont``, if it can be imported), given the same strokes at the same samples.
"""

import importlib
import io
import time
from collections.abc import Callable

import numpy as np
import soundfile

from service.music.instruments import Instrument, instrument_named
from service.music.licks import Note
from service.music.passages import Passage
from service.music.timeline import Event, Part, Plan, timeline, work_up_tempos
from service.notation.one_line import read_one_line
from service.sound.encoding import encoded
from service.sound.mixing import Mix
from service.sound.notes import NoteCache
from service.sound.playing import play
from service.sound.strings import RATE
from tests.bench.measuring import median_ms, processor_ms
from tests.bench.small_font import small_font

Show = Callable[[str, str, str, str], None]
HALF = 960
EIGHT_MEASURES = (
    "3.2 /4 5 1 3 2 5 1, 3 2 5 1 4 2 5 1; 4.2 2.1 5 1.2 4.2 2.1 5 1.2; 3.2 2.1 5 1.2 4.2 2.1 5 1.2; "
    "3 2 5 1 4 4.h2 5 1; 3.3 p2 5 1 3 2 5 1; 4.4 3.2 5 2.3 1.4 3.2 5 4.4; 3 2 5 1 (1 5)---"
)


def play_along(seconds: int = 120, bpm: int = 84) -> Plan:
    """Lead, bass and guitar with a click, about so long."""
    banjo = instrument_named("banjo")
    lick = read_one_line(EIGHT_MEASURES, banjo, meter="2/2").passage
    times = max(1, round(seconds * bpm / 60 / 2 / len(lick.measures)))
    notes = tuple(note.moved(at * lick.ticks) for at in range(times) for note in lick.notes)
    measures = lick.measures * times
    lead = Passage(banjo, lick.tuning, lick.meter, measures, notes)
    melody = frozenset(note.onset for note in notes if note.onset % 480 == 0 and note.string != 5)
    backing = [Part(name, _made(instrument_named(name), lead, figure)) for name, figure in _FIGURES.items()]
    return Plan(
        (Part("lead", lead, melody, True), *backing), lick.meter, HALF, (bpm,), count_in=2, click=True
    )


# (tick in the measure, string, fret, ticks)
_FIGURES = {
    "upright-bass": ((0, 1, 0, 480), (960, 2, 0, 480)),
    "guitar": (
        (0, 6, 3, 480), (480, 1, 3, 240), (480, 2, 0, 240), (480, 3, 0, 240),
        (960, 4, 0, 480), (1440, 1, 3, 240), (1440, 2, 0, 240), (1440, 3, 0, 240),
    ),
}  # fmt: skip


def _made(instrument: Instrument, like: Passage, figure: tuple[tuple[int, int, int, int], ...]) -> Passage:
    notes = [Note(start + at, s, f, ticks) for start in like.starts for at, s, f, ticks in figure]
    return Passage(instrument, instrument.tuning(), like.meter, like.measures, tuple(sorted(notes)))


def sounding(show: Show) -> None:
    plan = play_along()
    strokes = timeline(plan, RATE)
    seconds = strokes.length / RATE
    kept = NoteCache()
    cold = processor_ms(lambda: _mixed(plan, NoteCache()), 5) / 1000
    warm = processor_ms(lambda: _mixed(plan, kept), 9) / 1000
    whole = processor_ms(lambda: play(plan, kept).samples(), 9) / 1000
    sound = play(plan, kept)
    samples = sound.samples()
    wav = processor_ms(lambda: _wav(samples), 5) / 1000
    base = f"writing the samples as WAV: {wav * 1000:.0f} ms"
    show(
        f"mixing {seconds:.0f} s, no note kept", f"{seconds / cold:,.0f} x real time", base, "at least 300 x"
    )
    show("the same with notes kept", f"{seconds / warm:,.0f} x real time", base, "at least 1,500 x")
    show("with timeline, loudness, limiter", f"{seconds / whole:,.0f} x real time", base, "")
    both = median_ms(lambda: encoded(play(plan, NoteCache())), 3) / 1000
    bare = median_ms(lambda: _mp3(samples), 3) / 1000
    show("two minutes to MP3, cold", f"{both:.2f} s", f"{both / bare:.2f} of encoding alone", "at most 3 s")
    size = len(encoded(sound)[0].data) / 1024 / seconds * 60
    show(
        "a minute of MP3", f"{size:.0f} KiB", f"{size / (RATE * 2 * 60 / 1024):.3f} of WAV", "at most 500 KiB"
    )
    # every chord of the work-up is the same few notes
    tempos = work_up_tempos(70, 112, 3, 2)
    up = Plan(plan.parts, plan.meter, HALF, tempos, count_in=2, click=True)
    began = time.process_time()
    long = play(up, kept)
    took = time.process_time() - began
    show(
        f"measuring a work-up of {float(long.seconds) / 60:.0f} min", f"{took:.1f} s",
        f"{float(long.seconds) / took:,.0f} x real time", "",
    )  # fmt: skip
    rival = _rival(strokes.events, strokes.length)
    if rival is None:
        print("tinysoundfont is not installed: no rival")
        return
    show(
        "mixing against a synthesiser, notes kept",
        f"{rival / warm:.1f} x faster",
        f"it takes {rival * 1000:.0f} ms",
        "not slower",
    )
    show(
        "mixing against a synthesiser, none kept",
        f"{rival / cold:.1f} x faster",
        f"it takes {rival * 1000:.0f} ms",
        "not slower",
    )


def _mixed(plan: Plan, cache: NoteCache) -> None:
    made = timeline(plan, RATE)
    mix = Mix(plan, made, cache)
    for at in range(0, made.length, 10 * RATE):
        mix.stretch(at, min(made.length, at + 10 * RATE))


def _wav(samples: np.ndarray) -> None:
    soundfile.write(io.BytesIO(), samples, RATE, format="WAV", subtype="PCM_16")


def _mp3(samples: np.ndarray) -> None:
    with soundfile.SoundFile(
        io.BytesIO(),
        "w",
        RATE,
        1,
        format="MP3",
        subtype="MPEG_LAYER_III",
        bitrate_mode="VARIABLE",
        compression_level=0.5,
    ) as file:
        for at in range(0, len(samples), 65_536):
            file.write(samples[at : at + 65_536])


def _rival(events: tuple[Event, ...], length: int) -> float | None:
    """Seconds of the synthesiser for the same strokes; a channel for each string, a stop for each start."""
    try:
        library = importlib.import_module("tinysoundfont")
    except ImportError:
        return None
    steps = sorted(
        [(e.start, 1, _channel(e), e.pitch) for e in events]
        + [(e.stop, 0, _channel(e), e.pitch) for e in events]
    )

    def once() -> float:
        synth = library.Synth(samplerate=RATE)
        font = synth.sfload(small_font())
        for channel in range(16):
            synth.program_select(channel, font, 0, 0)
        loudest, at = 0.0, 0
        for when, on, channel, pitch in steps:
            if when > at:
                block = np.frombuffer(synth.generate(when - at), dtype=np.float32)
                loudest = max(loudest, float(block[:100].max(initial=0.0)))
                at = when
            if on:
                synth.noteon(channel, pitch, 100)
            else:
                synth.noteoff(channel, pitch)
        synth.generate(length - at)
        if loudest == 0:
            raise RuntimeError("the synthesiser is silent: no rival")
        return loudest

    return processor_ms(once, 3) / 1000


def _channel(event: Event) -> int:
    return (event.part * 6 + event.string) % 16
