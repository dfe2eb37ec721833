"""From measures as a file writes them to parts and the order they are played in.

Sections lie between repeat signs and double bars; each is a part, lettered in the order they come. A repeat without a sign
where it begins goes back to the last sign, or to the beginning. With endings each pass is a part of its own, the section with
its ending. A part that equals an earlier one takes its name.

A short first measure of a section is its pickup. A short last measure that a pickup of the tune makes whole is told as a
whole one, whichever section the pickup belongs to, for what follows differs from pass to pass. Two short measures inside a
section that make a whole one are one. A short measure alone before the first repeat sign is a pickup
to what follows: of the first pass, and of every other that comes after a measure short by as much.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from string import ascii_uppercase

from service.errors import Fault, ReadingError
from service.music.licks import Change
from service.music.meter import Meter
from service.music.tunes import MAX_MEASURES, MelodyNote, merged
from service.notation.brought import BroughtPart

MOST_PASSES = 32  # of a repeat, ours: more is a slip of the pen
FASTEST = 1000  # beats a minute, ours: more is no tempo
_MEASURES_TOLD = 20  # in a remark


@dataclass(frozen=True, slots=True)
class BarNote:
    """Onset in ticks from the start of its measure; whether it is tied to the note before and after."""

    onset: int
    duration: int
    pitch: int
    tied_from: bool = False
    tied_to: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """A measure as it is written: what it lasts and what it would if it were full, in ticks.

    ``changes`` begin with the chord that goes on from the measure before. One that is not counted is ``implicit``. ``opens``:
    a double bar before it; ``closes``: one after it; ``forward``: a repeat begins; ``times``: how often what ends here is
    played, 1 without a repeat sign; ``ending``: the passes it is played in, empty outside endings.
    """

    number: int
    ticks: int
    full: int
    notes: tuple[BarNote, ...] = ()
    changes: tuple[Change, ...] = ()
    implicit: bool = False
    opens: bool = False
    closes: bool = False
    forward: bool = False
    times: int = 1
    ending: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Form:
    parts: tuple[BroughtPart, ...]
    order: tuple[str, ...]
    remarks: tuple[Fault, ...]


@dataclass(slots=True)
class _Group:
    """What one repeat sign plays again: sections, the last of which has endings. ``lead`` is a pickup from before it."""

    sections: list[list[Bar]] = field(default_factory=lambda: [[]])
    endings: list[tuple[tuple[int, ...], list[Bar]]] = field(default_factory=list)
    times: int = 1
    lead: Bar | None = None

    @property
    def empty(self) -> bool:
        return not self.endings and not any(self.sections)

    @property
    def passes(self) -> int:
        last = max((max(numbers) for numbers, _ in self.endings), default=1)
        return max(self.times, last) if not self.endings else max(last, min(self.times, 2))

    def section(self, number: int, index: int) -> list[Bar]:
        """The measures of a section in pass ``number``, from 1."""
        bars = self.sections[index]
        if index + 1 < len(self.sections):
            return bars
        return bars + next((ending for numbers, ending in self.endings if number in numbers), [])


def form_of(bars: Sequence[Bar], meter: Meter) -> Form:
    """Parts and order of the measures. Raises ReadingError where repeats make more than MAX_MEASURES of them."""
    played: list[tuple[int, tuple[Bar, ...]]] = []  # sections by number, as they come
    measures = first = 0
    for group in _groups(bars, meter):
        for number in range(1, group.passes + 1):
            for index in range(len(group.sections)):
                section = group.section(number, index)
                if not section:
                    continue
                lead = group.lead if index == 0 else None
                if lead is not None and (number == 1 or (played and lacks(played[-1][1][-1], lead))):
                    section = [lead, *section]
                measures += len(section)
                if measures > MAX_MEASURES:
                    raise ReadingError([Fault("too-many-measures", {"most": MAX_MEASURES})])
                played.append((first + index, tuple(_whole_bars(section))))
        first += len(group.sections)
    pickups = {section[0].ticks for _, section in played if _has_pickup(section, meter)}
    parts = [(number, _part(section, meter, pickups)) for number, section in played]
    named, order = named_parts(parts)
    return Form(named, order, tuple(_crooked(played, meter, pickups)))


def named_parts(
    sections: Iterable[tuple[int, BroughtPart]],
) -> tuple[tuple[BroughtPart, ...], tuple[str, ...]]:
    """Parts under their names, and the order, of sections as they are played, each with the number of the section.

    Sections of one number share a letter: A, A2, A3 where they differ. What equals an earlier part is that part.
    """
    parts: dict[tuple[object, ...], BroughtPart] = {}
    letters: dict[int, tuple[str, int]] = {}
    order: list[str] = []
    for number, part in sections:
        content = (part.measures, part.melody, part.changes)
        if content not in parts:
            letter, times = letters.get(number, (_letter(len(letters)), 0))
            letters[number] = (letter, times + 1)
            parts[content] = replace(part, name=letter + (str(times + 1) if times else ""))
        order.append(parts[content].name)
    return tuple(parts.values()), tuple(order)


def one_line(notes: Iterable[MelodyNote], end: int) -> tuple[MelodyNote, ...]:
    """The notes one after the other: of those that begin together the highest, each until the next or until ``end``."""
    highest: dict[int, MelodyNote] = {}
    for note in notes:
        before = highest.get(note.onset)
        if before is None or note.pitch > before.pitch:
            highest[note.onset] = note
    kept: list[MelodyNote] = []
    until = end
    for onset in sorted(highest, reverse=True):
        note = highest[onset]
        kept.append(MelodyNote(onset, min(note.duration, until - onset), note.pitch))
        until = onset
    return tuple(note for note in reversed(kept) if note.duration > 0)


def _letter(number: int) -> str:
    """A to Z, then AA, AB ..."""
    more, last = divmod(number, len(ascii_uppercase))
    return (_letter(more - 1) if more else "") + ascii_uppercase[last]


def _groups(bars: Sequence[Bar], meter: Meter) -> list[_Group]:
    groups: list[_Group] = []
    group = _Group()
    done = False  # a repeat sign has ended the group; only endings may follow
    for bar in bars:
        if bar.ending:
            if not group.endings or group.endings[-1][0] != bar.ending:
                group.endings.append((bar.ending, []))
            group.endings[-1][1].append(bar)
        else:
            if not group.empty and (done or bar.forward or group.endings):
                groups.append(group)
                group = _Group()
            elif bar.opens and group.sections[-1]:
                group.sections.append([])
            group.sections[-1].append(bar)
            if bar.closes and bar.times == 1:
                group.sections.append([])
        group.times = max(group.times, bar.times)
        done = bar.times > 1
    groups.append(group)
    for one in groups:  # a double bar that a repeat or the end follows has opened nothing
        if len(one.sections) > 1 and not one.sections[-1] and not one.endings:
            one.sections.pop()
    found: list[_Group] = []
    for one in groups:
        if found and _is_lead(found[-1], meter):
            one.lead = found.pop().sections[0][0]
        found.append(one)
    return found


def _is_lead(group: _Group, meter: Meter) -> bool:
    alone = [bar for section in group.sections for bar in section]
    return not group.endings and group.times == 1 and len(alone) == 1 and _short(alone[0], meter)


def _short(bar: Bar, meter: Meter) -> bool:
    return bar.ticks < bar.full or (bar.implicit and bar.ticks < meter.measure_ticks)


def lacks(bar: Bar, pickup: Bar) -> bool:
    """Whether a measure is short by as much as the pickup lasts."""
    return bar.ticks + pickup.ticks == bar.full


def _has_pickup(section: Sequence[Bar], meter: Meter) -> bool:
    return len(section) > 1 and _short(section[0], meter)


def _whole_bars(section: Sequence[Bar]) -> list[Bar]:
    """Measures that are split at the end of a line, say, put together."""
    found: list[Bar] = []
    for index, bar in enumerate(section):
        if index > 1 and found[-1].ticks < found[-1].full == bar.full and lacks(found[-1], bar):
            first = found.pop()
            bar = replace(
                first,
                ticks=first.full,
                notes=first.notes + tuple(replace(n, onset=n.onset + first.ticks) for n in bar.notes),
                changes=first.changes + tuple(Change(c.onset + first.ticks, c.chord) for c in bar.changes),
            )
        found.append(bar)
    return found


def _told(bar: Bar, pickups: set[int]) -> int:
    """The length of a last measure."""
    return bar.full if bar.full - bar.ticks in pickups else bar.ticks


def _part(section: Sequence[Bar], meter: Meter, pickups: set[int]) -> BroughtPart:
    begins = -section[0].ticks if _has_pickup(section, meter) else 0
    measures = [bar.ticks for bar in section[1 if begins else 0 :]]
    measures[-1] = _told(section[-1], pickups)
    melody: list[MelodyNote] = []
    changes: list[Change] = []
    start, tied = begins, False
    for bar in section:
        for note in sorted(bar.notes, key=lambda note: note.onset):
            onset = start + note.onset
            before = melody[-1] if melody else None
            if (
                note.tied_from
                and tied
                and before is not None
                and before.pitch == note.pitch
                and before.onset + before.duration == onset
            ):
                melody[-1] = MelodyNote(before.onset, before.duration + note.duration, note.pitch)
            else:
                melody.append(MelodyNote(onset, note.duration, note.pitch))
            tied = note.tied_to
        changes.extend(Change(start + change.onset, change.chord) for change in bar.changes)
        start += bar.ticks
    return BroughtPart(
        "",
        tuple(measures),
        one_line(melody, sum(measures)),
        merged([change for change in changes if change.onset >= 0]),
    )


def _crooked(played: Sequence[tuple[int, Sequence[Bar]]], meter: Meter, pickups: set[int]) -> list[Fault]:
    odd: dict[int, None] = {}
    for _, section in played:
        *before, last = section[1:] if _has_pickup(section, meter) else section
        odd |= {bar.number: None for bar in before if bar.ticks != meter.measure_ticks}
        if _told(last, pickups) != meter.measure_ticks:
            odd[last.number] = None
    return crooked(odd)


def crooked(measures: Iterable[int]) -> list[Fault]:
    """One remark on measures of another length, by their numbers; none if there are none."""
    told = ", ".join(map(str, list(measures)[:_MEASURES_TOLD]))
    return [Fault("tune-crooked", {"measures": told})] if told else []
