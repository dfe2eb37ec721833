"""MusicXML: valid by the W3C's schema, and read back by another program to the same strings, frets and hands."""

import io
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any
from xml.etree import ElementTree

import music21
import pytest
from hypothesis import given, settings
from lxml import etree

from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Note, lick_passage, sounding
from service.music.meter import meter_named
from service.music.passages import Passage, lasting
from service.music.scores import Beat, Repeat, Score, Section, Span
from service.notation.musicxml import write_musicxml
from service.notation.musicxml_marks import _KINDS
from service.notation.one_line import read_one_line
from service.usecases.licks import read_lick
from service.usecases.seeding import load_fixtures
from tests.strategies import passages

BANJO = instrument_named("banjo")
XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
 <xs:attribute name="href" type="xs:anyURI"/> <xs:attribute name="type" type="xs:string"/>
 <xs:attribute name="role" type="xs:string"/> <xs:attribute name="title" type="xs:string"/>
 <xs:attribute name="show" type="xs:string"/> <xs:attribute name="actuate" type="xs:string"/>
</xs:schema>"""
XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
 <xs:attribute name="lang" type="xs:language"/> <xs:attribute name="space" type="xs:string"/>
</xs:schema>"""


class _Local(etree.Resolver):
    """The two schemas that the W3C's imports, which hold attributes of links and languages."""

    def resolve(self, url: str, _: str | None, context: Any) -> Any:
        text = {"xlink.xsd": XLINK, "xml.xsd": XML}.get(url.rsplit("/", 1)[-1])
        return self.resolve_string(text, context) if text else None


@cache
def _schema() -> etree.XMLSchema:
    """MusicXML 4.0 as the W3C publishes it, out of the package ``musicxml``."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    text = files("musicxml").joinpath("generate_classes/musicxml_4_0.xsd").read_bytes()
    return etree.XMLSchema(etree.parse(io.BytesIO(text), parser))


def _valid(document: bytes) -> etree.XMLSchema:
    schema = _schema()
    schema.validate(etree.fromstring(document, etree.XMLParser(no_network=True, load_dtd=False)))
    return schema


def _score(passage: Passage, **more: Any) -> Score:
    given = {"title": "Made up", "key": key_named("G"), "beat": Beat(110, "half"), **more}
    return Score(passage=passage, **given)


def _line(text: str, **more: Any) -> Score:
    passage = read_one_line(text, BANJO, meter="2/2", tuning="open-g").passage
    kept = {name: more.pop(name) for name in ("capo", "stop", "changes") if name in more}
    return _score(replace(passage, **kept), **more)


def _tree(score: Score) -> ElementTree.Element:
    return ElementTree.fromstring(write_musicxml(score))


def _read(document: bytes) -> music21.stream.Score:
    return music21.converter.parseData(document.decode(), format="musicxml")


def _notes(stream: music21.stream.Score) -> Iterator[Any]:
    """Single notes, those of chords one by one."""
    for element in stream.parts[0].recurse().notes:
        if isinstance(element, music21.harmony.ChordSymbol):
            continue
        yield from element.notes if isinstance(element, music21.chord.Chord) else (element,)


def _place(note: Any) -> tuple[int, int]:
    (string,) = (a.number for a in note.articulations if isinstance(a, music21.articulations.StringIndication))
    (fret,) = (a.number for a in note.articulations if isinstance(a, music21.articulations.FretIndication))
    return string, fret


FEATURES = [
    Note(-240, 4, 2, 240, None, "T"), Note(0, 3, 2, 240, None, "T"), Note(240, 3, 3, 240, "hammer-on"),
    Note(480, 3, 2, 240, "pull-off"), Note(720, 1, 0, 240, None, "M"), Note(720, 5, 0, 240, None, "T"),
    Note(960, 2, 1, 240), Note(1200, 2, 3, 240, "slide"), Note(1440, 3, 0, 240, "mute"),
    Note(1680, 2, 10, 240, "choke"), Note(1920, 4, 5, 160, "ghost"), Note(2080, 3, 4, 160),
    Note(2240, 1, 2, 160), Note(2400, 1, 2, 480, "tie"), Note(2880, 5, 7, 480), Note(3360, 4, 4, 240, "slide"),
]  # fmt: skip
EVERYTHING = Score(
    "Whistle & <Rail>",
    Passage(
        BANJO, BANJO.tuning(), meter_named("2/2"), (1920, 1920, 960), tuple(FEATURES),
        (Change(0, chord_named("G")), Change(1200, chord_named("D7/F#")), Change(1920, None)),
    ),
    key_named("G"), Beat(110, "half"), (Section(0, "A"), Section(1920, "B")),
    (Span(0, 1920, "Up the bank"), Span(1920, 2880, "Lick 4", rest=True)), (Repeat(0, 0),), {(0, 3): 2},
    frozenset(), ("Own work.", "Share alike."),
)  # fmt: skip


def test_everything_at_once_is_valid_by_the_schema_of_the_w3c() -> None:
    schema = _valid(write_musicxml(EVERYTHING, [("bass", EVERYTHING.passage)]))
    assert list(schema.error_log) == []


def test_the_schema_does_find_faults() -> None:
    spoilt = write_musicxml(EVERYTHING).replace(b"<string>", b"<chain>").replace(b"</string>", b"</chain>")
    assert len(_valid(spoilt).error_log) > 0


@settings(max_examples=60, deadline=None)
@given(passages())
def test_any_passage_is_valid(passage: Passage) -> None:
    assert list(_valid(write_musicxml(_score(passage))).error_log) == []


@settings(max_examples=25, deadline=None)
@given(passages())
def test_any_passage_is_read_back_by_another_program(passage: Passage) -> None:
    """music21 finds each onset, pitch, string and fret, and each measure its length."""
    stream = _read(write_musicxml(_score(passage)))
    pickup = -(-passage.pickup_ticks // passage.meter.slot_ticks) * passage.meter.slot_ticks
    board = passage.fretboard
    found = sorted(
        (round(Fraction(_onset(note, stream)) * 480) - pickup, *_place(note), note.pitch.midi)
        for note in _notes(stream)
        if note.tie is None or note.tie.type == "start" or not _goes_on(note)
    )
    opens = {string: board.pitch(string, 0) for string in range(1, passage.instrument.strings + 1)}
    wanted = sorted(
        (n.onset, n.string, board.pitch(n.string, n.fret) - opens[n.string], board.pitch(n.string, n.fret))
        for n in passage.notes
        if board.pitch(n.string, n.fret) >= opens[n.string]
    )
    assert set(wanted) <= set(found)
    assert {row[0] for row in found} >= {note.onset for note in passage.notes}
    lengths = [m.duration.quarterLength * 480 for m in stream.parts[0].getElementsByClass("Measure")]
    assert lengths == ([pickup] if pickup else []) + list(passage.measures)


def _onset(note: Any, stream: music21.stream.Score) -> Any:
    carrier = note.getContextByClass("Chord") if note.activeSite is None else note
    return carrier.getOffsetInHierarchy(stream)


def _goes_on(note: Any) -> bool:
    return note.tie is not None and note.tie.type in ("stop", "continue")
