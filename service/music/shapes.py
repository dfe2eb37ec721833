"""Chord shapes: where a hand can hold a chord, found by looking at every grip there is.

Nothing is looked up. On every stretch of neighbouring strings every choice of frets within a hand's reach is tried that
sounds nothing but chord tones; the four fingers are then laid on it in the easiest way, and what no hand can hold falls
out. Frets count from the capo and chords are named as the hand thinks of them, in the playing position.
"""

from bisect import insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import inf

from service.music.fretboard import Fretboard
from service.music.harmony import Chord
from service.music.pitch import pitch_class, tone_name

# Comfortable and greatest distance in mm between two fingers (1 index ... 4 little). Ours, for a grown hand: the one that
# the judge has, a test holds them together.
SPANS_MM = {
    (1, 2): (42.0, 64.0),
    (1, 3): (75.0, 98.0),
    (1, 4): (106.0, 128.0),
    (2, 3): (38.0, 52.0),
    (2, 4): (72.0, 90.0),
    (3, 4): (38.0, 52.0),
}
# How far the same fingers get where a shape is set down at leisure, in mm; ours.
AT_LEISURE_MM = {(1, 2): 64.0, (1, 3): 101.0, (1, 4): 128.0, (2, 3): 66.0, (2, 4): 90.0, (3, 4): 52.0}
FINGER_MM = 33.0  # between neighbouring fingers of a relaxed hand; ours
MOST_APART = 6  # frets between the lowest and the highest finger; ours: wider ones are reachable only where nobody plays
HIGHEST = 12  # fret of the lowest finger: beyond it everything comes again; common practice, no source
SIDE_BY_SIDE = 3  # fingers that have room beside each other in one fret; common practice, no source
SHORTER_BARRE = 2  # strings that another finger than the index can lie over; common practice, no source

# What makes a shape dear. Ours, in fingers: set so that the shapes everybody learns first come first.
FINGER = 1.0  # each finger down
LITTLE = 0.15  # more, if it is the little one
LONG_BARRE, SHORT_BARRE, OTHER_BARRE = (
    1.5,
    1.05,
    1.4,
)  # the index over three strings or more, over two; others over two
ARCHED = 0.8  # more, for each string more that the index lies over while one beyond its tip rings open
STRETCH = 0.15  # each mm beyond what is comfortable
CROOKED = 0.008  # each mm that two fingers stand from where they fall by themselves
WIDE = 0.01  # each mm between the lowest and the highest finger
UP_THE_NECK = 0.3  # each fret from the nut to the lowest finger
SHUT = 0.05  # each string stopped where it might have rung open
RINGS_UNDER = 1.0  # an open string between stopped ones, for each fret from the second that they lie above it
MISSING = {"fifth": 1.2, "root": 2.5, "third": 2.5, "else": 0.6}  # a tone of the chord that does not sound
SILENT_LOW, SILENT_HIGH = 0.75, 1.1  # each string left out below and above those played
THIN, FULL = 1.3, 4  # more, for each string played fewer than these
BASS_FIFTH, BASS_OTHER = 1.2, 2.2  # the lowest note is not the root, where basses count
GROWL, GROWLS_UNDER, FOURTH = (
    0.8,
    43,
    5,
)  # a third on a bass lower than this (MIDI, a guitar's G) is mud; common practice
OUTER_THIRD = {
    "mandolin": 0.9
}  # a third at the bottom, and half of it at the top, of a small chord that is chopped
DOUBLED_THIRD = 0.1  # each third more than one
UNISON = 0.8  # two strings on one pitch: a finger for nothing
REENTRANT = ("ukulele",)  # where the strings do not rise in order, unisons are its sound

MOST_FINGERS = 4
NOWHERE = 99  # the lowest fret where none is stopped
SHOWN = 64  # shapes of a chord worth looking at; ours
HAS_BASS = ("guitar", "resonator-guitar", "upright-bass")  # the lowest note is heard as the bass
LEAST_STRINGS = {"fiddle": 2, "upright-bass": 2}  # what counts as a chord; elsewhere three
LEAST_ELSEWHERE = 3
# Tones above the root on the line of fifths (see service/music/harmony.py) by what they are called here.
_THIRDS = (4, -3)
_PLAIN_FIFTH = 1
# A finger that is down: which, its fret, the first place it lies on, how many strings, how many are down in its fret.
_Laid = tuple[tuple[int, int, int, int, int], ...]
_Tone = tuple[int, int, int]  # fret, bit of its pitch class, pitch without capo


@dataclass(frozen=True, slots=True)
class Shape:
    """A grip. ``frets`` and ``fingers`` by string, string 1 first.

    A fret is None where the string is not played; a finger is 1 (index) to 4 (little), 0 where none is needed. The same
    finger on several strings is a barre. ``missing`` names the chord tones that do not sound (``A``, ``F#``).
    ``drone`` tells of a short string, which is never stopped: ``chord-tone``, ``foreign`` (it rings all the same), or None
    where there is none or it is left out. ``effort`` is in fingers; ``bass`` the lowest pitch without capo (MIDI). ``wide``
    is a stretch that a hand makes at leisure, not while playing on.
    """

    chord: Chord
    frets: tuple[int | None, ...]
    fingers: tuple[int, ...]
    missing: tuple[str, ...]
    drone: str | None
    effort: float
    bass: int
    wide: bool = False

    @property
    def strings(self) -> tuple[int, ...]:
        """Those that are played."""
        return tuple(string for string, fret in enumerate(self.frets, 1) if fret is not None)

    @property
    def stopped(self) -> tuple[tuple[int, int], ...]:
        """(string, fret) of what a finger holds."""
        return tuple((string, fret) for string, fret in enumerate(self.frets, 1) if fret)

    @property
    def lies(self) -> int:
        """The lowest fret that a finger holds; 0 if none does."""
        return min((fret for _, fret in self.stopped), default=0)

    @property
    def barre(self) -> bool:
        """Whether a finger lies over three strings or more."""
        return any(self.fingers.count(finger) >= 3 for finger in range(1, 5))


@lru_cache(maxsize=512)
def shapes(
    chord: Chord,
    fretboard: Fretboard,
    *,
    closed: bool = False,
    least: int | None = None,
    most: int | None = None,
    bar: bool = False,
    first: int | None = SHOWN,
    highest: int = HIGHEST,
) -> tuple[Shape, ...]:
    """The shapes of a chord, the easiest first; none if no hand can hold it there.

    ``chord`` is named in the playing position; the frets left above the capo count, and so does their narrower spacing.
    ``closed`` leaves out open strings, the short one too, so that the hand can silence it all. ``least`` and ``most`` bound
    the strings played, the short one apart. ``bar`` is for a bar across the strings: one fret alone. The ``first`` so many
    are those of the whole search; None gives every one. ``highest`` is the last fret for the lowest finger.

    Root and third sound, except that a chord of four tones or more may lack one of them; a plain fifth may be missing, and of
    five tones and more also those between. A chord over another bass has it as its lowest note where basses count. With two
    strings one tone of a triad is missing in any case: any, as long as root or third is there.
    """
    waiting = sorted(
        _grips(chord, fretboard, closed, least, most, bar, highest), key=lambda grip: grip.at_least
    )
    found: list[tuple[tuple[float, int, tuple[int, ...]], Shape]] = []
    for grip in waiting:
        if first is not None and len(found) >= first and found[first - 1][0][0] <= grip.at_least:
            break
        held = grip.held
        hand = (
            ((0,) * len(held), 0.0) if bar else fingering(held, fretboard.instrument.scale_mm, fretboard.capo)
        )
        if hand is not None:
            shape = _shape(chord, fretboard, grip, hand)
            insort(found, (_order(shape), shape), key=lambda pair: pair[0])
    return tuple(shape for _, shape in found[:first])


def _order(shape: Shape) -> tuple[float, int, tuple[int, ...]]:
    return (shape.effort, shape.lies, tuple(-1 if fret is None else fret for fret in shape.frets))


def double_stops(chord: Chord, fretboard: Fretboard) -> tuple[Shape, ...]:
    """Two neighbouring strings with two tones of a chord, the easiest first."""
    return shapes(chord, fretboard, least=2, most=2)


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A chord as bits by pitch class: its tones, and those it can do without, by name and number."""

    tones: int
    thirds: int
    root: int
    fifth: int  # a plain one
    bass: int
    spare: int  # tones of a large chord that may be missing
    most_missing: int
    names: tuple[tuple[int, str], ...]

    def misses(self, sounding: int, strings: int) -> int | None:
        """Bits of what is missing, or None if the chord cannot be told without it."""
        gone = self.tones & ~sounding
        if not gone:
            return 0
        if strings == 2:
            few = sounding.bit_count() == 2 and sounding & (self.root | self.thirds)
            return gone if few else None
        if gone & ~(self.fifth | self.spare) or gone.bit_count() > self.most_missing:
            return None
        if gone & self.root and gone & self.thirds:
            return None
        return gone


@lru_cache(maxsize=512)
def _wanted(chord: Chord, needs_bass: bool) -> _Wanted:
    own = [place for place in chord.places if place != chord.bass] + (
        [chord.bass] if chord.bass is not None and needs_bass else []
    )
    steps = [place - chord.root for place in own]
    bit = {step: 1 << pitch_class(chord.root + step) for step in steps}
    tones = sum(set(bit.values()))
    count = tones.bit_count()
    inner = [step for step in steps[4:-1] if step + chord.root != chord.bass] if count > 4 else []
    spare = sum({bit[step] for step in (0, *_THIRDS, *inner) if step in bit}) if count > 3 else 0
    if chord.bass is not None and needs_bass and count == 4 and chord.bass not in chord.places[:3]:
        spare = 0  # a triad over a foreign bass keeps root and third
    has_fifth = _PLAIN_FIFTH in bit and count > 2
    return _Wanted(
        tones,
        sum(bit[step] for step in _THIRDS if step in bit),
        bit.get(0, 0),
        bit[_PLAIN_FIFTH] if has_fifth else 0,
        0 if chord.bass is None else 1 << pitch_class(chord.bass),
        spare,
        1 if count <= 4 else count - 3,
        tuple((1 << pitch_class(place), tone_name(place)) for place in own),
    )


@dataclass(frozen=True, slots=True)
class _Grip:
    """Frets on neighbouring strings, not yet fingered. ``sound`` is what it lacks as sound, in fingers; ``at_least`` what
    it will cost with fingers."""

    begins: int  # string number of the highest
    held: tuple[int, ...]
    bass: int
    sound: float
    at_least: float
    drone: str | None
    missing: tuple[str, ...]


def _grips(
    chord: Chord,
    board: Fretboard,
    closed: bool,
    least: int | None,
    most: int | None,
    bar: bool,
    highest: int,
) -> Iterator[_Grip]:
    instrument = board.instrument
    short = instrument.short_string[0] if instrument.short_string else None
    long = [string for string in range(1, instrument.strings + 1) if string != short]
    needs_bass = instrument.id in HAS_BASS
    wanted = _wanted(chord, needs_bass)
    drone = None
    if short is not None and not closed:
        belongs = (board.pitch(short, 0) - board.capo) % 12 in chord.pitch_classes
        drone = "chord-tone" if belongs else "foreign"
    floor = least or (2 if bar else LEAST_STRINGS.get(instrument.id, LEAST_ELSEWHERE))
    neck = _neck(instrument.scale_mm, board.capo, instrument.frets - board.capo)
    opens = [board.pitch(string, 0) - board.capo for string in long]
    tones: list[list[_Tone]] = [
        [
            (fret, 1 << (pitch + fret) % 12, pitch + fret)
            for fret in range(len(neck))
            if wanted.tones >> (pitch + fret) % 12 & 1
        ]
        for pitch in opens
    ]
    for lies in range(1 if closed else 0, min(highest, len(neck) - 1) + 1):
        reach = _reach(neck, lies) if lies and not bar else lies
        rings = not closed and not bar
        options = [
            [tone for tone in of if (tone[0] == 0 and rings) or lies <= tone[0] <= reach] for of in tones
        ]
        for begins in range(len(long)):
            partly: list[tuple[tuple[_Tone, ...], int, int]] = [((), 0, NOWHERE)]
            for ends in range(begins, min(len(long), begins + (most or len(long)))):
                partly = [
                    ((*grip, tone), sounding | tone[1], tone[0] if 0 < tone[0] < lowest else lowest)
                    for grip, sounding, lowest in partly
                    for tone in options[ends]
                ]
                if ends + 1 - begins < floor:
                    continue
                for grip, sounding, lowest in partly:
                    if lowest != (lies or NOWHERE):
                        continue
                    gone = wanted.misses(sounding, len(grip)) if wanted.tones & ~sounding else 0
                    if gone is None:
                        continue
                    held = tuple([tone[0] for tone in grip])
                    fingers = 0 if bar else len({*held, 0}) - 1
                    if fingers > MOST_FINGERS:
                        continue
                    bass, bit = min([tone[::-1] for tone in grip])[:2]
                    if needs_bass and wanted.bass and bit != wanted.bass:
                        continue
                    sound = _sound_effort(instrument.id, wanted, gone, grip, begins, len(long))
                    missing = tuple(name for at, name in wanted.names if gone & at)
                    at_least = sound + FINGER * fingers
                    yield _Grip(begins + 1, held, bass, sound, at_least, drone, missing)


def _shape(chord: Chord, board: Fretboard, grip: _Grip, hand: tuple[tuple[int, ...], float]) -> Shape:
    frets: list[int | None] = [None] * board.instrument.strings
    fingers = [0] * board.instrument.strings
    for string, (fret, finger) in enumerate(zip(grip.held, hand[0], strict=True), grip.begins):
        frets[string - 1], fingers[string - 1] = fret, finger
    if grip.drone is not None and board.instrument.short_string:
        frets[board.instrument.short_string[0] - 1] = 0
    effort = round(hand[1] + grip.sound, 4)
    neck = _neck(board.instrument.scale_mm, board.capo, board.instrument.frets - board.capo)
    laid = {finger: neck[fret] for finger, fret in zip(hand[0], grip.held, strict=True) if finger}
    wide = any(laid[high] - laid[low] > SPANS_MM[low, high][1] for low, high in combinations(sorted(laid), 2))
    return Shape(chord, tuple(frets), tuple(fingers), grip.missing, grip.drone, effort, grip.bass, wide)


def _sound_effort(
    instrument: str, wanted: _Wanted, gone: int, grip: Sequence[_Tone], begins: int, strings: int
) -> float:
    """What a shape lacks as sound, and where it lies, in fingers."""
    effort = SILENT_HIGH * begins + SILENT_LOW * (strings - begins - len(grip))
    effort += THIN * max(0, min(FULL, strings) - len(grip))
    if gone:
        for bit, kind in ((wanted.fifth, "fifth"), (wanted.root, "root"), (wanted.thirds, "third")):
            if gone & bit:
                effort += MISSING[kind]
        others = gone & ~(wanted.fifth | wanted.root | wanted.thirds)
        effort += MISSING["else"] * others.bit_count()
    pitches = {pitch: bit for _, bit, pitch in grip}
    if instrument not in REENTRANT:
        effort += UNISON * (len(grip) - len(pitches))
    effort += DOUBLED_THIRD * max(0, sum(bit == wanted.thirds for _, bit, _ in grip) - 1)
    lowest, highest = pitches[min(pitches)], pitches[max(pitches)]
    if instrument in HAS_BASS and not wanted.bass:
        low, next_up = sorted(pitches)[:2]
        effort += GROWL if low < GROWLS_UNDER and next_up - low < FOURTH else 0.0
        if lowest != wanted.root:
            effort += BASS_FIFTH if lowest == wanted.fifth else BASS_OTHER
    elif instrument in OUTER_THIRD:
        effort += OUTER_THIRD[instrument] * ((lowest == wanted.thirds) + (highest == wanted.thirds) / 2)
    stopped = [fret for fret, _, _ in grip if fret]
    if stopped:
        for (before, _, _), (fret, _, _), (after, _, _) in zip(grip, grip[1:], grip[2:], strict=False):
            if fret == 0 and before > 1 and after > 1:
                effort += RINGS_UNDER * (min(before, after) - 1)
        effort += UP_THE_NECK * (min(stopped) - 1) + SHUT * len(stopped)
    return effort


@lru_cache(maxsize=64)
def _neck(scale_mm: int, capo: int, frets: int) -> tuple[float, ...]:
    """Distance in mm of each fret from the capo (or nut); twelve-tone equal temperament."""
    left = scale_mm * 2 ** (-capo / 12)
    return tuple(left * (1 - 2 ** (-fret / 12)) for fret in range(frets + 1))


def _reach(neck: Sequence[float], lies: int) -> int:
    """The highest fret that the little finger gets to with the index at ``lies``."""
    most = AT_LEISURE_MM[1, 4]
    return max(
        fret
        for fret in range(lies, min(len(neck) - 1, lies + MOST_APART) + 1)
        if neck[fret] - neck[lies] <= most
    )


@lru_cache(maxsize=16384)
def fingering(frets: tuple[int, ...], scale_mm: int, capo: int = 0) -> tuple[tuple[int, ...], float] | None:
    """The easiest fingers on neighbouring strings (highest string first), and their effort; None if no hand can do it.

    Fingers lie in order along the neck, in one fret the lower finger on the bass side. A finger may lie over several
    strings of a fret, the index over any that are not stopped behind it or open, others over two.
    """
    stopped = sorted((fret, -place) for place, fret in enumerate(frets) if fret)
    if not stopped:
        return (0,) * len(frets), 0.0
    neck = _neck(scale_mm, capo, stopped[-1][0])
    # how many more fingers it takes at least from each note on: one for each fret that begins there
    needs = [
        len({fret for fret, _ in stopped[i:]} - {fret for fret, _ in stopped[:i]})
        for i in range(len(stopped))
    ]
    best = inf
    chosen: tuple[int, ...] | None = None
    fingers = [0] * len(frets)

    def lay(index: int, laid: _Laid, effort: float) -> None:
        nonlocal best, chosen
        if index == len(stopped):
            if effort < best:
                best, chosen = effort, tuple(fingers)
            return
        if effort + FINGER * needs[index] >= best:
            return
        fret, place = stopped[index][0], -stopped[index][1]
        last, beside = 0, 0
        if laid:
            last, at, begins, under, beside = laid[-1]
            if at != fret:
                beside = 0
            elif min(frets[place : begins + 1]) >= fret and (last == 1 or begins - place < SHORTER_BARRE):
                fingers[place] = last
                more = {1: SHORT_BARRE, 2: LONG_BARRE - SHORT_BARRE}.get(under, 0.0)
                if last > 1:
                    more = OTHER_BARRE
                elif 0 in frets[:place]:
                    more += ARCHED
                lay(index + 1, (*laid[:-1], (last, fret, begins, under + 1, beside)), effort + more)
        if beside == SIDE_BY_SIDE:
            return
        for finger in range(last + 1, MOST_FINGERS + 2 - max(1, needs[index])):
            more = FINGER + (LITTLE if finger == 4 else 0.0)
            for other, at, _, _, _ in laid:
                apart = neck[fret] - neck[at]
                comfortable = SPANS_MM[other, finger][0]
                if apart > AT_LEISURE_MM[other, finger]:
                    break
                if apart > comfortable:
                    more += STRETCH * (apart - comfortable)
                if other == last and apart:
                    more += CROOKED * abs(FINGER_MM * (finger - other) - apart)
            else:
                fingers[place] = finger
                lay(index + 1, (*laid, (finger, fret, place, 1, beside + 1)), effort + more)

    lay(0, (), 0.0)
    return None if chosen is None else (chosen, best + WIDE * (neck[stopped[-1][0]] - neck[stopped[0][0]]))
