"""What stands around the notes of a MusicXML part: chords, sections, phrases, tempo, repeats."""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from service.music.harmony import Chord, Key
from service.music.meter import TICKS_PER_QUARTER
from service.music.rhythm import WrittenMeasure
from service.music.scores import Beat, Repeat, Score
from service.notation.spelling import alteration, letter, sounding_chord
from service.notation.xml_made import add

NO_CHORD_TEXT = "N.C."
UNITS = {
    "half": ("half", 0),
    "quarter": ("quarter", 0),
    "dotted quarter": ("quarter", 1),
    "eighth": ("eighth", 0),
}
# Kinds of the standard for the house's chord qualities, and the degrees (value, alteration) that a kind lacks.
KINDS: dict[str, tuple[str, tuple[tuple[int, int], ...]]] = {
    "": ("major", ()),
    "m": ("minor", ()),
    "7": ("dominant", ()),
    "maj7": ("major-seventh", ()),
    "m7": ("minor-seventh", ()),
    "mmaj7": ("major-minor", ()),
    "dim": ("diminished", ()),
    "dim7": ("diminished-seventh", ()),
    "m7b5": ("half-diminished", ()),
    "aug": ("augmented", ()),
    "7#5": ("augmented-seventh", ()),
    "6": ("major-sixth", ()),
    "m6": ("minor-sixth", ()),
    "69": ("major-sixth", ((9, 0),)),
    "9": ("dominant-ninth", ()),
    "maj9": ("major-ninth", ()),
    "m9": ("minor-ninth", ()),
    "11": ("dominant-11th", ()),
    "13": ("dominant-13th", ()),
    "7b9": ("dominant", ((9, -1),)),
    "7#9": ("dominant", ((9, 1),)),
    "add9": ("major", ((9, 0),)),
    "madd9": ("minor", ((9, 0),)),
    "sus4": ("suspended-fourth", ()),
    "sus2": ("suspended-second", ()),
    "7sus4": ("suspended-fourth", ((7, 0),)),
    "5": ("power", ()),
}


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that stands at a tick; ``make`` puts it into a measure and returns where an offset would go."""

    onset: int
    make: Callable[[Element], tuple[Element, int]]

    def put(self, measure: Element, now: int) -> None:
        """Write it at the place in the file where the music has come to ``now``."""
        element, before = self.make(measure)
        if self.onset != now:
            offset = Element("offset")
            offset.text = str(self.onset - now)
            element.insert(before, offset)


@dataclass(frozen=True, slots=True)
class Marks:
    """``marks`` in order; ``ends`` are those that close something at the end of a measure."""

    marks: tuple[Mark, ...] = ()
    onsets: tuple[int, ...] = ()
    ends: dict[int, tuple[Mark, ...]] = field(default_factory=dict)

    def within(self, start: int, end: int) -> tuple[Mark, ...]:
        return self.marks[bisect_left(self.onsets, start) : bisect_left(self.onsets, end)]

    def ending(self, end: int) -> tuple[Mark, ...]:
        return self.ends.get(end, ())


def marks_of(score: Score, measures: Sequence[WrittenMeasure]) -> Marks:
    """Sections, phrases and chords. A phrase has its name at its beginning and a bracket as long as it is."""
    bars = {measure.onset + measure.ticks for measure in measures}
    marks = [Mark(section.onset, _rehearsal(section.name)) for section in score.sections]
    ends: dict[int, list[Mark]] = {}
    for span in score.phrases:
        if span.rest or not span.label:
            continue
        marks.append(Mark(span.onset, _phrase(span.label)))
        end = Mark(span.onset + span.ticks, _bracket_end)
        if end.onset in bars:
            ends.setdefault(end.onset, []).append(end)
        else:
            marks.append(end)
    for change in score.passage.changes:
        marks.append(Mark(change.onset, harmony(sounding_chord(change.chord, score), score.sounding)))
    marks.sort(key=lambda mark: mark.onset)
    return Marks(
        tuple(marks), tuple(mark.onset for mark in marks), {end: tuple(of) for end, of in ends.items()}
    )


def _rehearsal(name: str) -> Callable[[Element], tuple[Element, int]]:
    def make(measure: Element) -> tuple[Element, int]:
        direction = add(measure, "direction", placement="above")
        add(add(direction, "direction-type"), "rehearsal", name)
        return direction, 1

    return make


def _phrase(label: str) -> Callable[[Element], tuple[Element, int]]:
    def make(measure: Element) -> tuple[Element, int]:
        direction = add(measure, "direction", placement="above")
        add(add(direction, "direction-type"), "words", label)
        bracket = {"type": "start", "number": "1", "line-end": "down"}
        add(add(direction, "direction-type"), "bracket", **bracket)
        return direction, 2

    return make


def _bracket_end(measure: Element) -> tuple[Element, int]:
    direction = add(measure, "direction", placement="above")
    add(add(direction, "direction-type"), "bracket", **{"type": "stop", "number": "1", "line-end": "down"})
    return direction, 1


def harmony(chord: Chord | None, key: Key) -> Callable[[Element], tuple[Element, int]]:
    """A chord symbol, as what makes a mark of it; None is N.C., which stands at the tonic of ``key``."""

    def make(measure: Element) -> tuple[Element, int]:
        element = add(measure, "harmony", placement="above")
        root = add(element, "root")
        if chord is None:  # the standard wants a root all the same, and an empty text to keep it from sight
            add(root, "root-step", letter(key.tonic), text="")
            add(element, "kind", "none", text=NO_CHORD_TEXT)
            return element, 2
        kind, degrees = KINDS[chord.quality]
        _tone(root, "root", chord.root)
        text = {"text": chord.quality} if chord.quality else {}
        add(element, "kind", kind, **text)
        if chord.bass is not None:
            _tone(add(element, "bass"), "bass", chord.bass)
        for value, alter in degrees:
            degree = add(element, "degree", **{"print-object": "no"})
            add(degree, "degree-value", value)
            add(degree, "degree-alter", alter)
            add(degree, "degree-type", "add")
        return element, len(element)

    return make


def _tone(parent: Element, name: str, place: int) -> None:
    add(parent, f"{name}-step", letter(place))
    if alteration(place):
        add(parent, f"{name}-alter", alteration(place))


def tempo(measure: Element, beat: Beat) -> None:
    """The metronome mark in its own unit; for players of files the same in quarters a minute."""
    direction = add(measure, "direction", placement="above")
    metronome = add(add(direction, "direction-type"), "metronome", parentheses="no")
    unit, dots = UNITS[beat.unit]
    add(metronome, "beat-unit", unit)
    for _ in range(dots):
        add(metronome, "beat-unit-dot")
    add(metronome, "per-minute", beat.bpm)
    quarters = beat.bpm * beat.ticks / TICKS_PER_QUARTER
    add(direction, "sound", tempo=f"{quarters:g}")


class Barlines:
    """Repeats, endings and the last bar line, by the numbers of the measures (from 1)."""

    def __init__(self, repeats: Sequence[Repeat], last: int) -> None:
        self._last = last
        self._forward = {repeat.first + 1 for repeat in repeats}
        self._backward = {repeat.last + 1 for repeat in repeats}
        self._begins: dict[int, int] = {}
        self._stops: dict[int, int] = {}
        for repeat in repeats:
            if repeat.ending is None:
                continue
            length = repeat.last - repeat.ending + 1
            self._begins |= {repeat.ending + 1: 1, repeat.last + 2: 2}
            self._stops |= {repeat.last + 1: 1, repeat.last + 1 + length: 2}

    def left(self, measure: Element, number: int) -> None:
        ending = self._begins.get(number)
        if number not in self._forward and ending is None:
            return
        line = add(measure, "barline", location="left")
        if number in self._forward:
            add(line, "bar-style", "heavy-light")
        if ending:
            add(line, "ending", number=str(ending), type="start")
        if number in self._forward:
            add(line, "repeat", direction="forward")

    def right(self, measure: Element, number: int) -> None:
        ending = self._stops.get(number)
        if number not in self._backward and ending is None and number != self._last:
            return
        line = add(measure, "barline", location="right")
        if number in self._backward or number == self._last:
            add(line, "bar-style", "light-heavy")
        if ending:
            add(line, "ending", number=str(ending), type="stop")
        if number in self._backward:
            add(line, "repeat", direction="backward")
