"""From domain values to what goes over the wire."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from schemas.base import Sentence
from schemas.breaks import (
    BreakOut,
    BreakPhraseOut,
    JoinOut,
    JudgementOut,
    LickRef,
    SettingOut,
    TempoOut,
)
from schemas.groups import GroupOut
from schemas.instruments import InstrumentOut, TuningOut
from schemas.licks import FitOut, LickOut
from schemas.readings import ChordOut, NoteOut, ReadingOut
from schemas.tunes import PhraseOut, RightsIn, SettingIn, TempoIn, TuneBody, TuneOut
from service.compose.matching import changes_over
from service.errors import DomainError
from service.judge.fit import Fit
from service.music.harmony import Chord
from service.music.instruments import STYLES, Instrument
from service.music.licks import Change, Lick
from service.music.meter import EIGHTH, Meter
from service.music.passages import Passage
from service.music.pitch import nearest_spelling, tone_name
from service.music.setting import Setting
from service.music.tunes import phrases
from service.notation.one_line import write_one_line
from service.notation.readings import Reading
from service.notation.tab_writer import write_tab
from service.store.groups import GroupRow
from service.usecases.breaks import Break
from service.usecases.licks import KeptLick, in_hand
from service.usecases.records import (
    Rights,
    RoleRecord,
    SettingRecord,
    TempoRecord,
    TuneRecord,
)
from service.usecases.tunes import KeptTune
from service.web.problems import place
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


def sentence(code: str, params: Mapping[str, object], language: str) -> Sentence:
    return Sentence(code=code, params=dict(params), text=say(code, params, language))


def chord_name(chord: Chord | None) -> str:
    return "N.C." if chord is None else chord.name


def chords_line(changes: Sequence[Change]) -> str:
    return " ".join(chord_name(change.chord) for change in changes)


def notes_out(passage: Passage) -> list[NoteOut]:
    """Notes by measure; pickup notes stand at the end of measure 0."""
    starts = passage.starts
    pitch_of = passage.fretboard.pitch
    found = []
    for note in passage.notes:
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
                finger=note.finger,
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


def one_line(passage: Passage) -> str | None:
    """The one-line form, or None for a rhythm it cannot carry."""
    try:
        return write_one_line(passage)
    except DomainError:
        return None


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
    return Rights(sent.origin, sent.source, sent.licence, sent.credit)


def rights_out(rights: Rights) -> RightsIn:
    return RightsIn(
        origin=rights.origin,  # type: ignore[arg-type]
        source=rights.source,
        licence=rights.licence,
        credit=rights.credit,
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


def fit_out(fit: Fit, lick: Lick, language: str) -> FitOut:
    """The score and its reasons; a note that hurts is named by measure and count."""
    reasons = [sentence("fit-share", {"percent": round(100 * fit.score)}, language)]
    for hurt in fit.hurts:
        measure, within = divmod(hurt.onset, lick.meter.measure_ticks)
        params = {
            "measure": measure + 1,
            "beat": count_of(within, lick.meter),
            "note": tone_name(nearest_spelling(hurt.pitch, lick.key.signature)),
            "chord": hurt.chord,
        }
        reasons.append(sentence("fit-hurts", params, language))
    return FitOut(score=round(fit.score, 4), reasons=reasons)


def count_of(tick: int, meter: Meter) -> str:
    """How players count an onset within its measure: ``2 &``; the syllable alone on a beat."""
    slot = tick // meter.slot_ticks
    beat = tick // meter.beat_ticks + 1
    syllable = meter.counts[slot]
    return syllable if syllable.isdigit() else f"{beat} {syllable}"


def lick_out(kept: KeptLick, group: str, language: str) -> LickOut:
    lick, record = kept.lick, kept.record
    passage = in_hand(lick)
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
        notes=notes_out(passage),
        tab=write_tab(passage),
        line=one_line(passage),
        fit=fit_out(kept.fit, lick, language),
        warnings=[place(fault, language) for fault in kept.warnings],
        rights=rights_out(record.rights),
        links={
            "self": f"/v1/groups/{group}/licks/{kept.number}",
            "tab": f"/v1/groups/{group}/licks/{kept.number}/tab.txt",
        },
    )


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
    filled = []
    joins = []
    before: KeptLick | None = None
    for place_of in shown.phrases:
        first, kept = place_of.form[0], place_of.lick
        changes = changes_over(place_of.form, shown.setting, tune)
        filled.append(
            BreakPhraseOut(
                phrase=first.number,
                part=first.part,
                role=place_of.form[-1].role,
                measure=first.measure,
                chords=chords_line(changes),
                lick=LickRef(
                    number=kept.number,
                    revision=kept.revision,
                    name=kept.lick.name,
                    level=kept.lick.level,
                    style=kept.lick.style,
                    role=kept.lick.role,
                    phrases=kept.lick.phrases,
                ),
                judgement=JudgementOut(fit=fit_out(kept.fit, kept.lick, language)),
            )
        )
        if before is not None and kept.lick.pickup_ticks:
            params = {
                "lick": kept.number,
                "before": before.number,
                "eighths": -(-kept.lick.pickup_ticks // EIGHTH),
            }
            joins.append(
                JoinOut(phrase=first.number, reasons=[sentence("pickup-replaces", params, language)])
            )
        before = kept
    return BreakOut(
        code=shown.code,
        tune=tune.slug,
        tune_name=tune.name,
        meter=tune.meter.name,
        setting=setting_out(shown.setting),
        number=shown.numbered.number,
        total=shown.numbered.total,
        snapshot=shown.numbered.snapshot,
        phrases=filled,
        joins=joins,
        level=max(p.lick.lick.level for p in shown.phrases),
        tempo=TempoOut(bpm=tune.tempo.start, unit=tune.tempo.unit),
        links={"self": base, "tab": f"{base}/tab.txt", "tune": f"/v1/groups/{shown.group}/tunes/{tune.slug}"},
    )
