"""A sound font of one looped sample, made here: what a general synthesiser needs to be a rival."""

import struct

import numpy as np

RATE = 44_100
_ROOT = 60  # MIDI number that the sample sounds at
_SECONDS = 1.5


def small_font() -> bytes:
    """SoundFont 2.01: one preset, one instrument, one sample (a decaying string, looped at its end)."""
    period = 169  # samples: near MIDI 60
    t = np.arange(round(_SECONDS * RATE))
    wave = sum(np.sin(2 * np.pi * n * t / period) * np.exp(-t * n / RATE) / n for n in range(1, 13))
    data = (wave / np.abs(wave).max() * 30_000).astype("<i2")
    end = len(data) // period * period
    samples = data[:end].tobytes() + bytes(46 * 2)
    info = _list(
        b"INFO",
        _chunk(b"ifil", struct.pack("<HH", 2, 1)),
        _chunk(b"isng", b"none\0\0"),
        _chunk(b"INAM", b"one\0"),
    )
    sound = _list(b"sdta", _chunk(b"smpl", samples))
    looped, sample_id, instrument = 54, 53, 41  # generators of the standard
    zones = struct.pack("<HH", looped, 1) + struct.pack("<HH", sample_id, 0) + struct.pack("<HH", 0, 0)
    header = struct.pack(
        "<20sIIIIIBbHH", b"one", 0, end, end - 8 * period, end - period, RATE, _ROOT, 0, 0, 1
    )
    last = struct.pack("<20sIIIIIBbHH", b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0)
    tables = _list(
        b"pdta",
        _chunk(b"phdr", struct.pack("<20sHHHIII", b"one", 0, 0, 0, 0, 0, 0) + struct.pack("<20sHHHIII", b"EOP", 0, 0, 1, 0, 0, 0)),
        _chunk(b"pbag", struct.pack("<HHHH", 0, 0, 1, 0)),
        _chunk(b"pmod", bytes(10)),
        _chunk(b"pgen", struct.pack("<HHHH", instrument, 0, 0, 0)),
        _chunk(b"inst", struct.pack("<20sH", b"one", 0) + struct.pack("<20sH", b"EOI", 1)),
        _chunk(b"ibag", struct.pack("<HHHH", 0, 0, 2, 0)),
        _chunk(b"imod", bytes(10)),
        _chunk(b"igen", zones),
        _chunk(b"shdr", header + last),
    )  # fmt: skip
    return _chunk(b"RIFF", b"sfbk" + info + sound + tables)


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)


def _list(kind: bytes, *chunks: bytes) -> bytes:
    return _chunk(b"LIST", kind + b"".join(chunks))
