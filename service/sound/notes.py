"""Notes ready to be mixed: made once for each way of being played, kept within a bound of bytes.

A note is kept apart from tempo, so loops and work-ups make each one once. It is made a little longer than asked for, in
doublings, so that a slower round rarely makes it anew.
"""

import math
import threading
from collections import OrderedDict
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.sound.bowed import bowed
from service.sound.characters import CHARACTERS, FIDDLE
from service.sound.strings import RATE, Glide, Stroke, Wave, decay_seconds, plucked

# RMS of every note's first quarter of a second (of a slide's, once it has arrived): 20 dB under full scale; ours.
LEVEL = 0.1
_LEVELLED_SECONDS = 0.25
_FADE = round(0.02 * RATE)  # samples; at the natural end of a note, where it is all but gone
_SILENT_DB = 55.0  # a note that has fallen this far is left alone; ours
DEFAULT_BYTES = 32 * 2**20  # of notes kept; ours
BEND_CENTS = 100.0  # a choke bends up by a semitone; common practice, no source
_BEND_BEGINS, _BEND_ENDS = 0.04, 0.16  # seconds; ours
SLIDE_SECONDS = (
    0.08,
    0.05,
    0.03,
    0.015,
)  # a slide takes the longest that is at most half of the note before; ours

# How each technique sets the string going, and its level against a plain stroke. Ours: a hammer has no pick's noise,
# a pull-off has a finger's pluck, a ghost is barely touched, a muted string thuds.
STROKES = {
    None: Stroke(),
    "hammer-on": Stroke(soft=0.55, noise_db=-12, knock_db=-10, rise=0.004),
    "pull-off": Stroke(soft=0.75, noise_db=-9, knock_db=-10, rise=0.002),
    "slide": Stroke(soft=0.5, noise_db=-60, knock_db=-60, rise=0.006),
    "choke": Stroke(),
    "ghost": Stroke(soft=0.55, noise_db=-8, knock_db=-3),
    "mute": Stroke(soft=0.5, noise_db=3, knock_db=4, most_t60=0.09),
}
# How hard a plain stroke is: soft strokes are darker, not only quieter. Ours.
TOUCHES = ((0.65, -4.0), (0.82, -2.0), (1.0, 0.0))

# Where the string is picked against the usual place, in turn: no hand meets the same spot twice, and a note that comes
# back exactly as it was sounds like a machine. Ours.
TURNS = (1.0, 1.14)


@dataclass(frozen=True, slots=True)
class NoteKey:
    """``touch`` counts into TOUCHES; ``rise`` are the semitones a slide comes from, ``slide`` its seconds; ``turn`` counts
    into TURNS."""

    instrument: str
    pitch: int
    open: bool
    touch: int
    technique: str | None = None
    rise: int = 0
    slide: float = 0.0
    turn: int = 0


class NoteCache:
    """Notes by key, the least lately used forgotten beyond ``most_bytes``. Threads may share one."""

    def __init__(self, most_bytes: int = DEFAULT_BYTES) -> None:
        self.most_bytes = most_bytes
        self.bytes = 0
        self.made = 0
        self._kept: OrderedDict[NoteKey, NDArray[np.float32]] = OrderedDict()
        self._lock = threading.Lock()

    def note(self, key: NoteKey, samples: int) -> NDArray[np.float32]:
        """At least ``samples`` of it, fewer only if it is silent by then."""
        with self._lock:
            kept = self._kept.get(key)
            # the faded end of a longer note is never reached, see _length
            if kept is not None and (len(kept) >= samples + _FADE or len(kept) >= _length(key, samples)):
                self._kept.move_to_end(key)
                return kept
        wanted = _length(key, samples)
        made = make_note(key, wanted)
        with self._lock:
            old = self._kept.pop(key, None)
            self.bytes += made.nbytes - (0 if old is None else old.nbytes)
            self._kept[key] = made
            self.made += 1
            while self.bytes > self.most_bytes and len(self._kept) > 1:
                _, gone = self._kept.popitem(last=False)
                self.bytes -= gone.nbytes
        return made


def t60(key: NoteKey) -> float:
    """Seconds in which this note falls by 60 dB; endless under a bow."""
    if key.instrument == FIDDLE.name:
        return math.inf if key.technique != "mute" else STROKES["mute"].most_t60
    character = CHARACTERS.get(key.instrument, CHARACTERS["guitar"])
    return min(decay_seconds(character, key.pitch, key.open), STROKES[key.technique].most_t60)


def damping(instrument: str) -> float:
    """Seconds that a hand or bow takes to end a note."""
    return (
        FIDDLE.damped
        if instrument == FIDDLE.name
        else CHARACTERS.get(instrument, CHARACTERS["guitar"]).damped
    )


def make_note(key: NoteKey, samples: int) -> NDArray[np.float32]:
    """The note itself, at LEVEL; a slide begins ``key.slide`` seconds before it arrives."""
    soft, noise_db = TOUCHES[key.touch]
    stroke = STROKES[key.technique]
    stroke = replace(stroke, soft=stroke.soft * soft, noise_db=stroke.noise_db + noise_db)
    glide = None
    if key.technique == "slide":
        glide = Glide(-100.0 * key.rise, 0.0, 0.0, key.slide)
    elif key.technique == "choke":
        glide = Glide(0.0, BEND_CENTS, _BEND_BEGINS, _BEND_ENDS)
    if key.instrument == FIDDLE.name and key.technique != "mute":
        slurred = key.technique in ("hammer-on", "pull-off", "slide")
        wave = bowed(FIDDLE, key.pitch, samples, soft=soft, slurred=slurred, glide=glide)
    else:
        character = CHARACTERS.get(key.instrument, CHARACTERS["guitar"])
        if key.instrument == FIDDLE.name:
            character = CHARACTERS["ukulele"]  # a finger on a stopped string, no bow
        character = replace(character, pick=character.pick * TURNS[key.turn])
        wave = plucked(character, key.pitch, key.open, samples, stroke, glide)
    return _levelled(wave, key.slide, stroke.most_t60).astype(np.float32)


def _levelled(wave: Wave, arrives: float, most_t60: float) -> Wave:
    loud = wave[round(arrives * RATE) : round(min(_LEVELLED_SECONDS, most_t60) * RATE)]
    wave *= LEVEL / math.sqrt(float(np.mean(loud * loud)))
    fade = min(len(wave), _FADE)
    wave[len(wave) - fade :] *= np.linspace(1.0, 0.0, fade)
    return wave


def _length(key: NoteKey, samples: int) -> int:
    """Samples to make: doublings of a quarter of a second, no more than until the note is silent."""
    quarter = round(_LEVELLED_SECONDS * RATE)
    doubled = quarter
    while doubled < samples:
        doubled *= 2
    if math.isinf(t60(key)):
        return doubled + _FADE
    silent = round(_SILENT_DB / 60 * _longest(key) * RATE)
    return min(doubled, max(quarter, silent)) + _FADE


def _longest(key: NoteKey) -> float:
    character = CHARACTERS.get(key.instrument, CHARACTERS["guitar"])
    # what rings on longer begins lower, so it is silent sooner than its own decay says
    after = character.after * (1 + character.after_db / _SILENT_DB) if not character.course_cents else 1.0
    return t60(key) * max(1.0, after) + key.slide
