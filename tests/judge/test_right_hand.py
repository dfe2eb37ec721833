"""Which finger picks which note. Roll fingerings published; counts computed; the path against brute force."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge.paths import POWER
from service.judge.right_hand import (
    AGAIN_SHARE,
    BRUSH_MS,
    EASY,
    PICKINGS,
    RightHand,
    right_hand,
    with_fingers,
)
from service.music.licks import Note
from service.music.meter import meter_named

E = 240
TWICE = PICKINGS["roll"].again_ms / E  # load of a finger that comes twice at eighths


def _hand(notes: list[Note], style: str = "roll") -> RightHand:
    return right_hand(notes, [style] * len(notes))


def _eighths(strings: str) -> list[Note]:
    return [Note(E * i, int(s), 0, E) for i, s in enumerate(strings)]


def _total(hand: RightHand) -> float:
    return sum(moment.load**POWER for moment in hand.moments)


@pytest.mark.parametrize(
    ("strings", "fingers"),
    [
        ("32514251", "TITMTITM"),  # alternating thumb
        ("32513251", "TITMTITM"),  # square
        ("21521521", "IMTIMTIM"),  # forward
        ("32152152", "TIMTIMTI"),  # forward
        ("12512512", "MITMITMI"),  # backward
        ("32151231", "TIMTMITM"),  # forward-backward
    ],
)
def test_everyday_rolls_get_the_fingers_that_players_use(strings: str, fingers: str) -> None:
    found = _hand(_eighths(strings))
    assert "".join(finger or "-" for finger in found.fingers) == fingers
    assert found.worst <= EASY


def test_a_string_picked_twice_at_eighths_needs_two_fingers_and_costs_more() -> None:
    twice = _hand(_eighths("33513251"))
    assert twice.fingers[0] != twice.fingers[1]
    assert _total(twice) > _total(_hand(_eighths("32513251")))


def test_the_fifth_string_twice_running_overworks_the_thumb_and_is_named() -> None:
    found = _hand(_eighths("32551251"))
    assert found.worst >= TWICE
    (worst,) = [moment for moment in found.moments if moment.load == found.worst]
    assert (worst.onset, worst.why, dict(worst.params)) == (3 * E, "same-finger", {"finger": "T"})


def test_the_same_at_quarters_is_no_trouble() -> None:
    assert _hand([Note(2 * E * i, 5, 0, E) for i in range(4)]).worst <= EASY


def test_what_the_left_hand_sounds_needs_no_finger() -> None:
    notes = [Note(0, 3, 2, E), Note(E, 3, 3, E, "hammer-on"), Note(2 * E, 2, 0, E)]
    assert _hand(notes).fingers == ("T", None, "I")


def test_a_pinch_has_the_thumb_below_and_no_finger_across_another() -> None:
    assert _hand([Note(0, 1, 0, E), Note(0, 5, 0, E)]).fingers == ("M", "T")
    assert _hand([Note(0, 1, 0, E), Note(0, 2, 0, E), Note(0, 3, 0, E)]).fingers == ("M", "I", "T")


def test_four_strings_at_once_are_brushed_with_no_finger_named() -> None:
    assert _hand([Note(0, s, 0, E) for s in (1, 2, 3, 4)]).fingers == (None,) * 4


def test_single_string_lines_alternate_thumb_and_index() -> None:
    found = _hand(_eighths("22222222"), "single-string")
    assert "".join(f or "-" for f in found.fingers) in ("TITITITI", "ITITITIT")


def test_a_finger_that_the_player_wrote_is_kept() -> None:
    notes = [Note(0, 3, 0, E, None, "I"), Note(E, 2, 0, E), Note(2 * E, 1, 0, E)]
    assert with_fingers(notes, ["roll"] * 3)[0].finger == "I"
    assert _hand(notes).fingers[1] != "I"


def test_a_flat_pick_goes_down_on_the_beat_and_up_off_it() -> None:
    assert "".join(f or "-" for f in _hand(_eighths("54434332"), "flatpick").fingers) == "dudududu"
    late = [Note(E, 4, 0, E), Note(2 * E, 3, 2, E), Note(4 * E, 3, 0, 2 * E), Note(6 * E, 2, 0, E)]
    assert _hand(late, "flatpick").fingers == ("u", "d", "d", "d")


def test_cross_picking_may_go_on_in_one_direction_over_neighbouring_strings() -> None:
    rolled, flat = _hand(_eighths("43243243"), "crosspick"), _hand(_eighths("43243243"), "flatpick")
    assert "dd" in "".join(f or "-" for f in rolled.fingers)
    assert "dd" not in "".join(f or "-" for f in flat.fingers)


def test_strings_passed_over_take_a_flat_pick_longer() -> None:
    assert _hand(_eighths("61616161"), "flatpick").worst > _hand(_eighths("65656565"), "flatpick").worst


def test_the_fingers_of_a_guitar_have_the_thumb_on_the_low_strings() -> None:
    found = _hand(_eighths("53424352"), "fingers")
    letters = "".join(f or "-" for f in found.fingers)
    assert [letters[i] for i in (0, 2, 4, 6)] == ["p", "p", "p", "p"]
    assert _hand([Note(0, 5, 0, E), Note(0, 1, 0, E)], "fingers").fingers[0] == "p"


def test_rules_belong_to_a_hand_style() -> None:
    """R10 (common practice): one nail strikes again and again in downstroke style, and nothing is wrong."""
    again = _eighths("55555555")
    assert _hand(again, "roll").worst > EASY
    assert _hand(again, "downstroke").worst <= EASY
    assert _hand(again, "downstroke").fingers == (None,) * 8


@given(
    st.lists(
        st.tuples(st.sampled_from([0, 1, 1, 1, 2, 4]), st.sets(st.integers(1, 5), min_size=1, max_size=2)),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["roll", "melodic", "single-string"]),
)
def test_the_path_is_the_best_there_is(drawn: list[tuple[int, set[int]]], style: str) -> None:
    """Brute force over every assignment: least worst moment (easy ones alike), then least sum of powers."""
    onset = 0
    groups: list[list[Note]] = []
    for gap, strings in drawn:
        onset += E // 2 * (gap + 1)
        groups.append([Note(onset, s, 0, E) for s in sorted(strings)])
    notes = [note for group in groups for note in group]
    found = _hand(notes, style)
    ways = [_assignments(group, style) for group in groups]
    scores = [_score(groups, choice, style) for choice in product(*ways)]
    best_worst = min(max(loads) for loads in scores)
    limit = max(best_worst, EASY)
    best_sum = min(sum(load**POWER for load in loads) for loads in scores if max(loads) <= limit)
    assert _total(found) == pytest.approx(best_sum)
    assert found.worst <= limit


def _assignments(group: list[Note], style: str) -> list[tuple[str, ...] | None]:
    reach = PICKINGS[style].reach
    found = [
        fingers
        for fingers in product("TIM", repeat=len(group))
        if len(set(fingers)) == len(fingers)
        and all(n.string in reach[f] for f, n in zip(fingers, group, strict=True))
        # group is sorted by string, 1 first: fingers must go M, I, T
        and list(fingers) == sorted(fingers, key="MIT".index)
    ]
    return list(found) or [None]


def _score(groups: list[list[Note]], choice: tuple[tuple[str, ...] | None, ...], style: str) -> list[float]:
    hand = PICKINGS[style]
    last: dict[str, int] = {}
    loads = []
    before: int | None = None
    for group, fingers in zip(groups, choice, strict=True):
        onset = group[0].onset
        gap = E if before is None else min(4 * E, max(E // 4, onset - before))
        before = onset
        if fingers is None:
            loads.append((hand.next_ms + BRUSH_MS) / gap)
            continue
        more = max(hand.reach[f][n.string] for f, n in zip(fingers, group, strict=True))
        waits = [onset - last[f] for f in fingers if f in last and onset - last[f] < 2 * E]
        again = max(((hand.again_ms + more) / max(E // 4, wait) for wait in waits), default=0.0)
        loads.append(max((hand.next_ms + more) / gap, again) + AGAIN_SHARE * again)
        last.update(dict.fromkeys(fingers, onset))
    return loads


STRICT = {"T": (2, 3, 4, 5), "I": (2, 3), "M": (1,)}
WIDE = {"T": (2, 3, 4, 5), "I": (1, 2, 3, 4), "M": (1, 2, 3)}


def _playable(reach: dict[str, tuple[int, ...]], length: int) -> int:
    """How many sequences of strings have some choice of fingers that repeats none at eighths."""
    states: dict[frozenset[str], int] = {frozenset("0"): 1}
    for _ in range(length):
        following: dict[frozenset[str], int] = {}
        for able, count in states.items():
            for string in range(1, 6):
                now = frozenset(f for f, strings in reach.items() if string in strings and able - {f})
                if now:
                    following[now] = following.get(now, 0) + count
        states = following
    return sum(states.values())


@pytest.mark.parametrize(("reach", "known"), [(STRICT, 86016), (WIDE, 302180)], ids=["strict", "wide"])
def test_as_many_string_sequences_are_playable_as_were_counted_elsewhere(
    reach: dict[str, tuple[int, ...]], known: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dataclasses import replace

    assert _playable(reach, 8) == known  # of 5^8, computed
    plain = replace(PICKINGS["roll"], reach={f: dict.fromkeys(strings, 0.0) for f, strings in reach.items()})
    monkeypatch.setitem(PICKINGS, "roll", plain)
    easy = sum(
        len(hand.moments) == 5 and hand.worst < TWICE and None not in hand.fingers
        for s in product("12345", repeat=5)
        for hand in [_hand(_eighths("".join(s)))]
    )
    assert easy == _playable(reach, 5)


@pytest.mark.parametrize("meter", ["6/8", "9/8", "12/8"])
def test_jigs_are_picked_down_up_down(meter: str) -> None:  # common practice of flat pickers
    of = meter_named(meter)
    notes = [Note(slot * 240, 2 if slot % 2 else 3, 2, 240) for slot in range(of.slots)]
    assert right_hand(notes, ["flatpick"] * len(notes), of).fingers == ("d", "u", "d") * (of.slots // 3)


def test_a_waltz_is_picked_down_and_up() -> None:
    notes = [Note(slot * 240, 2, slot, 240) for slot in range(6)]
    assert right_hand(notes, ["flatpick"] * 6, meter_named("3/4")).fingers == ("d", "u") * 3
