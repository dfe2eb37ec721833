"""A break: one lick in every phrase of a form, joined so that pickups replace tails."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.music.fretboard import Fretboard
from service.music.licks import Change, Lick, Note
from service.music.meter import stretch
from service.music.passages import Passage
from service.music.setting import Setting
from service.music.tunes import Tune, phrases


@dataclass(frozen=True, slots=True)
class Filled:
    """A lick in its place: the number of the first phrase it fills (from 1)."""

    phrase: int
    lick: Lick | None


def assemble(tune: Tune, setting: Setting, filled: Sequence[Filled]) -> Passage:
    """The whole break in the playing position.

    A pickup silences the lick before it from where it begins. The first lick's pickup sounds before
    the tune. A place whose lick is None is a rest.
    """
    form = phrases(tune)
    notes: list[Note] = []
    for place in filled:
        if place.lick is None:
            continue
        start = form[place.phrase - 1].onset
        lick = place.lick
        ratio = stretch(lick.meter, tune.meter)
        if ratio is None:
            raise ValueError(f"a lick in {lick.meter.name} cannot fill a phrase in {tune.meter.name}")
        placed = [_scaled(note, ratio).moved(start) for note in lick.notes]
        if placed and placed[0].onset < start:
            notes = _silenced(notes, placed[0].onset)
        notes.extend(placed)
    measures = tuple(m.ticks for name in tune.order for m in tune.part(name).measures)
    changes = tuple(
        Change(phrase.onset + change.onset, setting.to_position(change.chord, tune.key))
        for phrase in form
        for change in phrase.changes
    )
    usual = Fretboard(setting.instrument, setting.tuning, setting.capo)
    short = setting.instrument.short_string
    stop = None if short is None or usual.pitch(short[0], 0) == setting.stop else setting.stop
    return Passage(
        setting.instrument, setting.tuning, tune.meter, measures, tuple(notes), changes, setting.capo, stop
    )


def part_of(passage: Passage, first: int, after: int) -> Passage:
    """Measures ``first`` up to ``after`` (from 0) of a passage, with the chord that sounds where they begin. Notes before them
    are its pickup: those that are no part of it must not be there."""
    starts = (*passage.starts, passage.ticks)
    start, end = starts[first], starts[after]
    sounding = [change for change in passage.changes if change.onset <= start][-1:]
    inside = [change for change in passage.changes if start < change.onset < end]
    return replace(
        passage,
        measures=passage.measures[first:after],
        notes=tuple(note.moved(-start) for note in passage.notes if note.onset < end),
        changes=tuple(Change(max(0, change.onset - start), change.chord) for change in (*sounding, *inside)),
    )


def end_to_end(one: Passage, other: Passage) -> Passage:
    """Two passages of one instrument, the second after the first; its pickup replaces the tail before it."""
    placed = [note.moved(one.ticks) for note in other.notes]
    notes = list(one.notes)
    if placed and placed[0].onset < one.ticks:
        notes = _silenced(notes, placed[0].onset)
    changes = [*one.changes, *(Change(one.ticks + c.onset, c.chord) for c in other.changes)]
    return replace(
        one, measures=(*one.measures, *other.measures), notes=(*notes, *placed), changes=tuple(changes)
    )


def _scaled(note: Note, ratio: tuple[int, int]) -> Note:
    if ratio == (1, 1):
        return note
    up, down = ratio
    return replace(note, onset=note.onset * up // down, duration=note.duration * up // down)


def _silenced(notes: Sequence[Note], cut: int) -> list[Note]:
    kept: list[Note] = []
    for note in notes:
        if note.onset >= cut:
            continue
        kept.append(note if note.onset + note.duration <= cut else replace(note, duration=cut - note.onset))
    return kept
