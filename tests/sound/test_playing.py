"""Whole files: balance, loudness, peaks, stereo, loops."""

import io
from itertools import pairwise

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.music.instruments import instrument_named
from service.music.licks import Note
from service.music.passages import Passage
from service.music.timeline import Part, Plan, work_up_tempos
from service.sound.clicks import BEAT_HZ
from service.sound.encoding import encoded
from service.sound.mastering import CEILING_DBFS, LOUDNESS_LUFS
from service.sound.playing import Sound, play
from tests.sound.hearing import (
    CUT,
    HALF,
    RATE,
    Heard,
    decibels,
    decoded,
    passage,
    plan,
    shared,
    sounded,
)
from tests.strategies import passages

LICK = "3.2 /4 5 1 3251, 4.2 2.1 5 1.2 4.2 2.1 5 1.2; 4 4.h2 5 1 3.3 p2 5 1; 3251 (15)---"
BASS, GUITAR = instrument_named("upright-bass"), instrument_named("guitar")


def _bass(measures: int) -> Passage:
    notes = [Note(1920 * m + h * 960, 1 + h, 0, 480) for m in range(measures) for h in (0, 1)]
    return Passage(BASS, BASS.tuning(), CUT, (1920,) * measures, tuple(notes))


def _chops(measures: int) -> Passage:
    notes = [
        Note(1920 * m + 480 + h * 960, s, f, 240)
        for m in range(measures)
        for h in (0, 1)
        for s, f in ((1, 3), (2, 0), (3, 0), (4, 0))
    ]
    return Passage(GUITAR, GUITAR.tuning(), CUT, (1920,) * measures, tuple(notes))


def _band(**more: object) -> Sound:
    return sounded(passage(LICK), _bass(4), _chops(4), **{"rounds": (84, 84), **more})  # type: ignore[arg-type]


# --- balance -------------------------------------------------------------------------------------------


def _rolled(melody: frozenset[int]) -> Sound:
    """A roll whose notes do not run into each other: a quarter, then a rest as long, each an eighth apart in weight."""
    banjo = instrument_named("banjo")
    # fretted, so that the hand damps each before the next; strings 3 2 5 1 over all slots of a measure, far apart
    notes = tuple(
        Note(5760 * at + 240 * (at % 8), (3, 2, 5, 1)[at % 4], 0 if at % 4 == 2 else 4, 240)
        for at in range(16)
    )
    whole = Passage(banjo, banjo.tuning(), CUT, (1920,) * 48, notes)
    part = Part("lead", whole, melody, lead=True)
    return play(Plan((part,), CUT, HALF, (120,), count_in=0), shared())


def test_every_melody_note_is_four_decibels_over_every_fill_note_and_the_drone() -> None:
    # as many melody notes on weak slots as on strong ones
    melody = frozenset(5760 * at + 240 * (at % 8) for at in (0, 1, 3, 4, 5, 7, 8, 11))
    sound = _rolled(melody)
    heard = sound.samples().astype(np.float64)
    levels: dict[bool, list[float]] = {True: [], False: []}
    for event in sound.timeline.events:
        levels[event.melody].append(decibels(heard[event.start : event.start + RATE // 5]))
    assert (len(levels[True]), len(levels[False])) == (8, 8)
    assert min(levels[True]) > max(levels[False]) + 4
    assert {e.string for e in sound.timeline.events if not e.melody} >= {5}


@pytest.mark.parametrize("link", ["/4", "h4", "p0", "4g", "3.4c"])
def test_what_a_hand_does_to_a_fill_note_keeps_it_under_the_melody(link: str) -> None:
    text = f"3.2---{link}---, 3.2-------"
    if link == "4g":
        text = "3.2---3.4g---, 3.2-------"
    lick = passage(text)
    fill = lick.notes[1].onset
    part = Part("lead", lick, frozenset(n.onset for n in lick.notes) - {fill}, lead=True)
    sound = play(Plan((part,), CUT, HALF, (60,), count_in=0), shared())
    heard = sound.samples().astype(np.float64)
    levels = [decibels(heard[e.start + 441 : e.start + RATE // 5]) for e in sound.timeline.events]
    assert sound.timeline.events[1].technique is not None
    assert min(levels[0], levels[2]) - 14 < levels[1] < min(levels[0], levels[2]) - 4


def test_without_a_melody_the_beat_shapes_the_line() -> None:
    sound = _rolled(frozenset())
    heard = sound.samples().astype(np.float64)
    by_weight: dict[float, list[float]] = {}
    for event in sound.timeline.events:
        level = decibels(heard[event.start : event.start + RATE // 5])
        by_weight.setdefault(event.weight, []).append(level)
    means = [np.mean(by_weight[weight]) for weight in (1.0, 0.5, 0.25, 0.125)]
    assert all(a > b + 0.5 for a, b in pairwise(means))


def test_the_lead_is_on_top() -> None:
    names = ("part 1", "part 2", "part 3")
    alone = [_gained(_band(muted=frozenset(names) - {name})) for name in names]
    assert alone[0] > max(alone[1:]) + 3


def _gained(sound: Sound) -> float:
    """RMS of the first eight seconds before mastering made files alike."""
    return decibels(sound._mix.stretch(0, 8 * RATE)[0].astype(np.float64))


def test_a_muted_part_is_silent() -> None:
    silent = _band(muted=frozenset({"part 1", "part 2", "part 3"}))
    assert np.abs(silent.samples()).max() == 0
    clicked = sounded(passage(LICK), muted=frozenset({"part 1"}), click=True).samples()
    between = clicked[RATE // 2 : RATE - 100]  # clicks stand on whole seconds
    assert np.abs(between).max() == 0


def test_a_sit_out_track_is_the_band_without_the_lead() -> None:
    alone = play(plan(passage(LICK), _bass(4), rounds=(84,), muted=frozenset({"part 1"})), shared())
    band = play(Plan((Part("part 2", _bass(4)),), CUT, HALF, (84,), count_in=0), shared())
    assert np.allclose(alone.samples(), band.samples(), atol=1e-6)


# --- loudness and peaks --------------------------------------------------------------------------------


def _measured(data: bytes) -> dict[str, float]:
    """Integrated loudness and true peak as FFmpeg's own meter (EBU R 128) reads them."""
    with av.open(io.BytesIO(data)) as container:
        stream = container.streams.audio[0]
        graph = av.filter.Graph()
        chain = [
            graph.add_abuffer(template=stream),
            graph.add("ebur128", "metadata=1:peak=true"),
            graph.add("abuffersink"),
        ]
        for one, other in pairwise(chain):
            one.link_to(other)
        graph.configure()
        told: dict[str, str] = {}
        for frame in container.decode(audio=0):
            graph.push(frame)
            while True:
                try:
                    told = graph.pull().metadata or told
                except (av.error.BlockingIOError, av.error.EOFError):
                    break
    return {name.rsplit(".", 1)[1]: float(value) for name, value in told.items()}


@pytest.mark.parametrize("stereo", [False, True])
@pytest.mark.parametrize("kind", ["alone", "band", "fiddle"])
def test_files_are_equally_loud_and_their_true_peaks_stay_a_decibel_under_full_scale(
    kind: str, stereo: bool
) -> None:
    tune = "1--- 2---, 1.2--- 2.2---; 3--- 2---; 1-------"
    sound = {
        "alone": lambda: sounded(passage(LICK), rounds=(84, 84), stereo=stereo),
        "band": lambda: _band(click=True, count_in=2, stereo=stereo),
        "fiddle": lambda: sounded(passage(tune, "fiddle"), rounds=(84, 84), stereo=stereo),
    }[kind]()
    told = _measured(encoded(sound)[0].data)
    assert abs(told["I"] - LOUDNESS_LUFS) < 1.0
    assert 20 * np.log10(told["true_peak"]) < -1.0
    assert np.abs(sound.samples()).max() <= 10 ** (CEILING_DBFS / 20) + 1e-6


@settings(max_examples=25)
@given(
    score=passages(),
    bpm=st.sampled_from([30, 84, 320]),
    shift=st.sampled_from([0, 0, -11, 11]),
    stereo=st.booleans(),
    swing=st.sampled_from([0.0, 0.7]),
)
def test_any_passage_is_sounded_without_clipping_or_holes(
    score: Passage, bpm: int, shift: int, stereo: bool, swing: float
) -> None:
    asked = Plan(
        (Part("lead", score, lead=True),), score.meter, score.meter.beat_ticks, (bpm,) * 2, count_in=1,
        shift=shift, stereo=stereo, swing=swing,
    )  # fmt: skip
    sound = play(asked, shared())
    heard = sound.samples()
    assert len(heard) == sound.length
    assert np.isfinite(heard).all()
    assert np.abs(heard).max() < 0.81
    for event in sound.timeline.events:
        assert np.abs(heard[event.start : event.stop]).max() > 1e-4


# --- stereo --------------------------------------------------------------------------------------------


def test_stereo_stands_players_apart_and_leaves_the_lead_in_the_middle() -> None:
    lead = _band(stereo=True, muted=frozenset({"part 2", "part 3"})).samples()
    chops = _band(stereo=True, muted=frozenset({"part 1", "part 2"})).samples()
    assert lead.shape[1] == 2
    assert np.allclose(lead[:, 0], lead[:, 1], atol=1e-6)
    sides = [decibels(chops[:, side].astype(np.float64)) for side in (0, 1)]
    assert abs(sides[0] - sides[1]) > 3
    assert _band().samples().ndim == 1


# --- rounds --------------------------------------------------------------------------------------------


def test_rounds_of_a_loop_sound_the_same_in_turn() -> None:
    # the pick meets a string at two places in turn, so the same samples come again two rounds later
    sound = sounded(passage(LICK), rounds=(80,) * 5)
    heard = sound.samples().astype(np.float64)
    second, third, fourth = (mark.start for mark in sound.marks[1:4])
    length = third - second
    assert length == 4 * 2 * RATE * 60 // 80
    loud = decibels(heard[second:third])
    assert decibels(heard[second:third] - heard[fourth : fourth + length]) < loud - 40
    assert abs(decibels(heard[third:fourth]) - loud) < 0.5


def test_a_note_that_comes_again_at_once_is_not_the_very_same() -> None:
    heard = sounded(passage("3-3-3---, 3-------")).samples().astype(np.float64)
    first, second = heard[:8820], heard[2 * RATE : 2 * RATE + 8820]  # two downbeats
    assert decibels(first - second) > decibels(first) - 30
    assert abs(decibels(first) - decibels(second)) < 0.5


def test_stretches_asked_for_apart_are_those_of_the_whole() -> None:
    sound = _band(count_in=2, click=True)
    whole = sound.samples()
    again = Sound(plan(passage(LICK), _bass(4), _chops(4), rounds=(84, 84), count_in=2, click=True), shared())
    again._kept.clear()
    pieces = np.concatenate(
        [block for at in range(0, sound.length, 100_003) for block in again.blocks(at, at + 100_003)]
    )
    assert np.array_equal(pieces[:, 0], whole)


def test_the_last_click_of_four_minutes_lies_where_it_should() -> None:
    tempos = work_up_tempos(60, 116, 7, 3)
    sound = sounded(passage(LICK), rounds=tempos, count_in=2, click=True)
    assert sound.seconds > 180
    heard = decoded(encoded(sound)[0].data)[0]
    last = sound.timeline.clicks[-1].start
    exact = sound.marks[-1].bar + (3 * 1920 + 960) * 60 / (tempos[-1] * HALF) * RATE
    assert abs(last - exact) <= 1
    # the click's own partial, which no string has
    window = heard[last - 4410 : last + 4410]
    strength = [_at(window[at : at + 441], BEAT_HZ) for at in range(0, len(window) - 441, 22)]
    assert abs(int(np.argmax(strength)) * 22 + last - 4410 - last) < 0.005 * RATE


def _at(sound: Heard, hz: float) -> float:
    turns = np.exp(-2j * np.pi * hz / RATE * np.arange(len(sound)))
    return float(abs(np.sum(sound * np.hanning(len(sound)) * turns)))
