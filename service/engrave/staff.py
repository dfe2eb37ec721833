"""The tab staff of a system: strings, digits, bar lines, what the left hand does, and how long everything lasts."""

from collections.abc import Iterator

from service.engrave.bands import Bands
from service.engrave.letters import CAP_HEIGHT, symbol_width, time_digits, time_width, width_of
from service.engrave.looks import (
    BEAM,
    BEAM_STEP,
    DIGIT,
    LETTER,
    STEM,
    STRING_GAP,
    Look,
)
from service.engrave.paint import (
    ACCENT,
    END,
    INK,
    LINE,
    MIDDLE,
    SOFT,
    TINT,
    Box,
    Curve,
    Dot,
    Glyph,
    Line,
    Mark,
    Polygon,
    Text,
)
from service.engrave.spacing import Column, Placed, System
from service.music.licks import Note
from service.music.meter import Meter
from service.music.scores import Score

STEM_WIDTH = 1.1
THIN, THICK = 0.8, 2.6  # lines: staff and bars, the heavy bar at an end
ARC = 5.0  # how high an arc between two digits rises
SMALL = 7.0  # letters between digits
RISE = 9.0  # of the arrow of a choke
_LINK_LETTERS = {"hammer-on": "h", "pull-off": "p"}
_FLAGS = {1: "flag8thDown", 2: "flag16thDown", 3: "flag32ndDown"}
_FLAGGED = {"eighth": 1, "16th": 2, "32nd": 3}
_RESTS = {
    "whole": "restWhole", "half": "restHalf", "quarter": "restQuarter", "eighth": "rest8th", "16th": "rest16th",
    "32nd": "rest32nd",
}  # fmt: skip


def draw_staff(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    """Everything from the first string to the stems, back to front."""
    yield from _beats(score.passage.meter, system, at, look)
    yield from _strings(score, system, at, look)
    yield from _bars(score, system, at, look)
    if system.first:
        yield from _opening(score, system, at, look)
    drawn = _Digits(score, system, at, look)
    for placed in system.measures:
        for column in placed.columns:
            drawn.put(column)
    drawn.ties_over_the_end(system.measures[-1].columns[-1])
    yield from drawn.marks()
    for placed in system.measures:
        yield from _stems(placed, at, look)


def _beats(meter: Meter, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    """Every other beat lies on a tint, so that the count can be seen."""
    pad = look.of(BAR_TO_BEAT)
    for placed in system.measures:
        measure = placed.measure
        # a pickup's beats are counted back from the bar line
        phase = -measure.ticks % meter.measure_ticks if measure.number == 0 else 0
        for beat in range(1, -(-(phase + measure.ticks) // meter.beat_ticks), 2):
            start = beat * meter.beat_ticks - phase
            end = min(start + meter.beat_ticks, measure.ticks)
            if end <= max(0, start):
                continue
            left = placed.left if start <= 0 else placed.x_at(measure.onset + start) - pad
            right = placed.right if end >= measure.ticks else placed.x_at(measure.onset + end) - pad
            yield Box(left, at.top - look.of(2), right - left, at.bottom - at.top + look.of(4), TINT)


BAR_TO_BEAT = 7.5  # a beat's tint begins so far before its digit


def _strings(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    for string in range(score.passage.instrument.strings):
        y = at.top + string * look.of(STRING_GAP)
        yield Line(system.left, y, system.right, y, look.of(THIN), LINE)


def _bars(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    starts = {repeat.first for repeat in score.repeats}
    ends = {repeat.last for repeat in score.repeats}
    first = system.measures[0]
    if first.measure.number - 1 in starts:
        yield from _repeat_bar(first.left, at, look, begins=True)
    else:
        yield Line(first.left, at.top, first.left, at.bottom, look.of(THIN), SOFT)
    for placed in system.measures:
        index, x = placed.measure.number - 1, placed.right
        closes = score.closes and system.last and placed is system.measures[-1]
        if index in ends:
            yield from _repeat_bar(x, at, look, begins=False)
        elif index + 1 in starts and placed is not system.measures[-1]:
            yield from _repeat_bar(x, at, look, begins=True)
        elif closes:
            yield Line(x - look.of(THICK + 2), at.top, x - look.of(THICK + 2), at.bottom, look.of(THIN), SOFT)
            yield Line(x - look.of(THICK / 2), at.top, x - look.of(THICK / 2), at.bottom, look.of(THICK), INK)
        else:
            yield Line(x, at.top, x, at.bottom, look.of(THIN), SOFT)


def _repeat_bar(x: float, at: Bands, look: Look, *, begins: bool) -> Iterator[Mark]:
    way = 1 if begins else -1
    thick = x + way * look.of(THICK / 2)
    thin = x + way * look.of(THICK + 2)
    dots = thin + way * look.of(2.6)
    middle = (at.top + at.bottom) / 2
    yield Line(thick, at.top, thick, at.bottom, look.of(THICK), INK)
    yield Line(thin, at.top, thin, at.bottom, look.of(THIN), INK)
    for above in (-0.5, 0.5):
        yield Dot(dots, middle + above * look.of(STRING_GAP), look.of(1.5), INK)


def _opening(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    """The open strings by their letters, and the meter."""
    passage = score.passage
    strings = passage.instrument.strings
    space = look.of(STRING_GAP) * (strings - 1) / 4
    middle = (at.top + at.bottom) / 2
    meter = passage.meter.name
    wide = time_width(meter, space)
    x = system.left - look.of(3) - wide
    for number, shift in zip(meter.split("/"), (-1, 1), strict=True):
        symbols = time_digits(number)
        at_digit = x + (wide - sum(symbol_width(symbol, space) for symbol in symbols)) / 2
        for symbol in symbols:
            yield Glyph(at_digit, middle + shift * space, space, symbol, SOFT)
            at_digit += symbol_width(symbol, space)
    size = look.of(LETTER)
    for string, label in enumerate(passage.tuning.labels):
        y = at.top + string * look.of(STRING_GAP) + size * CAP_HEIGHT / 2
        yield Text(x - look.of(3), y, size, label, SOFT, END)


class _Digits:
    """Digits and what links them; arcs lie under digits, so both are kept until all are known."""

    def __init__(self, score: Score, system: System, at: Bands, look: Look) -> None:
        self._score, self._system, self._at, self._look = score, system, at, look
        self._last: dict[int, tuple[float, Note]] = {}
        self._under: list[Mark] = []
        self._digits: list[Mark] = []
        self._strong: list[Mark] = []
        self._quiet: list[Mark] = []
        self._letters: list[Mark] = []
        short = score.passage.instrument.short_string
        self._short = short[0] if short else None
        self._size = look.of(DIGIT)
        self._gap = look.of(STRING_GAP)
        self._down = self._size * CAP_HEIGHT / 2  # from the middle of a digit to the line it stands on

    def put(self, column: Column) -> None:
        value, look = column.value, self._look
        if value.rest:
            self._rest(column)
            return
        for note in value.notes:
            y = self._y(note.string)
            if note.string in value.tied_from:
                self._arc(note, column.x, y)
                if note.string not in self._last:
                    self._text(self._quiet, column.x, y, _shown(note), SOFT)
            else:
                if note.technique in ("hammer-on", "pull-off", "slide"):
                    self._link(note, column.x, y)
                along = note.string == self._short and note.fret == 0 and len(column.struck) > 1
                bold = note.onset in self._score.melody and note.technique is None and not along
                into = self._quiet if note.technique == "ghost" else self._strong if bold else self._digits
                self._text(into, column.x, y, _shown(note), SOFT if note.technique == "ghost" else INK)
                if note.technique == "choke":
                    self._choke(column.x + self._half(note), y)
            self._last[note.string] = (column.x, note)
        if value.dots and value.kind in ("whole",):
            self._under.append(Dot(column.x + look.of(9), self._at.rhythm + look.of(STEM), look.of(1.2)))

    def ties_over_the_end(self, column: Column) -> None:
        """Where the line's last notes go on in the next one."""
        for string in column.value.tied_to:
            before = self._last.get(string)
            if before is not None:
                look, y = self._look, self._y(string)
                top = y - self._down
                start = before[0] + self._half(before[1]) - look.of(1)
                self._under.append(
                    Curve(start, top, self._system.right - look.of(1), top, -look.of(ARC), look.of(0.9))
                )

    def _y(self, string: int) -> float:
        return self._at.top + (string - 1) * self._gap

    def _half(self, note: Note) -> float:
        return width_of(_shown(note), self._look.of(DIGIT)) / 2

    def _text(self, into: list[Mark], x: float, y: float, text: str, role: str) -> None:
        into.append(Text(x, y + self._down, self._size, text, role, MIDDLE, into is self._strong, True))

    def _arc(self, note: Note, x: float, y: float) -> None:
        """From the note before on the same string, or from the system's edge."""
        look, before = self._look, self._last.get(note.string)
        start = before[0] + self._half(before[1]) if before else self._system.left + look.of(1)
        end = x - (self._half(note) if note.technique is not None and before else look.of(2))
        top = y - look.of(DIGIT) * CAP_HEIGHT / 2
        self._under.append(Curve(start - look.of(1), top, end + look.of(1), top, -look.of(ARC), look.of(0.9)))

    def _link(self, note: Note, x: float, y: float) -> None:
        look, before = self._look, self._last.get(note.string)
        start = before[0] + self._half(before[1]) if before else x - look.of(12)
        end = x - self._half(note)
        if note.technique == "slide":
            lean = look.of(3) * (1 if before is None or before[1].fret <= note.fret else -1)
            gap = look.of(1.5)
            self._under.append(Line(start + gap, y + lean, end - gap, y - lean, look.of(1.3), INK))
            return
        self._arc(note, x, y)
        size = look.of(SMALL)
        letter = _LINK_LETTERS[str(note.technique)]
        self._letters.append(
            Text(
                (start + end) / 2,
                y + size * CAP_HEIGHT / 2 - look.of(0.5),
                size,
                letter,
                SOFT,
                MIDDLE,
                halo=True,
            )
        )

    def _choke(self, x: float, y: float) -> None:
        look = self._look
        tip, top = x + look.of(5), y - look.of(RISE)
        self._under.append(Curve(x + look.of(0.5), y, tip, top, 0.0, look.of(1.0)))
        self._under.append(
            Polygon(
                (
                    (tip - look.of(2), top + look.of(1.5)),
                    (tip + look.of(2), top + look.of(1.5)),
                    (tip, top - look.of(2.5)),
                )
            )
        )

    def _rest(self, column: Column) -> None:
        value, look = column.value, self._look
        space = look.of(6.5)
        name = _RESTS[value.kind]
        middle = (self._at.top + self._at.bottom) / 2
        hang = -space if value.kind == "whole" else 0.0
        x = column.x - symbol_width(name, space) / 2
        self._under.append(Glyph(x, middle + hang, space, name, SOFT))
        for dot in range(value.dots):
            reach = symbol_width(name, space) / 2 + look.of(3 + 3 * dot)
            self._under.append(Dot(column.x + reach, middle - space / 2, look.of(1.2), SOFT))

    def marks(self) -> Iterator[Mark]:
        yield from self._under
        yield from self._letters
        yield from self._digits
        yield from self._strong
        yield from self._quiet


def _shown(note: Note) -> str:
    if note.technique == "mute":
        return "x"
    return f"({note.fret})" if note.technique == "ghost" else str(note.fret)


def _stems(placed: Placed, at: Bands, look: Look) -> Iterator[Mark]:
    """Stems, beams, flags, dots and triplets below the strings."""
    top, end, width = at.rhythm, at.rhythm + look.of(STEM), look.of(STEM_WIDTH)
    columns = placed.columns
    levels = 0
    triplets = False
    for column in columns:
        value = column.value
        if not value.notes:
            continue
        kind = value.kind
        low = end
        if kind in ("whole", "half"):
            space = look.of(4.2)
            name = "noteheadWhole" if kind == "whole" else "noteheadHalf"
            yield Glyph(
                column.x - symbol_width(name, space) + look.of(0.5), end - space / 2, space, name, INK
            )
            low -= look.of(2.5)
        if kind != "whole":
            yield Line(column.x, top, column.x, low, width, INK)
        if value.beams:
            levels = max(levels, len(value.beams))
        elif kind in _FLAGGED:
            yield Glyph(column.x - look.of(0.5), end, look.of(4.6), _FLAGS[_FLAGGED[kind]], INK)
        for dot in range(value.dots):
            yield Dot(column.x + look.of(4 + 3 * dot), end - look.of(3), look.of(1.2), INK)
        triplets = triplets or value.tuplet is not None
    if levels:
        yield from _beams(columns, levels, end, look)
    if triplets:
        yield from _triplets(columns, end, look)


def _beams(columns: tuple[Column, ...], levels: int, end: float, look: Look) -> Iterator[Mark]:
    thick, over = look.of(BEAM), look.of(STEM_WIDTH) / 2
    for level in range(levels):
        y = end - look.of(BEAM / 2 + level * BEAM_STEP)
        start: float | None = None
        for column in columns:
            beams = column.value.beams
            if level >= len(beams):
                continue
            state = beams[level]
            if state == "begin":
                start = column.x
            elif state == "end" and start is not None:
                yield Line(start - over, y, column.x + over, y, thick, INK)
                start = None
            elif state.endswith("hook"):
                way = look.of(6) if state.startswith("forward") else -look.of(6)
                yield Line(column.x, y, column.x + way, y, thick, INK)


def _triplets(columns: tuple[Column, ...], end: float, look: Look) -> Iterator[Mark]:
    size = look.of(SMALL + 0.5)
    y = end + look.of(4.5)
    start: float | None = None
    for column in columns:
        tuplet = column.value.tuplet
        if tuplet is None:
            continue
        if tuplet.edge == "start":
            start = column.x
        elif tuplet.edge == "stop" and start is not None:
            middle = (start + column.x) / 2
            for x1, x2 in ((start, middle - look.of(4)), (middle + look.of(4), column.x)):
                yield Line(x1, y, x2, y, look.of(THIN), SOFT)
            for x in (start, column.x):
                yield Line(x, y - look.of(2), x, y, look.of(THIN), SOFT)
            yield Text(middle, y + size * CAP_HEIGHT / 2, size, "3", INK, MIDDLE)
            start = None


def accent_line(x1: float, y1: float, x2: float, y2: float, look: Look) -> Line:
    return Line(x1, y1, x2, y2, look.of(1.1), ACCENT)
