"""A tune out of a file: read, its chords proposed where it has none, told as what can be sent in as a tune of the group."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.errors import DomainError, Fault
from service.judge.naming import name_chords
from service.music.harmony import chord_named
from service.music.licks import Change
from service.music.tunes import Measure
from service.notation.abc import write_melody
from service.notation.abc_tunes import read_abc
from service.notation.brought import Brought, BroughtPart, BroughtTunes, NotRead
from service.notation.chart import Chart, write_chart
from service.notation.midi_tunes import read_midi
from service.notation.musicxml_opened import may_be_musicxml
from service.notation.musicxml_tunes import read_musicxml
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.records import TempoRecord

UNSURE = 0.6  # a chord named with less confidence has its second choice told; ours
# Where a tempo starts, lowest and highest, and what is counted, by meter, where a file says nothing: common practice of slow jams.
USUAL_TEMPI = {
    "2/2": TempoRecord(60, 130, 84, "half"),
    "4/4": TempoRecord(60, 130, 84, "half"),
    "2/4": TempoRecord(60, 130, 84, "quarter"),
    "3/4": TempoRecord(90, 150, 108, "quarter"),
    "6/8": TempoRecord(60, 130, 84, "dotted quarter"),
    "9/8": TempoRecord(60, 130, 84, "dotted quarter"),
    "12/8": TempoRecord(60, 130, 84, "dotted quarter"),
}


@dataclass(frozen=True, slots=True)
class Unsure:
    """A measure of a part (from 1) whose chord could well be another one."""

    part: str
    measure: int
    proposed: str
    other: str


@dataclass(frozen=True, slots=True)
class TuneProposal:
    """A tune as it can be sent in: ``chart`` and ``melody`` as text. ``proposed`` says that the chords were named from the melody."""

    name: str
    key: str
    mode: str
    meter: str
    tempo: TempoRecord
    chart: str
    melody: str
    source: str
    proposed: bool
    unsure: tuple[Unsure, ...]
    remarks: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class TunesRead:
    """Tunes of a file by their places in it, from 1, and those that cannot be read."""

    tunes: tuple[tuple[int, TuneProposal], ...]
    not_read: tuple[NotRead, ...]


async def read_tunes(
    house: House, caller: Caller, group_slug: str, body: bytes, track: int | None = None
) -> TunesRead:
    """The tunes in a file of ABC, MusicXML or MIDI, of which ``track`` asks for another track; nothing is kept.

    Raises ReadingError, DomainError ``no-tune-file``, ``no-tracks``.
    """
    reach_group(house, caller, group_slug, "read-group")
    return await asyncio.to_thread(_proposed, body, track)


def _proposed(body: bytes, track: int | None) -> TunesRead:
    brought = _read(body, track)
    proposals = zip(brought.places, map(proposal, brought.tunes), strict=True)
    return TunesRead(tuple(proposals), brought.not_read)


def _read(body: bytes, track: int | None) -> BroughtTunes:
    """By what it begins with."""
    if body.startswith(b"MThd"):
        return BroughtTunes((read_midi(body, track=track),))
    if track is not None:
        raise DomainError("no-tracks")
    if may_be_musicxml(body):
        return BroughtTunes((read_musicxml(body),))
    plain = body.removeprefix(b"\xef\xbb\xbf")
    try:
        text = plain.decode()
    except UnicodeDecodeError:
        text = plain.decode("latin-1")
    if "\x00" in text:
        raise DomainError("no-tune-file")
    return read_abc(text)


def proposal(brought: Brought) -> TuneProposal:
    """Chart and melody as text; where no chords are given, those that the melody asks for."""
    brought, uneven = _squared(brought)
    named = not all(part.changes for part in brought.parts)
    unsure: list[Unsure] = []
    sections = []
    for part in brought.parts:
        changes = part.changes or _named(part, brought, unsure)
        sections.append((part.name, _measures(part, changes)))
    melody = [(part.name, part.melody, part.measures) for part in brought.parts if part.melody]
    return TuneProposal(
        brought.name,
        brought.key.name,
        brought.mode,
        brought.meter.name,
        _tempo(brought),
        write_chart(Chart(tuple(sections), brought.order), brought.meter),
        write_melody(melody, brought.key) if melody else "",
        brought.source,
        named,
        tuple(unsure),
        (*brought.remarks, *uneven),
    )


def _squared(brought: Brought) -> tuple[Brought, list[Fault]]:
    """Measures are made of whole slots: one that is not, which is a slip in the file, is cut to the last whole one."""
    step = brought.meter.slot_ticks
    parts, remarks = [], []
    for part in brought.parts:
        lengths, notes, changes, at, gone = [], [], [], 0, 0
        notes += [note for note in part.melody if note.onset < 0]
        for number, ticks in enumerate(part.measures, 1):
            whole = max(step, ticks - ticks % step)
            if whole != ticks:
                remarks.append(Fault("measure-squared", {"part": part.name}, measure=number))
            notes += [
                replace(
                    n,
                    onset=n.onset - gone,
                    duration=min(n.duration, at + whole - n.onset) if whole != ticks else n.duration,
                )
                for n in part.melody
                if at <= n.onset < at + whole
            ]
            changes += [replace(c, onset=c.onset - gone) for c in part.changes if at <= c.onset < at + whole]
            lengths.append(whole)
            at, gone = at + ticks, gone + ticks - whole
        parts.append(BroughtPart(part.name, tuple(lengths), tuple(notes), tuple(changes)))
    return replace(brought, parts=tuple(parts)), remarks


def _tempo(brought: Brought) -> TempoRecord:
    usual = USUAL_TEMPI[brought.meter.name]
    if brought.tempo is None:
        return usual
    bpm, unit = brought.tempo
    low, high = (usual.low, usual.high) if unit == usual.unit else (bpm * 2 // 3, bpm * 3 // 2)
    return TempoRecord(max(1, min(low, bpm)), min(400, max(high, bpm)), bpm, unit)


def _named(part: BroughtPart, brought: Brought, unsure: list[Unsure]) -> tuple[Change, ...]:
    """A chord for each measure by what sounds in it; crooked measures are heard as far as a whole one goes."""
    whole = brought.meter.measure_ticks
    heard, at = [], 0
    for number, ticks in enumerate(part.measures):
        heard += [
            (number * whole + note.onset - at, min(note.duration, at + ticks - note.onset), note.pitch)
            for note in part.melody
            if at <= note.onset < at + min(ticks, whole)
        ]
        at += ticks
    names = name_chords(heard, brought.meter.name, brought.key.name, len(part.measures))
    found, at = [], 0
    for number, (ticks, ranked) in enumerate(zip(part.measures, names, strict=True), 1):
        found.append(Change(at, chord_named(ranked[0][0])))
        if ranked[0][1] < UNSURE and len(ranked) > 1:
            unsure.append(Unsure(part.name, number, ranked[0][0], ranked[1][0]))
        at += ticks
    return tuple(found)


def _measures(part: BroughtPart, changes: Sequence[Change]) -> tuple[Measure, ...]:
    """Changes shared out to their measures; one without any goes on with the chord before it, or with none."""
    found, at = [], 0
    sounding = changes[0].chord if changes else None  # before the first chord that is given it sounds already
    for ticks in part.measures:
        own = [
            replace(change, onset=change.onset - at) for change in changes if at <= change.onset < at + ticks
        ]
        if not own or own[0].onset:
            own.insert(0, Change(0, sounding))
        sounding = own[-1].chord
        found.append(Measure(ticks, tuple(own)))
        at += ticks
    return tuple(found)
