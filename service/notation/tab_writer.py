"""Writes a passage as text tab that reads back to the same notes.

Each note stands on its column with one dash before the first beat; a measure takes the fewest columns
on which its rhythm and its frets have room (two a slot for plain eighths). A measure too wide for the
page is cut, and ``>`` says that it goes on.
"""

import textwrap
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.music.licks import RIGHT_HANDS, Change, Note
from service.music.meter import TICKS_PER_WHOLE, Meter
from service.music.passages import Passage
from service.notation.tab_grid import DIVISIONS, MAX_PAD, column_counts, rhythm_rank
from service.notation.tab_rows import GOES_ON

PHONE_WIDTH = 28  # columns that a code block shows on a phone
WIDE_WIDTH = 80
_LEAD = 1
LeftFingers = Mapping[tuple[int, int], int]
_LEFT = "L"
_LINK_MARKS = {"hammer-on": "h", "pull-off": "p", "tie": "="}


@dataclass(frozen=True, slots=True)
class _Ink:
    """What one note puts on its row: text at its column, and what must stand right before it."""

    note: Note
    before: str
    text: str


@dataclass(frozen=True, slots=True)
class _Block:
    """A measure ready to print: rows of equal width, chords and fingers by column."""

    number: int | None
    rows: tuple[str, ...]
    chords: tuple[tuple[int, str], ...]
    fingers: tuple[tuple[int, str], ...]
    length: str | None
    left: tuple[tuple[int, str], ...] = ()

    @property
    def width(self) -> int:
        return len(self.rows[0])


def write_tab(
    passage: Passage,
    *,
    width: int = PHONE_WIDTH,
    phone: bool = True,
    left: LeftFingers | None = None,
    remarks: Mapping[int, str] | None = None,
) -> str:
    """Text tab, ending in a newline; no line is longer than ``width`` (at least PHONE_WIDTH).

    ``phone`` puts one measure in each group of rows, else as many as the width holds. ``left`` gives left-hand fingers
    (1-4) by (onset, string); they stand in lines of their own that begin with L. ``remarks`` are sentences by measure (from
    1): each stands by itself before the rows that hold its measure, where readers pass it over.
    """
    width = max(width, PHONE_WIDTH)
    blocks = _blocks(passage, phone, left or {})
    lines = [header(passage, width)]
    for group in _groups(blocks, width, phone):
        here = [(remarks or {}).get(block.number or 0) for block in group.blocks]
        lines.extend(textwrap.fill(remark, width, break_on_hyphens=False) for remark in here if remark)
        lines.append("\n".join(_print(group)))
    return "\n\n".join(lines) + "\n"


def header(passage: Passage, width: int = WIDE_WIDTH) -> str:
    """The line that states tuning, meter, capo, and a fifth string that does not go up with it."""
    parts = [passage.tuning.name, passage.meter.name]
    if passage.capo:
        parts.append(f"capo {passage.capo}")
    short = passage.instrument.short_string
    if short and passage.stop is not None:
        raised = passage.stop - passage.tuning.pitches[short[0] - 1]
        parts.append(f"fifth string at {short[1] + raised}" if raised else "fifth string open")
    text = ", ".join(parts)
    return text if len(text) <= width else ",\n".join(parts)


def _blocks(passage: Passage, phone: bool, left: LeftFingers) -> list[_Block]:
    starts = passage.starts
    by_measure: list[list[_Ink]] = [[] for _ in starts]
    pickup: list[_Ink] = []
    for ink in _inked(passage.notes):
        index = bisect_right(starts, ink.note.onset) - 1
        (by_measure[index] if index >= 0 else pickup).append(ink)
    changes: list[list[Change]] = [[] for _ in starts]
    for change in passage.changes:
        changes[bisect_right(starts, change.onset) - 1].append(change)
    counts = _column_counts(passage, by_measure, changes, pickup, phone)
    blocks = []
    if pickup:
        per_column = max(ticks // columns for ticks, columns in zip(passage.measures, counts, strict=True))
        length = -(-passage.pickup_ticks // passage.meter.slot_ticks) * passage.meter.slot_ticks
        blocks.append(_block(passage, None, pickup, (), -length, length, length // per_column, None, left))
    for index, (start, ticks) in enumerate(zip(starts, passage.measures, strict=True)):
        length_mark = None
        if ticks != passage.meter.measure_ticks:
            share = Fraction(ticks, TICKS_PER_WHOLE)
            length_mark = f"({share.numerator}/{share.denominator})"
        blocks.append(
            _block(
                passage,
                index + 1,
                by_measure[index],
                changes[index],
                start,
                ticks,
                counts[index],
                length_mark,
                left,
            )
        )
    return blocks


def _inked(notes: Sequence[Note]) -> list[_Ink]:
    last: dict[int, int] = {}
    found = []
    for note in notes:
        text, before = str(note.fret), ""
        if note.technique == "ghost":
            before, text = "(", f"{note.fret})"
        elif note.technique == "choke":
            text += "b"
        elif note.technique == "mute":
            text = "x"
        elif note.technique == "slide":
            before = "\\" if last.get(note.string, -1) > note.fret else "/"
        elif note.technique is not None:
            before = _LINK_MARKS[note.technique]
        last[note.string] = note.fret
        found.append(_Ink(note, before, text))
    return found


def _column_counts(
    passage: Passage,
    by_measure: Sequence[Sequence[_Ink]],
    changes: Sequence[Sequence[Change]],
    pickup: Sequence[_Ink],
    phone: bool,
) -> list[int]:
    """Columns for each measure. A pickup is written on the coarsest scale among the measures."""
    meter = passage.meter
    ranks = [
        rhythm_rank([ink.note.onset - start for ink in inks], meter)
        for start, inks in zip(passage.starts, by_measure, strict=True)
    ]
    options = [
        [
            columns
            for columns in column_counts(ticks, meter)
            if _has_room(by_measure[i], changes[i], passage.starts[i], ticks, columns, meter, ranks[i], phone)
        ]
        or [column_counts(ticks, meter)[-1]]
        for i, ticks in enumerate(passage.measures)
    ]
    plain = [fitting[0] for fitting in options]
    if not pickup:
        return plain
    length = -(-passage.pickup_ticks // meter.slot_ticks) * meter.slot_ticks
    rank = rhythm_rank([ink.note.onset + length for ink in pickup], meter)
    for scale in column_counts(meter.measure_ticks, meter)[1:]:
        chosen = [next((c for c in fitting if c >= scale), fitting[-1]) for fitting in options]
        per_column = max(ticks // columns for ticks, columns in zip(passage.measures, chosen, strict=True))
        share, rest = divmod(length, per_column)
        inside = all(
            (ink.note.onset + length) // per_column + _LEAD + len(ink.text) <= share for ink in pickup
        )
        if rest == 0 and inside and _has_room(pickup, (), -length, length, share, meter, rank, phone):
            return chosen
    return [fitting[-1] for fitting in options]


def _has_room(
    inks: Sequence[_Ink],
    changes: Sequence[Change],
    start: int,
    ticks: int,
    columns: int,
    meter: Meter,
    rank: int | None,
    phone: bool,
) -> bool:
    """``rank`` is how plain the rhythm is, see rhythm_rank."""
    onsets = [ink.note.onset - start for ink in inks]
    if any(onset * columns % ticks for onset in onsets):
        return False
    if rank is None or columns * 2 * meter.slot_ticks < 2 * DIVISIONS[max(rank, 1)] * ticks:
        return False
    free: dict[int, int] = {}
    for ink, onset in zip(inks, onsets, strict=True):
        at = onset * columns // ticks
        if at - max(1, len(ink.before)) < free.get(ink.note.string, -_LEAD):
            return False
        free[ink.note.string] = at + len(ink.text)
        if free[ink.note.string] + _LEAD > columns + MAX_PAD:  # a third of a last slot that stands alone
            return False
    spot = -1
    for change in changes:
        at = (change.onset - start) * columns // ticks
        if (change.onset - start) * columns % ticks or at < spot:
            return False
        spot = at + len(_chord_text(change)) + 1
    # room before the next measure's number
    return phone or spot + 2 <= columns + _LEAD or not changes


def _chord_text(change: Change) -> str:
    return "N.C." if change.chord is None else change.chord.name


def _block(
    passage: Passage,
    number: int | None,
    inks: Sequence[_Ink],
    changes: Sequence[Change],
    start: int,
    ticks: int,
    columns: int,
    length: str | None,
    left: LeftFingers,
) -> _Block:
    def column(onset: int) -> int:
        return (onset - start) * columns // ticks + _LEAD

    width = max(
        [columns, *(column(ink.note.onset) + len(ink.text) for ink in inks)],
    )
    rows = [["-"] * width for _ in range(passage.instrument.strings)]
    fingers: dict[int, list[str]] = {}
    stopped: dict[int, list[str]] = {}
    for ink in inks:
        at = column(ink.note.onset)
        row = rows[ink.note.string - 1]
        row[at - len(ink.before) : at + len(ink.text)] = ink.before + ink.text
        if ink.note.finger:
            fingers.setdefault(at, []).append(ink.note.finger)
        finger = left.get((ink.note.onset, ink.note.string))
        if finger:
            stopped.setdefault(at, []).append(str(finger))
    return _Block(
        number,
        tuple("".join(row) for row in rows),
        tuple((column(change.onset), _chord_text(change)) for change in changes),
        tuple(
            (at, "".join(sorted(letters, key=RIGHT_HANDS.index))) for at, letters in sorted(fingers.items())
        ),
        length,
        tuple((at, "".join(sorted(found))) for at, found in sorted(stopped.items())),
    )


@dataclass(frozen=True, slots=True)
class _Group:
    """Blocks printed side by side; ``begins`` and ``ends`` are the marks at the outer edges."""

    blocks: tuple[_Block, ...]
    begins: str = "|"
    ends: str = "|"


def _groups(blocks: Sequence[_Block], width: int, phone: bool) -> list[_Group]:
    groups: list[_Group] = []
    line: list[_Block] = []
    used = 2
    room = width - 3
    for block in blocks:
        if line and (used + block.width + 1 > width or (phone and line[-1].number is not None)):
            groups.append(_Group(tuple(line)))
            line, used = [], 2
        if block.width > room:
            if line:
                groups.append(_Group(tuple(line)))
                line, used = [], 2
            groups.extend(_cut(block, room))
            continue
        line.append(block)
        used += block.width + 1
    if line:
        groups.append(_Group(tuple(line)))
    return groups


def _cut(block: _Block, room: int) -> list[_Group]:
    """A block too wide for a line, as groups that go on, cut only where every row has a dash."""
    groups: list[_Group] = []
    at = 0
    while at < block.width:
        end = min(at + room, block.width)
        if end < block.width:
            end = next(
                (p for p in range(end, at + 1, -1) if all(row[p - 1] == "-" for row in block.rows)),
                end,
            )
        piece = _Block(
            block.number if at == 0 else None,
            tuple(row[at:end] for row in block.rows),
            tuple((c - at, text) for c, text in block.chords if at <= c < end),
            tuple((c - at, letters) for c, letters in block.fingers if at <= c < end),
            block.length if at == 0 else None,
            tuple((c - at, found) for c, found in block.left if at <= c < end),
        )
        groups.append(_Group((piece,), "|" if at == 0 else GOES_ON, "|" if end == block.width else GOES_ON))
        at = end
    return groups


def _print(group: _Group) -> list[str]:
    """The lines of one group: lengths, numbers and chords, rows, fingers."""
    lengths, numbers, chords = _Strip(), _Strip(), _Strip()
    fingers: list[_Strip] = []
    left: list[_Strip] = []
    bar = 1
    for block in group.blocks:
        first = bar + 1
        if block.length:
            lengths.put(first, block.length)
        if block.number is not None:
            text = str(block.number)
            (chords if len(text) < 3 else numbers).put(bar + 1 - len(text), text)
        for at, text in block.chords:
            chords.put(first + at, text)
        _stack(fingers, first, block.fingers)
        _stack(left, first, block.left)
        bar += block.width + 1
    rows = [
        f"{string}{group.begins}" + "|".join(block.rows[string - 1] for block in group.blocks) + group.ends
        for string in range(1, len(group.blocks[0].rows) + 1)
    ]
    above = [strip.text for strip in (lengths, numbers, chords) if strip.text]
    labelled = [_LEFT + strip.text[1:] for strip in left]
    return [*above, *rows, *(strip.text for strip in fingers), *labelled]


def _stack(strips: list["_Strip"], first: int, marks: Sequence[tuple[int, str]]) -> None:
    """Put marks into strips, those for one column below each other."""
    for at, letters in marks:
        for depth, letter in enumerate(letters):
            if depth == len(strips):
                strips.append(_Strip())
            strips[depth].put(first + at, letter)


class _Strip:
    """A line of marks, each at its column."""

    def __init__(self) -> None:
        self.text = ""

    def put(self, column: int, mark: str) -> None:
        self.text = self.text.ljust(max(0, column)) + mark
