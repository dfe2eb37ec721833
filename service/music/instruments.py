"""Instruments, tunings and hand styles, as data.

To add a tuning, add a row. Numbers are MIDI pitches of the open strings from string 1 (the top
line of the tab) down. Tunings and letter names: published, common practice for octaves.
"""

from dataclasses import dataclass

from service.errors import DomainError
from service.music.pitch import fifths, pitch_class


@dataclass(frozen=True, slots=True)
class Tuning:
    """Open strings, string 1 first; ``labels`` are the letters players write before the rows."""

    id: str
    name: str
    pitches: tuple[int, ...]
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Instrument:
    """One fretted or fingered instrument.

    ``short_string`` is a string that begins part of the way up the neck: its number and the fret
    where it begins (the banjo's fifth string, fret 5). ``scale_mm`` is the sounding length of an
    open long string in millimetres, usual sizes from memory.
    """

    id: str
    name: str
    tunings: tuple[Tuning, ...]
    hand_styles: tuple[str, ...]
    frets: int
    scale_mm: int
    short_string: tuple[int, int] | None = None

    @property
    def strings(self) -> int:
        return len(self.tunings[0].pitches)

    def tuning(self, tuning_id: str | None = None) -> Tuning:
        """The tuning with this id (the usual one if None). Raises DomainError ``unknown-tuning``."""
        if tuning_id is None:
            return self.tunings[0]
        for tuning in self.tunings:
            if tuning.id == tuning_id.strip().lower():
                return tuning
        raise DomainError(
            "unknown-tuning",
            name=tuning_id,
            instrument=self.name,
            known=", ".join(t.id for t in self.tunings),
        )


# Styles a lick may be in, by the hand style that plays it.
STYLES: dict[str, tuple[str, ...]] = {
    "three-finger": ("roll", "melodic", "single-string"),
    "downstroke": ("downstroke",),
    "flatpick": ("flatpick", "crosspick", "double-stop", "tremolo"),
    "fingers": ("fingers",),
    "plain": ("plain",),
}

_INSTRUMENTS = {
    i.id: i
    for i in (
        Instrument(
            "banjo",
            "five-string banjo",
            (
                Tuning("open-g", "open G (gDGBD)", (62, 59, 55, 50, 67), ("D", "B", "G", "D", "g")),
                Tuning("c", "C (gCGBD)", (62, 59, 55, 48, 67), ("D", "B", "G", "C", "g")),
                Tuning("double-c", "double C (gCGCD)", (62, 60, 55, 48, 67), ("D", "C", "G", "C", "g")),
                Tuning("sawmill", "sawmill (gDGCD)", (62, 60, 55, 50, 67), ("D", "C", "G", "D", "g")),
                Tuning("open-d", "open D (f#DF#AD)", (62, 57, 54, 50, 66), ("D", "A", "F#", "D", "f#")),
            ),
            ("three-finger", "downstroke", "plain"),
            frets=22,
            scale_mm=667,
            short_string=(5, 5),
        ),
        Instrument(
            "guitar",
            "guitar",
            (
                Tuning(
                    "standard", "standard (EADGBE)", (64, 59, 55, 50, 45, 40), ("E", "B", "G", "D", "A", "E")
                ),
                Tuning("drop-d", "drop D (DADGBE)", (64, 59, 55, 50, 45, 38), ("E", "B", "G", "D", "A", "D")),
            ),
            ("flatpick", "fingers", "plain"),
            frets=20,
            scale_mm=645,
        ),
        Instrument(
            "mandolin",
            "mandolin",
            (Tuning("standard", "standard (GDAE)", (76, 69, 62, 55), ("E", "A", "D", "G")),),
            ("flatpick", "plain"),
            frets=20,
            scale_mm=352,
        ),
        Instrument(
            "fiddle",
            "fiddle",
            (Tuning("standard", "standard (GDAE)", (76, 69, 62, 55), ("E", "A", "D", "G")),),
            ("plain",),
            frets=14,
            scale_mm=328,
        ),
        Instrument(
            "resonator-guitar",
            "resonator guitar",
            (Tuning("open-g", "open G (GBDGBD)", (62, 59, 55, 50, 47, 43), ("D", "B", "G", "D", "B", "G")),),
            ("fingers", "plain"),
            frets=19,
            scale_mm=635,
        ),
        Instrument(
            "ukulele",
            "ukulele",
            (Tuning("standard", "standard (gCEA)", (69, 64, 60, 67), ("A", "E", "C", "g")),),
            ("fingers", "plain"),
            frets=12,
            scale_mm=350,
        ),
        Instrument(
            "upright-bass",
            "upright bass",
            (Tuning("standard", "standard (EADG)", (43, 38, 33, 28), ("G", "D", "A", "E")),),
            ("plain",),
            frets=12,
            scale_mm=1050,
        ),
    )
}


def all_instruments() -> tuple[Instrument, ...]:
    return tuple(_INSTRUMENTS.values())


def instrument_named(instrument_id: str) -> Instrument:
    """The instrument with this id. Raises DomainError ``unknown-instrument``."""
    instrument = _INSTRUMENTS.get(instrument_id.strip().lower())
    if instrument is None:
        raise DomainError("unknown-instrument", name=instrument_id, known=", ".join(_INSTRUMENTS))
    return instrument


def label_matches(label: str, tuning: Tuning, string: int) -> bool:
    """Whether a row's letter names this string in any octave (``d`` and ``D`` are one tone)."""
    try:
        written = pitch_class(fifths(label))
    except DomainError:
        return False
    return written == tuning.pitches[string - 1] % 12
