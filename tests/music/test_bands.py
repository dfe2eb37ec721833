"""The band: who plays behind whom, where it sounds, and with which capo."""

import pytest

from service.compose.matching import changes_over
from service.judge.hands import judge_hands
from service.music.backup_patterns import pattern_named
from service.music.bands import band, band_over, easiest_setting, member_setting, sounding_changes
from service.music.harmony import chord_named, key_named
from service.music.instruments import all_instruments, instrument_named
from service.music.licks import Change
from service.music.meter import METER_NAMES, meter_named
from service.music.setting import make_setting
from service.music.tunes import phrases
from service.usecases.records import choose_setting, tune_of
from service.usecases.seeding import load_fixtures

RECORDS = dict(load_fixtures().tunes)
TUNES = {slug: tune_of(slug, record) for slug, record in RECORDS.items()}
CUT = meter_named("2/2")


def changes_of(text: str) -> list[Change]:
    return [Change(1920 * n, chord_named(name)) for n, name in enumerate(text.split())]


def test_behind_a_banjo_there_are_guitar_mandolin_and_bass() -> None:
    """[common practice]"""
    assert band("banjo", CUT) == (
        ("guitar", "guitar", "boom-chuck"),
        ("mandolin", "mandolin", "chop"),
        ("upright bass", "upright-bass", "root and fifth"),
    )


def test_nobody_plays_behind_themselves_and_somebody_keeps_the_beat() -> None:
    for lead in all_instruments():
        for meter in METER_NAMES:
            members = [instrument for _, instrument, _ in band(lead.id, meter_named(meter))]
            assert lead.id not in members
            assert {"guitar", "upright-bass"} & set(members)


def test_the_band_sounds_where_the_lead_sounds() -> None:
    """G C D shapes behind a capo at 2 are heard as A D E."""
    lead = make_setting(instrument_named("banjo"), tuning=None, sounding=key_named("A"), capo=2)
    assert [c.chord.name for c in sounding_changes(changes_of("G C D"), lead) if c.chord] == ["A", "D", "E"]
    for _, part in band_over(changes_of("G C D"), [1920] * 3, CUT, lead):
        tones = [{9, 1, 4}, {2, 6, 9}, {4, 8, 11}]
        for note in part.notes:
            assert part.fretboard.pitch(note.string, note.fret) % 12 in tones[note.onset // 1920]


def test_without_a_chord_the_band_is_silent_too() -> None:
    lead = make_setting(instrument_named("guitar"), tuning=None, sounding=key_named("G"))
    for _, part in band_over(changes_of("G N.C. G"), [1920] * 3, CUT, lead):
        assert part.notes
        assert [note for note in part.notes if 1920 <= note.onset < 3840] == []


@pytest.mark.parametrize(
    ("key", "capo", "position"),
    [("G", 0, "G"), ("C", 0, "C"), ("D", 0, "D"), ("A", 0, "A"), ("Bb", 1, "A"), ("B", 2, "A"), ("Eb", 1, "D"), ("Ab", 1, "G")],
)  # fmt: skip
def test_a_guitar_takes_the_capo_that_spares_it_barres(key: str, capo: int, position: str) -> None:
    """Flat keys are played in open shapes behind a capo [common practice]."""
    guitar = instrument_named("guitar")
    sounding = key_named(key)
    chart = [Change(1920 * n, chord_named(number, sounding)) for n, number in enumerate(("1", "4", "1", "5"))]
    chosen = easiest_setting(guitar, guitar.tuning(), chart, 4 * 1920, CUT, sounding)
    assert (chosen.capo, chosen.position.name) == (capo, position)


def test_a_banjo_behind_a_waltz_plays_g_shapes_in_a() -> None:
    """Capo at 2, the fifth string with it [common practice]."""
    lead = make_setting(instrument_named("mandolin"), tuning=None, sounding=key_named("A"))
    parts = dict(band_over(changes_of("A D E A"), [1440] * 4, meter_named("3/4"), lead))
    assert parts["five-string banjo"].capo == 2
    assert parts["five-string banjo"].stop is None


def test_without_a_capo_the_drone_is_put_where_the_key_likes_it() -> None:
    """In D the fifth string is spiked up to A, MIDI 69 [common practice]."""
    banjo = instrument_named("banjo")
    vamping = member_setting(banjo, changes_of("D G A"), 3 * 1920, CUT, key_named("D"))
    assert (vamping.capo, vamping.stop) == (0, 69)


@pytest.mark.parametrize("slug", TUNES)
@pytest.mark.parametrize("lead", ["banjo", "guitar", "mandolin", "fiddle"])
def test_the_band_plays_the_whole_of_a_tune_at_its_fast_end(slug: str, lead: str) -> None:
    tune = TUNES[slug]
    setting = choose_setting(RECORDS[slug], tune, lead, None)
    measures = [measure.ticks for name in tune.order for measure in tune.part(name).measures]
    parts = band_over(changes_over(phrases(tune), setting, tune), measures, tune.meter, setting)
    assert [name for name, _ in parts] == [name for name, _, _ in band(lead, tune.meter)]
    chords = {
        phrase.onset + change.onset: change.chord for phrase in phrases(tune) for change in phrase.changes
    }
    for _, part in parts:
        assert part.ticks == tune.ticks
        pattern = pattern_named(part.instrument.id, tune.meter)
        hands = judge_hands(
            part.notes, part.instrument, [pattern.style] * len(part.notes), tune.meter, part.capo
        )
        assert hands.top_bpm is not None
        assert hands.top_bpm >= tune.tempo.high
        for onset, chord in chords.items():
            heard = [
                n for n in part.notes if onset <= n.onset < onset + pattern.within * tune.meter.slot_ticks
            ]
            assert heard
            if chord is not None:
                tones = {part.fretboard.pitch(n.string, n.fret) % 12 for n in heard[:1]}
                assert tones <= chord.pitch_classes
