"""The stand-in as the real chat library meets it: sessions, interactions, messages, faults."""

import asyncio
import io
from collections.abc import Iterator
from typing import Any

import discord
import pytest
from discord import app_commands

from tests.chat_platform.asked import Asked
from tests.chat_platform.commands import CannotBeAsked
from tests.chat_platform.people import Upload
from tests.chat_platform.running import Running
from tests.chat_platform.stand_in import Platform

PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + (320).to_bytes(4, "big") + (200).to_bytes(4, "big")


class Form(discord.ui.Modal, title="Send a lick"):
    lines: discord.ui.TextInput[Any] = discord.ui.TextInput(label="Tab", custom_id="tab", min_length=2)

    async def on_submit(self, interaction: discord.Interaction) -> None:
        await interaction.response.send_message(f"got {self.lines.value}", ephemeral=True)


class Bot(discord.Client):
    """A small bot with one of everything. ``seen``: names of gateway events, in order."""

    def __init__(self, intents: discord.Intents | None = None, **given: Any) -> None:
        super().__init__(intents=intents or discord.Intents(guilds=True), guild_ready_timeout=0.1, **given)
        self.tree = app_commands.CommandTree(self)
        self.seen: list[str] = []
        self.heard: list[str] = []

    async def setup_hook(self) -> None:
        self.tree.add_command(app_commands.Command(name="find", description="Find a lick", callback=_find))
        self.tree.add_command(app_commands.Command(name="send", description="Send a lick", callback=_send))
        self.tree.add_command(app_commands.Command(name="tune", description="A tune", callback=_tune))
        self.tree.add_command(app_commands.Command(name="sleep", description="Too late", callback=_sleep))
        await self.tree.sync()

    async def on_socket_event_type(self, event: str) -> None:
        self.seen.append(event)

    async def on_message(self, message: discord.Message) -> None:
        self.heard.append(message.content)

    async def on_interaction(self, interaction: discord.Interaction) -> None:
        if interaction.type is discord.InteractionType.component:
            assert interaction.data is not None
            if interaction.data.get("values"):
                await interaction.response.send_message(str(interaction.data["values"]), ephemeral=True)
            else:
                await interaction.response.edit_message(content="pressed")


def _buttons() -> discord.ui.View:
    view = discord.ui.View(timeout=None)
    view.add_item(discord.ui.Button(label="Again", custom_id="again"))
    view.add_item(discord.ui.Button(label="Off", custom_id="off", disabled=True))
    options = [discord.SelectOption(label=name, value=name) for name in ("G", "A")]
    view.add_item(discord.ui.Select(custom_id="key", options=options))
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


async def _tune(interaction: discord.Interaction, name: str) -> None:
    await interaction.response.send_message(name)


@pytest.fixture
def platform() -> Iterator[Platform]:
    with Platform(servers=2) as platform:
        yield platform
    assert platform.violations == []


@pytest.fixture
def bot(platform: Platform) -> Iterator[Bot]:
    client = Bot()
    with Running(client, platform):
        yield client


def find(platform: Platform, **options: Any) -> Asked:
    return platform.run("find", platform.member, platform.rooms[1], {"words": "roll"} | options)


def test_a_client_connects_and_sees_servers_and_what_it_may_do_in_their_channels(platform: Platform) -> None:
    platform.rooms[0].allowed = frozenset({"view", "send"})
    with Running(Bot(), platform) as running:
        first, second = running.client.guilds
        assert (first.name, second.name) == ("Landing 1", "Landing 2")
        assert [channel.name for channel in first.text_channels] == ["general", "licks", "challenge"]
        rights = first.text_channels[0].permissions_for(first.me)
        assert (rights.send_messages, rights.attach_files, rights.read_message_history) == (
            True,
            False,
            False,
        )
        assert first.text_channels[1].permissions_for(first.me).attach_files
        assert [command["name"] for command in platform.commands] == ["find", "send", "tune", "sleep"]


def test_a_deferred_command_is_followed_by_a_message_with_a_described_picture(
    platform: Platform, bot: Bot
) -> None:
    asked = find(platform, bars=3).wait()
    assert asked.acknowledged_after is not None
    assert asked.acknowledged_after < 1
    assert asked.deferred
    message = asked.message
    (picture,) = message.attachments
    assert (message.content, message.ephemeral) == ("roll 3", False)
    assert (picture.name, picture.description, picture.content_type) == (
        "lick.png",
        "3 bars of roll",
        "image/png",
    )
    assert (picture.wire()["width"], picture.wire()["height"]) == (320, 200)
    assert platform.rooms[1].shown == [message]
    assert [button["label"] for button in message.buttons] == ["Again", "Off"]


def test_a_button_a_menu_and_a_form_work_and_what_cannot_be_pressed_is_not(
    platform: Platform, bot: Bot
) -> None:
    message = find(platform).wait().message
    assert platform.press(message, "Again", platform.organiser).wait().updates == 1
    assert (message.content, message.edits) == ("pressed", 1)
    chosen = platform.select(message, "key", ["G"], platform.member).wait()
    assert (chosen.message.content, chosen.message.ephemeral) == ("['G']", True)
    assert platform.rooms[1].shown == [message]
    for wrong in (
        lambda: platform.press(message, "Off", platform.member),
        lambda: platform.press(message, "Gone", platform.member),
        lambda: platform.select(message, "key", ["D"], platform.member),
        lambda: find(platform, bars=9),
        lambda: find(platform, beats=1),
        lambda: platform.run("find", platform.member, platform.rooms[0]),
        lambda: platform.run("lose", platform.member, platform.rooms[0]),
    ):
        with pytest.raises(CannotBeAsked):
            wrong()


def test_a_form_is_filled_in_and_answered_to_its_sender_alone(platform: Platform, bot: Bot) -> None:
    asked = platform.run("send", platform.member, platform.rooms[0]).wait()
    assert asked.modal is not None
    assert asked.modal["title"] == "Send a lick"
    with pytest.raises(CannotBeAsked, match="tab takes 2 to 4000"):
        platform.submit(asked, {"tab": "x"})
    answered = platform.submit(asked, {"tab": "0 2 3"}).wait()
    assert answered.message.content == "got 0 2 3"
    assert answered.message.for_person is platform.member


def test_a_file_that_a_person_sends_can_be_fetched(platform: Platform, bot: Bot) -> None:
    upload = Upload("lick.mid", b"MThd")
    asked = platform.run("send", platform.member, platform.rooms[0], {"file": upload}).wait()
    assert asked.message.content == "lick.mid 4"


def test_commands_come_in_direct_messages_too(platform: Platform, bot: Bot) -> None:
    asked = platform.run("tune", platform.member, platform.dm(platform.member), {"name": "x"}).wait()
    assert asked.message.content == "x"
    assert platform.dm(platform.member).shown == [asked.message]
