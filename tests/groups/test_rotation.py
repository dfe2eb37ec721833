"""Whose turn it is."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.groups.rotation import Key, Spot, next_spot

SPOTS = [
    Spot("heron", "A", 1, "opener", 1), Spot("heron", "A", 2, "body", 2), Spot("heron", "A", 4, "tag", 2),
    Spot("thimble", "A", 1, "opener", 2), Spot("thimble", "A", 4, "tag", 3), Spot("mitten", "B", 3, "set-up", 4),
]  # fmt: skip


def _drawn(spots: list[Spot], how_many: int, levels: tuple[int, int] = (1, 5)) -> list[Spot]:
    past: list[Key] = []
    found = []
    for _ in range(how_many):
        spot = next_spot(spots, past, levels, f"group:{len(past)}")
        assert spot is not None
        found.append(spot)
        past.append(spot.key)
    return found


def test_each_phrase_comes_once_before_any_comes_again() -> None:
    drawn = _drawn(SPOTS, 18)
    for start in (0, 6, 12):
        assert {spot.key for spot in drawn[start : start + 6]} == {spot.key for spot in SPOTS}


def test_roles_take_turns_first() -> None:
    assert {spot.role for spot in _drawn(SPOTS, 4)} == {"opener", "body", "tag", "set-up"}


def test_of_one_role_tunes_take_turns() -> None:
    spots = [Spot(tune, "A", index, "body", 2) for tune in ("heron", "thimble", "mitten") for index in (1, 2)]
    drawn = [spot.tune for spot in _drawn(spots, 6)]
    assert set(drawn[:3]) == set(drawn[3:]) == {"heron", "thimble", "mitten"}


def test_a_new_round_does_not_begin_with_what_came_last() -> None:
    drawn = _drawn(SPOTS[:2], 40)
    assert all(before.key != after.key for before, after in pairwise(drawn))


def test_a_single_phrase_comes_every_week() -> None:
    assert [spot.key for spot in _drawn(SPOTS[:1], 3)] == [("heron", "A", 1)] * 3


def test_phrases_at_the_groups_levels_come_alone() -> None:
    assert {spot.level for spot in _drawn(SPOTS, 8, (3, 4))} == {3, 4}


def test_where_none_is_at_the_groups_levels_the_nearest_come() -> None:
    assert {spot.level for spot in _drawn(SPOTS, 4, (5, 5))} == {4}


def test_a_phrase_without_a_lick_of_known_level_counts_as_fitting() -> None:
    spots = [Spot("heron", "A", 1, "opener", None), Spot("heron", "A", 2, "body", 5)]
    assert {spot.index for spot in _drawn(spots, 4, (1, 2))} == {1}


def test_without_tunes_nothing_is_drawn() -> None:
    assert next_spot([], [("gone", "A", 1)], (1, 5), "seed") is None


def test_a_new_tune_joins_the_round_that_runs_and_one_that_is_gone_is_not_missed() -> None:
    past = [spot.key for spot in _drawn(SPOTS, 4)]
    left = {spot.key for spot in SPOTS} - set(past)
    new = Spot("eel-pot", "A", 1, "opener", 2)
    now = [spot for spot in SPOTS if spot.tune != "mitten"] + [new]
    expected = ({key for key in left if key[0] != "mitten"}) | {new.key}
    came = []
    for _ in expected:
        spot = next_spot(now, past, (1, 5), f"group:{len(past)}")
        assert spot is not None
        came.append(spot.key)
        past.append(spot.key)
    assert set(came) == expected


keys = st.tuples(st.sampled_from("abc"), st.sampled_from("AB"), st.integers(1, 4))
some_spots = st.lists(
    st.builds(
        lambda key, role, level: Spot(*key, role, level),
        keys, st.sampled_from(["opener", "body", "tag"]), st.none() | st.integers(1, 5),
    ),
    min_size=1, max_size=12, unique_by=lambda spot: spot.key,
)  # fmt: skip


@given(some_spots, st.lists(keys, max_size=30), st.text(max_size=5))
def test_the_same_past_gives_the_same_turn_whatever_order_tunes_are_listed_in(
    spots: list[Spot], past: list[Key], seed: str
) -> None:
    assert next_spot(spots, past, (1, 5), seed) == next_spot(spots[::-1], past, (1, 5), seed)


@given(some_spots, st.integers(1, 3))
def test_rounds_are_complete_for_any_tunes(spots: list[Spot], rounds: int) -> None:
    drawn = [spot.key for spot in _drawn(spots, rounds * len(spots))]
    for start in range(0, len(drawn), len(spots)):
        assert len(set(drawn[start : start + len(spots)])) == len(spots)
