"""Whom a message pings, given what it says and which mentions it allows."""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.chat_platform.refusals import count, form
from tests.chat_platform.wire import DM, Json, Message, Person

if TYPE_CHECKING:
    from collections.abc import Mapping

# Where nothing is said about mentions (API reference, "Allowed Mentions Object", default settings).
BY_DEFAULT: Json = {"parse": ["users", "roles", "everyone"]}
BY_DEFAULT_IN_INTERACTIONS: Json = {"parse": ["users"]}
MOST_IDS = 100

_USER = re.compile(r"<@!?(\d+)>")
_ROLE = re.compile(r"<@&(\d+)>")
_EVERYONE = re.compile(r"@(everyone|here)")


@dataclass(frozen=True)
class Ping:
    """``kind``: user, role or everyone; ``whom``: an id, or everyone's word."""

    kind: str
    whom: str
    message: Message


def check_allowed(allowed: object) -> None:
    """Refuses what cannot be meant: unknown kinds, too many ids, a kind both parsed and listed."""
    if allowed is None:
        return
    if not isinstance(allowed, dict):
        raise form("allowed_mentions", "Must be an object.")
    unknown = set(allowed) - {"parse", "users", "roles", "replied_user"}
    if unknown:
        raise form("allowed_mentions", f"Unknown field {min(unknown)}.")
    parse = allowed.get("parse") or []
    if set(parse) - {"users", "roles", "everyone"}:
        raise form("allowed_mentions.parse", "Unknown kind of mention.")
    for kind in ("users", "roles"):
        if allowed.get(kind):
            count(f"allowed_mentions.{kind}", allowed[kind], 0, MOST_IDS)
            if kind in parse:
                raise form(
                    "allowed_mentions", f"parse:[{kind!r}] and {kind}: [ids...] are mutually exclusive."
                )


def mentioned(content: str, people: "Mapping[int, Person]") -> tuple[Person, ...]:
    found = dict.fromkeys(int(number) for number in _USER.findall(content))
    return tuple(people[number] for number in found if number in people)


def pings_of(message: Message, by_default: Json) -> list[Ping]:
    """Mentions within code count too: a name that ends the code would end this shelter with it."""
    if message.ephemeral:
        return []
    allowed = by_default if message.allowed_mentions is None else message.allowed_mentions
    parse = allowed.get("parse") or []
    found = []
    for kind, number in (
        *(("user", number) for number in _USER.findall(message.content)),
        *(("role", number) for number in _ROLE.findall(message.content)),
    ):
        if f"{kind}s" in parse or number in [str(one) for one in allowed.get(f"{kind}s") or []]:
            found.append(Ping(kind, number, message))
    may = message.channel.kind == DM or message.channel.allows("mention_everyone")
    if "everyone" in parse and may:
        found += [Ping("everyone", word, message) for word in _EVERYONE.findall(message.content)]
    if message.reply_to is not None:
        asked = message.allowed_mentions is None or bool(message.allowed_mentions.get("replied_user"))
        if asked and message.reply_to.author is not message.author:
            found.append(Ping("user", str(message.reply_to.author.id), message))
    return found
