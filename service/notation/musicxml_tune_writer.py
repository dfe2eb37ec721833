"""Writes a tune as MusicXML 4.0: its melody with chord symbols on one staff, repeats as signs.

Parts stand in the order they are played; what comes several times running stands once, between repeat signs. A pickup is a
measure that is not counted, and shortens the measure before it where that is silent there, as it is when the tune goes round.
"""

from itertools import groupby
from xml.etree.ElementTree import Element

from service.music.harmony import Key
from service.music.instruments import instrument_named
from service.music.licks import Note
from service.music.meter import TICKS_PER_QUARTER, Meter
from service.music.passages import Passage
from service.music.pitch import sane_spelling
from service.music.rhythm import Value, WrittenMeasure, written, written_pickup
from service.music.scores import Beat
from service.notation.brought import MODES, Brought, BroughtPart
from service.notation.musicxml import DOCTYPE, SOFTWARE, VERSION, time_signature
from service.notation.musicxml_marks import Mark, Marks, harmony, tempo
from service.notation.musicxml_notes import look, put_rest, tuplet
from service.notation.spelling import (
    MOST_SIGNS,
    alteration,
    letter,
    octave,
    signature_of,
    spelled,
    written_key,
)
from service.notation.xml_made import add, document

_STAFF = instrument_named("fiddle")  # of which nothing is shown: rhythm is written of what strings do
_STRING = 1


def write_tune_musicxml(brought: Brought) -> bytes:
    """The tune as a UTF-8 document.

    Raises DomainError ``rhythm-too-fine`` with the measure that cannot be written out, ``no-time-signature`` for one that no
    meter fits.
    """
    root = Element("score-partwise", version=VERSION)
    add(add(root, "work"), "work-title", brought.name)
    identification = add(root, "identification")
    if brought.source:
        add(identification, "creator", brought.source, type="composer")
    add(add(identification, "encoding"), "software", SOFTWARE)
    listed = add(add(root, "part-list"), "score-part", id="P1")
    add(listed, "part-name", "Melody")
    _Writer(add(root, "part", id="P1"), brought).write()
    return (DOCTYPE + document(root)).encode()


class _Writer:
    """Writes measure by measure; ``_number`` is that of the last one counted, ``_time`` the time signature that holds."""

    def __init__(self, part: Element, brought: Brought) -> None:
        self._part = part
        self._brought = brought
        self._key = written_key(brought.key)
        self._number = 0
        self._time: tuple[int, int] | None = None

    def write(self) -> None:
        parts = {part.name: part for part in self._brought.parts}
        played = [parts[name] for name in self._brought.order]
        runs = [(parts[name], len(list(run))) for name, run in groupby(self._brought.order)]
        for index, (part, times) in enumerate(runs):
            following = runs[index + 1][0] if index + 1 < len(runs) else played[0]
            nexts = [part, following] if times > 1 else [following]
            gives = {_pickup(one, self._brought.meter) for one in nexts}
            short = gives.pop() if len(gives) == 1 else 0
            if _busy_at_the_end(part, short):
                short = 0
            self._run(part, times, short, last=index + 1 == len(runs))

    def _run(self, part: BroughtPart, times: int, short: int, *, last: bool) -> None:
        lengths = (*part.measures[:-1], part.measures[-1] - short)
        notes = tuple(Note(note.onset, _STRING, note.pitch, note.duration) for note in part.melody)
        passage = Passage(_STAFF, _STAFF.tuning(), self._brought.meter, lengths, notes)
        marks = [Mark(change.onset, harmony(change.chord, self._key)) for change in part.changes]
        shown = Marks(tuple(marks), tuple(mark.onset for mark in marks))
        measures = written(passage)
        for index, measure in enumerate(measures):
            ends = index + 1 == len(measures)
            self._measure(
                measure,
                part.measures[measure.number - 1] if measure.number else self._brought.meter.measure_ticks,
                shown,
                opens=times > 1 and index == 0,
                closes=ends,
                times=times if ends else 1,
                final=ends and last,
            )

    def _measure(
        self,
        measure: WrittenMeasure,
        full: int,
        marks: Marks,
        *,
        opens: bool,
        closes: bool,
        times: int,
        final: bool,
    ) -> None:
        """``full`` is what the time signature says of it."""
        first = self._time is None
        self._number += bool(measure.number)
        # several pickups must not share a number
        number = str(self._number) if measure.number else f"X{self._number}" if self._number else "0"
        one = add(self._part, "measure", number=number)
        if measure.number == 0:
            one.set("implicit", "yes")
        if opens:
            line = add(one, "barline", location="left")
            add(line, "bar-style", "heavy-light")
            add(line, "repeat", direction="forward")
        self._attributes(one, signature_of(full, self._brought.meter))
        if first and self._brought.tempo is not None:
            tempo(one, Beat(*self._brought.tempo))
        for value in measure.values:
            at = measure.onset + value.onset
            for mark in marks.within(at, at + value.ticks):
                mark.put(one, at)
            _put(one, measure, value, self._key)
        if closes:
            line = add(one, "barline", location="right")
            add(line, "bar-style", "light-heavy" if final or times > 1 else "light-light")
            if times > 1:
                repeat = add(line, "repeat", direction="backward")
                if times > 2:
                    repeat.set("times", str(times))

    def _attributes(self, measure: Element, time: tuple[int, int]) -> None:
        if time == self._time:
            return
        attributes = add(measure, "attributes")
        if self._time is None:
            add(attributes, "divisions", TICKS_PER_QUARTER)
            key = add(attributes, "key")
            add(key, "fifths", self._signature())
            add(key, "mode", self._brought.mode)
        time_signature(attributes, time, self._brought.meter)
        if self._time is None:
            clef = add(attributes, "clef")
            add(clef, "sign", "G")
            add(clef, "line", 2)
        self._time = time

    def _signature(self) -> int:
        """That of the mode, which lies up to two signs from that of the major or minor key."""
        signs = self._key.tonic - MODES[self._brought.mode][0]
        return signs if abs(signs) <= MOST_SIGNS else sane_spelling(signs)


def _pickup(part: BroughtPart, meter: Meter) -> int:
    """Length of the measure that the part's pickup takes."""
    notes = tuple(Note(note.onset, _STRING, note.pitch, note.duration) for note in part.melody[:1])
    return written_pickup(Passage(_STAFF, _STAFF.tuning(), meter, part.measures, notes))


def _busy_at_the_end(part: BroughtPart, ticks: int) -> bool:
    """Whether something sounds or changes in the last ``ticks`` of the part, or nothing else is left of a measure or part."""
    end = sum(part.measures) - ticks
    return (
        len(part.measures) == 1
        or part.measures[-1] <= ticks
        or any(note.onset + note.duration > end for note in part.melody)
        or any(change.onset >= end for change in part.changes)
    )


def _put(parent: Element, measure: WrittenMeasure, value: Value, key: Key) -> None:
    """The note of a value, or its rest."""
    if value.rest:
        put_rest(parent, measure, value)
        return
    (note,) = value.notes
    tied = [kind for kind, strings in (("stop", value.tied_from), ("start", value.tied_to)) if strings]
    element = add(parent, "note")
    spelling = spelled(note.fret, key, None)
    pitch = add(element, "pitch")
    add(pitch, "step", letter(spelling))
    if alteration(spelling):
        add(pitch, "alter", alteration(spelling))
    add(pitch, "octave", octave(note.fret, spelling))
    add(element, "duration", value.ticks)
    for kind in tied:
        add(element, "tie", type=kind)
    look(element, value)
    for number, beam in enumerate(value.beams, 1):
        add(element, "beam", beam, number=str(number))
    if tied or value.tuplet:
        notations = add(element, "notations")
        for kind in tied:
            add(notations, "tied", type=kind)
        tuplet(notations, value)
