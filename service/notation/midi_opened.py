"""Opens a MIDI file from anywhere: voices with their notes, and what the file says of tempo, meter, key and names.

In files of one track each channel is a voice, in others each track. The drums' channel is none. Ticks are the file's own.
"""

import io
from contextlib import suppress
from dataclasses import dataclass, field

import mido  # type: ignore[import-untyped]

from service.errors import Fault, ReadingError
from service.notation.clean import words
from service.notation.midi import DRUMS

MAX_KB = 300  # ours: a tune takes some 5 KB, an hour of a band 200
_MOST_HIGH = 6  # bytes with the high bit that are read one by one: a length has three, then come status and another length
_ONE_TRACK, _IN_SYNC = 0, 1  # types of file, published
_COUNTS_FRAMES = 0x8000  # the top bit of the division, published


@dataclass(frozen=True, slots=True)
class FileNote:
    """In ticks of the file."""

    onset: int
    end: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Voice:
    """``number`` counts voices with notes from 1."""

    number: int
    name: str
    notes: tuple[FileNote, ...]


@dataclass(slots=True)
class MidiContents:
    """``meters`` are (tick, beats, unit), ``tempo`` microseconds to the quarter; ``quarter`` is its ticks; ``end`` that of the file."""

    quarter: int
    voices: list[Voice] = field(default_factory=list)
    meters: list[tuple[int, int, int]] = field(default_factory=list)
    tempo: int | None = None
    key: str | None = None
    title: str = ""
    source: str = ""
    end: int = 0


class _Bytes(io.BytesIO):
    """Lets no number go on for ever: numbers of the format have four bytes at most, and the reader would take any more."""

    _high = 0

    def read(self, size: int | None = -1, /) -> bytes:
        data = super().read(size)
        self._high = self._high + 1 if len(data) == 1 and data[0] & 0x80 else 0
        if self._high > _MOST_HIGH:
            raise OSError
        return data


def midi_contents(data: bytes) -> MidiContents:
    """What is in the file. Raises ReadingError ``not-midi``, ``midi-without-beats``, ``tune-file-too-large``."""
    if len(data) > MAX_KB * 1000:
        raise ReadingError([Fault("tune-file-too-large", {"most": MAX_KB})])
    try:
        # texts are taken byte by byte, for which charset they are in is found out one by one
        file = mido.MidiFile(file=_Bytes(data), charset="latin1")
    except (OSError, EOFError, ValueError, LookupError, TypeError, mido.KeySignatureError):
        raise ReadingError([Fault("not-midi")]) from None
    if not 0 < file.ticks_per_beat < _COUNTS_FRAMES or file.type not in (_ONE_TRACK, _IN_SYNC):
        raise ReadingError([Fault("midi-without-beats")])
    contents = MidiContents(file.ticks_per_beat)
    for index, track in enumerate(file.tracks):
        _read_track(contents, track, first=index == 0, by_channel=len(file.tracks) == 1)
    return contents


def _read_track(contents: MidiContents, track: mido.MidiTrack, *, first: bool, by_channel: bool) -> None:
    tick = 0
    name = ""
    notes: dict[int, list[FileNote]] = {}
    sounding: dict[tuple[int, int], int] = {}
    for message in track:
        tick += message.time
        if message.type in ("note_on", "note_off"):
            place = (message.channel, message.note)
            onset = sounding.pop(place, None)
            if onset is not None and tick > onset:
                voice = message.channel if by_channel else 0
                notes.setdefault(voice, []).append(FileNote(onset, tick, message.note))
            if message.type == "note_on" and message.velocity and message.channel != DRUMS:
                sounding[place] = tick
        elif message.type == "set_tempo" and contents.tempo is None:
            contents.tempo = message.tempo
        elif message.type == "time_signature":
            contents.meters.append((tick, message.numerator, message.denominator))
        elif message.type == "key_signature" and contents.key is None:
            contents.key = message.key
        elif message.type == "track_name" and not name:
            name = _text(message.name)
        elif message.type == "copyright" and not contents.source:
            contents.source = _text(message.text)
    if first:
        contents.title = name
    for channel in sorted(notes):
        number = len(contents.voices) + 1
        called = f"{name} {channel + 1}".strip() if by_channel and len(notes) > 1 else name
        contents.voices.append(Voice(number, called, tuple(sorted(notes[channel], key=lambda n: n.onset))))
    contents.end = max(contents.end, tick)


def _text(text: str) -> str:
    """Text of the file, in UTF-8 if it can be that, else in Latin 1, on one line."""
    raw = text.encode("latin1", "replace")
    with suppress(UnicodeDecodeError):
        text = raw.decode("utf-8")
    return words(text)
