"""A small bot with one of everything, for tests of the stand-in itself."""

import asyncio
import io
from typing import Any, cast

import discord
from discord import app_commands

from tests.chat_platform.asked import Asked
from tests.chat_platform.stand_in import Platform

PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + (320).to_bytes(4, "big") + (200).to_bytes(4, "big")


HERE = discord.Intents(guilds=True)


class Form(discord.ui.Modal, title="Send a lick"):
    lines: discord.ui.TextInput[Any] = discord.ui.TextInput(label="Tab", custom_id="tab", min_length=2)

    async def on_submit(self, interaction: discord.Interaction) -> None:
        await interaction.response.send_message(f"got {self.lines.value}", ephemeral=True)


class Bot(discord.Client):
    """A small bot with one of everything. ``seen``: names of gateway events, in order."""

    def __init__(self, intents: discord.Intents = HERE, **given: Any) -> None:
        super().__init__(intents=intents, guild_ready_timeout=0.1, **given)
        self.tree = app_commands.CommandTree(self)
        self.seen: list[str] = []
        self.heard: list[str] = []
        self.readies = 0

    async def setup_hook(self) -> None:
        self.tree.add_command(app_commands.Command(name="find", description="Find a lick", callback=_find))
        self.tree.add_command(app_commands.Command(name="send", description="Send a lick", callback=_send))
        tune: app_commands.Command[Any, ..., None] = app_commands.Command(
            name="tune", description="A tune", callback=_tune
        )
        tune.autocomplete("name")(_names)
        self.tree.add_command(tune)
        self.tree.add_command(app_commands.Command(name="sleep", description="Too late", callback=_sleep))
        self.tree.add_command(app_commands.ContextMenu(name="Read out", callback=_read_out))
        await self.tree.sync()

    async def on_socket_event_type(self, event: str) -> None:
        self.seen.append(event)

    async def on_ready(self) -> None:
        self.readies += 1

    async def on_message(self, message: discord.Message) -> None:
        self.heard.append(message.content)

    async def on_interaction(self, interaction: discord.Interaction) -> None:
        if interaction.type is discord.InteractionType.component:
            data = cast(dict[str, Any], interaction.data)
            if "resolved" in data:
                (person,) = data["resolved"]["users"].values()
                await interaction.response.send_message(f"{person['global_name']}", ephemeral=True)
            elif "values" in data:
                await interaction.response.send_message(str(data["values"]), ephemeral=True)
            else:
                await interaction.response.edit_message(content="pressed")


def _buttons() -> discord.ui.View:
    view = discord.ui.View(timeout=None)
    view.add_item(discord.ui.Button(label="Again", custom_id="again"))
    view.add_item(discord.ui.Button(label="Off", custom_id="off", disabled=True))
    options = [discord.SelectOption(label=name, value=name) for name in ("G", "A")]
    view.add_item(discord.ui.Select(custom_id="key", options=options))
    view.add_item(discord.ui.UserSelect(custom_id="who"))
    return view


async def _find(
    interaction: discord.Interaction, words: str, bars: app_commands.Range[int, 1, 4] = 2
) -> None:
    await interaction.response.defer()
    picture = discord.File(io.BytesIO(PNG), "lick.png", description=f"{bars} bars of {words}")
    await interaction.followup.send(f"{words} {bars}", file=picture, view=_buttons())


async def _send(interaction: discord.Interaction, file: discord.Attachment | None = None) -> None:
    if file is None:
        await interaction.response.send_modal(Form())
    else:
        await interaction.response.send_message(f"{file.filename} {len(await file.read())}")


async def _sleep(interaction: discord.Interaction) -> None:
    await asyncio.sleep(0.6)
    await interaction.response.send_message("too late")


async def _read_out(interaction: discord.Interaction, message: discord.Message) -> None:
    await interaction.response.send_message(f"{message.content}, read out", ephemeral=True)


async def _names(interaction: discord.Interaction, text: str) -> list[app_commands.Choice[str]]:
    return [app_commands.Choice(name=f"{text} ferry", value="heron-ferry")]


async def _tune(interaction: discord.Interaction, name: str) -> None:
    await interaction.response.send_message(name)


async def at_once(shard: int | None, *, initial: bool = False) -> None:
    """The library waits five seconds between two starts, else."""


def find(platform: Platform, **options: Any) -> Asked:
    return platform.run("find", platform.member, platform.rooms[1], {"words": "roll"} | options)
