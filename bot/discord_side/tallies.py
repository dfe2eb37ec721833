"""How votes stand, on the button that gives them: looked up and written anew a while after somebody voted, never on each press."""

import asyncio
import logging
import re
from collections import OrderedDict

import aiohttp
import discord
from discord import ui

from bot.api.client import Refused, Unreachable
from bot.api.variations import one_variation
from bot.asks import Visitor
from bot.calls import read
from bot.front import Front
from bot.replies import Call

log = logging.getLogger("breakwright.bot")
MOST_SHOWN = 1000  # messages whose votes are kept up to date; ours
EVERY_S = 3.0  # a message is changed once in so many seconds at most; ours
VOTE, TAKE_BACK = "variation vote", "variation unvote"
_COUNT = re.compile(r" · [0-9]+$")


class Tallies:
    def __init__(self, front: Front) -> None:
        self._front = front
        self._waiting: dict[int, asyncio.Task[None]] = {}
        self._shown: OrderedDict[tuple[str | None, str], discord.Message] = OrderedDict()

    def after(self, call: Call, message: discord.Message | None, visitor: Visitor) -> None:
        """Somebody voted, or took a vote back: where all can see the votes, they are soon counted anew.

        That is the message whose button was pressed, or else the last one of that variation whose button was.
        """
        if call.command not in (VOTE, TAKE_BACK) or "variation" not in call.given:
            return
        variation = call.given["variation"]
        place = (visitor.server, variation)
        if message is not None and not message.flags.ephemeral:
            self._shown[place] = message
            while len(self._shown) > MOST_SHOWN:
                self._shown.popitem(last=False)
        shown = self._shown.get(place)
        if shown is not None and shown.id not in self._waiting:
            task = asyncio.create_task(self._refresh(variation, shown, visitor))
            self._waiting[shown.id] = task

    async def _refresh(self, variation: str, message: discord.Message, visitor: Visitor) -> None:
        try:
            await asyncio.sleep(EVERY_S)
        finally:
            self._waiting.pop(message.id, None)  # whoever votes from here on is counted the next time
        try:
            ask = await self._front.ask_of(visitor)
            votes = None if ask is None else (await one_variation(ask.here, int(variation))).votes
            if votes is not None:
                view = counted(message, variation, votes)
                await message.edit(view=view, attachments=message.attachments)
        except (Refused, Unreachable, discord.HTTPException, aiohttp.ClientError, TimeoutError) as error:
            log.warning("votes could not be shown", extra={"reason": type(error).__name__})

    async def finish(self) -> None:
        for task in list(self._waiting.values()):
            task.cancel()


def counted(message: discord.Message, variation: str, votes: int) -> ui.View:
    """A message's buttons with the count on the one that votes."""
    view = ui.View.from_message(message, timeout=None)
    for item in view.children:
        if isinstance(item, ui.Button) and item.custom_id is not None:
            found = read(item.custom_id)
            if found is not None and found[0].command == VOTE and variation in found[0].given.values():
                item.label = f"{_COUNT.sub('', item.label or '')} · {votes}"
    view.stop()
    return view
