"""Everything that is said of a lick at once: fit, hands, level, melody, and what breaks which rule."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.judge.fit import Fit, fit_of
from service.judge.hands import Hands, lick_hands
from service.judge.level import USUAL_BPM, Level, lick_level
from service.judge.melody import Recall, Sound, recall
from service.judge.rules import Finding, Stretch, broken
from service.music.harmony import Key
from service.music.licks import Change, Lick
from service.music.meter import Meter, stretch


@dataclass(frozen=True, slots=True)
class Judgement:
    fit: Fit
    hands: Hands
    level: Level
    recall: Recall | None
    findings: tuple[Finding, ...]


def drones(lick: Lick) -> frozenset[int]:
    """Indexes, among what sounds, of notes on the open short string."""
    short = lick.instrument.short_string
    if short is None:
        return frozenset()
    heard = [
        note for index, note in enumerate(lick.notes) if note.technique != "mute" and not _joined(lick, index)
    ]
    return frozenset(i for i, note in enumerate(heard) if note.string == short[0] and note.fret == 0)


def _joined(lick: Lick, index: int) -> bool:
    """Whether a note is tied to the one before it, so that it is not heard anew."""
    note = lick.notes[index]
    if note.technique != "tie":
        return False
    before = next((n for n in reversed(lick.notes[:index]) if n.string == note.string), None)
    return before is not None and before.fret == note.fret and before.technique != "mute"


def lick_fit(
    lick: Lick,
    changes: Sequence[Change] | None = None,
    melody: Sequence[Sound] = (),
    key: Key | None = None,
) -> Fit:
    """Fit of a lick over its own changes or others in its meter and perhaps another key, the tune's own notes welcome."""
    over = lick.changes if changes is None else changes
    return fit_of(
        lick.sounding(),
        [(change.onset, change.chord) for change in over],
        lick.meter,
        key or lick.key,
        drones(lick),
        frozenset((onset, pitch % 12) for onset, _, pitch in melody),
    )


def judge_lick(
    lick: Lick,
    *,
    changes: Sequence[Change] | None = None,
    melody: Sequence[Sound] | None = None,
    role: str | None = None,
    key: Key | None = None,
    bpm: float | None = None,
    hands: Hands | None = None,
) -> Judgement:
    """Judge a lick over its own changes or a phrase's, against the tune's melody there, at a tempo.

    Everything is in the lick's own time and position; ``key`` is the tune's where it is not the lick's. Without a
    tempo the meter's usual one is taken.
    """
    fit = lick_fit(lick, changes, melody or (), key)
    hands = hands or lick_hands(lick)
    tempo = USUAL_BPM[lick.meter.name] if bpm is None else bpm
    level = lick_level(lick, hands, tempo)
    recalled = None if melody is None else recall(lick.sounding(), melody, lick.meter, lick.ticks)
    stretch = Stretch(
        lick.notes,
        (lick.style,) * len(lick.notes),
        tuple(lick.changes if changes is None else changes),
        lick.meter,
        key or lick.key,
        lick.fretboard,
        lick.ticks,
        tempo,
        hands,
        fit,
        lick.role if role is None else role,
        tuple(melody or ()),
        recalled,
        lick.bars,
    )
    return Judgement(fit, hands, level, recalled, tuple(broken(stretch)))


def in_time_of(
    lick: Lick, meter: Meter, changes: Sequence[Change], melody: Sequence[Sound]
) -> tuple[tuple[Change, ...], tuple[Sound, ...]]:
    """A phrase's changes and melody in the time that a lick is written in."""
    up, down = stretch(lick.meter, meter) or (1, 1)
    return (
        tuple(Change(c.onset * down // up, c.chord) for c in changes),
        tuple((onset * down // up, lasts * down // up, pitch) for onset, lasts, pitch in melody),
    )
