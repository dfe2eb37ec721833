"""Meters and musical time.

Time is counted in whole ticks, 480 to the quarter note, so that eighths (240),
sixteenths (120), eighth triplets (160) and sixteenth triplets (80) are all exact.
"""

from dataclasses import dataclass

from service.errors import DomainError

TICKS_PER_QUARTER = 480
TICKS_PER_WHOLE = 4 * TICKS_PER_QUARTER
EIGHTH = TICKS_PER_QUARTER // 2
SIXTEENTH = TICKS_PER_QUARTER // 4


@dataclass(frozen=True, slots=True)
class Meter:
    """One meter: how long a measure is, what is counted, and how strong each slot is.

    ``slot_ticks`` is the column players roll in (eighths; sixteenths in 2/4).
    ``weights`` gives the strength of every slot, 1 for the downbeat.
    """

    name: str
    measure_ticks: int
    beat_ticks: int
    beat_unit: str
    slot_ticks: int
    weights: tuple[float, ...]
    counts: tuple[str, ...]

    @property
    def slots(self) -> int:
        """Columns in a measure: eight in cut time, six in three-four."""
        return self.measure_ticks // self.slot_ticks

    def weight_at(self, tick: int) -> float:
        """Metrical weight of an onset, tick counted from the start of its measure."""
        slot, rest = divmod(tick % self.measure_ticks, self.slot_ticks)
        return self.weights[slot] if rest == 0 else min(self.weights) / 2


def _counted(eighths: int) -> tuple[str, ...]:
    """Where a beat has three eighths all of them are counted."""
    return tuple(str(number) for number in range(1, eighths + 1))


# Weights: computed with music21 (beatStrength) over the slots of each meter.
_EIGHT = (1.0, 0.125, 0.25, 0.125, 0.5, 0.125, 0.25, 0.125)
_METERS = {
    m.name: m
    for m in (
        Meter("2/2", 1920, 960, "half", EIGHTH, _EIGHT, ("1", "e", "&", "a", "2", "e", "&", "a")),
        Meter("4/4", 1920, 480, "quarter", EIGHTH, _EIGHT, ("1", "&", "2", "&", "3", "&", "4", "&")),
        Meter("2/4", 960, 480, "quarter", SIXTEENTH, _EIGHT, ("1", "e", "&", "a", "2", "e", "&", "a")),
        Meter(
            "3/4",
            1440,
            480,
            "quarter",
            EIGHTH,
            (1.0, 0.25, 0.5, 0.25, 0.5, 0.25),
            ("1", "&", "2", "&", "3", "&"),
        ),
        Meter(
            "6/8",
            1440,
            720,
            "dotted quarter",
            EIGHTH,
            (1.0, 0.25, 0.25, 0.5, 0.25, 0.25),
            _counted(6),
        ),
        Meter(
            "9/8",
            2160,
            720,
            "dotted quarter",
            EIGHTH,
            (1.0, 0.25, 0.25, 0.5, 0.25, 0.25, 0.5, 0.25, 0.25),
            _counted(9),
        ),
        Meter(
            "12/8",
            2880,
            720,
            "dotted quarter",
            EIGHTH,
            (1.0, 0.125, 0.125, 0.25, 0.125, 0.125, 0.5, 0.125, 0.125, 0.25, 0.125, 0.125),
            _counted(12),
        ),
    )
}
METER_NAMES = tuple(_METERS)  # kept with licks by their place here: new ones go to the end
_OTHER_NAMES = {
    "cut": "2/2", "cut time": "2/2", "c|": "2/2", "common": "4/4", "waltz": "3/4", "jig": "6/8", "slip jig": "9/8",
}  # fmt: skip

# Meters that count the same music differently: factor to multiply ticks by.
_SAME_MUSIC = {("4/4", "2/2"): 1, ("2/2", "4/4"): 1, ("2/4", "2/2"): 2, ("2/4", "4/4"): 2}


def meter_named(name: str) -> Meter:
    """The meter called ``name`` (one of METER_NAMES or a trade word).

    Raises DomainError ``unknown-meter`` for any other.
    """
    wanted = name.strip().lower()
    meter = _METERS.get(_OTHER_NAMES.get(wanted, wanted))
    if meter is None:
        raise DomainError("unknown-meter", name=name, known=", ".join(METER_NAMES))
    return meter


def stretch(of: Meter, into: Meter) -> tuple[int, int] | None:
    """The ratio that turns ticks of one meter into ticks of the other, or None.

    2/4 in sixteenths is played as 2/2 in eighths: every length doubles. Two measures
    of one stay two measures of the other.
    """
    if of.name == into.name:
        return (1, 1)
    if (of.name, into.name) in _SAME_MUSIC:
        return (_SAME_MUSIC[of.name, into.name], 1)
    if (into.name, of.name) in _SAME_MUSIC:
        return (1, _SAME_MUSIC[into.name, of.name])
    return None
