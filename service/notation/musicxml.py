"""A score as MusicXML 4.0: one tablature staff for each part.

What the standard leaves open is done like this. Pitches, key and chord symbols are those that sound; the capo stands in
``staff-details``, whose tunings are without it, so that a pitch is always its line's tuning + capo + fret. Frets of the
banjo's short string are counted from its open sound (the first fret past its peg is 1, not 6), and its tuning takes its stop
into account, so that this is true of it too. A pickup is an implicit measure 0. A measure of another length shows its own
time signature, and the next one the usual. Repeats stand as repeats.
"""

from collections.abc import Sequence
from dataclasses import replace
from xml.etree.ElementTree import Element

from service.music.meter import TICKS_PER_QUARTER, Meter
from service.music.passages import Passage
from service.music.pitch import nearest_spelling
from service.music.rhythm import WrittenMeasure, written, written_pickup
from service.music.scores import Score
from service.notation.musicxml_marks import Barlines, Marks, marks_of, tempo
from service.notation.musicxml_notes import PartNotes
from service.notation.programs import program_of
from service.notation.spelling import alteration, letter, octave, signature_of, written_key
from service.notation.xml_made import add, document

SOFTWARE = "Breakwright"
VERSION = "4.0"
DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_TAB_CLEF_LINE = 5  # published: the usual line of the TAB clef; on fewer lines the top one
_TUNED_IN = 0  # open strings are named as in C, whatever the key: nobody tunes to E sharp
_DRUMS = 10  # MIDI channel from 1, kept free


def write_musicxml(score: Score, parts: Sequence[tuple[str, Passage]] = ()) -> bytes:
    """The score as a UTF-8 document; ``parts`` are further players, each a name and what they play.

    Chords, sections, phrases, tempo, left-hand fingers and repeats stand in the first part. Further parts have the measures
    of the score. Raises DomainError ``rhythm-too-fine`` with the measure that cannot be written out.
    """
    passages = [
        score.passage,
        *(replace(passage, measures=score.passage.measures) for _, passage in parts),
    ]
    names = [score.passage.instrument.name, *(name for name, _ in parts)]
    pickup = max(written_pickup(passage) for passage in passages)
    root = Element("score-partwise", version=VERSION)
    _head(root, score)
    _part_list(root, names, passages)
    for number, passage in enumerate(passages, 1):
        part = add(root, "part", id=f"P{number}")
        _measures(part, score, passage, written(passage, pickup), first=number == 1)
    return (DOCTYPE + document(root)).encode()


def _head(root: Element, score: Score) -> None:
    add(add(root, "work"), "work-title", score.title)
    identification = add(root, "identification")
    for line in score.credits:
        add(identification, "rights", line)
    add(add(identification, "encoding"), "software", SOFTWARE)


def _part_list(root: Element, names: Sequence[str], passages: Sequence[Passage]) -> None:
    listed = add(root, "part-list")
    channels = [channel for channel in range(1, 17) if channel != _DRUMS]
    for number, (name, passage) in enumerate(zip(names, passages, strict=True), 1):
        part = add(listed, "score-part", id=f"P{number}")
        add(part, "part-name", name)
        instrument = add(part, "score-instrument", id=f"P{number}-I1")
        add(instrument, "instrument-name", passage.instrument.name)
        sound = add(part, "midi-instrument", id=f"P{number}-I1")
        add(sound, "midi-channel", channels[(number - 1) % len(channels)])
        add(sound, "midi-program", program_of(passage.instrument))


def _measures(
    part: Element, score: Score, passage: Passage, measures: Sequence[WrittenMeasure], *, first: bool
) -> None:
    marks = marks_of(score, measures) if first else Marks()
    barlines = Barlines(score.repeats, measures[-1].number)
    notes = PartNotes(score, passage, measures, score.left if first else {})
    meter = passage.meter
    before: tuple[int, int] | None = None
    for index, measure in enumerate(measures):
        one = add(part, "measure", number=str(measure.number))
        if measure.number == 0:
            one.set("implicit", "yes")
        barlines.left(one, measure.number)
        # a pickup is part of a measure of the meter
        time = signature_of(measure.ticks if measure.number else meter.measure_ticks, meter)
        if index == 0 or time != before:
            _attributes(one, score, passage, time, whole=index == 0)
        before = time
        if first and index == 0:
            tempo(one, score.beat)
        for value in measure.values:
            for mark in marks.within(measure.onset + value.onset, measure.onset + value.onset + value.ticks):
                mark.put(one, measure.onset + value.onset)
            notes.put(one, measure, value)
        for mark in marks.ending(measure.onset + measure.ticks):
            mark.put(one, measure.onset + measure.ticks)
        barlines.right(one, measure.number)


def _attributes(
    measure: Element, score: Score, passage: Passage, time: tuple[int, int], *, whole: bool
) -> None:
    attributes = add(measure, "attributes")
    if whole:
        add(attributes, "divisions", TICKS_PER_QUARTER)
        key = add(attributes, "key")
        sounding = written_key(score.sounding)
        add(key, "fifths", sounding.signature)
        add(key, "mode", sounding.mode)
    time_signature(attributes, time, passage.meter)
    if whole:
        strings = passage.instrument.strings
        clef = add(attributes, "clef")
        add(clef, "sign", "TAB")
        add(clef, "line", min(_TAB_CLEF_LINE, strings))
        _staff(attributes, passage)


def time_signature(attributes: Element, time: tuple[int, int], meter: Meter) -> None:
    element = add(attributes, "time")
    if time == (2, 2) and meter.name == "2/2":
        element.set("symbol", "cut")
    add(element, "beats", time[0])
    add(element, "beat-type", time[1])


def _staff(attributes: Element, passage: Passage) -> None:
    strings = passage.instrument.strings
    details = add(attributes, "staff-details")
    add(details, "staff-lines", strings)
    for line in range(1, strings + 1):  # line 1 is the lowest, string 1 the highest
        pitch = passage.fretboard.pitch(strings + 1 - line, 0) - passage.capo
        place = nearest_spelling(pitch, _TUNED_IN)
        tuning = add(details, "staff-tuning", line=str(line))
        add(tuning, "tuning-step", letter(place))
        if alteration(place):
            add(tuning, "tuning-alter", alteration(place))
        add(tuning, "tuning-octave", octave(pitch, place))
    if passage.capo:
        add(details, "capo", passage.capo)
