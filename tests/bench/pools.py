"""Generated pools: the demo licks' measures, moved to other chords, put together two by two and varied, each judged for real.

Every lick of the tune's own phrases is one of its own; the licks of all other tunes, which only make the pool large, are judged
by the thousand and come again under other numbers. Judging takes some minutes, so what was judged is kept in the system's
folder for temporary files until the rules or the way of generating change.
"""

import hashlib
import os
import pickle
import random
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import chain
from pathlib import Path

import numpy as np

from service.compose.candidates import spots
from service.compose.matching import LICK_OVER, judge_over, packed_over
from service.compose.pool import PACKED, ROW, Pool
from service.compose.stock import Column
from service.errors import DomainError
from service.judge.facts import RULES_VERSION, facts_of
from service.judge.level import USUAL_BPM
from service.judge.moving import for_instrument, move_lick, named_move
from service.judge.twins import essence
from service.music.harmony import Chord, chord_named
from service.music.instruments import instrument_named
from service.music.licks import GATED_ROLES, LINKED, Change, Lick, Note, check_lick
from service.music.setting import Setting
from service.music.tunes import Tune, phrases
from service.store.facts import FactsRow
from service.usecases.facts import facts_row
from service.usecases.licks import HOLDS_BACK, read_lick
from service.usecases.records import (
    LickRecord,
    TempoRecord,
    TuneRecord,
    change_record,
    choose_setting,
    encode,
    note_record,
    tune_of,
)
from service.usecases.seeding import load_fixtures

POOL = 100_000
EACH = 2_000  # licks for each chords and role that the tune asks for
OTHERS = 4_000  # licks of other tunes that are judged, and come again and again
SEED = 11
MEASURE, SLOT = 1920, 240
CHORDS = ("G", "C", "D", "Em", "Am", "F", "A", "Bm")
# Highest frets of the long strings that a lick has, and how often: counted among the demo's banjo licks.
REACHES, OFTEN = (5, 9, 12, 22), (60, 23, 14, 3)
PICKUPS = 0.15  # of the licks have one, counted there too
Want = tuple[tuple[str, str], str]  # chords of two measures, role

# Four parts of eight measures, each played twice: 32 phrases, as long as tunes come.
CHART = """
A: | G | G | C | D | G | G | D | G |
B: | C | C | G | Em | C | D | G | G |
C: | C | D | G | G | C | C | D | G |
D: | G | Em | C | C | C | D | G | G |
"""
MELODY = """
A: | D2 G2 B3 A | G2 E2 D4 | E2 G2 c3 B | A2 GF A4 | D2 G2 B3 A | G2 E2 D2 E2 | F2 A2 d2 cA | G6 z2 |
B: | g4 e3 d | e2 d2 c4 | d4 B3 A | B2 A2 G4 | g4 e3 g | f2 d2 f4 | g2 d2 B3 A | G6 z2 |
C: | e2 c2 e2 g2 | f2 d2 f4 | g2 d2 B2 d2 | B4 G4 | c2 e2 g2 e2 | c4 e4 | d2 f2 a2 f2 | g6 z2 |
D: | B2 d2 g2 d2 | e2 g2 e4 | c2 e2 c2 e2 | g2 e2 c4 | e2 c2 e2 g2 | f2 a2 f4 | g2 d2 B2 A2 | G6 z2 |
"""
ORDERS = {4: "A", 8: "AA", 16: "AABB", 32: "AABBCCDD", 64: "AABBCCDD" * 2}  # by number of phrases


def tune_record(size: int = 32) -> TuneRecord:
    tempo = TempoRecord(low=60, high=130, start=84, unit="half")
    return TuneRecord(
        name="Bench Reel", key="G", meter="2/2", tempo=tempo, chart=CHART, order=ORDERS[size], melody=MELODY
    )


@cache
def tune_and_setting(size: int = 32) -> tuple[Tune, Setting]:
    record = tune_record(size)
    tune = tune_of(f"bench-reel-{size}", record)
    return tune, choose_setting(record, tune, "banjo", "open-g")


@dataclass(frozen=True, slots=True)
class Judged:
    """A lick with what is kept of it: its record as JSON, its facts, and what is judged of it over the tune's phrases."""

    body: str
    facts: FactsRow
    over: tuple[tuple[bytes, bytes], ...]  # ground, one record of OVER


# --- making licks --------------------------------------------------------------------------------------


@cache
def _bars() -> dict[tuple[str, int], list[Lick]]:
    """One-measure licks over each chord and by how far up they reach: measures of the demo's licks, as they are and moved."""
    banjo = instrument_named("banjo")
    whole = []
    for sent in load_fixtures().licks:
        lick = read_lick(sent)[1]
        if lick.meter.name != "2/2":
            continue
        if lick.instrument is not banjo:
            try:
                lick = for_instrument(lick, banjo, banjo.tuning("open-g"), "three-finger").lick
            except DomainError:
                continue
        whole.append(lick)
    found: dict[tuple[str, int], list[Lick]] = {}
    for bar in chain.from_iterable(map(_measures, whole)):
        own = bar.changes[0].chord
        for name in CHORDS if own is not None else ():
            to = chord_named(name)
            try:
                moved = bar if own == to else move_lick(bar, named_move(own, to), bar.key, to).lick
            except DomainError:
                continue
            highest = max((note.fret for note in moved.notes if note.string != 5), default=0)
            reach = next(reach for reach in REACHES if highest <= reach)
            found.setdefault((name, reach), []).append(moved)
    return found


def _measures(lick: Lick) -> Iterator[Lick]:
    """The measures of a lick that are over one chord, each a lick; pickups are left out."""
    for start in range(0, lick.ticks, MEASURE):
        notes = tuple(n.moved(-start) for n in lick.notes if start <= n.onset < start + MEASURE)
        changes = [c for c in lick.changes if start <= c.onset < start + MEASURE]
        before = [c for c in lick.changes if c.onset <= start]
        if notes and before and all(c.onset == start for c in changes):
            yield replace(
                lick, notes=_unlinked(notes), ticks=MEASURE, changes=(Change(0, before[-1].chord),), phrases=1,
                lengths=(), role=None,
            )  # fmt: skip


def _unlinked(notes: Sequence[Note]) -> tuple[Note, ...]:
    """The notes with those picked that have nothing to be linked to."""
    sounded: set[int] = set()
    found = []
    for note in notes:
        lost = note.technique in LINKED and note.string not in sounded
        found.append(replace(note, technique=None) if lost else note)
        sounded.add(note.string)
    return tuple(found)


def made_lick(draw: random.Random, want: Want, number: int) -> Lick:
    """Two measures of the demo's, varied: another order of the roll, frets moved, a note left out, a pickup."""
    names, role = want
    (reach,) = draw.choices(REACHES, OFTEN)  # the hand stays where it is
    first, second = (draw.choice(_bars()[name, reach]) for name in names)
    notes = [*first.notes, *(note.moved(MEASURE) for note in second.notes)]
    bound = {i for i, n in enumerate(notes) if n.technique is not None}
    free = [i for i in range(len(notes)) if i not in bound and i + 1 not in bound]
    for _ in range(draw.choice((0, 1, 2, 4)) if len(free) > 2 else 0):
        one, other = draw.sample(free, 2)
        if abs(notes[one].onset - notes[other].onset) <= 4 * SLOT:
            a, b = notes[one], notes[other]
            notes[one] = replace(a, string=b.string, fret=b.fret)
            notes[other] = replace(b, string=a.string, fret=a.fret)
    for i in free:
        if notes[i].string != 5 and draw.random() < 0.06:
            notes[i] = replace(notes[i], fret=max(0, notes[i].fret + draw.choice((-2, -1, 1, 2))))
    if free and draw.random() < 0.3:
        notes.pop(draw.choice(free))
    if draw.random() < PICKUPS:
        eighths = draw.choice((1, 2, 3))
        low = 0 if reach == REACHES[0] else max(0, max(note.fret for note in first.notes) - 3)
        notes += [
            Note((k - eighths) * SLOT, draw.choice((3, 4)), low + draw.choice((0, 2, 4)), SLOT)
            for k in range(eighths)
        ]
    notes.sort()
    chords: list[Chord] = [chord_named(name) for name in names]
    changes = (Change(0, chords[0]), *([] if chords[0] == chords[1] else [Change(MEASURE, chords[1])]))
    return replace(
        first, name=f"Made {number}", notes=_unlinked(notes), changes=changes, ticks=2 * MEASURE, role=role,
        style=second.style if draw.random() < 0.5 else first.style,
    )  # fmt: skip


def _wants() -> tuple[list[Want], list[Want]]:
    """What the tune asks for, and what other tunes do."""
    tune, _ = tune_and_setting()
    own: dict[Want, None] = {}
    for phrase in phrases(tune):
        names = [c.chord.name for c in phrase.changes if c.chord is not None]
        own[(names[0], names[-1]), phrase.role if phrase.role in GATED_ROLES else "body"] = None
    kinds = {names for names, _ in own}
    others: list[Want] = [((a, b), "body") for a in CHORDS for b in CHORDS if (a, b) not in kinds]
    return list(own), others


# --- judging them --------------------------------------------------------------------------------------


def _judged_some(want: Want, how_many: int, seed: int) -> list[Judged]:
    """So many different licks that would be let into a pool."""
    draw = random.Random(f"{seed} {want}")
    tune, setting = tune_and_setting()
    found: list[Judged] = []
    seen = set()
    for number in range(100 * how_many):
        lick = made_lick(draw, want, number)
        told = repr(essence(lick))
        try:
            check_lick(lick)
        except DomainError:
            continue
        if told in seen:
            continue
        seen.add(told)
        facts = facts_of(lick)
        if facts.load is None or facts.broken & HOLDS_BACK:
            continue
        lick = replace(lick, level=facts.level(USUAL_BPM[lick.meter.name], lick.meter.beat_ticks))
        row = facts_row(0, 1, lick, facts)
        pool = Pool.of([(1, 1, row.packed)])
        grounds = {spot.ground.key: spot.ground for spot in chain(*spots(pool, tune, setting))}
        over = [
            (key, packed_over(judge_over(lick, ground, setting, tune.meter)))
            for key, ground in grounds.items()
        ]
        found.append(Judged(_body(lick), row, tuple(over)))
        if len(found) == how_many:
            break
    return found


def _body(lick: Lick) -> str:
    record = LickRecord(
        lick.name, lick.instrument.id, lick.tuning.id, lick.hand_style, lick.style, lick.meter.name,
        lick.key.name, lick.role, lick.level, lick.phrases, lick.ticks, [MEASURE] * 2,
        [change_record(change) for change in lick.changes], [note_record(note) for note in lick.notes], "",
        load_fixtures().licks[0].rights,
    )  # fmt: skip
    return encode(record).decode()


@cache
def judged_licks(each: int = EACH, others: int = OTHERS) -> tuple[list[list[Judged]], list[Judged]]:
    """Licks for each thing the tune asks for, and those of other tunes; from the temporary files where they are there."""
    ways = Path(__file__).read_text().partition("# --- pools")[0]
    told = [RULES_VERSION, each, others, str(PACKED), str(LICK_OVER), ways]
    name = f"breakwright-bench-{os.getuid()}-{hashlib.sha256(repr(told).encode()).hexdigest()[:16]}.pickle"
    kept = Path(tempfile.gettempdir()) / name
    if kept.exists() and kept.stat().st_uid == os.getuid():  # nobody else's: a pickle can do anything
        return pickle.loads(kept.read_bytes())  # type: ignore[no-any-return]
    own, rest = _wants()
    tasks = [(want, each) for want in own] + [(want, -(-others // len(rest))) for want in rest]
    with ProcessPoolExecutor() as workers:
        made = list(workers.map(partial(_judged_some, seed=SEED), *zip(*tasks, strict=True)))
    found = made[: len(own)], list(chain.from_iterable(made[len(own) :]))
    kept.write_bytes(pickle.dumps(found))
    return found


# --- pools ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Made:
    """A pool in columns with what is judged of it over the tune's grounds; ``licks`` by number, from 1."""

    pool: Pool
    over: Mapping[bytes, Column]
    licks: Sequence[Judged]


def made_pool(size: int = POOL, each: int = EACH) -> Made:
    """So many licks, ``each`` for each thing that the tune asks for (or a share of the pool, if that is less), the others of
    other tunes; in an order as if they had been sent in by and by."""
    own, others = judged_licks()
    each = min(each, max(1, size // len(own)))
    licks = [of[i % len(of)] for of in own for i in range(each)]
    licks += [others[i % len(others)] for i in range(size - len(licks))]
    random.Random(SEED).shuffle(licks)
    rows = np.zeros(len(licks), ROW)
    rows["number"], rows["revision"] = np.arange(1, len(licks) + 1), 1
    rows["facts"] = np.frombuffer(b"".join(lick.facts.packed for lick in licks), PACKED)
    by_ground: dict[bytes, list[tuple[int, bytes]]] = {}
    for number, lick in enumerate(licks, 1):
        for ground, told in lick.over:
            by_ground.setdefault(ground, []).append((number, told))
    over = {}
    for ground, judged in by_ground.items():
        known = over[ground] = np.zeros(len(judged), LICK_OVER)
        known["number"], known["revision"] = [number for number, _ in judged], 1
        known["over"] = np.frombuffer(b"".join(told for _, told in judged), LICK_OVER["over"])
    return Made(Pool(rows), over, licks)
