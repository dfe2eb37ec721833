"""Which licks fill which phrases."""

from dataclasses import replace

import pytest

from service.compose.matching import role_fits
from service.judge.facts import facts_of
from service.music.harmony import key_named
from service.music.instruments import instrument_named
from service.music.licks import Lick
from service.music.meter import meter_named
from service.music.setting import make_setting
from service.music.tunes import Part, Tempo, Tune, usual_cuts
from service.notation.chart import read_changes, read_chart
from service.notation.one_line import read_one_line
from tests.compose.material import lattice_of

BANJO = instrument_named("banjo")


def _lick(number: int, line: str, chords: str, role: str | None = "body", **more: object) -> tuple[int, Lick]:
    passage = read_one_line(line, BANJO, meter="2/2", tuning="open-g").passage
    changes, ticks = read_changes(chords, meter_named("2/2"))
    lick = Lick("l", BANJO, passage.tuning, "three-finger", "roll", passage.meter, key_named("G"),
                ticks, passage.notes, changes, role)  # fmt: skip
    return number, replace(lick, **more)  # type: ignore[arg-type]


def _tune(chart: str, key: str = "G", meter: str = "2/2") -> Tune:
    read = read_chart(chart, meter_named(meter))
    parts = tuple(Part(n, m, usual_cuts(len(m))) for n, m in read.sections)
    return Tune("t", "T", key_named(key), meter_named(meter), Tempo(60, 120, 84, "half"), parts, ("A",))


def _numbers(
    pool: list[tuple[int, Lick]], tune: Tune, position: str | None = None, capo: int = 0
) -> list[list[int]]:
    setting = make_setting(BANJO, tuning=None, sounding=tune.key, position=position, capo=capo)
    return [[c.number for c in of] for of in lattice_of(dict(pool), tune, setting).candidates]


OVER_G = "32514251, 32514251"
OVER_C = "2-0-1-2: 42514251, 42514251"


def test_a_lick_fills_the_phrases_with_its_chords() -> None:
    pool = [_lick(1, OVER_G, "| G | G |"), _lick(2, OVER_C, "| C | C |")]
    assert _numbers(pool, _tune("| G | G | C | C |")) == [[1], [2]]


def test_a_tune_in_a_with_capo_two_takes_licks_in_g() -> None:
    pool = [_lick(1, OVER_G, "| G | G |")]
    assert _numbers(pool, _tune("| A | A |", key="A"), "G", 2) == [[1]]
    assert _numbers(pool, _tune("| A | A |", key="A")) == [[]]


def test_g7_takes_licks_over_g() -> None:
    assert _numbers([_lick(1, OVER_G, "| G | G |")], _tune("| G | G7 |")) == [[1]]


def test_a_change_inside_the_phrase_must_come_at_the_same_time() -> None:
    pool = [_lick(1, "32514251, " + "2-0-1-2: 42514251", "| G | C |")]
    assert _numbers(pool, _tune("| G | C | G C | C |")) == [[1], []]


def test_a_tag_lick_fills_only_a_tag() -> None:
    pool = [
        _lick(1, OVER_G, "| G | G |", "tag"),
        _lick(2, OVER_G, "| G | G |", "body"),
        _lick(3, OVER_G, "| G | G |", None),
    ]
    assert _numbers(pool, _tune("| G | G | G | G |")) == [[2, 3], [1, 3]]


@pytest.mark.parametrize(
    ("lick", "phrase", "fits"),
    [("opener", "body", True), ("body", "opener", True), ("set-up", "body", False), ("body", "set-up", False),
     ("tag", "set-up", False), ("set-up", "set-up", True), (None, "tag", True)],
)  # fmt: skip
def test_roles_are_a_preference_except_tag_and_set_up(lick: str | None, phrase: str, fits: bool) -> None:
    assert role_fits(lick, phrase) == fits


def test_a_lick_of_two_phrases_fills_both() -> None:
    long = _lick(7, f"{OVER_G}, {OVER_C}", "| G | G | C | C |", phrases=2)
    pool = [_lick(1, OVER_G, "| G | G |"), _lick(2, OVER_C, "| C | C |"), long]
    assert _numbers(pool, _tune("| G | G | C | C | G | G | C | C |")) == [[1, 7], [2], [1, 7], [2]]


def test_licks_in_cut_time_and_in_four_four_fill_the_same_phrases() -> None:
    pool = [_lick(1, OVER_G, "| G | G |", meter=meter_named("4/4"))]
    assert _numbers(pool, _tune("| G | G |")) == [[1]]
    assert _numbers(pool, _tune("| G | G |", meter="3/4")) == [[]]


def test_a_lick_that_clashes_with_its_own_chords_is_marked_so_that_no_default_draw_takes_it() -> None:
    clash = _lick(1, "3.1 5 3.1 5 3.1 5 3.1 5, 3.1 5 3.1 5 3.1 5 3.1 5", "| G | G |")
    assert facts_of(clash[1]).fit < 0.5
    setting = make_setting(BANJO, tuning=None, sounding=key_named("G"))
    ((candidate,),) = lattice_of(dict([clash]), _tune("| G | G |"), setting).candidates
    assert "does-not-fit" in candidate.broken


def test_candidates_stand_in_order_of_their_numbers() -> None:
    pool = [_lick(n, OVER_G, "| G | G |") for n in (9, 3, 5)]
    assert _numbers(pool, _tune("| G | G |")) == [[3, 5, 9]]
