"""The stand-in and bots in processes of their own: bots are killed, what is in the channels stays."""

import os
import subprocess
import sys
from collections.abc import Iterator

import pytest

from tests.chat_platform.control import Failed, PlatformProcess
from tests.chat_platform.faults import Fault
from tests.chat_platform.stand_in import Platform

BOT = """
import os, sys
import discord, yarl
from discord import app_commands
discord.http.Route.BASE = os.environ["BREAKWRIGHT_BOT_REST"]
discord.gateway.DiscordWebSocket.DEFAULT_GATEWAY = yarl.URL(os.environ["BREAKWRIGHT_BOT_GATEWAY"])

class Bot(discord.Client):
    async def setup_hook(self):
        self.tree = app_commands.CommandTree(self)
        self.tree.add_command(app_commands.Command(name="size", description="Of a file", callback=size))
        await self.tree.sync()
    async def on_ready(self):
        room = self.guilds[0].text_channels[0]
        await room.send("round-up", nonce="row-1")
        print("sent", flush=True)

async def size(interaction: discord.Interaction, file: discord.Attachment):
    await interaction.response.send_message(str(len(await file.read())))

Bot(intents=discord.Intents(guilds=True), guild_ready_timeout=0.1).run(sys.argv[1], log_handler=None)
"""


def bot_process(token: str, environment: dict[str, str]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", BOT, token],
        env=os.environ | environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip


def end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.wait(30)
    assert process.stdout is not None
    process.stdout.close()


def test_a_bot_that_is_killed_before_it_knows_that_it_sent_does_not_send_twice() -> None:
    with Platform() as platform:
        platform.faults.next("POST", "/channels/*/messages", Fault(drop=True, after=True))
        first = bot_process(platform.token, platform.environment)
        platform.until(lambda: len(platform.rooms[0].shown) == 1, 20)
        end(first)
        platform.until(lambda: platform.connected == [])
        second = bot_process(platform.token, platform.environment)
        assert second.stdout is not None
        assert second.stdout.readline() == "sent\n"
        end(second)
        assert [message.content for message in platform.rooms[0].shown] == ["round-up"]
        assert platform.gateway.identifies == 2
        assert platform.violations == []


@pytest.fixture
def elsewhere() -> Iterator[PlatformProcess]:
    with PlatformProcess("--servers", "2") as process:
        yield process


def test_the_stand_in_can_be_spoken_to_in_its_own_process(elsewhere: PlatformProcess) -> None:
    bot = bot_process(elsewhere.token, elsewhere.environment)
    try:
        assert bot.stdout is not None
        assert bot.stdout.readline() == "sent\n"
        file = {"name": "lick.mid", "base64": "TVRoZA=="}
        asked = elsewhere.do(
            "run", command="size", person="Wren", channel="Landing 2/licks", options={"file": file}
        )
        assert [message["content"] for message in asked["messages"]] == ["4"]
        (message,) = elsewhere.do("messages", channel="Landing 1/general")
        assert (message["content"], message["nonce"]) == ("round-up", "row-1")
        with pytest.raises(Failed, match="the option file is required"):
            elsewhere.do("run", command="size", person="Wren", channel="@Wren")
        elsewhere.do("drop_gateway")
        state = elsewhere.do("state")
        assert (state["violations"], state["servers"]) == ([], ["Landing 1", "Landing 2"])
    finally:
        end(bot)
