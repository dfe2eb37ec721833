"""What happens in a measure, count by count, as parts of sentences."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from service.music.licks import Change
from service.music.rhythm import Value, WrittenMeasure
from service.music.scores import Score
from service.notation.linked import sources
from service.notation.spoken import (
    Part,
    Parts,
    beat_slot,
    chord_said,
    count_said,
    note_said,
    part,
    together_said,
)

_THIRD_TICKS = {"quarter": 320, "eighth": 160, "16th": 80, "32nd": 40}


@dataclass(frozen=True, slots=True)
class Told:
    """A measure's content: the chord that it begins over, and what happens; equal where nothing differs to the player."""

    chord: Parts
    events: Parts
    ticks: int
    silent: bool


class Telling:
    """Tells what happens in each measure."""

    def __init__(self, score: Score) -> None:
        self._score = score
        self._meter = score.passage.meter
        self._sources = sources(score.passage.notes, self._meter)
        self._changes = sorted(score.passage.changes, key=lambda change: change.onset)
        self._onsets = [change.onset for change in self._changes]

    def measures(self, measures: Sequence[WrittenMeasure]) -> list[Told]:
        return [self._measure(measure) for measure in measures]

    def _measure(self, measure: WrittenMeasure) -> Told:
        at = bisect_right(self._onsets, measure.onset)
        chord: Parts = chord_said(self._changes[at - 1].chord) if at else ()
        inside = [change for change in self._changes[at:] if change.onset < measure.onset + measure.ticks]
        silent = not any(value.notes for value in measure.values)
        events = () if silent and not inside else self._events(measure, inside)
        return Told(chord, events, measure.ticks, silent and not inside)

    def _events(self, measure: WrittenMeasure, changes: Sequence[Change]) -> Parts:
        phase = -measure.ticks % self._meter.measure_ticks if measure.number == 0 else 0
        happening: dict[int, Parts] = {}
        thirds: dict[int, int | None] = {}
        resting = False
        for value in measure.values:
            thirds[value.onset] = _third(value)
            happening[value.onset] = self._happens(value, measure.onset + value.onset, resting)
            resting = value.rest
        chords = {change.onset - measure.onset: chord_said(change.chord) for change in changes}
        events: list[Part] = []
        beat: int | None = None
        for onset in sorted({*happening, *chords}):
            notes, chord = happening.get(onset, ()), chords.get(onset)
            if not notes and chord is None:
                continue
            count = count_said(onset + phase, self._meter, beat, thirds.get(onset))
            beat = beat_slot(onset + phase, self._meter)
            if chord is None:
                events.append({"what": "event", "count": count, "notes": notes})
            elif notes:
                events.append({"what": "event-over", "count": count, "chord": chord, "notes": notes})
            else:
                events.append({"what": "event-change", "count": count, "chord": chord})
        # where nothing begins, something rings on from the measure before
        return tuple(events) or part("event-held")

    def _happens(self, value: Value, now: int, resting: bool) -> Parts:
        """What begins with a value; nothing where one only goes on, or is tied on: no hand does anything then."""
        if value.rest:
            return () if resting else part("event-rest")
        struck = tuple(
            note_said(
                note,
                self._sources.get((note.onset, note.string)),
                self._score.left.get((note.onset, note.string)),
            )
            for note in value.notes
            if note.onset == now
            and not (note.technique == "tie" and (note.onset, note.string) in self._sources)
        )
        return together_said(struck) if struck else ()


def _third(value: Value) -> int | None:
    """How long each of three in the time of two is, where a value lies among such."""
    return None if value.tuplet is None else _THIRD_TICKS[value.tuplet.kind]
