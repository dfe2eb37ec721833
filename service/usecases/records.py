"""How licks, tunes and settings are kept: as JSON that says everything needed to make them again."""

import re
from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache

import msgspec

from service.errors import DomainError, Fault
from service.music.harmony import Key, chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Lick, Note
from service.music.meter import EIGHTH, Meter, meter_named
from service.music.setting import Setting, make_setting
from service.music.tunes import MelodyNote, Part, Phrase, Tempo, Tune, check_tune, phrases, usual_cuts
from service.notation.abc import read_melody, write_melody
from service.notation.chart import read_chart, read_order
from service.notation.clean import sung_lines
from service.notation.melody_line import is_melody_line, read_melody_line, write_melody_line
from service.notation.typed_key import modal_key


class Rights(msgspec.Struct, frozen=True):
    """Where a lick or tune comes from; ``origin`` is own, traditional or adapted. ``may_submit`` and the like are what whoever
    sent a lick in declares: that they may, that others may edit it, that other groups may have it."""

    origin: str = "own"
    source: str | None = None
    licence: str | None = None
    credit: str | None = None
    year: int | None = None
    may_submit: bool = True
    may_edit: bool = True
    may_share: bool = False


OWN = Rights()


def check_rights(rights: Rights) -> None:
    """Raises DomainError ``source-needed`` or ``may-not-submit``."""
    if rights.origin == "adapted" and not (rights.source or "").strip():
        raise DomainError("source-needed", at=[Fault("source-needed", path="rights.source")])
    if not rights.may_submit:
        raise DomainError("may-not-submit", at=[Fault("may-not-submit", path="rights.may_submit")])


NoteRecord = tuple[int, int, int, int, str | None, str | None]


class LickRecord(msgspec.Struct, frozen=True):
    """Notes are [onset, string, fret, duration, technique, finger]; changes [onset, chord name]. ``arranged`` says that the notes are
    the service's own, out of a tune's melody or another lick."""

    name: str
    instrument: str
    tuning: str
    hand_style: str
    style: str
    meter: str
    key: str
    role: str | None
    level: int
    phrases: int
    ticks: int
    measures: list[int]
    changes: list[tuple[int, str]]
    notes: list[NoteRecord]
    text: str
    rights: Rights
    arranged: bool = False


class TempoRecord(msgspec.Struct, frozen=True):
    low: int
    high: int
    start: int
    unit: str


class SettingRecord(msgspec.Struct, frozen=True):
    instrument: str
    tuning: str | None = None
    position: str | None = None
    capo: int = 0
    stop: int | None = None


class RoleRecord(msgspec.Struct, frozen=True):
    part: str
    phrase: int
    role: str


class TuneRecord(msgspec.Struct, frozen=True):
    """``plain`` names the licks of the plain break: instrument, part, lick by phrase of the part."""

    name: str
    key: str
    meter: str
    tempo: TempoRecord
    chart: str
    order: str | None = None
    cuts: dict[str, list[int]] = {}
    roles: list[RoleRecord] = []
    melody: str | None = None
    settings: list[SettingRecord] = []
    plain: dict[str, dict[str, list[int]]] = {}
    rights: Rights = Rights(origin="traditional")


_SLUG = re.compile(r"[a-z][a-z0-9-]{0,39}")
encode = msgspec.json.Encoder().encode
_lick_decoder = msgspec.json.Decoder(LickRecord)
_tune_decoder = msgspec.json.Decoder(TuneRecord)
_setting_decoder = msgspec.json.Decoder(SettingRecord)


def check_slug(slug: str) -> str:
    """A short name that people type. Raises DomainError ``bad-slug``."""
    if not _SLUG.fullmatch(slug):
        raise DomainError("bad-slug", slug=slug)
    return slug


def lick_record(body: str) -> LickRecord:
    return _lick_decoder.decode(body)


def tune_record(body: str) -> TuneRecord:
    return _tune_decoder.decode(body)


def setting_record(body: str) -> SettingRecord:
    return _setting_decoder.decode(body)


def lick_of(record: LickRecord) -> Lick:
    instrument = instrument_named(record.instrument)
    return Lick(
        record.name,
        instrument,
        instrument.tuning(record.tuning),
        record.hand_style,
        record.style,
        meter_named(record.meter),
        key_named(record.key),
        record.ticks,
        tuple(Note(*note[:4], technique=note[4], finger=note[5]) for note in record.notes),
        tuple(Change(onset, chord_named(name)) for onset, name in record.changes),
        record.role,
        record.level,
        record.phrases,
        tuple(record.measures),
    )


def change_record(change: Change) -> tuple[int, str]:
    return (change.onset, "N.C." if change.chord is None else change.chord.name)


def note_record(note: Note) -> NoteRecord:
    return (note.onset, note.string, note.fret, note.duration, note.technique, note.finger)


def record_of_lick(
    lick: Lick, measures: Sequence[int], text: str, rights: Rights, *, arranged: bool = False
) -> LickRecord:
    """A lick as it is kept; ``measures`` are their lengths in ticks, ``text`` what it was read from."""
    return LickRecord(
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
        ticks=lick.ticks,
        measures=list(measures),
        changes=[change_record(change) for change in lick.changes],
        notes=[note_record(note) for note in lick.notes],
        text=text,
        rights=rights,
        arranged=arranged,
    )


def tune_of(slug: str, record: TuneRecord) -> Tune:
    """The tune a record describes. Raises DomainError or ReadingError, with places, if it is not one."""
    key, meter = key_named(record.key), meter_named(record.meter)
    chart = read_chart(record.chart, meter, key)
    order = read_order(record.order, dict(chart.sections)) if record.order else chart.order
    parts = tuple(
        Part(name, measures, tuple(record.cuts.get(name) or usual_cuts(len(measures))))
        for name, measures in chart.sections
    )
    known = [part.name for part in parts]
    faults = [
        Fault("no-such-cut-part", {"part": name, "known": ", ".join(known)}, path=f"cuts.{name}")
        for name in record.cuts
        if name not in known
    ]
    melody: tuple[tuple[str, tuple[MelodyNote, ...], tuple[int, ...]], ...] = ()
    if record.melody:
        melody = _melody(record.melody, key, meter, {part.name: len(part.measures) for part in parts})
    pickups = {-notes[0].onset for _, notes, _ in melody if notes[0].onset < 0}
    for name, _, lengths in melody:
        if name not in known:
            faults.append(Fault("melody-part", {"part": name, "known": ", ".join(known)}, path="melody"))
        else:
            expected = [measure.ticks for part in parts if part.name == name for measure in part.measures]
            faults.extend(_length_faults(name, lengths, expected, pickups))
    if faults:
        raise DomainError("bad-tune", at=faults, count=len(faults))
    tune = Tune(
        slug,
        record.name,
        key,
        meter,
        Tempo(record.tempo.low, record.tempo.high, record.tempo.start, record.tempo.unit),
        parts,
        order,
        tuple((name, notes) for name, notes, _ in melody),
        tuple(((role.part, role.phrase), role.role) for role in record.roles),
    )
    check_tune(tune)
    for setting in record.settings:
        setting_of(setting, tune)
    return tune


def with_cuts_that_fit(record: TuneRecord) -> TuneRecord:
    """The record without cuts and roles of parts that its chart has not, or not with as many measures. Raises as ``tune_of`` does."""
    chart = read_chart(record.chart, meter_named(record.meter), key_named(record.key))
    measures = {name: len(part) for name, part in chart.sections}
    cuts = {name: cut for name, cut in record.cuts.items() if sum(cut) == measures.get(name)}
    phrases_of = {
        name: len(cuts[name] if name in cuts else usual_cuts(count))
        for name, count in measures.items()
        if name in cuts or name not in record.cuts
    }
    roles = [role for role in record.roles if role.phrase <= phrases_of.get(role.part, 0)]
    return msgspec.structs.replace(record, cuts=cuts, roles=roles)


def in_plain_key(record: TuneRecord) -> TuneRecord:
    """A record whose key has a mode (``Ador``) as one in the minor or major key of its third, which is what chords are matched in: what
    the mode alters is written out in its melody. Raises as ``tune_of`` does."""
    modal = modal_key(record.key)
    if modal is None:
        return record
    key, signed = modal
    melody = record.melody
    if melody and signed.signature != key.signature:
        meter = meter_named(record.meter)
        chart = read_chart(record.chart, meter, key)
        read = _melody(melody, signed, meter, {name: len(part) for name, part in chart.sections})
        line = write_melody_line(read, key, meter) if is_melody_line(melody) else None
        melody = line or write_melody(read, key)
    return msgspec.structs.replace(record, key=key.name, melody=melody)


def _melody(
    text: str, key: Key, meter: Meter, measures: Mapping[str, int]
) -> tuple[tuple[str, tuple[MelodyNote, ...], tuple[int, ...]], ...]:
    """A melody in either form; with its repeats written out where a part of the chart has so many ``measures``."""
    if is_melody_line(text):
        return read_melody_line(text, key, meter).parts
    plain = read_melody(text, key, meter).parts
    if ":|" not in "".join("".join(line.text for line in sung_lines(text)).split()):
        return plain
    twice = {part[0]: part for part in read_melody(text, key, meter, repeated=True).parts}
    return tuple(
        twice[part[0]] if measures.get(part[0]) == len(twice[part[0]][2]) else part for part in plain
    )


def _length_faults(
    part: str, lengths: Sequence[int], expected: Sequence[int], pickups: Collection[int]
) -> list[Fault]:
    """A last measure that a pickup completes is as long as it may be."""
    faults = []
    if len(lengths) != len(expected):
        told: dict[str, object] = {"part": part, "measures": len(lengths), "expected": len(expected)}
        return [Fault("melody-measures", told, path="melody")]
    for number in range(max(len(lengths), len(expected))):
        found = lengths[number] if number < len(lengths) else 0
        wanted = expected[number] if number < len(expected) else 0
        if found != wanted and not (number == len(expected) - 1 and wanted - found in pickups):
            faults.append(
                Fault(
                    "melody-length",
                    {
                        "part": part,
                        "measure": number + 1,
                        "ticks": f"{found / EIGHTH:g}",
                        "expected": f"{wanted / EIGHTH:g}",
                    },
                    path="melody",
                    measure=number + 1,
                )
            )
    return faults


def setting_of(record: SettingRecord, tune: Tune) -> Setting:
    """The setting in the key of the tune. Raises DomainError if it does not sound there."""
    return make_setting(
        instrument_named(record.instrument),
        tuning=record.tuning,
        sounding=tune.key,
        position=record.position,
        capo=record.capo,
        stop=record.stop,
    )


def record_of(setting: Setting) -> SettingRecord:
    """A setting with everything written out."""
    return SettingRecord(
        setting.instrument.id, setting.tuning.id, setting.position.name, setting.capo, setting.stop
    )


@lru_cache(maxsize=256)
def kept_tune(tune_id: int, revision: int, slug: str, body: str) -> Tune:
    """The tune of a stored revision; a revision never changes, so it is kept."""
    return tune_of(slug, tune_record(body))


@lru_cache(maxsize=256)
def kept_form(tune_id: int, revision: int, slug: str, body: str) -> tuple[Phrase, ...]:
    """Its phrases in playing order, repeats written out."""
    return phrases(kept_tune(tune_id, revision, slug, body))


def choose_setting(record: TuneRecord, tune: Tune, instrument: str, tuning: str | None) -> Setting:
    """The tune's own setting for an instrument (and tuning, if asked), else the plainest one."""
    for setting in record.settings:
        if setting.instrument == instrument:
            made = setting_of(setting, tune)
            if tuning is None or made.tuning.id == tuning:
                return made
    return setting_of(SettingRecord(instrument, tuning), tune)
