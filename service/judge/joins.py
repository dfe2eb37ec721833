"""Can a lick be joined to the one before it, and what does the seam cost?

What a seam costs depends on little: how soon after the last note the first one comes, which picking finger is free,
and how far the left hand has to travel in what time. Those few features are an edge; licks with equal edges join alike,
so that a pool of thousands falls into some dozens of classes. A pickup cuts the tail of the lick before it: every
lick has one way out for each length of pickup. What else can be said of a seam (the same string again, a leap, a
resolution) costs nothing and is told from the notes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.judge.hands import COORDINATION
from service.judge.left_hand import LeftHand, aim_ms
from service.judge.right_hand import NEUTRAL_MS, PICKINGS, right_hand
from service.judge.rules import JUMP_FRETS, JUMP_SCALE_MM, Finding
from service.music.instruments import all_instruments
from service.music.licks import LINKED, MAX_PICKUP, RIGHT_HANDS, Lick, Note
from service.music.meter import EIGHTH

NEAR = 1  # slots: only notes so close to each other share out the fingers
FAR = 6  # slots; with more time than that any travel is easy
LATER = (2, 4)  # slots: notes farther from the seam count as these, those before them as one away
REACH_MM = 75.0  # travel within a hand's reach costs nothing
ZONES = (1, 3, 6, 10)  # frets where a part of the neck begins; across a gap only the zone counts
TAIL = 4  # moments of a lick looked at to see which finger can pick its last or first note
LEAP = 12  # semitones from the last to the first note that are worth a word; our choice
CUTS = tuple(range(MAX_PICKUP // EIGHTH + 1))  # slots that a pickup may take from the lick before
MORE_LOAD = 1.2  # another finger will do if the worst moment beside it grows no more than that


@dataclass(frozen=True, slots=True)
class Edge:
    """One side of a seam, in slots (eighths; sixteenths in 2/4).

    ``slots`` from the note at the edge to the seam, NEAR + 1 if it is not near; ``fingers`` that must pick
    it, none if there is a choice, it is far, or the style has no fingers; ``fret`` of the nearest fretted note, that of its
    zone across a gap, 0 if there is none within FAR; ``fretted_slots`` to it; ``cut`` the slots of a pickup.
    """

    slots: int
    fingers: str
    fret: int
    fretted_slots: int
    cut: int = 0


@dataclass(frozen=True, slots=True)
class Edges:
    """How a lick begins, and how it ends by the slots that a pickup takes from its end."""

    entry: Edge
    exits: tuple[Edge, ...]

    def into(self, entry: Edge) -> Edge:
        """How it ends when this comes next."""
        return self.exits[min(entry.cut, len(self.exits) - 1)]


@dataclass(frozen=True, slots=True)
class Join:
    """``load``: milliseconds that the hands need for each slot; what breaks a rule is in ``findings``."""

    load: float
    findings: tuple[Finding, ...] = ()


def lick_edges(lick: Lick, left: LeftHand) -> Edges:
    """The edges of a lick with its left-hand fingering."""
    slot = lick.meter.slot_ticks
    begins = lick.notes[0].onset
    cut = -(min(0, begins) // slot)
    entry = _edge(lick, lick.notes, left.fingers, -cut * slot, first=True)
    exits = []
    for taken in CUTS:
        end = lick.ticks - taken * slot
        kept = [i for i, note in enumerate(lick.notes) if note.onset < end]
        notes = [lick.notes[i] for i in kept]
        exits.append(_edge(lick, notes, [left.fingers[i] for i in kept], end, first=False))
    return Edges(replace(entry, cut=cut), tuple(exits))


def _edge(
    lick: Lick, notes: Sequence[Note], fingers: Sequence[int | None], seam: int, *, first: bool
) -> Edge:
    """The edge of notes towards a seam, an onset before the first of them or after the last."""
    slot = lick.meter.slot_ticks

    def slots(onset: int) -> int:
        return min(FAR, abs(onset - seam) // slot) if first else min(FAR, max(1, (seam - onset) // slot))

    picked = [note for note in notes if note.technique not in LINKED]
    if not picked:
        return Edge(NEAR + 1, "", 0, FAR)
    away = slots((picked[0] if first else picked[-1]).onset)
    near = away <= (0 if first else NEAR)
    short = lick.instrument.short_string
    stopped = [
        note
        for note, finger in zip(notes, fingers, strict=True)
        if note.fret and finger != 0 and (short is None or note.string != short[0])
    ]
    fret, fretted = 0, FAR
    if stopped:
        note = stopped[0] if first else stopped[-1]
        fretted = slots(note.onset)
        if fretted < FAR:
            tight = fretted <= (0 if first else NEAR)
            fret = note.fret if tight else max(zone for zone in ZONES if zone <= note.fret)
            if not tight:
                fretted = max((away for away in LATER if away <= fretted), default=1)
    return Edge(away if near else NEAR + 1, _only(lick, picked, first=first) if near else "", fret, fretted)


def _only(lick: Lick, picked: Sequence[Note], *, first: bool) -> str:
    """The fingers that must pick the edge: one that no other can do for, or those of a pinch."""
    hand = PICKINGS.get(lick.style)
    if hand is None:
        return ""
    onsets = sorted({note.onset for note in picked})
    looked_at = set(onsets[:TAIL] if first else onsets[-TAIL:])
    notes = [note for note in picked if note.onset in looked_at]
    edge = onsets[0] if first else onsets[-1]
    at = [index for index, note in enumerate(notes) if note.onset == edge]
    styles = [lick.style] * len(notes)
    free = right_hand(notes, styles, lick.meter)
    if len(at) > 1:
        pinch = {free.fingers[i] for i in at}
        return "".join(finger for finger in RIGHT_HANDS if finger in pinch)
    most = max(free.worst, MORE_LOAD * hand.next_ms / lick.meter.slot_ticks)
    able = []
    for finger, reach in hand.reach.items():
        if notes[at[0]].string in reach:
            tried = [replace(note, finger=finger if i in at else None) for i, note in enumerate(notes)]
            if right_hand(tried, styles, lick.meter).worst <= most:
                able.append(finger)
    return able[0] if len(able) == 1 else ""


@lru_cache(maxsize=65536)
def judge_join(before: Edge, entry: Edge, scale_mm: int) -> Join:
    """The seam between a lick's end and the next one's beginning, on an instrument of that scale."""
    findings = []
    load = 0.0
    between = before.slots + entry.slots
    shared = [finger for finger in before.fingers if finger in entry.fingers] if between <= NEAR else []
    if shared:
        load = max(hand.again_ms for hand in PICKINGS.values()) / max(1, between)
        findings.append(Finding("seam-same-finger", 0, (("finger", shared[0]),)))
    if before.fret and entry.fret:
        time = max(1, before.fretted_slots + entry.fretted_slots)
        move = abs(entry.fret - before.fret)
        travel = _aim(before.fret, entry.fret, scale_mm) / time
        if travel:
            picking = NEUTRAL_MS / max(1, between)
            load = max(load, travel, picking + COORDINATION * travel)
        if time <= NEAR and move > JUMP_FRETS * JUMP_SCALE_MM / scale_mm:
            told = (("from", before.fret), ("to", entry.fret), ("frets", move))
            findings.append(Finding("seam-jump", 0, told))
    return Join(load, tuple(findings))


@dataclass(frozen=True, slots=True)
class Joins:
    """judge_join of every way out (rows) with every way in (columns): loads, and where a rule is broken."""

    loads: NDArray[np.float64]
    same_finger: NDArray[np.bool_]
    jump: NDArray[np.bool_]


def judge_joins(exits: Sequence[Edge], entries: Sequence[Edge], scale_mm: int) -> Joins:
    """The same numbers as judge_join, to the last bit: only what is added, divided and compared is done in columns."""
    out, into = _columns(exits), _columns(entries)
    between = out.slots[:, None] + into.slots
    shared = (between <= NEAR) & (out.fingers[:, None] & into.fingers != 0)
    again = max(hand.again_ms for hand in PICKINGS.values()) / np.maximum(1, between)
    frets = (out.fret[:, None] > 0) & (into.fret > 0)
    time = np.maximum(1, out.fretted_slots[:, None] + into.fretted_slots)
    move = np.abs(into.fret - out.fret[:, None])
    aims = np.array(_aims(scale_mm))[out.fret[:, None], into.fret]
    travel = np.where(frets, aims, 0.0) / time
    both = np.maximum(travel, NEUTRAL_MS / np.maximum(1, between) + COORDINATION * travel)
    loads = np.maximum(np.where(shared, again, 0.0), np.where(travel > 0, both, 0.0))
    jump = frets & (time <= NEAR) & (move > JUMP_FRETS * JUMP_SCALE_MM / scale_mm)
    return Joins(loads, shared, jump)


class _Columns(NamedTuple):
    slots: NDArray[np.int64]
    fingers: NDArray[np.int64]
    fret: NDArray[np.int64]
    fretted_slots: NDArray[np.int64]


def _columns(edges: Sequence[Edge]) -> _Columns:
    told = [
        (e.slots, sum(1 << RIGHT_HANDS.index(f) for f in e.fingers), e.fret, e.fretted_slots) for e in edges
    ]
    return _Columns(*np.array(told, np.int64).reshape(len(edges), 4).T)


def _aim(before: int, after: int, scale_mm: int) -> float:
    """Milliseconds of a move from one fret to another beyond a hand's reach; 0 for one within it."""
    apart = scale_mm * abs(2.0 ** (-before / 12) - 2.0 ** (-after / 12)) - REACH_MM
    return aim_ms(apart) if apart > 0 else 0.0


@lru_cache(maxsize=16)
def _aims(scale_mm: int) -> list[list[float]]:
    frets = range(1 + max(instrument.frets for instrument in all_instruments()))
    return [
        [_aim(before, after, scale_mm) if before != after else 0.0 for after in frets] for before in frets
    ]


def seam(before: Edges, after: Edges, scale_mm: int) -> Join:
    """The join of two licks by their edges."""
    return judge_join(before.into(after.entry), after.entry, scale_mm)


def remarks(before: Lick, after: Lick) -> tuple[Finding, ...]:
    """What else is worth saying of a seam: the pickup, the same string again, a leap, where the line resolves."""
    found = []
    board = after.fretboard
    begins = after.notes[0].onset
    if begins < 0:
        found.append(Finding("pickup-replaces", begins, (("eighths", -(begins // after.meter.slot_ticks)),)))
    kept = _line(before, before.ticks + min(0, begins))
    coming = _line(after, after.ticks)
    if not kept or not coming:
        return tuple(found)
    last = [note for note in kept if note.onset == kept[-1].onset]
    first = [note for note in coming if note.onset == coming[0].onset]
    begins = first[0].onset
    gap = before.ticks - last[0].onset + begins
    travel = _travel(kept, coming, before.ticks, after.meter.slot_ticks)
    if travel is not None:
        found.append(Finding("seam-travel", begins, travel))
    same = {n.string for n in last} & {n.string for n in first if n.technique not in LINKED}
    if same and gap <= after.meter.slot_ticks and after.style != "single-string":
        found.append(Finding("seam-same-string", begins, (("string", min(same)),)))
    step = board.pitch(first[-1].string, first[-1].fret) - board.pitch(last[-1].string, last[-1].fret)
    if abs(step) > LEAP and gap <= 2 * after.meter.slot_ticks:
        found.append(Finding("seam-leap", begins, (("semitones", abs(step)), ("up", step > 0))))
    chord = after.changes[0].chord
    tone = chord is not None and board.pitch(first[-1].string, first[-1].fret) % 12 in chord.pitch_classes
    if begins >= 0 and tone and 0 < abs(step) <= 2:
        found.append(Finding("seam-resolves", begins, (("chord", chord.name if chord else ""),)))
    return tuple(found)


def _travel(
    kept: Sequence[Note], coming: Sequence[Note], end: int, slot: int
) -> tuple[tuple[str, object], ...] | None:
    """From which fret to which the left hand goes at a seam, and in how many slots; None if it has all the time."""
    last = next((note for note in reversed(kept) if note.fret), None)
    first = next((note for note in coming if note.fret), None)
    if last is None or first is None:
        return None
    slots = max(1, (end - last.onset + first.onset) // slot)
    return (("from", last.fret), ("to", first.fret), ("slots", slots)) if slots < FAR else None


def _line(lick: Lick, until: int) -> list[Note]:
    """Notes before a tick that make the line: not the drone of an open short string."""
    short = lick.instrument.short_string
    return [
        note
        for note in lick.notes
        if note.onset < until and not (short is not None and note.string == short[0] and note.fret == 0)
    ]
