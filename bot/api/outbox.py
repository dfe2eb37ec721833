"""Asks about what a chat shall post. Only a bot that speaks for nobody may ask them."""

from bot.api.client import FILE_TIMEOUT_S, Acting, Client, Refused, Unreachable
from schemas.challenges import ClaimsIn, FailedIn, PostList, PostStateOut, SentIn


async def claim(client: Client, platform: str, most: int = 10, lease_s: int = 60) -> PostList:
    """Posts to be sent within ``lease_s`` seconds, each group's in their order."""
    wish = ClaimsIn(platform=platform, most=most, lease_s=lease_s)
    return await client.ask("POST", "/v1/outbox/claims", PostList, wish)


async def sent(client: Client, post: int, message: str) -> PostStateOut:
    return await client.ask("PUT", f"/v1/outbox/{post}/sent", PostStateOut, SentIn(message_id=message))


async def picture(client: Client, post: int, language: str) -> tuple[bytes, str] | None:
    """The lick or variation that a post is about, and its description; None where there is nothing to be drawn."""
    acting = Acting(language=language)
    try:
        described, _ = await client.exchange("GET", f"/v1/outbox/{post}/alt.txt", acting=acting)
        shown, _ = await client.exchange(
            "GET", f"/v1/outbox/{post}/tab.png", acting=acting, timeout_s=FILE_TIMEOUT_S
        )
    except (Refused, Unreachable):  # a post is better without its picture than late
        return None
    return shown, described.decode().strip()


async def failed(client: Client, post: int, what: FailedIn) -> PostStateOut:
    return await client.ask("PUT", f"/v1/outbox/{post}/failed", PostStateOut, what)
