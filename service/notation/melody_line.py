"""The one-line form of a melody: for a thumb on a phone, in the spirit of the one-line form of licks.

    d2; g2 a b >c2 b a, c2 e2 c4, b2 g2 d2 b2, a4 a2 d2

    g        a note, one slot long (an eighth; a sixteenth in 2/4); big and small letters are alike
    g3 g--   three slots long
    .  .2    a rest
    ,        the measure is full, the next begins
    ;        the measure is short on purpose; the first one: it was a pickup
    ^f _b =f   a sharp, a flat, a natural, until the measure ends; also f#, b♭ and f♮, but a b behind a letter is a note
    >c <c    the c an octave above, below the nearest one
    tgab     three in the time of two
    A:       the name of a part, at the beginning of a line

A note lies as near to the one before as it can, within a fourth by letters; the first of a part between D above middle C and the
C above that. The key tells which letters are sharp or flat.
"""

import itertools
import re
from collections.abc import Sequence
from fractions import Fraction

from service.errors import Fault, ReadingError
from service.music.harmony import Key
from service.music.meter import Meter
from service.music.tunes import MelodyNote
from service.notation.abc import AFTER, ALTERATIONS, Melody, altered_letters
from service.notation.clean import Line, sung_lines
from service.notation.readings import MAX_TEXT
from service.notation.spelling import alteration, letter, spelled

_LETTERS = "CDEFGAB"
_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
FIRST_FROM = 36  # in letters from the lowest C of MIDI up: the D above middle C, from which on a part's first note lies
_SECTION = re.compile(r"\s*([A-Za-z]\w{0,11})\s*:")
_TOKEN = re.compile(
    r"(?P<space>\s+)|(?P<rest>\.)(?P<rest_slots>\d{0,2})|(?P<end>[,;])|(?P<hold>-)|(?P<three>t)"
    r"|(?P<octave>[<>]*)(?P<accidental>\^\^?|__?|=)?(?P<letter>[A-Ga-g])"
    r"(?P<after>##?|♭♭?|♮)?(?P<slots>\d{0,2})"
)
_SIGNS = {altered: sign for sign, altered in ALTERATIONS.items()}


def is_melody_line(text: str) -> bool:
    """A melody without bar lines is in this form."""
    return not any("|" in line.text for line in sung_lines(text))


def read_melody_line(text: str, key: Key, meter: Meter) -> Melody:
    """Raises ReadingError with a fault for each place."""
    if len(text) > MAX_TEXT:
        raise ReadingError([Fault("text-too-long", {"most": MAX_TEXT}, line=1, column=1)])
    reader = _Reader(key, meter)
    for line in sung_lines(text, quoted=False):
        reader.read(line)
    return reader.finish()


class _Reader:
    def __init__(self, key: Key, meter: Meter) -> None:
        self._signature, self._meter = altered_letters(key.signature), meter
        self._parts: dict[str, tuple[list[MelodyNote], list[int]]] = {}
        self._faults: list[Fault] = []
        self._begin("A")

    def _begin(self, name: str) -> None:
        self._name = name
        self._at = self._start = Fraction(0)
        self._place: int | None = None  # of the last note, in letters
        self._accidentals: dict[int, int] = {}
        self._threes = 0
        self._closed = 0
        self._holds = False  # whether the last thing was a note that may be held on

    def read(self, line: Line) -> None:
        section = _SECTION.match(line.text)
        index = 0
        if section:
            self._close()
            self._begin(section[1][0].upper() + section[1][1:])
            index = section.end()
        while index < len(line.text):
            match = _TOKEN.match(line.text, index)
            if match is None:
                self._faults.append(line.fault("melody-line-mark", index, mark=line.text[index]))
                index += 1
                continue
            self._take(match, line, index)
            index = match.end()

    def _take(self, match: re.Match[str], line: Line, index: int) -> None:
        notes, _ = self._parts.setdefault(self._name, ([], []))
        if match["accidental"] and match["after"]:
            self._faults.append(line.fault("melody-two-signs", index, note=match.group()))
        elif match["letter"]:
            pitch, length = self._pitch(match), self._slots(match["slots"])
            onset, stops = self._ticks(self._at), self._ticks(self._at + length)
            if not 0 <= pitch <= 127 or stops <= onset:
                self._faults.append(line.fault("melody-line-note", index, note=match.group()))
                return
            notes.append(MelodyNote(onset, stops - onset, pitch))
            self._at, self._holds = self._at + length, True
        elif match["hold"]:
            if not self._holds:
                self._faults.append(line.fault("melody-line-hold", index))
                return
            self._at += 1
            last = notes.pop()
            notes.append(MelodyNote(last.onset, self._ticks(self._at) - last.onset, last.pitch))
        elif match["rest"]:
            self._at, self._holds = self._at + self._slots(match["rest_slots"]), False
        elif match["three"]:
            self._threes = 3
        elif match["end"]:
            self._measure(match["end"] == ";", line, index)

    def _slots(self, digits: str) -> Fraction:
        length = Fraction(int(digits or 1))
        if self._threes:
            self._threes -= 1
            length = length * 2 / 3
        return length

    def _ticks(self, at: Fraction) -> int:
        return int(at * self._meter.slot_ticks)

    def _pitch(self, match: re.Match[str]) -> int:
        """MIDI pitch of a note, and its place kept for the next one."""
        name = match["letter"].upper()
        step = _LETTERS.index(name)
        if self._place is None:
            place = FIRST_FROM + (step - FIRST_FROM) % 7
        else:
            place = self._place + (step - self._place + 3) % 7 - 3
        place += 7 * (match["octave"].count(">") - match["octave"].count("<"))
        self._place = place
        if sign := match["accidental"] or AFTER.get(match["after"]):
            self._accidentals[place] = ALTERATIONS[sign]
        altered = self._accidentals.get(place, self._signature.get(name, 0))
        return 12 * (place // 7) + _SEMITONES[step] + altered

    def _measure(self, short: bool, line: Line, index: int) -> None:
        notes, lengths = self._parts[self._name]
        length = self._at - self._start
        full = Fraction(self._meter.slots)
        self._threes, self._accidentals, self._holds = 0, {}, self._holds and length == full
        if short and self._closed == 0 and length < full:
            back = self._ticks(length)
            notes[:] = [MelodyNote(note.onset - back, note.duration, note.pitch) for note in notes]
            self._at = Fraction(0)
        elif short or length == full:
            lengths.append(self._ticks(length))
        else:
            measure = len(lengths) + 1
            full_slots = self._meter.slots
            self._faults.append(
                line.fault(
                    "melody-line-length", index, measure=measure, slots=_plain(length), expected=full_slots
                )
            )
            lengths.append(self._ticks(full))
        self._start = self._at
        self._closed += 1

    def _close(self) -> None:
        """The last measure counts with or without a comma after it."""
        if self._at > self._start and self._name in self._parts:
            self._parts[self._name][1].append(self._ticks(self._at - self._start))
            self._start = self._at

    def finish(self) -> Melody:
        self._close()
        if self._faults:
            raise ReadingError(self._faults)
        return Melody(
            tuple(
                (name, tuple(notes), tuple(lengths))
                for name, (notes, lengths) in self._parts.items()
                if notes
            )
        )


def _plain(slots: Fraction) -> str:
    return str(int(slots)) if slots.denominator == 1 else f"{float(slots):.2f}"


def write_melody_line(
    parts: Sequence[tuple[str, Sequence[MelodyNote], Sequence[int]]], key: Key, meter: Meter
) -> str | None:
    """A melody in this form, which reads back to the same; None where a rhythm is finer than slots."""
    lines = []
    for name, notes, lengths in parts:
        line = _written(notes, lengths, key, meter)
        if line is None:
            return None
        lines.append(f"{name}: {line}")
    return "\n".join(lines) + "\n"


def _written(notes: Sequence[MelodyNote], lengths: Sequence[int], key: Key, meter: Meter) -> str | None:
    step = meter.slot_ticks
    if any(tick % step for note in notes for tick in (note.onset, note.duration)) or any(
        t % step for t in lengths
    ):
        return None
    begun = {note.onset: note for note in notes}
    first = min(min(begun, default=0), 0)
    bars = [first, 0] if first < 0 else [0]
    for length in lengths:
        bars.append(bars[-1] + length)
    words: list[str] = []
    place: int | None = None
    for start, end in itertools.pairwise(bars):
        held: dict[int, int] = {}
        at = start
        while at < end:
            note = begun.get(at)
            stops = min((onset for onset in begun if onset > at), default=bars[-1])
            if note is None:
                until = min(stops, end)
                words.append("." + _count((until - at) // step))
            else:
                until = min(note.onset + note.duration, stops)
                word, place = _note(note.pitch, place, key, held)
                words.append(word + _count((min(until, end) - at) // step))
                if until > end:
                    return None  # held over a bar line: this form has no tie
            at = min(until, end)
        whole = end - start == meter.measure_ticks
        last = end == bars[-1]
        words.append("" if last and whole else "," if whole else ";")
    return re.sub(r" (?=[,;])", "", " ".join(filter(None, words)))


def _count(slots: int) -> str:
    return "" if slots == 1 else str(slots)


def _note(pitch: int, before: int | None, key: Key, held: dict[int, int]) -> tuple[str, int]:
    spelling = spelled(pitch, key, None)
    name, altered = letter(spelling), alteration(spelling)
    step = _LETTERS.index(name)
    place = 7 * ((pitch - altered) // 12) + step
    nearest = FIRST_FROM + (step - FIRST_FROM) % 7 if before is None else before + (step - before + 3) % 7 - 3
    octaves = (place - nearest) // 7
    sign = ""
    if held.get(place, altered_letters(key.signature).get(name, 0)) != altered:
        held[place] = altered
        sign = _SIGNS[altered]
    return (">" * octaves if octaves > 0 else "<" * -octaves) + sign + name.lower(), place
