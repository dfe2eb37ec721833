"""Fills: over a held note of the melody, or a gap that a singer leaves, a short run of the chord into the next one."""

from collections.abc import Sequence
from dataclasses import replace

from service.errors import DomainError
from service.music.backup import passage_of
from service.music.backup_patterns import FAMILIES, Pattern
from service.music.basslines import bass_pair
from service.music.fretboard import Fretboard, Place
from service.music.harmony import Chord
from service.music.licks import Change, Note
from service.music.lines import easiest_line
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.pitch import pitch_class
from service.music.setting import Setting
from service.music.shapes import Shape
from service.music.strokes import stretches_of
from service.music.voicings import shapes_along

# What makes a run sound well. Ours, in the units of service/music/lines.py.
STANDS_STILL = 5.0  # the same pitch twice running
SEESAW = 0.9  # the pitch of two notes before again
LEAP, EASY_LEAP = 0.12, 5  # each semitone of a leap beyond a fourth
LANDS_FAR = 0.4  # each semitone from the last note to where the next chord is met, beyond a step
LANDS_THERE = 1.0  # the last note is there already: nothing is left to resolve
STARTS_ELSEWHERE = 0.6  # the first note is not the root
STEP = 2  # semitones
WHOLE_HAND = 3  # picking fingers
BASS_FRETS = 5  # of the low part of a bass's neck


def fill(
    changes: Sequence[Change],
    measures: Sequence[int],
    meter: Meter,
    setting: Setting,
    onset: int,
    ticks: int,
    behind: Passage | None = None,
) -> Passage:
    """A run of eighths (sixteenths in two-four) within the shapes, from ``onset`` on for ``ticks``, that leads into what
    comes after it. The passage is as long as the chart and silent elsewhere; where there is no chord so is the fill. With the
    part ``behind`` that it goes into, no finger of the picking hand comes twice at the seams: where a pinch takes the whole
    hand, the fill's note beside it is left out.

    Raises DomainError ``no-room-to-fill`` where it would not lie within the chart, on whole slots.
    """
    slot = meter.slot_ticks
    total = sum(measures)
    if onset < 0 or ticks < slot or onset + ticks > total or onset % slot or ticks % slot:
        raise DomainError("no-room-to-fill", onset=onset, ticks=ticks, most=total, slot=slot)
    board = setting.fretboard
    stretches = stretches_of(changes, total)
    held = Pattern(
        "fill", setting.instrument.id, FAMILIES[meter.name], "", _held_as(setting), (), meter.slots
    )
    shapes = shapes_along(stretches, board, held)
    onsets, options, roots = [], [], []
    end = onset + ticks
    busy = _busy(behind, onset, end, slot)
    before, after_it = (slot if len(fingers) >= WHOLE_HAND else 0 for fingers in busy)
    for at in range(onset + before, end - after_it, slot):
        index = max((i for i, stretch in enumerate(stretches) if stretch.onset <= at), default=-1)
        shape = shapes[index] if index >= 0 else None
        if shape is not None:
            onsets.append(at)
            options.append(_places(shape, board))
            roots.append(pitch_class(shape.chord.root))
    after = next((s.chord for s in stretches if s.onset <= end < s.end), None)
    if after is None and stretches:
        after = stretches[-1].chord if end >= total else None
    notes = _run(onsets, options, roots, end, after, board, slot, busy) or _run(
        onsets, options, roots, end, after, board, slot, ("", "")
    )
    return passage_of(setting, meter, measures, notes, changes)


def with_fill(backup: Passage, fill_: Passage) -> Passage:
    """A backup part that makes way for a fill: silent from its first note to the end of its last."""
    if not fill_.notes:
        return backup
    begins, ends = fill_.notes[0].onset, max(note.onset + note.duration for note in fill_.notes)
    kept = [
        note
        if note.onset + note.duration <= begins or note.onset >= ends
        else replace(note, duration=begins - note.onset)
        for note in backup.notes
        if note.onset < begins or note.onset >= ends
    ]
    return replace(backup, notes=tuple(sorted((*kept, *fill_.notes))))


def _busy(behind: Passage | None, onset: int, end: int, slot: int) -> tuple[str, str]:
    """Fingers that pick within a slot before and after the fill; not knowing better, a roll comes to its end with the middle
    finger and begins with the thumb."""
    if behind is None:
        return "M", "T"
    fingers = [(note.onset, note.finger or "") for note in behind.notes]
    return (
        "".join(finger for at, finger in fingers if onset - slot <= at < onset),
        "".join(finger for at, finger in fingers if end <= at < end + slot),
    )


def _held_as(setting: Setting) -> str:
    return "bar" if setting.instrument.id == "resonator-guitar" else "open"


def _places(shape: Shape, board: Fretboard) -> list[Place]:
    """What the run is made of: the strings of the shape, the drone where it belongs; on a bass the chord down the neck."""
    short = board.instrument.short_string
    if board.instrument.id == "upright-bass":
        return [
            Place(string, fret)
            for string in range(1, board.instrument.strings + 1)
            for fret in range(BASS_FRETS)
            if board.pitch(string, fret) % 12 in shape.chord.pitch_classes
        ]
    return [
        Place(string, shape.frets[string - 1] or 0)
        for string in shape.strings
        if short is None or string != short[0] or shape.drone == "chord-tone"
    ]


def _run(
    onsets: Sequence[int],
    options: Sequence[Sequence[Place]],
    roots: Sequence[int],
    end: int,
    after: Chord | None,
    board: Fretboard,
    slot: int,
    busy: tuple[str, str],
) -> tuple[Note, ...]:
    if not onsets:
        return ()
    pitch = board.pitch
    goals = _goals(after, board)

    def taste(index: int, earlier: Place | None, before: Place | None, place: Place) -> float:
        here = pitch(place.string, place.fret)
        cost = 0.0
        if before is None:
            cost += STARTS_ELSEWHERE if (here - board.capo) % 12 != roots[0] else 0.0
        else:
            leap = abs(here - pitch(before.string, before.fret))
            cost += STANDS_STILL if leap == 0 else LEAP * max(0, leap - EASY_LEAP)
        if earlier is not None and here == pitch(earlier.string, earlier.fret):
            cost += SEESAW
        if index == len(onsets) - 1 and goals:
            apart = min(abs(here - goal) for goal in goals)
            cost += LANDS_THERE if apart == 0 else LANDS_FAR * max(0, apart - STEP)
        return cost

    return easiest_line(onsets, options, end, board, slot, taste, busy)


def _goals(after: Chord | None, board: Fretboard) -> tuple[int, ...]:
    """Sounding pitches where the next chord is met: its roots; on a bass the one that is played."""
    if after is None:
        return ()
    if board.instrument.id == "upright-bass":
        root, _ = bass_pair(after, board)
        return (board.pitch(root.string, root.fret),)
    root_class = (pitch_class(after.root) + board.capo) % 12
    low, high = min(board.tuning.pitches), max(board.tuning.pitches) + 12
    return tuple(p for p in range(low, high) if p % 12 == root_class)
