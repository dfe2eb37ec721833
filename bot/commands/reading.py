"""What people type for members, days and pieces, made into what the service takes."""

from collections.abc import Sequence
from datetime import date

from bot.api import people
from bot.asks import Ask
from bot.trouble import Unusable
from schemas.people import MemberOut


async def member_named(ask: Ask, text: str) -> MemberOut:
    """By name, or by number: ``Wren``, ``3``, ``3 Wren``. Raises Unusable."""
    return member_among(ask, await people.every_member(ask.here), text)


def member_among(ask: Ask, members: Sequence[MemberOut], text: str) -> MemberOut:
    plain = text.strip().casefold()
    for member in members:
        if member.name.casefold() == plain:
            return member
    for member in members:
        if plain in (str(member.number), f"{member.number} {member.name.casefold()}"):
            return member
    raise Unusable(
        ask.say("I know no “{text}” here. The names are in the list of members: group members.", text=text)
    )


def day_read(ask: Ask, text: str) -> date:
    """Raises Unusable."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise Unusable(ask.say("“{text}” is no day: write it as 2026-12-31.", text=text)) from None


def keys_read(text: str) -> list[str]:
    """``G, A`` or ``G A``."""
    return text.replace(",", " ").split()
