"""Scores of a tune itself: what is played behind others, what starts and ends it, and the licks that fill each phrase."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.compose.matching import changes_over
from service.compose.ranking import ranked
from service.errors import DomainError
from service.music.backup import backup
from service.music.fills import fill, with_fill
from service.music.frames import ending, kick_off
from service.music.passages import Passage
from service.music.scores import Score, Section, Span
from service.music.setting import Setting
from service.music.tunes import Phrase, Tune
from service.store.groups import GroupRow
from service.usecases.composing import compose
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import KeptLick, find_lick, in_hand
from service.usecases.records import Rights, choose_setting, kept_form, kept_tune, tune_record
from service.usecases.scores import tune_beat
from service.usecases.tunes import find_tune

STOCK_EACH = 12  # licks shown for a phrase, best first; ours: more than anybody learns of one


@dataclass(frozen=True, slots=True)
class SetTune:
    """A tune as one instrument of the group plays it."""

    group: GroupRow
    tune: Tune
    revision: int
    setting: Setting
    form: tuple[Phrase, ...]
    rights: Rights


def set_tune(
    house: House, caller: Caller, group_slug: str, slug: str, instrument: str | None, tuning: str | None
) -> SetTune:
    """The tune for an instrument, the group's own without one. Raises NotFound, DomainError ``unknown-instrument``."""
    group = reach_group(house, caller, group_slug, "read-group")
    row = find_tune(house, group.id, slug)
    tune, record = kept_tune(row.id, row.revision, row.slug, row.body), tune_record(row.body)
    if instrument is None:
        instrument, tuning = group.instrument, tuning or group.tuning
    setting = choose_setting(record, tune, instrument, tuning)
    form = kept_form(row.id, row.revision, row.slug, row.body)
    return SetTune(group, tune, row.revision, setting, form, record.rights)


def backup_score(of: SetTune, pattern: str, bpm: int | None, fills: Sequence[int] = ()) -> Score:
    """The whole form in a pattern; ``fills`` are measures (from 1, repeats written out) that are filled.

    Raises DomainError ``unknown-pattern`` or ``no-such-measure``.
    """
    tune = of.tune
    measures = tuple(measure.ticks for name in tune.order for measure in tune.part(name).measures)
    changes = changes_over(of.form, of.setting, tune)
    passage = backup(changes, measures, tune.meter, of.setting, pattern)
    for number in sorted(set(fills)):
        if not 1 <= number <= len(measures):
            raise DomainError("no-such-measure", measure=number, measures=len(measures))
        onset, ticks = sum(measures[: number - 1]), measures[number - 1]
        filled = fill(changes, measures, tune.meter, of.setting, onset, ticks, passage)
        passage = with_fill(passage, filled)
    sections = tuple(Section(phrase.onset, phrase.part) for phrase in of.form if phrase.index == 1)
    return _score(of, passage, bpm, sections)


def kick_off_score(of: SetTune, bpm: int | None) -> Score:
    return replace(_score(of, kick_off(of.setting, of.tune.meter), bpm), closes=False)


def ending_score(of: SetTune, bpm: int | None) -> Score:
    return _score(of, ending(of.setting, of.tune.meter), bpm)


def _score(of: SetTune, passage: Passage, bpm: int | None, sections: tuple[Section, ...] = ()) -> Score:
    return Score(
        of.tune.name,
        passage,
        of.setting.position,
        tune_beat(of.tune, bpm),
        sections,
    )


@dataclass(frozen=True, slots=True)
class Stocked:
    """The licks for a phrase, best first, each with its score under its number and name."""

    phrase: Phrase
    licks: tuple[tuple[KeptLick, Score], ...]


async def stock(house: House, of: SetTune) -> tuple[Stocked, ...]:
    """A tune's licks by phrase, each phrase of each part once."""
    composed = await compose(house, of.group, of.tune.slug, of.setting.instrument.id, of.setting.tuning.id)
    found = []
    seen: set[tuple[str, int]] = set()
    for phrase, candidates in zip(of.form, composed.lattice.candidates, strict=True):
        if (phrase.part, phrase.index) in seen:
            continue
        seen.add((phrase.part, phrase.index))
        best = ranked(candidates)[:STOCK_EACH]
        licks = [find_lick(house, of.group.id, one.number, one.revision) for one in best]
        found.append(Stocked(phrase, tuple((kept, _titled(kept, of)) for kept in licks)))
        await asyncio.sleep(0)  # others may be served between two phrases
    return tuple(found)


def _titled(kept: KeptLick, of: SetTune) -> Score:
    passage = in_hand(kept.lick)
    label = f"{kept.number} {kept.lick.name}"
    return Score(
        label,
        passage,
        kept.lick.key,
        tune_beat(of.tune),
        phrases=(Span(0, passage.ticks, label),),
    )
