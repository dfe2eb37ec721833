"""How each instrument's strings sound, as data.

All numbers are ours unless a source is named: chosen by ear and by measuring, near what the instruments do. Times are
seconds, frequencies Hz, levels dB.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mode:
    """One resonance of a body: where, how sharp, how far it stands out, and how long it is heard by itself."""

    hz: float
    q: float
    db: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Character:
    """A plucked string on its body.

    ``t60`` is the decay time of the fundamental at MIDI 60, ``t60_slope`` how much shorter it is an octave higher
    (a factor), ``fretted`` what a finger leaves of it. ``bright_hz`` is where the decay takes ``bright_t60``. ``pick``
    is the picking place as a share of the string, ``soft_hz`` where the pick or finger rolls the highs off, ``tilt``
    the power of the harmonic number that amplitudes fall by. ``noise`` and ``knock`` are the levels of the stroke's noise
    and the body's own ring against the string. ``course_cents`` is how far apart a doubled string is tuned.
    ``after_db`` and ``after`` are the level and the longer decay (a factor) of what rings on when the first sound is gone.
    ``damped`` is the time a damping hand takes.
    """

    name: str
    t60: float
    t60_slope: float
    fretted: float
    bright_hz: float
    bright_t60: float
    pick: float
    soft_hz: float
    tilt: float
    noise: float
    noise_seconds: float
    knock: float
    body: tuple[Mode, ...]
    body_floor_hz: float
    course_cents: float = 0.0
    after_db: float = -14.0
    after: float = 2.2
    damped: float = 0.045


CHARACTERS = {
    c.name: c
    for c in (
        # a head rings low in the middle and gives the string's energy away quickly
        Character(
            "banjo", t60=1.7, t60_slope=0.72, fretted=0.8, bright_hz=5000, bright_t60=0.30, pick=0.09,
            soft_hz=7500, tilt=0.72, noise=-16, noise_seconds=0.004, knock=-9,
            body=(Mode(330, 3, 6, 0.045), Mode(700, 3, 4, 0.030), Mode(1500, 2, 3, 0.015), Mode(3200, 2, 6, 0.006)),
            body_floor_hz=210,
        ),
        Character(
            "guitar", t60=3.6, t60_slope=0.75, fretted=0.75, bright_hz=4000, bright_t60=0.42, pick=0.16,
            soft_hz=4200, tilt=1.05, noise=-24, noise_seconds=0.006, knock=-13,
            body=(Mode(105, 6, 6, 0.09), Mode(205, 6, 6, 0.07), Mode(410, 5, 3, 0.04), Mode(2100, 2, 2, 0.008)),
            body_floor_hz=85,
        ),
        Character(
            "mandolin", t60=2.0, t60_slope=0.74, fretted=0.8, bright_hz=5000, bright_t60=0.28, pick=0.11,
            soft_hz=6500, tilt=0.92, noise=-21, noise_seconds=0.004, knock=-13,
            body=(Mode(200, 5, 3, 0.04), Mode(440, 5, 4, 0.035), Mode(1800, 2, 4, 0.015), Mode(3400, 2, 8, 0.006)),
            body_floor_hz=230, course_cents=2.4,
        ),
        # a metal cone: a hump in the middle, and long
        Character(
            "resonator-guitar", t60=3.8, t60_slope=0.75, fretted=0.85, bright_hz=5000, bright_t60=0.45, pick=0.11,
            soft_hz=4200, tilt=0.95, noise=-22, noise_seconds=0.005, knock=-14,
            body=(Mode(140, 5, 3, 0.06), Mode(480, 3, 7, 0.04), Mode(1150, 3, 9, 0.025), Mode(2400, 3, 3, 0.012)),
            body_floor_hz=120,
        ),
        Character(
            "ukulele", t60=1.35, t60_slope=0.75, fretted=0.8, bright_hz=3000, bright_t60=0.17, pick=0.24,
            soft_hz=2400, tilt=1.25, noise=-26, noise_seconds=0.006, knock=-13,
            body=(Mode(250, 5, 5, 0.06), Mode(430, 5, 5, 0.05), Mode(1100, 3, 2, 0.02)),
            body_floor_hz=180,
        ),
        Character(
            "upright-bass", t60=1.5, t60_slope=0.85, fretted=0.8, bright_hz=1500, bright_t60=0.22, pick=0.19,
            soft_hz=1000, tilt=0.95, noise=-26, noise_seconds=0.014, knock=-16,
            body=(Mode(62, 4, 4, 0.12), Mode(108, 5, 5, 0.09), Mode(230, 4, 4, 0.05), Mode(650, 2, 2, 0.02)),
            body_floor_hz=38, after_db=-18, damped=0.07,
        ),
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bowed:
    """A bowed string on its body. ``rise`` is how long a stroke takes to speak, ``slurred`` that of a note under the same
    bow; vibrato sets in after ``vibrato_after``."""

    name: str
    rise: float
    slurred: float
    soft_hz: float
    tilt: float
    noise: float
    vibrato_hz: float
    vibrato_cents: float
    vibrato_after: float
    body: tuple[Mode, ...]
    body_floor_hz: float
    damped: float = 0.06


FIDDLE = Bowed(
    "fiddle", rise=0.035, slurred=0.012, soft_hz=3800, tilt=1.0, noise=-34, vibrato_hz=5.4, vibrato_cents=7,
    vibrato_after=0.22,
    body=(Mode(280, 8, 6, 0), Mode(460, 8, 7, 0), Mode(560, 8, 5, 0), Mode(1100, 4, 2, 0), Mode(2600, 2, 5, 0)),
    body_floor_hz=190,
)  # fmt: skip
