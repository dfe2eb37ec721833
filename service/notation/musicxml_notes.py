"""The notes of a MusicXML part: pitch, length, string, fret, and what the hands do."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element

from service.music.licks import Note
from service.music.passages import Passage
from service.music.rhythm import ACTUAL, NORMAL, Value, WrittenMeasure
from service.music.scores import Score
from service.notation.linked import CHOKE_SEMITONES, sources
from service.notation.spelling import alteration, letter, octave, sounding_chord, spelled, written_key
from service.notation.xml_made import add

# Picking marks that the standard has signs for; the other letters stand as they are.
_STROKES = {"d": "down-bow", "u": "up-bow"}
_LINKS = {"hammer-on": "H", "pull-off": "P"}  # with the letter that is usual above the tab
_NOTEHEADS: dict[str, tuple[str, dict[str, str]]] = {
    "mute": ("x", {}),
    "ghost": ("normal", {"parentheses": "yes"}),
}


class PartNotes:
    """Writes the notes of one part, value by value, in order."""

    def __init__(
        self,
        score: Score,
        passage: Passage,
        measures: Sequence[WrittenMeasure],
        left: Mapping[tuple[int, int], int],
    ) -> None:
        self._passage = passage
        self._left = left
        self._key = written_key(score.sounding)
        self._chords = [sounding_chord(change.chord, score) for change in score.passage.changes]
        self._chord_onsets = [change.onset for change in score.passage.changes]
        self._sources = sources(passage.notes, passage.meter)
        self._leads_to: dict[tuple[int, int], str] = {}
        for note in passage.notes:
            before = self._sources.get((note.onset, note.string))
            if before is not None and note.technique is not None:
                self._leads_to[before.onset, before.string] = note.technique
        self._last_piece = {
            (note.onset, note.string): measure.onset + value.onset
            for measure in measures
            for value in measure.values
            for note in value.notes
        }
        self._pitches: dict[tuple[int, int, int], tuple[int, int]] = {}

    def put(self, parent: Element, measure: WrittenMeasure, value: Value) -> None:
        """The notes of a value, or its rest."""
        if value.rest:
            put_rest(parent, measure, value)
        for number, note in enumerate(value.notes):
            self._note(parent, measure.onset + value.onset, value, note, first=number == 0)

    def _note(self, parent: Element, at: int, value: Value, note: Note, *, first: bool) -> None:
        place = (note.onset, note.string)
        begins, ends = note.onset == at, self._last_piece[place] == at
        leads_to = self._leads_to.get(place) if ends else None
        came_from = note.technique if begins and place in self._sources else None
        tied = [
            kind
            for kind, holds in (
                ("stop", note.string in value.tied_from or came_from == "tie"),
                ("start", note.string in value.tied_to or leads_to == "tie"),
            )
            if holds
        ]
        element = add(parent, "note")
        if not first:
            add(element, "chord")
        pitch, spelling = self._pitch(note)
        written = add(element, "pitch")
        add(written, "step", letter(spelling))
        if alteration(spelling):
            add(written, "alter", alteration(spelling))
        add(written, "octave", octave(pitch, spelling))
        add(element, "duration", value.ticks)
        for kind in tied:
            add(element, "tie", type=kind)
        look(element, value)
        head = _NOTEHEADS.get(note.technique or "")
        if head:
            add(element, "notehead", head[0], **head[1])
        if first:
            for number, beam in enumerate(value.beams, 1):
                add(element, "beam", beam, number=str(number))
        notations = add(element, "notations")
        for kind in tied:
            add(notations, "tied", type=kind)
        if first:
            tuplet(notations, value)
        string = str(note.string)
        if came_from == "slide":
            add(notations, "slide", type="stop", number=string)
        if leads_to == "slide":
            add(notations, "slide", type="start", number=string, **{"line-type": "solid"})
        self._technical(notations, note, came_from, leads_to, begins=begins)
        if note.technique == "slide" and begins and came_from is None:
            add(add(notations, "articulations"), "scoop")

    def _pitch(self, note: Note) -> tuple[int, int]:
        """Sounding pitch and its place on the line of fifths."""
        index = bisect_right(self._chord_onsets, note.onset) - 1
        known = self._pitches.get((index, note.string, note.fret))
        if known is None:
            pitch = self._passage.fretboard.pitch(note.string, note.fret)
            chord = self._chords[index] if index >= 0 else None
            known = (pitch, spelled(pitch, self._key, chord))
            self._pitches[index, note.string, note.fret] = known
        return known

    def _technical(
        self, notations: Element, note: Note, came_from: str | None, leads_to: str | None, *, begins: bool
    ) -> None:
        technical = add(notations, "technical")
        board = self._passage.fretboard
        fret = board.pitch(note.string, note.fret) - board.pitch(note.string, 0)
        add(technical, "string", note.string)
        if fret >= 0:  # below its stop a short string has no frets
            add(technical, "fret", fret)
        string = str(note.string)
        if came_from in _LINKS:
            add(technical, came_from, type="stop", number=string)
        if leads_to in _LINKS:
            add(technical, leads_to, _LINKS[leads_to], type="start", number=string)
        if not begins:
            return
        if note.technique == "choke":
            add(add(technical, "bend"), "bend-alter", CHOKE_SEMITONES)
        finger = self._left.get((note.onset, note.string))
        if finger:
            add(technical, "fingering", finger)
        if note.finger in _STROKES:
            add(technical, _STROKES[note.finger])
        elif note.finger:
            add(technical, "pluck", note.finger)


def put_rest(parent: Element, measure: WrittenMeasure, value: Value) -> None:
    element = add(parent, "note")
    rest = add(element, "rest")
    add(element, "duration", value.ticks)
    if value.ticks == measure.ticks:
        rest.set("measure", "yes")
        add(element, "voice", 1)
        return
    look(element, value)
    if value.tuplet and value.tuplet.edge != "inside":
        tuplet(add(element, "notations"), value)


def look(element: Element, value: Value) -> None:
    """Voice, note type, dots and triplet, in the order of the standard."""
    add(element, "voice", 1)
    add(element, "type", value.kind)
    for _ in range(value.dots):
        add(element, "dot")
    if value.tuplet:
        change = add(element, "time-modification")
        add(change, "actual-notes", ACTUAL)
        add(change, "normal-notes", NORMAL)
        if value.tuplet.kind != value.kind or value.dots:
            add(change, "normal-type", value.tuplet.kind)


def tuplet(notations: Element, value: Value) -> None:
    if value.tuplet and value.tuplet.edge != "inside":
        add(notations, "tuplet", type=value.tuplet.edge, number="1")
