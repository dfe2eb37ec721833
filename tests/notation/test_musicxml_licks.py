"""Licks in MusicXML with a tab staff: read back from our own files, and from files that say the same in other ways."""

import io
import zipfile
from dataclasses import replace
from itertools import groupby

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import articulations
from music21.musicxml.m21ToXml import GeneralObjectExporter

from service.errors import MOST_FAULTS, DomainError, Fault, ReadingError
from service.music.harmony import chord_named, key_named
from service.music.instruments import all_instruments, instrument_named
from service.music.licks import LINKED, RIGHT_HANDS, Change, Note
from service.music.meter import meter_named
from service.music.passages import Passage, lasting
from service.music.scores import Beat, Repeat, Score
from service.notation.linked import sources
from service.notation.musicxml import write_musicxml
from service.notation.musicxml_licks import BroughtLick, read_lick_musicxml
from service.notation.one_line import read_one_line
from service.wording import said
from tests.strategies import passages

BANJO = instrument_named("banjo")
KEYS = ("G", "C", "D", "A", "Em", "F#", "Gb", "Ebm", "Dbm")


def _score(passage: Passage, key: str = "G", **more: object) -> Score:
    return Score("Up the bank", passage, key_named(key), Beat(110, "half"), **more)  # type: ignore[arg-type]


def _line(text: str) -> Passage:
    return read_one_line(text, BANJO, meter="2/2", tuning="open-g").passage


def _codes(lick: BroughtLick) -> list[str]:
    assert all(said(remark) for remark in lick.reading.warnings)
    return [remark.code for remark in lick.reading.warnings]


def _faults(data: bytes, instrument: str = "banjo") -> tuple[Fault, ...]:
    with pytest.raises(ReadingError) as caught:
        read_lick_musicxml(data, instrument_named(instrument))
    assert all(said(fault) for fault in caught.value.at)
    return caught.value.at


# --- our own files -----------------------------------------------------------------------------------------


def _as_written(passage: Passage) -> tuple[Note, ...]:
    """The notes of a passage as a file can say them: a link without a note that it comes from is none, and what is tied within
    its measure, with nothing struck meanwhile, is one note."""
    linked = sources(passage.notes, passage.meter)
    kept: list[Note] = []
    ends: dict[tuple[int, int], int] = {}  # by string and fret
    for onset, struck in groupby(passage.notes, key=lambda note: note.onset):
        together = list(struck)
        beside = {note.string for note in together if ends.get((note.string, note.fret)) == onset}
        notes = [
            replace(note, technique=None)
            if note.technique in LINKED
            and note.technique != "slide"  # one from nowhere is a scoop
            and (onset, note.string) not in linked
            and not (note.technique == "tie" and note.string in beside)
            else note
            for note in together
        ]
        ends |= {(note.string, note.fret): onset + note.duration for note in notes}
        held = all(note.technique == "tie" and note.string in beside for note in notes)
        if not held or onset in passage.starts:
            kept += notes
    return lasting(kept, passage.starts, passage.ticks)


def _tones(changes: tuple[Change, ...]) -> list[object]:
    """Chords by what they are, however they are spelled."""
    return [
        (
            change.onset,
            change.chord and (change.chord.family, change.chord.quality, change.chord.pitch_classes),
        )
        for change in changes
    ]


@given(passages(), st.sampled_from(KEYS))
def test_any_lick_of_our_own_files_comes_back(passage: Passage, key: str) -> None:
    """The meter is asked for: a lick of nothing but short measures does not say its own."""
    back = read_lick_musicxml(
        write_musicxml(_score(passage, key)), passage.instrument, meter=passage.meter.name
    )
    read = back.reading.passage
    assert read.notes == _as_written(passage)
    assert replace(read, notes=(), changes=()) == replace(passage, notes=(), changes=())
    assert _tones(read.changes) == _tones(passage.changes)
    if not passage.capo:
        assert [change.chord for change in read.changes] == [
            chord and chord.respelled() for chord in (change.chord for change in passage.changes)
        ]
    assert (back.key.tonic_class, back.key.mode) == (key_named(key).tonic_class, key_named(key).mode)
    assert back.name == "Up the bank"
    assert set(_codes(back)) <= {"tune-crooked", "lick-moved-by-capo"}


@given(passages())
def test_the_meter_is_read_where_every_measure_has_it(passage: Passage) -> None:
    full = replace(passage, measures=(passage.meter.measure_ticks,) * 8)
    read = read_lick_musicxml(write_musicxml(_score(full)), full.instrument).reading.passage
    assert (read.meter, read.measures) == (full.meter, full.measures)


@pytest.mark.parametrize("instrument", all_instruments(), ids=lambda one: one.id)
def test_every_tuning_is_known_by_its_open_strings(instrument: object) -> None:
    assert isinstance(instrument, type(BANJO))
    for tuning in instrument.tunings:
        passage = Passage(instrument, tuning, meter_named("2/2"), (1920,), (Note(0, 1, 0, 1920),))
        read = read_lick_musicxml(write_musicxml(_score(passage)), instrument).reading.passage
        assert read.tuning == tuning


@pytest.mark.parametrize("finger", RIGHT_HANDS)
def test_every_finger_of_the_picking_hand_comes_back(finger: str) -> None:
    passage = replace(_line("3-------"), notes=(Note(0, 3, 0, 1920, None, finger),))
    assert read_lick_musicxml(write_musicxml(_score(passage)), BANJO).reading.passage.notes == passage.notes


def test_fingers_of_the_left_hand_are_left_out_and_that_is_said() -> None:
    score = _score(_line("3.2 ---- ---"), left={(0, 3): 2})
    lick = read_lick_musicxml(write_musicxml(score), BANJO)
    (remark,) = lick.reading.warnings
    assert (remark.code, remark.params["elements"], remark.measure) == ("lick-left-out", "fingering", 1)


def test_repeats_and_endings_are_written_out() -> None:
    lines = ", ".join(["3 ---- ---", "4 ---- ---", "2 ---- ---", "1 ---- ---"])
    score = _score(_line(lines), repeats=(Repeat(0, 2, ending=2),))
    reading = read_lick_musicxml(write_musicxml(score), BANJO).reading
    assert [note.string for note in reading.passage.notes] == [3, 4, 2, 3, 4, 1]
    assert reading.played == (1, 2, 3, 1, 2, 4)


# --- other people's files ----------------------------------------------------------------------------------

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
OPEN_G = ("G4", "D3", "G3", "B3", "D4")  # lines from the lowest [published: gDGBD]
FOUR_FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"
G_MAJOR = "<key><fifths>1</fifths><mode>major</mode></key>"


def _pitch(name: str, prefix: str = "") -> str:
    alter = f"<{prefix}alter>1</{prefix}alter>" if "#" in name else ""
    return f"<{prefix}step>{name[0]}</{prefix}step>{alter}<{prefix}octave>{name[-1]}</{prefix}octave>"


def _details(*lines: str, capo: int | None = None, number: str = "") -> str:
    tunings = "".join(
        f'<staff-tuning line="{line}">{_pitch(name, "tuning-")}</staff-tuning>'
        for line, name in enumerate(lines, 1)
    )
    behind = "" if capo is None else f"<capo>{capo}</capo>"
    return f"<staff-details{number}><staff-lines>{len(lines)}</staff-lines>{tunings}{behind}</staff-details>"


def _attributes(*, key: str = G_MAJOR, meter: str = FOUR_FOUR, details: str = _details(*OPEN_G)) -> str:
    return (
        f"<attributes><divisions>2</divisions>{key}{meter}<clef><sign>TAB</sign></clef>{details}</attributes>"
    )


def _note(
    place: str, eighths: int = 1, *, pitch: str = "", chord: bool = False, after: str = "", technical: str = "",
    notations: str = "",
) -> str:  # fmt: skip
    """``3:2`` is string 3, fret 2; ``after`` stands behind the duration (ties, voice, notehead, staff)."""
    string, _, fret = place.partition(":")
    stopped = f"<fret>{fret}</fret>" if fret else ""
    sounds = f"<pitch>{_pitch(pitch)}</pitch>" if pitch else "<unpitched/>"
    return (
        f"<note>{'<chord/>' if chord else ''}{sounds}<duration>{eighths}</duration>{after}<notations>"
        f"<technical><string>{string}</string>{stopped}{technical}</technical>{notations}</notations></note>"
    )


def _rest(eighths: int) -> str:
    return f"<note><rest/><duration>{eighths}</duration></note>"


def _file(*measures: str, head: str = "", first: str = 'number="1"', more: str = "") -> bytes:
    """A score of one part, and ``more`` parts."""
    written = "".join(
        f"<measure {first if index == 0 else f'number={chr(34)}{index + 1}{chr(34)}'}>{measure}</measure>"
        for index, measure in enumerate(measures)
    )
    names = "".join(
        f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>'
        for number, name in ((1, "Banjo"), (2, "Fiddle"))
    )
    return (
        f"{HEAD}<score-partwise>{head}<part-list>{names}</part-list>"
        f'<part id="P1">{written}</part>{more}</score-partwise>'
    ).encode()


def _read(data: bytes, instrument: str = "banjo", **more: str) -> BroughtLick:
    return read_lick_musicxml(data, instrument_named(instrument), **more)  # type: ignore[arg-type]


def _played(lick: BroughtLick) -> list[tuple[int, int, int, str | None]]:
    return [(note.onset, note.string, note.fret, note.technique) for note in lick.reading.passage.notes]


def test_strings_frets_and_rhythm_are_read() -> None:
    lick = _read(_file(_attributes() + _note("3:0", 2) + _note("2:1") + _rest(1) + _note("1:0", 4)))
    assert lick.reading.passage.notes == (
        Note(0, 3, 0, 480), Note(480, 2, 1, 480), Note(960, 1, 0, 960),
    )  # fmt: skip
    assert (lick.key.name, lick.reading.passage.meter.name, lick.reading.passage.changes) == ("G", "4/4", ())


def test_notes_of_a_chord_and_of_several_voices_are_one_lick() -> None:
    pinch = _note("1:0", 4) + _note("5:0", 4, chord=True)
    second = _note("3:0", 2, after="<voice>2</voice>") + _note("3:2", 2, after="<voice>2</voice>")
    lick = _read(
        _file(_attributes() + pinch + _note("2:0", 4) + "<backup><duration>8</duration></backup>" + second)
    )
    assert _played(lick) == [
        (0, 1, 0, None),
        (0, 3, 0, None),
        (0, 5, 0, None),
        (480, 3, 2, None),
        (960, 2, 0, None),
    ]


def test_what_two_voices_write_both_is_one_note_and_two_frets_of_one_string_are_a_fault() -> None:
    back = "<backup><duration>8</duration></backup>"
    lick = _read(_file(_attributes() + _note("3:2", 8) + back + _note("3:2", 8)))
    assert _played(lick) == [(0, 3, 2, None)]
    (fault,) = _faults(_file(_attributes() + _note("3:2", 8), _note("3:2", 8) + back + _note("3:4", 8)))
    assert (fault.code, fault.measure) == ("two-notes-on-one-string", 2)


def test_a_notation_staff_and_a_tab_staff_of_one_part_are_one_lick() -> None:
    """Two staves: the upper one has pitches, the lower one strings and frets, each with its own voice."""
    attributes = (
        f'<attributes><divisions>2</divisions>{G_MAJOR}{FOUR_FOUR}<staves>2</staves><clef number="1"><sign>G</sign></clef>'
        f'<clef number="2"><sign>TAB</sign></clef>{_details(*OPEN_G, number=" number=" + chr(34) + "2" + chr(34))}</attributes>'
    )
    upper = "".join(
        f"<note><pitch>{_pitch(pitch)}</pitch><duration>4</duration><voice>1</voice><staff>1</staff></note>"
        for pitch in ("A3", "B3")
    )
    staff = "<voice>5</voice><staff>2</staff>"
    lower = _note("3:2", 4, pitch="A3", after=staff) + _note("2:0", 4, pitch="B3", after=staff)
    lick = _read(_file(attributes + upper + "<backup><duration>8</duration></backup>" + lower))
    assert _played(lick) == [(0, 3, 2, None), (960, 2, 0, None)]
    assert _codes(lick) == []


def test_of_two_parts_the_one_with_a_tab_staff_is_read_and_the_other_is_named() -> None:
    fiddle = f"<note><pitch>{_pitch('A4')}</pitch><duration>8</duration></note>"
    more = f'<part id="P2"><measure number="1"><attributes><divisions>2</divisions></attributes>{fiddle}</measure></part>'
    lick = _read(_file(_attributes() + _note("3:0", 8), more=more))
    assert _played(lick) == [(0, 3, 0, None)]
    (remark,) = lick.reading.warnings
    assert (remark.code, remark.params) == ("lick-other-parts", {"part": "Banjo", "others": "Fiddle"})


def test_a_compressed_file_is_unpacked() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as mxl:
        mxl.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>',
        )
        mxl.writestr("a.xml", _file(_attributes() + _note("3:2", 8)))
    assert _played(_read(packed.getvalue())) == [(0, 3, 2, None)]


@pytest.mark.parametrize("head", [
    "<work><work-title>Up the  bank</work-title></work><movement-title>Other</movement-title>",
    "<movement-title>Up the bank</movement-title>",
])  # fmt: skip
def test_the_name_is_the_title_of_the_work_or_of_the_movement(head: str) -> None:
    assert _read(_file(_attributes() + _note("3:2", 8), head=head)).name == "Up the bank"


def test_a_tab_that_another_program_writes_is_read() -> None:
    """music21 writes strings, frets and a hammer-on; it has no way to say how an instrument is tuned."""
    measure = music21.stream.Measure(number=1)
    for element in (
        music21.clef.TabClef(),
        music21.key.Key("G"),
        music21.meter.TimeSignature("4/4"),
        music21.harmony.ChordSymbol("G7"),
    ):
        measure.append(element)
    notes = []
    for string, fret, pitch in ((3, 0, "G3"), (3, 2, "A3"), (1, 0, "D4"), (5, 0, "G4")):
        note = music21.note.Note(pitch, quarterLength=1)
        note.articulations = [articulations.StringIndication(string), articulations.FretIndication(fret)]
        notes.append(note)
    measure.append(notes)
    part = music21.stream.Part([measure])
    part.insert(0, articulations.HammerOn(notes[:2]))
    score = music21.stream.Score([part], metadata=music21.metadata.Metadata(title="Up the bank"))
    lick = _read(GeneralObjectExporter(score).parse())
    assert _played(lick) == [(0, 3, 0, None), (480, 3, 2, "hammer-on"), (960, 1, 0, None), (1440, 5, 0, None)]
    assert [c.chord and c.chord.name for c in lick.reading.passage.changes] == ["G7"]
    assert (lick.key.name, _codes(lick)) == ("G", ["assumed"])


# --- what the hands do -------------------------------------------------------------------------------------

HAMMERED = ('<hammer-on type="start"/>', '<hammer-on type="stop"/>')
PULLED = ('<pull-off type="start"/>', '<pull-off type="stop"/>')


@pytest.mark.parametrize(
    ("first", "then", "technique"),
    [
        (_note("3:0", 4, technical=HAMMERED[0]), _note("3:2", 4, technical=HAMMERED[1]), "hammer-on"),
        (_note("3:0", 4, technical=HAMMERED[0]), _note("3:2", 4), "hammer-on"),  # only where it begins
        (_note("3:0", 4), _note("3:2", 4, technical=HAMMERED[1]), "hammer-on"),  # only where it ends
        (_note("3:3", 4, technical=PULLED[0]), _note("3:2", 4, technical=PULLED[1]), "pull-off"),
        (_note("3:0", 4, notations='<slide type="start" number="2"/>'), _note("3:2", 4, notations='<slide type="stop" number="2"/>'), "slide"),
        (_note("3:0", 4, notations='<glissando type="start"/>'), _note("3:2", 4, notations='<glissando type="stop"/>'), "slide"),
        (_note("3:0", 4), _note("3:2", 4, technical="<bend><bend-alter>2</bend-alter></bend>"), "choke"),
        (_note("3:0", 4), _note("3:2", 4, after='<notehead parentheses="yes">normal</notehead>'), "ghost"),
    ],
)  # fmt: skip
def test_what_the_left_hand_does_is_read(first: str, then: str, technique: str) -> None:
    lick = _read(_file(_attributes() + first + then))
    assert [note[3] for note in _played(lick)] == [None, technique]
    assert _codes(lick) == []


def test_a_note_with_a_cross_is_mute_and_has_no_fret() -> None:
    lick = _read(_file(_attributes() + _note("3:2", 4) + _note("3", 4, after="<notehead>x</notehead>")))
    assert _played(lick) == [(0, 3, 2, None), (960, 3, 0, "mute")]


def test_a_link_passes_over_notes_of_other_strings() -> None:
    lick = _read(
        _file(_attributes() + _note("3:0", 2, technical=HAMMERED[0]) + _note("1:0", 2) + _note("3:2", 4))
    )
    assert [note[3] for note in _played(lick)] == [None, None, "hammer-on"]


def test_a_hammer_on_that_goes_down_is_read_as_a_pull_off() -> None:
    lick = _read(
        _file(_attributes() + _note("3:2", 4, technical=HAMMERED[0]) + _note("3:0", 4, technical=HAMMERED[1]))
    )
    assert (_played(lick)[1][3], _codes(lick)) == ("pull-off", ["link-turned"])


def test_pieces_tied_within_a_measure_are_one_note_and_over_the_bar_the_tie_stays() -> None:
    start, both, stop = '<tie type="start"/>', '<tie type="stop"/><tie type="start"/>', '<tie type="stop"/>'
    measures = (
        _attributes() + _note("2:1", 4) + _note("3:2", 3, after=start) + _note("3:2", after=both),
        _note("3:2", 2, after=both) + _note("3:2", 2, after=stop) + _note("1:0", 4),
    )
    lick = _read(_file(*measures))
    assert _played(lick) == [(0, 2, 1, None), (960, 3, 2, None), (1920, 3, 2, "tie"), (2880, 1, 0, None)]
    assert [note.duration for note in lick.reading.passage.notes] == [960, 960, 960, 960]


def test_what_is_not_read_is_told_once_with_its_first_measure() -> None:
    grace = _note("3:1").replace("<note>", "<note><grace/>").replace("<duration>1</duration>", "")
    sung = _note("3:2", 8).replace("</note>", "<lyric><text>la</text></lyric></note>")
    loud = "<direction><direction-type><dynamics><f/></dynamics></direction-type></direction>"
    trill = _note(
        "3:2", 8, notations="<ornaments><trill-mark/></ornaments><articulations><accent/></articulations>"
    )
    lick = _read(_file(_attributes() + _note("3:0", 8), loud + grace + sung, trill))
    (remark,) = lick.reading.warnings
    assert (remark.code, remark.measure) == ("lick-left-out", 2)
    assert remark.params["elements"] == "dynamics, grace, lyric, trill-mark, accent"
    assert len(lick.reading.passage.notes) == 3


# --- pitches, capo, fifth string ---------------------------------------------------------------------------


def test_where_fret_and_pitch_differ_the_fret_counts_and_that_is_said() -> None:
    lick = _read(
        _file(
            _attributes() + _note("3:2", 8, pitch="A3"),
            _note("3:2", 4, pitch="C4") + _note("2:0", 4, pitch="B3"),
        )
    )
    assert [note[2] for note in _played(lick)] == [2, 2, 0]
    (remark,) = (one for one in lick.reading.warnings if one.code == "lick-pitch-apart")
    assert (remark.measure, remark.params) == (2, {"notes": 1})


def test_pitches_an_octave_up_are_how_guitars_are_written() -> None:
    standard = _details("E2", "A2", "D3", "G3", "B3", "E4")
    lick = _read(
        _file(_attributes(details=standard) + _note("3:2", 4, pitch="A4") + _note("2:0", 4, pitch="B4")),
        "guitar",
    )
    assert (_codes(lick), lick.reading.passage.tuning.id) == ([], "standard")


@pytest.mark.parametrize(
    ("pitch", "fret", "remarks"),
    [
        ("A4", "7", []),  # counted like its neighbours
        ("A4", "2", []),  # counted from where it begins
        ("", "2", ["fifth-from-peg"]),  # no pitch to tell
        ("", "7", []),
    ],
)
def test_the_fifth_string_is_understood_however_its_frets_are_counted(
    pitch: str, fret: str, remarks: list[str]
) -> None:
    lick = _read(_file(_attributes() + _note(f"5:{fret}", 8, pitch=pitch)))
    assert (_played(lick), _codes(lick)) == ([(0, 5, 7, None)], remarks)


def _harmony(root: str, kind: str = "major") -> str:
    return f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind></harmony>"


@pytest.mark.parametrize(
    ("pitch", "key", "chords"),
    [("A3", "F", ["F", "Bb"]), ("B3", "Eb", ["Eb", "Ab"])],
)
def test_behind_a_capo_key_and_chords_are_those_of_the_hand(pitch: str, key: str, chords: list[str]) -> None:
    """G string, fret 2, capo 2: B is what sounds, A what the hand plays; the file writes all of it in one of these ways."""
    in_f = "<key><fifths>-1</fifths><mode>major</mode></key>"
    flat = _harmony("B").replace("</root-step>", "</root-step><root-alter>-1</root-alter>")
    details = _details(*OPEN_G, capo=2)
    lick = _read(
        _file(
            _attributes(key=in_f, details=details)
            + _harmony("F")
            + _note("3:2", 4, pitch=pitch)
            + flat
            + _note("3:2", 4, pitch=pitch)
        )
    )
    changes = lick.reading.passage.changes
    assert (lick.key.name, [change.chord and change.chord.name for change in changes]) == (key, chords)
    assert [change.onset for change in changes] == [0, 960]
    assert _codes(lick) == ([] if key == "F" else ["lick-moved-by-capo"])


def test_another_number_of_strings_is_refused() -> None:
    (fault,) = _faults(_file(_attributes() + _note("3:2", 8)), "guitar")
    assert (fault.code, fault.params) == ("lick-strings", {"found": 5, "instrument": "guitar", "strings": 6})


def test_strings_tuned_to_no_tuning_that_is_known_are_refused_unless_one_is_asked_for() -> None:
    data = _file(_attributes(details=_details("G4", "D3", "G3", "B3", "E4")) + _note("3:2", 8))
    (fault,) = _faults(data)
    assert (fault.code, fault.params["found"]) == ("lick-tuning", "E B G D G"[::-1])
    assert _codes(_read(data, tuning="open-g")) == ["overruled"]


def test_without_a_tuning_the_usual_one_is_taken_and_said() -> None:
    lick = _read(_file(_attributes(details="") + _note("3:2", 8)))
    (remark,) = lick.reading.warnings
    assert (remark.code, remark.params["parts"]) == (
        "assumed",
        [{"what": "tuning", "value": "open G (gDGBD)"}],
    )


# --- measures ----------------------------------------------------------------------------------------------


def test_an_implicit_first_measure_is_a_pickup() -> None:
    lick = _read(
        _file(_attributes() + _note("4:0") + _note("4:2"), _note("3:0", 8), first='number="0" implicit="yes"')
    )
    assert _played(lick) == [(-480, 4, 0, None), (-240, 4, 2, None), (0, 3, 0, None)]
    assert (lick.reading.passage.measures, _codes(lick)) == ((1920,), [])


def test_a_short_first_measure_is_taken_for_a_pickup_that_the_last_one_makes_room_for() -> None:
    lick = _read(_file(_attributes() + _note("4:0", 2), _note("3:0", 8), _note("3:0", 6)))
    assert _played(lick) == [(-480, 4, 0, None), (0, 3, 0, None), (1920, 3, 0, None)]
    assert (lick.reading.passage.measures, _codes(lick)) == ((1920, 1920), ["assumed"])


FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACKWARD = '<barline location="right"><repeat direction="backward"/></barline>'


def _ended(number: str, measure: str, repeat: str = "") -> str:
    return (
        f'<barline location="left"><ending number="{number}" type="start"/></barline>{measure}'
        f'<barline location="right"><ending number="{number}" type="stop"/>{repeat}</barline>'
    )


AGAIN = '<repeat direction="backward"/>'
ONE, TWO, THREE, FOUR = (_note(f"{string}:0", 8) for string in (1, 2, 3, 4))


@pytest.mark.parametrize(
    ("measures", "strings"),
    [
        ((ONE, TWO + BACKWARD, THREE), [1, 2, 1, 2, 3]),
        ((ONE, FORWARD + TWO + BACKWARD, THREE), [1, 2, 2, 3]),
        ((ONE + BACKWARD.replace("<repeat", '<repeat times="3"'), TWO), [1, 1, 1, 2]),
        ((ONE, _ended("1", TWO, AGAIN), _ended("2", THREE), FOUR), [1, 2, 1, 3, 4]),
        ((ONE, _ended("1", TWO, AGAIN), _ended("2", THREE, AGAIN), FOUR + BACKWARD), [1, 2, 1, 3, 4, 4]),
        ((ONE, _ended("1, 2", TWO, AGAIN), _ended("3", THREE)), [1, 2, 1, 2, 1, 3]),
        ((ONE, _ended("1", TWO, AGAIN), THREE), [1, 2, 1, 3]),
        ((ONE + BACKWARD, FORWARD + TWO, THREE + BACKWARD), [1, 1, 2, 3, 2, 3]),
    ],
)  # fmt: skip
def test_repeats_are_written_out(measures: tuple[str, ...], strings: list[int]) -> None:
    first, *more = measures
    lick = _read(_file(_attributes() + first, *more))
    assert [note[1] for note in _played(lick)] == strings


def test_too_many_repeats_are_refused() -> None:
    measures = [ONE + BACKWARD.replace("<repeat", '<repeat times="32"')] * 20
    (fault,) = _faults(_file(_attributes() + measures[0], *measures[1:]))
    assert fault.code == "too-many-measures"


def test_too_many_notes_are_refused() -> None:
    rolls = "".join(_note(f"{string}:0") for string in (3, 2, 5, 1, 4, 2, 5, 1))
    times = BACKWARD.replace("<repeat", '<repeat times="32"')
    (fault,) = _faults(_file(_attributes() + rolls + times, *[rolls + times] * 7))
    assert (fault.code, fault.params) == ("lick-too-long", {"most": 2000})


@pytest.mark.parametrize(
    ("meter", "eighths"), [("3/4", 6), ("6/8", 6), ("2/2", 8), ("2/4", 4), ("9/8", 9), ("12/8", 12)]
)
def test_the_meter_is_that_of_the_time_signature(meter: str, eighths: int) -> None:
    beats, unit = meter.split("/")
    time = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
    passage = _read(_file(_attributes(meter=time) + _note("3:0", eighths))).reading.passage
    assert (passage.meter.name, passage.measures) == (meter, (eighths * 240,))


BAD = [
    (_file(_attributes() + f"<note><pitch>{_pitch('A3')}</pitch><duration>8</duration></note>"), "lick-no-tab-staff", None),
    (_file(_attributes() + _note("3:0", 8), f"<note><pitch>{_pitch('A3')}</pitch><duration>8</duration></note>"), "lick-no-string", 2),
    (_file(_attributes() + _note("3:0", 8), _note("3", 8)), "lick-no-fret", 2),
    (_file(_attributes() + _note("3:0", 8), _note("9:0", 8)), "no-such-string", 2),
    (_file(_attributes() + _note("3:0", 8), _note("3:23", 8)), "no-such-fret", 2),
    (_file(_attributes() + _note("3:0", 8), _note("3:x", 8)), "tune-number", 2),
    (_file(_attributes(meter="<time><beats>5</beats><beat-type>4</beat-type></time>") + _note("3:0", 10)), "unknown-meter", 1),
    (_file(_attributes(meter="<time><beats>5</beats></time>") + _note("3:0", 10)), "unknown-meter", 1),
    (_file(_attributes() + _note("3:0", 8), "<attributes><divisions>5</divisions></attributes>" + _note("3:0", 1) * 20), "lick-off-grid", 2),
    (_file(_attributes() + _note("3:0", 8), "<attributes><divisions>7</divisions></attributes>" + _note("3:0", 1) * 28), "tune-inexact", 2),
    (_file(_attributes() + _note("3:0", 8), "<attributes><divisions>4</divisions></attributes>" + _note("3:0", 1) * 15), "lick-measure-length", 2),
    (_file(_attributes() + _note("3:0", 80)), "lick-measure-length", 1),
    (b"<score-timewise/>", "score-timewise", None),
    (b"<html/>", "not-musicxml", None),
]  # fmt: skip


@pytest.mark.parametrize(("data", "code", "measure"), BAD, ids=[f"{n}-{bad[1]}" for n, bad in enumerate(BAD)])
def test_what_cannot_be_read_is_told_with_its_measure(data: bytes, code: str, measure: int | None) -> None:
    fault = _faults(data)[0]
    assert (fault.code, fault.measure) == (code, measure)


def test_a_tuning_that_is_none_and_a_meter_that_is_none_are_refused() -> None:
    for asked in ({"tuning": "zzz"}, {"meter": "5/4"}):
        with pytest.raises(DomainError):
            _read(_file(_attributes() + ONE), **asked)


# --- anything else -----------------------------------------------------------------------------------------

PIECES = st.sampled_from([
    *(_note(f"{string}:{fret}", 2) for string in (0, 1, 3, 5, 7) for fret in (0, 2, 7, 30)),
    _note("3", 1), _note("5", 1, pitch="C4"), _note("3:2", 3, pitch="A9", chord=True), _rest(3),
    _note("3:2", 2, after='<tie type="stop"/><tie type="start"/>'), _note("3:0", 2, technical=HAMMERED[0]),
    _note("3:2", 1, technical=HAMMERED[1] + "<pluck>q</pluck>"), _note("2:3", 2, notations='<slide type="start"/>'),
    _note("2:3", 2, after="<notehead>x</notehead>"), "<backup><duration>5</duration></backup>",
    "<forward><duration>3</duration></forward>", "<backup><duration>-5</duration></backup>", FORWARD, BACKWARD,
    _ended("1", ONE, AGAIN), _ended("2", TWO), _ended("", TWO, AGAIN), _harmony("G"), _harmony("H"),
    _attributes(), _attributes(meter="<time><beats>3</beats><beat-type>4</beat-type></time>"),
    _attributes(details=_details(*OPEN_G, capo=30)), _attributes(details=_details("G4", "D3")),
    "<attributes><divisions>0</divisions></attributes>", "<note><duration>x</duration></note>", "<note/>", _note("2:0", 0), _note("4:0", 1, chord=True),
])  # fmt: skip


@given(
    st.lists(st.lists(PIECES, max_size=6).map("".join), min_size=1, max_size=6),
    st.booleans(),
    st.sampled_from((None, "2/2", "6/8")),
)
def test_any_file_gives_a_lick_or_says_why_not(
    measures: list[str], implicit: bool, meter: str | None
) -> None:
    first = 'number="0" implicit="yes"' if implicit else 'number="1"'
    try:
        lick = read_lick_musicxml(_file(*measures, first=first), BANJO, meter=meter)
    except ReadingError as error:
        told = error.at
    else:
        assert all(said(remark) for remark in lick.reading.warnings)
        passage = lick.reading.passage
        assert all(passage.fretboard.refuses(note.string, note.fret) is None for note in passage.notes)
        assert len({(note.onset, note.string) for note in passage.notes}) == len(passage.notes) > 0
        assert all(note.duration > 0 for note in passage.notes)
        assert all(0 <= change.onset < passage.ticks for change in passage.changes)
        return
    assert 0 < len(told) <= MOST_FAULTS
    assert all(said(fault) for fault in told)


def test_a_chord_between_the_steps_stands_on_the_nearest_one() -> None:
    offset = _harmony("C").replace("</harmony>", "<offset>1.1</offset></harmony>")
    lick = _read(_file(_attributes() + offset + _note("3:0", 8)))
    assert [(c.onset, c.chord) for c in lick.reading.passage.changes] == [(0, chord_named("C"))]
