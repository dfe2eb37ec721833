"""Does a lick keep the tune in mind? Which melody notes it sounds where the tune has them."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.judge.emphasis import PLACES, pull
from service.music.meter import Meter

ANTICIPATED = 0.9  # credit for a melody note that comes a slot early; our choice
KEEPS_FROM = 0.5  # of the strong places' melody notes: from here on a lick keeps the melody (common practice)
Sound = tuple[int, int, int]  # (onset, duration, MIDI pitch), in ticks


@dataclass(frozen=True, slots=True)
class Recall:
    """``share`` 0..1 of the melody, each note weighed by its place and length; octaves do not matter.

    ``kept`` are indexes of melody notes; ``strong_kept`` of ``strong`` targets are those on strong places.
    """

    share: float
    kept: tuple[int, ...]
    strong_kept: int
    strong: int

    @property
    def keeps(self) -> bool:
        return self.strong_kept >= KEEPS_FROM * self.strong


def evened(melody: Sequence[Sound], meter: Meter) -> tuple[Sound, ...]:
    """A melody as the slots of its meter can hold it: dotted pairs even, of a triplet the middle note between slots (common practice
    with hornpipes and strathspeys). A note that begins between two slots where none begins goes to one of them, the earlier first;
    one that finds no free slot stays where it is. Sounds by rising onset, before and after.
    """
    step = meter.slot_ticks
    begun = {onset for onset, _, _ in melody}
    between: dict[int, list[int]] = {}
    for index, (onset, _, _) in enumerate(melody):
        if onset % step:
            between.setdefault(onset - onset % step, []).append(index)
    moved: dict[int, int] = {}
    for slot in sorted(between, reverse=True):  # from behind: the last of a beat leads on
        for free, which in ((slot, 0), (slot + step, -1)):
            if between[slot] and free not in begun:
                moved[between[slot].pop(which)] = free
                begun.add(free)
    onsets = [moved.get(index, sound[0]) for index, sound in enumerate(melody)]
    found = []
    for index, (onset, duration, pitch) in enumerate(melody):
        end = max(onset + duration, onsets[index] + (step if index in moved else 1))
        following = onsets[index + 1] if index + 1 < len(onsets) else end
        found.append((onsets[index], min(end, following) - onsets[index], pitch))
    return tuple(found)


def recall(notes: Sequence[Sound], melody: Sequence[Sound], meter: Meter, ticks: int) -> Recall:
    """How much of a melody notes recall. Both start at the same bar line; both are in the same key.

    A melody note is kept where its pitch class begins with it, or one slot before.
    """
    heard: dict[int, set[int]] = {}
    for onset, _, pitch in notes:
        heard.setdefault(onset, set()).add(pitch % 12)
    could = earned = 0.0
    kept = []
    for index, (onset, duration, pitch) in enumerate(melody):
        counts = pull(onset, duration, meter)
        could += counts
        credit = _credit(heard, onset, pitch, meter)
        if credit:
            kept.append(index)
            earned += counts * credit
    targets = strong_targets(melody, meter, ticks)
    strong_kept = sum(_credit(heard, tick, pitch, meter) > 0 for tick, pitch in targets)
    return Recall(earned / could if could else 0.0, tuple(kept), strong_kept, len(targets))


def _credit(heard: dict[int, set[int]], onset: int, pitch: int, meter: Meter) -> float:
    if pitch % 12 in heard.get(onset, ()):
        return 1.0
    return ANTICIPATED if pitch % 12 in heard.get(onset - meter.slot_ticks, ()) else 0.0


def strong_places(meter: Meter, ticks: int) -> list[int]:
    """Onsets where the ear looks for the tune: eighths 1 and 5 of a measure of cut time, beat 1 of a waltz."""
    slots = [slot for slot, place in enumerate(PLACES[meter.name]) if place in ("downbeat", "strong")]
    starts = range(0, ticks, meter.measure_ticks)
    return [t for start in starts for slot in slots if (t := start + slot * meter.slot_ticks) < ticks]


def strong_targets(melody: Sequence[Sound], meter: Meter, ticks: int) -> list[tuple[int, int]]:
    """(onset, pitch) of the melody at each strong place, sounding on from before or begun there."""
    return [
        (tick, pitch)
        for tick in strong_places(meter, ticks)
        for onset, duration, pitch in melody
        if onset <= tick < onset + duration
    ]
