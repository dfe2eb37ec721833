"""The bot's connection to the chat: whatever is typed, pressed or filled in is acknowledged at once, then answered."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any, TypeVar

import aiohttp
import discord

from bot.asks import Visitor
from bot.calls import TooLong
from bot.completing import choices
from bot.discord_side.asked import Interaction, filled_call, pressed_call, shown_text, typed_call, visitor_of
from bot.discord_side.health import Health
from bot.discord_side.showing import Message, message_of, modal_of
from bot.discord_side.tallies import Tallies
from bot.discord_side.tree import make_known
from bot.front import Front
from bot.replies import Answer, Call, Form, Reply
from bot.settings import BotSettings
from bot.wording import known_language, say

log = logging.getLogger("breakwright.bot")
T = TypeVar("T")
OLDER = Call("-")  # of a button that another version made: no command is called so
ALREADY_ACKNOWLEDGED = 40060
TRIES, AGAIN_S = (
    4,
    0.4,
)  # of a message that could not be sent, and the wait before the next, doubled each time; ours
COMPLETED_S = 2.5  # suggestions that come later than three seconds are of no use


class Corner(discord.AutoShardedClient):
    """One connection's life; a new one is made after it ended (see running.py)."""

    def __init__(self, front: Front, settings: BotSettings, health: Health) -> None:
        super().__init__(
            intents=discord.Intents(guilds=True),
            shard_count=settings.shards or None,
            member_cache_flags=discord.MemberCacheFlags.none(),
            chunk_guilds_at_startup=False,
            max_messages=None,
            allowed_mentions=discord.AllowedMentions.none(),
            guild_ready_timeout=1.0,
        )
        self.front = front
        self._settings = settings
        self._health = health
        self.tallies = Tallies(front)
        self._under_way: set[asyncio.Task[None]] = set()

    async def setup_hook(self) -> None:
        try:
            await stubborn(lambda: make_known(self, self.front.book, self._settings.folder))
        except (discord.HTTPException, aiohttp.ClientError, OSError) as error:
            log.warning("commands could not be made known", extra={"reason": str(error)})

    # --- whether it is connected ------------------------------------------------------------------------------

    async def on_shard_connect(self, shard_id: int) -> None:
        self._health.connected(shard_id)

    async def on_shard_resumed(self, shard_id: int) -> None:
        self._health.connected(shard_id)

    async def on_shard_ready(self, shard_id: int) -> None:
        self._health.connected(shard_id)

    async def on_shard_disconnect(self, shard_id: int) -> None:
        self._health.disconnected(shard_id)

    async def on_guild_join(self, guild: discord.Guild) -> None:
        """A few words where the server greets people, if it lets us."""
        channel = guild.system_channel
        if channel is not None and channel.permissions_for(guild.me).send_messages:
            text = say(
                "Hello. I keep your group's licks and make breaks of them. Whoever manages the server begins with: group begin.",
                known_language(guild.preferred_locale.value),
            )
            try:
                await channel.send(text)
            except discord.HTTPException as error:
                log.info("no greeting", extra={"reason": str(error.code)})

    # --- whatever is asked ------------------------------------------------------------------------------------

    async def on_interaction(self, interaction: Interaction) -> None:
        task = asyncio.current_task()
        if task is not None:
            self._under_way.add(task)
            task.add_done_callback(self._under_way.discard)
        try:
            await HANDLERS.get(interaction.type, Corner._unknown)(self, interaction)
        except discord.NotFound:
            log.warning("an ask was gone before it was answered", extra={"user": str(interaction.user.id)})
        except (discord.HTTPException, aiohttp.ClientError, TimeoutError) as error:
            log.warning("an answer could not be shown", extra={"reason": f"{type(error).__name__}: {error}"})

    async def _unknown(self, interaction: Interaction) -> None:
        return

    async def _typed(self, interaction: Interaction) -> None:
        call, files, _ = typed_call(interaction)
        await self._answer(interaction, call, files)

    async def _pressed(self, interaction: Interaction) -> None:
        call = pressed_call(interaction, self.front.book) or OLDER
        command = self.front.book.find(call.command)
        shown = await shown_text(interaction.message) if command is not None and command.form else ""
        await self._answer(interaction, call, {}, shown)

    async def _filled(self, interaction: Interaction) -> None:
        await self._answer(interaction, filled_call(interaction, self.front.book) or OLDER, {})

    async def _completing(self, interaction: Interaction) -> None:
        call, _, focused = typed_call(interaction)
        found: list[tuple[str, str]] = []
        try:
            async with asyncio.timeout(COMPLETED_S):
                found = await choices(self.front, call, focused or "", visitor_of(interaction))
        except TimeoutError:
            pass
        await interaction.response.autocomplete(
            [discord.app_commands.Choice(name=label, value=value) for label, value in found]
        )

    async def _answer(
        self, interaction: Interaction, call: Call, files: dict[str, Any], shown: str = ""
    ) -> None:
        visitor = visitor_of(interaction, shown)
        command = self.front.book.find(call.command)
        if command is not None and command.form and not files:
            answer = await self.front.answer(call, visitor, files)
            await self._at_once(interaction, answer, self._about(call, visitor))
            return
        private = command is None or command.private
        if not await self._acknowledged(interaction, private):
            return
        answer = await self.front.answer(call, visitor, files)
        if isinstance(answer, Form):
            raise TypeError(f"{call.command} answered with a form too late")
        await self._show(interaction, answer, private, self._about(call, visitor))
        self.tallies.after(call, interaction.message, visitor)

    async def _acknowledged(self, interaction: Interaction, private: bool) -> bool:
        """Whether it is ours to answer. A connection that broke leaves open whether it was heard: then it is said once more."""
        try:
            await interaction.response.defer(ephemeral=private, thinking=True)
        except discord.HTTPException as error:
            if error.code == ALREADY_ACKNOWLEDGED:
                return False  # by another of us
            raise
        except (aiohttp.ClientError, OSError):
            try:
                await interaction.response.defer(ephemeral=private, thinking=True)
            except discord.HTTPException as error:
                if error.code != ALREADY_ACKNOWLEDGED:
                    raise
        return True

    def _about(self, call: Call, visitor: Visitor) -> str | None:
        """The group that buttons of the answer must name: in direct messages alone."""
        return None if visitor.server is not None else call.group or self.front.group_meant(visitor)

    async def _at_once(self, interaction: Interaction, answer: Answer, group: str | None) -> None:
        """A form must be the first that is answered; what went wrong instead is for the asker alone."""
        if isinstance(answer, Form):
            try:
                await interaction.response.send_modal(modal_of(answer, self.front.book, group))
                return
            except TooLong:
                log.exception("a form does not fit")
                answer = Reply(
                    head=say(
                        "Something went wrong on our side. Try again; if it stays, tell an organiser.",
                        visitor_of(interaction).language,
                    ),
                    failed=True,
                )
        message = self._message(interaction, answer, group)
        await interaction.response.send_message(
            message.content,
            files=message.attachments(),
            ephemeral=True,
            suppress_embeds=True,
            **_viewed(message),
        )

    def _message(self, interaction: Interaction, reply: Reply, group: str | None) -> Message:
        language = visitor_of(interaction).language
        return message_of(reply, self.front.book, language, interaction.filesize_limit, group=group)

    async def _show(
        self, interaction: Interaction, reply: Reply, deferred_private: bool, group: str | None
    ) -> None:
        message = self._message(interaction, reply, group)
        private = deferred_private or reply.failed or reply.private
        if private and not deferred_private:  # what all can see that something is coming is taken away again
            await stubborn(interaction.delete_original_response)

        async def send() -> None:
            await interaction.followup.send(
                message.content,
                files=message.attachments(),
                ephemeral=private,
                suppress_embeds=True,
                wait=True,
                **_viewed(message),
            )

        async def arrived() -> bool:
            """Whether the deferred answer was taken by a message already."""
            return (
                not (private and not deferred_private)
                and not (await interaction.original_response()).flags.loading
            )

        await stubborn(send, arrived)

    async def finish(self) -> None:
        """Let answers under way be given, for a while."""
        waiting = [task for task in self._under_way if not task.done()]
        if waiting:
            await asyncio.wait(waiting, timeout=self._settings.grace_s)
        await self.tallies.finish()


def _viewed(message: Message) -> dict[str, Any]:
    return {} if message.view is None else {"view": message.view}


async def stubborn(
    deed: Callable[[], Awaitable[T]], done: Callable[[], Awaitable[bool]] | None = None
) -> T | None:
    """Try what the library does not: 503s and connections that break. ``done`` looks whether it was heard all the same."""
    wait = AGAIN_S
    for left in reversed(range(TRIES)):
        try:
            return await deed()
        except (discord.DiscordServerError, aiohttp.ClientError, OSError):
            if not left:
                raise
        await asyncio.sleep(wait)
        wait *= 2
        if done is not None:
            try:
                if await done():
                    return None
            except (discord.HTTPException, aiohttp.ClientError, OSError):
                continue
    return None


HANDLERS: dict[discord.InteractionType, Callable[[Corner, Interaction], Coroutine[Any, Any, None]]] = {
    discord.InteractionType.application_command: Corner._typed,
    discord.InteractionType.component: Corner._pressed,
    discord.InteractionType.modal_submit: Corner._filled,
    discord.InteractionType.autocomplete: Corner._completing,
}
