"""Votes counted so that who came late is not behind for it."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.groups.ballots import (
    PRIOR_CHANCES,
    Ballot,
    Entry,
    Standing,
    Tally,
    favourites,
    standings,
    tallies,
    weight_of,
)

MONDAY, TUESDAY, FRIDAY, SATURDAY = (f"2026-11-{day:02}T18:00:00Z" for day in (2, 3, 6, 7))


def test_chances_are_those_who_looked_again_after_an_entry_came_in() -> None:
    early, late = Entry(1, author=100, entered=MONDAY), Entry(2, author=200, entered=FRIDAY)
    ballots = [Ballot(1, voter, TUESDAY) for voter in (11, 12, 13)] + [
        Ballot(1, 14, SATURDAY),
        Ballot(2, 14, SATURDAY),
    ]
    assert tallies([early, late], ballots) == [Tally(1, 4, 4), Tally(2, 1, 1)]


def test_an_author_is_no_chance_for_their_own_entry() -> None:
    entries = [Entry(1, 100, MONDAY), Entry(2, 200, MONDAY)]
    ballots = [Ballot(2, 100, TUESDAY), Ballot(1, 200, TUESDAY), Ballot(1, 300, TUESDAY)]
    assert tallies(entries, ballots) == [Tally(1, 2, 2), Tally(2, 1, 2)]


def test_a_late_entry_that_all_who_saw_it_liked_is_before_an_early_one_that_few_did() -> None:
    found = standings([Tally(1, 4, 10), Tally(2, 3, 3)])
    assert [standing.entry for standing in found] == [2, 1]


def test_an_entry_that_nobody_could_vote_for_stands_at_the_average() -> None:
    found = {s.entry: s.score for s in standings([Tally(1, 6, 10), Tally(2, 2, 10), Tally(3, 0, 0)])}
    assert found[3] == Fraction(8, 20)
    assert found[1] > found[3] > found[2]


def test_with_half_of_all_chances_taken_it_is_the_rule_of_succession() -> None:
    # Laplace: (successes + 1) / (trials + 2), which the m-estimate is for m = 2 and a prior of one half [published]
    assert PRIOR_CHANCES == 2
    found = {s.entry: s.score for s in standings([Tally(1, 7, 9), Tally(2, 2, 9)])}
    assert found == {1: Fraction(8, 11), 2: Fraction(3, 11)}


def test_equal_scores_with_equal_votes_share_a_rank_and_the_next_is_skipped() -> None:
    found = standings([Tally(1, 1, 4), Tally(2, 3, 4), Tally(3, 3, 4), Tally(4, 0, 4)])
    assert [(s.entry, s.rank) for s in found] == [(2, 1), (3, 1), (1, 3), (4, 4)]


def test_of_equal_scores_more_votes_come_first() -> None:
    # both stand at the average of one half
    found = standings([Tally(1, 1, 2), Tally(2, 3, 6)])
    assert [(s.entry, s.rank, s.score) for s in found] == [(2, 1, Fraction(1, 2)), (1, 2, Fraction(1, 2))]


def test_of_all_time_one_vote_of_one_is_not_before_many_of_many() -> None:
    found = favourites([Tally(1, 1, 1), Tally(2, 18, 20), Tally(3, 2, 20)])
    assert [s.entry for s in found] == [2, 1, 3]


def test_weights_go_from_one_to_ten_with_halves_rounded_up() -> None:
    assert [weight_of(Fraction(score, 18)) for score in (0, 1, 2, 9, 17, 18)] == [1, 2, 2, 6, 10, 10]


ids = st.integers(1, 6)
stamps = st.sampled_from([MONDAY, TUESDAY, FRIDAY, SATURDAY])
elections = st.tuples(
    st.lists(st.builds(Entry, ids, st.integers(1, 8), stamps), max_size=6, unique_by=lambda e: e.id),
    st.lists(
        st.builds(Ballot, ids, st.integers(1, 8), stamps), max_size=40, unique_by=lambda b: (b.entry, b.voter)
    ),
)


@given(elections)
def test_tallies_are_what_going_through_every_voter_finds(election: tuple[list[Entry], list[Ballot]]) -> None:
    entries, ballots = election
    for entry, tally in zip(entries, tallies(entries, ballots), strict=True):
        votes = chances = 0
        for voter in range(1, 9):
            own = [b for b in ballots if b.voter == voter]
            for_it = any(b.entry == entry.id for b in own)
            if voter != entry.author and own and (for_it or any(b.cast >= entry.entered for b in own)):
                chances += 1
                votes += for_it
        assert (tally.votes, tally.chances) == (votes, chances)


@given(elections, st.randoms())
def test_the_order_votes_are_counted_in_changes_nothing(
    election: tuple[list[Entry], list[Ballot]], random: "st.Random"
) -> None:
    entries, ballots = election
    shuffled = random.sample(ballots, len(ballots))
    assert standings(tallies(entries, ballots)) == standings(tallies(entries, shuffled))


tallied = st.lists(
    st.builds(lambda entry, votes, more: Tally(entry, votes, votes + more), ids, st.integers(0, 9), st.integers(0, 9)),
    max_size=6, unique_by=lambda tally: tally.entry,
)  # fmt: skip


@given(tallied)
def test_scores_lie_between_an_entrys_own_share_and_the_average(counted: list[Tally]) -> None:
    found: list[Standing] = standings(counted)
    assert sorted(s.entry for s in found) == sorted(t.entry for t in counted)
    chances = sum(t.chances for t in counted)
    usual = Fraction(sum(t.votes for t in counted), chances) if chances else Fraction(1, 2)
    for standing in found:
        own = Fraction(standing.votes, standing.chances) if standing.chances else usual
        assert min(own, usual) <= standing.score <= max(own, usual)
    assert all(a.score >= b.score and a.rank <= b.rank for a, b in pairwise(found))
