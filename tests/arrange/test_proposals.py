"""Licks proposed for a phrase: moved where their chords change as its own do, arranged from its melody, and no two alike."""

from dataclasses import replace

import pytest

from service.arrange.plain import arrange
from service.arrange.positions import proposed_settings
from service.arrange.proposals import RANK, Place, Proposal, is_twin, moved, proposals
from service.compose.matching import changes_over, kinds_of, kinds_to_move, melody_over, tempo_of
from service.compose.pool import signature_of
from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Lick
from service.music.meter import meter_named
from service.music.setting import make_setting
from service.music.tunes import phrases
from service.notation.tab_reader import read_tab
from tests.arrange.tunes import tune

TUNE = tune(
    "A: | G | C | G | D | G | C | D | G |\norder: A A",
    "A: D2 | G2 AB c2 BA | c2 e2 c4 | B2 G2 d2 B2 | A4 A2 D2 | G2 AB c2 BA | c2 e2 c2 B2 | A2 F2 D2 F2 | G4 z2 |",
)
BANJO = instrument_named("banjo")
SETTING = make_setting(BANJO, tuning=None, sounding=TUNE.key)
OVER_G_C = """
D|----------------|----------------|
B|----------------|--1---1---1---1-|
G|--0---0---0---0-|------------0---|
D|----------------|----2-----------|
g|----------------|----------------|
"""
# Closed shapes over C and F: no open string, so that they go up or down the neck as they are.
OVER_C_F = """
D|2---------5-----|----3-----------|
B|----5-----------|--------6-------|
G|--5---5-----5---|5-------------5-|
D|----------------|----------------|
g|----------------|----------------|
"""


def _lick(text: str, chords: tuple[tuple[int, str], ...], key: str = "G", **other: object) -> Lick:
    passage = read_tab(text, BANJO, meter=meter_named("2/2").name).passage
    changes = tuple(Change(onset, chord_named(name)) for onset, name in chords)
    lick = Lick(
        "Two gates", BANJO, BANJO.tuning(None), "three-finger", "roll", meter_named("2/2"), key_named(key),
        passage.ticks, passage.notes, changes,
    )  # fmt: skip
    return replace(lick, **other)  # type: ignore[arg-type]


def _place(number: int = 1) -> Place:
    phrase = phrases(TUNE)[number - 1]
    return Place(
        phrase.part, phrase.index, phrase.role, SETTING.position, TUNE.meter, tempo_of(TUNE)[0],
        changes_over((phrase,), SETTING, TUNE), melody_over((phrase,), SETTING, TUNE),
    )  # fmt: skip


C_F = _lick(OVER_C_F, ((0, "C"), (1920, "F")), "C", name="Two gates")


def _names(lick: Lick) -> list[str]:
    return ["N.C." if change.chord is None else change.chord.name for change in lick.changes]


def test_a_lick_over_c_and_f_is_moved_to_g_and_c_and_says_so() -> None:
    made = moved(_place(), 12, C_F)
    assert made is not None
    assert _names(made.lick) == ["G", "C"]
    assert (made.lick.name, made.how.kinds) == ("Two gates", ("G",))
    assert made.how.code == "proposed-moved"
    assert dict(made.how.params) == {"lick": 12, "name": "Two gates", "from": "C", "to": "G"}
    before, after = C_F.sounding(), made.lick.sounding()
    assert {(b[0], (b[2] - a[2]) % 12) for a, b in zip(before, after, strict=True)} == {
        (onset, 7) for onset, _, _ in before
    }


@pytest.mark.parametrize(
    ("chords", "why"),
    [
        (((0, "G"), (1920, "C")), "its chords fit already, so it is a candidate and no proposal"),
        (((0, "C"), (1920, "G")), "its second chord lies a fifth up, not a fourth"),
        (((0, "C"), (960, "F")), "it changes half a measure too early"),
        (((0, "C"),), "it does not change"),
        (((0, "N.C."), (1920, "F")), "it has no first chord to move from"),
    ],
)
def test_a_lick_that_changes_otherwise_or_fits_already_is_not_moved(
    chords: tuple[tuple[int, str], ...], why: str
) -> None:
    assert moved(_place(), 12, _lick(OVER_C_F, chords)) is None, why


def test_a_lick_in_two_four_is_the_same_music_and_is_judged_in_its_own_time() -> None:
    two_four = replace(
        C_F,
        meter=meter_named("2/4"),
        ticks=C_F.ticks // 2,
        notes=tuple(replace(n, onset=n.onset // 2, duration=n.duration // 2) for n in C_F.notes),
        changes=tuple(Change(c.onset // 2, c.chord) for c in C_F.changes),
    )
    cut, half = moved(_place(), 12, C_F), moved(_place(), 12, two_four)
    assert cut is not None
    assert half is not None
    assert [c.onset for c in half.lick.changes] == [0, 960]
    assert half.judged.fit.share == pytest.approx(cut.judged.fit.share)
    assert half.judged.recall == cut.judged.recall


def test_a_major_lick_over_a_minor_phrase_takes_its_third() -> None:
    place = replace(_place(), changes=(Change(0, chord_named("Am")),), melody=())
    made = moved(place, 3, _lick(OVER_C_F, ((0, "C"),), "C"))
    assert made is not None
    assert _names(made.lick) == ["Am"]
    heard = {pitch % 12 for _, _, pitch in made.lick.sounding()}
    assert 1 not in heard, "no major third of A is left"


def test_the_melody_is_arranged_at_other_levels_and_the_best_comes_first() -> None:
    setting = proposed_settings(TUNE, BANJO)[0].setting
    whole = [arrange(TUNE, setting, level) for level in (1, 2, 3)] + [arrange(TUNE, setting, 2, "melodic")]
    first, second = proposals(_place(1), [], whole, [], ()), proposals(_place(2), [], whole, [], ())
    assert {one.lick.name for one in second} == {"Bracken Lane A2"}
    assert {one.how.kinds for one in second} >= {("sparse",), ("filled",), ("ornamented",)}
    assert "proposed-melodic" in {one.how.code for one in first}
    for found in (first, second):
        assert [one.score for one in found] == sorted((one.score for one in found), reverse=True)
        assert found[0].judged.recall is not None
        assert found[0].judged.recall.share > 0.9


def test_of_twins_the_better_one_stays() -> None:
    other = replace(C_F, notes=(*C_F.notes[:-1], replace(C_F.notes[-1], fret=7)), name="Nearly")
    found = proposals(_place(), [(1, C_F), (2, replace(C_F, name="Again")), (3, other)], [], [], ())
    assert len(found) == 1
    assert is_twin(C_F, other)
    assert not is_twin(C_F, found[0].lick), "the same line over other chords is no twin here"


def test_what_would_be_held_back_is_not_proposed() -> None:
    made = moved(_place(), 12, C_F)
    assert made is not None
    codes = {finding.code for finding in made.judged.findings}
    assert codes, "the lick is free of the melody"
    assert proposals(_place(), [(12, C_F)], [], [], ()) == [made]
    assert proposals(_place(), [(12, C_F)], [], [], codes) == []


def test_the_score_is_one_for_a_lick_that_has_everything() -> None:
    assert sum(RANK.values()) == pytest.approx(1)
    found: list[Proposal] = proposals(_place(), [(12, C_F)], [], [], ())
    assert 0 < found[0].score < 1


def test_the_kinds_looked_up_in_a_pool_are_those_that_can_be_moved() -> None:
    phrase = phrases(TUNE)[0]  # G, then C
    kinds = kinds_to_move(phrase, SETTING, TUNE)

    def kind(*chords: str) -> int:
        changes = [Change(1920 * at, chord_named(name)) for at, name in enumerate(chords)]
        return signature_of(1, 3840, changes).kind("2/2")

    assert kind("C", "F") in kinds
    assert kind("Am", "Dm") in kinds
    assert kind("C", "G") not in kinds
    assert kind("G", "C") in kinds_of((phrase,), SETTING, TUNE)
    assert kind("G", "C") not in kinds
