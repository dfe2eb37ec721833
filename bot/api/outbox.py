"""Asks about what a chat shall post. Only a bot that speaks for nobody may ask them."""

from bot.api.client import Client
from schemas.challenges import ClaimsIn, FailedIn, PostList, PostStateOut, SentIn


async def claim(client: Client, platform: str, most: int = 10, lease_s: int = 60) -> PostList:
    """Posts to be sent within ``lease_s`` seconds, each group's in their order."""
    wish = ClaimsIn(platform=platform, most=most, lease_s=lease_s)
    return await client.ask("POST", "/v1/outbox/claims", PostList, wish)


async def sent(client: Client, post: int, message: str) -> PostStateOut:
    return await client.ask("PUT", f"/v1/outbox/{post}/sent", PostStateOut, SentIn(message_id=message))


async def failed(client: Client, post: int, what: FailedIn) -> PostStateOut:
    return await client.ask("PUT", f"/v1/outbox/{post}/failed", PostStateOut, what)
