"""Single notes: pitch, beginning, decay, what the hands do to them."""

import numpy as np
import pytest

from service.music.instruments import Instrument, all_instruments, instrument_named
from service.music.pitch import frequency
from service.sound import strings
from service.sound.characters import CHARACTERS
from service.sound.encoding import encoded
from service.sound.notes import BEND_CENTS, NoteCache, NoteKey, make_note
from service.sound.playing import play
from service.sound.strings import Stroke, plucked
from tests.sound.hearing import (
    RATE,
    Heard,
    decibels,
    decoded,
    onset,
    passage,
    plan,
    praat_cents,
    sounded,
    spaced,
)

BANJO = instrument_named("banjo")
CENTS = 3.0  # what the ear forgives, and what was asked for
ONSET_SECONDS = 0.003


def _note(
    instrument: str = "banjo",
    pitch: int = 62,
    technique: str | None = None,
    seconds: float = 1.0,
    **more: object,
) -> Heard:
    key = NoteKey(instrument, pitch, False, 2, technique, **more)  # type: ignore[arg-type]
    return make_note(key, round(seconds * RATE)).astype(np.float64)


def _between(sound: Heard, start: float, stop: float) -> Heard:
    return sound[round(start * RATE) : round(stop * RATE)]


# --- pitch ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("instrument", all_instruments(), ids=lambda i: i.id)
def test_every_string_of_an_mp3_is_in_tune_for_praat(instrument: Instrument) -> None:
    short = instrument.short_string
    places = [
        (string, fret)
        for string in range(1, instrument.strings + 1)
        for fret in (0, 5, 12)
        if not (short and string == short[0] and fret)
    ]
    sound = sounded(spaced(instrument, places), rounds=(120,))
    heard = decoded(encoded(sound)[0].data)[0]
    off = {
        (event.string, event.pitch): praat_cents(
            heard[event.start + RATE // 10 : event.start + RATE * 3 // 5], frequency(event.pitch)
        )
        for event in sound.timeline.events
    }
    assert len(off) == len(set(places))
    assert {place: cents for place, cents in off.items() if abs(cents) > CENTS} == {}


@pytest.mark.parametrize("pitch", range(38, 91, 4))
def test_a_string_is_in_tune_over_the_whole_range(pitch: int) -> None:
    wave = plucked(CHARACTERS["guitar"], pitch, True, RATE, Stroke())
    assert abs(_peak_cents(wave[4410:], frequency(pitch))) < 1.0


def _peak_cents(sound: Heard, hz: float) -> float:
    """Highest bin near ``hz`` of a long transform, read between bins by a parabola."""
    size = 8 * len(sound)
    bins = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size))
    near = slice(round(hz / 1.03 * size / RATE), round(hz * 1.03 * size / RATE))
    at = near.start + int(np.argmax(bins[near]))
    a, b, c = np.log(bins[at - 1 : at + 2])
    return 1200 * float(np.log2((at + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size / hz))


@pytest.mark.parametrize("bpm", [30, 320])
def test_the_pitch_does_not_depend_on_the_tempo(bpm: int) -> None:
    sound = sounded(passage("3---2---, 3---2---"), rounds=(bpm,))
    heard = sound.samples().astype(np.float64)
    event = sound.timeline.events[0]
    assert event.pitch == 55
    assert abs(praat_cents(heard[event.start + 1000 : event.start + 8000], frequency(55))) < CENTS


def test_a_shift_moves_what_is_heard() -> None:
    heard = sounded(passage("3-------, 3-------"), shift=-2).samples().astype(np.float64)
    assert abs(praat_cents(heard[4410:26460], frequency(53))) < CENTS


@pytest.mark.parametrize("pitch", [40, 62, 88])
def test_folding_gives_what_going_round_sample_by_sample_gives(pitch: int) -> None:
    character = CHARACTERS["banjo"]
    hz = frequency(pitch)
    kernel, delay = strings._filter(character, hz, 1.0)
    table = strings.wave_table(np.array([1.0, 0.5, 0.25]), np.zeros(3))
    quick = strings._rung(table, np.empty(0), kernel, delay, RATE / hz, 6000)
    before = delay + len(kernel)
    slow = [float(v) for v in strings._read(table, np.arange(-before, 0) * hz / RATE)]
    taps = [float(v) for v in kernel]
    for at in range(before, before + 6000):
        slow.append(sum(tap * slow[at - delay - k] for k, tap in enumerate(taps)))
    assert np.allclose(quick, slow[before:], atol=1e-12)


# --- beginnings ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["mp3", "ogg", "flac", "wav"])
def test_a_decoded_file_begins_its_notes_within_three_milliseconds(kind: str) -> None:
    # a damped string is silent before the next stroke, so the first sample above the floor is the stroke
    sound = sounded(spaced(BANJO, [(1, 5), (2, 5), (3, 5), (4, 5)]), rounds=(45,))
    heard = decoded(encoded(sound, kind)[0].data)[0]
    for event in sound.timeline.events:
        before = max(0, event.start - RATE // 20)
        stretch = heard[before : event.start + RATE // 5]
        assert abs(before + onset(stretch) - event.start) < ONSET_SECONDS * RATE, (kind, event.start)


@pytest.mark.parametrize("kind", ["mp3", "flac"])
def test_the_click_of_a_decoded_file_is_in_time(kind: str) -> None:
    sound = sounded(spaced(BANJO, [(1, 5)]), rounds=(60,), click=True, muted=frozenset({"part 1"}))
    heard = decoded(encoded(sound, kind)[0].data)[0]
    for click in sound.timeline.clicks:
        before = max(0, click.start - RATE // 20)
        stretch = heard[before : click.start + RATE // 10]
        assert abs(before + onset(stretch) - click.start) < ONSET_SECONDS * RATE


def test_the_downbeat_is_the_higher_click() -> None:
    sound = sounded(spaced(BANJO, [(1, 5)]), rounds=(60,), click=True, muted=frozenset({"part 1"}))
    heard = sound.samples().astype(np.float64)
    tops = [_strongest(heard[c.start : c.start + 2000]) for c in sound.timeline.clicks]
    assert [c.downbeat for c in sound.timeline.clicks] == [True, False]
    assert tops[0] > 1.3 * tops[1]


def _strongest(sound: Heard) -> float:
    return float(np.argmax(np.abs(np.fft.rfft(sound, 8192)))) * RATE / 8192


# --- decay ---------------------------------------------------------------------------------------------


def _t60(sound: Heard) -> float:
    """From the slope of the level between .1 and .5 s."""
    times = np.arange(0.1, 0.5, 0.05)
    levels = [decibels(_between(sound, t, t + 0.05)) for t in times]
    return -60 / float(np.polyfit(times, levels, 1)[0])


def test_a_banjo_is_gone_in_a_second_or_two_and_a_guitar_rings_longer() -> None:
    # one to two seconds for treble strings: common practice, no source
    banjo = _t60(make_note(NoteKey("banjo", 62, True, 2), RATE).astype(np.float64))
    guitar = _t60(make_note(NoteKey("guitar", 62, True, 2), RATE).astype(np.float64))
    assert 1.0 < banjo < 2.0
    assert guitar > 1.6 * banjo


def test_an_open_string_rings_longer_than_a_fretted_one() -> None:
    lengths = [_t60(make_note(NoteKey("guitar", 62, o, 2), RATE).astype(np.float64)) for o in (True, False)]
    assert lengths[0] > 1.15 * lengths[1]


def test_a_bow_holds_its_note() -> None:
    heard = _note("fiddle", 69, seconds=3.0)
    assert abs(decibels(_between(heard, 0.5, 1.0)) - decibels(_between(heard, 2.0, 2.5))) < 1.5


def test_highs_die_first() -> None:
    heard = _note("banjo", 55)
    early, late = (_share_above(_between(heard, t, t + 0.1), 2500) for t in (0.0, 0.6))
    assert late < early / 10


def _share_above(sound: Heard, hz: float) -> float:
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    return float(power[round(hz * len(sound) / RATE) :].sum() / power.sum())


@pytest.mark.parametrize("instrument", ["banjo", "guitar", "mandolin", "upright-bass"])
def test_nothing_sounds_above_what_is_meant_to(instrument: str) -> None:
    """Partials end at 12 kHz; what a fold-over or a click would add lies above."""
    heard = _note(instrument, 62 if instrument != "upright-bass" else 40)
    assert _share_above(_between(heard, 0.05, 0.5), 14_000) < 1e-7


def test_instruments_have_sounds_of_their_own() -> None:
    names = ("banjo", "guitar", "mandolin", "fiddle", "resonator-guitar", "ukulele")
    spectra = [np.abs(np.fft.rfft(_between(_note(name, 67), 0.02, 0.3))) for name in names]
    unit = [s / np.linalg.norm(s) for s in spectra]
    alike = [float(a @ b) for i, a in enumerate(unit) for b in unit[:i]]
    assert max(alike) < 0.98


# --- hands ---------------------------------------------------------------------------------------------


def test_a_slide_glides_from_the_old_pitch_to_the_new_one() -> None:
    sound = sounded(passage("3.2-/4-----, 3-------"))
    heard = sound.samples().astype(np.float64)
    slide = sound.timeline.events[1]
    arrives = slide.start
    assert abs(praat_cents(heard[arrives - 12000 : arrives - 5000], frequency(57))) < CENTS
    assert abs(praat_cents(heard[arrives + 500 : arrives + 12000], frequency(59))) < CENTS
    # on the way, 80 ms before the time to the time itself, it is in between
    halfway = _peak_cents(heard[arrives - 2600 : arrives - 900], frequency(58))
    assert -100 < halfway < 100


def test_a_slide_has_no_stroke_of_its_own() -> None:
    # over what still rings from before, a slide adds no burst of highs
    picked, slid = (
        sounded(passage(f"3.2-{link}-----, 3-------")).samples().astype(np.float64) for link in ("3.4", "/4")
    )
    at = RATE // 2
    assert _burst(slid, at - round(0.08 * RATE)) < _burst(picked, at) / 4


def _burst(sound: Heard, at: int) -> float:
    power = np.abs(np.fft.rfft(sound[at : at + 441])) ** 2
    return float(power[round(3000 * 441 / RATE) :].sum())


@pytest.mark.parametrize(("technique", "letter", "fret"), [("hammer-on", "h", 4), ("pull-off", "p", 0)])
def test_a_hammer_on_and_a_pull_off_begin_softer_than_a_stroke(
    technique: str, letter: str, fret: int
) -> None:
    picked, linked = (
        sounded(passage(f"3.2-{link}-----, 3-------")) for link in (f"3.{fret}", f"{letter}{fret}")
    )
    assert linked.timeline.events[1].technique == technique
    at = RATE // 2
    peaks = [np.abs(s.samples()[at : at + 882]).max() for s in (picked, linked)]
    bursts = [_burst(s.samples().astype(np.float64), at) for s in (picked, linked)]
    assert peaks[1] < 0.75 * peaks[0]
    assert bursts[1] < bursts[0] / 3


def test_a_choke_bends_up_by_a_semitone() -> None:
    heard = _note("banjo", 62, "choke")
    assert BEND_CENTS == 100
    assert abs(praat_cents(_between(heard, 0.2, 0.6), frequency(63))) < CENTS
    assert _peak_cents(_between(heard, 0.0, 0.05), frequency(62)) < 35


def test_a_ghost_is_softer_and_a_muted_string_is_a_short_thud() -> None:
    plain, ghost, mute = (
        sounded(passage(f"3---1{mark}---, 4-------")).samples().astype(np.float64) for mark in ("", "g", "x")
    )
    at = RATE
    first = slice(at, at + 4410)
    assert decibels(ghost[first]) < decibels(plain[first]) - 4
    alone = _note("banjo", 62, "mute")
    assert decibels(_between(alone, 0.15, 0.25)) < decibels(_between(alone, 0.0, 0.1)) - 25
    assert decibels(mute[at + 8820 : at + 13230]) < decibels(plain[at + 8820 : at + 13230]) - 1


def test_a_soft_stroke_is_darker() -> None:
    soft, hard = (
        make_note(NoteKey("guitar", 55, True, touch), RATE // 2).astype(np.float64) for touch in (0, 2)
    )
    assert _share_above(soft, 2000) < 0.75 * _share_above(hard, 2000)


# --- keeping -------------------------------------------------------------------------------------------


def test_a_longer_note_begins_like_a_shorter_one() -> None:
    for key in (
        NoteKey("mandolin", 69, False, 2),
        NoteKey("banjo", 59, False, 2, "slide", 2, 0.05),
        NoteKey("fiddle", 69, False, 1),
    ):
        short, long = make_note(key, RATE // 4 + 882), make_note(key, RATE + 882)
        assert np.array_equal(short[: RATE // 4], long[: RATE // 4])


def test_a_cache_keeps_within_its_bytes_and_makes_each_note_once() -> None:
    cache = NoteCache(most_bytes=400_000)
    for pitch in (50, 52, 50, 52, 50):
        cache.note(NoteKey("banjo", pitch, True, 2), 8000)
    assert cache.made == 2
    for pitch in range(50, 70):
        cache.note(NoteKey("banjo", pitch, True, 2), 8000)
    assert cache.bytes <= 400_000
    assert cache.made == 20


def test_other_tempos_need_no_other_notes() -> None:
    cache = NoteCache()
    text = "3.2 /4 5 1 3251, 3251 4251"
    play(plan(passage(text), rounds=(80, 80)), cache)
    made = cache.made
    play(plan(passage(text), rounds=(82, 84, 88, 92)), cache)
    assert cache.made == made
