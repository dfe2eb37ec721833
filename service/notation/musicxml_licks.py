"""Reads a lick from MusicXML 4.0 (the open standard of the W3C), plain or compressed, with a tab staff.

The first staff whose notes have strings and frets is read, all its voices as one lick. Notes last as in a tab, until the next or
the bar line; pieces tied within a measure are one note. Repeats are written out. Key and chords are told as the hand thinks of
them: where the file writes what sounds, they are moved down by the capo. Where a fret and a pitch differ the fret counts. Which
frets are meant: musicxml_strings.py.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, groupby
from xml.etree.ElementTree import Element

from service.errors import MOST_FAULTS, Fault, ReadingError
from service.music.fretboard import Fretboard
from service.music.harmony import Key
from service.music.instruments import Instrument
from service.music.licks import Change, Note, sounding
from service.music.meter import METER_NAMES, Meter, meter_named
from service.music.passages import Passage, lasting
from service.music.setting import sounding_key
from service.music.tunes import MelodyNote, merged
from service.notation.brought import MODES, mode_named
from service.notation.key_finding import likeliest_key
from service.notation.musicxml_opened import opened_score, part_names, title_of
from service.notation.musicxml_staff import StaffNote, StaffReader, tab_staff
from service.notation.musicxml_strings import Placed, strung
from service.notation.readings import LONGEST, MAX_MEASURES, Assumption, Reading, assumed
from service.notation.tab_grid import rhythm_rank
from service.notation.tab_notes import settled
from service.notation.tune_form import Bar, crooked, lacks

MOST_NOTES = 2000  # ours: a lick has some twenty, and a tab that can be sent in no more than these
_TOLD = 20  # parts, or elements, in a remark


@dataclass(frozen=True, slots=True)
class BroughtLick:
    """A lick out of a file: its name, empty where the file has none; the key in the playing position; what was read.

    The passage of the reading has no changes where the file has no chord symbols.
    """

    name: str
    key: Key
    reading: Reading


def read_lick_musicxml(
    data: bytes, instrument: Instrument, *, tuning: str | None = None, meter: str | None = None
) -> BroughtLick:
    """The lick of a file. What is passed in wins over what the file says.

    Raises ReadingError with a fault for each place, by its measure; DomainError for an unknown tuning or meter.
    """
    wanted = meter_named(meter) if meter else None
    root = opened_score(data)
    part, staff = _tab_part(root)
    if len(part.findall("measure")) > MAX_MEASURES:
        raise ReadingError([Fault("too-many-measures", {"most": MAX_MEASURES})])
    read = StaffReader(part, staff)
    if read.faults:
        raise ReadingError(read.faults)
    in_meter = wanted or _meter(read)
    parts: list[Assumption] = []
    remarks = _other_parts(root, part)
    on = strung(read, instrument, tuning, parts, remarks)
    pickup, body = _body(read.bars, in_meter, parts)
    first = 0 if pickup is None else 1
    faults = list(_unwritable(read, first, body, in_meter))
    sheets = [
        _once(on.placed(written, bar.number, faults), bar.number, faults)
        for bar, written in zip(read.bars, read.written, strict=True)
    ]
    if faults:
        raise ReadingError(faults)
    order = _order(body)
    lengths = tuple(body[number].ticks for number in order)
    *starts, end = accumulate(lengths, initial=0)
    made = _NoteMaker(read.left_out)
    changes: list[Change] = []
    if pickup is not None:
        made.measure(sheets[0], -pickup.ticks, pickup.number)
        if pickup.forward:
            remarks.append(Fault("pickup-once", measure=0))
    for number, start in zip(order, starts, strict=True):
        bar = body[number]
        made.measure(sheets[number + first], start, bar.number)
        changes += [
            Change(start + _snapped(c.onset, bar, in_meter), on.in_hand(c.chord)) for c in bar.changes
        ]
    if not order or not made.notes:
        raise ReadingError([Fault("no-notes")])
    board = on.fretboard
    notes = lasting(made.notes, starts, end)
    passage = Passage(
        instrument, board.tuning, in_meter, lengths, notes, _from_the_start(changes), board.capo, board.stop
    )
    key = _key(read.key, passage, on.moved, remarks)
    remarks += [*read.remarks.values(), *on.remarks(), *made.remarks()]
    remarks += crooked(bar.number for bar in body if bar.ticks != in_meter.measure_ticks)
    if read.left_out:
        told = ", ".join(list(read.left_out)[:_TOLD])
        remarks.append(Fault("lick-left-out", {"elements": told}, measure=min(read.left_out.values())))
    warnings = (*assumed(parts), *remarks)[:MOST_FAULTS]
    return BroughtLick(title_of(root), key, Reading(passage, warnings, tuple(number + 1 for number in order)))


def _tab_part(root: Element) -> tuple[Element, str]:
    for part in root.findall("part"):
        if (staff := tab_staff(part)) is not None:
            return part, staff
    raise ReadingError([Fault("lick-no-tab-staff")])


def _other_parts(root: Element, part: Element) -> list[Fault]:
    others = [
        one for one in root.findall("part") if one is not part and next(one.iter("pitch"), None) is not None
    ]
    if not others:
        return []
    names = part_names(root)
    told = ", ".join(names.get(one.get("id", ""), "?") for one in others[:_TOLD])
    return [Fault("lick-other-parts", {"part": names.get(part.get("id", ""), "?"), "others": told})]


def _meter(read: StaffReader) -> Meter:
    """The meter of most measures, of those that are known; of as many the first."""
    counted = Counter(name for name in read.meters if name in METER_NAMES)
    if not counted:
        known: dict[str, object] = {"name": read.meters[0], "known": ", ".join(METER_NAMES)}
        raise ReadingError([Fault("unknown-meter", known, measure=read.bars[0].number)])
    return meter_named(counted.most_common(1)[0][0])


# --- measures ----------------------------------------------------------------------------------------------


def _body(bars: Sequence[Bar], meter: Meter, parts: list[Assumption]) -> tuple[Bar | None, list[Bar]]:
    """The pickup and the measures. A last one that the pickup makes whole is told as a whole one."""
    pickup, *body = bars
    short = pickup.ticks < meter.measure_ticks and (pickup.implicit or pickup.ticks < pickup.full)
    if not body or not short:
        return None, list(bars)
    if not pickup.implicit:
        parts.append(Assumption("pickup", 1))
    if lacks(body[-1], pickup):
        body[-1] = replace(body[-1], ticks=body[-1].full)
    return pickup, body


def _order(bars: Sequence[Bar]) -> list[int]:
    """Numbers (from 0) of the measures as they are played. Raises ReadingError where that makes too many of them."""
    passes = _passes(bars)
    order: list[int] = []
    start = index = 0
    time = 1
    while index < len(bars):
        bar = bars[index]
        if index != start and (bar.forward or (bars[index - 1].ending and not bar.ending)):
            start, time = index, 1
        if not bar.ending or time in bar.ending:
            order.append(index)
            if len(order) > MAX_MEASURES:
                raise ReadingError([Fault("too-many-measures", {"most": MAX_MEASURES})])
            if bar.times > 1 and time < passes[index]:
                index, time = start, time + 1
                continue
        if bar.times > 1 and not bar.ending:
            start, time = index + 1, 1
        index += 1
    return order


def _passes(bars: Sequence[Bar]) -> list[int]:
    """How often what ends with each measure is played: of endings beside each other as often as any of them says."""
    found: list[int] = []
    for inside, run in groupby(bars, key=lambda bar: bool(bar.ending)):
        beside = list(run)
        if inside:
            last = max(max(*bar.ending, min(bar.times, 2)) for bar in beside)
            found += [last] * len(beside)
        else:
            found += [bar.times for bar in beside]
    return found


def _unwritable(read: StaffReader, first: int, body: Sequence[Bar], meter: Meter) -> Iterable[Fault]:
    """Measures that no tab can hold: of no whole steps, too long, or with notes between the finest steps that are counted.

    ``first`` is the number (from 0) of the first one in the file; before it is the pickup, which lies at the end of its measure.
    """
    for bar in body:
        if bar.ticks % meter.slot_ticks or bar.ticks > LONGEST * meter.measure_ticks:
            yield Fault("lick-measure-length", {"meter": meter.name}, measure=bar.number)
    for index, (bar, written) in enumerate(zip(read.bars, read.written, strict=True)):
        begin = 0 if index >= first else -bar.ticks
        if rhythm_rank([begin + note.onset for note in written], meter) is None:
            yield Fault("lick-off-grid", {"meter": meter.name}, measure=bar.number)


def _snapped(onset: int, bar: Bar, meter: Meter) -> int:
    """A chord stands on a step: on the nearest one."""
    steps = (onset + meter.slot_ticks // 2) // meter.slot_ticks
    return min(steps * meter.slot_ticks, max(0, bar.ticks - meter.slot_ticks))


def _from_the_start(changes: Sequence[Change]) -> tuple[Change, ...]:
    """Before the first chord that is given it sounds already; of two on one step the later one counts."""
    by_onset = list({change.onset: change for change in changes}.values())
    if by_onset:
        by_onset[0] = replace(by_onset[0], onset=0)
    return merged(by_onset)


# --- notes -------------------------------------------------------------------------------------------------


def _once(placed: Sequence[Placed], number: int, faults: list[Fault]) -> list[Placed]:
    """The notes of a measure in order; what two voices write both is one note, struck if either strikes it."""
    found: dict[tuple[int, int], Placed] = {}
    for note, fret in sorted(placed, key=lambda one: (one[0].onset, one[0].string, one[0].tied)):
        before = found.setdefault((note.onset, note.string), (note, fret))
        if before[1] != fret:
            faults.append(Fault("two-notes-on-one-string", {"string": note.string}, measure=number))
    return list(found.values())


class _NoteMaker:
    """Makes ``notes`` of those of measures as they are played, ties joined and links settled."""

    def __init__(self, left_out: dict[str, int]) -> None:
        self.notes: list[Note] = []
        self._left_out = left_out
        self._remarks: dict[tuple[str, int, int], Fault] = {}  # once for each string and measure
        self._frets: dict[int, int] = {}  # by string, the last that was played
        # by link and its number: from which string, in which measure
        self._open: dict[tuple[str, str], tuple[int, int]] = {}

    def measure(self, placed: Sequence[Placed], start: int, number: int) -> None:
        """The notes of a measure that begins at ``start`` (ticks). Raises ReadingError where all of them get too many."""
        if len(self.notes) + len(placed) > MOST_NOTES:
            raise ReadingError([Fault("lick-too-long", {"most": MOST_NOTES})])
        ends: dict[int, int] = {}  # by string, where what was written last in this measure stops
        for onset, struck in groupby(placed, key=lambda placed: placed[0].onset):
            together = list(struck)
            held = all(note.tied and ends.get(note.string) == onset for note, _ in together)
            for note, fret in together:
                ends[note.string] = note.ends
                if held:
                    self._links_from(note, number)
                else:
                    self._play(note, fret, start + onset, number)

    def remarks(self) -> list[Fault]:
        """What there is to say once all notes are made; links that lead to no note are left out."""
        for (technique, _), (_, measure) in self._open.items():
            self._left_out.setdefault(technique, measure)
        return list(self._remarks.values())

    def _play(self, note: StaffNote, fret: int, onset: int, number: int) -> None:
        technique = self._technique(note, number)
        before = self._frets.get(note.string)
        if technique == "tie" and before != fret:
            if before is not None:  # else it comes from before the lick
                self._remark("tie-to-other-fret", note, number, {"string": note.string, "fret": fret})
            technique = None
        elif technique in ("hammer-on", "pull-off"):
            read = settled(technique, before, fret)
            if read != technique:
                self._remark("link-turned", note, number, {"written": technique, "read": read})
            technique = read
        self._frets[note.string] = fret
        self._links_from(note, number)
        self.notes.append(Note(onset, note.string, fret, 0, technique, note.finger))

    def _remark(self, code: str, note: StaffNote, number: int, params: dict[str, object]) -> None:
        self._remarks[code, note.string, number] = Fault(code, params, measure=number)

    def _technique(self, note: StaffNote, number: int) -> str | None:
        """One for each note: a mute is nothing else, a link more than what else is done to the note."""
        links = [technique for technique, _ in note.stops]
        for stop in note.stops:
            self._open.pop(stop, None)
        if not links and not note.tied:
            # some say only where a link begins: it leads to the next note of the string
            here = [link for link, (string, _) in self._open.items() if string == note.string]
            links = [link[0] for link in here]
            for link in here:
                del self._open[link]
        found = [*(["tie"] if note.tied else []), *links, *([note.technique] if note.technique else [])]
        if note.technique == "mute":
            found = ["mute", *(one for one in found if one != "mute")]
        for other in found[1:]:
            if other != found[0]:
                self._left_out.setdefault(other, number)
        return found[0] if found else None

    def _links_from(self, note: StaffNote, number: int) -> None:
        for link in note.starts:
            self._open[link] = note.string, number


def _key(given: tuple[int | None, str | None], passage: Passage, moved: int, remarks: list[Fault]) -> Key:
    """The key as the hand thinks of it; ``moved`` is the capo where the file writes the one that sounds."""
    signs, name = given
    if signs is None:
        heard = sounding(passage.notes, Fretboard(passage.instrument, passage.tuning))
        key = likeliest_key(MelodyNote(*note) for note in heard)
        remarks.append(Fault("tune-key-proposed", {"key": key.name}))
        return key
    mode = mode_named(name)
    above, third = MODES[mode or "major"]
    key = Key(signs + above, third)
    if moved:
        key = sounding_key(key, -moved)
    if mode is None:
        remarks.append(Fault("tune-mode-assumed", {"key": key.name}))
    return key
