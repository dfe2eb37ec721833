"""The rule by which phrases take turns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.groups.rotation import Place, Spot, next_spot

ANY_LEVEL = (1, 5)


def _spot(name: str, role: str = "body", level: int | None = 3) -> Spot:
    """``mill-race A 2`` as a spot."""
    tune, part, index = name.split()
    return Spot(tune, part, int(index), role, level)


def _drawn(
    spots: list[Spot], times: int, past: list[Place] | None = None, seed: str = "ferry-lane"
) -> list[Spot]:
    """What comes in that many weeks after a past."""
    came = list(past or [])
    found = []
    for _ in range(times):
        spot = next_spot(spots, came, ANY_LEVEL, seed)
        assert spot is not None
        found.append(spot)
        came.append(spot.place)
    return found


roles = st.sampled_from(["opener", "body", "set-up", "tag"])
tunes = st.sampled_from(["mill-race", "low-water", "lamplight"])
pools = st.lists(
    st.builds(Spot, tunes, st.sampled_from("AB"), st.integers(0, 3), roles, st.none() | st.integers(1, 5)),
    min_size=1,
    max_size=9,
    unique_by=lambda spot: spot.place,
)
pasts = st.lists(st.tuples(tunes, st.sampled_from("ABC"), st.integers(0, 4)), max_size=20)
seeds = st.text(max_size=5)


@given(pools, seeds)
def test_every_spot_comes_once_in_each_cycle(spots: list[Spot], seed: str) -> None:
    found = _drawn(spots, 4 * len(spots), seed=seed)
    for begin in range(0, len(found), len(spots)):
        assert sorted(found[begin : begin + len(spots)], key=repr) == sorted(spots, key=repr)


@given(pools, seeds)
def test_no_spot_comes_twice_in_a_row_if_there_is_another(spots: list[Spot], seed: str) -> None:
    found = _drawn(spots, 3 * len(spots), seed=seed)
    if len(spots) > 1:
        assert all(found[n] != found[n + 1] for n in range(len(found) - 1))


@given(pools, pasts, seeds)
def test_whatever_came_before_all_others_come_before_one_comes_again(
    spots: list[Spot], past: list[Place], seed: str
) -> None:
    found = _drawn(spots, 3 * len(spots), past, seed)
    running = next((n for n in range(len(found)) if found[n] in found[:n]), len(found))
    assert running <= len(spots)  # the cycle that had begun ends, then whole ones follow
    ends = [n for n in range(len(spots) + 1) if set(found[n : n + len(spots)]) == set(spots)]
    assert ends
    assert ends[0] <= running


@given(pools, pasts, st.tuples(st.integers(1, 5), st.integers(1, 5)).map(sorted), seeds, st.randoms())
def test_the_order_in_which_spots_are_given_does_not_matter(
    spots: list[Spot], past: list[Place], levels: list[int], seed: str, random: object
) -> None:
    lowest, highest = levels
    shuffled = list(spots)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    found = next_spot(spots, past, (lowest, highest), seed)
    assert found is not None
    assert next_spot(shuffled, past, (lowest, highest), seed) == found


@given(pools, pasts, st.tuples(st.integers(1, 5), st.integers(1, 5)).map(sorted), seeds)
def test_of_what_may_come_the_longest_unused_role_is_taken_then_the_longest_unused_tune(
    spots: list[Spot], past: list[Place], levels: list[int], seed: str
) -> None:
    lowest, highest = levels
    inside = [s for s in spots if s.level is None or lowest <= s.level <= highest]
    if not inside:
        away = min(min(abs(s.level - lowest), abs(s.level - highest)) for s in spots if s.level)
        inside = [s for s in spots if s.level and away in (lowest - s.level, s.level - highest)]
    known = [place for place in past if place in {s.place for s in inside}]
    begin = 0  # of the running cycle, by looking at each stretch anew
    for end in range(1, len(known) + 1):
        if len(set(known[begin:end])) == len(inside):
            begin = end
    open_now = [s for s in inside if s.place not in known[begin:]]
    if begin == len(known) and known and len(inside) > 1:
        open_now = [s for s in inside if s.place != known[-1]]

    backwards = past[::-1]
    role_at = {s.place: s.role for s in spots}
    past_roles = [role_at.get(place) for place in backwards]
    past_tunes = [tune for tune, _, _ in backwards]

    def weeks_ago(used: list[str | None] | list[str], what: str) -> int:
        return used.index(what) if what in used else 1000

    found = next_spot(spots, past, (lowest, highest), seed)
    assert found in open_now
    rest = [(weeks_ago(past_roles, s.role), weeks_ago(past_tunes, s.tune)) for s in open_now]
    assert (weeks_ago(past_roles, found.role), weeks_ago(past_tunes, found.tune)) == max(rest)


def test_roles_take_turns() -> None:
    spots = [_spot(f"mill-race A {n}", role) for n, role in enumerate(["body"] * 3 + ["tag"] * 3)]
    drawn = [spot.role for spot in _drawn(spots, 12)]
    assert drawn in (["body", "tag"] * 6, ["tag", "body"] * 6)


def test_tunes_take_turns_within_a_role() -> None:
    spots = [_spot(f"{tune} A {n}") for tune in ("mill-race", "low-water", "lamplight") for n in (0, 1)]
    drawn = [spot.tune for spot in _drawn(spots, 12)]
    assert drawn == drawn[:3] * 4
    assert len(set(drawn[:3])) == 3


def test_a_role_goes_before_a_tune() -> None:
    body, tag = _spot("low-water A 0", "body"), _spot("mill-race A 1", "tag")
    spots = [body, tag, _spot("mill-race A 0", "body")]
    assert next_spot(spots, [("mill-race", "A", 0)], ANY_LEVEL, "") == tag


def test_a_spot_that_appears_joins_the_running_cycle() -> None:
    a, b, c, new = (_spot(f"mill-race A {n}") for n in range(4))
    past = [a.place, b.place]
    assert set(_drawn([a, b, c, new], 2, past)) == {c, new}
    assert set(_drawn([a, b, c, new], 6, past)[2:]) == {a, b, c, new}


def test_a_spot_that_is_gone_is_not_waited_for() -> None:
    a, b, gone = (_spot(f"mill-race A {n}") for n in range(3))
    assert _drawn([a, b], 3, [gone.place, a.place]) == [b, a, b]
    assert _drawn([a, b], 2, [a.place, b.place]) == [a, b]
    assert _drawn([a, b], 2, [a.place, b.place, gone.place]) == [a, b]


@pytest.mark.parametrize(
    ("levels", "wanted"),
    [
        ((1, 2), {1, 2, None}),
        ((2, 2), {2, None}),
        ((3, 4), {None}),  # an unknown level fits
        ((5, 5), {5, None}),
    ],
)
def test_spots_of_the_wanted_levels_come(levels: tuple[int, int], wanted: set[int | None]) -> None:
    spots = [_spot(f"mill-race A {n}", level=level) for n, level in enumerate([1, 2, 5, None])]
    past: list[Place] = []
    for _ in range(8):
        spot = next_spot(spots, past, levels, "seed")
        assert spot is not None
        past.append(spot.place)
    assert {spot.level for spot in spots if spot.place in past} == wanted


@pytest.mark.parametrize(("levels", "wanted"), [((3, 3), {2, 4}), ((5, 5), {4}), ((1, 1), {2})])
def test_where_no_level_fits_the_nearest_come(levels: tuple[int, int], wanted: set[int]) -> None:
    spots = [_spot("mill-race A 0", level=2), _spot("mill-race A 1", level=4)]
    first = next_spot(spots, [], levels, "seed")
    assert first is not None
    second = next_spot(spots, [first.place], levels, "seed")
    assert second is not None
    assert {first.level, second.level} == wanted


def test_a_single_spot_comes_every_week() -> None:
    only = _spot("mill-race A 0")
    assert _drawn([only], 3) == [only] * 3


def test_without_spots_nothing_comes() -> None:
    assert next_spot([], [("mill-race", "A", 0)], ANY_LEVEL, "seed") is None


def test_the_seed_decides_where_nothing_else_does_and_always_alike() -> None:
    spots = [_spot(f"mill-race A {n}") for n in range(8)]
    firsts = {seed: next_spot(spots, [], ANY_LEVEL, seed) for seed in map(str, range(40))}
    assert len(set(firsts.values())) > 4
    assert firsts == {seed: next_spot(spots, [], ANY_LEVEL, seed) for seed in firsts}
    assert firsts["7"] == _spot("mill-race A 7")  # on every machine, in every run
