"""From domain values to what goes over the wire."""

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import zip_longest

import msgspec

from schemas.breaks import (
    BreakOut,
    BreakPhraseOut,
    JudgementOut,
    LickRef,
    SettingOut,
    SwapList,
    SwapOut,
)
from schemas.groups import GroupOut
from schemas.instruments import InstrumentOut, TuningOut
from schemas.judgements import TempoOut
from schemas.licks import BorrowedOut, LickIn, LickOut, LickRightsIn
from schemas.readings import ChordOut, NoteOut, ReadingOut
from schemas.tunes import PhraseInHandOut, PhraseOut, RightsIn, RoleIn, SettingIn, TempoIn, TuneBody, TuneOut
from service.compose.matching import changes_over
from service.music.instruments import STYLES, Instrument
from service.music.passages import Passage, lick_passage
from service.music.setting import Setting
from service.music.tunes import Phrase, phrases
from service.notation.readings import Reading
from service.notation.tab_writer import write_tab
from service.store.groups import GroupRow
from service.store.licks import Borrowed
from service.store.tables import FORMER
from service.usecases.house import PLACED
from service.usecases.judging import tune_beat
from service.usecases.licks import KeptLick, Submission
from service.usecases.made_breaks import Break, BreakPhrase, Rest
from service.usecases.records import (
    Rights,
    RoleRecord,
    SettingRecord,
    TempoRecord,
    TuneRecord,
)
from service.usecases.shown_licks import one_line, shown_of
from service.usecases.swaps import Swaps
from service.usecases.tune_scores import SetTune
from service.usecases.tunes import KeptTune
from service.web.charted import chart_of, chord_name, chords_line
from service.web.judged import finding_out, fit_out, join_out, melody_out, place_reasons, tempo_out
from service.web.problems import place
from service.web.rests import rest_note
from service.wording import say


def instrument_out(instrument: Instrument) -> InstrumentOut:
    return InstrumentOut(
        id=instrument.id,
        name=instrument.name,
        strings=instrument.strings,
        frets=instrument.frets,
        scale_mm=instrument.scale_mm,
        short_string=instrument.short_string[0] if instrument.short_string else None,
        tunings=[
            TuningOut(id=t.id, name=t.name, pitches=list(t.pitches), labels=list(t.labels))
            for t in instrument.tunings
        ],
        hand_styles={hand: list(STYLES[hand]) for hand in instrument.hand_styles},
    )


def notes_out(passage: Passage, fingers: Sequence[str | None] = ()) -> list[NoteOut]:
    """Notes by measure; pickup notes stand at the end of measure 0. ``fingers`` by note, where the notes have none yet."""
    starts = passage.starts
    pitch_of = passage.fretboard.pitch
    found = []
    for note, finger in zip_longest(passage.notes, fingers):
        index = bisect_right(starts, note.onset) - 1
        start = starts[index] if index >= 0 else -passage.meter.measure_ticks
        found.append(
            NoteOut(
                measure=index + 1,
                onset=note.onset - start,
                duration=note.duration,
                string=note.string,
                fret=note.fret,
                pitch=pitch_of(note.string, note.fret),
                technique=note.technique,
                finger=finger or note.finger,
            )
        )
    return found


def chords_out(passage: Passage) -> list[ChordOut]:
    starts = passage.starts
    found = []
    for change in passage.changes:
        index = bisect_right(starts, change.onset) - 1
        found.append(
            ChordOut(measure=index + 1, onset=change.onset - starts[index], name=chord_name(change.chord))
        )
    return found


def reading_out(reading: Reading, language: str) -> ReadingOut:
    passage = reading.passage
    return ReadingOut(
        notes=notes_out(passage),
        chords=chords_out(passage),
        warnings=[place(fault, language) for fault in reading.warnings],
        tidy=write_tab(passage),
        line=one_line(passage),
        measures=reading.measures,
        played=list(reading.played),
        instrument=passage.instrument.id,
        tuning=passage.tuning.id,
        meter=passage.meter.name,
        capo=passage.capo,
    )


def member_name(name: str, language: str) -> str:
    """A member's name as it is shown: of one who was erased only that there was somebody."""
    if name.startswith(FORMER):
        return say("former-member", {"number": name.removeprefix(FORMER)}, language)
    return name


def group_out(row: GroupRow) -> GroupOut:
    return GroupOut(
        slug=row.slug,
        name=row.name,
        instrument=row.instrument,
        tuning=row.tuning,
        language=row.language,
        platform=row.platform,
        server_id=row.server_id,
        revision=row.revision,
    )


def rights_record(sent: RightsIn) -> Rights:
    """Of a tune, or of a lick (LickRightsIn, which says more)."""
    return Rights(**{name: getattr(sent, name) for name in sent.__struct_fields__})


def submission(sent: LickIn) -> Submission:
    return Submission(
        name=sent.name,
        text=sent.text,
        instrument=sent.instrument,
        chords=sent.chords,
        key=sent.key,
        hand_style=sent.hand_style,
        style=sent.style,
        level=sent.level,
        tuning=sent.tuning,
        meter=sent.meter,
        role=sent.role,
        phrases=sent.phrases,
        columns=sent.columns,
        rights=rights_record(sent.rights),
    )


def rights_out(rights: Rights) -> RightsIn:
    return RightsIn(
        origin=rights.origin,  # type: ignore[arg-type]
        source=rights.source,
        licence=rights.licence,
        credit=rights.credit,
        year=rights.year,
    )


def lick_rights_out(rights: Rights) -> LickRightsIn:
    return LickRightsIn(**{name: getattr(rights, name) for name in rights.__struct_fields__})


def borrowed_out(borrowed: Borrowed) -> BorrowedOut:
    return BorrowedOut(
        group=borrowed.group,
        lick=borrowed.lick,
        revision=borrowed.revision,
        borrowed=borrowed.borrowed,
        rights=msgspec.json.decode(borrowed.rights, type=LickRightsIn),
    )


def record_of_tune(sent: TuneBody) -> TuneRecord:
    return TuneRecord(
        name=sent.name,
        key=sent.key,
        meter=sent.meter,
        tempo=TempoRecord(sent.tempo.low, sent.tempo.high, sent.tempo.start, sent.tempo.unit),
        chart=sent.chart,
        order=sent.order,
        cuts=sent.cuts,
        roles=[RoleRecord(role.part, role.phrase, role.role) for role in sent.roles],
        melody=sent.melody,
        settings=[SettingRecord(s.instrument, s.tuning, s.position, s.capo, s.stop) for s in sent.settings],
        plain=sent.plain,
        rights=rights_record(sent.rights),
    )


def phrase_in_hand_out(of: SetTune, phrase: Phrase) -> PhraseInHandOut:
    setting, part = of.setting, of.tune.part(phrase.part)
    first = sum(part.cuts[: phrase.index - 1])
    lengths = [measure.ticks for measure in part.measures[first : first + part.cuts[phrase.index - 1]]]
    return PhraseInHandOut(
        number=phrase.number,
        part=phrase.part,
        index=phrase.index,
        role=phrase.role,
        meter=of.tune.meter.name,
        instrument=setting.instrument.id,
        tuning=setting.tuning.id,
        key=setting.position.name,
        chart=chart_of(changes_over((phrase,), setting, of.tune), lengths, of.tune.meter),
    )


def tune_out(kept: KeptTune) -> TuneOut:
    tune, record = kept.tune, kept.record
    return TuneOut(
        slug=kept.slug,
        revision=kept.revision,
        name=tune.name,
        key=tune.key.name,
        meter=tune.meter.name,
        tempo=TempoIn(
            low=tune.tempo.low,
            high=tune.tempo.high,
            start=tune.tempo.start,
            unit=tune.tempo.unit,  # type: ignore[arg-type]
        ),
        chart=record.chart,
        order=list(tune.order),
        cuts={part.name: list(part.cuts) for part in tune.parts},
        roles=[RoleIn(part=one.part, phrase=one.phrase, role=one.role) for one in record.roles],  # type: ignore[arg-type]
        phrases=[
            PhraseOut(
                number=phrase.number,
                part=phrase.part,
                index=phrase.index,
                measure=phrase.measure,
                ticks=phrase.ticks,
                role=phrase.role,
                chords=chords_line(phrase.changes),
            )
            for phrase in phrases(tune)
        ],
        melody=record.melody,
        settings=[
            SettingIn(instrument=s.instrument, tuning=s.tuning, position=s.position, capo=s.capo, stop=s.stop)
            for s in record.settings
        ],
        plain=record.plain,
        rights=rights_out(record.rights),
    )


def lick_out(kept: KeptLick, group: str, language: str) -> LickOut:
    lick, record = kept.lick, kept.record
    shown = kept.shown or shown_of(lick)
    top = kept.facts.top_bpm(lick.meter)
    return LickOut(
        number=kept.number,
        revision=kept.revision,
        state=kept.state,
        name=lick.name,
        instrument=lick.instrument.id,
        tuning=lick.tuning.id,
        hand_style=lick.hand_style,
        style=lick.style,
        meter=lick.meter.name,
        key=lick.key.name,
        role=lick.role,
        level=lick.level,
        phrases=lick.phrases,
        measures=lick.measures,
        pickup=lick.pickup_ticks,
        chords=chords_line(lick.changes),
        chart=chart_of(lick.changes, lick_passage(lick).measures, lick.meter),
        notes=notes_out(lick_passage(lick), shown.fingers),
        tab=shown.tab,
        line=shown.line,
        fit=fit_out(shown.fit, lick, language),
        top=None if top is None else TempoOut(bpm=top, unit=lick.meter.beat_unit),
        reasons=[finding_out(f, lick, language) for f in kept.facts.findings],
        warnings=[place(fault, language) for fault in kept.warnings],
        rights=lick_rights_out(record.rights),
        by=kept.by and member_name(kept.by, language),
        borrowed_from=None if kept.borrowed is None else borrowed_out(kept.borrowed),
        said=kept.said,
        links={
            "self": f"/v1/groups/{group}/licks/{kept.number}",
            **_file_links(f"/v1/groups/{group}/licks/{kept.number}"),
        },
        arranged=record.arranged,
    )


def _file_links(base: str) -> dict[str, str]:
    """Where the files of a lick or break are."""
    return {name: f"{base}/{what}" for name, what in _FILES.items()}


_FILES = {
    "tab": "tab.txt", "picture": "tab.png", "sheet": "sheet.pdf", "sound": "break.mp3", "midi": "break.mid",
    "musicxml": "break.musicxml", "read-out": "read-out.txt",
}  # fmt: skip


def setting_out(setting: Setting) -> SettingOut:
    return SettingOut(
        instrument=setting.instrument.id,
        tuning=setting.tuning.id,
        position=setting.position.name,
        sounding=setting.sounding.name,
        capo=setting.capo,
        stop=setting.stop,
        stop_fret=setting.stop_fret,
    )


def break_out(shown: Break, language: str) -> BreakOut:
    tune = shown.tune
    base = f"/v1/groups/{shown.group}/breaks/{shown.code}"
    return BreakOut(
        code=shown.code,
        tune=tune.slug,
        tune_name=tune.name,
        meter=tune.meter.name,
        setting=setting_out(shown.setting),
        number=shown.numbered.number,
        total=shown.numbered.total,
        snapshot=shown.numbered.snapshot,
        phrases=[
            _rest_out(of, language) if isinstance(of, Rest) else _break_phrase_out(of, language)
            for of in shown.phrases
        ],
        joins=[join_out(join, language) for join in shown.joins],
        level=shown.level,
        tempo=TempoOut(bpm=tune.tempo.start, unit=tune.tempo.unit),
        top=tempo_out(tune, shown.top_bpm),
        melody=None if shown.melody is None else round(shown.melody, 4),
        links={
            "self": base,
            **_file_links(base),
            "tune": f"/v1/groups/{shown.group}/tunes/{tune.slug}",
        },
    )


def swaps_out(found: Swaps) -> SwapList:
    return SwapList(
        items=[
            SwapOut(
                number=swap.candidate.number,
                revision=swap.candidate.revision,
                name=found.names.get(swap.candidate.number, ""),
                style=swap.candidate.style,
                level=swap.candidate.level,
                level_change=swap.level,
                melody_change=round(swap.recall, 4),
                joins_change=round(swap.joins, 4),
                clean=not swap.candidate.broken,
            )
            for swap in found.ranked
        ]
    )


@lru_cache(maxsize=PLACED)
def _break_phrase_out(place_of: BreakPhrase, language: str) -> BreakPhraseOut:
    """Told once for each place that is kept."""
    first, kept, tune = place_of.form[0], place_of.lick, place_of.tune
    lick = kept.lick
    beat = tune_beat(tune, lick)
    top = kept.facts.top_bpm(lick.meter)
    return BreakPhraseOut(
        phrase=first.number,
        phrases=len(place_of.form),
        part=first.part,
        role=place_of.form[-1].role,
        measure=first.measure,
        chords=chords_line(place_of.ground.changes),
        lick=LickRef(
            number=kept.number,
            revision=kept.revision,
            name=lick.name,
            level=lick.level,
            style=lick.style,
            role=lick.role,
            phrases=lick.phrases,
        ),
        judgement=JudgementOut(
            fit=fit_out(place_of.fit, lick, language),
            level=place_of.level,
            top=None if top is None else TempoOut(bpm=beat.shown(top, lick), unit=beat.unit),
            melody=melody_out(place_of.recall) if tune.melody else None,
            reasons=place_reasons(place_of, tune, language),
        ),
    )


def _rest_out(rest: Rest, language: str) -> BreakPhraseOut:
    first = rest.form[0]
    return BreakPhraseOut(
        phrase=first.number,
        phrases=len(rest.form),
        part=first.part,
        role=rest.form[-1].role,
        measure=first.measure,
        chords=chords_line(rest.ground.changes),
        lick=None,
        judgement=None,
        note=rest_note(rest, language),
    )
