"""The way through a part is the cheapest there is: held against a plain search, state by state."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.arrange.ground import Ground, grounds
from service.arrange.manners import AGAIN, CUTS_MELODY, JUMP, LINKED_AGAIN, MANNERS, ROLLS, TASTES
from service.arrange.path import (
    COST_UNITS,
    HAMMERED,
    SLID,
    Event,
    Wish,
    _events,
    easiest_path,
)
from service.music.fretboard import Fretboard
from service.music.instruments import instrument_named
from service.music.meter import meter_named
from service.music.setting import Setting, make_setting
from service.music.tunes import MelodyNote
from service.notation.abc import write_melody
from tests.arrange.tunes import tune

State = tuple[int, int, str, str, int, bool, int, bool]


def _setting(instrument: str = "banjo") -> Setting:
    return make_setting(instrument_named(instrument), tuning=None, sounding=tune("A: | G |", "A: | G8 |").key)


def _plainly(ground: Ground, board: Fretboard, wish: Wish) -> int:
    """The least cost in thousandths, found with one state after the other in dictionaries."""
    layer: dict[State, int] = {(0, 0, "", "", lies, True, 0, False): 0 for lies in range(1, 10)}
    for index in range(len(ground.slots)):
        following: dict[State, int] = {}
        for event in _events(ground, index, board, wish):
            for state, so_far in layer.items():
                step = _step(state, event, board, wish)
                if step is not None:
                    total = so_far + round(COST_UNITS * event.cost) + step[1]
                    following[step[0]] = min(total, following.get(step[0], total))
        layer = following
    return min(layer.values())


def _step(state: State, event: Event, board: Fretboard, wish: Wish) -> tuple[State, int] | None:
    string, fret, finger, before, lies, air, sounding, linked = state
    manner, short, cost = wish.manner, board.instrument.short_string, 0
    if not event.places:
        return (0, 0, "", "", lies, True, sounding, False), 0
    at, strings = event.places[0], [place.string for place in event.places]
    by_fingers = "" not in manner.fingers
    if event.technique is not None:
        apart = at.fret - fret
        held = 0 in (at.fret, fret) or abs(apart) < manner.span
        fits = {
            "hammer-on": 0 < apart <= HAMMERED and held,
            "pull-off": -HAMMERED <= apart < 0 and held,
            "slide": 0 < abs(apart) <= SLID and fret > 0 and at.fret > 0,
        }
        if string != at.string or not fits[event.technique]:
            return None
        cost += round(COST_UNITS * LINKED_AGAIN) if linked else 0
    elif string:
        if by_fingers and (finger == "several" or (finger and finger in event.fingers)):
            return None
        if by_fingers and event.fingers[0] not in ("", "T", "p") and event.fingers[0] == before:
            cost += round(COST_UNITS * AGAIN)
        if not by_fingers:
            cost += round(COST_UNITS * manner.skip) * max(0, abs(at.string - string) - 1)
        if string in strings:
            if manner.same_string and not event.sung:
                return None
            cost += round(COST_UNITS * wish.taste.again * manner.same_string)
    cut = not event.sung and sounding and sounding in strings
    cost += round(COST_UNITS * CUTS_MELODY) if cut else 0
    stopped = [p.fret for p in event.places if p.fret and (short is None or p.string != short[0])]
    new = lies
    if stopped and min(stopped) < lies:
        new = min(stopped)
    elif stopped and max(stopped) > lies + manner.span - 1:
        new = max(stopped) - manner.span + 1
    moved = abs(new - lies)
    if moved > JUMP and not air:
        return None
    cost += round(COST_UNITS * wish.ease * manner.shift) * moved * (1 if air else 2)
    held = at.string if event.sung else 0 if cut else sounding
    before = finger if by_fingers else ""
    by = "several" if by_fingers and len(event.fingers) > 1 else event.fingers[0]
    after = (
        at.string,
        at.fret,
        by,
        before,
        new,
        not stopped,
        held,
        event.technique is not None,
    )
    return after, cost


NOTES = st.lists(st.tuples(st.sampled_from((1, 1, 2, 2, 3, 4)), st.integers(50, 74)), min_size=2, max_size=8)


@pytest.mark.parametrize("instrument", ["banjo", "guitar", "resonator-guitar"])
@pytest.mark.parametrize("level", [1, 2, 3])
@given(
    notes=NOTES,
    chords=st.tuples(*[st.sampled_from(("G", "C", "D", "Em"))] * 2),
    ease=st.sampled_from((1.0, 3.24)),
    roll=st.sampled_from(((), *ROLLS.values())),
)
@settings(max_examples=12)
def test_no_way_is_cheaper(
    instrument: str,
    level: int,
    notes: list[tuple[int, int]],
    chords: tuple[str, str],
    ease: float,
    roll: tuple[int, ...],
) -> None:
    melody, at = [], 0
    for slots, pitch in notes:
        if at + slots * 240 <= 2 * 1920:
            melody.append(MelodyNote(at, slots * 240, pitch))
            at += slots * 240
    setting = replace(_setting(instrument))
    text = write_melody([("A", melody, (1920, 1920))], setting.position)
    made = tune(f"A: | {chords[0]} | {chords[1]} |", text)
    (ground,) = grounds(made, setting, 0)
    wish = Wish(MANNERS[instrument], TASTES[level], ease, roll if MANNERS[instrument].fill == "roll" else ())
    found = easiest_path(ground, setting.fretboard_in_hand, wish)
    assert round(found.cost * COST_UNITS) == _plainly(ground, setting.fretboard_in_hand, wish)


def test_the_meter_of_the_ground_is_that_of_the_tune() -> None:
    (ground,) = grounds(tune("A: | G |", "A: | D3 B3 |", meter="6/8"), _setting(), 0)
    assert ground.meter == meter_named("6/8")
    assert [slot.place for slot in ground.slots] == ["downbeat", "off", "off", "strong", "off", "off"]
