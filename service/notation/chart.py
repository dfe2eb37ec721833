"""Reads and writes chord charts: measures between bars, sections, and the order they are played in.

    A: | G | G | C . D . | G |
    B: | C | C | (1/2) G | D |
    order: A A B B

Chords in one measure share it evenly (in 9/8 by whole eighths: ``G . D``); ``.`` lets the one before go on, ``%`` repeats the
measure before.
``(1/2)`` before a measure's chords says that it lasts half a whole note. With a key, numbers stand for
chords (``1 4 5``, ``1-4-5-1``). ``|: ... :|`` plays its measures twice.

Chords may be in small letters: ``am``, ``d7``, ``bb`` (B flat), ``g/b``. What could then be read in two ways is a fault: ``b7``, which
is also the lowered seventh step, and ``d2`` and ``d4``, which are also notes. A last line without bars that names each part of a chart
with bars, as in ``A A B B``, is the order.
"""

import re
from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from service.errors import DomainError, Fault, ReadingError
from service.music.harmony import Chord, Key, chord_named
from service.music.licks import Change
from service.music.meter import TICKS_PER_WHOLE, Meter
from service.music.tunes import MAX_MEASURES, Measure
from service.notation.clean import Line, typed_lines
from service.notation.readings import MAX_TEXT

_SECTION = re.compile(
    r"\s*(?:\[\s*(?:part\s+)?([A-Za-z]\w{0,11})\s*\]|(?:part\s+)?([A-Za-z]\w{0,11})(?:\s*:(?!\|)|:(?=\|.*\S)))",
    re.I,
)  # a name close before :| is one if more follows; ``C :|`` is a measure that is played again
_ORDER = re.compile(r"\s*(?:order|form|play)\s*[:=]\s*(.*)$", re.I)
_LENGTH = re.compile(r"\((\d{1,3})/(1|2|4|8|16|32|64)\)$")
_WORD = re.compile(r"[^\s|]+")
_DASHED = re.compile(r"[#b]?[1-7][^\s-]*(?:-[#b]?[1-7][^\s-]*)+$")
_HOLDS = frozenset({".", "/", "-", "·"})
_SMALL = re.compile(r"([A-Ga-g])([#b]?)(?![#b])([^/]*|6/9)(?:/([A-Ga-g][#b]?))?")
_CHORD_OR_NOTE = re.compile(r"[a-g][#b]?[24]")  # what somebody may also type for a note and its length
_UNEVEN = {
    True: "G . . D",
    False: "G . D",
}  # a measure of two chords that are not equally long, by whether it has fours
_FLAT_STEP = re.compile(r"b[1-7]")


@dataclass(frozen=True, slots=True)
class Chart:
    """Sections by name, in the order they stand, and the order they are played in."""

    sections: tuple[tuple[str, tuple[Measure, ...]], ...]
    order: tuple[str, ...]


def read_chart(text: str, meter: Meter, key: Key | None = None) -> Chart:
    """Read a chart. Raises ReadingError with a fault for each place that cannot be read."""
    if len(text) > MAX_TEXT:
        raise ReadingError([Fault("text-too-long", {"most": MAX_TEXT}, line=1, column=1)])
    reader = _ChartReader(meter, key)
    *lines, last = [line for line in typed_lines(text) if line.text.strip()] or [Line(1, "", (), "")]
    for line in lines:
        reader.read(line)
    reader.read_last(last)
    return reader.finish()


def read_changes(text: str, meter: Meter, key: Key | None = None) -> tuple[tuple[Change, ...], int]:
    """Changes of one stretch (``| G | C D |``), and its length in ticks. Raises ReadingError."""
    chart = read_chart(text, meter, key)
    found: list[Change] = []
    at = 0
    for _, measures in chart.sections:
        for measure in measures:
            found.extend(Change(at + change.onset, change.chord) for change in measure.changes)
            at += measure.ticks
    kept: list[Change] = []
    for change in found:
        if not kept or kept[-1].chord != change.chord:
            kept.append(change)
    return tuple(kept), at


class _ChartReader:
    def __init__(self, meter: Meter, key: Key | None) -> None:
        self._meter = meter
        self._key = key
        self._sections: dict[str, list[Measure]] = {}
        self._current: str | None = None
        self._order: str | None = None
        self._barred = True  # whether there was a bar in each line with measures
        self._headed = False
        self._small = False  # whether a chord was in small letters
        self._flat_steps: list[Fault] = []  # words such as b7, which small letters make doubtful
        self._faults: list[Fault] = []
        self._repeat_from = 0
        self._last = Line(1, "", (), "")

    def read(self, line: Line) -> None:
        text = line.text
        self._last = line
        order = _ORDER.match(text)
        if order:
            self._order = order.group(1)
            return
        start = 0
        section = _SECTION.match(text)
        if section:
            self._headed = True
            self._begin(section.group(1) or section.group(2))
            start = section.end()
            if not text[start:].strip():
                return
        if self._current is None:
            self._begin("A")
        self._barred = self._barred and "|" in text
        dashed = _DASHED.match(text[start:].strip())
        if dashed and self._key is not None and "|" not in text:
            at = text.index(dashed.group(), start)
            for number in dashed.group().split("-"):
                self._measure(line, at, at + len(number))
                at += len(number) + 1
            return
        self._bars(line, start)

    def read_last(self, line: Line) -> None:
        """The last line may be the order, without a word that says so."""
        if self._headed and self._barred and self._order is None and self._names_parts(line.text):
            self._last, self._order = line, line.text
        else:
            self.read(line)

    def _names_parts(self, text: str) -> bool:
        """Whether nothing but the names of all parts stands here, more than one word or all their letters in one."""
        words = _order_words(text, self._sections)
        if not re.fullmatch(r"[\w\s,;.-]+", text) or len(words) < 2:
            return False
        return {word.casefold() for word in words} == {name.casefold() for name in self._sections}

    def _begin(self, name: str) -> None:
        name = name.upper() if len(name) == 1 else name
        self._current = name
        self._repeat_from = 0
        self._sections.setdefault(name, [])

    def _bars(self, line: Line, start: int) -> None:
        text = line.text
        at, before = start, ""
        for bar in [*re.finditer(r":?\|+:?\]?", text[start:]), None]:
            left = len(text) if bar is None else start + bar.start()
            if text[at:left].strip():
                self._measure(line, at, left)
            if bar is None:
                return
            if left > at and not text[at:left].strip() and before == bar.group() == "|":
                self._fault("chart-empty-measure", line, at)
            before = bar.group()
            measures = self._sections[self._current or "A"]
            if bar.group().startswith(":"):
                measures.extend(measures[self._repeat_from :])
                self._repeat_from = len(measures)
            if bar.group().endswith(":"):
                self._repeat_from = len(measures)
            at = start + bar.end()

    def _measure(self, line: Line, start: int, end: int) -> None:
        measures = self._sections[self._current or "A"]
        ticks = self._meter.measure_ticks
        words = _words(line.text, start, end)
        length = _LENGTH.match(words[0][0]) if words else None
        if length:
            share = Fraction(int(length.group(1)), int(length.group(2))) * TICKS_PER_WHOLE
            ticks, words = int(share), words[1:]
            if ticks > 4 * self._meter.measure_ticks or ticks % self._meter.slot_ticks or not ticks:
                self._fault("chart-length", line, start, length=length.group())
                return
        if not length and [word for word, _ in words] == ["%"]:
            if not measures:
                self._fault("chart-nothing-before", line, words[0][1])
                return
            measures.append(measures[-1])
            return
        if not words:
            self._fault("chart-empty-measure", line, start)
            return
        if not _even(ticks, len(words), self._meter):
            self._fault(
                "chart-uneven",
                line,
                words[0][1],
                chords=len(words),
                example=_UNEVEN[self._meter.slots % 8 == 0],
            )
            return
        changes: list[Change] = []
        for position, (word, index) in enumerate(words):
            if word in _HOLDS:
                if position == 0:
                    before = measures[-1].changes[-1].chord if measures else None
                    if not measures:
                        self._fault("chart-nothing-before", line, index)
                        return
                    changes.append(Change(0, before))
                continue
            changes.append(Change(position * (ticks // len(words)), self._chord(word, line, index)))
        measures.append(Measure(ticks, tuple(changes)))

    def _chord(self, word: str, line: Line, index: int) -> Chord | None:
        """The chord of a word; None, with a fault, for what is none."""
        capital = _capital(word)
        with suppress(DomainError):
            chord = chord_named(word, self._key)
            if _FLAT_STEP.match(word):
                self._flat_steps.append(line.fault("chart-two-ways", index, word=word, chord=capital or word))
            return chord
        with suppress(DomainError):
            chord = chord_named(capital or word, self._key)
            if not _CHORD_OR_NOTE.fullmatch(word):
                self._small = True
                return chord
            self._fault("chart-two-ways", line, index, word=word, chord=capital)
            return None
        self._fault("chart-chord", line, index, word=word)
        return None

    def _fault(self, code: str, line: Line, index: int, **params: object) -> None:
        self._faults.append(Fault(code, params, line.number, line.column(index), line.excerpt(index)))

    def finish(self) -> Chart:
        if self._small:
            self._faults += self._flat_steps
            self._faults.sort(key=lambda fault: (fault.line or 0, fault.column or 0))
        sections = {name: measures for name, measures in self._sections.items() if measures}
        if not sections and not self._faults:
            self._fault("chart-empty", self._last, 0)
        order = _order_words(self._order, sections) if self._order is not None else list(sections)
        unknown = [name for name in order if name not in sections]
        if unknown and not self._faults:
            self._fault("chart-order", self._last, 0, part=unknown[0], known=", ".join(sections))
        if sum(len(sections.get(name, ())) for name in order) > MAX_MEASURES:
            self._fault("too-many-measures", self._last, 0, most=MAX_MEASURES)
        if self._faults:
            raise ReadingError(self._faults)
        return Chart(tuple((name, tuple(measures)) for name, measures in sections.items()), tuple(order))


def read_order(text: str, parts: Collection[str] = ()) -> tuple[str, ...]:
    """``AABB`` or ``A A Bridge`` as part names; those of ``parts`` are known in small and big letters."""
    return tuple(_order_words(text, parts))


def _order_words(text: str, parts: Collection[str]) -> list[str]:
    words = re.findall(r"\w+", text)
    known = {part.casefold(): part for part in parts}
    if len(words) == 1 and words[0] not in parts and _run_together(words[0], parts):
        words = list(words[0])
    return [
        word if word in parts else known.get(word.casefold(), word.upper() if len(word) == 1 else word)
        for word in words
    ]


def _run_together(word: str, parts: Collection[str]) -> bool:
    """``AABB``; in small letters, where two could be a chord, three letters or more that all are parts."""
    if len(word) > 1 and word.isupper() and word.isalpha():
        return True
    return len(word) > 2 and set(word.upper()) <= set(parts)


def _words(text: str, start: int, end: int) -> list[tuple[str, int]]:
    """Words between bars with their places; holds that stand close together are one each."""
    found: list[tuple[str, int]] = []
    for match in _WORD.finditer(text, start, end):
        if _HOLDS.issuperset(match.group()):
            found += [(hold, match.start() + at) for at, hold in enumerate(match.group())]
        else:
            found.append((match.group(), match.start()))
    return found


def _capital(word: str) -> str | None:
    """The name of a chord in small letters as it is usually written; None for what cannot be one."""
    match = _SMALL.fullmatch(word)
    if match is None:
        return None
    letter, sign, quality, bass = match.groups()
    return letter.upper() + sign + quality + (f"/{bass[0].upper()}{bass[1:]}" if bass else "")


def write_chart(chart: Chart, meter: Meter) -> str:
    """The chart as text that reads back to the same measures."""
    lines = [f"{name}: {write_measures(measures, meter)}" for name, measures in chart.sections]
    return "\n".join([*lines, "order: " + " ".join(chart.order)]) + "\n"


def write_measures(measures: Sequence[Measure], meter: Meter) -> str:
    """``| G | C . D . |``."""
    return "| " + " | ".join(_measure_text(measure, meter) for measure in measures) + " |"


def _measure_text(measure: Measure, meter: Meter) -> str:
    names = {change.onset: _name(change.chord) for change in measure.changes}
    parts = measure.ticks // gcd(measure.ticks, *names)
    if not _even(measure.ticks, parts, meter):
        parts = measure.ticks // gcd(measure.ticks, meter.slot_ticks, *names)
    words = [names.get(n * measure.ticks // parts, ".") for n in range(parts)]
    if measure.ticks != meter.measure_ticks:
        share = Fraction(measure.ticks, TICKS_PER_WHOLE)
        words.insert(0, f"({share.numerator}/{share.denominator})")
    return " ".join(words)


def _even(ticks: int, chords: int, meter: Meter) -> bool:
    """Whether so many chords can share a measure. One of an odd number of slots has no middle that anybody would play."""
    share, over = divmod(ticks, chords)
    slot = meter.slot_ticks
    return not over and (not meter.slots % 2 or not share % slot or not slot % share)


def _name(chord: Chord | None) -> str:
    return "N.C." if chord is None else chord.name
