"""The outbox: what the chat shall post.

A post is written within the unit that gives cause for it. A bot claims posts for a while, sends each with its nonce, and says
what became of it. A claim that was never answered ends, and the post is handed out again, marked as perhaps sent already: the
nonce, which never changes, tells whether it was.
"""

import hashlib
from base64 import b32encode
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from sqlite3 import Connection
from typing import Any, Literal

import msgspec

from service.clock import stamp
from service.errors import Conflict, NotFound
from service.store import groups as group_rows
from service.store import people
from service.store import posts as rows
from service.store.groups import GroupRow
from service.store.posts import PostRow
from service.store.taken_down import taken_down
from service.usecases.audited import NEWEST, note
from service.usecases.group_settings import settings_of
from service.usecases.house import House
from service.usecases.identify import AT_THE_MACHINE, Caller, reach_group, require

LEASE_S = 60  # how long a bot has to send what it claimed
# Waiting before trying again, doubled each time, and how often before a post is parked; ours.
AGAIN_S, LONGEST_WAIT_S, MOST_CLAIMS = 30, 3600, 8
TOLD_EVERY = timedelta(days=1)  # organisers hear of trouble with the channel once a day at most
MOST_UNANSWERED = (
    2 * MOST_CLAIMS
)  # claims of a post, after which it holds up its group's others no longer; ours
NO_ANSWER = "no-answer"  # why it is parked then
# Kinds that belong under the announcement of a challenge, and the parameter that has its number.
UNDER = {"variation": "in_challenge", "reminder": "challenge", "round-up": "challenge"}
NONCE_LETTERS = 20  # after a prefix of two: chats take 25

Trouble = Literal["channel-gone", "not-permitted", "refused", "try-again"]
PARKING = frozenset(("channel-gone", "not-permitted", "refused"))
# What posts of some kinds can be shown with, whole: params name its number.
DRAWN = {"lick": frozenset(("challenge",)), "variation": frozenset(("variation",))}
TROUBLE = "channel-trouble"  # the kind of post that tells organisers


def post(
    connection: Connection,
    group: GroupRow,
    kind: str,
    params: dict[str, Any],
    now: str,
    *,
    useful_until: str | None = None,
    recipient: str | None = None,
) -> int:
    """Within a unit: something to post to the group's channel, or to one person."""
    told = msgspec.json.encode(params).decode()
    post_id = rows.add_post(
        connection, group.id, kind, told, now, useful_until=useful_until, recipient=recipient
    )
    _name(connection, group, post_id, now)
    return post_id


def _name(connection: Connection, group: GroupRow, post_id: int, now: str) -> None:
    """Give a post its nonce. The time goes in because a restored backup counts its posts anew."""
    told = hashlib.sha256(f"{group.slug}:{post_id}:{now}".encode()).digest()
    rows.set_nonce(connection, post_id, "bw" + b32encode(told).decode()[:NONCE_LETTERS].lower())


def edit(connection: Connection, group: GroupRow, about: PostRow, params: dict[str, Any], now: str) -> None:
    """Within a unit: let an earlier post say something else now."""
    _follow(connection, group, about, rows.EDIT, params, now)


def delete(connection: Connection, group: GroupRow, about: PostRow, now: str) -> None:
    """Within a unit: take an earlier post away; one that was not sent yet never will be."""
    _follow(connection, group, about, rows.DELETE, msgspec.json.decode(about.params), now)


def _follow(
    connection: Connection, group: GroupRow, about: PostRow, deed: str, params: dict[str, Any], now: str
) -> None:
    told = msgspec.json.encode(params).decode()
    untouched = about.state == rows.WAITING and about.claims == 0
    if untouched or about.state == rows.PARKED:
        _change(connection, about.id, deed, told, now)
    elif about.state != rows.LAPSED:
        post_id = rows.add_post(connection, group.id, about.kind, told, now, deed=deed, about=about.id)
        _name(connection, group, post_id, now)


def _change(connection: Connection, post_id: int, deed: str, params: str, now: str) -> None:
    """What was to be edited or deleted and is not sent yet says something else, or is of no use any more."""
    if deed == rows.EDIT:
        rows.set_params(connection, post_id, params)
    else:
        rows.set_lapsed(connection, post_id, now)


def tell_organisers(
    connection: Connection, group: GroupRow, kind: str, params: dict[str, Any], now: str, since: str
) -> None:
    """Within a unit: a message to each organiser on the group's platform, unless there was one of the kind since then."""
    if rows.told_of(connection, group.id, kind, since):
        return
    for member in people.organisers(connection, group.id):
        if member.user_id is not None and member.platform == group.platform:
            post(connection, group, kind, params, now, recipient=member.user_id)


# --- what a bot does ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Claimed:
    """A post to be sent, edited or deleted. ``names`` are those of the members that its params speak of, by number; ``under`` is
    the message in the same channel that announced the challenge it belongs to."""

    row: PostRow
    group: GroupRow
    params: dict[str, Any]
    names: dict[int, str]
    under: str | None

    @property
    def perhaps_sent(self) -> bool:
        """It was claimed before, and nobody said what became of it."""
        return self.row.claims > 1


async def claim(house: House, caller: Caller, platform: str, most: int, lease_s: int) -> Sequence[Claimed]:
    """Posts for the groups of a platform, each group's in their order, for as long as the lease."""
    require(caller, "claim-posts")
    now = house.clock()
    at, until = stamp(now), stamp(now + timedelta(seconds=lease_s))

    def unit(connection: Connection) -> list[Claimed]:
        rows.lapse(connection, at)
        found: list[Claimed] = []
        for row in rows.claimable(connection, platform, at, most):
            group = group_rows.group_by_id(connection, row.group_id)
            if group is None:
                continue
            target = None if row.about is None else rows.post_by_id(connection, row.about)
            if row.about is not None and (target is None or target.state != rows.SENT):
                if (
                    target is not None and target.state == rows.PARKED
                ):  # it may be tried again: as it is by now
                    _change(connection, target.id, row.deed, row.params, at)
                rows.set_lapsed(connection, row.id, at)
                continue
            if row.claims >= MOST_UNANSWERED:
                rows.park(connection, row.id, NO_ANSWER, at)
                continue
            channel = row.channel or settings_of(group).channel
            if target is not None:
                channel = target.channel
            rows.claim(connection, row.id, until, None if row.recipient else channel)
            row = replace(row, claims=row.claims + 1, lease_until=until)
            row = replace(row, channel=None if row.recipient else channel)
            if target is not None:
                row = replace(row, message_id=target.message_id)
            params = _without_taken_down(connection, group.id, msgspec.json.decode(row.params))
            names, under = _names(connection, group.id, params), _under(connection, row, params)
            found.append(Claimed(row, group, params, names, under))
        return found

    return await house.database.write(unit)


def _without_taken_down(connection: Connection, group_id: int, params: dict[str, Any]) -> dict[str, Any]:
    """Of a lick that was taken down since, neither number nor name goes into the chat."""
    lick = params.get("lick")
    if lick is None or taken_down(connection, group_id, lick) is None:
        return params
    return {**params, "lick": None, "lick_name": None}


def _under(connection: Connection, row: PostRow, params: dict[str, Any]) -> str | None:
    """The message under which a post belongs; None where that was not sent, or to another channel."""
    if row.kind not in UNDER:
        return None
    announced = rows.announcement(connection, row.group_id, params[UNDER[row.kind]])
    if announced is None or announced.state != rows.SENT or announced.channel != row.channel:
        return None
    return announced.message_id


def _names(connection: Connection, group_id: int, params: dict[str, Any]) -> dict[int, str]:
    wanted = {params.get("by"), *(entry.get("by") for entry in params.get("standings", ()))}
    found = {}
    for number in wanted - {None}:
        member = people.member_by_number(connection, group_id, number)
        if member is not None:
            found[member.number] = member.name
    return found


def _find(connection: Connection, post_id: int) -> PostRow:
    row = rows.post_by_id(connection, post_id)
    if row is None:
        raise NotFound("not-found", what="post")
    return row


async def mark_sent(house: House, caller: Caller, post_id: int, message_id: str) -> PostRow:
    """What was claimed was done, also where the lease is over. Saying so again changes nothing.

    Raises Conflict ``sent-already`` for another message than the one that was told: that one is the double.
    """
    require(caller, "claim-posts")
    now = stamp(house.clock())

    def unit(connection: Connection) -> PostRow:
        row = _find(connection, post_id)
        if row.state == rows.SENT:
            if row.message_id != message_id:
                raise Conflict("sent-already", message_id=row.message_id)
            return row
        if row.claims == 0:
            raise Conflict("not-claimed", post=post_id)
        rows.sent(connection, post_id, message_id, now)
        return _find(connection, post_id)

    return await house.database.write(unit)


async def mark_failed(
    house: House, caller: Caller, post_id: int, reason: Trouble, retry_after_s: int | None
) -> PostRow:
    """It could not be done. For now: it waits and is handed out again, some times. For good: it is parked, and the group's
    organisers are told."""
    require(caller, "claim-posts")
    now = house.clock()
    at = stamp(now)

    def unit(connection: Connection) -> PostRow:
        row = _find(connection, post_id)
        if row.state in (rows.SENT, rows.LAPSED, rows.PARKED):
            return row
        if row.claims == 0:
            raise Conflict("not-claimed", post=post_id)
        if reason not in PARKING and row.claims < MOST_CLAIMS:
            wait = max(retry_after_s or 0, min(AGAIN_S * 2 ** (row.claims - 1), LONGEST_WAIT_S))
            rows.wait_again(connection, post_id, stamp(now + timedelta(seconds=wait)), reason)
            return _find(connection, post_id)
        rows.park(connection, post_id, reason, at)
        group = group_rows.group_by_id(connection, row.group_id)
        if group is not None and row.recipient is None:
            params = {"reason": reason, "post": post_id, "kind": row.kind}
            tell_organisers(connection, group, TROUBLE, params, at, stamp(now - TOLD_EVERY))
        return _find(connection, post_id)

    return await house.database.write(unit)


def drawn_in(house: House, caller: Caller, post_id: int) -> tuple[Caller, str, str, int]:
    """What a claimed post can be shown with: a caller who may see it, the group, ``lick`` or ``variation``, and its number.

    Raises NotFound for a post that was not claimed, or is about nothing that can be drawn.
    """
    require(caller, "claim-posts")
    points = house.database.points
    row = rows.post_by_id(points, post_id)
    group = None if row is None or row.claims == 0 else group_rows.group_by_id(points, row.group_id)
    if row is None or group is None:
        raise NotFound("not-found", what="post")
    params = msgspec.json.decode(row.params)
    for what, kinds in DRAWN.items():
        if row.kind in kinds and params.get(what) is not None:
            return replace(AT_THE_MACHINE, group_id=group.id), group.slug, what, params[what]
    raise NotFound("not-found", what="post")


def waiting(house: House) -> int:
    """How many posts of all groups are still to be brought into a chat."""
    return rows.count_waiting(house.database.points)


# --- what an organiser sees -----------------------------------------------------------------------------------


def list_posts(
    house: House, caller: Caller, group_slug: str, before: int | None, limit: int
) -> Sequence[PostRow]:
    """A group's posts, newest first, and what became of each."""
    group = reach_group(house, caller, group_slug, "read-posts")
    return rows.posts_before(house.database.points, group.id, before or NEWEST, limit)


async def bring_back(house: House, caller: Caller, group_slug: str) -> int:
    """Let parked posts that are still of use be tried again; how many there are."""
    group = reach_group(house, caller, group_slug, "read-posts")
    now = stamp(house.clock())

    def unit(connection: Connection) -> int:
        count = rows.bring_back(connection, group.id, now)
        note(connection, caller, group.id, now, "bring-posts-back", f"group {group.slug}", posts=count)
        return count

    return await house.database.write(unit)
