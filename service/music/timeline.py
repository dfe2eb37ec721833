"""What sounds when: players' passages, rounds and tempos become events at whole samples.

A file is a row of rounds. Every round plays all parts from the first bar line to the last one at its own tempo; a
loop is many rounds at one tempo, a work-up rounds at rising ones. Clicks count in before the first round and, where
wished, before each new tempo. Every time is an exact rational number of its own, rounded once, so nothing drifts.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from operator import attrgetter

from service.errors import DomainError
from service.music.licks import LINKED
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.sounded import RINGING, STRUM_SECONDS, Stroke, as_written, ringing, stops

SLOWEST, FASTEST = 30, 320  # beats a minute, of the tempo's own unit; ours
MOST_ROUNDS = 64  # ours
MOST_MINUTES = 60  # ours: nobody practises longer without a pause
MOST_COUNT_IN = 4  # measures; ours
MOST_SHIFT = 11  # semitones; ours: an octave further the shapes would be the same again
RELEASE_HOLD = Fraction(2)  # seconds that a file goes on after its last bar line; ours
_SWING_STEPS = 1000  # a swing is taken to the nearest fraction with no larger denominator; ours
SWING_SHARE = Fraction(1, 3)  # of a slot: at full swing two slots last as 2 to 1; common practice


@dataclass(frozen=True, slots=True)
class Part:
    """One player. ``melody`` holds the onsets (ticks) of notes that carry the tune; ``lead`` is the one on top."""

    name: str
    passage: Passage
    melody: frozenset[int] = frozenset()
    lead: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """All that decides how a file sounds.

    ``rounds`` holds the tempo of each, in beats of ``beat_ticks`` a minute. ``count_in`` is in measures; with
    ``announce`` it comes before each new tempo too. ``click`` lets it go on all through. ``muted`` names parts that
    are silent. ``swing`` 0 to 1 delays every second slot by up to a third of a slot. ``shift`` moves every part
    by semitones.
    """

    parts: tuple[Part, ...]
    meter: Meter
    beat_ticks: int
    rounds: tuple[int, ...]
    count_in: int = 1
    click: bool = False
    announce: bool = True
    muted: frozenset[str] = frozenset()
    swing: float = 0.0
    shift: int = 0
    stereo: bool = False


@dataclass(frozen=True, slots=True, order=True)
class Event:
    """One stroke. ``start`` and ``stop`` are samples; pitches are MIDI numbers.

    ``part`` counts into the plan's parts. ``came_from`` is the pitch the string had until now, for what is linked
    to it, ``since`` the sample at which that began. ``weight`` is the metrical one, 1 on a downbeat. ``cut`` is true
    where the same string is struck again at ``stop``, false where it is damped.
    """

    start: int
    part: int
    string: int
    stop: int
    pitch: int
    open: bool
    technique: str | None
    came_from: int | None
    since: int
    weight: float
    melody: bool
    cut: bool


@dataclass(frozen=True, slots=True, order=True)
class Click:
    """One tick of the metronome; the downbeat is the high one."""

    start: int
    downbeat: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a round begins. ``start`` is the sample of its count-in or pickup, ``bar`` that of its first bar line;
    ``number`` counts rounds from 1."""

    start: int
    bar: int
    number: int
    bpm: int


@dataclass(frozen=True, slots=True)
class Timeline:
    """Events and clicks in order of time; ``bars`` are the samples of all bar lines, ``length`` the whole file's."""

    rate: int
    length: int
    events: tuple[Event, ...]
    clicks: tuple[Click, ...]
    marks: tuple[Mark, ...]
    bars: tuple[int, ...]

    @property
    def tempos(self) -> tuple[tuple[int, Fraction], ...]:
        """(beats a minute, seconds from the start) of each stretch at one tempo, its count-in included."""
        found: list[tuple[int, Fraction]] = []
        for mark in self.marks:
            if not found or found[-1][0] != mark.bpm:
                found.append((mark.bpm, Fraction(mark.start, self.rate)))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class _Round:
    """``at`` is the grain of its first bar line; ``before`` the tempo of what lies before that line."""

    number: int
    bpm: int
    at: int
    before: int
    counted: bool


def usual_count_in(meter: Meter) -> int:
    """Measures to count in: two where a measure has two beats, else one. Common practice."""
    return 2 if meter.measure_ticks // meter.beat_ticks <= 2 else 1


def work_up_tempos(start: int, target: int, step: int, times_each: int) -> tuple[int, ...]:
    """The tempo of each round of a work-up: from ``start`` by ``step`` to ``target``, each played ``times_each`` times.

    The last one is the target itself. It may go down too. Raises DomainError ``bad-work-up``, ``tempo-out-of-range``
    or ``too-many-rounds``.
    """
    if step < 1 or times_each < 1:
        raise DomainError("bad-work-up")
    for bpm in (start, target):
        _check_bpm(bpm)
    up = 1 if target >= start else -1
    tempos = [*range(start, target, up * step), target]
    _check_rounds(len(tempos) * times_each)
    return tuple(bpm for bpm in tempos for _ in range(times_each))


def timeline(plan: Plan, rate: int) -> Timeline:
    """The plan's events at ``rate`` samples a second.

    A tied note lengthens the one before. A string sounds until it is struck again, or as long as the instrument rings
    after the written end; chords are strummed. A round's pickup takes the place of the end of the round before, as in a break, unless a
    count-in stands between them. Raises DomainError ``nothing-to-play``, ``parts-differ``, ``tempo-out-of-range``,
    ``too-many-rounds``, ``too-long``, ``count-in-too-long``, ``bad-swing``, ``shift-too-far``, ``no-such-player``.
    """
    _check(plan)
    clock = _Clock(plan, rate)
    ticks = plan.parts[0].passage.ticks
    rounds = _rounds(plan, ticks, clock)
    last = rounds[-1]
    length = clock.sample(last.at + ticks * clock.tick(last.bpm) + clock.seconds(RELEASE_HOLD))
    starts = plan.parts[0].passage.starts
    bars = tuple(clock.sample(r.at + tick * clock.tick(r.bpm)) for r in rounds for tick in starts)
    events: list[Event] = []
    for index, part in enumerate(plan.parts):
        if part.name not in plan.muted:
            events.extend(_played(plan, index, rounds, clock, length))
    events.sort(key=attrgetter("start", "part", "string"))
    pickup = max(part.passage.pickup_ticks for part in plan.parts)
    heard_before = {True: max(_count_in_ticks(plan), pickup), False: pickup}
    marks = tuple(
        Mark(
            clock.sample(r.at - heard_before[r.counted] * clock.tick(r.before)),
            clock.sample(r.at),
            r.number,
            r.bpm,
        )
        for r in rounds
    )
    return Timeline(rate, length, tuple(events), _clicks(plan, rounds, clock), marks, bars)


# --- what may be asked ---------------------------------------------------------------------------------


def _check(plan: Plan) -> None:
    if not plan.parts or not plan.rounds or plan.parts[0].passage.ticks <= 0 or plan.beat_ticks <= 0:
        raise DomainError("nothing-to-play")
    if len({part.passage.measures for part in plan.parts}) > 1:
        raise DomainError("parts-differ", parts=", ".join(part.name for part in plan.parts))
    _check_rounds(len(plan.rounds))
    for bpm in plan.rounds:
        _check_bpm(bpm)
    if not 0 <= plan.count_in <= MOST_COUNT_IN:
        raise DomainError("count-in-too-long", measures=plan.count_in, most=MOST_COUNT_IN)
    if not 0 <= plan.swing <= 1:
        raise DomainError("bad-swing", swing=plan.swing)
    if abs(plan.shift) > MOST_SHIFT:
        raise DomainError("shift-too-far", semitones=plan.shift, most=MOST_SHIFT)
    names = [part.name for part in plan.parts]
    for name in sorted(plan.muted - set(names)):
        raise DomainError("no-such-player", name=name, known=", ".join(names))


def _check_bpm(bpm: int) -> None:
    if not SLOWEST <= bpm <= FASTEST:
        raise DomainError("tempo-out-of-range", bpm=bpm, low=SLOWEST, high=FASTEST)


def _check_rounds(count: int) -> None:
    if count > MOST_ROUNDS:
        raise DomainError("too-many-rounds", rounds=count, most=MOST_ROUNDS)


# --- rounds in time ------------------------------------------------------------------------------------


class _Clock:
    """Exact time in whole grains: a grain is so small that every tick of every tempo, swung or not, is a whole number
    of them. Sums of grains are sums of integers, and a sample is rounded from one of them once."""

    def __init__(self, plan: Plan, rate: int) -> None:
        self.swing = Fraction(plan.swing).limit_denominator(_SWING_STEPS) * SWING_SHARE
        self.parts = self.swing.denominator  # of a tick: what swung ticks are counted in
        lasting = [second for rings in RINGING.values() for second in (rings.open, rings.fretted)]
        ring = math.lcm(*(second.denominator for second in (*lasting, STRUM_SECONDS)))
        tempos = math.lcm(*(bpm * plan.beat_ticks for bpm in plan.rounds))
        self._minute = math.lcm(tempos, 60 * ring) * self.parts
        self._rate = rate
        self._ticks = {bpm: self._minute // (bpm * plan.beat_ticks) for bpm in plan.rounds}

    def tick(self, bpm: int) -> int:
        """Grains of one tick."""
        return self._ticks[bpm]

    def seconds(self, seconds: Fraction) -> int:
        """Grains of so many seconds."""
        return seconds.numerator * self._minute // (60 * seconds.denominator)

    def sample(self, grains: int) -> int:
        """The nearest sample; halves go up."""
        return (2 * grains * 60 * self._rate + self._minute) // (2 * self._minute)


def _count_in_ticks(plan: Plan) -> int:
    return plan.count_in * plan.meter.measure_ticks


def _rounds(plan: Plan, ticks: int, clock: _Clock) -> tuple[_Round, ...]:
    pickup = max(part.passage.pickup_ticks for part in plan.parts)
    found: list[_Round] = []
    now = 0
    for number, bpm in enumerate(plan.rounds, 1):
        new = not found or (plan.announce and found[-1].bpm != bpm)
        counted = new and plan.count_in > 0
        if counted or not found:
            # without a count-in the first pickup still needs its time
            now += max(_count_in_ticks(plan) if counted else 0, 0 if found else pickup) * clock.tick(bpm)
        before = bpm if counted or not found else found[-1].bpm
        found.append(_Round(number, bpm, now, before, counted))
        now += ticks * clock.tick(bpm)
        if now > clock.seconds(Fraction(MOST_MINUTES * 60)):
            raise DomainError("too-long", most=MOST_MINUTES)
    return tuple(found)


def _clicks(plan: Plan, rounds: Sequence[_Round], clock: _Clock) -> tuple[Click, ...]:
    found: list[Click] = []
    beat, whole = plan.meter.beat_ticks, plan.meter.measure_ticks
    passage = plan.parts[0].passage
    for r in rounds:
        if r.counted:
            for tick in range(-_count_in_ticks(plan), 0, beat):
                found.append(Click(clock.sample(r.at + tick * clock.tick(r.before)), tick % whole == 0))
        if plan.click:
            for start, measure in zip(passage.starts, passage.measures, strict=True):
                for tick in range(0, measure, beat):
                    at = r.at + (start + tick) * clock.tick(r.bpm)
                    found.append(Click(clock.sample(at), tick == 0))
    return tuple(found)


# --- notes in time -------------------------------------------------------------------------------------


def _played(plan: Plan, index: int, rounds: Sequence[_Round], clock: _Clock, length: int) -> Iterator[Event]:
    part = plan.parts[index]
    lines = as_written(part.passage, part.melody, clock.swing)
    strokes: list[Stroke] = []
    strum = clock.seconds(STRUM_SECONDS)
    for r, following in zip(rounds, (*rounds[1:], None), strict=True):
        is_cut = following is not None and not following.counted
        grain, grain_before = (clock.tick(bpm) // clock.parts for bpm in (r.bpm, r.before))
        for w in lines:
            end = w.cut if is_cut else w.end
            if end is not None:
                begins = r.at + w.onset * (grain if w.onset >= 0 else grain_before) + w.after * strum
                ends = r.at + end * (grain if end >= 0 else grain_before)
                strokes.append(Stroke(w, w.note.string, w.note.fret, begins, ends))
    rings = ringing(part.passage.instrument.id)
    open_ring, fretted_ring = clock.seconds(rings.open), clock.seconds(rings.fretted)
    for stroke, previous, stop, struck in stops(strokes, open_ring, fretted_ring):
        written = stroke.written
        technique = written.note.technique
        linked = previous if technique in LINKED and technique != "tie" else None
        if linked is None and technique in LINKED:
            technique = None  # linked to nothing, or tied to another pitch: it is picked
        start, until = clock.sample(stroke.begins), min(clock.sample(stop), length)
        if until > start:
            yield Event(
                start,
                index,
                stroke.string,
                until,
                written.pitch + plan.shift,
                stroke.fret == 0,
                technique,
                linked.written.pitch + plan.shift if linked else None,
                clock.sample(linked.begins) if linked else start,
                written.weight,
                written.melody,
                struck,
            )
