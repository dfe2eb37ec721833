"""Tunes in MIDI: the right voice, on the grid, in parts; written files read back; nothing bad gets in."""

import io
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import mido
import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import ReadingError
from service.music.harmony import key_named
from service.music.meter import meter_named
from service.music.tunes import MelodyNote
from service.notation.brought import Brought, BroughtPart
from service.notation.key_finding import _PROFILES, likeliest_key
from service.notation.midi_opened import MAX_KB
from service.notation.midi_tune_writer import write_tune_midi
from service.notation.midi_tunes import read_midi
from service.wording import said
from tests.notation.tunes import check_answer, played, tunes

RYANS = Path(music21.__file__).parent / "corpus/ryansMammoth"
SCALE = (67, 69, 71, 72, 74, 76, 78, 79)  # G major
Notes = Sequence[tuple[int, int, int]]  # onset, end, pitch


def _track(notes: Notes, *metas: mido.MetaMessage, channel: int = 0, name: str = "") -> mido.MidiTrack:
    timed = [(0, 0, mido.MetaMessage("track_name", name=name))] if name else []
    timed += [(meta.time, 0, meta) for meta in metas]
    for onset, end, pitch in notes:
        timed.append((onset, 2, mido.Message("note_on", channel=channel, note=pitch)))
        timed.append((end, 1, mido.Message("note_off", channel=channel, note=pitch)))
    track, now = mido.MidiTrack(), 0
    for tick, _, message in sorted(timed, key=lambda one: one[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    return track


def _file(*tracks: mido.MidiTrack, kind: int = 1, quarter: int = 480) -> bytes:
    out = io.BytesIO()
    mido.MidiFile(type=kind, ticks_per_beat=quarter, tracks=list(tracks)).save(file=out)
    return out.getvalue()


def _meter(beats: int, unit: int, tick: int = 0) -> mido.MetaMessage:
    return mido.MetaMessage("time_signature", numerator=beats, denominator=unit, time=tick)


def _in_a_row(pitches: Sequence[int], ticks: int = 480, start: int = 0) -> list[tuple[int, int, int]]:
    return [(start + n * ticks, start + (n + 1) * ticks, pitch) for n, pitch in enumerate(pitches)]


def _melody(tune: Brought) -> list[tuple[int, int, int]]:
    return [(note.onset, note.duration, note.pitch) for note in tune.parts[0].melody]


def _codes(tune: Brought) -> list[str]:
    assert all(said(remark) for remark in tune.remarks)
    return [remark.code for remark in tune.remarks]


def _refused(data: bytes, track: int | None = None) -> list[str]:
    with pytest.raises(ReadingError) as caught:
        read_midi(data, track=track)
    assert all(said(fault) for fault in caught.value.at)
    return [fault.code for fault in caught.value.at]


# --- what is written ---------------------------------------------------------------------------------------


def _sounding(tune: Brought, pickup: int) -> list[tuple[int, int, int]]:
    """(onset, end, pitch) as the tune is played; a pickup ends what sounds there."""
    heard: list[tuple[int, int, int]] = []
    at = pickup
    for measures, melody, _ in played(tune):
        begins = at + min(0, melody[0].onset)
        heard = [(onset, min(end, begins), pitch) for onset, end, pitch in heard if onset < begins]
        heard += [(at + n.onset, at + n.onset + n.duration, n.pitch) for n in melody]
        at += sum(measures)
    return heard


@given(tunes())
def test_any_tune_is_written_as_it_is_played(tune: Brought) -> None:
    file = mido.MidiFile(file=io.BytesIO(write_tune_midi(tune)), charset="utf-8")
    conducted, melody = file.tracks
    assert (file.type, file.ticks_per_beat, conducted.name, melody.name) == (1, 480, tune.name, "melody")
    slot = tune.meter.slot_ticks
    pickup = -min(0, played(tune)[0][1][0].onset) // slot * slot
    tick, began, heard = 0, {}, []
    for message in melody:
        tick += message.time
        if message.type == "note_on" and message.velocity:
            began[message.note] = tick
        elif message.type == "note_off":
            heard.append((began.pop(message.note), tick, message.note))
    assert sorted(heard) == sorted(_sounding(tune, pickup))
    assert tick == pickup + sum(sum(measures) for measures, _, _ in played(tune))
    texts = [message.text for message in conducted if message.type == "marker"]
    assert texts == list(tune.order)


def _plain(parts: str, order: str, meter: str = "4/4") -> Brought:
    """Parts of eight measures of quarters with a pickup, each on tones of its own."""
    full = meter_named(meter)
    made = []
    for number, name in enumerate(parts):
        beats = full.measure_ticks // 480 * 8
        notes = [MelodyNote(n * 480, 480, SCALE[(n * (number + 2)) % 8]) for n in range(beats - 1)]
        pickup = [MelodyNote(-480, 240, 62), MelodyNote(-240, 240, 64)]
        made.append(BroughtPart(name, (full.measure_ticks,) * 8, (*pickup, *notes)))
    return Brought(
        "Low water", key_named("G"), "major", full, tuple(made), tuple(order), (120, full.beat_unit)
    )


@pytest.mark.parametrize(
    ("parts", "order"), [("A", "AA"), ("AB", "AABB"), ("ABC", "AABBC"), ("AB", "ABAB"), ("AB", "ABB")]
)
@pytest.mark.parametrize("meter", ["2/2", "4/4", "2/4", "3/4"])
def test_a_tune_with_parts_of_eight_measures_comes_back_in_its_parts(
    parts: str, order: str, meter: str
) -> None:
    tune = _plain(parts, order, meter)
    back = read_midi(write_tune_midi(tune))
    assert back == tune


def test_a_tune_without_repeats_comes_back_as_one_part() -> None:
    tune = _plain("A", "A")
    assert read_midi(write_tune_midi(tune)) == tune


@pytest.mark.parametrize(("blocks", "order"), [("AABB", "AABB"), ("ABAC", "A"), ("ABCD", "A")])
def test_blocks_of_four_measures_are_parts_where_at_most_half_of_them_differ(blocks: str, order: str) -> None:
    phrases = {name: [SCALE[n * (2 + number) % 8] for n in range(16)] for number, name in enumerate("ABCD")}
    tune = read_midi(_file(_track(_in_a_row([pitch for name in blocks for pitch in phrases[name]]))))
    assert "".join(tune.order) == order
    assert sum(len(measures) for measures, _, _ in played(tune)) == 16


def test_a_mode_keeps_its_signature() -> None:
    """D dorian has the signature of C major and A minor [published]; files know no other modes than these two."""
    tune = replace(_plain("A", "A"), key=key_named("Dm"), mode="dorian")
    assert read_midi(write_tune_midi(tune)).key.name == "Am"


@given(tunes(crooked=False).filter(lambda tune: tune.meter.name in ("2/2", "4/4", "3/4")))
def test_what_is_written_is_read_again(tune: Brought) -> None:
    """All that the parts of generated tunes have in these meters lies on a grid; where a pickup cuts in on the part before, not all."""
    tune = replace(tune, order=tune.order[:1])
    back = read_midi(write_tune_midi(tune))
    assert (back.name, back.meter) == (tune.name, tune.meter)
    wanted, found = (_sounding(one, 0) for one in (tune, back))
    assert _from_the_first(found) == _from_the_first(wanted)


def _from_the_first(heard: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    return [(onset - heard[0][0], end - heard[0][0], pitch) for onset, end, pitch in heard]


# --- which voice -------------------------------------------------------------------------------------------


CHORDS = [(at, at + 480, pitch) for at in range(0, 1920, 480) for pitch in (60, 64, 67)]
BASS = _in_a_row((36, 43, 36, 43))
TUNE = _in_a_row((67, 69, 71, 72))


def test_a_melody_is_one_note_at_a_time_where_tunes_lie() -> None:
    tune = read_midi(
        _file(_track(CHORDS, name="keys"), _track(BASS, name="bass"), _track(TUNE, name="fiddle"))
    )
    assert _melody(tune) == [(0, 480, 67), (480, 480, 69), (960, 480, 71), (1440, 480, 72)]
    (about_tracks,) = (remark for remark in tune.remarks if remark.code == "tune-tracks")
    assert about_tracks.params == {"melody": "3 (fiddle)", "others": "1 (keys), 2 (bass)"}


def test_a_voice_that_is_named_so_is_the_melody() -> None:
    tune = read_midi(_file(_track(TUNE, name="fiddle"), _track(BASS, name="Lead bass")))
    assert [pitch for *_, pitch in _melody(tune)] == [36, 43, 36, 43]


def test_drums_are_no_melody() -> None:
    assert _refused(_file(_track(TUNE, channel=9, name="melody"))) == ["tune-no-notes"]


def test_another_voice_can_be_asked_for() -> None:
    data = _file(_track(TUNE, name="fiddle"), _track(BASS, name="bass"))
    assert [pitch for *_, pitch in _melody(read_midi(data, track=2))] == [36, 43, 36, 43]
    assert _refused(data, track=3) == ["tune-no-such-track"]
    assert _refused(data, track=0) == ["tune-no-such-track"]


def test_in_a_file_of_one_track_channels_are_voices() -> None:
    both = mido.merge_tracks([_track(BASS), _track(TUNE, channel=1)])
    tune = read_midi(_file(both, kind=0))
    assert [pitch for *_, pitch in _melody(tune)] == [67, 69, 71, 72]


# --- time --------------------------------------------------------------------------------------------------


def test_loose_playing_is_put_on_sixteenths_and_triplets_beat_by_beat() -> None:
    played = [(5, 230, 67), (236, 470, 69), (488, 630, 71), (650, 790, 72), (805, 950, 74), (955, 1900, 76)]
    tune = read_midi(_file(_track(played)))
    assert _melody(tune) == [
        (0, 240, 67), (240, 240, 69), (480, 160, 71), (640, 160, 72), (800, 160, 74), (960, 960, 76),
    ]  # fmt: skip
    assert "tune-moved-notes" not in _codes(tune)


def test_a_note_that_lies_far_from_the_grid_is_said() -> None:
    tune = read_midi(_file(_track([(0, 480, 67), (528, 960, 69)])))  # moved by 48 of 480 ticks
    assert [r.params["percent"] for r in tune.remarks if r.code == "tune-moved-notes"] == [10]


def test_other_resolutions_are_exact() -> None:
    for quarter in (24, 96, 10080):
        tune = read_midi(_file(_track(_in_a_row((67, 69, 71), quarter // 3)), quarter=quarter))
        assert _melody(tune) == [(0, 160, 67), (160, 160, 69), (320, 160, 71)]


def test_notes_that_overlap_are_cut_and_of_chords_the_highest_is_kept() -> None:
    tune = read_midi(_file(_track([(0, 700, 67), (480, 960, 71), (480, 960, 64), (960, 1920, 69)])))
    assert _melody(tune) == [(0, 480, 67), (480, 480, 71), (960, 960, 69)]


def test_grace_notes_are_left_out() -> None:
    tune = read_midi(_file(_track([(0, 480, 67), (460, 480, 72), (480, 960, 71), (960, 1920, 69)])))
    assert _melody(tune) == [(0, 480, 67), (480, 480, 71), (960, 960, 69)]


def test_meter_tempo_key_and_title_are_read() -> None:
    metas = (
        _meter(6, 8),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(165)),
        mido.MetaMessage("key_signature", key="Em"),
        mido.MetaMessage("track_name", name="Übers Wehr".encode().decode("latin1")),
        mido.MetaMessage("copyright", text="made up for tests"),
    )
    tune = read_midi(_file(_track([], *metas), _track(TUNE)))
    # quarter = 165 is dotted quarter = 110 [computed]
    assert (tune.meter.name, tune.tempo, tune.key.name, tune.mode) == (
        "6/8",
        (110, "dotted quarter"),
        "Em",
        "minor",
    )
    assert (tune.name, tune.source) == ("Übers Wehr", "made up for tests")
    assert _codes(tune) == []


def test_texts_that_are_no_utf_8_are_latin_1() -> None:
    name = mido.MetaMessage("track_name", name="Übers Wehr")
    assert read_midi(_file(_track([], name), _track(TUNE))).name == "Übers Wehr"


def test_without_a_meter_it_is_four_four_and_one_that_is_not_known_is_told() -> None:
    assert read_midi(_file(_track(TUNE))).meter.name == "4/4"
    assert _refused(_file(_track(TUNE, _meter(5, 8)))) == ["unknown-meter"]
    assert _refused(_file(_track(TUNE, _meter(0, 4)))) == ["unknown-meter"]


def test_a_short_first_measure_is_a_pickup_and_so_are_notes_late_in_a_first_measure() -> None:
    short = _file(_track(_in_a_row((62, 67, 69, 71, 72, 74)), _meter(1, 4), _meter(4, 4, 480)))
    late = _file(_track(_in_a_row((62, 67, 69, 71, 72, 74), start=1440)))
    for data in (short, late):
        tune = read_midi(data)
        assert _melody(tune)[:2] == [(-480, 480, 62), (0, 480, 67)]
        assert tune.parts[0].measures == (1920, 1920)


def test_silence_before_the_tune_is_left_out() -> None:
    tune = read_midi(_file(_track(_in_a_row((67, 69, 71, 72), start=3 * 1920))))
    assert (tune.parts[0].measures, _melody(tune)[0]) == ((1920,), (0, 480, 67))


def test_a_measure_of_another_length_is_said() -> None:
    signs = (_meter(4, 4), _meter(2, 4, 1920), _meter(4, 4, 2880))
    tune = read_midi(_file(_track(_in_a_row(SCALE + SCALE), *signs)))
    assert tune.parts[0].measures == (1920, 960, 1920, 1920, 1920)
    assert [r.params["measures"] for r in tune.remarks if r.code == "tune-crooked"] == ["2"]


# --- key ---------------------------------------------------------------------------------------------------


def test_the_profiles_are_those_that_were_published() -> None:
    """Krumhansl and Kessler 1982, as music21 has them."""
    theirs = music21.analysis.discrete.KrumhanslSchmuckler()
    assert {mode: list(profile) for mode, profile in _PROFILES.items()} == {
        mode: theirs.getWeights(mode) for mode in _PROFILES
    }


# Real tunes without grace notes, which music21 writes as notes that sound for a long time.
REAL = (
    "BillyORourkesJig", "BottleOfBrandyJig", "CaliforniaHornpipe", "CuckooHornpipe", "DonegallBoysReel", "EveryBodysHornpipe",
    "GoldenEagleHornpipe", "HaveADrinkWithMe", "JennyNettlesFancyReel", "ManhattanHornpipe",
)  # fmt: skip


@pytest.mark.parametrize("name", REAL)
def test_a_real_tune_has_key_and_melody_that_another_program_finds(name: str) -> None:
    """Tunes of music21's corpus, written as MIDI by music21, without their key signature."""
    stream = music21.converter.parse(RYANS / f"{name}.abc").expandRepeats()
    data = music21.midi.translate.music21ObjectToMidiFile(stream).writestr()
    tune = read_midi(data)
    melody = [note for _, notes, _ in played(tune) for note in notes]
    theirs = stream.analyze("key.krumhanslschmuckler")
    found = likeliest_key(melody)
    assert (found.name.removesuffix("m"), found.mode) == (theirs.tonic.name.replace("-", "b"), theirs.mode)
    written = [
        (note.pitch.midi, round(note.quarterLength * 480))
        for note in stream.stripTies().recurse().notes
        if not isinstance(note, music21.harmony.Harmony)
    ]
    assert [(note.pitch, note.duration) for note in melody] == written


def test_a_file_without_a_key_has_one_proposed() -> None:
    tune = read_midi(_file(_track(_in_a_row((74, 78, 81, 86, 81, 78, 74, 79, 76, 74)))))
    assert (tune.key.name, _codes(tune)) == ("D", ["tune-key-proposed"])


# --- files of all kinds ------------------------------------------------------------------------------------


WHOLE = write_tune_midi(_plain("AB", "AABB"))
ENDLESS = b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\x0f\xff\xff"
REFUSED: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "not-midi"),
    "text": (b"X:1\nT:Low water\n", "not-midi"),
    "broken off": (WHOLE[:-20], "not-midi"),
    "large": (b"MThd" + b" " * MAX_KB * 1000, "tune-file-too-large"),
    "a time without end": (ENDLESS + b"\xff" * 250_000, "not-midi"),
    "frames of film": (WHOLE[:12] + b"\xe7\x28" + WHOLE[14:], "midi-without-beats"),
    "no clock": (WHOLE[:12] + b"\0\0" + WHOLE[14:], "midi-without-beats"),
    "no notes": (_file(_track([])), "tune-no-notes"),
    "an evening": (_file(_track([(0, 480, 67), (1920 * 600, 1920 * 600 + 480, 67)])), "too-many-measures"),
    "a wait": (_file(_track([(0, 0xFFFFFFF, 67)])), "too-many-measures"),
    "measures of nothing": (_file(_track(TUNE, _meter(1, 2**40))), "unknown-meter"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_tune_is_refused_soon_by_a_sentence(what: str) -> None:
    data, code = REFUSED[what]
    began = time.perf_counter()
    assert _refused(data) == [code]
    assert time.perf_counter() - began < 2


def test_a_file_full_of_notes_is_read_soon() -> None:
    notes = [(n * 8, n * 8 + 6, 50 + n % 40) for n in range(MAX_KB * 1000 // 9)]
    data = _file(_track(notes))
    assert MAX_KB * 700 < len(data) <= MAX_KB * 1000
    began = time.perf_counter()
    check_answer(lambda: read_midi(data))
    assert time.perf_counter() - began < 10


@given(
    st.binary(max_size=300),
    st.lists(st.tuples(st.integers(14, len(WHOLE)), st.integers(0, 4), st.binary(max_size=4)), max_size=4),
)
def test_any_bytes_are_a_tune_or_refused(scrap: bytes, cuts: list[tuple[int, int, bytes]]) -> None:
    damaged = WHOLE
    for at, gone, instead in cuts:
        damaged = damaged[:at] + instead + damaged[at + gone :]
    for data in (scrap, WHOLE[:14] + scrap, damaged):
        check_answer(lambda data=data: read_midi(data))  # type: ignore[misc]


@given(
    st.lists(st.tuples(st.integers(0, 8000), st.integers(1, 3000), st.integers(0, 127), st.integers(0, 2)), max_size=30),
    st.lists(st.tuples(st.integers(1, 13), st.sampled_from([1, 2, 4, 8, 16]), st.integers(0, 6000)), max_size=3),
    st.sampled_from([1, 7, 24, 480, 32767]),
    st.sampled_from([0, 1]),
)  # fmt: skip
def test_any_notes_in_any_meters_are_a_tune_or_refused(
    notes: list[tuple[int, int, int, int]], meters: list[tuple[int, int, int]], quarter: int, kind: int
) -> None:
    signs = [_meter(*sign) for sign in meters]
    tracks = [
        _track(
            [(on, on + lasts, pitch) for on, lasts, pitch, of in notes if of == voice], *signs, channel=voice
        )
        for voice in range(3)
    ]
    data = (
        _file(mido.merge_tracks(tracks), kind=0, quarter=quarter)
        if kind == 0
        else _file(*tracks, quarter=quarter)
    )
    check_answer(lambda: read_midi(data))
