"""MIDI files, read back with mido: when, how high, how long, on which string, how fast."""

import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import mido
import music21
import pytest
from hypothesis import given

from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Note
from service.music.meter import meter_named
from service.music.passages import Passage, lick_passage
from service.music.scores import Beat, Repeat, Score, Section, Span
from service.notation.midi import tempo_of, write_midi
from service.notation.musicxml import write_musicxml
from service.notation.one_line import read_one_line
from service.usecases.licks import read_lick
from service.usecases.seeding import load_fixtures
from tests.strategies import passages

BANJO = instrument_named("banjo")
ROLL = "32514251"


def _score(passage: Passage, **more: Any) -> Score:
    given = {"title": "Made up", "key": key_named("G"), "beat": Beat(110, "half"), **more}
    return Score(passage=passage, **given)


def _line(text: str, **more: Any) -> Score:
    passage = read_one_line(text, BANJO, meter="2/2", tuning="open-g").passage
    kept = {name: more.pop(name) for name in ("capo", "stop", "changes") if name in more}
    return _score(replace(passage, **kept), **more)


def _file(score: Score, *parts: tuple[str, Passage], rounds: int = 1) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(write_midi(score, parts, rounds=rounds)), charset="utf-8")


def _timed(track: mido.MidiTrack) -> Iterator[tuple[int, Any]]:
    tick = 0
    for message in track:
        tick += message.time
        yield tick, message


@dataclass(frozen=True, order=True)
class _Heard:
    """A note of the file: tick, channel from 0, MIDI pitch, ticks it lasts, velocity."""

    tick: int
    channel: int
    pitch: int
    ticks: int
    velocity: int


def _heard(track: mido.MidiTrack) -> list[_Heard]:
    on: dict[tuple[int, int], tuple[int, int]] = {}
    found = []
    for tick, message in _timed(track):
        if message.type == "note_on" and message.velocity:
            assert (message.channel, message.note) not in on, "struck again before it ended"
            on[message.channel, message.note] = (tick, message.velocity)
        elif message.type == "note_off":
            begun, velocity = on.pop((message.channel, message.note))
            found.append(_Heard(begun, message.channel, message.note, tick - begun, velocity))
    assert on == {}
    return sorted(found)


def _metas(file: mido.MidiFile, kind: str, name: str, track: int = 0) -> list[tuple[int, Any]]:
    return [(tick, getattr(m, name)) for tick, m in _timed(file.tracks[track]) if m.type == kind]


# --- time ------------------------------------------------------------------------------------------------


def test_thirty_two_bars_at_half_110_last_34_909_seconds() -> None:
    # [computed]: MIDI tempo 272727 us, 64 beats at 110 a minute
    score = _line(", ".join([ROLL] * 32))
    file = _file(score)
    assert _metas(file, "set_tempo", "tempo") == [(0, 272727)]
    assert file.length == pytest.approx(34.909, abs=0.0005)
    assert (file.type, file.ticks_per_beat) == (1, 480)


@pytest.mark.parametrize(
    ("bpm", "unit", "tempo"),
    [
        (120, "quarter", 500_000),  # published: 120 quarters a minute, the tempo of a file that names none
        (110, "half", 272_727),  # [computed]
        (110, "dotted quarter", 363_636),  # quarter = 165
        (1, "eighth", 0xFFFFFF),  # three bytes hold no more, published
    ],
)
def test_a_tempo_is_told_in_microseconds_to_the_quarter(bpm: int, unit: str, tempo: int) -> None:
    assert tempo_of(Beat(bpm, unit)) == tempo


def test_a_pickup_begins_the_file_in_a_measure_of_its_own() -> None:
    file = _file(_line(f"4 4.2; {ROLL}"))
    assert [(h.tick, h.channel + 1, h.pitch) for h in _heard(file.tracks[1])][:3] == [
        (0, 4, 50), (240, 4, 52), (480, 3, 55),
    ]  # fmt: skip
    assert _metas(file, "time_signature", "numerator") == [(0, 1), (480, 2)]
    assert _metas(file, "time_signature", "denominator") == [(0, 4), (480, 2)]


def test_crooked_measures_have_their_own_meter() -> None:
    passage = replace(_line(", ".join([ROLL] * 3)).passage, measures=(1920, 960, 1440))
    file = _file(_score(replace(passage, notes=passage.notes[:8])))
    counted = zip(
        _metas(file, "time_signature", "numerator"),
        _metas(file, "time_signature", "denominator"),
        strict=True,
    )
    assert [(tick, n, d) for (tick, n), (_, d) in counted] == [(0, 2, 2), (1920, 1, 2), (2880, 3, 4)]
    assert sum(m.time for m in file.tracks[1]) == 1920 + 960 + 1440


@pytest.mark.parametrize(("meter", "eighths"), [("9/8", 9), ("12/8", 12)])
def test_slip_jigs_and_slides_click_by_dotted_quarters(meter: str, eighths: int) -> None:
    passage = read_one_line(f"5 1; {'3' * eighths}, {'2' * eighths}", BANJO, meter=meter).passage
    file = _file(_score(passage, beat=Beat(84, "dotted quarter")))
    assert _metas(file, "time_signature", "numerator") == [(0, 2), (480, eighths)]
    assert _metas(file, "time_signature", "denominator") == [(0, 8), (480, 8)]
    # 24 MIDI clocks to the quarter [published]
    assert _metas(file, "time_signature", "clocks_per_click")[-1] == (480, 36)
    assert [h.tick for h in _heard(file.tracks[1])][2:] == list(range(480, 480 + 2 * eighths * 240, 240))


def test_a_break_of_nothing_but_a_rest_lasts_as_long() -> None:
    passage = replace(_line(f"{ROLL}, {ROLL}").passage, notes=())
    file = _file(_score(passage))
    assert _heard(file.tracks[1]) == []
    assert sum(m.time for m in file.tracks[1]) == 3840


def test_every_track_ends_with_the_last_measure() -> None:
    file = _file(_line(f"{ROLL}, 3 -------"))
    assert [sum(m.time for m in track) for track in file.tracks] == [3840, 3840]


# --- notes -----------------------------------------------------------------------------------------------


def test_string_and_fret_can_be_read_back() -> None:
    """The fret is the pitch less the open string's, which the file names by channel."""
    file = _file(_line("3.2 2.1 5 1.12 4.5 3 2 1", capo=2))
    (text,) = (text for _, text in _metas(file, "text", "text", track=1))
    opens = dict(
        tuple(map(int, pair.split(": ")))
        for pair in text.removeprefix("open strings by channel: ").split(", ")
    )
    # open G behind capo 2 [computed from the published tuning]
    assert opens == {1: 64, 2: 61, 3: 57, 4: 52, 5: 69}
    assert [(h.channel + 1, h.pitch - opens[h.channel + 1]) for h in _heard(file.tracks[1])] == [
        (3, 2), (2, 1), (5, 0), (1, 12), (4, 5), (3, 0), (2, 0), (1, 0),
    ]  # fmt: skip


def test_a_tie_lengthens_what_it_is_tied_to() -> None:
    assert [(h.tick, h.ticks) for h in _heard(_file(_line("3 2 5 1 = ---")).tracks[1])] == [
        (0, 240), (240, 240), (480, 240), (720, 1200),
    ]  # fmt: skip


def test_a_string_is_silenced_by_its_next_note() -> None:
    notes = (Note(0, 3, 0, 1920), Note(480, 3, 2, 1440), Note(480, 1, 0, 1440))
    score = _score(Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920,), notes))
    assert [(h.tick, h.channel, h.ticks) for h in _heard(_file(score).tracks[1])] == [
        (0, 2, 480), (480, 0, 1440), (480, 2, 1440),
    ]  # fmt: skip


def test_a_note_ends_before_the_next_begins() -> None:
    """At one tick all note_offs come first, so that a synthesiser does not cut the new note."""
    for tick, kinds in _by_tick(_file(_line("3 3 3 3 3 3 3 3")).tracks[1]).items():
        assert kinds == sorted(kinds, key=["note_off", "note_on"].index), tick


def _by_tick(track: mido.MidiTrack) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for tick, message in _timed(track):
        if message.type in ("note_on", "note_off"):
            found.setdefault(tick, []).append(message.type)
    return found


def test_a_muted_string_is_short_and_soft() -> None:
    notes = (Note(0, 3, 0, 960, "mute"), Note(960, 3, 0, 960))
    score = _score(Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920,), notes))
    muted, plain = _heard(_file(score).tracks[1])
    assert muted.ticks <= 60 < plain.ticks
    assert muted.velocity < plain.velocity


def test_strong_beats_and_the_tune_are_louder() -> None:
    plain = [h.velocity for h in _heard(_file(_line(ROLL)).tracks[1])]
    assert plain[0] > plain[4] > plain[2] > plain[1] == plain[3]
    tune = [h.velocity for h in _heard(_file(_line(ROLL, melody=frozenset({240}))).tracks[1])]
    assert tune[1] > plain[1]
    assert tune[2:] == plain[2:]


def _wheel(track: mido.MidiTrack) -> list[tuple[int, int, int]]:
    return [(tick, m.channel, m.pitch) for tick, m in _timed(track) if m.type == "pitchwheel"]


def test_a_choke_bends_its_own_string_and_lets_go() -> None:
    notes = (Note(0, 2, 10, 960, "choke"), Note(960, 2, 8, 960), Note(960, 1, 0, 960))
    score = _score(Passage(BANJO, BANJO.tuning(), meter_named("2/2"), (1920,), notes))
    wheel = _wheel(_file(score).tracks[1])
    assert {channel for _, channel, _ in wheel} == {1}
    # a semitone of the two that the wheel has: half of 8192 [published]
    assert max(pitch for _, _, pitch in wheel) == 4096
    assert wheel[-1] == (960, 1, 0)
    assert all(a[2] <= b[2] for a, b in pairwise(wheel[:-1]))


def test_a_slide_bends_towards_where_it_goes() -> None:
    track = _file(_line("3.2 /4 -- ----")).tracks[1]
    wheel = _wheel(track)
    assert wheel[0][2] == 0
    assert wheel[-2][2] > 4096  # more than half of the way up
    assert wheel[-1] == (240, 2, 0)
    assert [(h.tick, h.pitch) for h in _heard(track)] == [(0, 57), (240, 59)]


def test_the_wheel_is_told_its_range_on_each_string() -> None:
    # registered parameter 0 [published]: controls 101 and 100 nought, then 6 the semitones
    told: dict[int, list[tuple[int, int]]] = {}
    for _, message in _timed(_file(_line(ROLL)).tracks[1]):
        if message.type == "control_change":
            told.setdefault(message.channel, []).append((message.control, message.value))
    assert {channel: controls[:3] for channel, controls in told.items()} == {
        channel: [(101, 0), (100, 0), (6, 2)] for channel in range(5)
    }


@given(passages())
def test_any_passage_is_heard_as_it_is_written(passage: Passage) -> None:
    score = _score(passage)
    file = _file(score)
    board = passage.fretboard
    pickup = -(-passage.pickup_ticks // passage.meter.slot_ticks) * passage.meter.slot_ticks
    struck = [n for n in passage.notes if n.technique != "tie"]
    heard = _heard(file.tracks[1])
    assert Counter((h.tick - pickup, h.channel + 1, h.pitch) for h in heard) >= Counter(
        (n.onset, n.string, board.pitch(n.string, n.fret)) for n in struck
    )
    # a tie joins the note before where it can, so nothing is heard that is not written
    assert {(h.tick - pickup, h.channel + 1) for h in heard} <= {(n.onset, n.string) for n in passage.notes}
    assert all(h.ticks > 0 for h in heard)
    wanted = (pickup + passage.ticks) / score.beat.ticks * 60 / score.beat.bpm
    assert file.length == pytest.approx(wanted, rel=1e-5)
    wheels = {channel: pitch for _, channel, pitch in _wheel(file.tracks[1])}
    assert set(wheels.values()) <= {0}  # every string is let go in the end


# --- names and form --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("instrument", "program"),
    [("banjo", 106), ("guitar", 26), ("fiddle", 111), ("upright-bass", 33)],
)
def test_programs_are_those_of_general_midi(instrument: str, program: int) -> None:
    # published, counted from 1; mido counts from 0
    played = instrument_named(instrument)
    passage = Passage(played, played.tuning(), meter_named("4/4"), (1920,), (Note(0, 1, 0, 1920),))
    programs = {m.program for _, m in _timed(_file(_score(passage)).tracks[1]) if m.type == "program_change"}
    assert programs == {program - 1}


def test_an_instrument_that_general_midi_lacks_has_the_nearest() -> None:
    mandolin = instrument_named("mandolin")
    passage = Passage(mandolin, mandolin.tuning(), meter_named("4/4"), (1920,), (Note(0, 1, 0, 1920),))
    programs = {m.program for _, m in _timed(_file(_score(passage)).tracks[1]) if m.type == "program_change"}
    assert programs == {25}  # steel strings


def test_sections_phrases_and_chords_stand_in_the_first_track() -> None:
    changes = (Change(0, chord_named("G")), Change(1920, chord_named("D7")), Change(2880, None))
    score = _line(
        f"4 4.2; {ROLL}, {ROLL}", changes=changes, capo=2, sections=(Section(0, "A"),),
        phrases=(Span(0, 1920, "Überfahrt"), Span(1920, 1920, "Lick 4", rest=True)),
    )  # fmt: skip
    file = _file(score)
    assert _metas(file, "marker", "text") == [(480, "A"), (480, "Überfahrt")]
    assert _metas(file, "text", "text") == [(480, "A"), (480 + 1920, "E7"), (480 + 2880, "N.C.")]
    assert _metas(file, "key_signature", "key") == [(0, "A")]


@pytest.mark.parametrize(
    ("key", "name"), [("G", "G"), ("Em", "Em"), ("Bb", "Bb"), ("Dbm", "C#m"), ("F#", "F#")]
)
def test_keys_have_names_that_the_format_knows(key: str, name: str) -> None:
    score = _score(_line(ROLL).passage, key=key_named(key))
    assert _metas(_file(score), "key_signature", "key") == [(0, name)]


def test_title_and_credits_are_told_in_any_script() -> None:
    score = replace(_line(ROLL), title="Über den Fluß ♪", credits=("© own work",))
    file = _file(score)
    assert _metas(file, "track_name", "name") == [(0, "Über den Fluß ♪")]
    assert _metas(file, "copyright", "text") == [(0, "© own work")]


def test_repeats_are_written_out_with_their_endings() -> None:
    lines = ", ".join(["3 ---- ---", "4 ---- ---", "2 ---- ---", "1 ---- ---"])
    score = _line(lines, repeats=(Repeat(0, 2, ending=2),), sections=(Section(0, "A"),))
    file = _file(score)
    # 3, 4, first ending; 3, 4, second ending
    assert [h.pitch for h in _heard(file.tracks[1])] == [55, 50, 59, 55, 50, 62]
    assert _metas(file, "marker", "text") == [(0, "A"), (3 * 1920, "A")]


def test_a_round_more_comes_with_its_pickup_in_the_place_of_the_end() -> None:
    file = _file(_line(f"4 4.2; {ROLL}"), rounds=2)
    heard = _heard(file.tracks[1])
    assert [h.channel + 1 for h in heard] == [4, 4, 3, 2, 5, 1, 4, 2, 4, 4, 3, 2, 5, 1, 4, 2, 5, 1]
    assert sum(m.time for m in file.tracks[1]) == 480 + 2 * 1920


def test_further_parts_have_channels_of_their_own_and_leave_the_drums_alone() -> None:
    bass, guitar = instrument_named("upright-bass"), instrument_named("guitar")
    notes = (Note(0, 3, 0, 960), Note(960, 4, 3, 960))
    low = Passage(bass, bass.tuning(), meter_named("2/2"), (1920,), notes)
    # the same pitch on two strings at once: one channel can hold it once
    strum = Passage(
        guitar, guitar.tuning(), meter_named("2/2"), (1920,), (Note(0, 1, 0, 960), Note(0, 2, 5, 960))
    )
    parts = [("Bass", low), *((f"Guitar {n}", strum) for n in range(8))]
    file = _file(_line(ROLL), *parts)
    channels = [{h.channel for h in _heard(track)} for track in file.tracks[1:]]
    assert channels[0] == {0, 1, 2, 3, 4}
    assert [len(used) for used in channels[1:]] == [1] * 9
    assert len(set.union(*channels)) == 14
    assert 9 not in set.union(*channels)
    assert [m.name for track in file.tracks for m in track if m.type == "track_name"][2:4] == [
        "Bass",
        "Guitar 0",
    ]
    assert [(h.tick, h.pitch) for h in _heard(file.tracks[2])] == [(0, 33), (960, 31)]


@pytest.mark.parametrize("number", range(0, 60, 10))
def test_two_programs_hear_the_same_in_both_files(number: int) -> None:
    """Onsets and pitches of a demo lick: mido's from the MIDI file, music21's from the MusicXML."""
    lick = read_lick(load_fixtures().licks[number])[1]
    score = _score(replace(lick_passage(lick), capo=2), key=lick.key)
    stream = music21.converter.parseData(write_musicxml(score).decode(), format="musicxml")
    read = [
        (round(float(element.getOffsetInHierarchy(stream)) * 480), pitch.midi)
        for element in stream.parts[0].recurse().notes
        if not isinstance(element, music21.harmony.Harmony)
        and (element.tie is None or element.tie.type == "start")
        for pitch in element.pitches
    ]
    assert sorted(read) == sorted((h.tick, h.pitch) for h in _heard(_file(score).tracks[1]))
