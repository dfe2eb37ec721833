"""A phrase in other ways: a roll that goes through, an octave up, a run that leads in; and an idea restated along the scale."""

import pytest

from service.arrange.manners import ROLLS, ROLLS_IN_THREES
from service.arrange.positions import proposed_settings
from service.arrange.variations import RUN, How, sequences, variations
from service.judge.right_hand import right_hand
from service.music.instruments import instrument_named
from service.music.licks import Lick
from service.music.meter import meter_named
from service.music.setting import Setting
from service.music.tunes import Tune, phrases
from tests.arrange.tunes import tune

CHART = "A: | G | C | G | D | G | C | D | G |\norder: A A"
HELD = "A: | B4 G4 | e4 c4 | B4 d4 | A4 A4 | G4 B4 | c4 e4 | A4 F4 | G4 z4 |"  # long notes leave a roll room
UNREAD = {"up-the-neck", "down-low", "run-up", "run-down", "crosspicked"}


def _setting(made: Tune, instrument: str = "banjo") -> Setting:
    return proposed_settings(made, instrument_named(instrument))[0].setting


def _found(made: Tune, number: int, instrument: str = "banjo") -> dict[str, Lick]:
    given = variations(made, phrases(made)[number - 1], _setting(made, instrument))
    return {how.code.removeprefix("proposed-"): lick for lick, how in given}


def _fingers(lick: Lick) -> list[str]:
    found = right_hand(lick.notes, [lick.style] * len(lick.notes), lick.meter).fingers
    return [finger or "" for finger in found]


@pytest.mark.parametrize("roll", list(ROLLS))
def test_over_a_slow_melody_every_roll_goes_through(roll: str) -> None:
    lick = _found(tune(CHART, HELD), 2)[roll]
    asked = ["TIM"[finger] for finger in ROLLS[roll]] * 2
    picked = _fingers(lick)
    assert len(picked) == 15, "all slots but the last, where the next lick begins"
    assert sum(a == b for a, b in zip(picked, asked, strict=False)) >= 12
    heard = {onset: pitch % 12 for onset, _, pitch in lick.sounding()}
    assert [heard[onset] for onset in (0, 960, 1920, 2880)] == [11, 2, 9, 9]  # B d | A A


def test_a_full_melody_leaves_no_room_for_a_roll() -> None:
    running = tune("A: | G | G |", "A: | GABc dcBA | GABd dBAG |")
    assert set(_found(running, 1)) <= UNREAD


def test_a_jig_has_the_rolls_that_go_round_in_threes() -> None:
    jig = tune("A: | G | D | G | G |", "A: | G3 B3 | d3 B3 | G3 B3 | G6 |", meter="6/8")
    found = _found(jig, 1)
    assert {name for name in found if name.endswith("-roll")} <= {*ROLLS_IN_THREES}
    assert _fingers(found["forward-roll"])[:6] == ["T", "I", "M"] * 2


def test_up_the_neck_the_melody_sounds_an_octave_higher() -> None:
    made = tune(CHART, HELD)
    up, usual = _found(made, 2)["up-the-neck"], _found(made, 2)["forward-roll"]

    def tops(lick: Lick) -> list[int]:
        melody = {
            onset: max(p for o, _, p in lick.sounding() if o == onset) for onset in (0, 960, 1920, 2880)
        }
        return list(melody.values())

    assert [high - low for high, low in zip(tops(up), tops(usual), strict=True)] == [12] * 4
    assert max(note.fret for note in up.notes) > 5


def test_a_run_of_the_scale_leads_in_from_below_or_from_above() -> None:
    made = tune(CHART, HELD)
    found = _found(made, 1)
    step = meter_named("2/2").slot_ticks

    def lead(lick: Lick) -> list[int]:
        return [pitch % 12 for onset, _, pitch in lick.sounding() if -RUN * step <= onset <= 0]

    assert lead(found["run-up"]) == [6, 7, 9, 11]  # F# G A | B
    assert lead(found["run-down"]) == [4, 2, 0, 11]  # e d c | B
    written = tune(CHART, HELD.replace("A: |", "A: D2 |"))
    assert not {"run-up", "run-down"} & set(_found(written, 1)), "it has a pickup of its own"


def test_guitar_and_mandolin_crosspick_what_a_banjo_rolls() -> None:
    made = tune(CHART, HELD)
    for instrument in ("guitar", "mandolin"):
        lick = _found(made, 1, instrument)["crosspicked"]
        onsets = [note.onset for note in lick.notes]
        assert len(set(onsets)) == len(onsets) >= 12, "single notes, nearly no gap"


def test_a_phrase_without_melody_has_no_variations() -> None:
    silent = tune("A: | G | C |\nB: | G | G |\norder: A B", "A: | G4 B4 | c4 e4 |")
    assert variations(silent, phrases(silent)[1], _setting(silent)) == []


def test_an_idea_comes_again_along_the_scale_with_the_same_picking() -> None:
    idea = _found(tune("A: | G | G | G | G |", "A: | G2 B2 d2 B2 | G8 | G4 B4 | d8 |"), 1)["forward-roll"]
    found = dict(_swapped(sequences(idea)))
    third = found[How("proposed-third-higher", kinds=("third-higher",))]
    heard = [pitch for onset, _, pitch in third.sounding() if onset % 480 == 0]
    assert [pitch % 12 for pitch in heard[:4]] == [7, 11, 2, 11]  # G B d B
    assert [pitch % 12 for pitch in heard[4:8]] == [11, 2, 6, 2]  # B d f# d
    assert (third.ticks, third.changes, third.phrases) == (idea.ticks, idea.changes, idea.phrases)


def _swapped(found: object) -> list[tuple[How, Lick]]:
    return [(how, lick) for lick, how in found]  # type: ignore[attr-defined]


def test_both_times_of_a_sequence_are_whole_and_a_pickup_leads_into_the_first_alone() -> None:
    idea = _found(tune(CHART, HELD), 1)["run-up"]
    assert idea.notes[0].onset < 0
    for lick, _ in sequences(idea):
        half = lick.ticks // 2
        first = [note.onset for note in lick.notes if 0 <= note.onset < half]
        again = [note.onset - half for note in lick.notes if note.onset >= half]
        assert first == again


def test_a_tag_is_no_idea_for_a_sequence() -> None:
    made = tune(CHART, HELD)
    tag = _found(made, 4)
    assert phrases(made)[3].role == "tag"
    assert [made for lick in tag.values() for made in sequences(lick)] == []
