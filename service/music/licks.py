"""Notes and licks.

Onsets are ticks from the first bar line, so pickup notes have negative onsets. Notes are kept in the
order (onset, string). A lick's notes carry no pitch: string, fret and tuning give it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

from service.errors import DomainError, Fault
from service.music.fretboard import Fretboard
from service.music.harmony import Chord, Key
from service.music.instruments import STYLES, Instrument, Tuning
from service.music.meter import EIGHTH, Meter

# What the left hand does to a note. The linked ones are sounded from the note before on the same string.
LINKED = ("hammer-on", "pull-off", "slide", "tie")
RIGHT_HANDS = ("T", "I", "M", "p", "i", "m", "a", "d", "u")
ROLES = ("opener", "body", "set-up", "tag")
GATED_ROLES = ("set-up", "tag")  # these fill only phrases of their own role; the others are a preference
MAX_PICKUP = 3 * EIGHTH  # common practice, no source: more would eat beat 3 of the measure before


@dataclass(frozen=True, slots=True, order=True)
class Note:
    """``onset`` and ``duration`` in ticks; ``finger`` is the picking finger where the text gave one."""

    onset: int
    string: int
    fret: int
    duration: int
    technique: str | None = None
    finger: str | None = None

    def moved(self, by: int) -> "Note":
        return Note(self.onset + by, self.string, self.fret, self.duration, self.technique, self.finger)


@dataclass(frozen=True, slots=True)
class Change:
    """From ``onset`` (ticks) on, this chord; None is N.C."""

    onset: int
    chord: Chord | None


@dataclass(frozen=True, slots=True)
class Lick:
    """A lick as the pool keeps it; chords and frets in the playing position, no capo.

    ``lengths`` are those of its measures in ticks; empty means full ones and a shorter last one.
    """

    name: str
    instrument: Instrument
    tuning: Tuning
    hand_style: str
    style: str
    meter: Meter
    key: Key
    ticks: int
    notes: tuple[Note, ...]
    changes: tuple[Change, ...]
    role: str | None = None
    level: int = 3
    phrases: int = 1
    lengths: tuple[int, ...] = ()

    @property
    def pickup_ticks(self) -> int:
        """Length of the pickup before the first bar line; 0 without one."""
        return max(0, -self.notes[0].onset)

    @property
    def bars(self) -> tuple[int, ...]:
        """Where its measures begin, in ticks."""
        if not self.lengths:
            return tuple(range(0, self.ticks, self.meter.measure_ticks))
        return tuple(accumulate(self.lengths[:-1], initial=0))

    @property
    def measures(self) -> int:
        return -(-self.ticks // self.meter.measure_ticks)

    @property
    def fretboard(self) -> Fretboard:
        return Fretboard(self.instrument, self.tuning)

    def sounding(self) -> tuple[tuple[int, int, int], ...]:
        """(onset, duration, MIDI pitch) of what is heard, no capo; ties joined, mutes left out."""
        return sounding(self.notes, self.fretboard)


def sounding(notes: Iterable[Note], fretboard: Fretboard) -> tuple[tuple[int, int, int], ...]:
    """(onset, duration, pitch) triples; a tied note lengthens the one before it."""
    heard: list[tuple[int, int, int]] = []
    last: dict[int, int] = {}
    for note in notes:
        if note.technique == "mute":
            continue
        pitch = fretboard.pitch(note.string, note.fret)
        before = last.get(note.string)
        if note.technique == "tie" and before is not None and heard[before][2] == pitch:
            onset, _, _ = heard[before]
            heard[before] = (onset, note.onset + note.duration - onset, pitch)
            continue
        last[note.string] = len(heard)
        heard.append((note.onset, note.duration, pitch))
    return tuple(heard)


def check_lick(lick: Lick) -> None:
    """Raise one DomainError ``bad-lick`` with a fault for each thing no lick may have."""
    faults = list(_faults(lick))
    if faults:
        raise DomainError("bad-lick", at=faults, count=len(faults))


def _faults(lick: Lick) -> Iterable[Fault]:
    if not lick.notes:
        yield Fault("empty-lick")
        return
    if lick.ticks <= 0 or lick.notes[-1].onset >= lick.ticks:
        yield Fault("no-measures")
    if lick.hand_style not in lick.instrument.hand_styles:
        yield Fault(
            "wrong-hand-style",
            {"hand_style": lick.hand_style, "known": ", ".join(lick.instrument.hand_styles)},
            path="hand_style",
        )
    elif lick.style not in STYLES[lick.hand_style]:
        yield Fault(
            "wrong-style", {"style": lick.style, "known": ", ".join(STYLES[lick.hand_style])}, path="style"
        )
    if lick.pickup_ticks > MAX_PICKUP:
        yield Fault("pickup-too-long", {"eighths": lick.pickup_ticks // EIGHTH, "most": MAX_PICKUP // EIGHTH})
    if not lick.changes or lick.changes[0].onset != 0:
        yield Fault("no-chords", path="chords")
    if lick.changes and lick.changes[-1].onset >= lick.ticks:
        yield Fault("chords-past-the-end", {"measures": lick.measures}, path="chords")
    taken: set[tuple[int, int]] = set()
    for note in lick.notes:
        where = note.onset // lick.meter.measure_ticks + 1
        refusal = lick.fretboard.refuses(note.string, note.fret)
        if refusal:
            yield Fault(refusal, {"string": note.string, "fret": note.fret}, measure=where)
        if (note.onset, note.string) in taken:
            yield Fault("two-notes-on-one-string", {"string": note.string}, measure=where)
        taken.add((note.onset, note.string))
