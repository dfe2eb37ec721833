"""MusicXML: valid by the W3C's schema, and read back by another program to the same strings, frets and hands."""

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree

import music21
import pytest
from hypothesis import given
from music21 import articulations

from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Note
from service.music.meter import meter_named
from service.music.passages import Passage, lick_passage
from service.music.scores import Beat, Repeat, Score, Section, Span
from service.notation.musicxml import write_musicxml
from service.notation.musicxml_marks import KINDS
from service.notation.one_line import read_one_line
from service.usecases.licks import read_lick
from service.usecases.seeding import load_fixtures
from tests.notation.w3c import valid
from tests.strategies import passages

BANJO = instrument_named("banjo")


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


@dataclass(frozen=True)
class _Heard:
    """What music21 has of one written note or chord: onset in ticks from the first bar line, and its places."""

    onset: int
    places: tuple[tuple[int, int | None], ...]
    pitches: tuple[int, ...]
    element: Any

    @property
    def goes_on(self) -> bool:
        tie = self.element.tie
        return tie is not None and tie.type in ("stop", "continue")


def _heard(stream: music21.stream.Score, pickup: int = 0) -> list[_Heard]:
    found = []
    for element in stream.parts[0].recurse().notes:
        if isinstance(element, music21.harmony.Harmony):
            continue
        places: list[tuple[int, int | None]] = []
        for mark in element.articulations:
            if type(mark) is articulations.StringIndication:
                places.append((mark.number, None))
            elif type(mark) is articulations.FretIndication:
                places[-1] = (places[-1][0], mark.number)
        onset = Fraction(element.getOffsetInHierarchy(stream)) * 480 - pickup
        found.append(_Heard(round(onset), tuple(places), tuple(p.midi for p in element.pitches), element))
    return found


def _written_pickup(passage: Passage) -> int:
    return -(-passage.pickup_ticks // passage.meter.slot_ticks) * passage.meter.slot_ticks


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
    schema = valid(write_musicxml(EVERYTHING, [("bass", EVERYTHING.passage)]))
    assert list(schema.error_log) == []


def test_the_schema_does_find_faults() -> None:
    spoilt = write_musicxml(EVERYTHING).replace(b"<string>", b"<chain>").replace(b"</string>", b"</chain>")
    assert len(valid(spoilt).error_log) > 0


@given(passages())
def test_any_passage_is_valid(passage: Passage) -> None:
    assert list(valid(write_musicxml(_score(passage))).error_log) == []


@given(passages())
def test_any_passage_is_read_back_by_another_program(passage: Passage) -> None:
    """music21 finds each onset, pitch, string and fret, and each measure its length; a pitch is its line's open sound + fret."""
    pickup = _written_pickup(passage)
    stream = _read(write_musicxml(_score(passage)))
    heard = _heard(stream, pickup)
    onsets = {note.onset for note in passage.notes}
    board = passage.fretboard
    struck = [h for h in heard if h.onset in onsets]
    assert all(h.goes_on for h in heard if h.onset not in onsets)
    assert sorted((h.onset, pitch) for h in struck for pitch in h.pitches) == sorted(
        (n.onset, board.pitch(n.string, n.fret)) for n in passage.notes
    )
    # below the stop of a short string there is a pitch but no fret
    wanted = []
    for note in passage.notes:
        fret = board.pitch(note.string, note.fret) - board.pitch(note.string, 0)
        wanted.append((note.onset, note.string, fret if fret >= 0 else None))
    found = [(h.onset, *place) for h in struck for place in h.places]
    assert sorted(found, key=str) == sorted(wanted, key=str)
    lengths = [m.duration.quarterLength * 480 for m in stream.parts[0].getElementsByClass("Measure")]
    assert lengths == ([pickup] if pickup else []) + list(passage.measures)


def _spanned(stream: music21.stream.Score, kind: str) -> list[tuple[float, float]]:
    return [
        tuple(note.getOffsetInHierarchy(stream) * 480 for note in spanner.getSpannedElements())
        for spanner in stream.parts[0].recurse().getElementsByClass(kind)
    ]


def test_links_are_read_back_with_both_their_ends() -> None:
    stream = _read(write_musicxml(EVERYTHING))
    pickup = 240
    assert _spanned(stream, "HammerOn") == [(0 + pickup, 240 + pickup)]
    assert _spanned(stream, "PullOff") == [(240 + pickup, 480 + pickup)]
    assert _spanned(stream, "Glissando") == [(960 + pickup, 1200 + pickup), (1920 + pickup, 3360 + pickup)]


@pytest.mark.parametrize("technique", ["hammer-on", "pull-off", "slide"])
def test_every_link_of_the_demo_licks_is_read_back(technique: str) -> None:
    kind = {"hammer-on": "HammerOn", "pull-off": "PullOff", "slide": "Glissando"}[technique]
    found = wanted = 0
    for sent in load_fixtures().licks[:60:4]:
        lick = read_lick(sent)[1]
        passage = lick_passage(lick)
        mine = [n for n in passage.notes if n.technique == technique]
        if not mine:
            continue
        stream = _read(write_musicxml(_score(passage)))
        from_nowhere = sum(
            isinstance(a, articulations.Scoop) for h in _heard(stream) for a in h.element.articulations
        )
        wanted += len(mine) - (from_nowhere if technique == "slide" else 0)
        found += len(_spanned(stream, kind))
    assert found == wanted > 0


def test_a_chord_of_the_right_hand_is_one_chord() -> None:
    (pinch,) = (h for h in _heard(_read(write_musicxml(_line("(15) --- ----")))))
    assert (pinch.places, pinch.pitches) == (((1, 0), (5, 0)), (62, 67))


def test_ties_join_what_is_split_and_what_the_player_ties() -> None:
    heard = _heard(_read(write_musicxml(_line("3 2 5 1-- 2 5"))))
    assert [h.element.tie and h.element.tie.type for h in heard] == [
        None, None, None, "start", "stop", None, None,
    ]  # fmt: skip
    tied = _heard(_read(write_musicxml(_line("3 2 5 1 = ---"))))
    assert [h.element.tie and h.element.tie.type for h in tied] == [None, None, None, "start", "stop"]


def test_what_the_hands_do_to_a_note_is_read_back() -> None:
    by_onset = {h.onset: h.element for h in _heard(_read(write_musicxml(EVERYTHING)), 240)}
    assert by_onset[1440].notehead == "x"
    assert by_onset[1920].noteheadParenthesis
    (bend,) = (a for a in by_onset[1680].articulations if isinstance(a, articulations.FretBend))
    assert bend.bendAlter.semitones == 1
    (finger,) = (a for a in by_onset[0].articulations if type(a) is articulations.Fingering)
    assert finger.fingerNumber == 2
    tree = _tree(EVERYTHING)
    assert [p.text for p in tree.iter("pluck")] == ["T", "T", "M", "T"]


def test_a_pick_goes_down_and_up_by_the_signs_of_the_standard() -> None:
    notes = (Note(0, 3, 0, 960, None, "d"), Note(960, 3, 2, 960, None, "u"))
    tree = _tree(_score(Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920,), notes)))
    assert [e.tag for e in tree.iter() if e.tag.endswith("-bow")] == ["down-bow", "up-bow"]


# --- tuning, capo, key -----------------------------------------------------------------------------------


def _tunings(tree: ElementTree.Element) -> list[str]:
    return [
        "".join(child.text or "" for child in tuning)
        for tuning in sorted(tree.iter("staff-tuning"), key=lambda e: int(e.get("line") or 0))
    ]


def test_line_one_is_the_lowest_line() -> None:
    # the schema: "staff-tuning ... lines are numbered from bottom to top"; open G is gDGBD [published]
    assert _tunings(_tree(_line("32514251"))) == ["G4", "D3", "G3", "B3", "D4"]


@pytest.mark.parametrize(
    ("capo", "stop", "fifth"),
    [(0, None, "G4"), (2, None, "G4"), (2, 69, "G4"), (0, 69, "A4"), (4, 69, "F4"), (2, 67, "F4")],
)
def test_the_fifth_string_is_tuned_so_that_with_the_capo_it_sounds_its_stop(
    capo: int, stop: int | None, fifth: str
) -> None:
    tree = _tree(_line("5 --- ----", capo=capo, stop=stop))
    assert _tunings(tree)[0] == fifth
    octaves = {"G4": 67, "A4": 69, "F4": 65}  # middle C is C4, MIDI note 60 [published]
    (heard,) = _heard(_read(write_musicxml(_line("5 --- ----", capo=capo, stop=stop))))
    assert heard.pitches == (octaves[fifth] + capo,) == (stop or 67 + capo,)


def test_the_fifth_string_counts_its_frets_from_where_it_begins() -> None:
    # open fifth 67, so 69 is the second fret past it: checks of pitch [common practice]
    (heard,) = _heard(_read(write_musicxml(_line("5.7 --- ----"))))
    assert (heard.places, heard.pitches) == (((5, 2),), (69,))


def test_with_a_capo_everything_named_is_what_sounds() -> None:
    # G shapes with capo 2 sound in A, their D7 as E7 [common practice]
    changes = (Change(0, chord_named("G")), Change(960, chord_named("D7")))
    score = _line("3251 4.4 2.1 1 5", capo=2, changes=changes)
    tree = _tree(score)
    assert [e.text for e in tree.iter("fifths")] == ["3"]
    assert [e.text for e in tree.iter("root-step")] == ["A", "E"]
    assert [e.text for e in tree.iter("capo")] == ["2"]
    spelled = [
        f"{n.findtext('step')}{'#' * int(n.findtext('alter') or 0)}{n.findtext('octave')}"
        for n in tree.iter("pitch")
    ]
    assert spelled == ["A3", "C#4", "A4", "E4", "G#3", "D4", "E4", "A4"]


def test_a_chord_tone_is_spelled_by_its_chord() -> None:
    changes = (Change(0, chord_named("E7")), Change(960, chord_named("G")))
    tree = _tree(_line("3.1 --- 3.3 ---", changes=changes))
    assert [(n.findtext("step"), n.findtext("alter")) for n in tree.iter("pitch")] == [
        ("G", "1"), ("B", "-1"),
    ]  # fmt: skip


def test_a_key_of_too_many_signs_is_written_by_its_other_name() -> None:
    score = _score(_line("3 ---  ----").passage, key=key_named("Dbm"))
    assert [e.text for e in _tree(score).iter("fifths")] == ["4"]  # C sharp minor


@pytest.mark.parametrize("quality", [quality for quality in KINDS if quality != "7sus4"])
def test_each_chord_symbol_has_the_tones_of_its_name(quality: str) -> None:
    """music21 takes the kind and its degrees for the tones that the house spells."""
    chord = chord_named(f"G{quality}")
    assert chord is not None
    stream = _read(write_musicxml(_line("3251 4251", changes=(Change(0, chord),))))
    (symbol,) = stream.recurse().getElementsByClass("ChordSymbol")
    assert symbol.root().name == "G"
    more = (
        {0} if quality == "13" else set()
    )  # a thirteenth of the standard has an eleventh, the house's has none
    assert {pitch.pitchClass for pitch in symbol.pitches} == set(chord.pitch_classes) | more


def test_an_added_seventh_is_the_small_one() -> None:
    # the schema: an added degree "is relative to a dominant chord"; music21 takes it for the great seventh
    chord = chord_named("G7sus4")
    tree = _tree(_line("3251 4251", changes=(Change(0, chord),)))
    assert [e.text for e in tree.iter("kind")] == ["suspended-fourth"]
    (degree,) = tree.iter("degree")
    assert [child.text for child in degree] == ["7", "0", "add"]


def test_a_measure_without_a_chord_says_so() -> None:
    stream = _read(write_musicxml(EVERYTHING))
    assert [h.figure for h in stream.recurse().getElementsByClass("Harmony")] == ["G", "D7/F#", "N.C."]


def test_a_change_within_a_note_stands_at_its_own_time() -> None:
    changes = (Change(0, chord_named("G")), Change(960, chord_named("D")))
    stream = _read(write_musicxml(_line("3 2 5 1----", changes=changes)))
    found = stream.recurse().getElementsByClass("ChordSymbol")
    assert [h.getOffsetInHierarchy(stream) for h in found] == [0, 2]


# --- form and time ---------------------------------------------------------------------------------------


def test_the_tempo_keeps_its_unit() -> None:
    # half = 110 is quarter = 220 [computed]; a jig counts dotted quarters [common practice]
    tree = _tree(_line("32514251"))
    assert [e.text for e in tree.iter("beat-unit")] == ["half"]
    assert [e.get("tempo") for e in tree.iter("sound")] == ["220"]
    jig = _tree(_score(_line("32514251").passage, beat=Beat(110, "dotted quarter")))
    assert len(list(jig.iter("beat-unit-dot"))) == 1
    assert [e.get("tempo") for e in jig.iter("sound")] == ["165"]


@pytest.mark.parametrize(
    ("meter", "line"),
    [("9/8", "3 - 2 1 - 5 3 2 1, 3 - - - - - - - -"), ("12/8", "3 - 2 1 - 5 3 2 1 5 2 1, 3-----------")],
)
def test_slip_jigs_and_slides_are_read_by_another_program_as_they_are(meter: str, line: str) -> None:
    passage = read_one_line(line, BANJO, meter=meter, tuning="open-g").passage
    document = write_musicxml(_score(passage, beat=Beat(84, "dotted quarter")))
    assert list(valid(document).error_log) == []
    stream = _read(document)
    (time,) = {t.ratioString for t in stream.recurse().getElementsByClass("TimeSignature")}
    assert time == meter
    lengths = [m.duration.quarterLength for m in stream.recurse().getElementsByClass("Measure")]
    assert lengths == [Fraction(passage.meter.measure_ticks, 480)] * 2


def test_sections_and_phrases_stand_where_they_begin() -> None:
    tree = _tree(EVERYTHING)
    found = {
        measure.get("number"): [e.text for e in measure.iter() if e.tag in ("rehearsal", "words")]
        for measure in tree.iter("measure")
    }
    # the second phrase is a rest, of which nothing may be shown
    assert found == {"0": [], "1": ["A", "Up the bank"], "2": ["B"], "3": []}
    assert [b.get("type") for b in tree.iter("bracket")] == ["start", "stop"]


def test_repeats_and_endings_are_played_by_another_program() -> None:
    lines = ", ".join(["3 ---- ---", "4 ---- ---", "2 ---- ---", "1 ---- ---"])
    score = _line(lines, repeats=(Repeat(0, 2, ending=2),))
    stream = _read(write_musicxml(score)).parts[0].expandRepeats()
    assert [p.midi for p in stream.flatten().pitches] == [55, 50, 59, 55, 50, 62]


def test_a_pickup_is_an_implicit_measure_nought() -> None:
    first = next(_tree(_line("4 4.2; 32514251")).iter("measure"))
    assert (first.get("number"), first.get("implicit")) == ("0", "yes")


def test_a_measure_of_another_length_shows_its_time() -> None:
    assert len(list(_tree(_line("32514251, 32514251")).iter("time"))) == 1
    times = [(t.findtext("beats"), t.findtext("beat-type")) for t in _tree(EVERYTHING).iter("time")]
    assert times == [("2", "2"), ("1", "2")]


def test_title_and_rights_stand_in_the_head() -> None:
    tree = _tree(EVERYTHING)
    assert tree.findtext("work/work-title") == "Whistle & <Rail>"
    assert [e.text for e in tree.iter("rights")] == ["Own work.", "Share alike."]
    assert tree.findtext("identification/encoding/software") == "Breakwright"


def test_what_no_file_of_this_kind_can_hold_is_left_out() -> None:
    score = replace(EVERYTHING, title="Bell \x07 and \ud800 line")
    assert _tree(score).findtext("work/work-title") == "Bell  and  line"


def test_a_break_of_nothing_but_a_rest_is_valid() -> None:
    document = write_musicxml(_score(replace(_line("32514251").passage, notes=())))
    assert list(valid(document).error_log) == []
    (rest,) = ElementTree.fromstring(document).iter("rest")
    assert rest.get("measure") == "yes"


def test_further_parts_begin_and_end_with_the_first() -> None:
    bass = instrument_named("upright-bass")
    low = Passage(bass, bass.tuning(), meter_named("2/2"), (1920,), (Note(0, 3, 0, 1920),))
    tree = ElementTree.fromstring(write_musicxml(_line("4 4.2; 32514251"), [("Low end", low)]))
    parts = tree.findall("part")
    assert [[m.get("number") for m in part.iter("measure")] for part in parts] == [["0", "1"], ["0", "1"]]
    assert [e.text for e in tree.iter("part-name")] == ["five-string banjo", "Low end"]
    # General MIDI, from 1: banjo 106, acoustic bass 33 [published]
    assert [e.text for e in tree.iter("midi-program")] == ["106", "33"]
