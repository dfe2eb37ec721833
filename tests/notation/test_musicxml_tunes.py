"""Tunes in MusicXML: read to parts, melody and chords; written valid, and read back the same; nothing bad gets in."""

import io
import time
import zipfile
from pathlib import Path

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import MOST_FAULTS, Fault, ReadingError
from service.notation.brought import MODES, Brought
from service.notation.musicxml_opened import MAX_DEPTH, MAX_KB
from service.notation.musicxml_tune_writer import write_tune_musicxml
from service.notation.musicxml_tunes import read_musicxml
from service.wording import said
from tests.notation.tunes import about, check_answer, played, tunes
from tests.notation.w3c import valid

CORPUS = Path(music21.__file__).parent / "corpus"
HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
FOUR_FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"
G_MAJOR = "<key><fifths>1</fifths><mode>major</mode></key>"
FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACKWARD = (
    '<barline location="right"><bar-style>light-heavy</bar-style><repeat direction="backward"/></barline>'
)
DOUBLE = '<barline location="right"><bar-style>light-light</bar-style></barline>'


def _note(pitch: str, quarters: int = 1, more: str = "") -> str:
    """``G4`` or ``F#4``; ``more`` stands where ties and voices do."""
    alter = "<alter>1</alter>" if "#" in pitch else ""
    return (
        f"<note><pitch><step>{pitch[0]}</step>{alter}<octave>{pitch[-1]}</octave></pitch>"
        f"<duration>{quarters}</duration>{more}</note>"
    )


def _first(*, key: str = G_MAJOR, meter: str = FOUR_FOUR, divisions: int = 1, more: str = "") -> str:
    return f"<attributes><divisions>{divisions}</divisions>{key}{meter}{more}</attributes>"


def _score(*measures: str, head: str = "", implicit: tuple[int, ...] = ()) -> bytes:
    """A score of one part; ``implicit`` are numbers (from 0) of measures that are not counted."""
    counted = {number: "yes" if number in implicit else "no" for number in range(len(measures))}
    written = "".join(
        f'<measure number="{number}x" implicit="{counted[number]}">{measure}</measure>'
        for number, measure in enumerate(measures)
    )
    listed = '<part-list><score-part id="P1"><part-name>Fiddle</part-name></score-part></part-list>'
    return f'{HEAD}<score-partwise>{head}{listed}<part id="P1">{written}</part></score-partwise>'.encode()


def _melody(tune: Brought, name: str = "A") -> list[tuple[int, int, int]]:
    part = next(part for part in tune.parts if part.name == name)
    return [(note.onset, note.duration, note.pitch) for note in part.melody]


def _codes(tune: Brought) -> list[str]:
    assert all(said(remark) for remark in tune.remarks)
    return [remark.code for remark in tune.remarks]


def _faults(data: bytes) -> tuple[Fault, ...]:
    with pytest.raises(ReadingError) as caught:
        read_musicxml(data)
    assert all(said(fault) for fault in caught.value.at)
    return caught.value.at


# --- round trips -------------------------------------------------------------------------------------------


@given(tunes())
def test_any_tune_is_written_valid_and_read_back_the_same(tune: Brought) -> None:
    document = write_tune_musicxml(tune)
    assert list(valid(document).error_log) == []
    back = read_musicxml(document)
    assert played(back) == played(tune)
    assert about(back) == about(tune)


@given(tunes())
def test_another_program_reads_the_same_melody(tune: Brought) -> None:
    stream = music21.converter.parseData(write_tune_musicxml(tune).decode(), format="musicxml")
    part = stream.parts[0].expandRepeats().stripTies()
    heard = [
        (note.pitch.midi, round(note.quarterLength * 480))
        for note in part.recurse().notes
        if not isinstance(note, music21.harmony.Harmony)
    ]
    assert heard == [(n.pitch, n.duration) for _, melody, _ in played(tune) for n in melody]


# Where music21 has something else: the last note of the second ending is tied over the double bar, and a part begins anew.
TIED_OVER_PARTS = {"bwv8.6.mxl"}
SAMPLE = sorted((CORPUS / "bach").glob("*.mxl"))[::9] + sorted((CORPUS / "leadSheet").glob("*.mxl"))


@pytest.mark.parametrize("path", SAMPLE, ids=lambda path: path.name)
def test_real_files_have_the_melody_that_another_program_reads(path: Path) -> None:
    """Files of music21's corpus, their first parts as they are played."""
    tune = read_musicxml(path.read_bytes())
    mine = [(n.pitch, n.duration) for _, melody, _ in played(tune) for n in melody]
    part = music21.converter.parse(path).parts[0].expandRepeats().stripTies()
    theirs = [
        (max(note.pitches).midi, round(note.quarterLength * 480))
        for note in part.recurse().notes
        if not isinstance(note, music21.harmony.Harmony) and not note.duration.isGrace
    ]
    assert (mine == theirs) == (path.name not in TIED_OVER_PARTS)


def test_a_lead_sheet_has_the_chords_that_another_program_reads() -> None:
    path = CORPUS / "leadSheet/fosterBrownHair.mxl"
    tune = read_musicxml(path.read_bytes())
    names = [
        chord.name if chord else "" for _, _, changes in played(tune) for chord in [c.chord for c in changes]
    ]
    stream = music21.converter.parse(path).parts[0].expandRepeats()
    theirs = [
        symbol.figure.replace("-", "b") for symbol in stream.recurse().getElementsByClass("ChordSymbol")
    ]
    # chords that go on are told once; a part begins with the one that goes on from before
    assert [name for i, name in enumerate(names) if not i or names[i - 1] != name] == [
        name for i, name in enumerate(theirs) if not i or theirs[i - 1] != name
    ]
    assert len(names) > 10


# --- notes -------------------------------------------------------------------------------------------------


def test_pitches_lengths_and_rests_are_read() -> None:
    rest = "<note><rest/><duration>1</duration></note>"
    tune = read_musicxml(_score(_first() + _note("G4") + rest + _note("F#5", 2)))
    assert _melody(tune) == [(0, 480, 67), (960, 960, 78)]
    assert tune.parts[0].measures == (1920,)


def test_ties_are_joined_over_bar_lines() -> None:
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    tune = read_musicxml(
        _score(
            _first() + _note("G4", 3) + _note("A4", 1, start),
            _note("A4", 2, stop + start) + _note("A4", 1, stop) + _note("A4"),
        )
    )
    assert _melody(tune) == [(0, 1440, 67), (1440, 480 + 1440, 69), (3360, 480, 69)]


def test_grace_and_cue_notes_are_left_out() -> None:
    grace = "<note><grace/><pitch><step>A</step><octave>5</octave></pitch></note>"
    cue = "<note><cue/><pitch><step>A</step><octave>5</octave></pitch><duration>2</duration></note>"
    assert _melody(read_musicxml(_score(_first() + grace + _note("G4", 2) + cue))) == [(0, 960, 67)]


def test_of_a_chord_the_highest_note_is_the_melody_and_of_voices_the_first() -> None:
    third = _note("B4", 2).replace("<note>", "<note><chord/>")
    below = _note("D4", 2).replace("<note>", "<note><chord/>")
    low = "<backup><duration>4</duration></backup>" + _note("G3", 4, "<voice>2</voice>")
    tune = read_musicxml(_score(_first() + _note("G4", 2) + third + below + _note("A4", 2) + low))
    assert _melody(tune) == [(0, 960, 71), (960, 960, 69)]


def test_triplets_and_quintuplets_are_exact_and_what_is_not_is_told() -> None:
    three = read_musicxml(
        _score(_first(divisions=3) + "".join(map(_note, ("G4", "A4", "B4"))) + _note("G4", 9))
    )
    assert [duration for _, duration, _ in _melody(three)] == [160, 160, 160, 1440]
    five = read_musicxml(_score(_first(divisions=5) + _note("G4") * 5 + _note("A4", 15)))
    assert [duration for _, duration, _ in _melody(five)] == [96] * 5 + [1440]
    seven = _score(
        _first() + _note("G4", 4),
        _note("A4", 4),
        "<attributes><divisions>7</divisions></attributes>" + _note("G4") * 28,
    )
    assert [(fault.code, fault.measure) for fault in _faults(seven)] == [("tune-inexact", 3)]


def test_what_a_transposing_part_writes_is_told_as_it_sounds() -> None:
    # a clarinet in B flat writes D major and sounds in C [common practice]
    moved = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    d_major = "<key><fifths>2</fifths><mode>major</mode></key>"
    harmony = "<harmony><root><root-step>A</root-step></root><kind>dominant</kind></harmony>"
    tune = read_musicxml(_score(_first(key=d_major, more=moved) + harmony + _note("D5", 4)))
    assert (tune.key.name, _melody(tune)) == ("C", [(0, 1920, 72)])
    assert [change.chord and change.chord.name for change in tune.parts[0].changes] == ["G7"]
    # a guitar sounds an octave below what it reads
    octave = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    tune = read_musicxml(_score(_first(more=octave) + _note("G4", 4)))
    assert (tune.key.name, _melody(tune)) == ("G", [(0, 1920, 55)])


# --- key, meter, tempo, names ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fifths", "mode", "key"),
    [
        (1, "mixolydian", "D"), (0, "dorian", "Dm"), (2, "major", "D"), (-1, "minor", "Dm"), (0, "aeolian", "Am"),
        (-3, "ionian", "Eb"), (1, "lydian", "C"), (0, "phrygian", "Em"),
    ],
)  # fmt: skip
def test_modes_have_their_own_tonic(fifths: int, mode: str, key: str) -> None:
    """The church modes' tonics on a signature: published, in any primer."""
    given = f"<key><fifths>{fifths}</fifths><mode>{mode}</mode></key>"
    tune = read_musicxml(_score(_first(key=given) + _note("D4", 4)))
    assert tune.key.name == key
    assert tune.mode == {"aeolian": "minor", "ionian": "major"}.get(mode, mode)
    assert tune.mode in MODES
    assert _codes(tune) == []


def test_a_signature_without_a_mode_is_taken_for_major_and_no_signature_for_what_the_notes_say() -> None:
    assert _codes(read_musicxml(_score(_first(key="<key><fifths>1</fifths></key>") + _note("D4", 4)))) == [
        "tune-mode-assumed"
    ]
    scale = "".join(map(_note, ("D4", "F#4", "A4", "D5")))
    tune = read_musicxml(_score(_first(key="") + scale))
    assert (tune.key.name, _codes(tune)) == ("D", ["tune-key-proposed"])


def test_a_meter_that_is_not_known_is_told_with_its_measure() -> None:
    seven = "<time><beats>7</beats><beat-type>16</beat-type></time>"
    (fault,) = _faults(_score(_first(meter=seven) + _note("G4", 1)))
    assert (fault.code, fault.params["name"], fault.measure) == ("unknown-meter", "7/16", 1)
    free = "<time><senza-misura/></time>"
    assert [fault.code for fault in _faults(_score(_first(meter=free) + _note("G4")))] == ["unknown-meter"]


def test_one_measure_in_another_meter_makes_the_tune_crooked_not_unknown() -> None:
    two = "<attributes><time><beats>2</beats><beat-type>4</beat-type></time></attributes>"
    back = f"<attributes>{FOUR_FOUR}</attributes>"
    tune = read_musicxml(
        _score(_first() + _note("G4", 4), two + _note("A4", 2), back + _note("B4", 4), _note("G4", 4))
    )
    assert (tune.meter.name, tune.parts[0].measures) == ("4/4", (1920, 960, 1920, 1920))
    assert [(remark.code, remark.params["measures"]) for remark in tune.remarks] == [("tune-crooked", "2")]


@pytest.mark.parametrize(
    ("direction", "tempo"),
    [
        ("<direction-type><metronome><beat-unit>half</beat-unit><per-minute>110</per-minute></metronome></direction-type>"
         '<sound tempo="220"/>', (110, "half")),
        ("<direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>ca. 96</per-minute></metronome>"
         "</direction-type>", (96, "dotted quarter")),
        ("<direction-type><metronome><beat-unit>whole</beat-unit><per-minute>50</per-minute></metronome></direction-type>",
         (200, "quarter")),
        ('<direction-type><words>Lively</words></direction-type><sound tempo="132.5"/>', (132, "quarter")),
        ("<direction-type><words>Lively</words></direction-type>", None),
        ('<direction-type><words/></direction-type><sound tempo="0"/>', None),
    ],
)  # fmt: skip
def test_the_tempo_keeps_its_unit(direction: str, tempo: tuple[int, str] | None) -> None:
    tune = read_musicxml(_score(_first() + f"<direction>{direction}</direction>" + _note("G4", 4)))
    assert tune.tempo == tempo


def test_title_and_maker_are_read() -> None:
    head = (
        "<work><work-title>Low   water\n reel</work-title></work>"
        '<identification><creator type="composer">A. Ferrier</creator><creator type="arranger">B. Boat</creator></identification>'
    )
    tune = read_musicxml(_score(_first() + _note("G4", 4), head=head))
    assert (tune.name, tune.source) == ("Low water reel", "A. Ferrier, B. Boat")
    tune = read_musicxml(
        _score(_first() + _note("G4", 4), head="<movement-title>Second water</movement-title>")
    )
    assert tune.name == "Second water"


# --- chords ------------------------------------------------------------------------------------------------


def _harmony(root: str, kind: str, more: str = "") -> str:
    return f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>{more}</harmony>"


def test_chords_are_read_where_they_stand() -> None:
    bass = "<bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass><offset>1</offset>"
    tune = read_musicxml(
        _score(
            _first()
            + _harmony("G", "major")
            + _note("G4", 2)
            + _harmony("D", "dominant", bass)
            + _note("A4", 2),
            _note("B4", 4),
            _harmony("C", "none") + _note("G4", 4),
        )
    )
    assert [(c.onset, c.chord and c.chord.name) for c in tune.parts[0].changes] == [
        (0, "G"), (1440, "D7/F#"), (3840, None),
    ]  # fmt: skip


def test_a_kind_that_is_not_known_is_a_plain_triad_and_said() -> None:
    tune = read_musicxml(
        _score(
            _first() + _harmony("G", "Tristan") + _note("G4", 4),
            _harmony("A", "minor-13th") + _note("A4", 4),
            "<harmony><function>V</function><kind>major</kind></harmony>" + _note("A4", 4),
        )
    )
    assert [change.chord and change.chord.name for change in tune.parts[0].changes] == ["G", "Am"]
    assert [(r.code, r.params["kind"], r.measure) for r in tune.remarks] == [
        ("tune-chord-plain", "Tristan", 1), ("tune-chord-plain", "minor-13th", 2), ("tune-chord-unread", "major", 3),
    ]  # fmt: skip


def test_of_many_remarks_some_are_kept() -> None:
    chords = "".join(_harmony("G", f"made-up-{number}") for number in range(200))
    tune = read_musicxml(_score(_first() + chords + _note("G4", 4)))
    assert len(_codes(tune)) == MOST_FAULTS


# --- form --------------------------------------------------------------------------------------------------


def _measures(*names: str) -> list[str]:
    """Whole notes, the first with key and meter."""
    written = [_note(name, 4) for name in names]
    return [_first() + written[0], *written[1:]]


def test_repeats_make_parts() -> None:
    g, a, b, c = _measures("G4", "A4", "B4", "C5")
    tune = read_musicxml(_score(g, a + BACKWARD, FORWARD + b, c + BACKWARD))
    assert tune.order == ("A", "A", "B", "B")
    assert [pitch for *_, pitch in _melody(tune, "B")] == [71, 72]


def test_double_bars_make_parts_and_a_part_that_comes_again_keeps_its_name() -> None:
    g, a, b, c, d, e = _measures("G4", "A4", "B4", "C5", "G4", "A4")
    assert read_musicxml(_score(g, a + DOUBLE, b, c + DOUBLE, d, e)).order == ("A", "B", "A")


def test_a_repeat_plays_all_sections_since_it_began() -> None:
    g, a, b = _measures("G4", "A4", "B4")
    assert read_musicxml(_score(g + DOUBLE, a + BACKWARD, b)).order == ("A", "B", "A", "B", "C")


def test_a_repeat_may_be_played_more_often() -> None:
    (g,) = _measures("G4")
    assert read_musicxml(_score(g + BACKWARD.replace("/>", ' times="3"/>'))).order == ("A",) * 3


def test_endings_make_a_part_of_each_pass() -> None:
    g, a, b, c = _measures("G4", "A4", "B4", "C5")
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    stop = BACKWARD.replace("<repeat", '<ending number="1" type="stop"/><repeat')
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    stop_second = '<barline location="right"><ending number="2" type="discontinue"/></barline>'
    tune = read_musicxml(_score(FORWARD + g, first + a + stop, second + b + stop_second, c))
    assert tune.order == ("A", "A2", "B")
    assert [[pitch for *_, pitch in _melody(tune, name)] for name in ("A", "A2", "B")] == [
        [67, 69],
        [67, 71],
        [72],
    ]


def test_a_pickup_lies_before_its_part_and_is_no_part_of_the_last_measure() -> None:
    tune = read_musicxml(
        _score(
            _first() + _note("D4"),
            _note("G4", 4),
            _note("A4", 3) + BACKWARD,
            FORWARD + _note("E4"),
            _note("B4", 4),
            _note("G4", 3) + BACKWARD,
            implicit=(0, 3),
        )
    )
    assert tune.order == ("A", "A", "B", "B")
    assert [part.measures for part in tune.parts] == [(1920, 1920)] * 2
    assert _melody(tune) == [(-480, 480, 62), (0, 1920, 67), (1920, 1440, 69)]
    assert _codes(tune) == []


def test_a_pickup_before_the_repeat_sign_belongs_to_what_follows() -> None:
    tune = read_musicxml(
        _score(_first() + _note("D4"), FORWARD + _note("G4", 4), _note("A4", 3) + BACKWARD, implicit=(0,))
    )
    assert tune.order == ("A", "A")
    assert _melody(tune)[0] == (-480, 480, 62)


def test_a_measure_split_at_the_end_of_a_line_is_one() -> None:
    tune = read_musicxml(
        _score(_first() + _note("G4", 4), _note("A4", 3), _note("B4"), _note("G4", 4), implicit=(2,))
    )
    assert tune.parts[0].measures == (1920,) * 3
    assert _melody(tune)[1:3] == [(1920, 1440, 69), (3360, 480, 71)]


def test_signs_to_jump_by_are_said_and_read_straight_on() -> None:
    jump = '<direction><direction-type><words>D.C.</words></direction-type><sound dacapo="yes"/></direction>'
    g, a = _measures("G4", "A4")
    tune = read_musicxml(_score(g, a + jump))
    assert (tune.order, _codes(tune)) == (("A",), ["tune-jumps"])


def test_a_tune_that_repeats_make_too_long_is_refused() -> None:
    measures = _measures(*["G4"] * 20)
    measures[-1] += BACKWARD.replace("/>", ' times="30"/>')
    assert [fault.code for fault in _faults(_score(*measures))] == ["too-many-measures"]


# --- which part --------------------------------------------------------------------------------------------


def test_the_part_with_chords_is_the_melody_else_the_first_that_is_no_percussion() -> None:
    drums = "<attributes><clef><sign>percussion</sign></clef></attributes>" + _note("C4", 4)
    low, high = _first() + _note("G3", 4), _first() + _harmony("G", "major") + _note("G5", 4)

    def score(*parts: str) -> bytes:
        listed = "".join(
            f'<score-part id="P{n}"><part-name>Part {n}</part-name></score-part>' for n in range(len(parts))
        )
        written = "".join(
            f'<part id="P{n}"><measure number="1">{part}</measure></part>' for n, part in enumerate(parts)
        )
        return f"<score-partwise><part-list>{listed}</part-list>{written}</score-partwise>".encode()

    tune = read_musicxml(score(drums, low, high))
    assert _melody(tune) == [(0, 1920, 79)]
    assert [remark.params for remark in tune.remarks] == [{"melody": "Part 2", "others": "Part 1"}]
    assert _melody(read_musicxml(score(drums, low))) == [(0, 1920, 55)]
    assert [fault.code for fault in _faults(score(drums))] == ["tune-no-notes"]


# --- files of all kinds ------------------------------------------------------------------------------------


def _zipped(**files: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in files.items():
            packed.writestr({"container": "META-INF/container.xml"}.get(name, f"{name}.musicxml"), content)
    return out.getvalue()


CONTAINER = b'<container><rootfiles><rootfile full-path="tune.musicxml"/></rootfiles></container>'


def test_a_compressed_file_is_read_by_what_its_container_names() -> None:
    score = _score(_first() + _note("G4", 4))
    assert read_musicxml(_zipped(other=b"", container=CONTAINER, tune=score)) == read_musicxml(score)


def test_other_encodings_are_read() -> None:
    score = _score(_first() + _note("G4", 4), head="<movement-title>Übers Wehr</movement-title>")
    text = score.decode().replace("UTF-8", "UTF-16")
    assert read_musicxml(text.encode("utf-16")).name == "Übers Wehr"


ENTITIES = (
    '<!DOCTYPE score-partwise [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><score-partwise>&b;</score-partwise>'
)
FILE = (
    '<!DOCTYPE score-partwise [<!ENTITY f SYSTEM "file:///etc/passwd">]><score-partwise>&f;</score-partwise>'
)
REFUSED: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "xml-not-well-formed"),
    "broken off": (_score(_first() + _note("G4", 4))[:-40], "xml-not-well-formed"),
    "another language": (b"<html><body/></html>", "not-musicxml"),
    "by time": (b"<score-timewise/>", "score-timewise"),
    "no parts": (b"<score-partwise/>", "tune-no-notes"),
    "entities": (ENTITIES.encode(), "xml-entities"),
    "a file of the machine": (FILE.encode(), "xml-entities"),
    "deep": (b"<score-partwise>" + b"<a>" * 100_000, "xml-too-deep"),
    "large": (b" " * (MAX_KB * 1000 + 1), "tune-file-too-large"),
    "an encoding nobody has": (b'<?xml version="1.0" encoding="mine"?><a/>', "xml-encoding"),
    "a bomb": (_zipped(container=CONTAINER, tune=b" " * 100_000_000), "tune-file-too-large"),
    "a zip without a container": (_zipped(tune=b"<score-partwise/>"), "mxl-not-unpacked"),
    "a zip whose container names nothing": (_zipped(container=CONTAINER), "mxl-not-unpacked"),
    "half a zip": (_zipped(container=CONTAINER, tune=b"<score-partwise/>")[:60], "mxl-not-unpacked"),
    "no length": (_score(_first() + _note("G4", 4).replace("<duration>4</duration>", "")), "tune-number"),
    "a length of letters": (_score(_first() + _note("G4", 4).replace(">4</dur", ">four</dur")), "tune-number"),
    "a length without end": (_score(_first() + _note("G4", 4).replace(">4</dur", ">1e999999999</dur")), "tune-number"),
    "too high": (_score(_first() + _note("G9", 4) + _note("B9")), "tune-number"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_tune_is_refused_soon_by_a_sentence(what: str) -> None:
    data, code = REFUSED[what]
    began = time.perf_counter()
    assert {fault.code for fault in _faults(data)} == {code}
    assert time.perf_counter() - began < 2


def test_xml_that_is_not_well_formed_is_told_by_line_and_column() -> None:
    (fault,) = _faults(b"<score-partwise>\n  <part id=>\n</score-partwise>")
    assert (fault.line, fault.column) == (2, 12)


def test_the_deepest_file_that_is_let_in_is_as_deep_as_is_said() -> None:
    inside = b"<a>" * (MAX_DEPTH - 1) + b"</a>" * (MAX_DEPTH - 1)
    assert _faults(b"<score-partwise>" + inside + b"</score-partwise>")[0].code == "tune-no-notes"


WHOLE = _score(
    FORWARD + _first() + _harmony("G", "major") + _note("G4", 4, '<tie type="start"/>'),
    _note("G4", 2, '<tie type="stop"/>') + _note("A4", 2) + BACKWARD,
    implicit=(0,),
)


@given(
    st.binary(max_size=300),
    st.lists(st.tuples(st.integers(0, len(WHOLE)), st.integers(0, 12), st.binary(max_size=6)), max_size=4),
)
def test_any_bytes_are_a_tune_or_refused(scrap: bytes, cuts: list[tuple[int, int, bytes]]) -> None:
    damaged = WHOLE
    for at, gone, instead in cuts:
        damaged = damaged[:at] + instead + damaged[at + gone :]
    for data in (scrap, b"PK\x03\x04" + scrap, damaged, _zipped(container=CONTAINER, tune=damaged)):
        _read_or_refused(data)


VALUES = ["", "0", "1", "-1", "3", "7", "99", "0.5", "G", "F", "major", "none", "start", "stop", "yes", "1,2", "forward", "backward", "left", "right"]  # fmt: skip
TAGS = [
    "measure", "note", "pitch", "step", "octave", "alter", "duration", "divisions", "attributes", "key", "fifths", "mode", "time",
    "beats", "beat-type", "harmony", "root", "root-step", "kind", "degree", "degree-value", "offset", "backup", "forward", "chord",
    "grace", "voice", "tie", "barline", "bar-style", "repeat", "ending", "transpose", "chromatic", "diatonic", "metronome",
    "beat-unit", "per-minute", "sound", "direction", "rest",
]  # fmt: skip
ATTRIBUTES = ["number", "type", "location", "direction", "times", "implicit", "tempo"]
elements = st.recursive(
    st.builds(lambda tag, text: f"<{tag}>{text}</{tag}>", st.sampled_from(TAGS), st.sampled_from(VALUES)),
    lambda inside: st.builds(
        lambda tag, name, value, parts: f'<{tag} {name}="{value}">{"".join(parts)}</{tag}>',
        st.sampled_from(TAGS), st.sampled_from(ATTRIBUTES), st.sampled_from(VALUES), st.lists(inside, max_size=5),
    ),
    max_leaves=30,
)  # fmt: skip


@given(
    st.lists(
        st.one_of(elements, st.sampled_from([_note("G4"), _first(), FORWARD, BACKWARD, DOUBLE])), max_size=8
    )
)
def test_any_elements_in_any_order_are_a_tune_or_refused(inside: list[str]) -> None:
    _read_or_refused(
        _score(_first() + "".join(inside[:4]) + _note("G4"), "".join(inside[4:]), "".join(inside))
    )


def _read_or_refused(data: bytes) -> None:
    check_answer(lambda: read_musicxml(data))
