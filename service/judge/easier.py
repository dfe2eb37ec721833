"""A simpler lick from a hard one: what a teacher leaves out first.

Ornaments go, offbeat fretted notes become open strings of the chord, a syncopation goes back onto its beat; last of
all the offbeats are thinned. What stands on strong places stays. A version counts only if it is no slower, no
harder and still tells its chords.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from service.judge.emphasis import place_of
from service.judge.judgement import Judgement, judge_lick, lick_fit
from service.judge.left_hand import HOLD
from service.judge.level import FIRST_POSITION
from service.judge.melody import Sound
from service.music.licks import LINKED, Lick, Note

SCALE_STYLES = ("melodic", "single-string")  # an open string in the middle of their lines is no line
STRONG = ("downbeat", "strong")
ORNAMENTS = tuple(technique for technique in LINKED if technique != "tie")


@dataclass(frozen=True, slots=True)
class Easier:
    """A version of a lick: what was done to it, by code, and how it is judged at the same tempo."""

    lick: Lick
    steps: tuple[str, ...]
    judgement: Judgement


def without_ornaments(lick: Lick) -> Lick:
    """One picked note for each hammered, pulled or slid pair: the one that stands on a strong place, or is the chord's."""
    notes: list[Note] = []
    for note in lick.notes:
        source = next((i for i in reversed(range(len(notes))) if notes[i].string == note.string), None)
        if note.technique in ORNAMENTS and source is not None:
            first = notes[source]
            if place_of(note.onset, lick.meter) in STRONG:
                del notes[source]
                notes.append(replace(note, technique=None))
                continue
            fret = note.fret if _is_tone(lick, note) and not _is_tone(lick, first) else first.fret
            notes[source] = replace(first, fret=fret, duration=note.onset + note.duration - first.onset)
        elif note.technique in ("choke", *ORNAMENTS):
            notes.append(replace(note, technique=None))
        else:
            notes.append(note)
    return replace(lick, notes=tuple(sorted(notes)))


def _is_tone(lick: Lick, note: Note) -> bool:
    chord = next((c.chord for c in reversed(lick.changes) if c.onset <= max(0, note.onset)), None)
    return chord is None or lick.fretboard.pitch(note.string, note.fret) % 12 in chord.pitch_classes


def open_offbeats(lick: Lick) -> Lick:
    """Offbeat fretted notes as the open string they are on, or the drone, where that belongs to the chord.

    Not in a pickup, up the neck, in a scale line, or out of a shape that is held: it would be harder or lose the idea.
    """
    if lick.style in SCALE_STYLES:
        return lick
    short = lick.instrument.short_string
    notes = list(lick.notes)
    for index, note in enumerate(notes):
        near = notes[max(0, index - 6) : index] + notes[index + 1 : index + 7]
        if (
            not 0 < note.fret <= FIRST_POSITION
            or note.onset < 0
            or place_of(note.onset, lick.meter) not in ("off", "between")
            or note.technique in ORNAMENTS
            or any(n.technique in ORNAMENTS and n.string == note.string for n in notes[index + 1 : index + 3])
            or any(
                (n.string, n.fret) == (note.string, note.fret) and abs(n.onset - note.onset) <= HOLD
                for n in near
            )
        ):
            continue
        opened = replace(note, fret=0)
        if _is_tone(lick, opened):
            notes[index] = opened
        elif short is not None and not any(
            n.string == short[0] and abs(n.onset - note.onset) <= lick.meter.slot_ticks for n in notes
        ):
            notes[index] = replace(note, string=short[0], fret=0)
    return replace(lick, notes=tuple(sorted(notes)))


def on_the_beat(lick: Lick) -> Lick:
    """Notes picked just before an empty strong place, moved onto it."""
    slot = lick.meter.slot_ticks
    onsets = {note.onset for note in lick.notes}
    taken: set[int] = set()
    notes = []
    for note in lick.notes:
        onto = note.onset + slot
        early = (
            place_of(onto, lick.meter) in ("downbeat", "strong") and onto not in onsets and note.onset >= 0
        )
        if early and onto < lick.ticks and onto not in taken and note.technique not in LINKED:
            taken.add(onto)
            note = replace(note, onset=onto, duration=max(slot, note.duration - slot))
        notes.append(note)
    return replace(lick, notes=tuple(sorted(notes)))


def thinned(lick: Lick) -> Lick:
    """Nothing off the beat but what leads in; each note rings on, and what cannot be held so long is left out."""
    kept = [
        note
        for note in lick.notes
        if note.onset < 0 or place_of(note.onset, lick.meter) in ("downbeat", "strong", "beat")
    ]
    plain = [replace(n, technique=None) if n.technique in ORNAMENTS else n for n in kept]
    thin = replace(lick, notes=_ringing(lick, plain))
    hurting = {hurt.onset for hurt in lick_fit(thin).hurts} - {hurt.onset for hurt in lick_fit(lick).hurts}
    return (
        replace(lick, notes=_ringing(lick, [n for n in plain if n.onset not in hurting])) if hurting else thin
    )


def _ringing(lick: Lick, notes: Sequence[Note]) -> tuple[Note, ...]:
    """Notes that last to the next one, or to their bar line, as a tab has them."""
    onsets = [*sorted({note.onset for note in notes}), lick.ticks]
    following = dict(pairwise(onsets))
    return tuple(
        replace(n, duration=min(following[n.onset], _bar_after(lick, n.onset)) - n.onset) for n in notes
    )


def _bar_after(lick: Lick, onset: int) -> int:
    return (onset // lick.meter.measure_ticks + 1) * lick.meter.measure_ticks


STEPS: dict[str, Callable[[Lick], Lick]] = {
    "without-ornaments": without_ornaments,
    "offbeats-open": open_offbeats,
    "on-the-beat": on_the_beat,
    "thinned": thinned,
}


def easier_versions(
    lick: Lick, *, bpm: float | None = None, melody: Sequence[Sound] | None = None
) -> tuple[Easier, ...]:
    """Simpler versions, hardest first: each step alone where it helps, then together, each easier than the one before."""
    before = judge_lick(lick, bpm=bpm, melody=melody)
    found: list[Easier] = []
    last = Easier(lick, (), before)
    everything = last  # every step so far, whether or not it helped by itself
    for code, step in STEPS.items():
        for base in (last, everything) if everything.steps != last.steps else (last,):
            tried = step(base.lick)
            if not tried.notes or tried.notes == base.lick.notes:
                continue
            version = Easier(tried, (*base.steps, code), judge_lick(tried, bpm=bpm, melody=melody))
            everything = version
            if keeps_strong_tones(tried, lick) and _is_easier(version.judgement, last.judgement, before):
                last = version
                found.append(version)
                break
    return tuple(found)


def keeps_strong_tones(version: Lick, lick: Lick) -> bool:
    """Whether what a lick puts on strong places, ornaments resolved, is there in a version of it, in any octave."""

    def strong(of: Lick) -> set[tuple[int, int]]:
        return {(onset, p % 12) for onset, _, p in of.sounding() if place_of(onset, of.meter) in STRONG}

    return strong(without_ornaments(lick)) <= strong(version)


def _is_easier(judged: Judgement, last: Judgement, first: Judgement) -> bool:
    """No slower and no harder than the version before, and nothing broken that was whole (R9, common practice)."""
    if judged.hands.top_bpm is None or (last.hands.top_bpm or 0) > judged.hands.top_bpm:
        return False
    if judged.level.total >= last.level.total:
        return False
    broke = {finding.code for finding in judged.findings} - {finding.code for finding in first.findings}
    kept = (
        judged.recall is None or first.recall is None or judged.recall.strong_kept >= first.recall.strong_kept
    )
    return not broke and kept
