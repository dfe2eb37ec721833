"""From columns to ticks: finds the grid that a measure was written on.

A measure of text has some width; its notes stand on some columns. A grid says how many columns make
the measure (``columns``), how many stand before the first beat (``lead``), and which columns took no
time because a two-digit fret or a mark pushed the rest along (``pushed``). Among grids on which every
note falls on an exact tick, the one with the plainest rhythm is taken.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service.music.meter import Meter

# How a stretch of two slots (a quarter in cut time) may be divided, plainest first.
DIVISIONS = (1, 2, 4, 3, 6, 8, 12, 24)
# Columns a slot may take in the text.
COLUMNS_PER_SLOT = (1, 2, 3, 4, 6, 8, 12)
MAX_PAD = 2  # columns beyond the measure's own, as in `|-0---2---|`
LEADS = (1, 0, 2)  # columns before the first beat, in the order they are preferred
SLOPPY_PADS = (-1, 3, -2, 4)  # a dash too few or too many: read, and said
_PUSH_COST = 0.5  # of one rank: a plainer rhythm is worth assuming a pushed column


@dataclass(frozen=True, slots=True)
class Written:
    """What matters of a measure's text: its width and which columns hold what."""

    width: int
    onsets: tuple[int, ...]
    second_digits: frozenset[int] = frozenset()
    marks: frozenset[int] = frozenset()
    ticks: int = 0


@dataclass(frozen=True, slots=True)
class Grid:
    columns: int
    lead: int
    pushed: tuple[int, ...]
    pad: int
    rank: int

    def ticks_at(self, column: int, measure_ticks: int) -> int:
        """Onset in ticks of a column; exact for the measure's own notes."""
        moved = column - sum(1 for p in self.pushed if p < column) - self.lead
        return round(moved * measure_ticks / self.columns)

    @property
    def cost(self) -> float:
        return self.rank + _PUSH_COST * bool(self.pushed)


def column_counts(ticks: int, meter: Meter) -> tuple[int, ...]:
    """Widths that a measure of so many ticks may have."""
    slots = ticks // meter.slot_ticks
    return tuple(slots * per for per in COLUMNS_PER_SLOT) if slots else ()


def rhythm_rank(onsets: Iterable[int], meter: Meter) -> int | None:
    """How plain a rhythm is: index into DIVISIONS of the finest division of two slots; None if finer."""
    window = 2 * meter.slot_ticks
    by_window: dict[int, list[int]] = {}
    for onset in onsets:
        by_window.setdefault(onset // window, []).append(onset % window)
    rank = 0
    for within in by_window.values():
        found = next(
            (i for i, parts in enumerate(DIVISIONS) if all(onset * parts % window == 0 for onset in within)),
            None,
        )
        if found is None:
            return None
        rank = max(rank, found)
    return rank


def grids(measure: Written, meter: Meter, pads: Sequence[int], stated: int | None = None) -> list[Grid]:
    """Every grid that puts all notes of a measure on exact ticks."""
    found: list[Grid] = []
    digits = tuple(sorted(measure.second_digits))
    marks = tuple(sorted(measure.second_digits | measure.marks))
    settled: set[int] = set()
    for pushed in dict.fromkeys(((), digits, marks)):
        places = [c - sum(1 for p in pushed if p < c) for c in measure.onsets]
        for columns in column_counts(measure.ticks, meter):
            pad = measure.width - len(pushed) - columns
            if pad not in pads:
                continue
            for lead in LEADS:
                if pushed and lead in settled:
                    continue
                moved = [place - lead for place in places]
                if moved and (min(moved) < 0 or max(moved) >= columns):
                    continue
                if any(place * measure.ticks % columns for place in moved):
                    continue
                rank = rhythm_rank((place * measure.ticks // columns for place in moved), meter)
                window_columns = columns * 2 * meter.slot_ticks / measure.ticks
                if rank is None or not roomy(window_columns, rank, lead, pad):
                    continue
                if stated and any(place * stated % columns for place in moved):
                    continue
                found.append(Grid(columns, lead, pushed, pad, rank))
                if lead and roomy(window_columns, rank, lead, 0):
                    settled.add(lead)  # evenly spaced as it stands: nothing was pushed
    return found


def roomy(window_columns: float, rank: int, lead: int, pad: int) -> bool:
    """Whether two slots have columns enough for their division: a leading dash needs room of its own."""
    step = window_columns / DIVISIONS[rank]
    return step >= 1 and (lead == 0 or pad >= lead or step >= lead + 1)


def choose(measures: Sequence[Written], meter: Meter, stated: int | None = None) -> list[Grid | None]:
    """One grid for each measure, with one lead for all where that is possible; None where none fits."""
    options = [grids(m, meter, range(MAX_PAD + 1), stated) for m in measures]
    best: list[Grid | None] = []
    best_cost = (len(measures) + 1, 0.0)
    for lead in LEADS:
        taken = [
            min((g for g in of if g.lead == lead), key=lambda g: (g.cost, g.pad), default=None)
            for of in options
        ]
        if lead == LEADS[0] and all(taken):
            return list(taken)
        cost = (sum(g is None for g in taken), sum(g.cost for g in taken if g))
        if cost < best_cost:
            best, best_cost = list(taken), cost
    return [
        grid
        or min(of, key=lambda g: (g.cost, g.pad), default=None)
        or min(grids(m, meter, SLOPPY_PADS, stated), key=lambda g: (g.cost, abs(g.pad)), default=None)
        for grid, of, m in zip(best, options, measures, strict=True)
    ]
