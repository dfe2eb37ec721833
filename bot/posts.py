"""What the service lets a chat post, as a reply: what it says, and what may be done about it."""

from collections.abc import Mapping
from typing import Any

from bot.replies import Button, Call, Reply, moment
from bot.wording import say, word
from schemas.challenges import PostOut

Params = Mapping[str, Any]
Made = tuple[
    str, str, Mapping[str, str]
]  # a label, the command it calls, and how options are called in the post's parameters

_SEND: Made = (word("Send a variation"), "variation send", {})
_OF_CHALLENGE = {"challenge": "challenge"}
_ENTRIES: Made = (word("Entries"), "challenge entries", _OF_CHALLENGE)
_ROUND_UP: Made = (word("Round-up"), "challenge round-up", _OF_CHALLENGE)
_FAVOURITES: Made = (word("Favourites"), "favourites", {})
_OF_VARIATION = {"variation": "variation"}
OVER = "challenge-over"  # a challenge's announcement once it is not open any more

# The buttons of each kind of post, what most will press first.
BUTTONS: dict[str, tuple[Made, ...]] = {
    "challenge": ((word("Have a look"), "challenge now", {}), _SEND, _ENTRIES),
    OVER: (_ROUND_UP, _FAVOURITES),
    "reminder": (_SEND, _ENTRIES),
    "variation": (
        (word("Vote"), "variation vote", _OF_VARIATION),
        (word("See it"), "variation show", _OF_VARIATION),
        (word("Hear it"), "variation sound", _OF_VARIATION),
    ),
    "round-up": (_FAVOURITES, _ENTRIES),
    "lesson": (
        (word("Show the lick"), "lick show", {"lick": "lick"}),
        (word("Show the break"), "break show", {"code": "break"}),
        (word("My lessons"), "lesson list", {}),
    ),
    "practice": ((word("What is due"), "practice due", {}),),
    "channel-trouble": ((word("Set up the group"), "group set-up", {}),),
    "nothing-to-draw": ((word("Our tunes"), "tune list", {}),),
}


def reply_of(post: PostOut) -> Reply:
    """A post in its group's language; its buttons are about that group, in a direct message too."""
    head, *notes = _with_moments(post).splitlines() or [""]
    kind = post.kind
    if kind == "challenge" and post.params.get("state") != "open":
        kind = OVER
    buttons = [button for made in BUTTONS.get(kind, ()) if (button := _button(made, post)) is not None]
    if buttons:
        buttons[0] = Button(buttons[0].label, buttons[0].call, "main")
    return Reply(
        head=head,
        notes=tuple(notes),
        buttons=(tuple(buttons),) if buttons else (),
        private=post.recipient is not None,
    )


def _with_moments(post: PostOut) -> str:
    """The text, its time in each reader's own zone; members' words stay as they are, for they come after the first line."""
    until, closes = post.params.get("until"), post.params.get("closes")
    if not until or not closes:
        return post.text
    first, newline, rest = post.text.partition("\n")
    return first.replace(str(until), moment(str(closes))) + newline + rest


def _button(made: Made, post: PostOut) -> Button | None:
    """None where the post tells nothing of what the button is about: a lesson is about a lick or a break."""
    label, command, options = made
    given = {option: post.params.get(param) for option, param in options.items()}
    if None in given.values():
        return None
    about = post.group if post.recipient is not None else None
    call = Call(command, {name: str(value) for name, value in given.items()}, about)
    return Button(say(label, post.language), call)
