"""What stands around the staff: sections, phrases with the names of their licks, endings, chords, numbers, fingers."""

from collections.abc import Iterator
from fractions import Fraction

from service.engrave.bands import Bands, Options
from service.engrave.letters import shortened, width_of
from service.engrave.looks import CHORD, LABEL, LETTER, NUMBER, Look
from service.engrave.paint import ACCENT, END, INK, MIDDLE, PAPER, SOFT, Box, Line, Mark, Text
from service.engrave.spacing import System, chord_text
from service.engrave.staff import THIN, accent_line
from service.music.licks import RIGHT_HANDS
from service.music.meter import TICKS_PER_WHOLE
from service.music.scores import Score

SECTION_SIZE = 10.0
TICK = 3.5  # at the ends of a phrase's line
BEFORE = 7.0  # a chord's name begins so far before the middle of its digit, as the digit does


def draw_marks(score: Score, system: System, at: Bands, look: Look, options: Options) -> Iterator[Mark]:
    indents: dict[int, float] = {}
    for section in score.sections:
        if system.onset <= section.onset < system.end:
            x = system.x_at(section.onset)
            wide = width_of(section.name, look.of(SECTION_SIZE), True) + look.of(8)
            yield Box(x, at.phrases - look.of(13), wide, look.of(13), ACCENT, look.of(2.5))
            yield Text(
                x + wide / 2,
                at.phrases - look.of(3),
                look.of(SECTION_SIZE),
                section.name,
                PAPER,
                MIDDLE,
                True,
            )
            indents[section.onset] = wide + look.of(3)
    if options.phrase_names:
        yield from _phrases(score, system, at, look, indents)
    yield from _endings(score, system, at, look)
    yield from _numbers(score, system, at, look)
    yield from _chords(score, system, at, look)
    yield from _fingers(score, system, at, look, options)


def _phrases(
    score: Score, system: System, at: Bands, look: Look, indents: dict[int, float]
) -> Iterator[Mark]:
    size, line = look.of(LABEL), at.phrases
    for span in score.phrases:
        start, end = span.onset, span.onset + span.ticks
        if end <= system.onset or start >= system.end:
            continue
        x1 = system.x_at(start) + indents.get(start, 0.0) if start >= system.onset else system.left
        x2 = system.x_at(end) - (look.of(2) if end <= system.end else 0.0)
        yield accent_line(x1, line, x2, line, look)
        if start >= system.onset:
            yield accent_line(x1, line, x1, line + look.of(TICK), look)
        if end <= system.end:
            yield accent_line(x2, line, x2, line + look.of(TICK), look)
        label = shortened(span.label, size, x2 - x1 - look.of(4))
        if label and start >= system.onset:
            yield Text(x1 + look.of(2), line - look.of(3), size, label, SOFT if span.rest else ACCENT)


def _endings(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    for repeat in score.repeats:
        if repeat.ending is None:
            continue
        long = repeat.last - repeat.ending + 1
        for number, first in ((1, repeat.ending), (2, repeat.last + 1)):
            inside = [p for p in system.measures if first <= p.measure.number - 1 < first + long]
            if not inside:
                continue
            y, low = at.endings - look.of(9), at.endings
            x1, x2 = inside[0].left + look.of(1), inside[-1].right - look.of(2)
            yield Line(x1, y, x2, y, look.of(THIN), INK)
            if inside[0].measure.number - 1 == first:
                yield Line(x1, y, x1, low, look.of(THIN), INK)
                yield Text(x1 + look.of(3), y + look.of(8), look.of(LABEL), f"{number}.", INK)
            if number == 1 and inside[-1].measure.number - 1 == first + long - 1:
                yield Line(x2, y, x2, low, look.of(THIN), INK)


def _numbers(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    """Over each bar line, with the length of a measure that is longer or shorter than the meter says."""
    size = look.of(NUMBER)
    for placed in system.measures:
        measure = placed.measure
        if measure.number == 0:
            continue
        text = str(measure.number)
        if measure.ticks != score.passage.meter.measure_ticks:
            share = Fraction(measure.ticks, TICKS_PER_WHOLE)
            length = f"({share.numerator}/{share.denominator})"
            yield Text(placed.right - look.of(2), at.top - look.of(4), size, length, SOFT, END)
        yield Text(placed.left, at.top - look.of(4), size, text, SOFT, MIDDLE)


def _chords(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    size = look.of(CHORD)
    for change in score.passage.changes:
        if not system.onset <= change.onset < system.end:
            continue
        name = "N.C." if change.chord is None else chord_text(change.chord.name)
        measure = next(p for p in system.measures if change.onset < p.measure.onset + p.measure.ticks)
        x = measure.x_at(change.onset) - look.of(BEFORE / 2)
        yield Text(x, at.chords, size, name, INK, bold=True)


def _fingers(score: Score, system: System, at: Bands, look: Look, options: Options) -> Iterator[Mark]:
    size = look.of(LETTER)
    y, low = at.fingers - look.of(2), at.left - look.of(2)
    left: list[Mark] = []
    for placed in system.measures:
        for column in placed.columns:
            letters = [note.finger for note in column.struck if note.finger]
            if len(letters) > 1:
                letters.sort(key=RIGHT_HANDS.index)
            if letters:
                yield Text(column.x, y, size, "".join(letters), SOFT, MIDDLE)
            if options.left_fingers:
                fingers = [score.left.get((note.onset, note.string)) for note in column.struck]
                told = "".join(str(finger) for finger in fingers if finger)
                if told:
                    left.append(Text(column.x, low, size, told, ACCENT, MIDDLE))
    yield from left
