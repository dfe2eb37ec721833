"""What is played behind others, as data: by instrument and meter, a measure of strokes for any chord.

A stroke says when (in slots: eighths, sixteenths in two-four), how long (in half slots), and what of the chord that is held
then: its bass, all above the bass, the whole of it, or certain strings. Common practice, no source, unless a line says more.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from service.errors import DomainError
from service.music.instruments import instrument_named
from service.music.meter import Meter

# Meters that are played alike behind others, and how many slots a measure of them has.
FAMILIES = {
    "2/2": "two",
    "4/4": "two",
    "2/4": "two",
    "3/4": "three",
    "6/8": "six",
    "9/8": "nine",
    "12/8": "twelve",
}
FAMILY_SLOTS = {"two": 8, "three": 6, "six": 6, "nine": 9, "twelve": 12}
BASS, ABOVE, WHOLE = "bass", "above", "whole"  # what a stroke plays; or string numbers, lowest first


@dataclass(frozen=True, slots=True)
class Stroke:
    """``at`` in slots from the start of the measure, ``lasts`` in half slots.

    ``plays`` is BASS (root and fifth in turn), ABOVE (what the shape has above its basses), WHOLE, or the numbers of strings
    from the lowest up, of which those in the shape are played. ``fingers`` are the picking fingers in that order.
    """

    at: int
    lasts: int
    plays: str
    fingers: str = ""


@dataclass(frozen=True, slots=True)
class Pattern:
    """``holds`` is how the chord is held: ``open`` (the easiest shapes), ``closed`` (no open strings), ``bar``, ``double``
    (two strings), ``line`` (single notes). ``style`` is the right hand's, as of licks. A change of chord is heard within
    ``within`` slots: what the pattern does not strike in time gets a stroke of its own. ``walks`` is whether the bass walks
    into a change where there is time.
    """

    name: str
    instrument: str
    family: str
    style: str
    holds: str
    strokes: tuple[Stroke, ...]
    within: int
    walks: bool = False

    @property
    def slots(self) -> int:
        return FAMILY_SLOTS[self.family]


Row = tuple[int, int, str] | tuple[int, int, str, str]


def _pattern(
    name: str, instrument: str, family: str, style: str, holds: str, within: int, *rows: Row
) -> Pattern:
    strokes = tuple(Stroke(*row) for row in rows)
    return Pattern(name, instrument, family, style, holds, strokes, within, (instrument, name) in _WALKING)


def _roll(strings: str, fingers: str) -> tuple[Row, ...]:
    """Single strings, one a slot."""
    return tuple(
        (at, 2, string, finger) for at, (string, finger) in enumerate(zip(strings, fingers, strict=True))
    )


_WALKING = {("guitar", "bass runs"), ("upright-bass", "root and fifth")}
SINGER = "behind a singer"  # sparse: it leaves the words alone
_SHORT, _CRISP, _SLOT = 1, 2, 2  # half slots: a chop that the hand stops, a strum that is let off, one slot
_WRITTEN = (
    # Five-string banjo, three fingers. The vamp is closed chords off the beat, let go at once.
    _pattern("vamp", "banjo", "two", "roll", "closed", 4, (2, _SHORT, "321", "TIM"), (6, _SHORT, "321", "TIM")),
    _pattern("vamp", "banjo", "three", "roll", "closed", 6, (2, _SHORT, "321", "TIM"), (4, _SHORT, "321", "TIM")),
    _pattern("vamp", "banjo", "six", "roll", "closed", 3, (2, _SHORT, "321", "TIM"), (5, _SHORT, "321", "TIM")),
    # the thumb's bass, then a pinch
    _pattern("pinch", "banjo", "two", "roll", "open", 2,
             (0, 4, BASS, "T"), (2, 4, "21", "IM"), (4, 4, BASS, "T"), (6, 4, "21", "IM")),
    _pattern("pinch", "banjo", "three", "roll", "open", 2,
             (0, 4, BASS, "T"), (2, 4, "21", "IM"), (4, 4, "21", "IM")),
    _pattern("pinch", "banjo", "six", "roll", "open", 3,
             (0, 4, BASS, "T"), (2, 2, "21", "IM"), (3, 4, BASS, "T"), (5, 2, "21", "IM")),
    # the alternating-thumb roll (fingers published), and rolls of six that come round without a finger twice (ours)
    _pattern("rolling", "banjo", "two", "roll", "open", 2, *_roll("32514251", "TITMTITM")),
    _pattern("rolling", "banjo", "three", "roll", "open", 2, *_roll("321512", "TIMTMI")),
    _pattern("rolling", "banjo", "six", "roll", "open", 3, *_roll("321521", "TIMTIM")),
    # the old-time downstroke: the nail strikes, brushes, and the thumb drops on the short string
    _pattern("bum-ditty", "banjo", "two", "downstroke", "open", 2,
             (0, 4, BASS), (2, _SLOT, "21"), (3, _SLOT, "5", "T"), (4, 4, BASS), (6, _SLOT, "21"), (7, _SLOT, "5", "T")),
    _pattern("bum-ditty", "banjo", "three", "downstroke", "open", 2,
             (0, 4, BASS), (2, _SLOT, "21"), (3, _SLOT, "5", "T"), (4, _SLOT, "21"), (5, _SLOT, "5", "T")),
    _pattern("bum-ditty", "banjo", "six", "downstroke", "open", 3,
             (0, _SLOT, BASS), (1, _SLOT, "21"), (2, _SLOT, "5", "T"), (3, _SLOT, BASS), (4, _SLOT, "21"), (5, _SLOT, "5", "T")),
    _pattern(SINGER, "banjo", "two", "roll", "open", 4, (0, 8, "31", "TM"), (4, 8, "2", "I")),
    _pattern(SINGER, "banjo", "three", "roll", "open", 4, (0, 4, "31", "TM"), (2, 8, "2", "I")),
    _pattern(SINGER, "banjo", "six", "roll", "open", 3, (0, 6, "31", "TM"), (3, 6, "2", "I")),
    # Guitar with a flat pick: bass on the beat, root and fifth in turn, the chord off it.
    _pattern("boom-chuck", "guitar", "two", "flatpick", "open", 2,
             (0, 4, BASS), (2, _CRISP, ABOVE), (4, 4, BASS), (6, _CRISP, ABOVE)),
    _pattern("boom-chuck", "guitar", "three", "flatpick", "open", 2,
             (0, 4, BASS), (2, _CRISP, ABOVE), (4, _CRISP, ABOVE)),
    _pattern("boom-chuck", "guitar", "six", "flatpick", "open", 3,
             (0, 4, BASS), (2, _CRISP, ABOVE), (3, 4, BASS), (5, _CRISP, ABOVE)),
    # the same, with steps of the bass into the next chord
    _pattern("bass runs", "guitar", "two", "flatpick", "open", 2,
             (0, 4, BASS), (2, _CRISP, ABOVE), (4, 4, BASS), (6, _CRISP, ABOVE)),
    _pattern("bass runs", "guitar", "three", "flatpick", "open", 2,
             (0, 4, BASS), (2, _CRISP, ABOVE), (4, _CRISP, ABOVE)),
    _pattern("bass runs", "guitar", "six", "flatpick", "open", 3,
             (0, 4, BASS), (2, _CRISP, ABOVE), (3, 4, BASS), (5, _CRISP, ABOVE)),
    _pattern(SINGER, "guitar", "two", "flatpick", "open", 4, (0, 8, BASS), (4, 8, ABOVE)),
    _pattern(SINGER, "guitar", "three", "flatpick", "open", 4, (0, 4, BASS), (2, 8, ABOVE)),
    _pattern(SINGER, "guitar", "six", "flatpick", "open", 3, (0, 6, BASS), (3, 6, ABOVE)),
    # Mandolin: the chop is the group's snare drum.
    _pattern("chop", "mandolin", "two", "flatpick", "closed", 4, (2, _SHORT, WHOLE), (6, _SHORT, WHOLE)),
    _pattern("chop", "mandolin", "three", "flatpick", "closed", 6, (2, _SHORT, WHOLE), (4, _SHORT, WHOLE)),
    _pattern("chop", "mandolin", "six", "flatpick", "closed", 3, (2, _SHORT, WHOLE), (5, _SHORT, WHOLE)),
    _pattern(SINGER, "mandolin", "two", "flatpick", "open", 4, (0, 12, WHOLE)),
    _pattern(SINGER, "mandolin", "three", "flatpick", "open", 4, (0, 10, WHOLE)),
    _pattern(SINGER, "mandolin", "six", "flatpick", "open", 3, (0, 10, WHOLE)),
    # Fiddle: two strings at once, bowed long, or chopped with the heel of the bow.
    _pattern("long tones", "fiddle", "two", "plain", "double", 4, (0, 16, WHOLE)),
    _pattern("long tones", "fiddle", "three", "plain", "double", 4, (0, 12, WHOLE)),
    _pattern("long tones", "fiddle", "six", "plain", "double", 3, (0, 12, WHOLE)),
    _pattern("chop", "fiddle", "two", "plain", "double", 4, (2, _SHORT, WHOLE), (6, _SHORT, WHOLE)),
    _pattern("chop", "fiddle", "three", "plain", "double", 6, (2, _SHORT, WHOLE), (4, _SHORT, WHOLE)),
    _pattern("chop", "fiddle", "six", "plain", "double", 3, (2, _SHORT, WHOLE), (5, _SHORT, WHOLE)),
    _pattern(SINGER, "fiddle", "two", "plain", "double", 8, (4, 8, WHOLE)),
    _pattern(SINGER, "fiddle", "three", "plain", "double", 6, (2, 8, WHOLE)),
    _pattern(SINGER, "fiddle", "six", "plain", "double", 6, (3, 6, WHOLE)),
    # Resonator guitar: the bar straight across, damped off the beat or left to ring.
    _pattern("chop", "resonator-guitar", "two", "fingers", "bar", 4, (2, _SHORT, "321"), (6, _SHORT, "321")),
    _pattern("chop", "resonator-guitar", "three", "fingers", "bar", 6, (2, _SHORT, "321"), (4, _SHORT, "321")),
    _pattern("chop", "resonator-guitar", "six", "fingers", "bar", 3, (2, _SHORT, "321"), (5, _SHORT, "321")),
    _pattern("holds", "resonator-guitar", "two", "fingers", "bar", 4, (0, 16, "321")),
    _pattern("holds", "resonator-guitar", "three", "fingers", "bar", 4, (0, 12, "321")),
    _pattern("holds", "resonator-guitar", "six", "fingers", "bar", 3, (0, 12, "321")),
    _pattern(SINGER, "resonator-guitar", "two", "fingers", "bar", 8, (4, 8, "21")),
    _pattern(SINGER, "resonator-guitar", "three", "fingers", "bar", 6, (2, 8, "21")),
    _pattern(SINGER, "resonator-guitar", "six", "fingers", "bar", 6, (3, 6, "21")),
    # Ukulele: the whole chord, down on the beat and up off it.
    _pattern("strum", "ukulele", "two", "plain", "open", 2,
             (0, 4, WHOLE), (2, _SLOT, WHOLE), (3, _SLOT, WHOLE), (4, 4, WHOLE), (6, _SLOT, WHOLE), (7, _SLOT, WHOLE)),
    _pattern("strum", "ukulele", "three", "plain", "open", 2,
             (0, 4, WHOLE), (2, _SLOT, WHOLE), (3, _SLOT, WHOLE), (4, _SLOT, WHOLE), (5, _SLOT, WHOLE)),
    _pattern("strum", "ukulele", "six", "plain", "open", 3,
             (0, 4, WHOLE), (2, _SLOT, WHOLE), (3, 4, WHOLE), (5, _SLOT, WHOLE)),
    _pattern(SINGER, "ukulele", "two", "plain", "open", 4, (0, 12, WHOLE)),
    _pattern(SINGER, "ukulele", "three", "plain", "open", 4, (0, 10, WHOLE)),
    _pattern(SINGER, "ukulele", "six", "plain", "open", 3, (0, 10, WHOLE)),
    # Upright bass: root and fifth on the beats; in a waltz one of them a measure.
    _pattern("root and fifth", "upright-bass", "two", "plain", "line", 4, (0, 7, BASS), (4, 7, BASS)),
    _pattern("root and fifth", "upright-bass", "three", "plain", "line", 2, (0, 10, BASS)),
    _pattern("root and fifth", "upright-bass", "six", "plain", "line", 3, (0, 5, BASS), (3, 5, BASS)),
    _pattern(SINGER, "upright-bass", "two", "plain", "line", 4, (0, 14, BASS)),
    _pattern(SINGER, "upright-bass", "three", "plain", "line", 4, (0, 10, BASS)),
    _pattern(SINGER, "upright-bass", "six", "plain", "line", 3, (0, 10, BASS)),
)  # fmt: skip
_JIG_BEAT = 3  # slots of one of the two beats that the family "six" is written in


def _three_beats(jig: Pattern) -> Pattern:
    """A jig's pattern in 9/8: its second beat comes once more, and what it holds over that lasts as much longer."""
    first = [stroke for stroke in jig.strokes if stroke.at < _JIG_BEAT]
    second = [stroke for stroke in jig.strokes if stroke.at >= _JIG_BEAT]
    held = [
        replace(s, lasts=s.lasts + 2 * _JIG_BEAT) if 2 * s.at + s.lasts > 2 * _JIG_BEAT else s for s in first
    ]
    return replace(jig, family="nine", strokes=(*held, *second, *_later(second, _JIG_BEAT)))


def _four_beats(jig: Pattern) -> Pattern:
    """A jig's pattern in 12/8: two of its measures."""
    return replace(jig, family="twelve", strokes=(*jig.strokes, *_later(jig.strokes, 2 * _JIG_BEAT)))


def _later(strokes: Iterable[Stroke], slots: int) -> Iterator[Stroke]:
    return (replace(stroke, at=stroke.at + slots) for stroke in strokes)


_PATTERNS = (
    *_WRITTEN,
    *(longer(jig) for jig in _WRITTEN if jig.family == "six" for longer in (_three_beats, _four_beats)),
)
_BY_KEY = {(p.instrument, p.name, p.family): p for p in _PATTERNS}
# What is played when nobody says more; elsewhere the first one of the instrument.
_USUAL = {("banjo", family): "pinch" for family in FAMILY_SLOTS if family != "two"}


def pattern_names(instrument_id: str) -> tuple[str, ...]:
    """The patterns of an instrument, its usual one in cut time first."""
    return tuple(dict.fromkeys(p.name for p in _PATTERNS if p.instrument == instrument_id))


def pattern_named(instrument_id: str, meter: Meter, name: str | None = None) -> Pattern:
    """The pattern with this name, or the usual one of the instrument in this meter.

    Raises DomainError ``unknown-pattern``.
    """
    family = FAMILIES[meter.name]
    known = pattern_names(instrument_id)
    wanted = name.strip().lower() if name is not None else _USUAL.get((instrument_id, family), known[0])
    found = _BY_KEY.get((instrument_id, wanted, family))
    if found is None:
        instrument = instrument_named(instrument_id).name
        raise DomainError("unknown-pattern", name=name, instrument=instrument, known=", ".join(known))
    return found
