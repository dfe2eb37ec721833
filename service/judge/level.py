"""How hard a lick is, 1 to 5, at a tempo: points for what the hands and the ear must master.

Each feature can only lose by what makes a lick easier: an ornament's second note taken out, a fretted note
opened, a slower tempo. The weights were set so that the levels which players gave to 244 invented licks come out
within one step; the shape (technique, position, rhythm, tempo) is that of published rubrics for difficulty.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.judge.emphasis import place_of
from service.judge.hands import Hands, strain
from service.judge.right_hand import PICK_MS
from service.judge.usual import SCALES
from service.music.instruments import Instrument
from service.music.licks import LINKED, Lick, Note
from service.music.meter import Meter

LEVELS = 5
# The tempo at which a lick is judged when none is asked for: the usual start of a slow jam (common practice).
USUAL_BPM = {"2/2": 84, "4/4": 168, "2/4": 84, "3/4": 108, "6/8": 84, "9/8": 84, "12/8": 84}
# Ticks that count as a measure where the meter's own is longer: a jig's, so that the same music is as hard in each. Ours.
MEASURE = {"9/8": 1440, "12/8": 1440}
POINTS = {
    "start": 1.0,
    "start-picked": 0.7,  # in flat-pick style, where a fretted line is a matter of course
    "fretted": 0.11,  # for each fretted note a measure
    "notes": 0.05,  # for each onset a measure
    "links": 0.19,  # for each hammer-on, pull-off, slide or choke in two measures, at most MOST
    "fine": 0.2,  # for each note picked between the slots (sixteenths, triplets) in two measures, at most MOST
    "syncopation": 0.5,  # for each strong place that a note picked just before it takes over
    "neck": 0.19,  # for each fret beyond the first position
    "span": 0.08,  # for each fret between the lowest and the highest
    "uncommon": 0.1,  # for each fretted note outside the key, at most MOST
    "pickup": 0.35,
    "melodic": 1.5,
    "single-string": 0.9,
    "crosspick": 0.85,
    "strain": 2.0,  # for the share of the time there is that the hands need beyond EASY_SHARE
}
MOST = 4
BLUE_THIRD = 3  # semitones above the tonic: outside a major key, but as common as can be
FIRST_POSITION = 5  # frets
EASY_SHARE = 0.6
TRAVEL_SHARE = 0.8  # of the left hand's bare travel: a good fingering saves some of it


@dataclass(frozen=True, slots=True)
class Level:
    """``level`` 1-5 at ``bpm``; ``points`` by feature, those that give none left out."""

    level: int
    bpm: float
    points: tuple[tuple[str, float], ...]

    @property
    def total(self) -> float:
        return sum(points for _, points in self.points)


def lick_level(lick: Lick, hands: Hands, bpm: float | None = None) -> Level:
    """The level of a lick at a tempo in its meter's beats a minute; at the usual one if none is given."""
    return level_of(
        lick.notes,
        lick.ticks,
        lick.meter,
        hands,
        USUAL_BPM[lick.meter.name] if bpm is None else bpm,
        style=lick.style,
        instrument=lick.instrument,
        scale=frozenset((lick.key.tonic_class + step) % 12 for step in SCALES[lick.key.mode] | {BLUE_THIRD}),
        pitches=[lick.fretboard.pitch(note.string, note.fret) for note in lick.notes],
    )


def level_of(
    notes: Sequence[Note],
    ticks: int,
    meter: Meter,
    hands: Hands,
    bpm: float,
    *,
    style: str,
    instrument: Instrument,
    scale: frozenset[int],
    pitches: Sequence[int],
) -> Level:
    """The level of notes lasting ``ticks`` after the first bar line; ``pitches`` are MIDI numbers by note."""
    measures = max(1.0, ticks / MEASURE.get(meter.name, meter.measure_ticks))
    pairs = max(1.0, measures / 2)
    picked = {note.onset for note in notes if note.technique not in LINKED}
    short = instrument.short_string
    frets = [n.fret for n in notes if n.fret and (short is None or n.string != short[0])]
    share = strain(level_load(hands), bpm, meter.beat_ticks)
    if hands.left.impossible is not None:
        share = float(LEVELS)
    counts = {
        "start-picked" if style in PICK_MS else "start": 1.0,
        "fretted": len([n for n in notes if n.fret]) / measures,
        "notes": len({note.onset for note in notes}) / measures,
        "links": min(MOST, sum(_is_linked(note) for note in notes) / pairs),
        "fine": min(MOST, sum(onset % meter.slot_ticks != 0 for onset in picked) / pairs),
        "syncopation": sum(
            _taken_over(tick, picked, meter) for tick in range(0, ticks, meter.slot_ticks)
        ) / pairs,
        "neck": max(0, max(frets, default=0) - FIRST_POSITION),
        "span": max(frets, default=0) - min(frets, default=0),
        "uncommon": min(
            MOST, sum(n.fret > 0 and p % 12 not in scale for n, p in zip(notes, pitches, strict=True))
        ),
        "pickup": float(bool(notes) and notes[0].onset < 0),
        style: 1.0,
    }  # fmt: skip
    points = tuple(
        (name, round(POINTS[name] * count, 4)) for name, count in counts.items() if POINTS.get(name) and count
    )
    hurried = strain_points(share)
    if hurried:
        points += (("strain", round(hurried, 4)),)
    return Level(whole_level(sum(value for _, value in points)), bpm, points)


def level_load(hands: Hands) -> float:
    """The load that makes a level rise with the tempo, milliseconds a tick."""
    return max(hands.right.worst, TRAVEL_SHARE * hands.travel)


def strain_points(share: float) -> float:
    """Points for the share of its limit that the worst moment takes at a tempo."""
    return POINTS["strain"] * max(0.0, share - EASY_SHARE)


def whole_level(points: float) -> int:
    return max(1, min(LEVELS, int(points + 0.5)))


def _is_linked(note: Note) -> bool:
    return note.technique in ("hammer-on", "pull-off", "slide", "choke")


def _taken_over(tick: int, picked: set[int], meter: Meter) -> bool:
    """Whether a strong place is empty because a note was picked just before it."""
    return (
        place_of(tick, meter) in ("downbeat", "strong")
        and tick not in picked
        and (tick - meter.slot_ticks) in picked
    )
