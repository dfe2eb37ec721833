"""A part of a tune as a hand meets it: slot after slot, what the melody wants there, which chord it is, how strong the place is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from service.judge.emphasis import place_of, pull
from service.judge.melody import Sound, evened
from service.judge.rules import LANDING_AIR
from service.music.harmony import Chord, Key
from service.music.licks import MAX_PICKUP, Change
from service.music.meter import Meter
from service.music.setting import Setting
from service.music.tunes import Part, Phrase, Tune, phrases

STRONG = ("downbeat", "strong")
PICKUP_COUNTS = 2.0  # times what a melody note of a pickup counts; ours


@dataclass(frozen=True, slots=True)
class Slot:
    """``onset`` in ticks from the part's first bar line; ``melody`` begins here (duration in ticks, pitch as the hand thinks).

    ``silent`` slots must stay empty; ``tonic`` ones must sound the tonic (R5). ``column`` counts from the bar line, from 0.
    """

    onset: int
    place: str
    chord: Chord | None
    melody: Sound | None
    weight: float
    silent: bool = False
    tonic: bool = False
    column: int = 0
    begins: bool = False  # a phrase, which may follow another lick than it does here


@dataclass(frozen=True, slots=True)
class Ground:
    """A part over which a hand plays: its slots, and the melody notes that begin ``between`` them; ``evened`` is how many of the
    others are written elsewhere (see judge/melody.py)."""

    part: Part
    key: Key
    meter: Meter
    slots: tuple[Slot, ...]
    between: tuple[Sound, ...]
    evened: int
    phrases: tuple[Phrase, ...]

    @property
    def ticks(self) -> int:
        return sum(measure.ticks for measure in self.part.measures)


def grounds(tune: Tune, setting: Setting, octave: int) -> Iterator[Ground]:
    """Each part once, in playing order; ``octave`` is added to the melody, in semitones."""
    form = phrases(tune)
    for name in dict.fromkeys(tune.order):
        first = next(index for index, phrase in enumerate(form) if phrase.part == name)
        part = tune.part(name)
        yield _ground(tune, setting, part, form[first : first + len(part.cuts)], octave)


def _ground(tune: Tune, setting: Setting, part: Part, form: Sequence[Phrase], octave: int) -> Ground:
    meter, key, step = tune.meter, setting.position, tune.meter.slot_ticks
    moved = octave - setting.capo
    notes = dict(tune.melody).get(part.name, ())
    written = [(note.onset, note.duration, note.pitch + moved) for note in notes]
    even = evened(written, meter)
    melody = [sound for sound in even if sound[0] >= -MAX_PICKUP // step * step]
    changes, starts, at = [], [], 0
    for measure in part.measures:
        starts.append(at)
        changes += [Change(at + c.onset, setting.to_position(c.chord, tune.key)) for c in measure.changes]
        at += measure.ticks
    first = min((onset for onset, _, _ in melody if onset < 0), default=0)
    begun = {sound[0]: sound for sound in melody}
    onsets = [*range(-(-first // step) * step, 0, step), *_onsets(part, step)]
    silent, tonic = _landing(form, meter, key, melody, starts)
    begins = {onsets[0], *accumulate((phrase.ticks for phrase in form[:-1]), initial=0)}
    slots = tuple(
        Slot(
            onset,
            "off" if onset < 0 else _place(onset, starts, meter),
            _chord_at(changes, onset),
            begun.get(onset),
            _weight(begun.get(onset), starts, meter),
            onset in silent,
            onset in tonic,
            _in_measure(onset, starts, meter) // step,
            onset in begins,
        )
        for onset in onsets
    )
    known = set(onsets)
    return Ground(
        part,
        key,
        meter,
        slots,
        tuple(sound for sound in melody if sound[0] not in known),
        sum(one[0] != other[0] for one, other in zip(written, even, strict=True)),
        tuple(form),
    )


def _onsets(part: Part, step: int) -> Iterator[int]:
    start = 0
    for measure in part.measures:
        yield from range(start, start + measure.ticks, step)
        start += measure.ticks


def _in_measure(onset: int, starts: Sequence[int], meter: Meter) -> int:
    """An onset from the start of its own measure: crooked parts have some of other lengths."""
    if onset < 0:
        return onset % meter.measure_ticks
    return onset - max(start for start in starts if start <= onset)


def _weight(sound: Sound | None, starts: Sequence[int], meter: Meter) -> float:
    """How much a melody note counts; one of a pickup for more, since it leads in."""
    if sound is None:
        return 0.0
    counts = pull(_in_measure(sound[0], starts, meter), sound[1], meter)
    return PICKUP_COUNTS * counts if sound[0] < 0 else counts


def _place(onset: int, starts: Sequence[int], meter: Meter) -> str:
    return place_of(_in_measure(onset, starts, meter), meter)


def _chord_at(changes: Sequence[Change], onset: int) -> Chord | None:
    return next((c.chord for c in reversed(changes) if c.onset <= max(0, onset)), None)


def _landing(
    form: Sequence[Phrase], meter: Meter, key: Key, melody: Sequence[Sound], starts: Sequence[int]
) -> tuple[set[int], set[int]]:
    """The slots that a tag leaves empty at its end, and the one where it must land (R5)."""
    silent: set[int] = set()
    tonic: set[int] = set()
    start = 0
    for phrase in form:
        end = start + phrase.ticks
        if phrase.role == "tag":
            silent |= {end - slot * meter.slot_ticks for slot in range(1, LANDING_AIR + 1)}
            beats = [bar for bar in starts if start <= bar < end and bar not in silent]
            sung = [onset for onset, _, pitch in melody if onset in beats and pitch % 12 == key.tonic_class]
            tonic |= {(sung or beats)[-1]} if beats else set()
        start = end
    return silent, tonic
