"""What each role may do, and which scope a token needs for it: one table."""

from dataclasses import dataclass

ROLES = (
    "operator",
    "bot",
    "organiser",
    "member",
    "guest",
)  # a guest is somebody in the chat who has not joined

# A token may be held to some of these.
SCOPES = {
    "read": "see the group's tunes, licks, breaks, challenges and people",
    "play": "draw breaks and have files made",
    "contribute": "submit, vote, log practice",
    "organise": "look after the pool, challenges, people and tokens",
    "deliver": "bind servers, bring posts into the chat",
    "operate": "make groups, read metrics",
}


@dataclass(frozen=True, slots=True)
class Right:
    roles: frozenset[str]
    scope: str


def _right(scope: str, *roles: str) -> Right:
    return Right(frozenset(roles), scope)


_ALL, _PLAYERS, _ORGANISERS = (
    ("operator", "organiser", "member"),
    ("organiser", "member"),
    ("operator", "organiser"),
)

MAY: dict[str, Right] = {
    # the service
    "list-groups": _right("operate", "operator"),
    "make-group": _right("operate", "operator", "bot"),
    "read-metrics": _right("operate", "operator"),
    "change-service-tokens": _right("operate", "operator"),
    "import-group": _right("operate", "operator"),
    # a group and its people
    "read-group": _right("read", *_ALL),
    "change-group": _right("organise", *_ORGANISERS),
    "join": _right("contribute", "guest", *_PLAYERS),
    "read-own-groups": _right("read", "guest", *_PLAYERS),
    "change-members": _right("organise", *_ORGANISERS),
    "change-oneself": _right("contribute", *_PLAYERS),
    "change-tokens": _right("organise", *_ORGANISERS),
    "read-audit": _right("organise", *_ORGANISERS),
    "export-group": _right("organise", *_ORGANISERS),
    "export-oneself": _right("read", *_PLAYERS),
    "delete-group": _right("organise", *_ORGANISERS),
    # tunes, licks, breaks
    "change-tunes": _right("organise", *_ORGANISERS),
    "add-lick": _right("contribute", *_ALL),
    "change-own-licks": _right("contribute", *_ALL),
    "change-licks": _right("organise", *_ORGANISERS),
    "take-licks-down": _right("organise", *_ORGANISERS),
    "report-lick": _right("contribute", *_PLAYERS),
    "answer-reports": _right("organise", *_ORGANISERS),
    "share-licks": _right("organise", *_ORGANISERS),
    "draw-break": _right("play", *_ALL),
    # weekly challenges
    "run-challenges": _right("organise", *_ORGANISERS),
    "enter-variation": _right("contribute", *_PLAYERS),
    "review-variations": _right("organise", *_ORGANISERS),
    "vote": _right("contribute", *_PLAYERS),
    # tunes and evenings
    "keep-own-list": _right("contribute", *_PLAYERS),
    "plan-evenings": _right("organise", *_ORGANISERS),
    "mark-played": _right("contribute", *_PLAYERS),
    # lessons and practice
    "set-lessons": _right("organise", "organiser"),
    "keep-own-lessons": _right("contribute", *_PLAYERS),
    "log-practice": _right("contribute", *_PLAYERS),
    "see-ones-own": _right("read", *_PLAYERS),  # lessons, practice, and what others share of theirs
    # posts to the chat
    "claim-posts": _right("deliver", "bot"),
    "read-posts": _right("organise", *_ORGANISERS),
}


def may(role: str, scopes: frozenset[str] | None, action: str) -> bool:
    """Whether somebody of this role may do this; ``scopes`` None is a token that is held to none."""
    right = MAY[action]
    return role in right.roles and (scopes is None or right.scope in scopes)
