"""What the signs between measures make of them: parts, each written once, and the order that they are played in.

Sections lie between repeat signs, double bars and part fields; each pass through one is a part, and equal passes are one part.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from service.errors import Fault
from service.music.tunes import MAX_MEASURES, MelodyNote, merged
from service.notation.abc_body import Sign, TooLong, Written
from service.notation.brought import BroughtPart

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_ORDER = re.compile(r"([A-Z])(\d{0,3})|(\()|\)(\d{0,3})|[\s.,*]+")
_LISTED = 12  # places that one remark names


@dataclass(frozen=True, slots=True)
class Form:
    parts: tuple[BroughtPart, ...]
    order: tuple[str, ...]
    remarks: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class _Section:
    """Measures from ``start`` up to ``end``, played ``times``; ``lead`` is a pickup that stands before the repeat sign."""

    start: int
    end: int
    times: int
    lead: int | None = None


@dataclass(slots=True)
class _Pass:
    """One way through a section as a part without a name."""

    content: BroughtPart
    kept: bool  # there is a pickup, and no silence at the end that it fills
    completed: int  # ticks that the last measure lacked and was told with
    odd: list[int] = field(default_factory=list)  # numbers of measures of another length


def form_of(measures: Sequence[Written], last: Sign, order: str | None) -> Form:
    """``order`` is the P: field of the header. Raises TooLong."""
    signs = [*(measure.sign for measure in measures), last]
    sections = _with_leads(_sections(signs), measures)
    pickups = _pickups(sections, measures)
    labels = [signs[section.start if section.lead is None else section.lead].label for section in sections]
    names = _Names({label for label in labels if label})
    played: list[str] = []
    by_label: dict[str, list[str]] = {}
    kept: list[str] = []
    odd: list[str] = []
    under = ""
    for section, label in zip(sections, labels, strict=True):
        if len(played) + section.times > MAX_MEASURES:
            raise TooLong  # a pass has a measure at least
        passes = list(_passes(section, list(_ways(section, signs)), measures, pickups))
        named = names.of([one.content for one in passes], label)
        under = label or under
        by_label.setdefault(under, []).extend(named)
        played += named
        if all(one.kept for one in passes):
            kept.append(named[0])
        odd += [f"{name} {number}" for name, one in zip(named, passes, strict=True) for number in one.odd]
    remarks = []
    if kept:
        remarks.append(Fault("abc-pickup-kept", {"parts": _listed(kept)}))
    if odd:
        remarks.append(Fault("abc-other-lengths", {"measures": _listed(odd)}))
    if order is not None:
        letters = _spread(order)
        if letters and all(letter in by_label for letter in letters):
            played = [name for letter in letters for name in by_label[letter]]
        else:
            remarks.append(Fault("abc-order-left-out", {"order": order[:40]}))
    lengths = {part.name: len(part.measures) for part in names.parts}
    if sum(lengths[name] for name in played) > MAX_MEASURES:
        raise TooLong
    return Form(tuple(names.parts), tuple(played), tuple(remarks))


def _pickups(sections: Sequence[_Section], measures: Sequence[Written]) -> set[int]:
    """The lengths that pickups have anywhere in the tune."""
    firsts = [section.start for section in sections if section.end - section.start > 1]
    leads = [section.lead for section in sections if section.lead is not None]
    return {measures[index].ticks for index in (*firsts, *leads) if measures[index].short}


def _sections(signs: Sequence[Sign]) -> Iterator[_Section]:
    """A repeat without a beginning goes back to where the section begins; a double bar inside a whole repeat cuts nothing."""
    end = len(signs) - 1
    closed_next = [False] * (end + 1)  # whether the next repeat sign after this one closes
    for index in range(end - 1, -1, -1):
        after = signs[index + 1]
        closed_next[index] = after.closes > 0 or (closed_next[index + 1] and not after.opens)
    start, inside = 0, signs[0].opens
    for index in range(1, end + 1):
        sign = signs[index]
        further = bool(sign.endings) and not sign.opens and index < end  # an ending goes on with the section
        if sign.closes and further:
            inside = False
            continue
        parted = (
            (sign.double or sign.label is not None) and not further and not (inside and closed_next[index])
        )
        if sign.closes or sign.opens or parted or index == end:
            yield _Section(start, index, sign.closes or 1)
            start, inside = index, sign.opens


def _with_leads(sections: Iterator[_Section], measures: Sequence[Written]) -> list[_Section]:
    """A short measure alone before a section is its pickup."""
    found: list[_Section] = []
    lead: int | None = None
    for section in sections:
        alone = section.end - section.start == 1 and measures[section.start].short and section.times == 1
        follows = section.end < len(measures) and not measures[section.end].short
        if alone and follows and lead is None:
            lead = section.start
            continue
        found.append(replace(section, lead=lead))
        lead = None
    return found


def _ways(section: _Section, signs: Sequence[Sign]) -> Iterator[list[int]]:
    """The measures of each pass, by their numbers; those of an ending only in its passes."""
    endings: list[tuple[int, ...]] = []
    for index in range(section.start, section.end):
        before = endings[-1] if endings else ()
        endings.append(signs[index].endings or before)
    for number in range(1, max([section.times, *(max(of) for of in endings if of)]) + 1):
        way = [
            index
            for index, of in zip(range(section.start, section.end), endings, strict=True)
            if not of or number in of
        ]
        if way:
            yield way


def _passes(
    section: _Section, ways: Sequence[list[int]], measures: Sequence[Written], pickups: set[int]
) -> Iterator[_Pass]:
    """A pickup before the repeat sign is played again only where the pass before leaves time for it."""
    lead = None if section.lead is None else measures[section.lead]
    room = None if lead is None else lead.ticks
    before: tuple[list[int], Written | None, _Pass] | None = None
    for way in ways:
        first = lead if lead is not None and room == lead.ticks else None
        if before is not None and before[:2] == (way, first):
            made = before[2]
        else:
            made = _pass(_joined(way, measures), first, pickups)
        before = (way, first, made)
        room = made.completed
        yield made


def _joined(way: Sequence[int], measures: Sequence[Written]) -> list[Written]:
    """The measures of a pass, those that a sign splits put together again."""
    found: list[Written] = []
    for index in way:
        one = measures[index]
        before = found[-1] if found else None
        if (
            before is not None
            and before.short
            and before.full == one.full
            and before.ticks + one.ticks == one.full
            and not one.sign.plain
        ):
            by = before.ticks
            found[-1] = Written(
                before.sign,
                one.full,
                one.full,
                before.notes + tuple(replace(note, onset=note.onset + by) for note in one.notes),
                before.tied | {len(before.notes) + place for place in one.tied},
                before.changes + tuple(replace(change, onset=change.onset + by) for change in one.changes),
            )
        else:
            found.append(one)
    return found


def _pass(chain: list[Written], lead: Written | None, pickups: set[int]) -> _Pass:
    if lead is not None:
        chain = [lead, *chain]
    pickup = chain[0].ticks if chain[0].short and len(chain) > 1 else 0
    at = -pickup
    notes: list[MelodyNote] = []
    changes = []
    held = False
    for one in chain:
        for place, note in enumerate(one.notes):
            before = notes[-1] if notes else None
            onset = at + note.onset
            if held and before and before.pitch == note.pitch and before.onset + before.duration == onset:
                notes[-1] = replace(before, duration=before.duration + note.duration)
            else:
                notes.append(replace(note, onset=onset))
            held = place in one.tied
        changes += [replace(change, onset=at + change.onset) for change in one.changes]
        at += one.ticks
    inside = chain[1:] if pickup else chain
    lengths = [one.ticks for one in inside]
    end = inside[-1]
    completed = end.full - end.ticks if end.full - end.ticks in pickups else 0
    lengths[-1] += completed
    return _Pass(
        BroughtPart("", tuple(lengths), tuple(notes), merged(changes)),
        kept=bool(pickup) and end.ticks == end.full,
        completed=completed,
        odd=[n for n, (one, ticks) in enumerate(zip(inside, lengths, strict=True), 1) if ticks != one.full],
    )


class _Names:
    """Names of parts: a letter, a number after it for the passes that differ; equal parts have one name."""

    def __init__(self, taken: set[str]) -> None:
        self.parts: list[BroughtPart] = []
        self._by_content: dict[BroughtPart, str] = {}
        self._used: set[str] = set()
        self._free: Iterator[str] = (
            letter + more for more in ("", *_LETTERS) for letter in _LETTERS if letter + more not in taken
        )

    def of(self, passes: Sequence[BroughtPart], label: str | None) -> list[str]:
        found: list[str] = []
        letter = ""
        for content in passes:
            name = self._by_content.get(content)
            if name is None:
                if not letter:
                    letter = self._letter(label)
                name = letter
                number = 2
                while name in self._used:
                    name, number = f"{letter}{number}", number + 1
                self._used.add(name)
                self._by_content[content] = name
                self.parts.append(replace(content, name=name))
            letter = letter or name.rstrip("0123456789")
            found.append(name)
        return found

    def _letter(self, label: str | None) -> str:
        if label and label in _LETTERS and label not in self._used:
            return label
        return next(self._free)


def _spread(order: str) -> str:
    """``A2(BC)3`` as ABCBCBC without the order's own marks; nothing where it is no such order. Raises TooLong."""
    stack: list[list[str]] = [[]]
    at = 0
    while at < len(order):
        match = _ORDER.match(order, at)
        if match is None:
            return ""
        at = match.end()
        letter, times, opened, again = match.groups()
        if opened:
            stack.append([])
        elif again is not None:
            if len(stack) == 1:
                return ""
            group = stack.pop()
            if len(group) * int(again or 1) > MAX_MEASURES:
                raise TooLong
            stack[-1] += group * int(again or 1)
        elif letter:
            stack[-1] += [letter] * int(times or 1)
        if len(stack[-1]) > MAX_MEASURES:
            raise TooLong
    return "".join(stack[0]) if len(stack) == 1 else ""


def _listed(places: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(places))
    return ", ".join(distinct[:_LISTED]) + (" ..." if len(distinct) > _LISTED else "")
