"""How much a place in the measure counts for the ear, and how often real tunes put chord tones there."""

from service.music.meter import Meter

_EIGHT = ("downbeat", "off", "beat", "off", "strong", "off", "beat", "off")
# The places of a measure's slots, by meter: the order of metrical weights (computed with music21), in words.
PLACES: dict[str, tuple[str, ...]] = {
    "2/2": _EIGHT,
    "4/4": _EIGHT,
    "2/4": _EIGHT,
    "3/4": ("downbeat", "off", "beat", "off", "beat", "off"),
    "6/8": ("downbeat", "off", "off", "strong", "off", "off"),
    "9/8": ("downbeat", "off", "off", "strong", "off", "off", "strong", "off", "off"),
    "12/8": ("downbeat", "off", "off", "beat", "off", "off", "strong", "off", "off", "beat", "off", "off"),
}
# How much a note's class counts by its place. Ours: flatter than metrical weights, since offbeats outnumber beats.
EMPHASIS = {"downbeat": 1.0, "strong": 0.8, "beat": 0.65, "off": 0.4, "between": 0.2}
# Share of notes that are chord tones, by place: computed over 424 reels with chord symbols; the last is assumed.
CHORD_TONE_SHARE = {"downbeat": 0.903, "strong": 0.801, "beat": 0.754, "off": 0.549, "between": 0.5}
HELD_POWER = 0.5  # a note held four times as long counts twice; our choice


def place_of(onset: int, meter: Meter) -> str:
    """The kind of place an onset (ticks from the first bar line) has in its measure."""
    slot, rest = divmod(onset % meter.measure_ticks, meter.slot_ticks)
    return PLACES[meter.name][slot] if rest == 0 else "between"


def pull(onset: int, duration: int, meter: Meter) -> float:
    """How much a note counts: its place, and how long it is held."""
    return float(EMPHASIS[place_of(onset, meter)] * (max(1, duration) / meter.slot_ticks) ** HELD_POWER)
