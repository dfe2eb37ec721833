"""Which finger picks which note. Roll fingerings published; counts computed; the path against brute force."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.judge.right_hand import AGAIN, COMFORT, FINGERS, REACH, RightHand, right_hand, with_fingers
from service.music.licks import Note

E = 240


def _hand(notes: list[Note], style: str = "roll") -> RightHand:
    return right_hand(notes, [style] * len(notes))


def _eighths(strings: str) -> list[Note]:
    return [Note(E * i, int(s), 0, E) for i, s in enumerate(strings)]


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
    assert found.worst <= COMFORT


def test_a_string_picked_twice_at_eighths_needs_two_fingers_and_costs_more() -> None:
    twice = _hand(_eighths("33513251"))
    assert twice.fingers[0] != twice.fingers[1]
    assert twice.total > _hand(_eighths("32513251")).total


def test_the_fifth_string_twice_running_overworks_the_thumb_and_is_named() -> None:
    found = _hand(_eighths("32551251"))
    assert found.worst >= AGAIN
    assert found.worst_at == 3 * E


def test_the_same_at_quarters_is_no_trouble() -> None:
    assert _hand([Note(2 * E * i, 5, 0, E) for i in range(4)]).worst <= COMFORT


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


@given(
    st.lists(
        st.tuples(st.sampled_from([0, 1, 1, 1, 2, 4]), st.sets(st.integers(1, 5), min_size=1, max_size=2)),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(sorted(REACH)),
)
def test_the_path_is_the_best_there_is(drawn: list[tuple[int, set[int]]], style: str) -> None:
    """Brute force over every assignment: least worst moment (easy ones alike), then least sum."""
    onset = 0
    groups: list[list[Note]] = []
    for gap, strings in drawn:
        onset += E // 2 * (gap + 1)
        groups.append([Note(onset, s, 0, E) for s in sorted(strings)])
    notes = [note for group in groups for note in group]
    found = _hand(notes, style)
    ways = [_assignments(group, style) for group in groups]
    scores = [_score(groups, choice, style) for choice in product(*ways)]
    best_worst = min(max(costs) for costs in scores)
    limit = max(best_worst, COMFORT)
    best_sum = min(sum(costs) for costs in scores if max(costs) <= limit)
    assert found.total == pytest.approx(best_sum)
    assert found.worst <= limit


def _assignments(group: list[Note], style: str) -> list[tuple[str, ...] | None]:
    reach = REACH[style]
    found = [
        fingers
        for fingers in product(FINGERS, repeat=len(group))
        if len(set(fingers)) == len(fingers)
        and all(n.string in reach[f] for f, n in zip(fingers, group, strict=True))
        # group is sorted by string, 1 first: fingers must go M, I, T
        and list(fingers) == sorted(fingers, key="MIT".index)
    ]
    return list(found) or [None]


def _score(groups: list[list[Note]], choice: tuple[tuple[str, ...] | None, ...], style: str) -> list[float]:
    last: dict[str, int] = {}
    costs = []
    for group, fingers in zip(groups, choice, strict=True):
        if fingers is None:
            costs.append(AGAIN)
            continue
        onset = group[0].onset
        again = 0.0
        for finger in fingers:
            gap = onset - last[finger] if finger in last else 10**9
            if gap <= 2 * E:
                again = max(again, AGAIN * (E / max(E // 4, gap)) ** 4)
        costs.append(again + max(REACH[style][f][n.string] for f, n in zip(fingers, group, strict=True)))
        last.update(dict.fromkeys(fingers, onset))
    return costs


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
    assert _playable(reach, 8) == known  # of 5^8, computed
    monkeypatch.setitem(REACH, "roll", {f: dict.fromkeys(strings, 0.0) for f, strings in reach.items()})
    easy = sum(_hand(_eighths("".join(s))).worst < AGAIN for s in product("12345", repeat=5))
    assert easy == _playable(reach, 5)
