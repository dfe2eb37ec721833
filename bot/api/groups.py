"""Asks about a group: its settings, what became of its posts, reports of licks, copies and going."""

from collections.abc import Sequence

from bot.api.client import Fetched, GroupClient
from schemas.challenges import BroughtBackOut, PostStateList, PostStateOut
from schemas.groups import GroupOut, GroupPatch, SettingsIn, SettingsOut
from schemas.leaving import ErasureIn
from schemas.people import InvitationIn, InvitationOut, MemberOut, MemberPatch
from schemas.reports import AnswerIn, ReportList, ReportOut


async def group(here: GroupClient) -> GroupOut:
    return await here.get("", GroupOut)


async def change_group(here: GroupClient, change: GroupPatch, revision: int) -> GroupOut:
    return await here.patch("", GroupOut, change, f'"{revision}"')


async def settings(here: GroupClient) -> SettingsOut:
    return await here.get("/settings", SettingsOut)


async def change_settings(here: GroupClient, chosen: SettingsIn, revision: int) -> SettingsOut:
    """``chosen`` is the whole; ``revision`` the one it was made from."""
    return await here.put("/settings", SettingsOut, chosen, f'"{revision}"')


async def invite(here: GroupClient, invitation: InvitationIn) -> InvitationOut:
    return await here.post("/invitations", InvitationOut, invitation)


async def change_member(here: GroupClient, number: int, change: MemberPatch) -> MemberOut:
    return await here.patch(f"/members/{number}", MemberOut, change)


async def leave(here: GroupClient, number: int) -> None:
    await here.delete(f"/members/{number}")


async def posts(here: GroupClient, most: int) -> Sequence[PostStateOut]:
    return (await here.get("/posts", PostStateList, {"limit": most})).items


async def try_posts_again(here: GroupClient) -> int:
    """How many posts were brought back."""
    return (await here.post("/posts/retries", BroughtBackOut)).posts


async def reports(here: GroupClient, most: int) -> ReportList:
    """Those that are open."""
    return await here.get("/reports", ReportList, {"limit": most, "status": "open"})


async def answer_report(here: GroupClient, number: int, answer: AnswerIn) -> ReportOut:
    return await here.post(f"/reports/{number}/answer", ReportOut, answer)


async def copy_of_group(here: GroupClient) -> Fetched:
    return await here.file("/export")


async def copy_of_oneself(here: GroupClient, number: int) -> Fetched:
    return await here.file(f"/members/{number}/export")


async def erase(here: GroupClient, number: int, licks: str) -> None:
    """``licks``: keep or remove what was sent in."""
    await here.done("POST", f"/members/{number}/erasure", ErasureIn(licks=licks))  # type: ignore[arg-type]
