"""Posts that the chat is to show."""

from collections.abc import Sequence
from typing import Literal

from bot.api.client import Client
from schemas.challenges import ClaimsIn, FailedIn, PostList, PostOut, PostStateOut, SentIn

Trouble = Literal["channel-gone", "not-permitted", "refused", "try-again"]


async def claim(client: Client, platform: str, most: int, lease_s: int) -> Sequence[PostOut]:
    wish = ClaimsIn(platform=platform, most=most, lease_s=lease_s)
    return (await client.ask("POST", "/v1/outbox/claims", PostList, wish)).items


async def sent(client: Client, post_id: int, message_id: str) -> None:
    await client.ask("PUT", f"/v1/outbox/{post_id}/sent", PostStateOut, SentIn(message_id=message_id))


async def failed(client: Client, post_id: int, reason: Trouble) -> None:
    await client.ask("PUT", f"/v1/outbox/{post_id}/failed", PostStateOut, FailedIn(reason=reason))
