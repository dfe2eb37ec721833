"""A passage: measures with notes and chords, ready to be written out.

The one form between readers and writers: a lick is a passage, so is a whole break.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from service.music.fretboard import Fretboard
from service.music.instruments import Instrument, Tuning
from service.music.licks import LINKED, Change, Lick, Note
from service.music.meter import Meter


@dataclass(frozen=True, slots=True)
class Passage:
    """``measures`` holds the length of each in ticks, the pickup not among them.

    Onsets count from the first bar line; pickup notes are negative. ``stop`` is the sounding pitch of the open
    fifth string; None means that it goes up with the capo.
    """

    instrument: Instrument
    tuning: Tuning
    meter: Meter
    measures: tuple[int, ...]
    notes: tuple[Note, ...]
    changes: tuple[Change, ...] = ()
    capo: int = 0
    stop: int | None = None

    @property
    def fretboard(self) -> Fretboard:
        return Fretboard(self.instrument, self.tuning, self.capo, self.stop)

    @property
    def ticks(self) -> int:
        return sum(self.measures)

    @property
    def starts(self) -> tuple[int, ...]:
        """Onset of each measure."""
        return tuple(accumulate(self.measures[:-1], initial=0))

    @property
    def pickup_ticks(self) -> int:
        return max(0, -self.notes[0].onset) if self.notes else 0


def without(passage: Passage, onset: int, ticks: int) -> Passage:
    """A passage with nothing played in a stretch of it. What was sounded from a note that is gone is plucked, or gone if it only held
    that on."""
    end, kept, gone = onset + ticks, [], set()
    for note in passage.notes:
        linked = note.technique in LINKED and note.string in gone
        if onset <= note.onset < end or (linked and note.technique == "tie"):
            gone.add(note.string)
        else:
            kept.append(replace(note, technique=None) if linked else note)
            gone.discard(note.string)
    return replace(passage, notes=tuple(kept))


def lick_passage(lick: Lick) -> Passage:
    whole, rest = divmod(lick.ticks, lick.meter.measure_ticks)
    lengths = lick.lengths or (lick.meter.measure_ticks,) * whole + ((rest,) if rest else ())
    return Passage(lick.instrument, lick.tuning, lick.meter, lengths, lick.notes, lick.changes)


def lasting(notes: Sequence[Note], starts: Sequence[int], end: int) -> tuple[Note, ...]:
    """Notes with durations as a tab implies them: each lasts to the next onset, or to its bar line.

    ``starts`` are the onsets of the measures. Notes struck together last equally long.
    """
    onsets = sorted({note.onset for note in notes})
    stops = sorted({*starts, end, *onsets})
    following: dict[int, int] = {}
    index = 0
    for onset in onsets:
        while stops[index] <= onset:
            index += 1
        following[onset] = stops[index]
    return tuple(
        Note(n.onset, n.string, n.fret, following[n.onset] - n.onset, n.technique, n.finger)
        for n in sorted(notes, key=lambda n: (n.onset, n.string))
    )
