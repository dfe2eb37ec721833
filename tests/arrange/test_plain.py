"""Plain breaks as a teacher would look at them, and over a corpus of tunes from outside."""

import itertools
from dataclasses import replace
from pathlib import Path

import pytest

from service.arrange.plain import Arrangement, arrange
from service.arrange.positions import proposed_settings
from service.errors import DomainError
from service.judge.rules import LANDING_AIR
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.music.licks import Change
from service.music.tunes import UNIT_TICKS, Measure, Tune
from tests.arrange.tunes import brought, corpus, tune

CHART = "A: | G | C | G | D | G | C | D | G |\norder: A A"
MELODY = "A: D2 | G2 AB c2 BA | c2 e2 c4 | B2 G2 d2 B2 | A4 A2 D2 | G2 AB c2 BA | c2 e2 c2 B2 | A2 F2 D2 F2 | G4 z2 |"
EVERY = 40  # of the corpus: 27 tunes in all meters but 12/8
INSTRUMENTS = ("banjo", "guitar", "mandolin", "fiddle", "resonator-guitar")


def _arranged(made: Tune, instrument: str = "banjo", level: int = 2, style: str | None = None) -> Arrangement:
    setting = proposed_settings(made, instrument_named(instrument))[0].setting
    return arrange(made, setting, level, style)


def _bpm(made: Tune) -> float:
    return made.tempo.start * UNIT_TICKS[made.tempo.unit] / made.meter.beat_ticks


def test_melody_notes_stand_where_the_tune_has_them_and_a_roll_fills_between() -> None:
    first = _arranged(tune(CHART, MELODY)).phrases[0].lick
    heard = {onset: pitch for onset, _, pitch in first.sounding()}
    assert [heard[onset] % 12 for onset in (-480, 0, 480, 720, 960)] == [2, 7, 9, 11, 0]  # D | G A B c
    onsets = sorted({note.onset for note in first.notes if note.onset >= 0})
    assert onsets == [slot * 240 for slot in range(16)]
    fifth = [note.onset // 240 for note in first.notes if note.string == 5]
    assert fifth
    assert all(slot % 2 for slot in fifth), "the short string stands off the beat"


def test_the_first_level_has_little_between_and_the_third_has_ornaments() -> None:
    sparse, filled, full = (_arranged(tune(CHART, MELODY), level=level) for level in (1, 2, 3))
    notes = [sum(len(one.lick.notes) for one in made.phrases) for made in (sparse, filled, full)]
    assert notes[0] < notes[1]
    links = [
        sum(note.technique is not None for one in made.phrases for note in one.lick.notes)
        for made in (sparse, filled, full)
    ]
    assert links[0] == 0
    assert links[2] > links[1]


def test_a_tag_lands_on_the_tonic_and_leaves_air() -> None:
    tag = _arranged(tune(CHART, MELODY)).phrases[-1]
    assert tag.lick.role == "tag"
    assert max(note.onset for note in tag.lick.notes) < tag.lick.ticks - LANDING_AIR * 240
    assert any(onset in (0, 1920) and pitch % 12 == 7 for onset, _, pitch in tag.lick.sounding())


def test_equal_phrases_of_a_part_begin_on_the_same_note() -> None:
    first, _, third, _ = _arranged(tune(CHART, MELODY)).phrases
    assert first.lick.sounding()[1][2] == third.lick.sounding()[0][2]


def test_what_comes_between_the_slots_is_left_out_and_said() -> None:
    quick = tune("A: | G | G |", "A: | B2 A/B/c/A/ G2 B2 | D8 |")
    made = _arranged(quick)
    assert [(one.onset, one.why) for one in made.phrases[0].left_out] == [(600, "between"), (840, "between")]
    assert made.evened == 0


def test_a_dotted_hornpipe_is_played_even() -> None:
    dotted = tune("A: | G | G |", "A: | G3/A/B3/d/ c3/B/A3/G/ | F/A3/d3/f/ g4 |")
    even = tune("A: | G | G |", "A: | GABd cBAG | FAdf g4 |")
    for instrument in INSTRUMENTS:
        made = _arranged(dotted, instrument)
        assert made.evened == 6
        assert [one.lick.notes for one in made.phrases] == [
            one.lick.notes for one in _arranged(even, instrument).phrases
        ]


def test_a_first_plain_break_takes_a_line_along_a_string_as_it_lies() -> None:
    first = _arranged(tune("A: | G | G |", "A: | B2 A2 GA B2 | G8 |"), level=1).phrases[0].lick
    assert all(note.fret < 5 for note in first.notes), "an open string is not fretted on the next one below"


def test_a_waltz_a_jig_and_a_crooked_tune_are_arranged_alike() -> None:
    waltz = tune("A: | D | D | G | D |", "A: | F3 E D2 | D2 F2 A2 | B3 A G2 | D4 z2 |", key="D", meter="3/4")
    jig = tune("A: | G | D | G | G |", "A: | GAB d2B | AFD FED | GAB dBG | G3 G2z |", meter="6/8")
    crooked = tune("A: | G | (1/2) D | G | G |", "A: | G2 A2 B2 A2 | A2 F2 | G2 B2 d2 B2 | G6 z2 |")
    for made in (waltz, jig, crooked):
        found = _arranged(made)
        assert found.share > 0.9
        assert [finding.code for one in found.phrases for finding in one.judged.findings] == []


def test_no_fifth_string_is_stopped_where_no_banjo_has_a_hook() -> None:
    high = tune("A: | A | D | E | A |", "A: | a2 c'2 e'2 c'2 | d'2 f2 a4 | g2 e2 b2 g2 | a8 |", key="A")
    found = proposed_settings(high, instrument_named("banjo"))
    stops = [one.setting.stop_fret or 0 for one in found]
    assert stops[0] <= 10
    assert stops == [*(stop for stop in stops if stop <= 10), *(stop for stop in stops if stop > 10)]


def test_a_part_without_a_melody_does_not_count_as_forgotten() -> None:
    half = tune("A: | G | G |\nB: | C | G |\norder: A B", "A: | G2 B2 d2 B2 | G6 z2 |")
    made = _arranged(half)
    assert [one.judged.recall is None for one in made.phrases] == [False, True]
    assert made.share > 0.9


def test_a_tag_of_crooked_measures_lands_on_a_bar_line_of_its_own() -> None:
    crooked = tune(
        "A: | G | G | (3/4) D | G |\norder: A A", "A: | G2 A2 B2 A2 | G2 B2 d2 B2 | A2 F2 D2 | G4 B2 z2 |"
    )
    tag = _arranged(crooked).phrases[-1]
    assert tag.lick.lengths == (1440, 1920)
    assert [finding.code for finding in tag.judged.findings] == []
    assert 7 in {pitch % 12 for onset, _, pitch in tag.lick.sounding() if onset == 1440}


@pytest.mark.parametrize("instrument", ["mandolin", "fiddle"])
@pytest.mark.parametrize(
    "melody", ["c2 e2 g2 e2 | f2 d2 c4", "g2 b2 a2 b2 | g2 a2 g4", "D2 F2 A2 F2 | G2 E2 D4"]
)
def test_fiddle_and_mandolin_play_a_tune_where_it_is_written(instrument: str, melody: str) -> None:
    assert _arranged(tune("A: | C | G |", f"A: | {melody} |", key="C"), instrument).octave == 0


def test_a_pull_off_between_two_fretted_notes_spans_what_a_hand_holds() -> None:
    wide = tune("A: | C | C |", "A: | e2 ec e2 ec | e2 ec c4 |", key="C")
    for level in (2, 3):
        for one in _arranged(wide, level=level).phrases:
            notes = {note.onset: note for note in one.lick.notes}
            linked = [
                (notes[note.onset - 240], note) for note in one.lick.notes if note.technique == "pull-off"
            ]
            assert all(after.fret == 0 or before.fret - after.fret <= 3 for before, after in linked)


def test_a_stopped_fifth_string_drones_and_sings_nothing() -> None:
    in_d = tune(
        "A: | D | D | G | A | D | G | A | D |",
        "A: | a4 f4 | d4 a4 | b4 g4 | a8 | a4 f4 | g4 b4 | a4 c4 | d6 z2 |",
        key="D",
    )
    made = _arranged(in_d)
    assert made.setting.stop_fret
    assert any(note.string == 5 for one in made.phrases for note in one.lick.notes)
    for one in made.phrases:
        assert all(index in one.judged.recall.kept for index in range(2)), "the judge hears what is arranged"


def test_melodic_style_puts_neighbouring_notes_on_different_strings() -> None:
    running = tune("A: | G | G |", "A: | GABc dcBA | GABd G4 |")
    for level in (2, 3):
        notes = _arranged(running, level=level, style="melodic").phrases[0].lick.notes[:8]
        assert sum(a.string != b.string for a, b in itertools.pairwise(notes)) >= 5


def test_what_cannot_be_arranged_says_so() -> None:
    with pytest.raises(DomainError, match="nothing-to-arrange"):
        _arranged(tune("A: | G |", "A: | z8 |"))
    with pytest.raises(DomainError, match="no-such-level"):
        _arranged(tune(CHART, MELODY), level=4)
    with pytest.raises(DomainError, match="no-such-plain-style"):
        _arranged(tune(CHART, MELODY), style="tremolo")


@pytest.mark.parametrize("path", corpus()[::EVERY], ids=lambda path: path.stem)
def test_tunes_from_outside_give_breaks_that_can_be_played_at_their_tempo(path: Path) -> None:
    made = brought(path)
    for instrument in INSTRUMENTS:
        found = _arranged(made, instrument)
        assert found.share > 0.65
        for one in found.phrases:
            assert (one.judged.hands.top_bpm or 0) >= _bpm(made), (instrument, one.part, one.index)
            assert {finding.code for finding in one.judged.findings} <= {"change-not-heard"}


@pytest.mark.parametrize(
    ("instrument", "key", "expected"),
    [
        ("banjo", "G", [("G", 0, 0)]),
        ("banjo", "A", [("G", 2, 7)]),  # A is G shapes with capo 2 and the fifth at 7: common practice
        ("banjo", "B", [("G", 4, 9)]),  # B is G shapes with capo 4, fifth at 9: common practice
        ("banjo", "C", [("C", 0, 0)]),
        ("banjo", "Bb", [("G", 3, 8)]),  # Bb is G shapes with capo 3: common practice
        ("guitar", "A", [("A", 0, None), ("G", 2, None)]),
        ("mandolin", "Bb", [("Bb", 0, None)]),
    ],
)
def test_a_tune_is_played_where_players_play_it(
    instrument: str, key: str, expected: list[tuple[str, int, int | None]]
) -> None:
    step = {"G": 0, "A": 2, "B": 4, "C": 5, "Bb": 3}[key]
    made = tune(CHART, MELODY)
    moved = _moved(made, key, step)
    first = proposed_settings(moved, instrument_named(instrument))[0].setting
    assert (first.position.name, first.capo, first.stop_fret) in expected


def _moved(made: Tune, key: str, step: int) -> Tune:
    to = key_named(key)
    by = to.tonic - made.key.tonic

    def moved(change: Change) -> Change:
        return Change(change.onset, None if change.chord is None else change.chord.moved(by).respelled())

    parts = tuple(
        replace(p, measures=tuple(Measure(m.ticks, tuple(map(moved, m.changes))) for m in p.measures))
        for p in made.parts
    )
    melody = tuple(
        (name, tuple(replace(note, pitch=note.pitch + step) for note in notes)) for name, notes in made.melody
    )
    return replace(made, key=to, parts=parts, melody=melody)


def test_a_landing_without_a_place_on_the_neck_stays_empty() -> None:
    high = tune("A: | G | G |\norder: A A", "A: | g'2 b'2 d''4 | g''4 z4 |")
    for instrument in INSTRUMENTS:
        for level in (1, 2, 3):
            assert _arranged(high, instrument, level).phrases
