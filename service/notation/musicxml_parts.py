"""The melody of one MusicXML part, measure by measure: notes of its first voice, chords, bar lines; all as they sound."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from service.errors import Fault
from service.music.licks import Change
from service.music.meter import METER_NAMES, TICKS_PER_QUARTER, TICKS_PER_WHOLE
from service.music.pitch import fifths, pitch_class, sane_spelling
from service.notation.clean import words
from service.notation.musicxml_chords import chord_of, remark_on
from service.notation.musicxml_opened import number
from service.notation.spelling import MOST_SIGNS
from service.notation.tune_form import MOST_PASSES, Bar, BarNote

_OCTAVE = 12
_HIGHEST = 127  # MIDI pitch
_MOST_TRANSPOSED = 3 * _OCTAVE  # semitones, ours: no instrument is further from what it reads
_CLOSING = (
    "light-light",
    "light-heavy",
    "heavy-heavy",
    "heavy-light",
)  # bar lines where a section ends or begins
_SIGNS = ("segno", "coda")
_JUMPS = ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda")  # attributes of <sound>
_BEATS, _UNITS = range(1, 65), (1, 2, 4, 8, 16, 32, 64)  # of a time signature


@dataclass(slots=True)
class Drafted:
    """A measure in the making; positions are ticks from its start, exact."""

    number: int
    implicit: bool
    now: Fraction = Fraction(0)
    last: Fraction = Fraction(0)  # where the note began that a note of its chord begins with
    reached: Fraction = Fraction(0)
    notes: dict[Fraction, BarNote] = field(default_factory=dict)
    changes: dict[int, Change] = field(default_factory=dict)
    marks: dict[str, object] = field(default_factory=dict)
    inexact: bool = False


class PartReader:
    """Reads the measures of a part into ``bars``; ``key`` is (signature, mode) as they sound, both None where none is given.

    ``meters`` holds what each measure's time signature says, as n/m; ``faults`` what cannot be read, ``remarks`` what was left
    out. What is told of single staves (key, time, transposition) is that of ``staff``.
    """

    def __init__(self, part: Element, staff: str = "1") -> None:
        self.bars: list[Bar] = []
        self.meters: list[str] = []
        self.key: tuple[int | None, str | None] = (None, None)
        self.faults: list[Fault] = []
        self.remarks: dict[tuple[str, object], Fault] = {}
        self._staff = staff
        self._voice: str | None = None
        self._divisions = Fraction(1)
        self._meter = "4/4"  # where none is given, as in MIDI files
        self._semitones = self._moved = 0
        self._keys = 0
        self._chord: Change | None = None
        self._ending: tuple[int, ...] = ()
        self._readers: dict[str, Callable[[Element, Drafted], None]] = {
            "attributes": self._attributes,
            "note": self._note,
            "backup": self._backup,
            "forward": self._forward,
            "harmony": self._harmony,
            "direction": self._direction,
            "sound": self._sound,
            "barline": self._barline,
        }
        count = 0
        for measure in part.findall("measure"):
            uncounted = measure.get("implicit") == "yes" or measure.get("number") == "0"
            count += not uncounted
            self._measure(measure, Drafted(count, uncounted))

    def _measure(self, measure: Element, draft: Drafted) -> None:
        for element in measure:
            reader = self._readers.get(element.tag)
            if reader is not None:
                reader(element, draft)
        full = _length(self._meter)
        ticks = draft.reached if draft.reached else Fraction(full)
        if draft.inexact or ticks.denominator != 1:
            self.faults.append(Fault("tune-inexact", measure=draft.number))
        if self._chord is not None and 0 not in draft.changes:
            draft.changes[0] = Change(0, self._chord.chord)
        changes = tuple(draft.changes[onset] for onset in sorted(draft.changes))
        if changes:
            self._chord = changes[-1]
        ending = self._ending
        if draft.marks.pop("ending_stops", False):
            self._ending = ()
        bar = Bar(
            draft.number,
            int(ticks),
            full,
            tuple(draft.notes.values()),
            changes,
            draft.implicit,
            ending=ending,
        )
        self.bars.append(replace(bar, **draft.marks))  # type: ignore[arg-type]
        self.meters.append(self._meter)

    # --- time ------------------------------------------------------------------------------------------

    def _duration(self, element: Element, draft: Drafted) -> Fraction:
        """In ticks."""
        text = element.findtext("duration")
        quarters = number(text)
        if quarters is None or quarters < 0:
            self._not_a_number(text, "duration", draft)
            return Fraction(0)
        return quarters * TICKS_PER_QUARTER / self._divisions

    def _advance(self, draft: Drafted, ticks: Fraction) -> None:
        draft.now += ticks
        draft.reached = max(draft.reached, draft.now)

    def _begun(self, note: Element, draft: Drafted) -> Fraction:
        """How long a note lasts, in ticks; it begins at ``draft.last``."""
        duration = self._duration(note, draft)
        if note.find("chord") is None:
            draft.last = draft.now
            self._advance(draft, duration)
        return duration

    def _backup(self, element: Element, draft: Drafted) -> None:
        draft.now = max(Fraction(0), draft.now - self._duration(element, draft))

    def _forward(self, element: Element, draft: Drafted) -> None:
        self._advance(draft, self._duration(element, draft))

    # --- notes -----------------------------------------------------------------------------------------

    def _note(self, note: Element, draft: Drafted) -> None:
        if note.find("grace") is not None:
            return
        duration = self._begun(note, draft)
        if note.find("cue") is not None:
            return
        pitch = note.find("pitch")
        if self._voice is None:
            self._voice = _voice(note)
        if pitch is None or _voice(note) != self._voice:
            return
        sounds = self._pitch(pitch)
        if sounds is None:
            self._not_a_number("".join(pitch.itertext()), "pitch", draft)
            return
        if draft.last.denominator != 1 or duration.denominator != 1:
            draft.inexact = True
        before = draft.notes.get(draft.last)
        if before is None or before.pitch < sounds:
            ties = {tie.get("type") for tie in note.findall("tie")}
            draft.notes[draft.last] = BarNote(
                int(draft.last), int(duration), sounds, "stop" in ties, "start" in ties
            )

    def _pitch(self, pitch: Element) -> int | None:
        return midi_of(pitch, "", self._semitones)

    def _harmony(self, harmony: Element, draft: Drafted) -> None:
        chord, code = chord_of(harmony, self._moved)
        if code is not None:
            fault = remark_on(code, harmony, chord, draft.number)
            self.remarks.setdefault((code, fault.params["kind"]), fault)
        if code == "tune-chord-unread":
            return
        offset = number(harmony.findtext("offset") or "0") or 0
        onset = max(0, round(draft.now + offset * TICKS_PER_QUARTER / self._divisions))
        draft.changes.setdefault(onset, Change(onset, chord))

    # --- what stands around them -----------------------------------------------------------------------

    def _attributes(self, attributes: Element, draft: Drafted) -> None:
        if (text := attributes.findtext("divisions")) is not None:
            divisions = number(text)
            if divisions is None or divisions <= 0:
                self._not_a_number(text, "divisions", draft)
            else:
                self._divisions = divisions
        if (transpose := self._of_staff(attributes, "transpose")) is not None:
            self._transpose(transpose, draft)
        if (key := self._of_staff(attributes, "key")) is not None:
            self._key(key, draft)
        if (time := self._of_staff(attributes, "time")) is not None:
            self._time(time, draft)

    def _of_staff(self, attributes: Element, name: str) -> Element | None:
        """What is said of every staff or of this one."""
        return next(
            (e for e in attributes.findall(name) if e.get("number", self._staff) == self._staff), None
        )

    def _transpose(self, transpose: Element, draft: Drafted) -> None:
        chromatic = number(transpose.findtext("chromatic")) or Fraction(0)
        octaves = number(transpose.findtext("octave-change") or "0") or Fraction(0)
        semitones = chromatic + _OCTAVE * octaves
        if semitones.denominator != 1 or abs(semitones) > _MOST_TRANSPOSED:
            self._not_a_number("".join(transpose.itertext()), "transpose", draft)
            return
        steps = number(transpose.findtext("diatonic"))
        # a fifth is seven semitones and four steps, an octave twelve and seven
        place = 7 * int(chromatic) - _OCTAVE * int(steps) if steps is not None else None
        if place is None or abs(place) > MOST_SIGNS + _OCTAVE // 2:
            place = sane_spelling(7 * int(chromatic))
        self._semitones, self._moved = int(semitones), place

    def _key(self, key: Element, draft: Drafted) -> None:
        signs = number(key.findtext("fifths"))
        if signs is None or abs(signs) > MOST_SIGNS:
            self.remarks.setdefault(("tune-key-unread", ""), Fault("tune-key-unread", measure=draft.number))
            return
        place = round(signs) + self._moved
        mode = words(key.findtext("mode"), 20).lower() or None
        found = (place if abs(place) <= MOST_SIGNS else sane_spelling(place), mode)
        self._keys += 1
        if self._keys == 1:
            self.key = found
        elif found != self.key:
            self.remarks.setdefault(("tune-key-changes", ""), Fault("tune-key-changes", measure=draft.number))

    def _time(self, time: Element, draft: Drafted) -> None:
        pairs = list(zip(time.findall("beats"), time.findall("beat-type"), strict=False))
        beats, unit = number(time.findtext("beats")), number(time.findtext("beat-type"))
        if len(pairs) != 1 or beats not in _BEATS or unit not in _UNITS:
            told = words("+".join(f"{beats.text}/{unit.text}" for beats, unit in pairs), 20) or "?"
            known: dict[str, object] = {"name": told, "known": ", ".join(METER_NAMES)}
            self.faults.append(Fault("unknown-meter", known, measure=draft.number))
            return
        self._meter = f"{beats}/{unit}"

    def _direction(self, direction: Element, draft: Drafted) -> None:
        if any(direction.find(f"direction-type/{sign}") is not None for sign in _SIGNS):
            self._jump(draft)
        for sound in direction.findall("sound"):
            self._sound(sound, draft)

    def _sound(self, sound: Element, draft: Drafted) -> None:
        if any(sound.get(jump) for jump in _JUMPS):
            self._jump(draft)

    def _jump(self, draft: Drafted) -> None:
        self.remarks.setdefault(("tune-jumps", ""), Fault("tune-jumps", measure=draft.number))

    def _barline(self, line: Element, draft: Drafted) -> None:
        where = line.get("location", "right")
        if where == "middle":
            return
        closing = (line.findtext("bar-style") or "").strip() in _CLOSING
        ending, repeat = line.find("ending"), line.find("repeat")
        sign = None if repeat is None else repeat.get("direction")
        if any(line.find(jump) is not None for jump in _SIGNS):
            self._jump(draft)
        if where == "left":
            draft.marks |= {"opens": closing, "forward": sign == "forward"}
            if ending is not None and ending.get("type") == "start":
                self._ending = _passes(ending)
            return
        if repeat is not None and sign == "backward":
            draft.marks["times"] = min(MOST_PASSES, max(2, round(number(repeat.get("times")) or 2)))
        if closing:
            draft.marks["closes"] = True
        stops = ending is not None and ending.get("type") in ("stop", "discontinue")
        if stops or closing or sign == "backward":
            draft.marks["ending_stops"] = True

    def _not_a_number(self, text: str | None, what: str, draft: Drafted) -> None:
        self.faults.append(
            Fault("tune-number", {"text": words(text, 40), "element": what}, measure=draft.number)
        )


def midi_of(element: Element, prefix: str = "", semitones: int = 0) -> int | None:
    """The MIDI pitch of a step, alter and octave, whose names begin with ``prefix``, moved by ``semitones``; None if it is none."""
    step = (element.findtext(f"{prefix}step") or "").strip()
    alter = number(element.findtext(f"{prefix}alter") or "0")
    octave = number(element.findtext(f"{prefix}octave"))
    if len(step) != 1 or step not in "ABCDEFG" or alter is None or octave is None:
        return None
    midi = pitch_class(fifths(step)) + _OCTAVE * (octave + 1) + alter + semitones
    return int(midi) if midi.denominator == 1 and 0 <= midi <= _HIGHEST else None


def _voice(note: Element) -> str:
    return (note.findtext("voice") or "1").strip()


def _passes(ending: Element) -> tuple[int, ...]:
    """The passes an ending is played in; one without a number is the first."""
    found = {int(digits) for digits in re.findall(r"(?<![0-9])[0-9]{1,2}(?![0-9])", ending.get("number", ""))}
    return tuple(sorted(number for number in found if 1 <= number <= MOST_PASSES)) or (1,)


def _length(meter: str) -> int:
    beats, unit = map(int, meter.split("/"))
    return beats * TICKS_PER_WHOLE // unit
