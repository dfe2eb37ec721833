"""Votes, and what has been liked best of all."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from sqlite3 import Connection

from service.clock import stamp
from service.errors import Conflict, Forbidden
from service.groups.ballots import Standing, Tally, favourites, weight_of
from service.store import variations as rows
from service.store.challenges import ChallengeRow
from service.store.variations import ENTERED, VariationRow
from service.usecases.house import House
from service.usecases.identify import Caller, member_of, reach_group
from service.usecases.variations import Variation, counted, find_variation, may_see, open_challenge, told


async def vote(house: House, caller: Caller, group_slug: str, number: int, *, given: bool) -> Variation:
    """Give one's vote for a variation, or take it back, until its challenge closes. Doing so again changes nothing.

    Raises Forbidden ``own-variation``, Conflict ``challenge-not-open`` or ``not-entered``.
    """
    group = reach_group(house, caller, group_slug, "vote")
    member_id = member_of(caller)
    now = stamp(house.clock())

    def unit(connection: Connection) -> tuple[VariationRow, ChallengeRow, int | None, bool]:
        row = find_variation(connection, group.id, number)
        may_see(row, caller)
        challenge = open_challenge(connection, group.id, row.challenge)
        if row.member_id == member_id:
            raise Forbidden("own-variation")
        if row.state != ENTERED:
            raise Conflict("not-entered", variation=number)
        if given:
            rows.cast_vote(connection, challenge.id, row.id, member_id, now)
        else:
            rows.take_vote_back(connection, challenge.id, row.id, member_id)
        return row, challenge, *counted(connection, row, challenge, caller)

    row, challenge, votes, voted = await house.database.write(unit)
    return told(row, challenge, caller, votes, voted)


@dataclass(frozen=True, slots=True)
class Favourite:
    standing: Standing
    variation: VariationRow


def list_favourites(house: House, caller: Caller, group_slug: str, most: int) -> Sequence[Favourite]:
    """What the group has liked best in all its challenges, best first."""
    group = reach_group(house, caller, group_slug, "read-group")
    points = house.database.points
    counted = [Tally(number, votes, chances) for number, votes, chances, _ in rows.results(points, group.id)]
    found = []
    for standing in favourites(counted)[:most]:
        row = rows.variation_by_number(points, group.id, standing.entry)
        if row is not None and standing.votes:
            found.append(Favourite(standing, row))
    return found


def lick_weights(connection: Connection, group_id: int) -> tuple[int, tuple[tuple[int, int], ...]]:
    """What licks of the pool weigh by the votes they had as variations: (weight of all others, ((lick, weight), ...))."""
    results = rows.results(connection, group_id)
    placed = {s.entry: s.score for s in favourites([Tally(number, *had) for number, *had, _ in results])}
    scores = {lick: placed[number] for number, _, _, lick in results if lick is not None}
    usual = sum(placed.values(), Fraction(0)) / len(placed) if placed else Fraction(1, 2)
    return weight_of(usual), tuple((lick, weight_of(score)) for lick, score in sorted(scores.items()))
