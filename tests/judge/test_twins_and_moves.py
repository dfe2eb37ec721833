"""Twins in a pool, and licks moved elsewhere."""

from dataclasses import replace

import pytest

from service.errors import DomainError
from service.judge.judgement import lick_fit
from service.judge.moving import for_instrument, move_lick, restate
from service.judge.roles import seeming_role
from service.judge.twins import Twin, TwinIndex, compare, shape_of, told, twins
from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Lick, Note
from service.music.meter import meter_named
from service.usecases.licks import read_lick
from service.usecases.seeding import load_fixtures

DEMO: dict[int, Lick] = {sent.number or 0: read_lick(sent)[1] for sent in load_fixtures().licks}
BANJO, GUITAR, MANDOLIN = (instrument_named(name) for name in ("banjo", "guitar", "mandolin"))
E = 240


def _pool() -> tuple[TwinIndex, dict[int, Lick]]:
    licks = {n: lick for n, lick in DEMO.items() if lick.instrument is BANJO}
    return TwinIndex({n: shape_of(lick) for n, lick in licks.items()}), licks


def _twins(lick: Lick, but: int | None = None) -> list[Twin]:
    index, licks = _pool()
    return twins(lick, index, licks, but)


def _changed(lick: Lick, at: int, **change: int) -> Lick:
    notes = list(lick.notes)
    notes[at] = replace(notes[at], **change)  # type: ignore[arg-type]
    return replace(lick, notes=tuple(sorted(notes)))


def test_a_lick_is_its_own_twin() -> None:
    for number in (1, 20, 44, 77, 100):
        first = _twins(DEMO[number])[0]
        assert (first.number, first.exact, first.moved) == (number, True, 0)
        assert told(first, DEMO[number], DEMO[number]).code == "twin"


def test_one_note_changed_in_measure_two_is_said() -> None:
    lick = DEMO[1]
    at = next(i for i, n in enumerate(lick.notes) if n.onset >= 1920 and n.string == 1)
    twin = next(t for t in _twins(_changed(lick, at, fret=4)) if t.number == 1)
    assert (twin.changed, twin.measures, twin.moved) == (1, (2,), 0)
    finding = told(twin, lick, lick)
    assert (finding.code, dict(finding.params)["measures"]) == ("near-twin", "2")


def test_a_note_moved_by_a_sixteenth_is_one_change() -> None:
    lick = DEMO[3]
    at = next(i for i, n in enumerate(lick.notes) if n.onset == 1920 + 480 or n.onset > 1920)
    moved = _changed(lick, at, onset=lick.notes[at].onset + 120)
    twin = next(t for t in _twins(moved) if t.number == 3)
    assert twin.changed == 1


def test_the_same_in_another_key_and_octave_is_found() -> None:
    lick = DEMO[44]
    moved = move_lick(lick, 2, key_named("A")).lick
    twin = next(t for t in _twins(moved) if t.number == 44)
    assert (twin.exact, twin.moved) == (True, 10)  # two down again, or ten up
    finding = told(twin, moved, lick)
    assert (finding.code, dict(finding.params)["moved"]) == ("twin-moved", 2)


def test_a_changed_first_note_is_a_change_and_no_move() -> None:
    lick = DEMO[1]
    twin = next(t for t in _twins(_changed(lick, 0, fret=2)) if t.number == 1)
    assert (twin.changed, twin.moved, twin.measures) == (1, 0, (1,))


def test_the_same_notes_at_other_places_are_found() -> None:
    lick = DEMO[1]
    # open string 1 is D, so is string 2 at fret 3
    at = next(i for i, n in enumerate(lick.notes) if (n.string, n.fret) == (1, 0))
    elsewhere = _changed(lick, at, string=2, fret=3)
    twin = next(t for t in _twins(elsewhere) if t.number == 1)
    assert (twin.exact, twin.elsewhere) == (True, True)
    assert told(twin, elsewhere, lick).code == "twin-elsewhere"


def test_the_index_finds_what_comparing_with_every_lick_finds() -> None:
    index, licks = _pool()
    for number in list(licks)[:40]:
        close = {n for n, other in licks.items() if n != number and compare(licks[number], n, other)}
        assert close == {t.number for t in twins(licks[number], index, licks, but=number)}


def test_the_same_line_played_in_another_way_is_told_as_that() -> None:
    lick = DEMO[1]
    for other in (replace(lick, style="melodic"), replace(lick, hand_style="downstroke", style="downstroke")):
        assert told(_twins(other)[0], other, lick).code == "twin-played-otherwise"
    adorned = DEMO[3]
    picked = replace(adorned, notes=tuple(replace(n, technique=None) for n in adorned.notes))
    twin = next(t for t in _twins(picked) if t.number == 3)
    assert told(twin, picked, adorned).code == "twin-played-otherwise"


def test_an_empty_pool_has_no_twins() -> None:
    assert TwinIndex({}).nearest(shape_of(DEMO[1])) == []


# --- moving --------------------------------------------------------------------------------------------


def _line(*notes: tuple[int, int], chord: str = "G", style: str = "roll") -> Lick:
    return Lick("l", BANJO, BANJO.tuning("open-g"), "three-finger", style, meter_named("2/2"), key_named("G"), 1920,
                tuple(Note(i * E, s, f, E) for i, (s, f) in enumerate(notes)), (Change(0, chord_named(chord)),))  # fmt: skip


CLOSED = _line((3, 4), (2, 3), (5, 0), (1, 5), (4, 5), (2, 3), (5, 0), (1, 5))  # the root-4-and-1 shape of G
OPEN = _line((3, 0), (2, 0), (5, 0), (1, 0), (4, 0), (2, 0), (5, 0), (1, 0))


def test_a_closed_shape_is_shifted_and_the_drone_stays() -> None:
    moved = move_lick(CLOSED, 5)
    assert moved.how == "shifted"
    assert [n.fret - o.fret for n, o in zip(moved.lick.notes, CLOSED.notes, strict=True)] == [
        5,
        5,
        0,
        5,
        5,
        5,
        0,
        5,
    ]
    assert moved.lick.changes[0].chord == chord_named("C")
    assert moved.strings_kept == 8


def test_an_open_lick_is_placed_anew_and_still_fits() -> None:
    moved = move_lick(OPEN, 5)
    assert moved.how == "placed"
    assert moved.lick.changes[0].chord == chord_named("C")
    assert {p % 12 for i, (_, _, p) in enumerate(moved.lick.sounding()) if OPEN.notes[i].string != 5} == {
        0,
        4,
        7,
    }
    assert lick_fit(moved.lick).share == 1.0


@pytest.mark.parametrize("semitones", range(12))
@pytest.mark.parametrize("number", [1, 12, 44, 82])
def test_moving_keeps_the_intervals_or_says_that_it_cannot(number: int, semitones: int) -> None:
    lick = DEMO[number]
    try:
        moved = move_lick(lick, semitones).lick
    except DomainError as error:
        refused = (error.code, error.params["measure"] in (1, 2))
    else:
        refused = None
    assert refused in (None, ("cannot-move", True))
    if refused:
        return
    assert [n.onset for n in moved.notes] == [n.onset for n in lick.notes]
    drone = lick.fretboard.pitch(5, 0)
    before = sorted((o, (p + semitones) % 12) for o, _, p in lick.sounding() if p != drone)
    after = [(o, p % 12) for o, _, p in moved.sounding()]
    assert all(note in after for note in before)


def test_a_key_change_keeps_the_numbers_of_the_chords() -> None:
    moved = move_lick(DEMO[2], 5, key_named("C")).lick  # over C D in G
    assert [c.chord and c.chord.name for c in moved.changes] == ["F", "G"]
    assert moved.key.name == "C"


def test_a_sequence_is_the_idea_again_a_scale_step_lower() -> None:
    whole = restate(_line((2, 1), (2, 0), (3, 2), (3, 0)), -1).lick
    assert (whole.phrases, whole.ticks) == (2, 3840)
    pitches = [p for _, _, p in whole.sounding()]
    assert pitches == [60, 59, 57, 55, 59, 57, 55, 54]  # C B A G, then B A G F#


def test_a_line_goes_over_to_another_instrument() -> None:
    moved = for_instrument(DEMO[17], MANDOLIN, MANDOLIN.tuning(None)).lick
    assert moved.instrument is MANDOLIN
    assert moved.hand_style == "flatpick"
    before = [p % 12 for _, _, p in DEMO[17].sounding()]
    after = [p % 12 for _, _, p in moved.sounding()]
    drones = [n for n in DEMO[17].notes if n.string == 5 and n.fret == 0]
    assert len(after) == len(before) - len(drones)
    on_guitar = for_instrument(DEMO[17], GUITAR, GUITAR.tuning(None)).lick
    assert all(on_guitar.fretboard.refuses(n.string, n.fret) is None for n in on_guitar.notes)


# --- roles ---------------------------------------------------------------------------------------------


def test_the_seeming_role_is_mostly_the_one_that_was_meant() -> None:
    meant = [(lick.role, seeming_role(lick)) for lick in DEMO.values() if lick.role in ("tag", "set-up")]
    assert sum(a == b for a, b in meant) >= 0.9 * len(meant)
    assert all(seeming_role(lick) != "tag" for lick in DEMO.values() if lick.role == "set-up")
