"""What comes in from the chat, as a call, who makes it, and files that came along."""

import asyncio
import logging
from collections.abc import Mapping
from typing import Any, cast

import discord

from bot.asks import Visitor
from bot.book import Book, Sent
from bot.calls import read
from bot.discord_side.showing import TYPED_FILE
from bot.discord_side.texts import in_block
from bot.replies import Call
from bot.wording import known_language

log = logging.getLogger("breakwright.bot")
PLATFORM = "discord"
READ_S = 2.0  # for a text file of one's own message: a form must be there within three seconds
FAMILY, FAMILY_OF_FAMILIES = 1, 2  # kinds of options that are part of the command's name
Interaction = discord.Interaction[discord.Client]


def visitor_of(interaction: Interaction, shown: str = "") -> Visitor:
    guild = interaction.guild_id
    return Visitor(
        user=f"{PLATFORM}:{interaction.user.id}",
        name=interaction.user.display_name,
        server=None if guild is None else str(guild),
        channel=None if interaction.channel_id is None else str(interaction.channel_id),
        server_name="" if interaction.guild is None else interaction.guild.name or "",
        language=known_language(interaction.locale.value),
        manages_server=guild is not None and interaction.permissions.manage_guild,
        key=f"ask-{interaction.id}",
        shown=shown,
        pictures=guild is None or interaction.app_permissions.attach_files,
    )


def typed_call(interaction: Interaction) -> tuple[Call, dict[str, Sent], str | None]:
    """A command as it was typed: the call, files sent along, and the option that is being typed just now."""
    data: Mapping[str, Any] = interaction.data or {}
    words, options = [data["name"]], data.get("options", [])
    while options and options[0]["type"] in (FAMILY, FAMILY_OF_FAMILIES):
        words.append(options[0]["name"])
        options = options[0].get("options", [])
    attached = data.get("resolved", {}).get("attachments", {})
    given: dict[str, str] = {}
    files: dict[str, Sent] = {}
    focused = None
    for option in options:
        if option.get("focused"):
            focused = option["name"]
        if (
            str(option["value"]) in attached
            and option["type"] == discord.AppCommandOptionType.attachment.value
        ):
            files[option["name"]] = _sent(attached[str(option["value"])], interaction)
        else:
            given[option["name"]] = str(option["value"])
    return Call(" ".join(words), given), files, focused


def _sent(told: Mapping[str, Any], interaction: Interaction) -> Sent:
    attachment = discord.Attachment(data=cast(Any, told), state=interaction._state)
    return Sent(attachment.filename, attachment.size, attachment.content_type or "", attachment.read)


def pressed_call(interaction: Interaction, book: Book) -> Call | None:
    """What a button or a menu's choice carries; None for one of another version."""
    data: Mapping[str, Any] = interaction.data or {}
    carried = data["values"][0] if data.get("values") else data["custom_id"]
    found = read(carried)
    return None if found is None else book.long_names(found[0])


def filled_call(interaction: Interaction, book: Book) -> Call | None:
    """A form's call with what was typed into it."""
    data: Mapping[str, Any] = interaction.data or {}
    found = read(data["custom_id"])
    if found is None:
        return None
    call = book.long_names(found[0])
    typed = {}
    for component in data.get("components", []):
        for inner in component.get("components", [component.get("component")]):
            if inner is not None and inner.get("value"):
                typed[inner["custom_id"]] = inner["value"]
    return Call(call.command, {**call.given, **typed}, call.group)


async def shown_text(message: discord.Message | None) -> str:
    """The preformatted text of a message: in its block, or as a file beside it."""
    if message is None:
        return ""
    inside = in_block(message.content)
    if inside is not None:
        return inside
    for attachment in message.attachments:
        if attachment.filename == TYPED_FILE:
            try:
                async with asyncio.timeout(READ_S):
                    return (await attachment.read()).decode()
            except (discord.HTTPException, TimeoutError, OSError) as error:
                log.warning("a text could not be read again", extra={"reason": type(error).__name__})
    return ""
