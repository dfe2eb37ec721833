"""Sound as files: MP3, Ogg Vorbis, FLAC, WAV, each under a limit of bytes if there is one.

A file that would be too large is written at a lower quality that still sounds well; where that does not do, it is cut
into as many files of the best quality as are needed, where a round begins if possible, else at a bar line. Nothing
fails for its size.
"""

import io
import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import soundfile  # type: ignore[import-untyped]

from service.errors import DomainError
from service.sound.playing import Samples, Sound
from service.sound.strings import RATE

CHUNK = 65_536  # samples written at once: longer writes of Vorbis crash the library
LEAST_LIMIT_BYTES = 64 * 1024  # ours: less holds no second of anything
_HEAD_SECONDS = 0.012  # a cut lies this far before what begins there, so that no stroke is cut into
_FADE_SECONDS = 0.008
_MARGIN = 0.97  # of the limit that files are planned for; what they come to is looked at as well


@dataclass(frozen=True, slots=True)
class Quality:
    """``level`` is the library's compression level, 0 best; ``share`` what a file comes to against the first quality."""

    level: float | None
    share: float


@dataclass(frozen=True, slots=True)
class Kind:
    """``kib_a_minute`` of one channel at the first quality, and ``second`` the share that another channel adds."""

    suffix: str
    format: str
    subtype: str
    media_type: str
    qualities: tuple[Quality, ...]
    kib_a_minute: float
    second: float


# Sizes measured on play-alongs; they only choose what is tried first.
KINDS = {
    "mp3": Kind(
        ".mp3", "MP3", "MPEG_LAYER_III", "audio/mpeg",
        (Quality(0.5, 1.0), Quality(0.7, 0.8), Quality(0.9, 0.7)), 420, 0.4,
    ),
    "ogg": Kind(
        ".ogg", "OGG", "VORBIS", "audio/ogg",
        (Quality(0.6, 1.0), Quality(0.8, 0.8), Quality(1.0, 0.6)), 450, 0.5,
    ),
    "flac": Kind(".flac", "FLAC", "PCM_16", "audio/flac", (Quality(None, 1.0),), 2500, 0.6),
    "wav": Kind(".wav", "WAV", "PCM_16", "audio/wav", (Quality(None, 1.0),), 5168, 1.0),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SoundFile:
    """One file. ``start`` and ``stop`` are samples of the whole; ``rounds`` the first and the last that begin in it."""

    data: bytes
    suffix: str
    media_type: str
    start: int
    stop: int
    rounds: tuple[int, int]

    @property
    def seconds(self) -> float:
        return (self.stop - self.start) / RATE


def encoded(
    sound: Sound, kind: str = "mp3", limit_bytes: int | None = None, title: str = ""
) -> tuple[SoundFile, ...]:
    """All of ``files`` at once."""
    return tuple(files(sound, kind, limit_bytes, title))


def files(
    sound: Sound, kind: str = "mp3", limit_bytes: int | None = None, title: str = ""
) -> Iterator[SoundFile]:
    """The sound as one file, or as several in order, none larger than ``limit_bytes``; each is made when it is asked for. A
    ``title`` is what players show.

    Raises DomainError ``unknown-sound-file`` or ``limit-too-small``.
    """
    if kind not in KINDS:
        raise DomainError("unknown-sound-file", name=kind, known=", ".join(KINDS))
    if limit_bytes is not None and limit_bytes < LEAST_LIMIT_BYTES:
        raise DomainError("limit-too-small", kib=limit_bytes // 1024, least=LEAST_LIMIT_BYTES // 1024)
    yield from _under(sound, KINDS[kind], limit_bytes, 0, sound.length, title)


def _under(
    sound: Sound, kind: Kind, limit: int | None, start: int, stop: int, title: str
) -> Iterator[SoundFile]:
    """``start`` to ``stop`` in files under the limit: the best quality that goes in whole, else cut."""
    expected = _bytes_a_sample(kind, sound.channels) * (stop - start)
    for quality in kind.qualities:
        if limit is None or expected * quality.share <= limit * _MARGIN:
            data = _written(sound, kind, quality, start, stop, limit, title)
            if data is not None:
                yield SoundFile(data, kind.suffix, kind.media_type, start, stop, _rounds(sound, start, stop))
                return
    # what must be cut anyway is cut for the best quality; what was thought to go in and did not, in two
    length = stop - start
    most = round((limit or 1) * _MARGIN / expected * length)
    if most >= length:
        most = length // 2 + 1
    cuts = _cuts(sound, start, stop, most)
    for a, b in pairwise((start, *cuts, stop)):
        yield from _under(sound, kind, limit, a, b, title)


def _bytes_a_sample(kind: Kind, channels: int) -> float:
    return kind.kib_a_minute * 1024 / 60 / RATE * (1 + kind.second * (channels - 1))


def _cuts(sound: Sound, start: int, stop: int, most: int) -> list[int]:
    """Where to cut so that no piece is longer than ``most`` samples: at rounds, else at bar lines, else anywhere."""
    ahead = round(_HEAD_SECONDS * RATE)
    rounds = [mark.start - ahead for mark in sound.marks]
    bars = [bar - ahead for bar in sound.timeline.bars]
    found: list[int] = []
    at = start
    while stop - at > most:
        files = math.ceil((stop - at) / most)
        even = at + (stop - at) // files  # all about equally long
        least = at + most // 4
        for places in (rounds, bars):
            near = places[bisect_right(places, least) : bisect_right(places, at + most)]
            if near:
                at = min(near, key=lambda place: abs(place - even))
                break
        else:
            at = even
        found.append(at)
    return found


def _rounds(sound: Sound, start: int, stop: int) -> tuple[int, int]:
    """The first and the last round that is heard between two samples."""
    ahead = round(_HEAD_SECONDS * RATE)
    starts = [mark.start - ahead for mark in sound.marks]
    return max(1, bisect_right(starts, start)), max(1, bisect_left(starts, stop))


def _written(
    sound: Sound, kind: Kind, quality: Quality, start: int, stop: int, limit: int | None, title: str
) -> bytes | None:
    """The file, or None as soon as it is over the limit."""
    buffer = io.BytesIO()
    options: dict[str, object] = {} if quality.level is None else {"compression_level": quality.level}
    if kind.format == "MP3":
        options["bitrate_mode"] = "VARIABLE"
    with soundfile.SoundFile(
        buffer, "w", RATE, sound.channels, format=kind.format, subtype=kind.subtype, **options
    ) as file:
        if title:
            file.title = title
        for at, block in _faded(sound, start, stop):
            file.write(block)
            if limit is not None and buffer.tell() > limit and at < stop:
                break
    return None if limit is not None and len(buffer.getbuffer()) > limit else buffer.getvalue()


def _faded(sound: Sound, start: int, stop: int) -> Iterator[tuple[int, Samples]]:
    """(sample it begins at, block of at most CHUNK) in order, with short fades where the sound was cut."""
    fade = min(round(_FADE_SECONDS * RATE), (stop - start) // 2)
    ramp = np.linspace(0.0, 1.0, fade, dtype=np.float32)[:, None]
    at = start
    for block in sound.blocks(start, stop):
        for first in range(0, len(block), CHUNK):
            chunk = block[first : first + CHUNK]
            # a fade lies within the first and the last chunk, or across the last two
            if at < start + fade and start > 0:
                chunk = chunk.copy()
                chunk[: start + fade - at] *= ramp[at - start : at - start + len(chunk)]
            if at + len(chunk) > stop - fade and stop < sound.length:
                chunk = chunk.copy()
                low = max(0, stop - fade - at)
                chunk[low:] *= ramp[::-1][at + low - (stop - fade) : at + len(chunk) - (stop - fade)]
            yield at, chunk
            at += len(chunk)
