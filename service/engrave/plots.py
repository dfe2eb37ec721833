"""Tempos over days: a dot for each clean pass, and the best so far as steps."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from service.engrave.letters import CAP_HEIGHT, shortened, width_of
from service.engrave.looks import FACT, PHONE, Look
from service.engrave.paint import (
    ACCENT,
    END,
    INK,
    LINE,
    MIDDLE,
    SOFT,
    START,
    Dot,
    Line,
    Mark,
    Picture,
    Text,
)

# Sizes in points; all are ours, tried by eye
HEIGHT, EMPTY_HEIGHT = 236.0, 60.0
TITLE_SIZE = 13.0
GRID, STEP_LINE, DOT = 0.6, 1.8, 2.8
GAP = 6.0  # between an axis and what is written beside it
STEPS = (5, 10, 20, 50, 100)  # beats from one line across to the next
MOST_LINES = 5


@dataclass(frozen=True, slots=True)
class Plot:
    """What is drawn, words ready to be shown: ``clean`` and ``rises`` are days and beats a minute, in order of time; ``note`` stands
    below the title."""

    title: str
    note: str
    description: str
    clean: tuple[tuple[date, int], ...]
    rises: tuple[tuple[date, int], ...]


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where days and tempos lie."""

    left: float
    right: float
    top: float
    bottom: float
    first: date
    last: date
    low: int
    high: int

    def x(self, day: date) -> float:
        """A single day lies in the middle."""
        days = (self.last - self.first).days
        share = (day - self.first).days / days if days else 0.5
        return self.left + GAP + share * (self.right - self.left - 2 * GAP)

    def y(self, bpm: int) -> float:
        return self.bottom - (bpm - self.low) / (self.high - self.low) * (self.bottom - self.top)


def tempo_lines(tempos: Sequence[int]) -> list[int]:
    """Round tempos from below the slowest to above the fastest, few enough to be read."""
    for step in STEPS:
        low, high = min(tempos) // step * step, -(-max(tempos) // step) * step
        high = max(high, low + step)
        if (high - low) // step < MOST_LINES:
            break
    return list(range(low, high + 1, step))


def drawn_plot(plot: Plot, look: Look = PHONE) -> Picture:
    marks: list[Mark] = [
        Text(look.margin, look.margin + TITLE_SIZE, TITLE_SIZE, shortened(plot.title, TITLE_SIZE, look.room, True), INK, START, True),
        Text(look.margin, look.margin + TITLE_SIZE + FACT * 1.6, FACT, shortened(plot.note, FACT, look.room), SOFT),
    ]  # fmt: skip
    if plot.clean:
        lines = tempo_lines([bpm for _, bpm in plot.clean])
        frame = _Frame(
            left=look.margin + max(width_of(str(bpm), FACT) for bpm in lines) + GAP,
            right=look.width - look.margin,
            top=look.margin + TITLE_SIZE + FACT * 3.4,
            bottom=HEIGHT - look.margin - FACT * 1.8,
            first=plot.clean[0][0],
            last=plot.clean[-1][0],
            low=lines[0],
            high=lines[-1],
        )
        marks.extend(_axes(frame, lines))
        marks.extend(_best(frame, plot.rises))
        marks.extend(Dot(frame.x(day), frame.y(bpm), DOT, INK) for day, bpm in plot.clean)
    height = HEIGHT if plot.clean else EMPTY_HEIGHT
    return Picture(look.width, height, marks, plot.title, plot.description)


def _axes(frame: _Frame, lines: Sequence[int]) -> Iterator[Mark]:
    for bpm in lines:
        y = frame.y(bpm)
        yield Line(frame.left, y, frame.right, y, GRID, LINE)
        yield Text(frame.left - GAP, y + FACT * CAP_HEIGHT / 2, FACT, str(bpm), SOFT, END)
    below = frame.bottom + FACT * 1.8
    if frame.first == frame.last:
        yield Text(frame.x(frame.first), below, FACT, frame.first.isoformat(), SOFT, MIDDLE)
    else:
        yield Text(frame.left, below, FACT, frame.first.isoformat(), SOFT, START)
        yield Text(frame.right, below, FACT, frame.last.isoformat(), SOFT, END)
    for day in {frame.first, frame.last}:
        yield Line(frame.x(day), frame.bottom, frame.x(day), frame.bottom + GAP / 2, GRID, LINE)


def _best(frame: _Frame, rises: Sequence[tuple[date, int]]) -> Iterator[Mark]:
    """Level from day to day, straight up where it rose."""
    ends = [*(day for day, _ in rises[1:]), frame.last]
    for place, ((day, bpm), end) in enumerate(zip(rises, ends, strict=True)):
        yield Line(frame.x(day), frame.y(bpm), frame.x(end), frame.y(bpm), STEP_LINE, ACCENT)
        if place + 1 < len(rises):
            yield Line(
                frame.x(end), frame.y(bpm), frame.x(end), frame.y(rises[place + 1][1]), STEP_LINE, ACCENT
            )
