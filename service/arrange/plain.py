"""A plain break of a tune: every part arranged once, cut into its phrases, judged, and made easier where it came out too fast."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.arrange.ground import Ground, Slot, grounds
from service.arrange.manners import EASING, MANNERS, MELODIC, MOST_EASING, PICKED, TASTES, Manner
from service.arrange.path import Event, Path, Wish, easiest_path
from service.arrange.positions import octave_of
from service.errors import DomainError
from service.judge.judgement import Judgement, judge_lick
from service.judge.level import LEVELS
from service.judge.melody import Sound
from service.music.fretboard import Fretboard
from service.music.licks import Change, Lick, Note
from service.music.setting import Setting
from service.music.tunes import UNIT_TICKS, Phrase, Tune, merged, place_name

HELD_AT_MOST = 4  # slots that a note of a roll is written to last: it dies away by itself (common practice)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A melody note that is not played: onset in ticks from the start of its phrase, pitch as it sounds in the hand, and why:
    ``between`` (finer than the slots), ``room`` (the hand had none), ``air`` (the end of a tag stays empty), ``folded`` (it is played,
    an octave from where the rest lies)."""

    onset: int
    pitch: int
    why: str


@dataclass(frozen=True, slots=True)
class Arranged:
    """A phrase of a part, arranged: ``eased`` is how often it was made easier."""

    part: str
    index: int
    lick: Lick
    judged: Judgement
    left_out: tuple[LeftOut, ...]
    eased: int


@dataclass(frozen=True, slots=True)
class Arrangement:
    """``octave`` is how far the melody was moved to lie in reach, in semitones; ``evened`` how many of its notes are played as even
    slots."""

    setting: Setting
    octave: int
    level: int
    style: str
    phrases: tuple[Arranged, ...]
    cost: float
    evened: int

    @property
    def share(self) -> float:
        """Of the melody that is recalled, over all phrases."""
        shares = [one.judged.recall.share for one in self.phrases if one.judged.recall is not None]
        return sum(shares) / len(shares) if shares else 0.0


def arrange(tune: Tune, setting: Setting, level: int = 2, style: str | None = None) -> Arrangement:
    """The plain break of a tune on one instrument. Raises DomainError ``nothing-to-arrange``, ``no-such-level``, ``no-such-plain-style``."""
    if not any(notes for _, notes in tune.melody):
        raise DomainError("nothing-to-arrange", tune=tune.name)
    if level not in TASTES:
        raise DomainError("no-such-level", level=level, most=max(TASTES))
    manner = manner_of(setting, style)
    octave = octave_of(tune, setting, manner)
    taste = TASTES[level]
    if manner is MELODIC:
        taste = replace(taste, links=max(taste.links, PICKED))
    phrases: list[Arranged] = []
    cost, even = 0.0, 0
    for ground in grounds(tune, setting, octave):
        arranged, own = arranged_part(tune, setting, ground, Wish(manner, taste), level)
        phrases += arranged
        cost += own
        even += ground.evened
    return Arrangement(setting, octave, level, manner.style, tuple(phrases), cost, even)


def manner_of(setting: Setting, style: str | None) -> Manner:
    """Raises DomainError ``no-such-plain-style``."""
    usual = MANNERS[setting.instrument.id]
    if style in (None, usual.style):
        return usual
    if setting.instrument.id == "banjo" and style == MELODIC.style:
        return MELODIC
    known = (usual.style, MELODIC.style) if setting.instrument.id == "banjo" else (usual.style,)
    raise DomainError("no-such-plain-style", style=style, known=", ".join(known))


def arranged_part(
    tune: Tune, setting: Setting, ground: Ground, wish: Wish, level: int
) -> tuple[list[Arranged], float]:
    """A part, made easier until every phrase can be played at the tune's own tempo, or nothing helps any more."""
    bpm = tune.tempo.start * UNIT_TICKS[tune.tempo.unit] / tune.meter.beat_ticks
    best: list[Arranged] = []
    cost, eased = 0.0, 0
    for eased in range(MOST_EASING + 1):
        path = easiest_path(ground, setting.fretboard_in_hand, replace(wish, ease=EASING**eased))
        cost = path.cost
        made = [
            _phrase(tune, setting, ground, path, phrase, start, level, bpm, eased, wish.manner.style)
            for phrase, start in _starts(ground)
        ]
        # a phrase that was good already stays as it was
        best = [
            old if best and _top(old) >= min(bpm, _top(new)) else new
            for old, new in zip(best or made, made, strict=True)
        ]
        if all(_top(one) >= bpm for one in best):
            break
    return best, cost


def _top(one: Arranged) -> float:
    return one.judged.hands.top_bpm or 0


def _starts(ground: Ground) -> list[tuple[Phrase, int]]:
    found, start = [], 0
    for phrase in ground.phrases:
        found.append((phrase, start))
        start += phrase.ticks
    return found


def _phrase(
    tune: Tune,
    setting: Setting,
    ground: Ground,
    path: Path,
    phrase: Phrase,
    start: int,
    level: int,
    bpm: float,
    eased: int,
    style: str,
) -> Arranged:
    end = start + phrase.ticks
    first = start if start else ground.slots[0].onset
    here = [
        (slot, event)
        for slot, event in zip(ground.slots, path.events, strict=True)
        if first <= slot.onset < end
    ]
    notes = _notes(here, start, end, tune)
    changes = merged([Change(c.onset, setting.to_position(c.chord, tune.key)) for c in phrase.changes])
    melody: list[Sound] = [
        (slot.melody[0] - start, slot.melody[1], slot.melody[2])
        for slot, _ in here
        if slot.melody is not None and slot.onset >= start
    ]
    melody += [
        (onset - start, lasts, pitch) for onset, lasts, pitch in ground.between if start <= onset < end
    ]
    lick = Lick(
        f"{tune.name} {place_name(phrase.part, phrase.index)}"[:120],
        setting.instrument,
        setting.tuning,
        MANNERS[setting.instrument.id].hand_style,
        style,
        tune.meter,
        setting.position,
        phrase.ticks,
        notes,
        changes,
        phrase.role,
        level,
        lengths=_lengths(ground, start, end),
    )
    judged = judge_lick(
        lick,
        melody=tuple(sorted(melody)) or None,
        changes=changes,
        role=phrase.role,
        key=setting.position,
        bpm=bpm,
    )
    lick = replace(lick, level=max(1, min(LEVELS, judged.level.level)))
    return Arranged(
        phrase.part,
        phrase.index,
        lick,
        judged,
        _left_out(here, ground, start, end, setting.fretboard_in_hand),
        eased,
    )


def _notes(here: Sequence[tuple[Slot, Event | None]], start: int, end: int, tune: Tune) -> tuple[Note, ...]:
    """Each lasts to the next one, a bar line or HELD_AT_MOST slots, whichever comes first."""
    step = tune.meter.slot_ticks
    played = [(slot.onset - start, event) for slot, event in here if event is not None]
    found = []
    for number, (onset, event) in enumerate(played):
        following = played[number + 1][0] if number + 1 < len(played) else end - start
        lasts = min(following - onset, HELD_AT_MOST * step)
        for at in event.places:
            found.append(Note(onset, at.string, at.fret, lasts, event.technique))
    return tuple(sorted(found, key=lambda note: (note.onset, note.string)))


def _lengths(ground: Ground, start: int, end: int) -> tuple[int, ...]:
    found, at = [], 0
    for measure in ground.part.measures:
        if start <= at < end:
            found.append(measure.ticks)
        at += measure.ticks
    return tuple(found) if any(ticks != ground.meter.measure_ticks for ticks in found) else ()


def _left_out(
    here: Sequence[tuple[Slot, Event | None]], ground: Ground, start: int, end: int, board: Fretboard
) -> tuple[LeftOut, ...]:
    found = [
        LeftOut(onset - start, pitch, "between") for onset, _, pitch in ground.between if start <= onset < end
    ]
    for slot, event in here:
        if slot.melody is not None and (event is None or not event.sung):
            why = "air" if slot.silent else "room"
            found.append(LeftOut(slot.onset - start, slot.melody[2], why))
        elif slot.melody is not None and event is not None:
            at = event.places[0]
            if board.pitch(at.string, at.fret) != slot.melody[2]:
                found.append(LeftOut(slot.onset - start, slot.melody[2], "folded"))
    return tuple(sorted(found, key=lambda one: one.onset))
