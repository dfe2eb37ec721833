"""Writes a tune as a standard MIDI file, type 1, 480 ticks to the quarter: as it is played, repeats written out.

The first track conducts: title, where it is from, tempo, meters, key, parts as markers, chords as texts. The second is the melody.
The pickup of the first part has a measure of its own; others sound in the measure before, and what sounds there ends.
"""

import io

import mido  # type: ignore[import-untyped]

from service.music.harmony import Key
from service.music.meter import TICKS_PER_QUARTER
from service.music.scores import Beat
from service.music.tunes import MelodyNote
from service.notation.brought import MODES, Brought
from service.notation.midi import OFF, ON, Timed, key_name, meta, meter_sign, tempo_of, track_of

MELODY = "melody"
_LOUD = 90  # ours
_RELATIVE = 3  # fifths between a minor key and the major key of its signature


def write_tune_midi(brought: Brought) -> bytes:
    """The file. Raises DomainError ``no-time-signature`` for a measure that no meter fits."""
    parts = {part.name: part for part in brought.parts}
    played = [parts[name] for name in brought.order]
    slot = brought.meter.slot_ticks
    before_bar = -min((note.onset for note in played[0].melody), default=0)
    at = pickup = max(0, -(-before_bar // slot) * slot)
    conducted = [meta(0, "track_name", name=brought.name)]
    if brought.source:
        conducted.append(meta(0, "text", text=brought.source))
    if brought.tempo is not None:
        conducted.append(meta(0, "set_tempo", tempo=tempo_of(Beat(*brought.tempo))))
    conducted.append(meta(0, "key_signature", key=_signature(brought)))
    lengths = [pickup] if pickup else []
    notes: list[MelodyNote] = []
    for part in played:
        conducted.append(meta(at, "marker", text=part.name))
        for change in part.changes:
            name = "N.C." if change.chord is None else change.chord.name
            conducted.append(meta(at + change.onset, "text", text=name))
        if part.melody:
            notes = _until(notes, at + min(0, part.melody[0].onset))
        notes.extend(MelodyNote(at + note.onset, note.duration, note.pitch) for note in part.melody)
        lengths.extend(part.measures)
        at += sum(part.measures)
    tick, before = 0, 0
    for length in lengths:
        if length != before:
            conducted.append(meter_sign(tick, length, brought.meter))
        tick, before = tick + length, length
    timed = [meta(0, "track_name", name=MELODY)]
    for note in _until(notes, at):
        sounds = {"channel": 0, "note": note.pitch}
        timed.append(Timed(note.onset, ON, mido.Message("note_on", velocity=_LOUD, **sounds)))
        timed.append(Timed(note.onset + note.duration, OFF, mido.Message("note_off", velocity=0, **sounds)))
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    file.tracks.extend(track_of(track, at) for track in (conducted, timed))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _until(notes: list[MelodyNote], tick: int) -> list[MelodyNote]:
    """What sounds before a tick."""
    return [
        MelodyNote(note.onset, min(note.duration, tick - note.onset), note.pitch)
        for note in notes
        if note.onset < tick
    ]


def _signature(brought: Brought) -> str:
    """The signature of the mode, under the name of the major or minor key that has it: files know no other modes."""
    relative = _RELATIVE if brought.key.mode == "minor" else 0
    return key_name(Key(brought.key.tonic - MODES[brought.mode][0] + relative, brought.key.mode))
