"""Judgements on request: of a lick as it is, over a phrase, against its neighbours; versions of it; and of mere text."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.compose.matching import ground_of
from service.compose.ranking import ranked
from service.compose.stock import Candidate
from service.errors import DomainError, Fault, NotFound
from service.judge.easier import Easier, easier_versions
from service.judge.hands import strain
from service.judge.joins import Join, remarks, seam
from service.judge.judgement import Judgement, in_time_of, judge_lick
from service.judge.level import USUAL_BPM
from service.judge.melody import Sound
from service.judge.moving import Moved, for_instrument, move_lick, named_move, restate
from service.judge.naming import name_chords
from service.judge.rules import EIGHTH_MS, Finding, bpm_for
from service.judge.twins import Twin
from service.music.harmony import Chord, chord_named, key_named
from service.music.instruments import STYLES, instrument_named
from service.music.licks import Change, Lick, check_lick, sounding
from service.music.meter import meter_named, stretch
from service.music.setting import Setting
from service.music.tunes import UNIT_TICKS, Phrase, Tune, phrases
from service.notation.chart import read_changes
from service.usecases.composing import compose
from service.usecases.facts import Pooled, find_twins, pooled
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import KeptLick, find_lick, in_measures, measures_apart
from service.usecases.readings import off_the_loop, read_any
from service.usecases.records import choose_setting, kept_tune, tune_record
from service.usecases.tunes import find_tune


@dataclass(frozen=True, slots=True)
class Beat:
    """What a tempo counts: the unit's name, and how many of the lick's own ticks it lasts."""

    unit: str
    ticks: float

    def own(self, bpm: float, lick: Lick) -> float:
        """A tempo in this unit as beats of the lick's own meter."""
        return bpm * self.ticks / lick.meter.beat_ticks

    def shown(self, bpm: float, lick: Lick) -> int:
        """A tempo in the lick's own beats, in this unit."""
        return int(bpm * lick.meter.beat_ticks / self.ticks)


@dataclass(frozen=True, slots=True)
class Judged:
    """A lick, what is said of it, and where: ``phrase`` is None for a lick by itself; ``bpm`` counts ``beat``."""

    lick: Lick
    judgement: Judgement
    beat: Beat
    bpm: int
    phrase: Phrase | None = None
    melody: tuple[Sound, ...] = ()  # the tune's, in the lick's own ticks


def own_beat(lick: Lick) -> Beat:
    return Beat(lick.meter.beat_unit, lick.meter.beat_ticks)


def tune_beat(tune: Tune, lick: Lick) -> Beat:
    """The tune's beat in the lick's own ticks."""
    up, down = stretch(lick.meter, tune.meter) or (1, 1)
    return Beat(tune.tempo.unit, UNIT_TICKS[tune.tempo.unit] * down / up)


def setting_and_phrase(
    house: House, group_id: int, slug: str, phrase: int, lick: Lick
) -> tuple[Tune, Setting, tuple[Phrase, ...]]:
    """Where a lick would stand. Raises NotFound, or DomainError ``not-for-this-phrase``."""
    row = find_tune(house, group_id, slug)
    tune = kept_tune(row.id, row.revision, row.slug, row.body)
    form = phrases(tune)
    if phrase > len(form):
        raise NotFound("no-such-phrase", phrase=phrase, phrases=len(form))
    setting = choose_setting(tune_record(row.body), tune, lick.instrument.id, lick.tuning.id)
    place = tuple(form[phrase - 1 : phrase - 1 + lick.phrases])
    ratio = stretch(lick.meter, tune.meter)
    ticks = sum(p.ticks for p in place)
    if ratio is None or len(place) < lick.phrases or lick.ticks * ratio[0] // ratio[1] != ticks:
        raise DomainError(
            "not-for-this-phrase",
            phrase=phrase,
            lick_measures=in_measures(lick.ticks, lick.meter),
            lick_meter=lick.meter.name,
            measures=in_measures(ticks, tune.meter),
            meter=tune.meter.name,
        )
    return tune, setting, place


def judge_kept(
    house: House,
    caller: Caller,
    group_slug: str,
    number: int,
    tune_slug: str | None,
    phrase: int | None,
    bpm: int | None,
) -> Judged:
    """A lick of the pool judged by itself, or over a phrase of a tune, at a tempo in the tune's (or its own) beats."""
    group = reach_group(house, caller, group_slug, "read-group")
    lick = find_lick(house, group.id, number).lick
    if (tune_slug is None) != (phrase is None):
        raise DomainError("tune-and-phrase")
    if tune_slug is None or phrase is None:
        return judge_alone(lick, bpm)
    tune, setting, place = setting_and_phrase(house, group.id, tune_slug, phrase, lick)
    ground = ground_of(place, setting, tune)
    beat = tune_beat(tune, lick)
    at = tune.tempo.start if bpm is None else bpm
    changes, melody = in_time_of(lick, tune.meter, ground.changes, ground.melody)
    judged = judge_lick(
        lick,
        changes=changes,
        melody=melody if tune.melody else None,
        role=place[-1].role,
        key=setting.position,
        bpm=beat.own(at, lick),
    )
    return Judged(lick, judged, beat, at, place[-1], melody)


def judge_alone(lick: Lick, bpm: int | None) -> Judged:
    judged = judge_lick(lick, bpm=bpm)
    return Judged(lick, judged, own_beat(lick), round(judged.level.bpm))


@dataclass(frozen=True, slots=True)
class Candidates:
    """Some of the licks for a phrase, best first, with what is kept of each; ``of`` finds one by (number, revision)."""

    tune: Tune
    phrase: Phrase
    ranked: list[Candidate]
    of: dict[tuple[int, int], Pooled]


async def candidates(
    house: House,
    caller: Caller,
    group_slug: str,
    slug: str,
    phrase: int,
    instrument: str | None,
    tuning: str | None,
    begins: int,
    most: int,
) -> Candidates:
    """The licks of the pool that may begin at a phrase, ``most`` from the place ``begins`` (from 0) on. Raises NotFound ``no-such-phrase``."""
    group = reach_group(house, caller, group_slug, "read-group")
    composed = await compose(house, group, slug, instrument, tuning)
    form = phrases(composed.tune)
    if not 1 <= phrase <= len(form):
        raise NotFound("no-such-phrase", phrase=phrase, phrases=len(form))
    found = ranked(composed.lattice.candidates[phrase - 1])[begins : begins + most]
    of = await pooled(house, group.id, [(one.number, one.revision) for one in found])
    return Candidates(composed.tune, form[phrase - 1], found, of)


@dataclass(frozen=True, slots=True)
class Seam:
    """Two licks joined at a tempo of the first's own meter."""

    before: KeptLick
    after: KeptLick
    join: Join
    share: float
    remarks: tuple[Finding, ...]
    bpm: int


def join_of(house: House, caller: Caller, group_slug: str, first: int, second: int, bpm: int | None) -> Seam:
    """The seam from one lick into another. Raises DomainError ``not-neighbours`` for different instruments or meters."""
    group = reach_group(house, caller, group_slug, "read-group")
    before, after = find_lick(house, group.id, first), find_lick(house, group.id, second)
    lick = before.lick
    if (lick.instrument, lick.tuning, lick.meter) != (
        after.lick.instrument,
        after.lick.tuning,
        after.lick.meter,
    ):
        raise DomainError("not-neighbours", lick=second, before=first)
    at = USUAL_BPM[lick.meter.name] if bpm is None else bpm
    join = seam(before.facts.edges, after.facts.edges, lick.instrument.scale_mm)
    share = strain(join.load / lick.meter.slot_ticks, at, lick.meter.beat_ticks)
    slow = at < bpm_for(EIGHTH_MS, lick.meter)  # a jump needs air only from a certain tempo on
    findings = tuple(f for f in join.findings if f.code != "seam-jump" or not slow)
    return Seam(before, after, replace(join, findings=findings), share, remarks(lick, after.lick), at)


async def twins_of(
    house: House, caller: Caller, group_slug: str, number: int
) -> tuple[KeptLick, list[tuple[Twin, Lick]]]:
    """The licks of the pool that are this one, or nearly."""
    group = reach_group(house, caller, group_slug, "read-group")
    kept = find_lick(house, group.id, number)
    return kept, await find_twins(house, group.id, group.pool_version, kept.lick, but=number)


async def easier_of(
    house: House, caller: Caller, group_slug: str, number: int, bpm: int | None
) -> Sequence[Easier]:
    """Simpler versions of a lick, hardest first."""
    group = reach_group(house, caller, group_slug, "read-group")
    lick = find_lick(house, group.id, number).lick
    return await asyncio.to_thread(easier_versions, lick, bpm=bpm)


@dataclass(frozen=True, slots=True)
class Move:
    """Where to move a lick; exactly one of chord, key, semitones, steps, and instrument or tuning."""

    chord: str | None = None
    key: str | None = None
    semitones: int | None = None
    steps: int | None = None
    instrument: str | None = None
    tuning: str | None = None
    hand_style: str | None = None


async def moved(house: House, caller: Caller, group_slug: str, number: int, move: Move) -> Moved:
    """A lick moved. Raises DomainError ``cannot-move`` or ``move-to-what``."""
    group = reach_group(house, caller, group_slug, "read-group")
    lick = find_lick(house, group.id, number).lick
    return await asyncio.to_thread(moved_lick, lick, move)


def moved_lick(lick: Lick, move: Move) -> Moved:
    """A lick moved. Raises DomainError ``cannot-move``, ``move-to-what``, ``other-mode``, ``no-chord-to-move``."""
    elsewhere = move.instrument is not None or move.tuning is not None
    asked = [move.chord, move.key, move.semitones, move.steps]
    if sum(value is not None for value in asked) + elsewhere != 1:
        raise DomainError("move-to-what")
    if move.hand_style is not None and not elsewhere:
        raise DomainError("move-to-what")
    if move.steps is not None:
        return restate(lick, move.steps)
    if move.semitones is not None:
        return move_lick(lick, move.semitones)
    if move.key is not None:
        key = key_named(move.key)
        if key.mode != lick.key.mode:
            raise DomainError("other-mode", key=key.name, own=lick.key.name)
        return move_lick(lick, key.tonic_class - lick.key.tonic_class, key)
    if move.chord is not None:
        to, first = chord_named(move.chord, lick.key), lick.changes[0].chord
        if to is None or first is None:
            raise DomainError("no-chord-to-move")
        return move_lick(lick, named_move(first, to), to=to)
    instrument = instrument_named(move.instrument or lick.instrument.id)
    return for_instrument(lick, instrument, instrument.tuning(move.tuning), move.hand_style)


@dataclass(frozen=True, slots=True)
class Sent:
    """Text to judge without keeping it."""

    text: str
    instrument: str
    key: str
    chords: str | None = None
    hand_style: str | None = None
    style: str | None = None
    role: str | None = None
    tuning: str | None = None
    meter: str | None = None
    measures: int | None = None
    columns: int | None = None
    bpm: int | None = None


Named = list[list[tuple[str, float]]]


async def judge_text(sent: Sent) -> tuple[Judged, Named]:
    """Judge a lick as text; chords that are not given are named from its notes.

    Raises ReadingError or DomainError with every place to mend.
    """
    return await off_the_loop(lambda: read_and_judge(sent), sent.text)


def read_and_judge(sent: Sent) -> tuple[Judged, Named]:
    instrument = instrument_named(sent.instrument)
    key = key_named(sent.key)
    meter = meter_named(sent.meter) if sent.meter else None
    changes: tuple[Change, ...] | None = None
    ticks = None
    if sent.chords is not None:
        meter = meter or meter_named("2/2")
        changes, ticks = read_changes(sent.chords, meter, key)
    passage = read_any(
        sent.text,
        sent.instrument,
        tuning=sent.tuning,
        meter=None if meter is None else meter.name,
        measures=-(-ticks // meter.measure_ticks) if ticks and meter else sent.measures,
        columns=sent.columns,
    ).passage
    if ticks is not None and passage.ticks != ticks:
        fault = Fault("chords-length", measures_apart(ticks, passage.ticks, passage.meter), path="chords")
        raise DomainError("bad-lick", at=[fault], count=1)
    short = instrument.short_string
    line = [
        n for n in passage.notes if short is None or n.string != short[0] or n.fret
    ]  # a drone names no chord
    sounds = sounding(line, replace(passage, capo=0, stop=None).fretboard)
    named = name_chords(sounds, passage.meter.name, key.name, len(passage.measures))
    if changes is None:
        changes = passage.changes or _as_changes(named, passage.starts)
    hand = sent.hand_style or instrument.hand_styles[0]
    style = sent.style or STYLES.get(hand, (hand,))[0]
    lick = Lick(
        "as sent", instrument, passage.tuning, hand, style, passage.meter, key, passage.ticks,
        passage.notes, changes, sent.role, lengths=passage.measures,
    )  # fmt: skip
    check_lick(lick)
    return judge_alone(lick, sent.bpm), named


def _as_changes(named: Named, starts: Sequence[int]) -> tuple[Change, ...]:
    """The likeliest chord of each measure, as changes."""
    found: list[Change] = []
    for start, of in zip(starts, named, strict=True):
        chord: Chord | None = chord_named(of[0][0])
        if not found or found[-1].chord != chord:
            found.append(Change(start, chord))
    return tuple(found)
