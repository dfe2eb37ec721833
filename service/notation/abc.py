"""Reads a melody written in the note letters of ABC notation (the open standard ABC 2.1).

The body of a tune in unit eighths: ``C``-``B`` the octave from middle C, ``c``-``b`` the one above, ``,``
and ``'`` octaves, ``^`` ``_`` ``=`` accidentals that last to the bar, lengths after the letter (``2``, ``3/2``,
``/``), ``z`` a rest, ``-`` a tie, ``|`` bars, ``A>B`` and ``A<B`` dotted pairs, ``(3ABc`` triplets; also ``F#``, ``e♭``, ``f♮``. Slurs
are left out. The key signature comes from the tune.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from service.errors import Fault, ReadingError
from service.music.harmony import Key
from service.music.meter import EIGHTH, Meter
from service.music.tunes import MelodyNote
from service.notation.clean import sung_lines
from service.notation.spelling import alteration, letter, spelled

_SECTION = re.compile(r"\s*([A-Za-z]\w{0,11})(?:\s*:(?!\|)|:(?=\|.*\S))")  # as in charts
_TOKEN = re.compile(
    r"(?P<tuplet>\(3)|(?P<space>(?:[\s:\])]|\((?!3))+)|(?P<bar>\|+)|(?P<broken>>{1,3}|<{1,3})|(?P<accidental>\^\^?|__?|=)?(?P<letter>[A-Ga-gz])(?P<after>##?|♭♭?|♮)?"
    r"(?P<octave>[,']*)(?P<up>\d{0,2})(?P<slash>/+)?(?P<down>\d{0,2})(?P<tie>-*)"
)
_SHARP_ORDER = "FCGDAEB"
_BASE = {"C": 60, "D": 62, "E": 64, "F": 65, "G": 67, "A": 69, "B": 71}
ALTERATIONS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
TRIPLET = Fraction(2, 3)  # three in the time of two
AFTER = {"#": "^", "##": "^^", "♭": "_", "♭♭": "__", "♮": "="}  # signs behind a letter, as they are said
_SIGNS = {altered: sign for sign, altered in ALTERATIONS.items()}


@dataclass(frozen=True, slots=True)
class Melody:
    """Notes by part name; onsets in ticks from the part's first bar line; the length of each measure."""

    parts: tuple[tuple[str, tuple[MelodyNote, ...], tuple[int, ...]], ...]


def read_melody(text: str, key: Key, meter: Meter, *, repeated: bool = False) -> Melody:
    """Read part by part (``A: D2 G2 | ...``). Raises ReadingError with a fault for each place.

    Every measure must be as long as the meter says, or be part of a chart that says otherwise: lengths
    are given back for the caller to compare. What stands before a part's first bar line, if it is shorter than a measure, is a
    pickup: its onsets are negative. A part that begins with a bar line has none. With ``repeated`` what stands before ``:|`` is written
    out twice, from ``|:`` or the part's beginning on; else repeat signs are bar lines.
    """
    signature = altered_letters(key.signature)
    faults: list[Fault] = []
    parts: dict[str, tuple[list[MelodyNote], list[int]]] = {}
    name = "A"
    accidentals: dict[int, int] = {}
    at = measure_start = 0
    tied = barred = False
    triplet = 0  # notes of one that are still to come
    dotted = Fraction(1)  # how much longer or shorter the next note is
    repeat_from = (0, 0)  # where what will be repeated begins: its onset, and measures before it

    def close() -> None:
        """The last measure of a part counts with or without a bar after it."""
        if at > measure_start:
            parts[name][1].append(at - measure_start)

    for line in sung_lines(text):
        section = _SECTION.match(line.text)
        index = 0
        if section:
            close()
            name, index = section[1][0].upper() + section[1][1:], section.end()
            at = measure_start = 0
            tied, accidentals, barred, repeat_from = False, {}, False, (0, 0)
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
                again = repeated and line.text[: match.start()].rstrip().endswith(":")
                if (
                    0 < at < meter.measure_ticks and not barred
                ):  # what stands before the first bar line is a pickup
                    notes[:] = [replace(note, onset=note.onset - at) for note in notes]
                    at = 0
                elif at > measure_start:
                    lengths.append(at - measure_start)
                if again:
                    whole = at - repeat_from[0]
                    notes += [
                        replace(n, onset=n.onset + whole) for n in notes if repeat_from[0] <= n.onset < at
                    ]
                    lengths += lengths[repeat_from[1] :]
                    at += whole
                if again or line.text[match.end() : match.end() + 1] == ":":
                    repeat_from = (at, len(lengths))
                measure_start, accidentals, barred = at, {}, True
                continue
            if match["tuplet"]:
                triplet = 3
                continue
            if match["broken"]:
                last = notes[-1] if notes else None
                if last is None or last.onset + last.duration != at or at == measure_start:
                    faults.append(line.fault("melody-mark", match.start(), mark=match["broken"]))
                    continue
                less = Fraction(1, 2 ** len(match["broken"]))
                before, dotted = (2 - less, less) if match["broken"][0] == ">" else (less, 2 - less)
                notes[-1] = replace(last, duration=int(last.duration * before))
                at = last.onset + notes[-1].duration
                continue
            if not match["letter"]:
                continue
            duration = int(_length(match) * dotted * (TRIPLET if triplet else 1))
            triplet, dotted = max(0, triplet - 1), Fraction(1)
            if match["letter"] == "z" and match["after"]:
                faults.append(line.fault("melody-mark", match.start("after"), mark=match["after"]))
            if match["letter"] == "z":
                at, tied = at + duration, False
                continue
            if match["after"] and match["accidental"]:
                faults.append(line.fault("melody-two-signs", match.start(), note=match.group()))
                continue
            pitch = pitch_of(match, signature, accidentals, AFTER.get(match["after"]))
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


def _length(match: re.Match[str]) -> int:
    up = int(match["up"] or 1)
    down = int(match["down"] or 2 ** len(match["slash"] or "")) if match["slash"] else 1
    return EIGHTH * up // max(1, down)


def altered_letters(signature: int) -> dict[str, int]:
    """What a key signature of so many sharps (flats: negative) does to each letter, in semitones; naturals are left out."""
    altered = {letter: (signature + 6 - place) // 7 for place, letter in enumerate(_SHARP_ORDER)}
    return {letter: by for letter, by in altered.items() if by}


def natural_pitch(letter: str, octave: str) -> int:
    """MIDI pitch of a note letter with its commas and apostrophes, before any accidental."""
    return _BASE[letter.upper()] + 12 * (octave.count("'") - octave.count(",") + letter.islower())


def pitch_of(
    match: re.Match[str], signature: Mapping[str, int], accidentals: dict[int, int], after: str | None = None
) -> int:
    """MIDI pitch of a match with ``accidental``, ``letter`` and ``octave``; ``after`` is an accidental that stood behind the letter.

    ``accidentals`` keeps, by natural pitch, those written since the bar: they hold for the same letter and octave.
    """
    natural = natural_pitch(match["letter"], match["octave"])
    if sign := match["accidental"] or after:
        accidentals[natural] = ALTERATIONS[sign]
    return natural + accidentals.get(natural, signature.get(match["letter"].upper(), 0))


def written_pitch(pitch: int, place: int, signature: Mapping[str, int], held: dict[str, int]) -> str:
    """A pitch spelled as ``place`` on the line of fifths: its letter with its octave, and an accidental where what holds there
    since the bar (``held``) or by the key is another."""
    name, altered = letter(place), alteration(place)
    octave = (pitch - altered - _BASE["C"]) // 12
    text = name + "," * -octave if octave <= 0 else name.lower() + "'" * (octave - 1)
    if held.get(text, signature.get(name, 0)) == altered:
        return text
    held[text] = altered
    return _SIGNS[altered] + text


def written_length(units: Fraction) -> str:
    """A length in unit notes: nothing for one, ``2``, ``3/2``, ``/2``."""
    up = "" if units.numerator == 1 else str(units.numerator)
    down = "" if units.denominator == 1 else f"/{units.denominator}"
    return up + down


def write_melody(parts: Sequence[tuple[str, Sequence[MelodyNote], Sequence[int]]], key: Key) -> str:
    """A melody as text that reads back to the same: by part its name, notes in their order (a pickup has negative onsets), and the
    length of each measure in ticks. Rests are written out; a note held over a bar line is tied."""
    return "\n".join(f"{name}: {_part(notes, lengths, key)}" for name, notes, lengths in parts) + "\n"


def _part(notes: Sequence[MelodyNote], lengths: Sequence[int], key: Key) -> str:
    first = min((note.onset for note in notes), default=0)
    bars = [min(first, 0), 0] if first < 0 else [0]
    for length in lengths:
        bars.append(bars[-1] + length)
    measures = [_measure(notes, start, end, key) for start, end in pairwise(bars)]
    if first < 0:
        return f"{measures[0]} | " + " | ".join(measures[1:]) + " |"
    return "| " + " | ".join(measures) + " |"


def _measure(notes: Sequence[MelodyNote], start: int, end: int, key: Key) -> str:
    held: dict[str, int] = {}
    signature = altered_letters(key.signature)
    words, at = [], start
    for number, note in enumerate(notes):
        stops = note.onset + note.duration
        if number + 1 < len(notes):
            stops = min(stops, notes[number + 1].onset)
        begun, until = max(note.onset, start), min(stops, end)
        if begun >= until:
            continue
        if begun > at:
            words.append("z" + _eighths(begun - at))
        tie = "-" if stops > end else ""
        pitch = written_pitch(note.pitch, spelled(note.pitch, key, None), signature, held)
        words.append(pitch + _eighths(until - begun) + tie)
        at = until
    if at < end:
        words.append("z" + _eighths(end - at))
    return " ".join(words)


def _eighths(ticks: int) -> str:
    return written_length(Fraction(ticks, EIGHTH))
