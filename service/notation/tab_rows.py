"""Finds the staves of a pasted tab: which lines are rows, which belong above or below them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from service.errors import Fault, ReadingError
from service.music.instruments import Instrument, Tuning, label_matches
from service.notation.clean import EM_DASH, EN_DASH, Line

LONG_DASH_WIDTHS = ((1, 1), (2, 1), (2, 2), (3, 2), (3, 1), (1, 2))  # (em, en) in the order they are tried
ROW_SHARE = 0.6  # of a row's characters are dashes, digits or bars; common practice, no source
_LABEL = re.compile(r"\s*(?:\[?(?:([A-Ga-g][#b]?)|([1-9]))(?:st|nd|rd|th)?\]?)\s*(?=[|:>\-])(:(?=[-\d|]))?")
GOES_ON = ">"  # at the end of a row: the measure goes on in the next staff
_REMARK = re.compile(r"(?<=[|\-\d])\s+(?=[^\s|\-\d]|\d+\s*[xX]\s*$)")
_SHORT_ROW = re.compile(r"[|>][-\d()xX/\\hpb=]+[|>]\s*$")  # with a label, one note is enough
_HAND_LABEL = re.compile(r"\s*(?:RH|R\.H\.|rh|picking)\s*[:|]?(?=\s)")
FINGER_LETTERS = "TIMpimatdu"


@dataclass(frozen=True, slots=True)
class Row:
    """One string's line: characters from ``start`` to ``end`` of ``line`` are music."""

    line: Line
    label: str | None
    start: int
    end: int

    @property
    def body(self) -> str:
        return self.line.text[self.start : self.end]


@dataclass(frozen=True, slots=True)
class Staff:
    """Rows by string, string 1 first; annotation lines that stand above and below."""

    rows: tuple[Row, ...]
    above: tuple[Line, ...]
    below: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Staves:
    """All staves of a text, and how they were recognised: ``turned`` ones had string 1 at the bottom,
    ``filled_in`` ones left empty rows out; ``long_dashes`` is how many dashes an em and an en dash made;
    ``spelled`` is the tuning that letters before the rows name.
    """

    staves: tuple[Staff, ...]
    labelled: bool
    turned: bool
    filled_in: bool
    long_dashes: tuple[int, int] | None
    trailing: tuple[Fault, ...]
    spelled: Tuning | None


def is_row(line: Line) -> bool:
    """Whether a line looks like one string of a tab."""
    text = line.text
    label = _LABEL.match(text)
    body = text[label.end() :] if label else text
    dashes = sum(body.count(dash) for dash in ("-", EM_DASH, EN_DASH))
    if label and _SHORT_ROW.match(body):
        return True
    if dashes < 2 and not (body.count("|") >= 2 and dashes):
        return False
    last = max(body.rfind(c) for c in ("-", "|", EM_DASH, EN_DASH))
    core = body[: last + 1]
    solid = sum(c in "-|" or c.isdigit() or c in (EM_DASH, EN_DASH) for c in core)
    letters = sum(c.isalpha() and c not in "hHpPsSlLbBcCrRxXtTvVoO" for c in core)
    # behind a bar or a label's colon a stray letter is a slip in a row, not prose
    barred = body.lstrip().startswith("|") or bool(label and label.group(3))
    return (letters == 0 or barred) and solid >= ROW_SHARE * len(core.replace(" ", "") or "?")


def find_staves(lines: Sequence[Line], instrument: Instrument, tuning: Tuning | None) -> Staves:
    """Group rows into staves.

    Raises ReadingError when there are no rows, or when a group of rows does not make whole staves.
    """
    groups = _groups(_single_spaced(lines))
    if not groups:
        lone = next((line for line in lines if is_row(line)), None)
        if lone is not None:
            raise ReadingError([_row_count(lone, 1, instrument)])
        raise ReadingError([Fault("no-tab", {"strings": instrument.strings}, line=1, column=1)])
    staves: list[Staff] = []
    trailing: list[Fault] = []
    faults: list[Fault] = []
    labelled = turned = filled_in = False
    used_dashes: tuple[int, int] | None = None
    before: list[str] = []
    for rows, above, below in groups:
        rows = _without_rules(rows, instrument)
        labels = [_label_of(row) or "" for row in rows]
        if _goes_on(before, labels, instrument):
            faults.append(rows[0].fault("rows-apart", 0, rows=" ".join(labels)))
            continue
        before = labels
        rows, dashes = _same_width(rows)
        used_dashes = dashes or used_dashes
        split = _split(rows, instrument)
        if split is None:
            faults.append(_row_count(rows[0], len(rows), instrument))
            continue
        odd = [fault for chunk in split if (fault := _odd_labels(chunk, instrument))]
        if odd:
            faults.extend(odd)
            continue
        for index, chunk in enumerate(split):
            made, named, over, short, left = _staff(
                chunk,
                instrument,
                tuning,
                above if index == 0 else (),
                below if index == len(split) - 1 else (),
            )
            labelled, turned, filled_in = labelled or named, turned or over, filled_in or short
            trailing.extend(left)
            staves.append(made)
    if faults:
        raise ReadingError(faults)
    spelled = _tuning_of(staves, instrument) if tuning is None else None
    return Staves(
        tuple(staves),
        labelled,
        turned,
        filled_in,
        used_dashes,
        tuple(trailing),
        spelled,
    )


def _without_rules(rows: list[Line], instrument: Instrument) -> list[Line]:
    """Rows without the lines of bare dashes that rule a staff off above or below."""
    bare = [set(row.text.strip()) <= {"-"} for row in rows]
    if len(rows) % instrument.strings == 0 or all(bare):
        return rows
    first = next(index for index, plain in enumerate(bare) if not plain)
    last = next(index for index in range(len(rows), 0, -1) if not bare[index - 1])
    kept = rows[first:last]
    return kept if len(kept) % instrument.strings == 0 else rows


def _goes_on(before: Sequence[str], labels: Sequence[str], instrument: Instrument) -> bool:
    """Whether numbered rows only complete those of the group before them."""
    numbers = [*before, *labels]
    whole = [str(n) for n in range(1, instrument.strings + 1)]
    return 0 < len(before) < len(whole) and numbers == whole


def _row_count(line: Line, rows: int, instrument: Instrument) -> Fault:
    return line.fault("wrong-row-count", 0, rows=rows, strings=instrument.strings, instrument=instrument.name)


def _odd_labels(rows: Sequence[Line], instrument: Instrument) -> Fault | None:
    """A fault for rows that all have labels before a bar or colon, but in no order."""
    labels = [_label_of(row) for row in rows]
    if any(label is None for label in labels):
        return None
    behind = [
        row.text[match.end() - 1 : match.end() + 1] for row in rows if (match := _LABEL.match(row.text))
    ]
    if not all("|" in mark or ":" in mark or GOES_ON in mark for mark in behind):
        return None  # digits before dashes may be frets
    given = [label or "" for label in labels]
    digits = [label.isdigit() for label in given]
    if all(digits):
        numbers = [int(label) for label in given]
        ordered = numbers in (sorted(set(numbers)), sorted(set(numbers), reverse=True))
        if ordered and max(numbers) <= instrument.strings:
            return None
    elif not any(digits):
        return None
    return rows[0].fault("labels-out-of-order", 0, labels=" ".join(given))


def _single_spaced(lines: Sequence[Line]) -> Sequence[Line]:
    """The lines without the empty ones between rows, if every row was pasted with one after it."""
    rows = [is_row(line) for line in lines]
    if any(a and b for a, b in pairwise(rows)):
        return lines
    return [
        line
        for index, line in enumerate(lines)
        if line.text.strip() or not (0 < index < len(lines) - 1 and rows[index - 1] and rows[index + 1])
    ]


_Group = tuple[list[Line], tuple[Line, ...], tuple[Line, ...]]


def _groups(lines: Sequence[Line]) -> list[_Group]:
    """Runs of neighbouring rows, each with the short lines right above and below."""
    runs: list[tuple[int, int]] = []
    index = 0
    while index < len(lines):
        if not is_row(lines[index]):
            index += 1
            continue
        end = index
        while end < len(lines) and is_row(lines[end]):
            end += 1
        if end - index > 1:
            runs.append((index, end))
        index = end
    groups: list[_Group] = []
    for position, (start, end) in enumerate(runs):
        floor = runs[position - 1][1] if position else 0
        ceiling = runs[position + 1][0] if position + 1 < len(runs) else len(lines)
        above_from = start
        while above_from > floor and lines[above_from - 1].text.strip():
            above_from -= 1
        below_to = end
        while below_to < ceiling and lines[below_to].text.strip():
            below_to += 1
        if position + 1 < len(runs) and below_to == ceiling:
            # no blank line before the next staff: the right-hand row stays, the rest goes up to it
            below_to = end
            while below_to < ceiling and right_hand(lines[below_to]):
                below_to += 1
        if position and above_from == floor:
            while above_from < start and right_hand(lines[above_from]):
                above_from += 1
        groups.append((list(lines[start:end]), tuple(lines[above_from:start]), tuple(lines[end:below_to])))
    return groups


def right_hand(line: Line) -> list[tuple[int, str]]:
    """Picking fingers by character, if a line holds nothing else but dashes and perhaps ``RH``."""
    lead = _HAND_LABEL.match(line.text)
    start = lead.end() if lead else 0
    letters = [(at, line.text[at]) for at in range(start, len(line.text)) if line.text[at] not in " -"]
    if not letters or not all(letter in FINGER_LETTERS for _, letter in letters):
        return []
    if any(letter == "t" for _, letter in letters):  # t i m in small letters are thumb, index, middle
        return [(at, letter.upper()) for at, letter in letters if letter in "tim"]
    return letters


def _same_width(rows: list[Line]) -> tuple[list[Line], tuple[int, int] | None]:
    """Write long dashes out so that all rows come to the same width, if any way does that."""
    if not any(EM_DASH in row.text or EN_DASH in row.text for row in rows):
        return rows, None
    for em, en in LONG_DASH_WIDTHS:
        wide = [row.expanded(em, en) for row in rows]
        if len({_music_end(row.text) for row in wide}) == 1:
            return wide, (em, en)
    return [row.expanded(1, 1) for row in rows], (1, 1)


def _music_end(text: str) -> int:
    return max(text.rfind("-"), text.rfind("|"))


def _split(rows: list[Line], instrument: Instrument) -> list[list[Line]] | None:
    """Whole staves out of a run of rows; None if it does not divide."""
    strings = instrument.strings
    if len(rows) % strings == 0:
        return [rows[i : i + strings] for i in range(0, len(rows), strings)]
    numbers = [_label_of(row) for row in rows]
    if len(rows) < strings and all(n is not None and n.isdigit() for n in numbers):
        found = [int(n) for n in numbers if n]
        if (
            len(set(found)) == len(found)
            and max(found) <= strings
            and found in (sorted(found), sorted(found)[::-1])
        ):
            return [rows]
    return None


def _label_of(line: Line) -> str | None:
    match = _LABEL.match(line.text)
    return (match.group(1) or match.group(2)) if match else None


def _staff(
    rows: list[Line],
    instrument: Instrument,
    tuning: Tuning | None,
    above: tuple[Line, ...],
    below: tuple[Line, ...],
) -> tuple[Staff, bool, bool, bool, list[Fault]]:
    labels = [_label_of(row) for row in rows]
    order = _order(labels, instrument, tuning)
    named = order is not None
    made: dict[int, Row] = {}
    trailing: list[Fault] = []
    for position, line in enumerate(rows):
        string = order[position] if order else position + 1
        row = _row(line, labels[position] if named else None)
        rest = line.text[row.end :].strip()
        if rest:
            at = line.text.index(rest, row.end)
            trailing.append(line.fault("trailing-words", at, words=rest[:40]))
        made[string] = row
    short = len(made) < instrument.strings
    if short:
        pattern = next(iter(made.values()))
        empty = re.sub(r"[^|]", "-", pattern.line.text)
        for string in range(1, instrument.strings + 1):
            if string not in made:
                made[string] = replace(pattern, line=replace(pattern.line, text=empty), label=None)
    turned = order is not None and order[0] > order[-1]
    staff = Staff(tuple(made[string] for string in sorted(made)), above, below)
    return staff, named, turned, short, trailing


def _order(labels: Sequence[str | None], instrument: Instrument, tuning: Tuning | None) -> list[int] | None:
    """Which string each row is by its label; None if the labels do not say (they may be frets)."""
    if any(label is None for label in labels):
        return None
    given = [label for label in labels if label is not None]
    if all(label.isdigit() for label in given):
        found = [int(label) for label in given]
        return found if found in (sorted(set(found)), sorted(set(found))[::-1]) else None
    if any(label.isdigit() for label in given) or len(given) != instrument.strings:
        return None
    down = list(range(1, instrument.strings + 1))
    tunings = (tuning,) if tuning else instrument.tunings
    for order in (down, down[::-1]):
        if any(
            all(label_matches(label, t, string) for label, string in zip(given, order, strict=True))
            for t in tunings
        ):
            return order
    return down


def _tuning_of(staves: Sequence[Staff], instrument: Instrument) -> Tuning | None:
    """The tuning that the rows' letters spell, if they spell one."""
    letters = [row.label for row in staves[0].rows]
    if any(label is None or label.isdigit() for label in letters):
        return None
    given = [label or "" for label in letters]
    for tuning in instrument.tunings:
        if all(label_matches(label, tuning, n) for n, label in enumerate(given, 1)):
            return tuning
    names = " ".join(given)
    line = staves[0].rows[0].line
    known = ", ".join(t.id for t in instrument.tunings)
    raise ReadingError([line.fault("labels-name-no-tuning", 0, labels=names, known=known)])


def _row(line: Line, label: str | None) -> Row:
    text = line.text
    match = _LABEL.match(text) if label is not None else None
    start = match.end() if match else len(text) - len(text.lstrip())
    remark = _REMARK.search(text, start)
    end = remark.start() if remark else len(text)
    unclosed = max(text.rfind(bar, start, end) for bar in "|]") + 1
    if 0 < unclosed < end and "-" not in text[unclosed:end] and not text.endswith(GOES_ON):
        end = unclosed
    return Row(line, label, start, end)
