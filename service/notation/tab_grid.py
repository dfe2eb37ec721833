"""From columns to ticks: finds the grid that a measure was written on.

A measure of text has some width; its notes stand on some columns. A grid says how many columns make
the measure (``columns``), how many stand before the first beat (``lead``), and which columns took no
time because a two-digit fret or a mark pushed the rest along (``pushed``). Among grids on which every
note falls on an exact tick, the one with the plainest rhythm is taken.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from service.music.meter import Meter

# How a stretch of two slots (a quarter in cut time) may be divided, plainest first.
DIVISIONS = (1, 2, 4, 3, 6, 8, 12, 24)
# Columns a slot may take in the text; one and a half are triplets without a dash between.
COLUMNS_PER_SLOT = (1, 2, 3, 4, 6, 8, 12)
TRIPLETS_PER_SLOT = Fraction(3, 2)
WIDEST = 3  # times the most columns of a measure: beyond it nothing was pushed along, it is no measure
MAX_PAD = 2  # columns beyond the measure's own, as in `|-0---2---|`
LEADS = (1, 0, 2)  # columns before the first beat, in the order they are preferred
PUSH_COST = 0.5  # of one note's rank: a plainer rhythm is worth assuming a pushed column


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
    """``rank`` is that of the finest division, ``fineness`` the ranks of all notes added up."""

    columns: int
    lead: int
    pushed: tuple[int, ...]
    pad: int
    rank: int
    fineness: int

    def ticks_at(self, column: int, measure_ticks: int) -> int:
        """Onset in ticks of a column; exact for the measure's own notes."""
        moved = column - sum(1 for p in self.pushed if p < column) - self.lead
        return round(moved * measure_ticks / self.columns)

    @property
    def cost(self) -> float:
        return self.fineness + PUSH_COST * bool(self.pushed)


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
        singly = max(_rank_within(onset, window) for onset in within)
        found = next(
            (
                i
                for i in range(singly, len(DIVISIONS))
                if all(onset * DIVISIONS[i] % window == 0 for onset in within)
            ),
            None,
        )
        if found is None:
            return None
        rank = max(rank, found)
    return rank


def fineness(onsets: Iterable[int], meter: Meter) -> int:
    """The ranks of single notes added up: the grid with the smaller sum is the likelier reading."""
    window = 2 * meter.slot_ticks
    return sum(_rank_within(onset % window, window) for onset in onsets)


@lru_cache(maxsize=1024)
def _rank_within(onset: int, window: int) -> int:
    return next((i for i, parts in enumerate(DIVISIONS) if onset * parts % window == 0), len(DIVISIONS))


def grids(measure: Written, counts: Sequence[int], meter: Meter, stated: int | None = None) -> list[Grid]:
    """Every grid of so many columns that puts all notes of a measure on exact ticks."""
    found: list[Grid] = []
    if measure.width > WIDEST * max(counts, default=0):
        return found
    digits = tuple(sorted(measure.second_digits))
    marks = tuple(sorted(measure.second_digits | measure.marks))
    settled: set[int] = set()
    for pushed in dict.fromkeys(((), digits, marks)):
        places = [c - sum(1 for p in pushed if p < c) for c in measure.onsets]
        for columns in counts:
            pad = measure.width - len(pushed) - columns
            if columns == 0 or not 0 <= pad <= MAX_PAD:
                continue
            for lead in LEADS:
                if pushed and lead in settled:
                    continue
                grid = _grid(places, measure.ticks, columns, lead, pushed, pad, meter, stated)
                if grid is None:
                    continue
                found.append(grid)
                if lead and _roomy(grid, measure.ticks, meter):
                    settled.add(lead)  # evenly spaced as it stands: nothing was pushed
    return found


def _grid(
    places: Sequence[int],
    ticks: int,
    columns: int,
    lead: int,
    pushed: tuple[int, ...],
    pad: int,
    meter: Meter,
    stated: int | None,
) -> Grid | None:
    """The grid with these measurements, if the notes fall on it."""
    moved = [place - lead for place in places]
    if moved and (min(moved) < 0 or max(moved) >= columns):
        return None
    if any(place * ticks % columns or (stated and place * stated % columns) for place in moved):
        return None
    onsets = [place * ticks // columns for place in moved]
    rank = rhythm_rank(onsets, meter)
    if rank is None:
        return None
    return Grid(columns, lead, pushed, pad, rank, fineness(onsets, meter))


def roomy(window_columns: float, rank: int, lead: int) -> bool:
    """Whether two slots have columns enough for their division and for a leading dash each."""
    return window_columns / DIVISIONS[rank] >= lead + 1


def _roomy(grid: Grid, ticks: int, meter: Meter) -> bool:
    return roomy(grid.columns * 2 * meter.slot_ticks / ticks, grid.rank, grid.lead)


def choose(measures: Sequence[Written], meter: Meter, stated: int | None = None) -> list[Grid | None]:
    """One grid for each measure, with one lead for all where that is possible; None where none fits.

    A leading dash is believed at once where every division has room for it. Else the lead under which
    the notes lie plainest is taken. A measure that is too short or too long is read on the grid of the
    others if its notes allow.
    """
    options = [grids(m, column_counts(m.ticks, meter), meter, stated) for m in measures]

    def taken(lead: int) -> list[Grid | None]:
        return [
            min((g for g in of if g.lead == lead), key=lambda g: (g.cost, g.pad), default=None)
            for of in options
        ]

    first = taken(LEADS[0])
    if all(g and not g.pushed and _roomy(g, m.ticks, meter) for g, m in zip(first, measures, strict=True)):
        return first
    best = min(
        (taken(lead) for lead in LEADS),
        key=lambda found: (sum(g is None for g in found), sum(g.cost for g in found if g)),
    )
    chosen = [
        grid or min(of, key=lambda g: (g.cost, g.pad), default=None)
        for grid, of in zip(best, options, strict=True)
    ]
    return [
        grid or _like_the_others(m, chosen, meter) or _triplets(m, meter, stated)
        for grid, m in zip(chosen, measures, strict=True)
    ]


def _triplets(measure: Written, meter: Meter, stated: int | None) -> Grid | None:
    """The grid of a measure written as triplets without a dash between: twelve columns in cut time, none in 9/8."""
    columns = measure.ticks // meter.slot_ticks * TRIPLETS_PER_SLOT
    found = grids(measure, [int(columns)] if columns.denominator == 1 else [], meter, stated)
    return min(found, key=lambda g: (g.cost, g.pad), default=None)


def _like_the_others(measure: Written, others: Sequence[Grid | None], meter: Meter) -> Grid | None:
    """The commonest grid of the other measures, for one whose own width makes none."""
    known = [(g.columns, g.lead) for g in others if g]
    if not known:
        return None
    columns, lead = max(set(known), key=known.count)
    return _grid(measure.onsets, measure.ticks, columns, lead, (), measure.width - columns, meter, None)
