"""Does a line fit its chords? Every note gets a class over its chord, and the class its worth.

The score is the share earned of what could be, each note weighed by its place in the measure and by how long it
is held; a part of it says how much at home the changes are in the key. Works on pitches alone, so that melodies
can be judged as well as licks.
"""

from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from service.judge.emphasis import pull
from service.judge.usual import SCALES, at_home
from service.music.harmony import Chord, Key, chord_named, key_named
from service.music.meter import Meter, meter_named

# What a note is worth by its class over the chord. Common practice, no source; the steps are ours.
WORTH = {  # the open fifth string, a drone heard over any chord, takes no part
    "root": 1.0,
    "third": 1.0,
    "fifth": 1.0,
    "seventh": 0.9,
    "melody": 0.9,  # foreign to the chord, but the tune itself has it there
    "pickup": 0.8,  # before the first bar line, of the key
    "anticipation": 0.6,  # a tone of the next chord, just before it
    "suspension": 0.5,  # a tone of the chord before, held over or struck again, then on by step
    "passing": 0.45,  # a step in, a step on in the same direction
    "neighbour": 0.45,  # a step in, a step back
    "leaning": 0.35,  # comes by leap, goes on by step
    "approach": 0.4,  # of no scale, a semitone before the chord tone it leads to
    "colour": 0.3,  # sixth or ninth of the chord
    "blue": 0.25,  # flat third, fifth or seventh of the key
    "scale": 0.15,  # of the key, leading nowhere
    "clash": 0.0,  # of neither, leading nowhere
}
FUNCTIONS = {
    0: "root",
    3: "third",
    4: "third",
    6: "fifth",
    7: "fifth",
    8: "fifth",
}  # semitones above the root
COLOURS = {"major": (2, 9), "minor": (2, 5, 10), "dim": (9,)}  # semitones above the root
BLUE = (3, 6, 10)  # semitones above the tonic
STEP = 2  # semitones
HOME_SHARE = 0.2  # of the score: how much at home the changes are in the key
FIT_ENOUGH = 0.5  # a lick scores at least this over the chords it is used for
HURTS = 0.65  # a foreign note hurts from this emphasis on: on a beat
HELD_HURTS = (
    0.8  # one of the key held against a chord tone, or a flat third over another chord: on a strong place
)
HELD_SLOTS = 2  # slots from which a note counts as held; a semitone above a chord tone then hurts
Sound = tuple[int, int, int]  # (onset, duration, MIDI pitch), in ticks


@dataclass(frozen=True, slots=True)
class Hurt:
    """A note that does not belong: onset in ticks, MIDI pitch, the chord it stands over.

    ``why`` is ``foreign``, ``held-against`` (a semitone above a chord tone, held on a beat) or ``blue-held`` (a
    flat third that does not go on); ``mend`` is the pitch of the nearest chord tone.
    """

    onset: int
    pitch: int
    chord: str
    why: str
    mend: int


@dataclass(frozen=True, slots=True)
class Fit:
    """``score`` 0..1; ``share`` is the part of it that the notes alone earn; ``classes`` are in the notes' order."""

    score: float
    hurts: tuple[Hurt, ...] = ()
    share: float = 1.0
    classes: tuple[str, ...] = ()


def judge_fit(notes: Sequence[Sound], changes: Sequence[tuple[int, str]], meter: str, key: str) -> Fit:
    """Judge (onset, duration, MIDI pitch) notes against (onset, chord name) changes, in ticks.

    Onsets count from the first bar line; pickup notes are negative. Raises DomainError for a chord, meter or
    key that is none.
    """
    thinks = key_named(key)
    chords = sorted(((onset, chord_named(name, thinks)) for onset, name in changes), key=lambda c: c[0])
    order = sorted(range(len(notes)), key=lambda index: notes[index])
    fit = fit_of([notes[index] for index in order], chords, meter_named(meter), thinks)
    classes = [""] * len(notes)
    for index, name in zip(order, fit.classes, strict=True):
        classes[index] = name
    return replace(fit, classes=tuple(classes))


def fit_of(
    notes: Sequence[Sound],
    chords: Sequence[tuple[int, Chord | None]],
    meter: Meter,
    key: Key,
    drones: Collection[int] = (),
    melody: Collection[tuple[int, int]] = (),
) -> Fit:
    """``judge_fit`` with everything read; notes sorted by onset.

    ``drones`` are indexes of notes on the open short string; ``melody`` holds (onset, pitch class) of the tune's
    own notes, welcome where the tune has them.
    """
    if not chords:
        return Fit(1.0, classes=("root",) * len(notes))
    line = _Line(notes, chords, meter, key)
    classes: list[str] = []
    hurts: list[Hurt] = []
    could = earned = 0.0
    for index, (onset, duration, pitch) in enumerate(notes):
        chord = line.over(onset)
        if chord is None:
            classes.append("root")
            continue
        if index in drones:
            classes.append("drone")
            continue
        name = line.class_of(index)
        if name in ("clash", "blue", "scale", "colour", "leaning") and (onset, pitch % 12) in melody:
            name = "melody"
        classes.append(name)
        counts = pull(onset, duration, meter)
        could += counts
        earned += counts * WORTH[name]
        why = line.hurts(index, name)
        if why:
            hurts.append(Hurt(onset, pitch, chord.name, why, _nearest_tone(pitch, chord)))
    share = earned / could if could else 1.0
    home = line.at_home()
    score = share if home is None else (1 - HOME_SHARE) * share + HOME_SHARE * home
    return Fit(score, tuple(hurts), share, tuple(classes))


def _nearest_tone(pitch: int, chord: Chord) -> int:
    return next(pitch + by for by in (1, -1, 2, -2, 3, -3, 4, -4) if (pitch + by) % 12 in chord.pitch_classes)


class _Line:
    """Notes over changes, with what a note's class depends on."""

    def __init__(
        self, notes: Sequence[Sound], chords: Sequence[tuple[int, Chord | None]], meter: Meter, key: Key
    ) -> None:
        self.notes, self.chords, self.meter, self.key = notes, chords, meter, key
        self.starts = [onset for onset, _ in chords]
        self.window = 2 * meter.slot_ticks

    def over(self, onset: int) -> Chord | None:
        return self.chords[max(0, bisect_right(self.starts, onset) - 1)][1]

    def at_home(self) -> float | None:
        """How much at home the changes are, by the time each lasts; None without a chord."""
        end = max(self.starts[-1] + 1, max((onset + lasts for onset, lasts, _ in self.notes), default=0))
        spans = [
            (after - onset, chord)
            for (onset, chord), after in zip(self.chords, [*self.starts[1:], end], strict=True)
            if chord is not None
        ]
        whole = sum(span for span, _ in spans)
        return sum(span * at_home(chord, self.key) for span, chord in spans) / whole if whole else None

    def class_of(self, index: int) -> str:
        onset, _, pitch = self.notes[index]
        chord = self.over(onset)
        if chord is None:
            return "root"
        tone = _table(chord, self.key)[pitch % 12]
        if tone in ("root", "third", "fifth", "seventh"):
            return tone
        if onset < 0 and tone != "clash":
            return "pickup"
        coming = self._coming(onset)
        if coming is not None and pitch % 12 in coming.pitch_classes:
            return "anticipation"
        on = self._step_on(index)
        if on:
            into = self._step_into(index)
            if tone in ("clash", "blue"):
                if abs(on) == 1:
                    return "approach"
            elif self._held_over(index):
                return "suspension"
            elif into:
                return "passing" if (into > 0) == (on > 0) else "neighbour"
            else:
                return "leaning"
        return tone

    def hurts(self, index: int, name: str) -> str | None:
        """Why a note hurts, if it does."""
        onset, duration, pitch = self.notes[index]
        chord = self.over(onset)
        if chord is None or onset < 0:
            return None
        counts = pull(onset, self.meter.slot_ticks, self.meter)
        held = duration >= HELD_SLOTS * self.meter.slot_ticks
        third = name != "melody" and (pitch - self.key.tonic_class) % 12 == 3 and self.key.mode == "major"
        away = held and counts >= HELD_HURTS and chord.family[0] != self.key.tonic_class
        foreign = third and pitch % 12 not in chord.pitch_classes
        if foreign and counts >= HURTS and (away or not self._goes_on(index)):
            return "blue-held"
        if name == "clash" and counts >= HURTS:
            return "foreign"
        above = (pitch - 1) % 12 in chord.pitch_classes
        if name in ("scale", "colour", "blue") and above and held and counts >= HELD_HURTS:
            return "held-against"
        return None

    def _goes_on(self, index: int) -> bool:
        """Whether a flat third goes up to the major third or falls by step, within a beat."""
        onset, _, pitch = self.notes[index]
        beat = self.meter.beat_ticks
        return any(
            0 < after - onset <= beat and -3 <= following - pitch <= 1 and following != pitch
            for after, _, following in self.notes[index + 1 : index + 6]
        )

    def _coming(self, onset: int) -> Chord | None:
        """The chord that begins within a slot."""
        place = bisect_right(self.starts, onset)
        if place < len(self.starts) and self.starts[place] - onset <= self.meter.slot_ticks:
            return self.chords[place][1]
        return None

    def _step_on(self, index: int) -> int:
        """The step to a chord tone that follows while the note still rings in the ear; 0 if there is none."""
        onset, duration, pitch = self.notes[index]
        until = onset + max(duration + self.meter.slot_ticks - 1, self.window)
        for after, _, following in self.notes[index + 1 : index + 6]:
            if after > until:
                break
            if after > onset and 0 < abs(following - pitch) <= STEP:
                chord = self.over(after)
                if chord is None or following % 12 in chord.pitch_classes:
                    return following - pitch
        return 0

    def _step_into(self, index: int) -> int:
        onset, _, pitch = self.notes[index]
        for before, lasts, earlier in reversed(self.notes[max(0, index - 5) : index]):
            if onset - before > max(lasts, self.window):
                break
            if before < onset and 0 < abs(pitch - earlier) <= STEP:
                return pitch - earlier
        return 0

    def _held_over(self, index: int) -> bool:
        """Whether the pitch sounded over the chord before, and the chord has just changed."""
        onset, _, pitch = self.notes[index]
        place = bisect_right(self.starts, onset) - 1
        if place < 1 or onset - self.starts[place] >= self.meter.beat_ticks:
            return False
        return any(earlier == pitch for _, _, earlier in self.notes[max(0, index - 3) : index])


@lru_cache(maxsize=4096)
def _table(chord: Chord, key: Key) -> tuple[str, ...]:
    """The class of each of the twelve pitch classes over a chord, its neighbours not yet considered."""
    root, kind = chord.family
    scale = SCALES[key.mode]
    found = []
    for pitch in range(12):
        above_tonic, above_root = (pitch - key.tonic_class) % 12, (pitch - root) % 12
        if pitch in chord.pitch_classes:
            found.append(FUNCTIONS.get(above_root, "seventh"))
        elif above_root in COLOURS[kind] and above_tonic in scale:
            found.append("colour")
        elif above_tonic in scale:
            found.append("scale")
        elif above_tonic in BLUE:
            found.append("blue")
        else:
            found.append("clash")
    return tuple(found)
