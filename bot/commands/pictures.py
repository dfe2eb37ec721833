"""Pictures, sheets and sounds of something, as files that go along with a reply."""

import asyncio
from collections.abc import Sequence
from dataclasses import replace

import msgspec

from bot.api.client import Query, Refused, Unreachable, asked
from bot.asks import Ask
from bot.replies import File, Reply
from schemas.sounds import SoundOut

PICTURE, SHEET, SOUND = "picture", "sheet", "sound"
CHANGES_NOTES = ("hide", "instrument", "pattern")
MOST_PARTS = 10  # files that chats take with one message


async def with_picture(ask: Ask, reply: Reply, what: str, query: Query | None = None) -> Reply:
    """The reply with the picture of ``what`` (``/breaks/7P5MNCRY``); with its tab as text where pictures cannot be seen or made."""
    if not ask.pictures:
        return replace(reply, tab=await _tab(ask, what, query))
    try:
        described, files = await asyncio.gather(
            ask.here.text(f"{what}/alt.txt", query), pages(ask, PICTURE, f"{what}/tab.png", query)
        )
    except Unreachable:
        return replace(reply, tab=await _tab(ask, what, query))
    except Refused as refused:
        if refused.problem.status < 500:
            raise
        return replace(reply, tab=await _tab(ask, what, query))
    first, *others = files
    told = [
        replace(
            file,
            description=ask.say(
                "Page {page} of {count}, which goes on from the one before.", page=page, count=len(files)
            ),
        )
        for page, file in enumerate(others, 2)
    ]
    return replace(reply, files=(replace(first, description=described.strip()), *told))


async def _tab(ask: Ask, what: str, query: Query | None) -> str:
    """Text tab takes no more of the query than what changes the notes shown."""
    notes = {name: value for name, value in (query or {}).items() if name in CHANGES_NOTES}
    page: Query = {"layout": ask.page.layout, "width": ask.page.width, **notes}
    return await ask.here.text(f"{what}/tab.txt", page)


async def pages(ask: Ask, kind: str, path: str, query: Query | None = None) -> Sequence[File]:
    """All pages of a picture, or parts of a sound."""
    found: list[File] = []
    following: str | None = path + asked(query)
    while following is not None and len(found) < MOST_PARTS:
        page = await ask.here.file(following)
        found.append(File(kind, page.name, page.data))
        following = page.following
    return found


async def sound(
    ask: Ask, what: str, name: str, query: Query | None = None
) -> tuple[Sequence[File], SoundOut]:
    """The sound of ``what`` (``name``: ``break`` or ``work-up``) and what it is like, its cautions too."""
    files, told = await asyncio.gather(
        pages(ask, SOUND, f"{what}/{name}.mp3", query),
        ask.here.file(f"{what}/{name}.json", query),  # it is told once the sound is made
    )
    return files, msgspec.json.decode(told.data, type=SoundOut)
