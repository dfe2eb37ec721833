"""Challenges of the week, variations, votes, and what the chat shall post of them."""

from typing import Annotated, Any, Literal

from msgspec import Meta

from schemas.base import LINES, Name, Place, Request, Response, Sentence, Slug
from schemas.breaks import SettingOut
from schemas.groups import Platform, PlatformId
from schemas.judgements import FitOut, TempoOut
from schemas.licks import LickNumber
from schemas.readings import NoteOut
from schemas.tunes import RightsIn

Line = Annotated[str, Meta(max_length=500, pattern=LINES, description="A few words, on one line or several.")]


class ChallengeIn(Request):
    """A phrase to vary. ``lick`` is where it begins: without one that of the tune's plain break, or the one that suits best.

    ``opens`` now, or when the group's next week begins. ``secret``: nobody sees how votes stand before the round-up.
    """

    tune: Slug
    phrase: Annotated[int, Meta(ge=1, le=512)]
    instrument: str | None = None
    tuning: str | None = None
    lick: LickNumber | None = None
    note: Line = ""
    opens: Literal["now", "next-week"] = "now"
    secret: bool | None = None


class GoalOut(Response):
    """What players of a level may aim at, and the tempos on the way, in the tune's own beats."""

    level: int
    tempo: TempoOut
    ladder: list[int]


class ChallengeOut(Response):
    """``state`` is planned, open, closed or cancelled; chords are in the playing position; times are UTC."""

    number: int
    state: str
    drawn: bool
    tune: str
    tune_name: str
    phrase: int
    part: str
    place: int
    role: str
    chords: str
    setting: SettingOut
    lick: int | None
    lick_name: str | None
    goals: list[GoalOut]
    note: str
    secret: bool
    opens: str
    closes: str
    links: dict[str, str]


class ChallengeList(Response):
    items: list[ChallengeOut]
    next: str | None = None


class VariationIn(Request):
    """``text`` is tab or the one-line form over the challenge's chords; what is left out is as in the challenge."""

    text: Annotated[str, Meta(min_length=1, max_length=20_000)]
    name: Name | None = None
    comment: Line = ""
    instrument: str | None = None
    tuning: str | None = None
    hand_style: str | None = None
    style: str | None = None
    columns: Annotated[int, Meta(ge=1, le=96)] | None = None
    rights: RightsIn = RightsIn()


class VariationReviewIn(Request):
    """``accept`` one that is held into the challenge, ``refuse`` one (its author reads why), or take it into the ``pool`` too."""

    decision: Literal["accept", "refuse", "pool"]
    reason: Line = ""


class VariationOut(Response):
    """``state`` is entered, held (see ``reasons``: what to mend) or refused. Notes, tab and what is judged of them are null while
    there is only a recording. ``votes`` is null while they are secret. ``mine`` and ``voted`` are about whoever asks;
    ``tab_by`` is the member who wrote a recording down, ``lick`` its number in the pool."""

    number: int
    challenge: int
    revision: int
    state: str
    name: str
    by: int | None
    by_name: str | None
    comment: str
    reason: str | None
    entered: str
    votes: int | None
    mine: bool
    voted: bool
    instrument: str | None
    level: int | None
    chords: str | None
    notes: list[NoteOut] | None
    tab: str | None
    line: str | None
    fit: FitOut | None
    top: TempoOut | None
    reasons: list[Sentence]
    warnings: list[Place]
    rights: RightsIn | None
    tab_by: int | None
    recording: bool
    lick: int | None
    links: dict[str, str]


class VariationList(Response):
    items: list[VariationOut]
    next: str | None = None


class StandingOut(Response):
    """``score`` is the share of those who could have voted for it that did, drawn towards the average of all where few could;
    equal ones share a ``rank``."""

    rank: int
    variation: int
    name: str
    by: int | None
    by_name: str | None
    votes: int
    chances: int
    score: float
    lick: int | None


class RoundUpOut(Response):
    challenge: ChallengeOut
    standings: list[StandingOut]


class FavouriteList(Response):
    items: list[StandingOut]
    next: str | None = None


# --- the outbox ---------------------------------------------------------------------------------------------


class ClaimsIn(Request):
    """Posts for the groups of a platform; whoever claims them has ``lease_s`` seconds to send them."""

    platform: Platform
    most: Annotated[int, Meta(ge=1, le=50)] = 10
    lease_s: Annotated[int, Meta(ge=5, le=900)] = 60


class PostOut(Response):
    """Something to ``send``, ``edit`` or ``delete``: in ``channel`` (for edit and delete: message ``message_id`` there), or as a
    message to the user ``recipient``.

    ``nonce`` never changes for a post. ``perhaps_sent``: it was claimed before and nobody said what became of it, so look for the
    nonce first. ``under`` is the message in the same channel that announced the challenge, for a variation, a reminder or a
    round-up that can stand in a thread below it; null where that was not sent there. ``text`` is the whole in the group's
    ``language``, ``params`` the same in parts, times as UTC stamps, ``until`` as the text has it: what of a lick was taken down is null.
    """

    id: int
    kind: str
    deed: str
    group: str
    platform: str
    server_id: str
    channel: str | None
    recipient: str | None
    message_id: str | None
    nonce: str
    perhaps_sent: bool
    lease_until: str
    under: str | None
    language: str
    text: str
    params: dict[str, Any]


class PostList(Response):
    items: list[PostOut]
    next: str | None = None


class SentIn(Request):
    message_id: PlatformId


class FailedIn(Request):
    """``channel-gone``, ``not-permitted`` and ``refused`` park the post and tell the group's organisers; ``try-again`` lets it wait."""

    reason: Literal["channel-gone", "not-permitted", "refused", "try-again"]
    retry_after_s: Annotated[int, Meta(ge=0, le=86_400)] | None = None


class PostStateOut(Response):
    """What became of a post: waiting, claimed, sent, parked (see ``reason``), or lapsed, which is of no use any more."""

    id: int
    kind: str
    deed: str
    state: str
    reason: str | None
    due: str
    created: str
    done: str | None
    channel: str | None
    message_id: str | None


class PostStateList(Response):
    items: list[PostStateOut]
    next: str | None = None


class BroughtBackOut(Response):
    posts: int
