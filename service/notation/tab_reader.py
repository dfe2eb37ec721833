"""Reads text tab as people paste it.

Nothing is guessed silently: what the text leaves open (tuning, meter, columns, a pickup) is named in
one warning, what is odd gets a warning of its own, and what cannot be read is a fault with its place.
"""

from collections.abc import Sequence
from dataclasses import replace

from service.errors import MOST_FAULTS, Fault, ReadingError
from service.music.fretboard import Fretboard
from service.music.instruments import Instrument
from service.music.meter import Meter, meter_named
from service.music.setting import MAX_CAPO, stop_at
from service.notation.clean import clean_lines
from service.notation.readings import LONGEST, MAX_MEASURES, MAX_TEXT, Assumption, Reading, assumed
from service.notation.tab_cells import Cell, read_cells
from service.notation.tab_grid import MAX_PAD, choose, column_counts
from service.notation.tab_heading import read_said
from service.notation.tab_marks import Marks, read_marks
from service.notation.tab_measures import RawMeasure, cut_unbarred, measure_up
from service.notation.tab_notes import Inked, NoteMaker
from service.notation.tab_rows import Staves, find_staves

SHORT_FIRST = 0.6  # a first measure up to this share of the narrowest other one is a pickup
_USUAL_METER, _OTHER_METER = "2/2", "3/4"


def read_tab(
    text: str,
    instrument: Instrument,
    *,
    tuning: str | None = None,
    meter: str | None = None,
    measures: int | None = None,
    columns: int | None = None,
) -> Reading:
    """Read a tab. What is passed in wins over what the text says.

    ``measures`` is the number of whole measures, ``columns`` how many time columns make one (8, 16).
    Raises ReadingError with every fault found; DomainError for an unknown tuning or meter.
    """
    if len(text) > MAX_TEXT:
        raise ReadingError([Fault("text-too-long", {"most": MAX_TEXT}, line=1, column=1)])
    lines = clean_lines(text)
    staves = find_staves(lines, instrument, instrument.tuning(tuning) if tuning else None)
    top = min(row.line.number for row in staves.staves[0].rows)
    said = read_said([line for line in lines if line.number < top], instrument)
    wanted = tuning or said.tuning
    chosen_tuning = staves.spelled or instrument.tuning() if wanted is None else instrument.tuning(wanted)
    faults: list[Fault] = []
    remarks: list[Fault] = [*said.remarks, *staves.trailing]
    for stated, used in ((said.meter, meter), (said.tuning, tuning)):
        if stated and used and stated != used:
            remarks.append(Fault("overruled", {"said": stated, "used": used}))
    parts: list[Assumption] = []

    raw = _joined(measure_up(staves.staves, faults, remarks), parts)
    if faults:
        raise ReadingError(faults)
    columns = columns or said.columns
    unbarred = len(raw) == 1 and not raw[0].opened and not raw[0].closed
    if unbarred:
        raw = _cut(raw[0], measures, columns, meter_named(meter or said.meter or _USUAL_METER), parts)
    if len(raw) > MAX_MEASURES:
        raise ReadingError([Fault("too-many-measures", {"most": MAX_MEASURES}, line=top, column=1)])
    marks = read_marks(staves.staves, raw)
    inked = _ink(raw, instrument, faults, remarks)
    if faults:
        raise ReadingError(faults)
    remarks.extend(marks.remarks)

    chosen_meter = _meter(meter or said.meter, inked, parts)
    pickup = None if unbarred else _pickup(inked, marks, measures, chosen_meter, parts)
    if pickup is not None and pickup.raw.repeat_from:
        remarks.append(Fault("pickup-once", measure=0))
    body = inked if pickup is None else inked[1:]
    first = 0 if pickup is None else 1
    if measures is not None and len(body) != measures:
        remarks.append(Fault("measure-count", {"found": len(body), "stated": measures}))
    _time(body, first, marks, chosen_meter, columns, faults, remarks)
    if faults:
        raise ReadingError(faults)
    if columns is None and body:
        parts.append(Assumption("columns", _columns_word(body, chosen_meter)))
    if wanted is None and staves.spelled is None and len(instrument.tunings) > 1:
        parts.append(Assumption("tuning", chosen_tuning.name))
    _name_rows(parts, staves)

    order = _unfold(body, marks, first, faults)
    if faults:
        raise ReadingError(faults)
    capo = said.capo or 0
    if capo > MAX_CAPO:
        remarks.append(Fault("capo-out-of-reach", {"capo": capo, "most": MAX_CAPO}))
        capo = 0
    board = Fretboard(instrument, chosen_tuning, capo)
    passage = NoteMaker(board, marks, first, faults, remarks).passage(body, order, pickup, chosen_meter)
    if faults:
        raise ReadingError(faults)
    passage = replace(passage, capo=capo, stop=stop_at(said.stop_fret, instrument, chosen_tuning))
    if not passage.notes:
        raise ReadingError([Fault("no-notes", line=top, column=1)])
    warnings = (*assumed(parts), *remarks)[:MOST_FAULTS]
    return Reading(passage, warnings, tuple(index + 1 for index in order))


def _joined(measures: list[RawMeasure], parts: list[Assumption]) -> list[RawMeasure]:
    """Measures wrapped in the middle: the first half is not closed, the second not opened."""
    widths = [m.width for m in measures if m.closed and m.opened]
    if not widths:
        return measures
    usual = max(set(widths), key=widths.count)
    found: list[RawMeasure] = []
    for measure in measures:
        before = found[-1] if found else None
        if (
            before is not None
            and not before.closed
            and not measure.opened
            and before.width < usual
            and before.width + measure.width in (usual, usual + 1)
        ):
            found[-1] = replace(
                before,
                pieces=before.pieces + measure.pieces,
                closed=measure.closed,
                repeat_to=measure.repeat_to,
            )
            parts.append(Assumption("wrapped-measure", len(found)))
        else:
            found.append(measure)
    return found


def _cut(
    raw: RawMeasure, measures: int | None, columns: int | None, meter: Meter, parts: list[Assumption]
) -> list[RawMeasure]:
    """Measures of a tab without bar lines: as many as stated, or as the stated columns make.

    Else by the usual two columns a slot. Columns stated are the text's own, or every second one of it.
    """
    if measures:
        return cut_unbarred(raw, max(1, min(measures, raw.width)))
    if columns:
        widths = [2 * columns, columns] if _on_every_second(raw) else [columns]
    else:
        widths = [2 * meter.slots, meter.slots, 3 * meter.slots, 4 * meter.slots]
    width = next((w for w in widths if raw.width >= w and raw.width % w <= 1), 0)
    count = raw.width // width if width else 1
    if count > 1:
        parts.append(Assumption("no-bar-lines", count))
    return cut_unbarred(raw, count)


def _on_every_second(raw: RawMeasure) -> bool:
    """Whether all characters that are no dash stand on columns of one parity."""
    found = {
        (at - start) % 2
        for line, start, end in raw.pieces[0].spans
        for at in range(start, end)
        if line.text[at].isdigit()
    }
    return len(found) == 1


def _ink(
    raw: Sequence[RawMeasure], instrument: Instrument, faults: list[Fault], remarks: list[Fault]
) -> list[Inked]:
    """Every string's notes, on columns, with links carried over bar lines."""
    carried: list[str | None] = [None] * instrument.strings
    inked: list[Inked] = []
    for number, measure in enumerate(raw, 1):
        cells: list[tuple[int, Cell]] = []
        marks: set[int] = set()
        offset = 0
        for piece in measure.pieces:
            for string, (line, start, end) in enumerate(piece.spans, 1):
                read = read_cells(line, start, end, instrument.frets, carried[string - 1])
                carried[string - 1] = read.pending
                cells.extend((string, cell.moved(offset)) for cell in read.cells)
                marks.update(at + offset for at in read.marks)
                remarks.extend(replace(f, measure=number) for f in read.remarks)
                faults.extend(replace(f, measure=number) for f in read.faults)
            offset += piece.width
        inked.append(Inked(measure, cells, frozenset(marks)))
    if any(carried):
        last = raw[-1].pieces[-1]
        string = next(n for n, link in enumerate(carried) if link)
        line, _, end = last.spans[string]
        remarks.append(line.fault("link-to-nowhere", max(0, end - 1), mark=carried[string]))
    return inked


def _meter(stated: str | None, inked: Sequence[Inked], parts: list[Assumption]) -> Meter:
    if stated:
        return meter_named(stated)
    usual, other = meter_named(_USUAL_METER), meter_named(_OTHER_METER)
    widths = [m.raw.width for m in inked]

    def fits(meter: Meter) -> int:
        counts = column_counts(meter.measure_ticks, meter)
        return sum(any(0 <= width - count <= MAX_PAD for count in counts) for width in widths)

    meter = other if fits(other) and not fits(usual) else usual
    parts.append(Assumption("meter", meter.name))
    return meter


def _pickup(
    inked: list[Inked], marks: Marks, measures: int | None, meter: Meter, parts: list[Assumption]
) -> Inked | None:
    """The first measure if it is a pickup.

    Numbers over the measures or a stated count decide. Else it is one that is shorter than the others
    and than any way to write a whole measure.
    """
    if len(inked) < 2:
        return None
    numbered = {number: index for index, number in marks.numbers.items()}
    if 1 in numbered and numbered[1] < 2:
        return inked[0] if numbered[1] == 1 else None
    first, narrowest = inked[0].raw.width, min(m.raw.width for m in inked[1:])
    if measures is not None:
        late = all(cell.at * 2 >= first for _, cell in inked[0].cells)  # a full measure of rests before it
        return inked[0] if len(inked) == measures + 1 and (first < narrowest or late) else None
    whole = column_counts(meter.measure_ticks, meter)
    if first > narrowest * SHORT_FIRST or 0 in marks.lengths:
        return None
    if any(0 <= first - count <= MAX_PAD for count in whole):
        return None
    parts.append(Assumption("pickup", first))
    return inked[0]


def _time(
    body: Sequence[Inked],
    first: int,
    marks: Marks,
    meter: Meter,
    stated: int | None,
    faults: list[Fault],
    remarks: list[Fault],
) -> None:
    """Give each measure its length and grid."""
    for index, measure in enumerate(body):
        measure.ticks = marks.lengths.get(index + first, meter.measure_ticks)
        longest = LONGEST * meter.measure_ticks
        if not 0 < measure.ticks <= longest or measure.ticks % meter.slot_ticks:
            line, at, length = marks.length_places[index + first]
            faults.append(
                line.fault("measure-too-short", at, measure=index + 1, length=length, meter=meter.name)
            )
    if faults:
        return
    grids = choose([m.written for m in body], meter, stated)
    usual = max((grid.columns for grid in grids if grid), default=0)
    for index, (measure, grid) in enumerate(zip(body, grids, strict=True)):
        measure.grid = grid
        line, start, _ = measure.raw.pieces[0].spans[0]
        width = measure.raw.width
        slots = measure.ticks // meter.slot_ticks
        if grid is None:
            code, into = ("cannot-place-stated" if stated else "cannot-place"), faults
            params: dict[str, object] = {
                "columns": width,
                "slots": slots,
                "stated": stated,
                "meter": meter.name,
            }
        elif not 0 <= grid.pad <= MAX_PAD:
            code, into = ("measure-short" if grid.pad < 0 else "measure-long"), remarks
            params = {"columns": width, "expected": grid.columns}
        elif grid.columns < 2 * slots <= usual:
            code, into = "closer-spacing", remarks
            params = {"columns": width, "usual": usual}
        elif grid.pushed:
            code, into = "pushed-columns", remarks
            params = {"columns": len(grid.pushed)}
        else:
            continue
        into.append(line.fault(code, start, measure=index + 1, **params))


def _columns_word(body: Sequence[Inked], meter: Meter) -> int:
    """Time columns a measure, as players count them: eight, or sixteen if any note needs it."""
    fine = any(m.grid is not None and m.grid.rank > 1 for m in body)
    return meter.slots * (2 if fine else 1)


def _name_rows(parts: list[Assumption], staves: Staves) -> None:
    """What was taken for granted about the rows."""
    if not staves.labelled:
        parts.append(Assumption("top-row", 1))
    if staves.turned:
        parts.append(Assumption("turned", 1))
    if staves.filled_in:
        parts.append(Assumption("missing-rows", 1))
    if staves.long_dashes and staves.long_dashes != (1, 1):
        parts.append(Assumption("long-dashes", staves.long_dashes[0]))


def _unfold(body: Sequence[Inked], marks: Marks, first: int, faults: list[Fault]) -> list[int]:
    """Measure indexes in playing order, repeats and endings written out."""
    order: list[int] = []
    start = 0
    index, time = 0, 1
    while index < len(body):
        raw = body[index].raw
        if raw.repeat_from and time == 1:
            start = index
        ending = marks.endings.get(index + first)
        later = [i for i in range(index + 1, len(body)) if i + first in marks.endings]
        if ending is not None and ending < time and later:
            index = later[0]  # not this time: on to the next ending
            continue
        order.append(index)
        if len(order) > MAX_MEASURES:
            faults.append(Fault("too-many-measures", {"most": MAX_MEASURES}))
            return order
        more = any(marks.endings[i + first] == time + 1 for i in later)
        if raw.repeat_to and (time == 1 or more):
            time, index = time + 1, start
            continue
        if raw.repeat_to or (time > 1 and ending == time and not more):
            time, start = 1, index + 1
        index += 1
    return order
