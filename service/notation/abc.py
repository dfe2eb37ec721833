"""Reads a melody written in the note letters of ABC notation (the open standard ABC 2.1).

The body of a tune in unit eighths: ``C``-``B`` the octave from middle C, ``c``-``b`` the one above, ``,``
and ``'`` octaves, ``^`` ``_`` ``=`` accidentals that last to the bar, lengths after the letter (``2``, ``3/2``,
``/``), ``z`` a rest, ``-`` a tie, ``|`` bars. The key signature comes from the tune.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from service.errors import Fault, ReadingError
from service.music.harmony import Key
from service.music.meter import EIGHTH, Meter
from service.music.tunes import MelodyNote
from service.notation.clean import clean_lines

_SECTION = re.compile(r"\s*([A-Z]\w{0,11})\s*:(?!\|)")
_TOKEN = re.compile(
    r"(?P<space>[\s:\]]+)|(?P<bar>\|+)|(?P<accidental>\^\^?|__?|=)?(?P<letter>[A-Ga-gz])(?P<octave>[,']*)"
    r"(?P<up>\d{0,2})(?P<slash>/+)?(?P<down>\d{0,2})(?P<tie>-?)"
)
_SHARP_ORDER = "FCGDAEB"
_BASE = {"C": 60, "D": 62, "E": 64, "F": 65, "G": 67, "A": 69, "B": 71}
_ALTERATIONS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}


@dataclass(frozen=True, slots=True)
class Melody:
    """Notes by part name; onsets in ticks from the part's first bar line; the length of each measure."""

    parts: tuple[tuple[str, tuple[MelodyNote, ...], tuple[int, ...]], ...]


def read_melody(text: str, key: Key, meter: Meter) -> Melody:
    """Read part by part (``A: D2 G2 | ...``). Raises ReadingError with a fault for each place.

    Every measure must be as long as the meter says, or be part of a chart that says otherwise: lengths
    are given back for the caller to compare. What stands before a part's first bar line, if it is shorter than a measure, is a
    pickup: its onsets are negative. A part that begins with a bar line has none.
    """
    signature = _signature(key)
    faults: list[Fault] = []
    parts: dict[str, tuple[list[MelodyNote], list[int]]] = {}
    name = "A"
    accidentals: dict[str, int] = {}
    at = measure_start = 0
    tied = barred = False

    def close() -> None:
        """The last measure of a part counts with or without a bar after it."""
        if at > measure_start:
            parts[name][1].append(at - measure_start)

    for line in clean_lines(text):
        section = _SECTION.match(line.text)
        index = 0
        if section:
            close()
            name, index = section.group(1), section.end()
            at = measure_start = 0
            tied, accidentals, barred = False, {}, False
        notes, lengths = parts.setdefault(name, ([], []))
        while index < len(line.text):
            match = _TOKEN.match(line.text, index)
            if match is None:
                wrong = re.split(r"[\s|]", line.text[index:], maxsplit=1)[0]
                faults.append(line.fault("melody-mark", index, mark=wrong[:20]))
                index += max(1, len(wrong))
                continue
            index = match.end()
            if match["bar"]:
                if (
                    0 < at < meter.measure_ticks and not barred
                ):  # what stands before the first bar line is a pickup
                    notes[:] = [replace(note, onset=note.onset - at) for note in notes]
                    at = 0
                elif at > measure_start:
                    lengths.append(at - measure_start)
                measure_start, accidentals, barred = at, {}, True
                continue
            if not match["letter"]:
                continue
            duration = _length(match)
            if match["letter"] == "z":
                at, tied = at + duration, False
                continue
            pitch = _pitch(match, signature, accidentals)
            if tied and notes and notes[-1].pitch == pitch:
                held = notes.pop()
                notes.append(MelodyNote(held.onset, held.duration + duration, pitch))
            else:
                notes.append(MelodyNote(at, duration, pitch))
            tied = bool(match["tie"])
            at += duration
    close()
    if faults:
        raise ReadingError(faults)
    return Melody(
        tuple((part, tuple(notes), tuple(lengths)) for part, (notes, lengths) in parts.items() if notes)
    )


def _signature(key: Key) -> dict[str, int]:
    count = key.signature
    letters = _SHARP_ORDER[:count] if count >= 0 else _SHARP_ORDER[count:]
    return dict.fromkeys(letters, 1 if count >= 0 else -1)


def _length(match: re.Match[str]) -> int:
    up = int(match["up"] or 1)
    down = int(match["down"] or 2 ** len(match["slash"] or "")) if match["slash"] else 1
    return EIGHTH * up // max(1, down)


def _pitch(match: re.Match[str], signature: dict[str, int], accidentals: dict[str, int]) -> int:
    letter = match["letter"]
    if match["accidental"]:
        accidentals[letter + match["octave"]] = _ALTERATIONS[match["accidental"]]
    altered = accidentals.get(letter + match["octave"], signature.get(letter.upper(), 0))
    octave = match["octave"].count("'") - match["octave"].count(",") + (1 if letter.islower() else 0)
    return _BASE[letter.upper()] + 12 * octave + altered


def write_melody(parts: Sequence[tuple[str, Sequence[MelodyNote], Sequence[int]]], key: Key) -> str:
    """A melody as text that reads back to the same: by part its name, notes in their order (a pickup has negative onsets), and the
    length of each measure in ticks. Rests are written out; a note held over a bar line is tied."""
    signature = _signature(key)
    return "\n".join(f"{name}: {_part(notes, lengths, signature)}" for name, notes, lengths in parts) + "\n"


def _part(notes: Sequence[MelodyNote], lengths: Sequence[int], signature: dict[str, int]) -> str:
    first = min((note.onset for note in notes), default=0)
    bars = [min(first, 0), 0] if first < 0 else [0]
    for length in lengths:
        bars.append(bars[-1] + length)
    measures = [_measure(notes, start, end, signature) for start, end in pairwise(bars)]
    if first < 0:
        return f"{measures[0]} | " + " | ".join(measures[1:]) + " |"
    return "| " + " | ".join(measures) + " |"


def _measure(notes: Sequence[MelodyNote], start: int, end: int, signature: dict[str, int]) -> str:
    accidentals: dict[str, int] = {}
    words, at = [], start
    for number, note in enumerate(notes):
        stops = note.onset + note.duration
        if number + 1 < len(notes):
            stops = min(stops, notes[number + 1].onset)
        begun, until = max(note.onset, start), min(stops, end)
        if begun >= until:
            continue
        if begun > at:
            words.append("z" + _written(begun - at))
        tie = "-" if stops > end else ""
        words.append(_letter(note.pitch, signature, accidentals) + _written(until - begun) + tie)
        at = until
    if at < end:
        words.append("z" + _written(end - at))
    return " ".join(words)


def _written(ticks: int) -> str:
    """A length in eighths, as ABC writes it: nothing, ``2``, ``3/2``, ``1/2``."""
    length = Fraction(ticks, EIGHTH)
    if length == 1:
        return ""
    return str(length.numerator) if length.denominator == 1 else f"{length.numerator}/{length.denominator}"


def _letter(pitch: int, signature: dict[str, int], accidentals: dict[str, int]) -> str:
    """A pitch as the letter that needs no accidental, or else a sharp (in keys of flats a flat)."""
    signs = (0, 1, -1) if sum(signature.values()) >= 0 else (0, -1, 1)
    options = []
    for letter, base in _BASE.items():
        for alteration in signs:
            octave, rest = divmod(pitch - base - alteration, 12)
            if rest:
                continue
            written = _octaved(letter, octave)
            held = accidentals.get(written, signature.get(letter, 0))
            options.append((held != alteration, signs.index(alteration), written, alteration))
    marked, _, written, alteration = min(options)
    if marked:
        accidentals[written] = alteration
        return _SIGNS[alteration] + written
    return written


def _octaved(letter: str, octave: int) -> str:
    return letter.lower() + "'" * (octave - 1) if octave > 0 else letter + "," * -octave


_SIGNS = {1: "^", -1: "_", 0: "="}
