"""A break to take along: picture, sheet, sound."""

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import replace
from urllib.parse import urlencode

from bot.api import Client, Refused, Unreachable
from bot.replies import File, Reply

PICTURE, SHEET, SOUND = "picture", "sheet", "sound"
MOST_PARTS = 10  # files that chats take with one message


async def with_files(
    client: Client, group: str, reply: Reply, options: Mapping[str, str] | None = None
) -> Reply:
    """The reply with its break as picture, sheet and sound, and with cautions for whoever listens and plays.

    What cannot be made is left out, and said.
    """
    if reply.failed or reply.code is None:
        return reply
    base, query = f"/v1/groups/{group}/breaks/{reply.code}", f"?{urlencode(options or {})}"
    wanted = ((PICTURE, "tab.png"), (SHEET, "sheet.pdf"), (SOUND, "break.mp3"))
    try:
        described = (await client.file(f"{base}/alt.txt{query}")).data.decode().strip()
        made = await asyncio.gather(*(_pages(client, kind, f"{base}/{what}{query}") for kind, what in wanted))
        told = await client.sound(f"{base}/break.json{query}")
    except Refused as refused:
        return replace(reply, notes=(*reply.notes, refused.problem.detail))
    except Unreachable:
        return replace(reply, notes=(*reply.notes, "Picture, sheet and sound could not be made just now."))
    files = tuple(
        replace(file, description=described) if file.kind == PICTURE else file
        for files in made
        for file in files
    )
    return replace(reply, files=files, notes=(*reply.notes, *told.cautions))


async def _pages(client: Client, kind: str, path: str) -> Sequence[File]:
    """All pages of a picture, or parts of a sound."""
    found: list[File] = []
    following: str | None = path
    while following is not None and len(found) < MOST_PARTS:
        page = await client.file(following)
        found.append(File(kind, page.name, page.data))
        following = page.following
    return found
