"""A standard staff above the tab, for those who read it: in the playing position's key, as the tab is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from service.engrave.bands import Bands
from service.engrave.letters import CAP_HEIGHT, symbol_width
from service.engrave.looks import STAFF_SPACE, Look
from service.engrave.paint import INK, LINE, MIDDLE, SOFT, Curve, Dot, Glyph, Line, Mark, Text
from service.engrave.pitches import (
    ACCIDENTALS,
    Spelled,
    clef_of,
    in_signature,
    signature_rows,
    spelled,
)
from service.engrave.spacing import Column, Placed, System
from service.music.scores import Score

TOP_ROW, MIDDLE_ROW = 8, 4  # rows of the five lines are 0, 2, 4, 6, 8
STEM_SPACES = 3.2
THIN, BEAM_SPACES, BEAM_STEP = 0.8, 0.5, 0.78  # line width in points; beams in staff spaces
_HEADS = {"whole": "noteheadWhole", "half": "noteheadHalf"}
_FLAGGED = {"eighth": "8th", "16th": "16th", "32nd": "32nd"}
_RESTS = {
    "whole": ("restWhole", 6), "half": ("restHalf", 4), "quarter": ("restQuarter", 4), "eighth": ("rest8th", 4),
    "16th": ("rest16th", 4), "32nd": ("rest32nd", 4),
}  # fmt: skip


def lead_of(score: Score, look: Look) -> float:
    """Room for clef and key signature before the first note of each system."""
    space = look.of(STAFF_SPACE)
    return space * (3.4 + abs(score.key.signature))


@dataclass(frozen=True, slots=True)
class _Head:
    string: int
    at: Spelled
    x: float


@dataclass(frozen=True, slots=True)
class _Chord:
    """A column's heads, lowest first, and the way of its stem: 1 up, -1 down."""

    column: Column
    heads: tuple[_Head, ...]
    way: int


def draw_notation(score: Score, system: System, at: Bands, look: Look) -> Iterator[Mark]:
    """Clef, signature, notes and rests of one system."""
    if at.notation is None:
        return
    staff = _Staff(score, system, at.notation, look)
    yield from staff.frame()
    ties: dict[int, tuple[float, float, int]] = {}
    for placed in system.measures:
        yield from staff.measure(placed, ties)


class _Staff:
    def __init__(self, score: Score, system: System, top: float, look: Look) -> None:
        self._score, self._system, self._top, self._look = score, system, top, look
        self._space = look.of(STAFF_SPACE)
        self._head = symbol_width("noteheadBlack", self._space)

    def _y(self, row: float) -> float:
        return self._top + (TOP_ROW - row) * self._space / 2

    def frame(self) -> Iterator[Mark]:
        system, space = self._system, self._space
        thin = self._look.of(THIN)
        for row in range(0, TOP_ROW + 1, 2):
            yield Line(system.left, self._y(row), system.right, self._y(row), thin, LINE)
        for x in (system.left, *(placed.right for placed in system.measures)):
            yield Line(x, self._y(TOP_ROW), x, self._y(0), thin, SOFT)
        clef, _ = clef_of(self._score.passage)
        x = system.left + 0.4 * space
        yield Glyph(x, self._y(6 if clef == "fClef" else 2), space, clef, INK)
        x += 2.9 * space
        for name, row in signature_rows(self._score.key, clef):
            yield Glyph(x, self._y(row), space, name, INK)
            x += symbol_width(name, space)

    def measure(self, placed: Placed, ties: dict[int, tuple[float, float, int]]) -> Iterator[Mark]:
        """One measure; ``ties`` holds where tied notes left off, by string: x, y and the way their stem went."""
        chords: list[_Chord] = []
        heard: dict[int, int] = {}
        for column in placed.columns:
            if column.value.rest:
                yield from self._rest(column)
                continue
            chords.append(self._chord(column))
        for group in _groups(chords):
            way = group[0].way if len(group) == 1 else _way([h.at.row for c in group for h in c.heads])
            turned = [_Chord(c.column, c.heads, way) for c in group]
            for chord in turned:
                yield from self._heads(chord, heard)
                yield from self._tied(chord, ties)
            yield from self._stems(turned, way)
        yield from self._triplets(placed)

    def _chord(self, column: Column) -> _Chord:
        board = self._score.passage.fretboard
        found = sorted(
            (
                (
                    spelled(board.pitch(note.string, note.fret), self._score.key, self._score.passage),
                    note.string,
                )
                for note in column.value.notes
            ),
            key=lambda pair: pair[0].row,
        )
        heads: list[_Head] = []
        for at, string in found:
            aside = bool(heads) and at.row - heads[-1].at.row == 1 and heads[-1].x == 0.0
            heads.append(_Head(string, at, self._head if aside else 0.0))
        return _Chord(column, tuple(heads), _way([head.at.row for head in heads]))

    def _heads(self, chord: _Chord, heard: dict[int, int]) -> Iterator[Mark]:
        value, space = chord.column.value, self._space
        left = chord.column.x - self._head / 2
        muted = {note.string for note in value.notes if note.technique == "mute"}
        for row in _ledger_rows(chord.heads):
            reach = 0.35 * space
            yield Line(
                left - reach, self._y(row), left + self._head + reach, self._y(row), self._look.of(THIN), SOFT
            )
        for head in chord.heads:
            name = "noteheadX" if head.string in muted else _HEADS.get(value.kind, "noteheadBlack")
            y = self._y(head.at.row)
            yield Glyph(left + head.x, y, space, name, INK)
            key_gives = in_signature(head.at.letter, self._score.key)
            if head.at.alteration != heard.get(head.at.row, key_gives) and head.string not in value.tied_from:
                sign = ACCIDENTALS[head.at.alteration]
                yield Glyph(left - symbol_width(sign, space) - 0.25 * space, y, space, sign, INK)
                heard[head.at.row] = head.at.alteration
            for dot in range(value.dots):
                on_line = head.at.row % 2 == 0
                x = (
                    left
                    + self._head * (2 if any(h.x for h in chord.heads) else 1)
                    + (0.5 + 0.5 * dot) * space
                )
                yield Dot(x, y - (space / 2 if on_line else 0.0), 0.18 * space, INK)

    def _tied(self, chord: _Chord, ties: dict[int, tuple[float, float, int]]) -> Iterator[Mark]:
        value = chord.column.value
        for head in chord.heads:
            y = self._y(head.at.row)
            if head.string in value.tied_from:
                x, _, way = ties.pop(head.string, (self._system.left, y, chord.way))
                low = y + way * 0.5 * self._space
                yield Curve(
                    x + self._head * 0.4,
                    low,
                    chord.column.x - self._head * 0.4,
                    low,
                    way * self._space,
                    0.9,
                    INK,
                )
            if head.string in value.tied_to:
                ties[head.string] = (chord.column.x, y, chord.way)

    def _stems(self, group: Sequence[_Chord], way: int) -> Iterator[Mark]:
        """Stems of one chord or of all under a beam, which lies flat beyond the farthest head."""
        space, width = self._space, self._look.of(1.0)
        stemmed = [chord for chord in group if chord.column.value.kind != "whole"]
        if not stemmed:
            return
        rows = [head.at.row for chord in stemmed for head in chord.heads]
        far = max(rows) if way > 0 else min(rows)
        end = self._y(far) - way * STEM_SPACES * space
        # a stem reaches the middle line at least
        end = min(end, self._y(MIDDLE_ROW)) if way > 0 else max(end, self._y(MIDDLE_ROW))
        stems = []
        for chord in stemmed:
            x = chord.column.x + way * (self._head / 2 - width / 2)
            foot = self._y(chord.heads[0].at.row if way > 0 else chord.heads[-1].at.row)
            yield Line(x, foot, x, end, width, INK)
            stems.append((x, chord.column.value))
            flags = _FLAGGED.get(chord.column.value.kind)
            if flags and not chord.column.value.beams:
                yield Glyph(x - width / 2, end, space, f"flag{flags}{'Up' if way > 0 else 'Down'}", INK)
        thick = BEAM_SPACES * space
        for level in range(3):
            y = end + way * (thick / 2 + level * BEAM_STEP * space)
            start: float | None = None
            for x, value in stems:
                state = value.beams[level] if level < len(value.beams) else ""
                if state == "begin":
                    start = x
                elif state == "end" and start is not None:
                    yield Line(start - width / 2, y, x + width / 2, y, thick, INK)
                elif state.endswith("hook"):
                    yield Line(x, y, x + (1 if state.startswith("forward") else -1) * space, y, thick, INK)

    def _rest(self, column: Column) -> Iterator[Mark]:
        name, row = _RESTS[column.value.kind]
        wide = symbol_width(name, self._space)
        yield Glyph(column.x - wide / 2, self._y(row), self._space, name, SOFT)
        for dot in range(column.value.dots):
            x = column.x + wide / 2 + (0.5 + 0.5 * dot) * self._space
            yield Dot(x, self._y(5), 0.18 * self._space, SOFT)

    def _triplets(self, placed: Placed) -> Iterator[Mark]:
        size = self._look.of(7.5)
        start: float | None = None
        for column in placed.columns:
            tuplet = column.value.tuplet
            if tuplet and tuplet.edge == "start":
                start = column.x
            elif tuplet and tuplet.edge == "stop" and start is not None:
                y = self._y(TOP_ROW) - 1.9 * self._space + size * CAP_HEIGHT / 2
                yield Text((start + column.x) / 2, y, size, "3", INK, MIDDLE)
                start = None


def _way(rows: Sequence[int]) -> int:
    """Stems go towards the middle line: by the note farthest from it, down where two are as far (common practice)."""
    high, low = max(rows) - MIDDLE_ROW, MIDDLE_ROW - min(rows)
    return 1 if low > high else -1


def _ledger_rows(heads: Sequence[_Head]) -> list[int]:
    rows = [head.at.row for head in heads]
    return [*range(-2, min(rows) - 1, -2), *range(TOP_ROW + 2, max(rows) + 1, 2)]


def _groups(chords: Sequence[_Chord]) -> list[list[_Chord]]:
    """Chords under one beam together; all others alone."""
    found: list[list[_Chord]] = []
    open_group = False
    for chord in chords:
        first = chord.column.value.beams[0] if chord.column.value.beams else ""
        if open_group:
            found[-1].append(chord)
        else:
            found.append([chord])
        open_group = first in ("begin", "continue") if first else False
    return found
