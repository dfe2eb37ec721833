"""Brings posts of the service's outbox into channels: each exactly once, whatever ends when.

A post is claimed, sent with its nonce, and answered for. The platform takes a nonce once within some minutes; every message of ours
also carries the nonce as the mark of its buttons, so that a post which was perhaps sent before is looked for in the channel's own
history first.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any, Literal

import aiohttp
import discord

from bot.api import outbox
from bot.api.client import BUSY, Client, Refused, Unreachable
from bot.book import Book
from bot.discord_side.asked import PLATFORM
from bot.discord_side.health import Health
from bot.discord_side.showing import Message, message_of
from bot.posts import reply_of
from bot.replies import File
from bot.settings import BotSettings
from bot.wording import known_language, say
from schemas.challenges import FailedIn, PostOut

log = logging.getLogger("breakwright.bot")
AT_ONCE = 20  # posts claimed together; ours
GROUPS_AT_ONCE = 5  # whose posts are sent side by side; ours
LOOKED_AT = 200  # newest messages of a channel that are looked through for one of ours; ours
LONGEST_WAIT_S = 60.0  # between looks while the service does not answer; ours
MOST_BYTES = 10 * 1024 * 1024
THREAD_MINUTES: Literal[10080] = 10080  # a thread goes to rest after a week of silence
Trouble = Literal["channel-gone", "not-permitted", "refused", "try-again"]
PICTURED = frozenset(("challenge", "variation"))
BROKEN = (aiohttp.ClientError, OSError, TimeoutError)


class Announcer:
    def __init__(
        self, chat: discord.Client, service: Client, book: Book, health: Health, settings: BotSettings
    ) -> None:
        self._chat, self._service, self._book = chat, service, book
        self._health, self._poll_s, self._lease_s = health, settings.poll_s, settings.lease_s
        self._unheard: dict[
            int, str
        ] = {}  # posts that were sent, and their messages, while the service did not hear of it

    async def run(self) -> None:
        """Until it is cancelled. Whatever fails waits, longer each time, and is tried again."""
        await self._chat.wait_until_ready()
        wait = self._poll_s
        while True:
            try:
                await self._tell()
                found = (await outbox.claim(self._service, PLATFORM, AT_ONCE, self._lease_s)).items
                self._health.looked_for_posts()
                await self._bring_all(found)
                wait = 0.0 if found else self._poll_s
            except (Refused, Unreachable) as error:
                wait = min(2 * max(wait, self._poll_s), LONGEST_WAIT_S)
                log.warning("posts could not be claimed", extra={"reason": str(error), "wait_s": wait})
            except Exception:
                wait = min(2 * max(wait, self._poll_s), LONGEST_WAIT_S)
                log.exception("posts could not be brought")
            await asyncio.sleep(wait)

    async def _bring_all(self, posts: Sequence[PostOut]) -> None:
        """A group's in their order, those of several groups side by side."""
        limit = asyncio.Semaphore(GROUPS_AT_ONCE)

        async def of_group(mine: list[PostOut]) -> None:
            async with limit:
                for post in mine:
                    if not await self._bring(post):
                        return  # those after it wait for it; their lease ends

        ordered = sorted(posts, key=lambda post: (post.group, post.id))
        await asyncio.gather(*(of_group(list(mine)) for _, mine in groupby(ordered, lambda post: post.group)))

    async def _bring(self, post: PostOut) -> bool:
        """Do what a post says and answer for it; whether the next one may follow."""
        try:
            message_id = await DEEDS[post.deed](self, post)
        except discord.NotFound as error:
            return await self._failed(post, "channel-gone", error)
        except discord.Forbidden as error:
            return await self._failed(post, "not-permitted", error)
        except (discord.DiscordServerError, discord.RateLimited, *BROKEN) as error:
            return await self._failed(post, "try-again", error)
        except (discord.HTTPException, _Elsewhere) as error:
            return await self._failed(post, "refused", error)
        except Exception as error:  # a post that we cannot show must not keep others waiting
            log.exception("a post cannot be shown", extra={"post": post.id, "kind": post.kind})
            return await self._failed(post, "refused", error)
        self._unheard[post.id] = message_id
        await self._tell()
        log.info("post brought", extra={"post": post.id, "kind": post.kind})
        return True

    async def _tell(self) -> None:
        """Answer for what was brought, also for what could not be answered for before."""
        for post_id, message_id in list(self._unheard.items()):
            try:
                await outbox.sent(self._service, post_id, message_id)
            except Refused as refused:
                if refused.problem.status in BUSY:
                    raise
                log.warning("a post was not ours", extra={"post": post_id, "reason": refused.problem.code})
            self._unheard.pop(post_id, None)

    async def _failed(self, post: PostOut, reason: Trouble, error: Exception) -> bool:
        log.warning(
            "a post failed", extra={"post": post.id, "kind": post.kind, "reason": f"{reason}: {error}"}
        )
        await outbox.failed(self._service, post.id, FailedIn(reason=reason))
        return reason != "try-again"

    # --- deeds --------------------------------------------------------------------------------------------------

    async def _send(self, post: PostOut) -> str:
        channels = await self._places(post)
        if post.perhaps_sent:
            before = await self._sent_before(post, channels)
            if before is not None:
                return before
        message = await self._message(post)

        async def send() -> str:
            shown: dict[str, Any] = {} if message.view is None else {"view": message.view}
            sent = await channels[0].send(
                message.content,
                files=message.attachments(),
                nonce=post.nonce,
                allowed_mentions=discord.AllowedMentions.none(),
                suppress_embeds=True,
                **shown,
            )
            return str(sent.id)

        try:
            return await send()
        except BROKEN:  # it may have been heard: under the same nonce it is taken once
            return await send()

    async def _edit(self, post: PostOut) -> str:
        message = await self._message(post)

        async def edit(channel: discord.abc.Messageable) -> None:
            found = channel.get_partial_message(int(post.message_id or 0))  # type: ignore[attr-defined]
            await found.edit(
                content=message.content, view=message.view, allowed_mentions=discord.AllowedMentions.none()
            )

        return await self._where_it_is(post, edit)

    async def _delete(self, post: PostOut) -> str:
        async def delete(channel: discord.abc.Messageable) -> None:
            await channel.get_partial_message(int(post.message_id or 0)).delete()  # type: ignore[attr-defined]

        return await self._where_it_is(post, delete)

    async def _where_it_is(
        self, post: PostOut, deed: Callable[[discord.abc.Messageable], Awaitable[None]]
    ) -> str:
        """Do it in the thread or channel that has the message; nothing where it is gone."""
        for channel in await self._places(post):
            try:
                await deed(channel)
                break
            except discord.NotFound:
                continue
        return post.message_id or ""

    # --- places -------------------------------------------------------------------------------------------------

    async def _places(self, post: PostOut) -> list[discord.abc.Messageable]:
        """Where a post goes; after the first come others where it may have gone before."""
        if post.recipient is not None:
            user = discord.Object(int(post.recipient))
            return [await self._chat.create_dm(user)]
        if post.channel is None:
            raise _Elsewhere("no channel is chosen")
        channel = await self._channel(post.channel, post.server_id)
        if post.kind != "variation" or post.under is None:
            return [channel]
        thread = await self._thread(post, channel)
        return [channel] if thread is None else [thread, channel]

    async def _thread(
        self, post: PostOut, channel: discord.abc.Messageable
    ) -> discord.abc.Messageable | None:
        """The thread below a challenge's announcement, made for its first entry; None where there may be none.

        A thread has the id of the message it hangs on.
        """
        under = int(post.under or 0)
        try:
            return await self._channel(str(under), post.server_id)
        except (discord.NotFound, discord.Forbidden, _Elsewhere):
            pass
        name = say(
            "Challenge {number}: variations",
            known_language(post.language),
            number=post.params["in_challenge"],
        )
        message = discord.PartialMessage(channel=channel, id=under)  # type: ignore[arg-type]
        try:
            return await message.create_thread(name=name, auto_archive_duration=THREAD_MINUTES)
        except (discord.HTTPException, TypeError) as error:
            log.info("no thread", extra={"post": post.id, "reason": str(error)})
            return None

    async def _channel(self, channel_id: str, server_id: str) -> discord.abc.Messageable:
        """Raises _Elsewhere for a channel of another server."""
        found = self._chat.get_channel(int(channel_id)) or await self._chat.fetch_channel(int(channel_id))
        guild = getattr(found, "guild", None)
        if guild is None or str(guild.id) != server_id or not isinstance(found, discord.abc.Messageable):
            raise _Elsewhere("the channel is on another server, or nothing can be written there")
        return found

    async def _sent_before(self, post: PostOut, channels: Sequence[discord.abc.Messageable]) -> str | None:
        for channel in channels:
            async for message in channel.history(limit=LOOKED_AT):
                if post.nonce in _marks(message):
                    return str(message.id)
        return None

    async def _message(self, post: PostOut) -> Message:
        """With the picture of what it is about, when it is sent; an edit leaves the picture as it is."""
        group = post.group if post.recipient is not None else None
        reply = reply_of(post)
        if post.deed == "send" and post.kind in PICTURED:
            drawn = await outbox.picture(self._service, post.id, post.language)
            if drawn is not None:
                reply = replace(reply, files=(File("picture", f"{post.kind}.png", *drawn),))
        return message_of(reply, self._book, known_language(post.language), MOST_BYTES, post.nonce, group)


class _Elsewhere(Exception):
    pass


def _marks(message: discord.Message) -> set[str]:
    """The marks of a message's buttons."""
    found = set()
    for row in message.components:
        for item in getattr(row, "children", ()):
            _, _, mark = (getattr(item, "custom_id", None) or "").rpartition("#")
            found.add(mark)
    return found


DEEDS: dict[str, Callable[[Announcer, PostOut], Awaitable[str]]] = {
    "send": Announcer._send,
    "edit": Announcer._edit,
    "delete": Announcer._delete,
}
