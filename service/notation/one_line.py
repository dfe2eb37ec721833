"""The one-line form: a lick that a thumb can type on a phone.

Built on the habit of writing a roll as string numbers. Spaces are free.

    32514251, 3.2 /4 2 5 1 (15)--

    3        string 3, open; each note takes one slot (an eighth; a sixteenth in 2/4)
    3.2      string 3, fret 2 (a space before the next note)
    2-0-1-2: hold this shape from here on: frets of the long strings, lowest first; x leaves one out
    -        hold on for a slot
    (15)     together: a pinch
    h3 p0 /4 =   hammer-on, pull-off, slide to that fret of the string just played; a tie
    3.h4     the same on another string than the one just played
    3.2c 3.2g 3x   choke, ghost, mute
    3'       half a slot
    t321     three in the time of two
    ,        the measure is full, the next begins
    ;        the measure is short on purpose; after the first one: it was a pickup
    G D7     a chord, from here on
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from service.errors import DomainError, Fault, ReadingError
from service.music.fretboard import Fretboard
from service.music.harmony import chord_named
from service.music.instruments import Instrument
from service.music.licks import Change, Note
from service.music.meter import Meter, meter_named
from service.music.passages import Passage, lasting
from service.music.tunes import merged
from service.notation.clean import Line, clean_lines
from service.notation.readings import MAX_MEASURES, MAX_TEXT, Assumption, Reading, assumed

_DEFAULT_METER = "2/2"
_STRANGE = re.compile(r"[^\s,;\d()]+")
_LINKS = {"h": "hammer-on", "p": "pull-off", "/": "slide", "\\": "slide"}
_MARKS = {"hammer-on": "h", "pull-off": "p", "slide": "/", "tie": "="}
_FLAGS = {"c": "choke", "g": "ghost", "x": "mute"}
_FLAG_OF = {technique: flag for flag, technique in _FLAGS.items()}
_TOKEN = re.compile(
    r"(?P<space>\s+)|(?P<shape>(?:\d{1,2}|x)(?:-(?:\d{1,2}|x)){1,9}:)|(?P<chord>[A-G][^\s,;]*|N\.C\.)"
    r"|(?:(?P<on>[1-9])\.)?(?:(?P<link>[hp/\\])(?P<to>\d{1,2})|(?P<tie>=))(?P<half1>'*)"
    r"|(?P<note>[1-9])(?:\.(?P<fret>\d{1,2}))?(?P<flag>[cgx]?)(?P<half2>'*)"
    r"|(?P<hold>-)(?P<half3>'*)|(?P<open>\()|(?P<close>\))(?P<half4>'*)|(?P<three>t)|(?P<bar>,)|(?P<short>;)"
)


@dataclass(slots=True)
class _Hand:
    """Where the reader is: time, the shape held, the string last played."""

    at: Fraction = Fraction(0)
    measure_start: Fraction = Fraction(0)
    shape: dict[int, int] = field(default_factory=dict)
    last: int | None = None
    frets: dict[int, int] = field(default_factory=dict)
    triplet_left: Fraction = Fraction(0)
    pinch: bool = False
    from_peg: bool = False


def read_one_line(
    text: str,
    instrument: Instrument,
    *,
    tuning: str | None = None,
    meter: str | None = None,
    measures: int | None = None,
) -> Reading:
    """Read the one-line form. Raises ReadingError with every fault, DomainError for an unknown tuning."""
    if len(text) > MAX_TEXT:
        raise ReadingError([Fault("text-too-long", {"most": MAX_TEXT}, line=1, column=1)])
    parts = []
    if meter is None:
        parts.append(Assumption("meter", _DEFAULT_METER))
    if tuning is None and len(instrument.tunings) > 1:
        parts.append(Assumption("tuning", instrument.tuning().name))
    reader = _OneLine(Fretboard(instrument, instrument.tuning(tuning)), meter_named(meter or _DEFAULT_METER))
    for line in clean_lines(text):
        reader.read(line)
    return reader.finish(parts, measures)


class _OneLine:
    def __init__(self, board: Fretboard, meter: Meter) -> None:
        self._board = board
        self._meter = meter
        self._hand = _Hand()
        self._notes: list[tuple[Fraction, Note]] = []
        self._changes: list[tuple[Fraction, Change]] = []
        self._lengths: list[Fraction] = []
        self._pickup = Fraction(0)
        self._closed = 0
        self._faults: list[Fault] = []
        self._remarks: list[Fault] = []
        self._end: tuple[Line, int] | None = None
        self._strange = self._known = 0

    def read(self, line: Line) -> None:
        index = 0
        while index < len(line.text):
            match = _TOKEN.match(line.text, index)
            if match is None:
                word = _STRANGE.match(line.text, index)
                length = max(1, len(word.group())) if word else 1
                self._fault("one-line-mark", line, index, mark=line.text[index : index + length][:20])
                self._strange += 1
                index += length
                continue
            self._end = (line, index)
            self._known += match.lastgroup != "space"
            self._take(match, line, index)
            index = match.end()

    def _take(self, match: re.Match[str], line: Line, index: int) -> None:
        hand = self._hand
        found = match.groupdict()
        halves = next((found[f"half{n}"] for n in range(1, 5) if found[f"half{n}"]), "")
        if found["shape"]:
            self._take_shape(found["shape"][:-1], line, index)
        elif found["chord"]:
            try:
                self._changes.append((hand.at, Change(0, chord_named(found["chord"]))))
            except DomainError:
                self._fault("one-line-chord", line, index, word=found["chord"])
        elif found["link"] or found["tie"]:
            played = int(found["on"]) if found["on"] else hand.last
            if played is None or (found["tie"] and played not in hand.frets):
                self._fault("link-without-note", line, index, mark=match.group())
                return
            fret = hand.frets[played] if found["tie"] else int(found["to"])
            technique = "tie" if found["tie"] else _LINKS[found["link"]]
            before = hand.frets.get(played, fret)
            if technique in ("hammer-on", "pull-off") and before != fret:
                right = "hammer-on" if fret > before else "pull-off"
                if right != technique:
                    self._remarks.append(line.fault("link-turned", index, written=technique, read=right))
                technique = right
            self._sound(played, fret, technique, line, index)
            if not hand.pinch:
                self._pass(halves)
        elif found["note"]:
            string = int(found["note"])
            fret = int(found["fret"]) if found["fret"] else hand.shape.get(string, 0)
            flag = _FLAGS.get(found["flag"])
            self._sound(string, 0 if flag == "mute" else fret, flag, line, index)
            if not hand.pinch:
                self._pass(halves)
        elif found["hold"]:
            self._pass(halves)
        elif found["open"]:
            hand.pinch = True
        elif found["close"]:
            if not hand.pinch:
                self._fault("pinch-not-open", line, index)
            hand.pinch = False
            self._pass(halves)
        elif found["three"]:
            hand.triplet_left = Fraction(3)
        elif found["bar"] or found["short"]:
            self._bar(bool(found["short"]), line, index)

    def _take_shape(self, text: str, line: Line, index: int) -> None:
        frets = text.split("-")
        short = self._board.instrument.short_string
        longs = [s for s in range(self._board.instrument.strings, 0, -1) if not short or s != short[0]]
        if len(frets) != len(longs):
            self._fault("shape-size", line, index, given=len(frets), strings=len(longs))
            return
        self._hand.shape = {s: int(f) for s, f in zip(longs, frets, strict=True) if f != "x"}

    def _sound(self, string: int, fret: int, technique: str | None, line: Line, index: int) -> None:
        short = self._board.instrument.short_string
        if short and string == short[0] and 0 < fret <= short[1]:
            self._hand.from_peg = True
            fret += short[1]
        refusal = self._board.refuses(string, fret)
        if refusal:
            self._fault(refusal, line, index, string=string, fret=fret)
            return
        if any(at == self._hand.at and note.string == string for at, note in self._notes[-9:]):
            self._fault("two-notes-on-one-string", line, index, string=string)
            return
        self._notes.append((self._hand.at, Note(0, string, fret, 0, technique)))
        self._hand.last = string
        self._hand.frets[string] = fret

    def _pass(self, halves: str) -> None:
        hand = self._hand
        slots = Fraction(1, 2 ** min(len(halves), 8))
        if hand.triplet_left > 0:
            hand.triplet_left -= slots
            slots = slots * 2 / 3
        hand.at += slots

    def _bar(self, short: bool, line: Line, index: int) -> None:
        hand = self._hand
        length = hand.at - hand.measure_start
        hand.triplet_left = Fraction(0)
        full = self._meter.slots
        if short and self._closed == 0:
            self._pickup = length
            if length >= full:
                self._fault("pickup-whole-measure", line, index, slots=_plain(length))
        elif short and length <= full:
            if length.denominator != 1:
                self._fault("measure-parts", line, index, slots=_plain(length))
            self._lengths.append(length)
        else:
            if length != full:
                code = "measure-length" if length < full else "measure-overfull"
                self._fault(code, line, index, slots=_plain(length), expected=full)
            self._lengths.append(length)
        self._closed += 1
        hand.measure_start = hand.at

    def _fault(self, code: str, line: Line, index: int, **params: object) -> None:
        measure = len(self._lengths) + 1
        self._faults.append(
            Fault(code, params, line.number, line.column(index), line.excerpt(index), measure)
        )

    def finish(self, parts: Sequence[Assumption], measures: int | None) -> Reading:
        hand = self._hand
        line, index = self._end or (Line(1, "", (), ""), 0)
        if self._strange > self._known:  # prose, not a lick with a slip in it
            strings = self._board.instrument.strings
            raise ReadingError([Fault("no-tab", {"strings": strings}, line=1, column=1)])
        if not self._notes and not self._faults:
            self._fault("no-notes", line, index)
        if hand.pinch:
            self._fault("pinch-not-closed", line, index)
        if hand.at > hand.measure_start:
            self._bar(False, line, index)
        if len(self._lengths) > MAX_MEASURES:
            self._fault("too-many-measures", line, index, most=MAX_MEASURES)
        slot = self._meter.slot_ticks
        exact = [*(at for at, _ in self._notes), *self._lengths]
        if any((at * slot).denominator != 1 for at in exact):
            self._fault("too-fine", line, index)
        if not self._lengths and not self._faults:
            self._fault("no-measures", line, index)
        if any(length <= 0 for length in self._lengths):
            self._fault("empty-measure", line, index)
        if self._faults:
            raise ReadingError(self._faults)

        def ticks(at: Fraction) -> int:
            return int((at - self._pickup) * slot)

        lengths = tuple(int(length * slot) for length in self._lengths)
        starts = [sum(lengths[:n]) for n in range(len(lengths))]
        changes = [Change(max(0, ticks(at)), change.chord) for at, change in self._changes]
        if hand.from_peg:
            self._remarks.append(Fault("fifth-from-peg"))
        if measures is not None and measures != len(lengths):
            self._remarks.append(Fault("measure-count", {"found": len(lengths), "stated": measures}))
        board = self._board
        passage = Passage(
            board.instrument,
            board.tuning,
            self._meter,
            lengths,
            lasting([replace(n, onset=ticks(at)) for at, n in self._notes], starts, sum(lengths)),
            merged([c for c in changes if c.onset < sum(lengths)]),
        )
        return Reading(passage, (*assumed(parts), *self._remarks), tuple(range(1, len(lengths) + 1)))


def _plain(slots: Fraction) -> str:
    return str(int(slots)) if slots.denominator == 1 else f"{float(slots):.2f}"


def write_one_line(passage: Passage) -> str:
    """The one-line form of a passage. Picking fingers are not carried.

    Raises DomainError ``one-line-cannot`` for rhythms finer than a sixteenth of a slot or its triplets.
    """
    notes: dict[int, list[Note]] = {}
    for note in passage.notes:
        notes.setdefault(note.onset, []).append(note)
    changes = {change.onset: change for change in passage.changes}
    slot = passage.meter.slot_ticks
    writer = _Writer(notes, changes, slot)
    pickup = -(-passage.pickup_ticks // slot) * slot
    text = ""
    if pickup:
        text = writer.stretch(-pickup, 0) + "; "
    elif passage.measures[0] != passage.meter.measure_ticks:
        text = "; "
    for index, (start, length) in enumerate(zip(passage.starts, passage.measures, strict=True)):
        full = length == passage.meter.measure_ticks
        last = index == len(passage.measures) - 1
        text += writer.stretch(start, start + length) + ("" if full and last else ", " if full else "; ")
    return text.strip()


class _Writer:
    def __init__(self, notes: dict[int, list[Note]], changes: dict[int, Change], slot: int) -> None:
        self._notes = notes
        self._changes = changes
        self._slot = slot
        self._last = 0

    def stretch(self, start: int, end: int) -> str:
        """Elements from one tick to another, two slots at a time; triplets need both, or stand last in their measure."""
        words: list[str] = []
        pair = 2 * self._slot
        at = start
        if start < 0 and (end - start) % pair:  # an odd pickup: pairs are counted back from the bar line
            words.append(self._elements(at, at + self._slot, self._slot))
            at += self._slot
        for two in range(at, end, pair):
            until = min(two + pair, end)  # the last of nine slots stands alone
            if any((onset - two) % (self._slot // 8) for onset in self._notes if two <= onset < until):
                words.append("t" + self._elements(two, until, pair // 3, int(until < two + pair)))
            else:
                words.extend(
                    self._elements(one, one + self._slot, self._slot) for one in range(two, until, self._slot)
                )
        return re.sub(r"\s+", " ", " ".join(words)).strip()

    def _elements(self, start: int, end: int, unit: int, halves: int = 0) -> str:
        """Everything between two ticks in units halved so often, and on until every note has its own."""
        step = unit >> halves
        onsets = [o for o in self._notes if start <= o < end]
        while any((o - start) % step for o in onsets):
            if step % 2:
                raise DomainError("one-line-cannot")
            halves, step = halves + 1, step // 2
        return " ".join(self._element(at) + "'" * halves for at in range(start, end, step))

    def _element(self, at: int) -> str:
        change = self._changes.get(at)
        word = ""
        if change is not None:
            word = ("N.C." if change.chord is None else change.chord.name) + " "
        notes = self._notes.get(at)
        if not notes:
            return word + "-"
        if len(notes) == 1:
            return word + self._note(notes[0])
        return word + "(" + " ".join(self._note(note) for note in notes) + ")"

    def _note(self, note: Note) -> str:
        mark = _MARKS.get(note.technique or "")
        before, self._last = self._last, note.string
        if mark is not None:
            on = "" if before == note.string else f"{note.string}."
            return on + (mark if note.technique == "tie" else f"{mark}{note.fret}")
        flag = _FLAG_OF.get(note.technique or "", "")
        return (f"{note.string}" if note.fret == 0 or flag == "x" else f"{note.string}.{note.fret}") + flag
