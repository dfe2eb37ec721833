"""From inked measures to notes and chords in playing order."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.errors import Fault
from service.music.fretboard import Fretboard
from service.music.licks import LINKED, RIGHT_HANDS, Change, Note
from service.music.meter import Meter
from service.music.passages import Passage, lasting
from service.music.tunes import merged
from service.notation.clean import Line
from service.notation.tab_cells import EITHER_WAY, WAVE, Cell
from service.notation.tab_grid import MAX_PAD, Grid, Written, rhythm_rank, roomy
from service.notation.tab_marks import Marks
from service.notation.tab_measures import RawMeasure


@dataclass(slots=True)
class Inked:
    """A measure with its notes still on columns."""

    raw: RawMeasure
    cells: list[tuple[int, Cell]]
    marks: frozenset[int]
    ticks: int = 0
    grid: Grid | None = None

    @property
    def written(self) -> Written:
        onsets = sorted({cell.at for _, cell in self.cells})
        second = {cell.at + n for _, cell in self.cells for n in range(1, cell.width)}
        return Written(self.raw.width, tuple(onsets), frozenset(second - set(onsets)), self.marks, self.ticks)


@dataclass(frozen=True, slots=True)
class _Placed:
    """A note and where it is written."""

    note: Note
    line: Line
    at: int
    measure: int


class NoteMaker:
    """Turns inked measures into notes and changes in playing order."""

    def __init__(
        self, fretboard: Fretboard, marks: Marks, first: int, faults: list[Fault], remarks: list[Fault]
    ) -> None:
        self._fretboard = fretboard
        self._marks = marks
        self._first = first
        self._faults = faults
        self._remarks = remarks
        self._from_peg = False

    def passage(
        self, body: Sequence[Inked], order: Sequence[int], pickup: Inked | None, meter: Meter
    ) -> Passage:
        placed: list[_Placed] = []
        changes: list[Change] = []
        starts: list[int] = []
        by_measure = self._chords(body, meter)
        if pickup is not None:
            placed.extend(self._pickup_notes(pickup, body, meter))
        written = [self._measure_notes(m, i) for i, m in enumerate(body)]
        at = 0
        for index in order:
            starts.append(at)
            placed.extend(_Placed(p.note.moved(at), p.line, p.at, p.measure) for p in written[index])
            changes.extend(Change(at + c.onset, c.chord) for c in by_measure.get(index, ()))
            at += body[index].ticks
        notes = self._linked(placed)
        if self._from_peg:
            self._remarks.append(Fault("fifth-from-peg"))
        board = self._fretboard
        return Passage(
            board.instrument,
            board.tuning,
            meter,
            tuple(body[index].ticks for index in order),
            lasting(notes, starts, at),
            merged(changes),
        )

    def _chords(self, body: Sequence[Inked], meter: Meter) -> dict[int, list[Change]]:
        found: dict[int, list[Change]] = {}
        for index, column, chord in self._marks.chords:
            index -= self._first
            if index < 0:
                index, column = 0, 0
            measure = body[index]
            if measure.grid is None:
                continue
            found.setdefault(index, []).append(Change(_snapped(column, measure, meter), chord))
        return {index: _last_at_each(changes) for index, changes in found.items()}

    def _pickup_notes(self, pickup: Inked, body: Sequence[Inked], meter: Meter) -> list[_Placed]:
        inked = [(m.ticks // m.grid.columns, m.grid) for m in body if m.grid]
        if not inked:
            return []
        per_column, grid = max(inked, key=lambda pair: pair[0])
        onsets = _pickup_onsets(pickup, per_column, grid, meter)
        if onsets is None:
            line, start, _ = pickup.raw.pieces[0].spans[0]
            self._faults.append(line.fault("pickup-off-grid", start, measure=0, columns=pickup.raw.width))
            return []
        return self._made(pickup, onsets, -self._first, 0)

    def _measure_notes(self, measure: Inked, index: int) -> list[_Placed]:
        grid = measure.grid
        if grid is None:
            return []
        onsets = {cell.at: grid.ticks_at(cell.at, measure.ticks) for _, cell in measure.cells}
        return self._made(measure, onsets, index, index + 1)

    def _made(self, measure: Inked, onsets: dict[int, int], index: int, number: int) -> list[_Placed]:
        fingers = self._fingers(measure, index + self._first)
        placed: list[_Placed] = []
        taken: set[tuple[int, int]] = set()
        for string, cell in measure.cells:
            fret = self._as_written(string, cell.fret)
            line, at = _place(measure.raw, string, cell.at)
            refusal = self._fretboard.refuses(string, fret)
            if refusal:
                self._faults.append(line.fault(refusal, at, measure=number, string=string, fret=fret))
            if (onsets[cell.at], string) in taken:
                self._faults.append(line.fault("two-notes-on-one-string", at, measure=number, string=string))
            taken.add((onsets[cell.at], string))
            note = Note(onsets[cell.at], string, fret, 0, cell.technique, fingers.get((string, cell.at)))
            placed.append(_Placed(note, line, at, number))
        return placed

    def _as_written(self, string: int, fret: int) -> int:
        short = self._fretboard.instrument.short_string
        if short and string == short[0] and 0 < fret <= short[1]:
            self._from_peg = True
            return fret + short[1]
        return fret

    def _fingers(self, measure: Inked, index: int) -> dict[tuple[int, int], str]:
        """Picking fingers by (string, column): the thumb takes the lowest row of notes struck together."""
        by_column: dict[int, list[int]] = {}
        for string, cell in measure.cells:
            if cell.technique not in LINKED:
                by_column.setdefault(cell.at, []).append(string)
        found: dict[tuple[int, int], str] = {}
        for (owner, column), marks in self._marks.fingers.items():
            if owner != index:
                continue
            at = next((c for c in (column, column - 1, column + 1) if c in by_column), None)
            if at is None:
                first = marks[0]
                self._remarks.append(first.line.fault("finger-without-note", first.at, finger=first.letter))
                continue
            strings = sorted(by_column[at], reverse=True)
            letters = sorted((mark.letter for mark in marks), key=RIGHT_HANDS.index)
            found.update(zip(((string, at) for string in strings), letters, strict=False))
        return found

    def _linked(self, placed: Sequence[_Placed]) -> list[Note]:
        """The notes with their links settled: hammer-ons go up, pull-offs down, ties stay."""
        last: dict[int, int] = {}
        notes: list[Note] = []
        for each in placed:
            note = each.note
            before = last.get(note.string)
            technique = settled(note.technique, before, note.fret)
            if note.technique == WAVE and technique is None:
                self._say(self._remarks, each, "passed-over", mark="~", what="vibrato")
            elif note.technique in ("hammer-on", "pull-off") and technique != note.technique:
                self._say(self._remarks, each, "link-turned", written=note.technique, read=technique)
            elif technique == "tie" and before != note.fret:
                self._say(self._faults, each, "tie-to-other-fret", string=note.string, fret=note.fret)
            notes.append(note if technique == note.technique else replace(note, technique=technique))
            last[note.string] = note.fret
        return notes

    def _say(self, into: list[Fault], placed: _Placed, code: str, **params: object) -> None:
        into.append(placed.line.fault(code, placed.at, measure=placed.measure, **params))


def settled(technique: str | None, before: int | None, fret: int) -> str | None:
    """What a mark means between these two frets of a string; ``before`` is None without a note."""
    if technique == WAVE:
        return "tie" if before == fret else None
    if technique in (EITHER_WAY, "hammer-on", "pull-off"):
        if before is None or before == fret:
            return "hammer-on" if technique == EITHER_WAY else technique
        return "hammer-on" if fret > before else "pull-off"
    return technique


def _place(raw: RawMeasure, string: int, at: int) -> tuple[Line, int]:
    """The line and character where a string's column of a measure stands."""
    for piece in raw.pieces:
        if at < piece.width or piece is raw.pieces[-1]:
            line, start, _ = piece.spans[string - 1]
            return line, start + at
        at -= piece.width
    raise AssertionError("a measure has at least one piece")


def _pickup_onsets(pickup: Inked, per_column: int, grid: Grid, meter: Meter) -> dict[int, int] | None:
    """Onset, before the bar line, of each column of a pickup, on the scale of the measures.

    A column or two may be spare at its end. None if the notes fall on no plain rhythm.
    """
    columns = sorted({cell.at for _, cell in pickup.cells})
    found: dict[int, int] | None = None
    for pad in range(MAX_PAD, -1, -1):
        places = [c - grid.lead - (pickup.raw.width - pad) for c in columns]
        if any(place >= 0 for place in places) or (columns and columns[0] < grid.lead):
            continue
        onsets = [place * per_column for place in places]
        rank = rhythm_rank(onsets, meter)
        room = 2 * meter.slot_ticks / per_column
        if rank is not None and (pad >= grid.lead or roomy(room, rank, grid.lead)):
            found = dict(zip(columns, onsets, strict=True))
    return found


def _snapped(column: int, measure: Inked, meter: Meter) -> int:
    """Onset of a chord that stands over a column: exact on a slot, else the nearest pair of slots, or beat of three."""
    if measure.grid is None:
        return 0
    onset = measure.grid.ticks_at(column, measure.ticks)
    if onset % meter.slot_ticks:
        step = meter.beat_ticks if meter.beat_ticks == 3 * meter.slot_ticks else 2 * meter.slot_ticks
        onset = (onset + step // 2) // step * step
    return min(max(0, onset), measure.ticks - meter.slot_ticks)


def _last_at_each(changes: Sequence[Change]) -> list[Change]:
    return list({change.onset: change for change in sorted(changes, key=lambda c: c.onset)}.values())
