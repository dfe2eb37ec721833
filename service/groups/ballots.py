"""Votes counted so that who came late is not behind for it.

A vote says: I like this one. What an entry is measured by is the share of those who could vote for it that did. Whoever never
looked again after it came in is not among them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

# An entry counts as if so many more had looked at it and voted as often as all did on average: the m of the m-estimate of
# probability (B. Cestnik, "Estimating probabilities: a crucial task in machine learning", ECAI 1990). How large is ours.
PRIOR_CHANCES = 2
PRIOR_CHANCES_ALL_TIME = 4
MOST_WEIGHT = 9  # a lick that all voted for is drawn ten times as often as one that nobody did


@dataclass(frozen=True, slots=True)
class Entry:
    """``entered`` is an ISO 8601 moment in UTC."""

    id: int
    author: int
    entered: str


@dataclass(frozen=True, slots=True)
class Ballot:
    entry: int
    voter: int
    cast: str


@dataclass(frozen=True, slots=True)
class Tally:
    """``chances``: how many could have voted for it and would have seen it."""

    entry: int
    votes: int
    chances: int


@dataclass(frozen=True, slots=True)
class Standing:
    """``score`` 0 to 1; equal ones with equal votes share a rank."""

    entry: int
    votes: int
    chances: int
    score: Fraction
    rank: int


def tallies(entries: Sequence[Entry], ballots: Iterable[Ballot]) -> list[Tally]:
    """Votes and chances of each entry. A chance is anybody but its author who voted for it, or cast a vote after it came in."""
    last: dict[int, str] = {}
    votes: dict[int, set[int]] = {entry.id: set() for entry in entries}
    authors = {entry.id: entry.author for entry in entries}
    for ballot in ballots:
        last[ballot.voter] = max(ballot.cast, last.get(ballot.voter, ""))
        if ballot.entry in votes and ballot.voter != authors[ballot.entry]:
            votes[ballot.entry].add(ballot.voter)
    return [
        Tally(
            entry.id,
            len(votes[entry.id]),
            len(
                votes[entry.id]
                | {v for v, when in last.items() if v != entry.author and when >= entry.entered}
            ),
        )
        for entry in entries
    ]


def standings(counted: Sequence[Tally]) -> list[Standing]:
    """Best first, by score, then by votes; what is equal in both shares a rank, in the order it came in."""
    return _ranked(counted, PRIOR_CHANCES)


def favourites(counted: Sequence[Tally]) -> list[Standing]:
    """The same for entries of many challenges: more is asked before one stands far from the average."""
    return _ranked(counted, PRIOR_CHANCES_ALL_TIME)


def _ranked(counted: Sequence[Tally], prior: int) -> list[Standing]:
    chances = sum(tally.chances for tally in counted)
    usual = Fraction(sum(tally.votes for tally in counted), chances) if chances else Fraction(1, 2)
    scores = [(tally.votes + prior * usual) / (tally.chances + prior) for tally in counted]
    order = sorted(range(len(counted)), key=lambda at: (-scores[at], -counted[at].votes))
    found: list[Standing] = []
    for place, at in enumerate(order, 1):
        tally, score = counted[at], scores[at]
        same = found and (found[-1].score, found[-1].votes) == (score, tally.votes)
        rank = found[-1].rank if same else place
        found.append(Standing(tally.entry, tally.votes, tally.chances, score, rank))
    return found


def weight_of(score: Fraction) -> int:
    """What a lick of that score weighs in a draw: 1 to 10, halves rounded up."""
    return 1 + int(MOST_WEIGHT * score + Fraction(1, 2))
