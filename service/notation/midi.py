"""A score as a standard MIDI file, type 1, 480 ticks to the quarter.

The first track conducts: title, tempo, meters (a pickup and crooked measures have their own), key, sections and phrases as
markers, chords as texts, all as they sound. The second is the lead, each string on a channel of its own (string 1 on the
first), so that strings can be bent apart and a reader knows where a note lies: its fret is its pitch less the open string's,
which a text at the beginning gives by channel. Every further part has a track and one channel. Channel 10, the drums', is free.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

import mido  # type: ignore[import-untyped]

from service.music.harmony import Key
from service.music.licks import Note
from service.music.meter import TICKS_PER_QUARTER, Meter
from service.music.passages import Passage
from service.music.pitch import tone_name
from service.music.rhythm import written_pickup
from service.music.scores import Beat, Score
from service.notation.linked import CHOKE_SEMITONES, sources
from service.notation.programs import program_of
from service.notation.spelling import signature_of, sounding_chord, written_key
from service.notation.unrolled import Played, played, played_notes

DRUMS = 9  # from 0: percussion, published (General MIDI)
CHANNELS = 16
SLOWEST_QUARTER = 0xFFFFFF  # microseconds: a tempo has three bytes, published
_CLOCKS_PER_QUARTER = 24  # published
_BEND_RANGE = 2  # semitones either way; the usual one, set all the same
_BEND_FULL = 8192  # of the wheel, published
_BEND_STEPS = 6  # ours: fine enough not to be heard as steps
_BEND_TICKS = 120  # ours: a choke or slide takes a sixteenth, or half the note if that is shorter
_FROM_BELOW = 1  # semitones: where a slide from nowhere begins, ours
_LONGEST_MUTE = 60  # ticks, ours: a muted string is a click
# Loudness, ours: by ear, so that beats are felt and the tune stands out.
_SOFTEST, _BY_WEIGHT, _TUNE = 72, 26, 14
_BEHIND = 0.8  # of the loudness: what plays behind the lead, ours
_QUIETER = {"ghost": 0.5, "mute": 0.55, "hammer-on": 0.9, "pull-off": 0.85, "slide": 0.9}
# What comes first at one tick: a note ends before the next begins, the wheel is set before the note it is for.
OFF, WHEEL, ON = range(3)


@dataclass(frozen=True, slots=True)
class Timed:
    """A message, its tick in the file, and its turn among those of one tick."""

    tick: int
    turn: int
    message: mido.Message | mido.MetaMessage


@dataclass(frozen=True, slots=True)
class _Sounded:
    """A note with its ties joined; ``loud`` is its velocity, ``into`` the fret that it slides to at its end."""

    note: Note
    end: int
    loud: int
    into: int | None = None
    from_nowhere: bool = False


def write_midi(score: Score, parts: Sequence[tuple[str, Passage]] = (), *, rounds: int = 1) -> bytes:
    """The file; ``parts`` are further players, each a name and what they play, on the measures of the score.

    ``rounds`` is how often the whole is played, from 1. Repeats are written out. The pickup stands in a measure of its own at the
    beginning; ticks of the file count from there. Raises DomainError ``no-time-signature`` for a measure that no meter fits.
    """
    passages = [
        score.passage,
        *(replace(passage, measures=score.passage.measures) for _, passage in parts),
    ]
    names = [score.passage.instrument.name, *(name for name, _ in parts)]
    pickup = max(written_pickup(passage) for passage in passages)
    measures = played(score.passage, score.repeats, rounds)
    end = pickup + measures[-1].onset + measures[-1].ticks
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    file.tracks.append(track_of(_conducted(score, measures, pickup), end))
    strings = score.passage.instrument.strings
    spare = [channel for channel in range(strings, CHANNELS) if channel != DRUMS]
    for number, (name, passage) in enumerate(zip(names, passages, strict=True)):
        shared = spare[(number - 1) % len(spare)]
        channels = tuple(range(strings)) if number == 0 else (shared,) * passage.instrument.strings
        melody = score.melody if number == 0 else frozenset()
        sounded = _sounded(passage, measures, rounds, melody)
        if number:
            sounded = _on_one_channel(sounded, passage)
        timed = _opening(name, passage, channels)
        for one_note in sounded:
            timed.extend(_messages(one_note, passage, channels, pickup, end))
        file.tracks.append(track_of(timed, end))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def tempo_of(beat: Beat) -> int:
    """Microseconds to the quarter note, rounded to the nearest: half = 110 is 272,727."""
    minute = 60_000_000 * TICKS_PER_QUARTER
    ticks = beat.bpm * beat.ticks
    return min(SLOWEST_QUARTER, (2 * minute + ticks) // (2 * ticks))


def track_of(timed: Sequence[Timed], end: int) -> mido.MidiTrack:
    track = mido.MidiTrack()
    now = 0
    for one in sorted(timed, key=lambda one: (one.tick, one.turn)):
        track.append(one.message.copy(time=one.tick - now))
        now = one.tick
    track.append(mido.MetaMessage("end_of_track", time=end - now))
    return track


def _conducted(score: Score, measures: Sequence[Played], pickup: int) -> list[Timed]:
    passage, meter = score.passage, score.passage.meter
    timed = [meta(0, "track_name", name=score.title)]
    timed.extend(meta(0, "copyright", text=line) for line in score.credits)
    timed.append(meta(0, "set_tempo", tempo=tempo_of(score.beat)))
    timed.append(meta(0, "key_signature", key=key_name(score.sounding)))
    lengths = [(0, pickup)] if pickup else []
    lengths += [(pickup + measure.onset, measure.ticks) for measure in measures]
    before = None
    for tick, ticks in lengths:
        if ticks != before:
            timed.append(meter_sign(tick, ticks, meter))
        before = ticks
    marks = [(section.onset, "marker", section.name) for section in score.sections]
    marks += [(s.onset, "marker", s.label) for s in score.phrases if s.label and not s.rest]
    for change in passage.changes:
        chord = sounding_chord(change.chord, score)
        marks.append((change.onset, "text", "N.C." if chord is None else chord.name))
    starts = passage.starts
    for measure in measures:
        start = starts[measure.index]
        for onset, kind, text in marks:
            if start <= onset < start + measure.ticks:
                timed.append(meta(pickup + measure.onset + onset - start, kind, text=text))
    return timed


def meta(tick: int, kind: str, **given: object) -> Timed:
    return Timed(tick, OFF, mido.MetaMessage(kind, **given))


def meter_sign(tick: int, ticks: int, meter: Meter) -> Timed:
    beats, unit = signature_of(ticks, meter)
    clocks = _CLOCKS_PER_QUARTER * meter.beat_ticks // TICKS_PER_QUARTER
    return meta(tick, "time_signature", numerator=beats, denominator=unit, clocks_per_click=clocks)


def key_name(key: Key) -> str:
    written = written_key(key)
    return tone_name(written.tonic) + ("m" if written.mode == "minor" else "")


def _opening(name: str, passage: Passage, channels: Sequence[int]) -> list[Timed]:
    """Name, sound, and, where each string has its channel, the open strings by channel."""
    timed = [meta(0, "track_name", name=name), meta(0, "instrument_name", name=passage.instrument.name)]
    used = tuple(dict.fromkeys(channels))
    if len(used) > 1:
        board = passage.fretboard
        opens = ", ".join(
            f"{channel + 1}: {board.pitch(string, 0)}" for string, channel in enumerate(channels, 1)
        )
        timed.append(meta(0, "text", text=f"open strings by channel: {opens}"))
    for channel in used:
        timed.append(_channel(channel, "program_change", program=program_of(passage.instrument) - 1))
        # registered parameter 0 is the range of the wheel, published; 127, 127 closes it
        for control, value in ((101, 0), (100, 0), (6, _BEND_RANGE), (38, 0), (101, 127), (100, 127)):
            timed.append(_channel(channel, "control_change", control=control, value=value))
    return timed


def _channel(channel: int, kind: str, **given: int) -> Timed:
    return Timed(0, OFF, mido.Message(kind, channel=channel, **given))


def _sounded(
    passage: Passage, measures: Sequence[Played], rounds: int, melody: frozenset[int]
) -> list[_Sounded]:
    """What is heard, string by string: ties joined, each note silenced by the next on its string."""
    heard = played_notes(passage, measures, rounds)
    notes = [note for note, _ in heard]
    came_from = sources(notes, passage.meter)
    weights = _weights(passage)
    found: list[_Sounded] = []
    last: dict[int, int] = {}
    for note, onset in heard:
        before = last.get(note.string)
        source = came_from.get((note.onset, note.string))
        if before is not None:
            earlier = found[before]
            if note.technique == "tie" and source is not None and earlier.end >= note.onset:
                found[before] = replace(earlier, end=note.onset + note.duration)
                continue
            joined = note.technique == "slide" and source is not None and earlier.end >= note.onset
            found[before] = replace(
                earlier, end=min(earlier.end, note.onset), into=note.fret if joined else None
            )
        last[note.string] = len(found)
        loud = _SOFTEST + _BY_WEIGHT * weights.get(onset, 0.0) + _TUNE * (onset in melody)
        loud *= _QUIETER.get(note.technique or "", 1.0)
        lasts = min(note.duration, _LONGEST_MUTE) if note.technique == "mute" else note.duration
        found.append(
            _Sounded(
                note,
                note.onset + max(1, lasts),
                max(1, min(127, round(loud))),
                from_nowhere=note.technique == "slide" and source is None,
            )
        )
    return found


def _on_one_channel(sounded: Sequence[_Sounded], passage: Passage) -> list[_Sounded]:
    """Further parts, softer; a pitch that two strings share ends before it comes again, since their channel is one."""
    found: list[_Sounded] = []
    last: dict[int, int] = {}
    for one in sounded:
        pitch = passage.fretboard.pitch(one.note.string, one.note.fret)
        before = last.get(pitch)
        if before is not None:
            if found[before].note.onset == one.note.onset:
                continue
            found[before] = replace(found[before], end=min(found[before].end, one.note.onset))
        last[pitch] = len(found)
        found.append(replace(one, loud=max(1, round(one.loud * _BEHIND))))
    return found


def _weights(passage: Passage) -> dict[int, float]:
    """Metrical weight of each onset, counted in its own measure."""
    spans = list(zip(passage.starts, passage.measures, strict=True))
    weights: dict[int, float] = {}
    index = 0
    for note in passage.notes:
        while index + 1 < len(spans) and note.onset >= spans[index + 1][0]:
            index += 1
        start = spans[index][0] if note.onset >= 0 else 0
        weights[note.onset] = passage.meter.weight_at(note.onset - start)
    return weights


def _messages(
    sounded: _Sounded, passage: Passage, channels: Sequence[int], pickup: int, last: int
) -> list[Timed]:
    note, board = sounded.note, passage.fretboard
    channel = channels[note.string - 1]
    pitch = board.pitch(note.string, note.fret)
    start, end = pickup + note.onset, min(last, pickup + sounded.end)
    timed = [
        Timed(start, ON, mido.Message("note_on", channel=channel, note=pitch, velocity=sounded.loud)),
        Timed(end, OFF, mido.Message("note_off", channel=channel, note=pitch, velocity=0)),
    ]
    if len(set(channels)) == 1:  # a wheel would bend every string at once
        return timed
    takes = min(_BEND_TICKS, (end - start) // 2)
    if sounded.from_nowhere:
        timed += _bent(channel, start, start + takes, -_FROM_BELOW, 0)
    if note.technique == "choke":
        timed += _bent(channel, start, start + takes, 0, CHOKE_SEMITONES)
        timed.append(_wheel(channel, end, 0))
    elif sounded.into is not None:
        way = board.pitch(note.string, sounded.into) - pitch
        timed += _bent(channel, end - takes, end, 0, max(-_BEND_RANGE, min(_BEND_RANGE, way)))[:-1]
        timed.append(_wheel(channel, end, 0))
    return timed


def _bent(channel: int, start: int, end: int, low: float, high: float) -> list[Timed]:
    """The wheel from one place to another, in semitones."""
    return [
        _wheel(channel, start + (end - start) * step // _BEND_STEPS, low + (high - low) * step / _BEND_STEPS)
        for step in range(_BEND_STEPS + 1)
    ]


def _wheel(channel: int, tick: int, semitones: float) -> Timed:
    at = min(_BEND_FULL - 1, round(semitones / _BEND_RANGE * _BEND_FULL))
    return Timed(tick, WHEEL, mido.Message("pitchwheel", channel=channel, pitch=at))
