"""Backup: every pattern over real charts can be played at the tune's fast end, says the chords, and keeps its time."""

from collections.abc import Sequence
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import DomainError
from service.judge.hands import judge_hands
from service.music.backup import backup
from service.music.backup_patterns import FAMILIES, SINGER, Pattern, pattern_named, pattern_names
from service.music.basslines import bass_pair, scale_places, shape_basses
from service.music.fretboard import Place
from service.music.harmony import Key, chord_named, key_named
from service.music.instruments import all_instruments, instrument_named
from service.music.licks import Change, Note
from service.music.meter import METER_NAMES, Meter, meter_named
from service.music.passages import Passage
from service.music.pitch import pitch_class
from service.music.setting import Setting, make_setting
from service.music.shapes import Shape, shapes
from service.music.strokes import stretches_of
from service.music.tunes import Tune, phrases
from service.music.voicings import CONSIDERED, change_effort, shapes_along
from service.notation.tab_reader import read_tab
from service.notation.tab_writer import write_tab
from service.usecases.records import choose_setting, tune_of
from service.usecases.seeding import load_fixtures

RECORDS = dict(load_fixtures().tunes)
TUNES: dict[str, Tune] = {slug: tune_of(slug, record) for slug, record in RECORDS.items()}
EVERY = [(instrument.id, name) for instrument in all_instruments() for name in pattern_names(instrument.id)]
CUT, WALTZ, JIG, SLIP_JIG = (meter_named(name) for name in ("2/2", "3/4", "6/8", "9/8"))


def setting(instrument: str, key: str = "G", capo: int = 0, tuning: str | None = None) -> Setting:
    return make_setting(instrument_named(instrument), tuning=tuning, sounding=key_named(key), capo=capo)


def chart(text: str, meter: Meter) -> tuple[list[Change], list[int]]:
    """One measure for each word; ``A,D`` shares a measure between two chords."""
    changes: list[Change] = []
    measures: list[int] = []
    for word in text.split():
        start = sum(measures)
        names = word.split(",")
        share = meter.measure_ticks // len(names)
        changes.extend(Change(start + n * share, chord_named(name)) for n, name in enumerate(names))
        measures.append(meter.measure_ticks)
    return changes, measures


def over(text: str, instrument: str, meter: Meter, pattern: str | None = None, key: str = "G") -> Passage:
    changes, measures = chart(text, meter)
    return backup(changes, measures, meter, setting(instrument, key), pattern)


def over_tune(slug: str, instrument: str, pattern: str) -> Passage:
    tune = TUNES[slug]
    chosen = choose_setting(RECORDS[slug], tune, instrument, None)
    changes = [
        Change(phrase.onset + change.onset, chosen.to_position(change.chord, tune.key))
        for phrase in phrases(tune)
        for change in phrase.changes
    ]
    measures = [measure.ticks for name in tune.order for measure in tune.part(name).measures]
    return backup(changes, measures, tune.meter, chosen, pattern)


def rows(passage: Passage) -> list[str]:
    """The rows of the tab, measures side by side."""
    lines = write_tab(passage, width=200, phone=False).splitlines()
    return [line for line in lines if line[:1].isdigit() and line[1:2] == "|"]


def pitches(passage: Passage) -> list[int]:
    board = passage.fretboard
    return [board.pitch(note.string, note.fret) - passage.capo for note in passage.notes]


# --- what players play, as they write it ---------------------------------------------------------------


def test_boom_chuck_alternates_root_and_fifth_under_the_strum() -> None:
    assert rows(over("G C D", "guitar", CUT, "boom-chuck")) == [
        "1|-----3-------3--|-----0-------0--|-----2-------2--|",
        "2|-----0-------0--|-----1-------1--|-----3-------3--|",
        "3|-----0-------0--|-----0-------0--|-----2-------2--|",
        "4|---------0------|-----2-------2--|-0--------------|",
        "5|----------------|-3--------------|---------0------|",
        "6|-3--------------|---------3------|----------------|",
    ]


def test_a_waltz_has_one_bass_a_measure_and_two_strums() -> None:
    assert rows(over("D D", "guitar", WALTZ, key="D")) == [
        "1|-----2---2--|-----2---2--|",
        "2|-----3---3--|-----3---3--|",
        "3|-----2---2--|-----2---2--|",
        "4|-0----------|------------|",
        "5|------------|-0----------|",
        "6|------------|------------|",
    ]


def test_the_mandolin_chops_off_the_beat_with_shapes_that_lie_together() -> None:
    assert rows(over("G D G", "mandolin", CUT)) == [
        "1|-----3-------3--|-----5-------5--|-----3-------3--|",
        "2|-----2-------2--|-----5-------5--|-----2-------2--|",
        "3|-----5-------5--|-----4-------4--|-----5-------5--|",
        "4|-----7-------7--|-----2-------2--|-----7-------7--|",
    ]


def test_a_waltz_is_chopped_on_two_and_three() -> None:
    quarter = 480
    assert {note.onset for note in over("G", "mandolin", WALTZ).notes} == {quarter, 2 * quarter}


def test_a_chop_is_short() -> None:
    """Shorter than an eighth: the hand lets go at once."""
    for instrument in ("mandolin", "fiddle", "resonator-guitar"):
        assert {note.duration for note in over("G C", instrument, CUT, "chop").notes} == {120}
    assert {note.duration for note in over("G C", "banjo", CUT, "vamp").notes} == {120}


def test_the_banjo_rolls_over_the_shape_it_holds() -> None:
    """The alternating-thumb roll 3 2 5 1 4 2 5 1, T I T M T I T M [finger pattern published]; C held as 2 0 1 2."""
    passage = over("C", "banjo", CUT, "rolling", key="C")
    assert [(n.string, n.finger, n.fret) for n in passage.notes] == [
        (3, "T", 0), (2, "I", 1), (5, "T", 0), (1, "M", 2), (4, "T", 2), (2, "I", 1), (5, "T", 0), (1, "M", 2),
    ]  # fmt: skip


def test_the_thumb_goes_inside_where_the_drone_would_grate() -> None:
    """G against the G sharp of an E chord; against D the drone is heard all the same [common practice]."""
    assert 5 not in {note.string for note in over("E", "banjo", CUT, "rolling", key="E").notes}
    assert 5 in {note.string for note in over("D", "banjo", CUT, "rolling").notes}


def test_the_bass_walks_from_one_into_four_and_back_down() -> None:
    """G G C C G in G: two steps up, A and B, and down from C: B and A [common practice]."""
    passage = over("G G C C G", "upright-bass", CUT)
    g, a, b, c, d = 31, 33, 35, 36, 38
    assert pitches(passage) == [g, d, g, a, b, c, g, c, b, a, g, d]


def test_the_bass_of_a_waltz_restates_its_root_before_it_walks() -> None:
    d, b, a, g = 38, 35, 33, 31
    assert pitches(over("D D G", "upright-bass", WALTZ, key="D")) == [d, d, b, a, g]


def test_a_jig_has_root_and_fifth_on_its_two_beats() -> None:
    passage = over("A", "upright-bass", JIG, key="A")
    assert [(note.onset, pitch) for note, pitch in zip(passage.notes, pitches(passage), strict=True)] == [
        (0, 33),
        (720, 28),
    ]


def test_a_slip_jig_has_its_second_beat_once_more() -> None:
    """Bass and strum on each of three beats, the roots where measures begin [common practice]."""
    assert rows(over("G D", "guitar", SLIP_JIG, "boom-chuck")) == [
        "1|-----3-----3-----3|-----2-----2-----2|",
        "2|-----0-----0-----0|-----3-----3-----3|",
        "3|-----0-----0-----0|-----2-----2-----2|",
        "4|-------0----------|-0-----------0----|",
        "5|------------------|-------0----------|",
        "6|-3-----------3----|------------------|",
    ]


def test_what_is_held_over_a_jigs_second_beat_is_held_over_the_third_of_a_slip_jig() -> None:
    assert {note.duration for note in over("G D", "fiddle", SLIP_JIG, "long tones").notes} == {2160}


@pytest.mark.parametrize(("instrument", "pattern"), EVERY)
def test_a_measure_of_twelve_eight_is_two_of_a_jig(instrument: str, pattern: str) -> None:
    one = over("G D A", instrument, meter_named("12/8"), pattern)
    two = over("G G D D A A", instrument, JIG, pattern)
    walking = pattern_named(
        instrument, JIG, pattern
    ).walks  # the bass walks out of two measures of a chord, not out of one
    last = {1440, 4320} if walking else set()
    ours, theirs = ([n for n in p.notes if n.onset // 1440 * 1440 not in last] for p in (one, two))
    assert ours == theirs
    assert ours


def test_the_bass_walks_out_of_the_last_beat_of_a_slip_jig() -> None:
    """G G C: root and fifth, the root again and two steps, A and B, into C [common practice]."""
    g, a, b, c, d = 31, 33, 35, 36, 38
    passage = over("G G C", "upright-bass", SLIP_JIG)
    assert pitches(passage) == [g, d, g, g, g, a, b, c, g, c]
    assert [note.onset for note in passage.notes][5:7] == [2160 + 1440, 2160 + 1920]


@pytest.mark.parametrize(
    ("name", "low"),
    [("G", (31, 38)), ("C", (36, 31)), ("D", (38, 33)), ("A", (33, 28)), ("F", (29, 36)), ("C/E", (28, 36))],
)
def test_the_bass_takes_root_and_fifth_where_they_lie_low(name: str, low: tuple[int, int]) -> None:
    """From a bass's low E (MIDI 28) up: the fifth below the root if the neck has it, else above [common practice]."""
    board = setting("upright-bass").fretboard
    chord = chord_named(name)
    assert chord is not None
    assert tuple(board.pitch(place.string, place.fret) for place in bass_pair(chord, board)) == low


def test_a_slash_chord_has_its_bass() -> None:
    passage = over("G/B", "guitar", CUT)
    assert pitches(passage)[0] % 12 == pitch_class(5)  # B


# --- a chart as it comes -------------------------------------------------------------------------------


def test_without_a_chord_there_is_silence() -> None:
    for instrument, pattern in EVERY:
        passage = over("G N.C. G", instrument, CUT, pattern)
        assert passage.notes
        assert [n for n in passage.notes if 1920 <= n.onset < 2 * 1920] == []
        assert all(n.onset + n.duration <= 1920 for n in passage.notes if n.onset < 1920)


def test_a_half_measure_has_half_the_pattern_and_a_long_one_begins_it_again() -> None:
    whole, half = 1920, 960
    changes = [Change(0, chord_named("G"))]
    passage = backup(changes, [half, whole + half, whole], CUT, setting("guitar"), "boom-chuck")
    basses = [note.onset for note in passage.notes if note.string >= 4]
    assert basses == [0, half, half + 960, half + whole, 2 * half + whole, 2 * half + whole + 960]
    assert passage.measures == (half, whole + half, whole)


@pytest.mark.parametrize(("instrument", "pattern"), EVERY)
def test_a_chord_between_the_strokes_gets_one_of_its_own(instrument: str, pattern: str) -> None:
    """A chord of one quarter, where a long-held pattern would pass over it."""
    changes = [Change(0, chord_named("G")), Change(1440, chord_named("D")), Change(1920, chord_named("G"))]
    passage = backup(changes, [1920, 1920], CUT, setting(instrument), pattern)
    heard = {p % 12 for n, p in zip(passage.notes, pitches(passage), strict=True) if 1440 <= n.onset < 1920}
    assert heard
    assert heard <= {2, 6, 9} | ({7} if instrument == "banjo" else set())  # D F# A, and the drone


def test_an_unknown_pattern_is_told_what_there_is() -> None:
    with pytest.raises(DomainError) as error:
        over("G", "banjo", CUT, "polka")
    assert error.value.code == "unknown-pattern"
    assert "rolling" in str(error.value.params["known"])


def test_every_instrument_has_a_usual_pattern_and_one_behind_a_singer_in_every_meter() -> None:
    for instrument in all_instruments():
        for name in METER_NAMES:
            usual = pattern_named(instrument.id, meter_named(name))
            sparse = pattern_named(instrument.id, meter_named(name), SINGER)
            assert len(sparse.strokes) <= max(2, len(usual.strokes))


def test_two_four_is_played_as_cut_time_at_half_the_ticks() -> None:
    cut = over("G C", "banjo", CUT, "rolling")
    two_four = over("G C", "banjo", meter_named("2/4"), "rolling")
    assert [(n.onset // 2, n.string, n.fret) for n in cut.notes] == [
        (n.onset, n.string, n.fret) for n in two_four.notes
    ]


# --- every pattern over the demo's tunes ---------------------------------------------------------------


@pytest.mark.parametrize("slug", TUNES)
@pytest.mark.parametrize(("instrument", "pattern"), EVERY)
def test_a_part_over_a_real_chart_can_be_played_at_the_tunes_fast_end(
    slug: str, instrument: str, pattern: str
) -> None:
    tune = TUNES[slug]
    passage = over_tune(slug, instrument, pattern)
    style = pattern_named(instrument, tune.meter, pattern).style
    hands = judge_hands(
        passage.notes, passage.instrument, [style] * len(passage.notes), tune.meter, passage.capo
    )
    assert hands.left.impossible is None
    assert hands.unit == tune.tempo.unit
    assert hands.top_bpm is not None
    assert hands.top_bpm >= tune.tempo.high
    position = choose_setting(RECORDS[slug], tune, instrument, None).position
    check(passage, pattern_named(instrument, tune.meter, pattern), position)


@pytest.mark.parametrize("slug", TUNES)
@pytest.mark.parametrize(("instrument", "pattern"), EVERY)
def test_a_part_reads_back_from_its_tab(slug: str, instrument: str, pattern: str) -> None:
    passage = over_tune(slug, instrument, pattern)
    read = read_tab(write_tab(passage, width=100, phone=False), passage.instrument).passage
    assert [(n.onset, n.string, n.fret, n.finger) for n in read.notes] == [
        (n.onset, n.string, n.fret, n.finger) for n in passage.notes
    ]
    assert read.changes == tuple(stretches_to_changes(passage))
    assert read.measures == passage.measures


def stretches_to_changes(passage: Passage) -> list[Change]:
    return [Change(s.onset, s.chord) for s in stretches_of(passage.changes, passage.ticks)]


def check(passage: Passage, pattern: Pattern, key: Key) -> None:
    """What holds of every part: order, one note a string, chord tones, measures kept, changes heard, no finger twice."""
    notes = passage.notes
    assert list(notes) == sorted(notes, key=lambda n: (n.onset, n.string))
    assert len({(n.onset, n.string) for n in notes}) == len(notes)
    ends = [start + ticks for start, ticks in zip(passage.starts, passage.measures, strict=True)]
    for note in notes:
        assert note.duration > 0
        assert passage.fretboard.refuses(note.string, note.fret) is None
        assert note.onset + note.duration <= min(end for end in ends if end > note.onset)
    for string in range(1, passage.instrument.strings + 1):
        for one, other in pairwise([n for n in notes if n.string == string]):
            assert one.onset + one.duration <= other.onset
    stretches = stretches_of(passage.changes, passage.ticks)
    for stretch in stretches:
        here = [n for n in notes if stretch.onset <= n.onset < stretch.end]
        if stretch.chord is None:
            assert here == []
            continue
        assert here[0].onset < stretch.onset + pattern.within * passage.meter.slot_ticks
        for note in here:
            tone = (passage.fretboard.pitch(note.string, note.fret) - passage.capo) % 12
            assert tone in allowed(passage, note, stretch.chord.pitch_classes, pattern, key)
        assert {(n.onset + n.duration <= stretch.end) for n in here} == {True}
    if pattern.style == "roll":
        no_finger_twice(notes, passage.meter.slot_ticks)


def allowed(
    passage: Passage, note: Note, tones: frozenset[int], pattern: Pattern, key: Key
) -> frozenset[int]:
    """Chord tones; the drone anywhere; a bass that walks may go by the scale of the key in the last part of a measure."""
    if passage.instrument.short_string and note.string == 5:
        return tones | {(passage.fretboard.pitch(5, 0) - passage.capo) % 12}
    if pattern.walks:
        start = max(s for s in passage.starts if s <= note.onset)
        chord = next(
            s.chord for s in stretches_of(passage.changes, passage.ticks) if s.onset <= note.onset < s.end
        )
        if note.onset > start and chord is not None:
            return tones | {pitch_class(place) for place in scale_places(key, chord)}
    return tones


def no_finger_twice(notes: Sequence[Note], slot: int) -> None:
    for finger in "TIM":
        picked = [note.onset for note in notes if note.finger == finger]
        assert all(b - a > slot for a, b in pairwise(picked)), finger


NAMES = (
    "G",
    "C",
    "D7",
    "Em",
    "F#m",
    "Bb",
    "A7",
    "Bdim7",
    "Gsus4",
    "E9",
    "F#m7b5",
    "Cmaj7",
    "C/E",
    "Ab",
    "Caug",
    "N.C.",
)
FINE = {name: chord_named(name) for name in NAMES}


@settings(deadline=None, max_examples=60)
@given(data=st.data())
def test_any_part_over_any_chart_keeps_its_time_and_its_chords(data: st.DataObject) -> None:
    instrument_id, name = data.draw(st.sampled_from(EVERY))
    instrument = instrument_named(instrument_id)
    meter = meter_named(data.draw(st.sampled_from(METER_NAMES)))
    slot = meter.slot_ticks
    lengths = st.sampled_from([meter.measure_ticks] * 4 + [4 * slot, 12 * slot])
    measures = data.draw(st.lists(lengths, min_size=1, max_size=5))
    places = data.draw(st.sets(st.integers(1, sum(measures) // (2 * slot) - 1), max_size=5))
    onsets = [0, *(2 * slot * place for place in sorted(places))]
    names = [data.draw(st.sampled_from(NAMES)) for _ in onsets]
    changes = [Change(onset, FINE[chord]) for onset, chord in zip(onsets, names, strict=True)]
    capo = data.draw(st.sampled_from([0, 2, 5]))
    tuning = data.draw(st.sampled_from([t.id for t in instrument.tunings]))
    position = make_setting(instrument, tuning=tuning, sounding=key_named("A"), capo=capo)
    passage = backup(changes, measures, meter, position, name)
    pattern = pattern_named(instrument_id, meter, name)
    assert list(passage.notes) == sorted(passage.notes, key=lambda n: (n.onset, n.string))
    assert len({(n.onset, n.string) for n in passage.notes}) == len(passage.notes)
    for stretch in stretches_of(changes, sum(measures)):
        here = [n for n in passage.notes if stretch.onset <= n.onset < stretch.end]
        assert (stretch.chord is None) == (not here)
        assert all(n.duration > 0 and n.onset + n.duration <= stretch.end for n in here)
        if stretch.chord is None:
            continue
        assert here[0].onset < stretch.onset + pattern.within * slot
        drone = {5} if instrument.short_string else set()
        foreign = {
            (passage.fretboard.pitch(n.string, n.fret) - capo) % 12 for n in here if n.string not in drone
        } - stretch.chord.pitch_classes
        assert not foreign or pattern.walks
    if pattern.style == "roll":
        no_finger_twice(passage.notes, slot)


# --- the way through the shapes ------------------------------------------------------------------------


def test_the_shapes_along_a_chart_are_the_cheapest_row_there_is() -> None:
    """Against every row of the first shapes of three chords."""
    board = setting("mandolin").fretboard
    changes, measures = chart("G Em D", CUT)
    stretches = stretches_of(changes, sum(measures))
    pattern = pattern_named("mandolin", CUT, "chop")
    found = shapes_along(stretches, board, pattern)
    options = [shapes(s.chord, board, closed=True)[:CONSIDERED] for s in stretches if s.chord]

    def cost(row: Sequence[Shape]) -> float:
        return sum(s.effort for s in row) + sum(change_effort(a, b, board) for a, b in pairwise(row))

    assert cost([s for s in found if s]) == pytest.approx(min(map(cost, product(*options))))


def test_the_second_bass_is_where_a_guitarist_takes_it() -> None:
    """[common practice]: C moves over to the low G, D has the open A under it, G the open D above."""
    board = setting("guitar").fretboard
    for name, frets, expected in (("C", (5, 3), (6, 3)), ("D", (4, 0), (5, 0)), ("G", (6, 3), (4, 0))):
        chord = chord_named(name)
        assert chord is not None
        held = Place(*frets)
        shape = next(
            s
            for s in shapes(chord, board)
            if s.strings[0] == 1 and max(s.strings) == held.string and s.frets[held.string - 1] == held.fret
        )
        root, fifth = shape_basses(shape, board)
        assert ((root.string, root.fret), (fifth.string, fifth.fret)) == (frets, expected)


def test_patterns_are_cut_to_families_that_have_their_slots() -> None:
    for instrument, name in EVERY:
        for meter in map(meter_named, METER_NAMES):
            pattern = pattern_named(instrument, meter, name)
            assert pattern.slots == meter.slots
            assert pattern.family == FAMILIES[meter.name]
            assert all(0 <= stroke.at < pattern.slots for stroke in pattern.strokes)
