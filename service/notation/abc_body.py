"""Reads the body of a tune in ABC notation (the open standard ABC 2.1): measures as they stand between the bars.

What the signs make of them, repeats and endings, is told in abc_form.py. Left out are grace notes, decorations, slurs,
annotations, words, and all voices but the first.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction

from service.errors import DomainError, Fault
from service.music.harmony import Chord, chord_named
from service.music.licks import Change
from service.music.tunes import MAX_MEASURES, MelodyNote
from service.notation.abc import natural_pitch, pitch_of
from service.notation.abc_fields import (
    KNOWN_METERS,
    Keyed,
    Ticks,
    Timed,
    field_in,
    key_in,
    length_in,
    meter_in,
    share,
)
from service.notation.clean import Line

_LENGTH = r"(?P<{0}up>\d{{0,4}})(?P<{0}slash>/{{0,6}})(?P<{0}down>\d{{0,3}})"
# some old files still have =3D, as mail once wrote =, and =20 or = at the end of a line
_PITCH = r"(?P<accidental>\^\^?|__?|=)?(?:(?<==)3D)?(?P<letter>[A-Ga-g])(?P<octave>[,']*)"
_NUMBERS = r"\d{1,2}(?:[,-]\d{1,2})*"
_TOKEN = re.compile(
    "|".join(
        (
            rf"(?P<note>{_PITCH}{_LENGTH.format('')})",
            r"(?P<space>[\s`)\\]+|\((?![2-9]))",
            rf"(?P<bar>(?P<sign>(?:\[(?=\|)|(?<=[|:])\]|[|:])+)(?P<first>{_NUMBERS})?)",
            rf"(?P<ending>\[?(?P<numbers>{_NUMBERS}))",
            r"(?P<field>\[(?P<name>[A-Za-z]):(?P<value>[^\[\]]*)\])",
            rf"(?P<chord>\[(?P<inner>(?:\"[^\"]*\"|[^\]\[\"|])*)\]{_LENGTH.format('all_')})",
            r'(?P<quoted>"(?P<text>[^"]*)")',
            rf"(?P<rest>[zx]{_LENGTH.format('rest_')})",
            r"(?P<broken>>+|<+)",
            r"(?P<tuplet>\((?P<p>[2-9])(?::(?P<q>\d?)(?::(?P<r>\d?))?)?)",
            r"(?P<tie>-)",
            r"(?P<rests>[ZX](?P<many>\d{0,4}))",
            r"(?P<overlay>&[^|]*)",
            r"(?P<jump>[!+](?:D\.C\.|D\.S\.|dacapo|dacoda|fine|segno|coda)[!+])",
            # grace notes, decorations by name and by letter, spacers, and what the standard keeps for later
            r"(?P<nothing>=(?:20)?(?=\s*$)|\{[^{}]*\}|![^!\s|]*!|\+[^+\s|]*\+|y\d*|[H-Wh-w~.!+#*;?@$])",
        )
    )
)
_JUMP = re.compile(
    r"[\^_<>@]?\s*(D\.? ?[CS]\b|da capo|dal segno|fine\b|segno\b|to coda|coda\b)", re.IGNORECASE
)  # as words
_NOTE = re.compile(_PITCH + _LENGTH.format("") + r"\s*(?P<tie>-?)")
_VOICE = re.compile(r"\[V:[^\[\]]*\]")
_WORD = re.compile(r"[^\s|]+")  # what cannot be read is left out with all that stands together with it
# What two notes are multiplied with. Published, ABC 2.1.
_BROKEN: dict[str, tuple[Fraction, Fraction]] = {
    sign * count: pair
    for count in (1, 2, 3)
    for less in (Fraction(1, 2**count),)
    for sign, pair in ((">", (2 - less, less)), ("<", (less, 2 - less)))
}
# In how much time p notes are played; the rest of the nine take the beat's own division. Published, ABC 2.1.
_IN_THE_TIME_OF = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}


@dataclass(frozen=True, slots=True)
class Sign:
    """What stands between two measures; ``closes`` is how often the measures before are played, 0 without a repeat."""

    opens: bool = False
    closes: int = 0
    double: bool = False
    endings: tuple[int, ...] = ()
    label: str | None = None

    @property
    def plain(self) -> bool:
        return not (self.opens or self.closes or self.double or self.endings or self.label)


@dataclass(frozen=True, slots=True)
class Written:
    """What stands between two bars: the sign before it, its length and that of a full measure, in ticks.

    ``notes`` have onsets from its start; those that are tied to what follows are in ``tied``, by their place.
    """

    sign: Sign
    ticks: int
    full: int
    notes: tuple[MelodyNote, ...]
    tied: frozenset[int]
    changes: tuple[Change, ...]

    @property
    def short(self) -> bool:
        return self.ticks < self.full


@dataclass(slots=True)
class _Event:
    duration: Ticks
    pitch: int | None = None
    tied: bool = False
    broken: Ticks = 1  # what broken rhythm has multiplied the duration with


@dataclass(slots=True)
class Told:
    """Faults and remarks of one tune; of each kind of remark the first place is kept."""

    faults: list[Fault] = field(default_factory=list)
    remarks: dict[str, Fault] = field(default_factory=dict)

    def fault(self, code: str, line: Line, index: int, **params: object) -> None:
        self.faults.append(replace(line.fault(code, index), params=params))

    def remark(self, code: str, line: Line, index: int, **params: object) -> None:
        self.remarks.setdefault(code, replace(line.fault(code, index), params=params))


class TooLong(Exception):
    """More measures than a tune may have."""


class BodyReader:
    """Reads line after line; ``finish`` gives the measures, and the sign after the last. Both raise TooLong."""

    def __init__(self, keyed: Keyed, timed: Timed, unit: Ticks, told: Told, voice: str | None) -> None:
        self._signature = keyed.signature
        self._timed = timed
        self._unit = unit
        self._told = told
        self._first_voice = voice
        self._skipping = False
        self._accidentals: dict[int, int] = {}
        self._events: list[_Event] = []
        self._full: Ticks = timed.ticks  # as it was when the measure began
        self._changes: dict[int, Chord | None] = {}  # by the event that they come with
        self._sign = Sign()
        self._measures: list[Written] = []
        self._broken: Ticks = 1  # what the next note's length is multiplied with
        self._tuplet = (1, 1, 0)  # p, q, and how many notes are left of it
        # natural and sounding pitch of the last note, with its event, and of one that is tied to the next
        self._last: tuple[int, int, _Event] | None = None
        self._held: tuple[int, int] | None = None
        self._line = Line(1, "", (), "")
        self._handlers: dict[str, Callable[[re.Match[str]], None]] = {
            "note": self._note,
            "bar": self._bar,
            "ending": self._ending,
            "field": lambda match: self._field(match["name"], match["value"], match.start("value")),
            "chord": self._chord,
            "quoted": self._quoted,
            "jump": self._jump,
            "rest": lambda match: self._add(_Event(self._length(match, "rest_"))),
            "broken": self._break,
            "tuplet": self._group,
            "tie": lambda _: self._tie(),
            "rests": self._rests,
            "overlay": lambda match: self._told.remark("abc-voices", self._line, match.start()),
        }

    def read(self, line: Line) -> None:
        """A line of the body without its comment."""
        self._line = line
        found = field_in(line.text)
        if found:
            self._field(found[0], line.text[found[1] :], found[1])
            return
        index = 0
        while index < len(line.text):
            if self._skipping:
                voice = _VOICE.search(line.text, index)
                if voice is None:
                    return
                index = voice.start()
            start = index
            match = _TOKEN.match(line.text, start)
            if match is None:
                wrong = _WORD.match(line.text, start)
                index = wrong.end() if wrong else start + 1
                self._told.fault("abc-mark", line, start, mark=line.text[start:index][:20])
                continue
            index = match.end()
            handler = self._handlers.get(match.lastgroup or "")
            if handler:
                handler(match)

    def finish(self) -> tuple[list[Written], Sign]:
        self._close()
        return self._measures, self._sign

    # --- notes ---------------------------------------------------------------------------------------

    def _note(self, match: re.Match[str]) -> None:
        self._sound(match, self._length(match))

    def _chord(self, match: re.Match[str]) -> None:
        """Of notes that sound together the highest is the melody; all are as long as the first."""
        notes = list(_NOTE.finditer(re.sub(r'"[^"]*"', "", match["inner"])))
        if not notes:
            self._told.fault("abc-mark", self._line, match.start(), mark=match.group()[:20])
            return
        pitches = [pitch_of(note, self._signature, self._accidentals) for note in notes]
        top = notes[pitches.index(max(pitches))]
        length = self._length(match, "all_") * self._length(notes[0])
        self._sound(top, share(length, 1, 1))
        if top["tie"]:
            self._tie()

    def _sound(self, match: re.Match[str], length: Ticks) -> None:
        natural = natural_pitch(match["letter"], match["octave"])
        pitch = pitch_of(match, self._signature, self._accidentals)
        if self._held is not None and self._held[0] == natural and not match["accidental"]:
            pitch = self._held[1]  # a tie carries the accidental over the bar
        event = _Event(length, pitch)
        self._last = (natural, pitch, event)
        self._add(event)

    def _tie(self) -> None:
        if self._last is not None:
            natural, pitch, event = self._last
            event.tied = True
            self._held = (natural, pitch)

    def _rests(self, match: re.Match[str]) -> None:
        many = int(match["many"] or 1)
        if not 1 <= many <= MAX_MEASURES:
            self._told.fault("too-many-measures", self._line, match.start(), most=MAX_MEASURES)
            return
        for number in range(many):
            if number:
                self._close()
            self._put(_Event(self._timed.ticks))
        self._held = None

    def _add(self, event: _Event) -> None:
        p, q, left = self._tuplet
        if left:
            event.duration = share(event.duration, q, p)
            self._tuplet = (p, q, left - 1)
        self._lengthen(event, self._broken)
        self._broken = 1
        self._held = None
        self._put(event)

    def _put(self, event: _Event) -> None:
        if not self._events:
            self._full = self._timed.ticks
        self._events.append(event)

    def _length(self, match: re.Match[str], prefix: str = "") -> Ticks:
        """In ticks; of what stands behind a chord, a factor."""
        up, slashes, down = match[prefix + "up"], match[prefix + "slash"], match[prefix + "down"]
        unit: Ticks = 1 if prefix == "all_" else self._unit
        if not (up or slashes or down):
            return unit
        lower = int(down) if down and slashes else 2 ** len(slashes)
        upper = int(up) if up else 1
        if not lower or not upper:
            self._told.fault("abc-length", self._line, match.start(), value=match.group()[:20])
            return unit
        return share(unit, upper, lower)

    def _break(self, match: re.Match[str]) -> None:
        """``>``: the note before is longer by half, the next one shorter by half; ``>>`` by three quarters; ``<`` turned."""
        factors = _BROKEN.get(match.group())
        if self._events and factors:
            self._lengthen(self._events[-1], factors[0])
            self._broken = factors[1]

    def _lengthen(self, event: _Event, factor: Ticks) -> None:
        """A note between two signs gains and loses by its own length, so that ``A>B>c`` takes the time of three."""
        if factor == 1:
            return
        both = event.broken * factor if event.broken < 1 and factor < 1 else event.broken + factor - 1
        event.duration = share(Fraction(event.duration * both) / event.broken, 1, 1)
        event.broken = both

    def _group(self, match: re.Match[str]) -> None:
        p = int(match["p"])
        q = int(match["q"] or 0) or _IN_THE_TIME_OF.get(p, 3 if self._timed.compound else 2)
        self._tuplet = (p, q, int(match["r"] or 0) or p)

    def _quoted(self, match: re.Match[str]) -> None:
        text = match["text"].strip()
        if _JUMP.match(text):
            self._jump(match)
            return
        if text[:1] in ("^", "_", "<", ">", "@", ""):
            return
        try:
            self._changes[len(self._events)] = chord_named(text)
        except DomainError:
            self._told.remark("abc-no-chord", self._line, match.start(), word=text[:20])

    def _jump(self, match: re.Match[str]) -> None:
        self._told.remark("abc-jumps", self._line, match.start())

    # --- bars and fields -----------------------------------------------------------------------------

    def _bar(self, match: re.Match[str]) -> None:
        text = match["sign"].replace("[|]", "") or "|"  # a bar that is not seen
        before = len(text) - len(text.lstrip(":"))
        after = len(text) - len(text.rstrip(":"))
        if text == ":":  # its bar stands in the line before, or is written otherwise
            before, after = (1, 0) if self._events else (0, 1)
        elif "|" not in text or "::" in text.strip(":"):  # ``::`` and ``|::|`` close and open
            before = after = 1
        self._close()
        sign = self._sign
        self._sign = replace(
            sign,
            opens=sign.opens or after > 0,
            closes=max(sign.closes, before + 1 if before else 0),
            double=sign.double or any(bar in text for bar in ("||", "|]", "[|")),
        )
        if match["first"]:
            self._end(_numbers(match["first"]))

    def _ending(self, match: re.Match[str]) -> None:
        """Numbers without a bracket are an ending's after a bar, which may stand in the line before."""
        if self._events and match.group()[0] != "[":
            self._told.fault("abc-mark", self._line, match.start(), mark=match.group())
        else:
            self._end(_numbers(match["numbers"]))

    def _end(self, numbers: tuple[int, ...]) -> None:
        self._close()
        self._sign = replace(self._sign, endings=numbers)

    def _field(self, name: str, value: str, index: int) -> None:
        """A field between the notes, in a line of its own or in brackets."""
        line = self._line
        if name == "V":
            voice = (value.split() or [""])[0]
            self._first_voice = voice if self._first_voice is None else self._first_voice
            self._skipping = voice != self._first_voice
            if self._skipping:
                self._told.remark("abc-voices", line, index)
        elif self._skipping:
            return
        elif name == "K":
            keyed = key_in(value)
            if keyed is None:
                self._told.fault("abc-key", line, index, value=value.strip()[:20])
                return
            if keyed.signature != self._signature:
                self._told.remark("abc-key-changes", line, index, value=value.strip()[:20])
            self._signature = keyed.signature
        elif name == "M":
            timed = meter_in(value)
            if timed is None:
                self._told.fault("abc-meter", line, index, value=value.strip()[:20], known=KNOWN_METERS)
                return
            self._timed = timed
        elif name == "L":
            unit = length_in(value)
            if unit is None:
                self._told.fault("abc-length", line, index, value=value.strip()[:20])
                return
            self._unit = unit
        elif name == "P":
            self._close()
            self._sign = replace(self._sign, label=value.strip()[:20])

    def _close(self) -> None:
        """The measure ends here, if there is any; a chord that no note came to goes to the next one."""
        events, self._events = self._events, []
        self._accidentals = {}
        if not events:
            return
        if len(self._measures) == MAX_MEASURES:
            raise TooLong
        changes, late = self._changes, self._changes.get(len(events))
        self._changes = {0: late} if len(events) in changes else {}
        at: Ticks = 0
        notes: list[MelodyNote] = []
        tied: set[int] = set()
        heard: list[Change] = []
        exact = True
        for number, event in enumerate(events):
            onset, at = round(at), at + event.duration
            exact = exact and isinstance(event.duration, int)
            if number in changes and number < len(events):
                heard.append(Change(onset, changes[number]))
            if event.pitch is not None and round(at) > onset:
                if event.tied:
                    tied.add(len(notes))
                notes.append(MelodyNote(onset, round(at) - onset, event.pitch))
        if not exact:
            self._told.remark("abc-rounded", self._line, 0)
        self._measures.append(
            Written(
                self._sign,
                round(at),
                round(self._full),
                tuple(notes),
                frozenset(tied),
                tuple(heard),
            )
        )
        self._sign = Sign()


def _numbers(text: str) -> tuple[int, ...]:
    """``1,3`` and ``1-3``: the times that an ending is for."""
    found: set[int] = set()
    for piece in text.split(","):
        first, *further = map(int, piece.split("-"))
        found.update(range(max(1, first), (further or [first])[-1] + 1))
    return tuple(sorted(found))
