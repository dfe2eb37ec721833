"""What a teacher checks, each rule a function that returns what breaks it. Common practice, no source.

Rules look at a stretch of music in the hand's own key: a lick, or a break with its seams. Numbers are named
settings. What is wrong in one hand style is normal in another; each rule says where it holds.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from service.judge.emphasis import PLACES, place_of
from service.judge.fit import FIT_ENOUGH, Fit
from service.judge.hands import Hands
from service.judge.left_hand import left_hand
from service.judge.melody import Recall, Sound
from service.music.fretboard import Fretboard
from service.music.harmony import Chord, Key
from service.music.licks import Change, Note, sounding
from service.music.meter import Meter

JUMP_FRETS = 4  # a greater move needs air, on a banjo's scale; shorter necks allow more in proportion
JUMP_SCALE_MM = 667
JUMP_FROM_BPM = 90  # half notes a minute from which that holds
LEAST_NOTES = (
    1  # a measure that begin to sound in a lick, on average (ours: fewer is a rest with a note in it)
)
LANDING_AIR = 2  # eighths left empty at the end of a tag
HOP_SHARE = 0.65  # of the time between two eighths at JUMP_FROM_BPM that makes a finger's hop worth a word
FINGER_STYLES = (
    "roll",
    "melodic",
    "single-string",
    "fingers",
)  # where a finger must not come twice at eighths
LEAST_EIGHTH_MS = 375  # half = 40: what no hand can play that fast does not work
EIGHTH_MS = 60_000 / JUMP_FROM_BPM / 4


@dataclass(frozen=True, slots=True)
class Finding:
    """What breaks a rule: its code, where (ticks from the first bar line), and what the sentence names."""

    code: str
    onset: int
    params: tuple[tuple[str, object], ...] = ()


@dataclass(frozen=True, slots=True)
class Stretch:
    """Music to check: notes in playing position with their styles, over changes, at a tempo.

    ``bpm`` counts half notes in cut time (the meter's own beats elsewhere); ``role`` is what it shall be;
    ``melody`` is the tune there, octaves as in the playing position; ``bars`` are the onsets of its measures, full ones if it
    is empty.
    """

    notes: tuple[Note, ...]
    styles: tuple[str, ...]
    changes: tuple[Change, ...]
    meter: Meter
    key: Key
    board: Fretboard
    ticks: int
    bpm: float
    hands: Hands
    fit: Fit
    role: str | None = None
    melody: tuple[Sound, ...] = ()
    recall: Recall | None = None
    bars: tuple[int, ...] = ()

    @property
    def eighth_ms(self) -> float:
        """Milliseconds of an eighth (of a sixteenth in 2/4, which is rolled alike)."""
        return 60_000 / self.bpm * self.meter.slot_ticks / self.meter.beat_ticks

    def fretted(self, note: Note) -> bool:
        short = self.board.instrument.short_string
        return note.fret > 0 and (short is None or note.string != short[0])


def change_heard(of: Stretch) -> Iterator[Finding]:
    """R1: over any chord but the tonic a fretted chord tone, one that the tonic chord lacks, or the melody's own
    note sounds on a strong place; or a chord is struck on a beat. The short string does not count."""
    tonic = {
        (of.key.tonic_class + step) % 12 for step in ((0, 3, 7) if of.key.mode == "minor" else (0, 4, 7))
    }
    ends = [*(change.onset for change in of.changes[1:]), of.ticks]
    for change, end in zip(of.changes, ends, strict=True):
        if change.chord is None or change.chord.family[0] == of.key.tonic_class:
            continue
        for start, stop in _measures(change.onset, end, of.meter):
            strong = _strong(of.meter, start, stop)
            if not strong:
                continue
            heard = any(_tells(of, note, change.chord, strong, tonic, start, stop) for note in of.notes)
            if not heard:
                yield Finding("change-not-heard", start, (("chord", change.chord.name),))


def _tells(
    of: Stretch, note: Note, chord: Chord, strong: list[int], tonic: set[int], start: int, stop: int
) -> bool:
    """Whether a note lets the ear hear the chord between ``start`` and ``stop``."""
    short = of.board.instrument.short_string
    if short is not None and note.string == short[0]:
        return False
    pitch = of.board.pitch(note.string, note.fret)
    tone = pitch % 12 in chord.pitch_classes and (note.fret > 0 or pitch % 12 not in tonic)
    for tick in strong:
        if note.onset <= tick < note.onset + note.duration:
            sung = any(o <= tick < o + lasts and (p - pitch) % 12 == 0 for o, lasts, p in of.melody)
            if tone or sung:
                return True
    # a chord struck on any beat, as behind others, tells as much
    on_beat = start <= note.onset < stop and place_of(note.onset, of.meter) in ("downbeat", "strong", "beat")
    return tone and on_beat and sum(other.onset == note.onset for other in of.notes) > 1


def _measures(start: int, end: int, meter: Meter) -> Iterator[tuple[int, int]]:
    """A stretch cut at bar lines."""
    while start < end:
        stop = min(end, (start // meter.measure_ticks + 1) * meter.measure_ticks)
        yield start, stop
        start = stop


def _strong(meter: Meter, start: int, stop: int) -> list[int]:
    """Strong places in part of a measure; a waltz has its beats."""
    wanted = ("downbeat", "beat") if meter.name == "3/4" else ("downbeat", "strong")
    base = start - start % meter.measure_ticks
    places = [base + slot * meter.slot_ticks for slot, p in enumerate(PLACES[meter.name]) if p in wanted]
    return [tick for tick in places if start <= tick < stop]


def fingers_hop(of: Stretch) -> Iterator[Finding]:
    """R2: no finger of the left hand must hop between strings where the shape cannot be held."""
    for moment in of.hands.left.moments:
        if moment.why == "hop" and moment.load * of.meter.slot_ticks >= HOP_SHARE * EIGHTH_MS:
            yield Finding("finger-hops", moment.onset, moment.params)


def fingers_free(of: Stretch) -> Iterator[Finding]:
    """R3: no picking finger is due on two neighbouring eighths; where the hand style has fingers."""
    last: dict[str, int] = {}
    for note, style, finger in zip(of.notes, of.styles, of.hands.right.fingers, strict=True):
        if finger is None or style not in FINGER_STYLES:
            continue
        before = last.get(finger)
        if before is not None and 0 < note.onset - before <= of.meter.slot_ticks:
            yield Finding("same-finger", note.onset, (("finger", finger),))
        last[finger] = note.onset


def air_to_shift(of: Stretch) -> Iterator[Finding]:
    """R4: a move of more than four frets at half = 90 or faster needs an open string, a rest or a slide between."""
    if of.eighth_ms > EIGHTH_MS:
        return
    most = JUMP_FRETS * JUMP_SCALE_MM / of.board.instrument.scale_mm
    before: list[Note] = []
    for here in _moments(of.notes):
        fretted = [note for note in here if of.fretted(note)]
        if fretted and before and here[0].onset - before[0].onset <= of.meter.slot_ticks:
            move = min(abs(a.fret - b.fret) for a in before for b in fretted)
            if move > most and not any(note.technique == "slide" for note in fretted):
                yield Finding(
                    "jump-without-air",
                    here[0].onset,
                    (
                        ("from", before[0].fret),
                        ("to", fretted[0].fret),
                        ("frets", move),
                        ("from_bpm", bpm_for(EIGHTH_MS, of.meter)),
                    ),
                )
        before = fretted


def _moments(notes: Sequence[Note]) -> Iterator[list[Note]]:
    here: list[Note] = []
    for note in notes:
        if here and note.onset != here[0].onset:
            yield here
            here = []
        here.append(note)
    if here:
        yield here


def landing(of: Stretch) -> Iterator[Finding]:
    """R5: a tag puts the tonic on beat 1 of one of its measures and leaves its last two eighths empty."""
    if of.role != "tag":
        return
    sounds = sounding(of.notes, of.board)
    bars = of.bars or range(0, of.ticks, of.meter.measure_ticks)
    if not any(onset in bars and pitch % 12 == of.key.tonic_class for onset, _, pitch in sounds):
        yield Finding("tag-does-not-land", 0)
    late = [note for note in of.notes if note.onset >= of.ticks - LANDING_AIR * of.meter.slot_ticks]
    if late:
        yield Finding("tag-without-air", late[0].onset)


def enough_sounds(of: Stretch) -> Iterator[Finding]:
    """A lick has something to say: at least one note a measure begins to sound within it, mutes and its pickup aside."""
    heard = {note.onset for note in of.notes if note.technique != "mute" and note.onset >= 0}
    measures = max(1, of.ticks // of.meter.measure_ticks)
    if len(heard) < LEAST_NOTES * measures:
        yield Finding("too-empty", 0, (("notes", len(heard)), ("measures", measures)))


def melody_kept(of: Stretch) -> Iterator[Finding]:
    """R6: at least half of the tune's notes on strong places are there, or the lick is free."""
    if of.recall is not None and of.recall.strong and not of.recall.keeps:
        kept = (("kept", of.recall.strong_kept), ("strong", of.recall.strong))
        yield Finding("free-of-the-melody", 0, kept)


def notes_belong(of: Stretch) -> Iterator[Finding]:
    """R7 and all other notes that hurt: a flat third goes on, and nothing foreign is held on a beat."""
    for hurt in of.fit.hurts:
        yield Finding(
            hurt.why, hurt.onset, (("pitch", hurt.pitch), ("chord", hurt.chord), ("mend", hurt.mend))
        )


def fits(of: Stretch) -> Iterator[Finding]:
    """A lick belongs over its chords at all."""
    if of.fit.score < FIT_ENOUGH:
        yield Finding("does-not-fit", 0, (("percent", round(100 * of.fit.share)),))


def playable(of: Stretch) -> Iterator[Finding]:
    """No notes struck together that no hand can stop, and nothing beyond the tempo."""
    impossible, top = of.hands.left.impossible, of.hands.top_bpm
    if impossible is not None:
        here = [note for note in of.notes if note.onset == impossible and note.fret]
        for low, high in combinations(sorted(here, key=lambda note: note.fret), 2):
            if left_hand((low, high), of.board.instrument).impossible is not None:
                told = (
                    ("string", low.string),
                    ("fret", low.fret),
                    ("to_string", high.string),
                    ("to_fret", high.fret),
                )
                yield Finding("cannot-be-stopped", impossible, told)
                return
        yield Finding("too-many-to-stop", impossible, (("count", len(here)),))
    elif top is not None and top < bpm_for(LEAST_EIGHTH_MS, of.meter):
        yield Finding("no-tempo", 0, (("top", top), ("unit", of.hands.unit)))
    elif top is not None and top < of.bpm:
        onset = of.hands.limits[0][1].onset if of.hands.limits else 0
        yield Finding("too-fast", onset, (("top", top), ("bpm", of.bpm), ("unit", of.hands.unit)))


def bpm_for(eighth_ms: float, meter: Meter) -> int:
    """The tempo in a meter's beats at which an eighth (a sixteenth in 2/4) lasts so many milliseconds."""
    return round(60_000 / eighth_ms * meter.slot_ticks / meter.beat_ticks)


Rule = Callable[[Stretch], Iterator[Finding]]
RULES: dict[str, Rule] = {
    "fits": fits,
    "R1": change_heard,
    "R2": fingers_hop,
    "R3": fingers_free,
    "R4": air_to_shift,
    "R5": landing,
    "R6": melody_kept,
    "R7": notes_belong,
    "sounds": enough_sounds,
    "playable": playable,
}


def broken(of: Stretch, rules: Sequence[str] = tuple(RULES)) -> list[Finding]:
    """Everything that breaks the rules, in the music's order."""
    found = [finding for name in rules for finding in RULES[name](of)]
    return sorted(found, key=lambda finding: finding.onset)
