"""Moving licks: to another chord or key, down the scale as a sequence, to another instrument or tuning."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.errors import DomainError
from service.judge.hands import lick_hands
from service.judge.places import place_pitches
from service.judge.rules import LEAST_EIGHTH_MS, bpm_for
from service.music.harmony import Chord, Key
from service.music.instruments import STYLES, Instrument, Tuning
from service.music.licks import LINKED, Change, Lick, Note
from service.music.pitch import nearest_spelling, pitch_class

OCTAVE = 12
THIRDS = {"major": 4, "minor": 3, "dim": 3}  # semitones above the root
STEPS = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "minor": (0, 2, 3, 5, 7, 8, 10),
}  # of a key's scale, semitones above the tonic


@dataclass(frozen=True, slots=True)
class Moved:
    """The lick where it has been moved to; ``how`` is ``shifted`` (same shapes up or down the neck) or ``placed``
    (found anew); ``strings_kept`` of its notes are on the strings they had."""

    lick: Lick
    how: str
    strings_kept: int
    octave: int = 0  # semitones by which it had to leave where it was asked to lie


def move_lick(lick: Lick, semitones: int, key: Key | None = None, to: Chord | None = None) -> Moved:
    """The lick with its chords moved up so many semitones (down if negative); in ``key`` if one is given, else in its own.

    With ``to`` its first chord becomes that one, its third and all. In its own key a moved lick has no role any more.

    Closed shapes are shifted along the neck; anything with open strings is placed anew, the picking pattern kept where
    possible. Raises DomainError ``cannot-move`` where it no longer works.
    """
    up = semitones % OCTAVE
    first = lick.changes[0].chord
    third = 0 if to is None or first is None else THIRDS[to.family[1]] - THIRDS[first.family[1]]
    changes = tuple(_moved_change(change, up, key or lick.key) for change in lick.changes)
    if to is not None:
        changes = tuple(
            replace(change, chord=to) if before.chord == first else change
            for change, before in zip(changes, lick.changes, strict=True)
        )
    role = lick.role if key is not None or not up else None
    shown = replace(lick, changes=changes, key=key or lick.key, role=role)
    for by in sorted((up, up - OCTAVE), key=abs):
        notes = None if third else _shifted(lick, by)
        if notes is not None:
            return _checked(replace(shown, notes=notes), lick, "shifted")
    best: Moved | None = None
    failed: DomainError | None = None
    for by in sorted((up, up - OCTAVE), key=abs):
        pitches = [_moved_pitch(lick, note, by, third) for note in lick.notes]
        try:
            found = _placed(lick, lick.fretboard.instrument, lick.tuning, pitches)
            moved = _checked(replace(shown, notes=found.notes), lick, "placed")
        except DomainError as error:
            failed = failed or error
            continue
        if best is None or moved.strings_kept > best.strings_kept:
            best = moved
    if best is None:
        raise failed or DomainError("cannot-move", measure=1)
    return best


def _moved_change(change: Change, up: int, key: Key) -> Change:
    if change.chord is None or not up:
        return change
    root = nearest_spelling(pitch_class(change.chord.root) + up, key.signature)
    return Change(change.onset, change.chord.moved(root - change.chord.root))


def _is_drone(lick: Lick, note: Note) -> bool:
    short = lick.instrument.short_string
    return short is not None and note.string == short[0] and note.fret == 0


def _shifted(lick: Lick, by: int) -> tuple[Note, ...] | None:
    """Every fretted note moved by frets; None with open strings (the drone apart) or off the neck."""
    notes = []
    for note in lick.notes:
        if _is_drone(lick, note):
            notes.append(note)
            continue
        fret = note.fret + by
        if (note.fret == 0 and by) or fret < (1 if by else 0) or lick.fretboard.refuses(note.string, fret):
            return None
        notes.append(replace(note, fret=fret))
    return tuple(notes)


def _moved_pitch(lick: Lick, note: Note, by: int, third: int) -> int:
    """Sounding pitch of a note moved by semitones, the first chord's third by ``third`` more; the drone stays."""
    pitch = lick.fretboard.pitch(note.string, note.fret)
    if _is_drone(lick, note):
        return pitch
    chord = next((c.chord for c in reversed(lick.changes) if c.onset <= max(0, note.onset)), None)
    own = chord is not None and chord == lick.changes[0].chord
    is_third = own and chord is not None and (pitch - chord.family[0]) % OCTAVE == THIRDS[chord.family[1]]
    return pitch + by + (third if is_third else 0)


def restate(lick: Lick, steps: int) -> Moved:
    """The lick followed by itself so many steps of its key's scale higher (lower if negative): a sequence over twice its
    length. The chords stay. Raises DomainError ``cannot-move``."""
    scale = sorted((lick.key.tonic_class + step) % OCTAVE for step in STEPS[lick.key.mode])
    again, octave = _again(lick, steps, scale)
    ticks = lick.ticks
    first = [note for note in lick.notes if note.onset < ticks + min(0, lick.notes[0].onset)]
    whole = replace(
        lick,
        notes=(*first, *(note.moved(ticks) for note in again.notes)),
        changes=(*lick.changes, *(Change(ticks + c.onset, c.chord) for c in lick.changes)),
        ticks=2 * ticks,
        phrases=2 * lick.phrases,
        lengths=(*lick.lengths, *lick.lengths),
        role=None,
    )
    return replace(_checked(whole, lick, "placed"), octave=octave)


def _again(lick: Lick, steps: int, scale: Sequence[int]) -> tuple[Lick, int]:
    """The lick along the scale; an octave up or down where it would leave the neck."""
    failed: DomainError | None = None
    for octave in (0, OCTAVE, -OCTAVE):
        pitches = []
        for note in lick.notes:
            pitch = lick.fretboard.pitch(note.string, note.fret)
            pitches.append(pitch if _is_drone(lick, note) else _stepped(pitch, steps, scale) + octave)
        try:
            return _placed(lick, lick.instrument, lick.tuning, pitches), octave
        except DomainError as error:
            failed = failed or error
    raise failed or DomainError("cannot-move", measure=1)


def _stepped(pitch: int, steps: int, scale: Sequence[int]) -> int:
    """A pitch moved along a scale; one outside it keeps its distance from the step below."""
    off = 0
    while (pitch - off) % OCTAVE not in scale:
        off += 1
    octave, place = divmod(scale.index((pitch - off) % OCTAVE) + steps, len(scale))
    base = (pitch - off) - (pitch - off) % OCTAVE
    return base + octave * OCTAVE + scale[place] + off


def for_instrument(
    lick: Lick, instrument: Instrument, tuning: Tuning, hand_style: str | None = None
) -> Moved:
    """The lick's line on another instrument or tuning, an octave up or down where it needs to be.

    Drone notes on a short string are left out where the other has none. Raises DomainError ``cannot-move``.
    """
    kept = [note for note in lick.notes if instrument.short_string is not None or not _is_drone(lick, note)]
    if not kept:
        raise DomainError("cannot-move", measure=1)
    if hand_style is not None and hand_style not in instrument.hand_styles:
        raise DomainError("wrong-hand-style", hand_style=hand_style, known=", ".join(instrument.hand_styles))
    hand = hand_style or (
        lick.hand_style if lick.hand_style in instrument.hand_styles else instrument.hand_styles[0]
    )
    style = lick.style if lick.style in STYLES[hand] else STYLES[hand][0]
    base = replace(
        lick, instrument=instrument, tuning=tuning, hand_style=hand, style=style,
        notes=tuple(_lasting_to_next(kept, lick.ticks)),
    )  # fmt: skip
    tried: DomainError | None = None
    for octave in (0, OCTAVE, -OCTAVE, 2 * OCTAVE, -2 * OCTAVE):
        pitches = [lick.fretboard.pitch(note.string, note.fret) + octave for note in kept]
        try:
            found = _placed(base, instrument, tuning, pitches, same_strings=False)
            return replace(_checked(found, lick, "placed"), octave=octave)
        except DomainError as error:
            tried = tried or error
    raise tried or DomainError("cannot-move", measure=1)


def _lasting_to_next(notes: Sequence[Note], ticks: int) -> list[Note]:
    ends = [*(note.onset for note in notes[1:]), ticks]
    return [
        replace(
            note,
            finger=None,
            duration=max(note.duration, end - note.onset) if end > note.onset else note.duration,
        )
        for note, end in zip(notes, ends, strict=True)
    ]


def _placed(
    lick: Lick, instrument: Instrument, tuning: Tuning, pitches: Sequence[int], *, same_strings: bool = True
) -> Lick:
    board = replace(lick, instrument=instrument, tuning=tuning).fretboard
    placed = place_pitches(lick.notes, pitches, board, same_strings=same_strings)
    if isinstance(placed, int):
        # once more with every linked note picked: the link may be what cannot be kept
        plain = [replace(n, technique=None) if n.technique in LINKED else n for n in lick.notes]
        again = place_pitches(plain, pitches, board, same_strings=same_strings)
        if isinstance(again, int):
            raise DomainError("cannot-move", measure=max(1, placed // lick.meter.measure_ticks + 1))
        placed = again
    return replace(lick, notes=placed)


def _checked(moved: Lick, before: Lick, how: str) -> Moved:
    hands = lick_hands(moved)
    if hands.top_bpm is None or hands.top_bpm < bpm_for(LEAST_EIGHTH_MS, moved.meter):
        at = hands.left.impossible if hands.left.impossible is not None else hands.limits[0][1].onset
        raise DomainError("cannot-move", measure=max(1, at // moved.meter.measure_ticks + 1))
    strings = [(note.onset, note.string) for note in before.notes]
    kept = sum((note.onset, note.string) in strings for note in moved.notes)
    return Moved(moved, how, kept)


def named_move(chord: Chord, to: Chord) -> int:
    """Semitones up from one chord's root to another's."""
    return (to.family[0] - chord.family[0]) % OCTAVE
