"""From a score to everything that sounds with it."""

from dataclasses import replace

import pytest

from service.errors import DomainError
from service.music.timeline import timeline
from service.usecases.playing import Wanted, plan_of
from tests.engrave.scores import passage_of, score_of

SCORE = score_of(
    passage_of("5 1; 32514251, 4 4.h2 5 1 3 2 5 1, 3 2 5 1 3 2 5 1, 3- - - - - - -", "| G | C | D7 | G |")
)
RATE = 44_100


def test_a_band_plays_behind_the_lead_and_is_named_by_its_instruments() -> None:
    plan = plan_of(SCORE, Wanted((84,)))
    assert [part.name for part in plan.parts] == ["lead", "guitar", "mandolin", "upright-bass"]
    assert [part.lead for part in plan.parts] == [True, False, False, False]
    assert plan.count_in == 2


@pytest.mark.parametrize(
    ("muted", "heard"),
    [
        ({"lead"}, {"guitar", "mandolin", "upright-bass"}),
        ({"band"}, {"lead"}),
        ({"guitar", "mandolin"}, {"lead", "upright-bass"}),
    ],
)
def test_whoever_is_muted_is_not_heard(muted: set[str], heard: set[str]) -> None:
    plan = plan_of(SCORE, Wanted((84,), frozenset(muted)))
    made = timeline(plan, RATE)
    assert {plan.parts[event.part].name for event in made.events} == heard


def test_a_click_alone_can_be_heard_but_nothing_at_all_is_refused() -> None:
    everybody = frozenset({"lead", "band"})
    assert timeline(plan_of(SCORE, Wanted((84,), everybody, click=True)), RATE).clicks
    with pytest.raises(DomainError) as error:
        plan_of(SCORE, Wanted((84,), everybody))
    assert error.value.code == "nothing-to-play"


def test_nobody_can_be_muted_who_does_not_play() -> None:
    with pytest.raises(DomainError) as error:
        plan_of(SCORE, Wanted((84,), frozenset({"kazoo"})))
    assert error.value.code == "no-such-player"


def test_a_kick_off_and_an_ending_stand_around_all_rounds_once() -> None:
    plain, framed = (plan_of(SCORE, Wanted((84, 84), frame=frame)) for frame in (False, True))
    ticks = plain.parts[0].passage.ticks
    whole = framed.parts[0].passage
    assert len(framed.rounds) == 1
    assert whole.ticks > 2 * ticks
    before = 2 * 1920  # a kick-off of two measures
    band = framed.parts[1].passage
    assert [note for note in band.notes if note.onset < before] == []
    assert [note for note in band.notes if note.onset >= before + 2 * ticks] == []
    lead = {(n.onset - before, n.string, n.fret) for n in whole.notes}
    assert {(n.onset, n.string, n.fret) for n in SCORE.passage.notes if n.onset >= 0} <= lead
    assert {(n.onset + ticks, n.string, n.fret) for n in SCORE.passage.notes} <= lead  # the pickup too


def test_the_melody_goes_along_into_every_round_of_a_framed_tune() -> None:
    score = replace(SCORE, melody=frozenset({0, 960}))
    framed = plan_of(score, Wanted((84, 84), frame=True)).parts[0]
    ticks = score.passage.ticks
    assert framed.melody == {3840, 3840 + 960, 3840 + ticks, 3840 + ticks + 960}


def test_behind_a_capo_the_band_sounds_where_the_lead_does() -> None:
    plain = plan_of(SCORE, Wanted((84,)))
    high = plan_of(replace(SCORE, passage=replace(SCORE.passage, capo=2)), Wanted((84,)))

    def basses(plan: object) -> list[int]:
        bass = plan.parts[-1].passage  # type: ignore[attr-defined]
        return [bass.fretboard.pitch(n.string, n.fret) % 12 for n in bass.notes if n.onset % 1920 == 0]

    assert basses(high)[0] == (basses(plain)[0] + 2) % 12
