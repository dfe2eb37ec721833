"""Asks about who somebody is, about groups and their members."""

from bot.api.client import Acting, Client, GroupClient
from schemas.groups import GroupIn, GroupOut
from schemas.people import MemberIn, MemberList, MemberOut, MeOut, MyGroupList


async def me(client: Client, acting: Acting) -> MeOut:
    return await client.ask("GET", "/v1/me", MeOut, None, acting)


async def groups_of(client: Client, acting: Acting) -> MyGroupList:
    """The groups on the platform in which somebody is a member."""
    return await client.ask("GET", "/v1/me/groups", MyGroupList, None, acting)


async def make_group(client: Client, acting: Acting, group: GroupIn) -> GroupOut:
    return await client.ask("POST", "/v1/groups", GroupOut, group, acting)


async def join(here: GroupClient, member: MemberIn) -> MemberOut:
    return await here.post("/members", MemberOut, member)


async def every_member(here: GroupClient) -> list[MemberOut]:
    """All who have not left, by number."""
    found: list[MemberOut] = []
    cursor: str | None = None
    while True:
        page = await here.get("/members", MemberList, {"limit": 200, "cursor": cursor})
        found += page.items
        cursor = page.next
        if cursor is None:
            return found
