"""What may be meant while somebody types: tunes, licks, phrases, members, variations and evenings of the group, as a label and the
value it stands for.

What was asked for a moment ago is not asked again; where the service is down, or the asker has not joined, nothing is offered.
"""

import logging
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from typing import Any
from weakref import WeakKeyDictionary

from bot.api import breaks, challenges, evenings, licks, people, tunes, variations
from bot.api.client import Client
from bot.arguments import slug_of
from bot.asks import Ask, Visitor
from bot.commands.phrases import MOST_CHOICES, of_break, of_tune, short
from bot.front import Front
from bot.replies import Call
from schemas.challenges import VariationOut

log = logging.getLogger("breakwright.bot")
MOST_LETTERS = 100  # of a label and of a value, as chats show them
KEPT_S, MOST_KEPT = 10.0, 500  # how long, and how many, answers are remembered; ours: while a name is typed
Pair = tuple[str, str]
_kept: WeakKeyDictionary[Client, OrderedDict[tuple[Any, ...], tuple[float, Any]]] = WeakKeyDictionary()


async def choices(front: Front, call: Call, focused: str, visitor: Visitor) -> list[Pair]:
    """Labels and values for the option ``focused`` of what is typed so far; none rather than an error."""
    command = front.book.find(call.command)
    option = None if command is None else next((one for one in command.options if one.name == focused), None)
    meant = None if option is None else MEANT.get(option.kind)
    if meant is None:
        return []
    try:
        ask = await front.ask_of(visitor)
        if ask is None:
            return []
        found = await meant(ask, call.given.get(focused, "").strip(), call.given)
    except Exception as error:
        log.info("nothing to complete", extra={"command": call.command, "outcome": type(error).__name__})
        return []
    return [(short(label, MOST_LETTERS), value) for label, value in found if len(value) <= MOST_LETTERS][
        :MOST_CHOICES
    ]


async def _tunes(ask: Ask, typed: str, given: Mapping[str, str]) -> list[Pair]:
    """By name; the short name is what counts."""
    found = await _asked(ask, ("tunes",), lambda: tunes.tunes(ask.here))
    return _like(typed, sorted((tune.name, tune.slug) for tune in found.items))


async def _licks(ask: Ask, typed: str, given: Mapping[str, str]) -> list[Pair]:
    """By number or words of the name. What was chosen from the list before, ``42 Sack hoist``, is found by its number."""
    number = typed.split(" ", 1)[0]
    words = number if number.isdigit() else typed[:MOST_LETTERS]
    found = await _asked(
        ask, ("licks", words), lambda: licks.licks(ask.here, words=words, limit=MOST_CHOICES)
    )
    return [
        (
            f"{one.number} {one.name}, {ask.say(one.instrument)}, {ask.say('level {level}', level=one.level)}",
            str(one.number),
        )
        for one in found.items
    ]


async def _phrases(ask: Ask, typed: str, given: Mapping[str, str]) -> list[Pair]:
    """Of the break or the tune that was given so far."""
    code, tune = given.get("code", "").strip(), given.get("tune", "").strip()
    if code:
        made = await _asked(ask, ("break", code), lambda: breaks.one_break(ask.here, code))
        named = of_break(ask.say, made)
    elif tune:
        of = await _asked(ask, ("tune", tune), lambda: tunes.one_tune(ask.here, slug_of(tune)))
        named = of_tune(ask.say, of)
    else:
        return []
    return _like(typed, [(name, str(number)) for number, name in named])


async def _members(ask: Ask, typed: str, given: Mapping[str, str]) -> list[Pair]:
    found = await _asked(ask, ("members",), lambda: people.every_member(ask.here))
    return _like(typed, [(one.name, one.name) for one in found])


async def _variations(ask: Ask, typed: str, given: Mapping[str, str]) -> list[Pair]:
    """Of the challenge that was given, else of the newest."""
    challenge = given.get("challenge", "").strip()

    async def fetch() -> list[VariationOut]:
        newest = await challenges.newest(ask.here, 1)
        number = int(challenge) if challenge.isdigit() else newest[0].number if newest else None
        return [] if number is None else list(await variations.variations(ask.here, number))

    # for the asker alone: others do not see what is held of theirs
    found = await _asked(ask, ("variations", challenge, ask.me.member), fetch)
    return _like(typed, [(f"{one.number} {one.name}", str(one.number)) for one in found])


async def _evenings(ask: Ask, typed: str, given: Mapping[str, str]) -> list[Pair]:
    found = await _asked(ask, ("evenings",), lambda: evenings.evenings(ask.here, MOST_CHOICES))
    return _like(typed, [(f"{one.number} {one.title}, {one.day}", str(one.number)) for one in found])


MEANT: dict[str, Callable[[Ask, str, Mapping[str, str]], Awaitable[list[Pair]]]] = {
    "tune": _tunes,
    "lick": _licks,
    "phrase": _phrases,
    "member": _members,
    "variation": _variations,
    "evening": _evenings,
}


def _like(typed: str, found: list[Pair]) -> list[Pair]:
    """Those that begin with what was typed, then those that have all its words somewhere."""
    plain = typed.casefold()
    words = plain.split()
    begun = [pair for pair in found if pair[0].casefold().startswith(plain)]
    others = [
        pair
        for pair in found
        if pair not in begun and all(word in pair[0].casefold() or word == pair[1] for word in words)
    ]
    return begun + others


async def _asked(ask: Ask, what: tuple[Any, ...], fetch: Callable[[], Awaitable[Any]]) -> Any:
    """What the service says, remembered for a group (names in it are the same for all members) and a language."""
    kept = _kept.setdefault(ask.here.client, OrderedDict())
    key, now = (ask.here.group, ask.language, *what), time.monotonic()
    if key in kept and kept[key][0] > now:
        return kept[key][1]
    found = await fetch()
    kept[key] = (now + KEPT_S, found)
    kept.move_to_end(key)
    while len(kept) > MOST_KEPT:
        kept.popitem(last=False)
    return found
