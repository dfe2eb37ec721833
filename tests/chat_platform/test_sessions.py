"""Sessions of the real chat library at the stand-in: beginning, resuming, shards, servers, intents."""

import time
from dataclasses import replace
from typing import Any

import discord
import pytest

from tests.chat_platform.a_bot import HERE, Bot, at_once, find
from tests.chat_platform.running import Running
from tests.chat_platform.stand_in import Platform


def test_after_a_drop_the_session_is_resumed_and_what_was_missed_is_replayed(platform: Platform) -> None:
    with Running(Bot(discord.Intents(guilds=True, guild_messages=True)), platform) as running:
        platform.gateway.down = True
        platform.drop_gateway()
        platform.until(lambda: platform.connected == [])
        platform.say(platform.member, platform.rooms[0], f"<@{platform.bot.id}> anybody?")
        assert running.client.heard == []
        platform.gateway.down = False
        platform.until(lambda: running.client.heard == [f"<@{platform.bot.id}> anybody?"])
        platform.until(lambda: running.client.seen[-2:] == ["MESSAGE_CREATE", "RESUMED"])
        assert (platform.gateway.identifies, platform.gateway.resumes) == (1, 1)
        assert running.client.readies == 1


@pytest.mark.parametrize(
    ("code", "began"), [(4000, (1, 1)), (4009, (2, 0))], ids=["unknown error", "timed out"]
)
def test_after_a_close_the_session_is_resumed_or_begun_anew_by_its_code(
    platform: Platform, quick: Bot, code: int, began: tuple[int, int]
) -> None:
    platform.close_gateway(code)
    platform.until(lambda: (platform.gateway.identifies, platform.gateway.resumes) == began)
    platform.until(lambda: platform.connected == [0])
    assert find(platform).wait().message.content == "roll 2"


def test_a_request_to_reconnect_leads_to_a_resumed_session(platform: Platform, bot: Bot) -> None:
    platform.ask_to_reconnect()
    platform.until(lambda: platform.gateway.resumes == 1)
    assert platform.gateway.identifies == 1
    assert find(platform).wait().message.content == "roll 2"


def test_a_request_for_a_heartbeat_is_heard(platform: Platform, bot: Bot) -> None:
    platform.until(lambda: platform.gateway.beats == 1)
    platform.ask_for_heartbeat()
    platform.until(lambda: platform.gateway.beats == 2)


def test_an_invalid_session_is_begun_anew(platform: Platform, quick: Bot) -> None:
    platform.invalidate(resumable=True)
    platform.until(lambda: platform.gateway.resumes == 1)
    platform.invalidate(resumable=False)
    platform.until(lambda: quick.readies == 2)
    assert (platform.gateway.identifies, platform.gateway.resumes) == (2, 1)


def test_two_shards_get_their_own_servers(monkeypatch: pytest.MonkeyPatch) -> None:
    with Platform(servers=5, shards=2) as platform:
        client = discord.AutoShardedClient(intents=HERE, guild_ready_timeout=0.1)
        seen: list[int] = []

        @client.event
        async def on_guild_channel_update(_: Any, after: discord.TextChannel) -> None:
            seen.append(after.guild.shard_id)

        monkeypatch.setattr(client, "before_identify_hook", at_once)
        with Running(client, platform):
            assert platform.connected == [0, 1]
            found = {guild.name: guild.shard_id for guild in client.guilds}
            assert found == {"Landing 1": 0, "Landing 2": 1, "Landing 3": 0, "Landing 4": 1, "Landing 5": 0}
            for server in platform.servers:
                platform.allow(server.channels[0], {"view"})
            platform.until(lambda: len(seen) >= 5)
            assert sorted(seen) == [0, 0, 0, 1, 1]
            (sent,) = {session.number for session in platform.gateway.sessions.values() if session.shard == 1}
            assert sent == 1 + 2 + 2  # READY, its servers, their changes
        assert platform.violations == []


def test_the_bot_learns_where_it_is_shown_out_or_asked_in(platform: Platform, bot: Bot) -> None:
    platform.remove_bot(platform.servers[1])
    platform.until(lambda: [guild.name for guild in bot.guilds] == ["Landing 1"])
    platform.add_bot(platform.servers[1])
    platform.add_server("Landing 3")
    platform.until(lambda: len(bot.guilds) == 3)
    platform.allow(platform.rooms[0], {"view"})
    (channel,) = [c for c in bot.guilds[0].text_channels if c.name == "general"]
    platform.until(lambda: not channel.permissions_for(channel.guild.me).send_messages)
    platform.remove_channel(platform.rooms[0])
    platform.until(lambda: len(bot.guilds[0].text_channels) == 2)


def test_what_others_write_comes_without_its_content_unless_it_is_meant_for_the_bot(
    platform: Platform,
) -> None:
    with Running(Bot(discord.Intents(guilds=True, messages=True)), platform) as running:
        platform.say(platform.member, platform.rooms[0], "secret")
        platform.say(platform.member, platform.rooms[0], f"hear me <@{platform.bot.id}>")
        platform.say(platform.member, platform.dm(platform.member), "to you")
        platform.until(lambda: len(running.client.heard) == 3)
        assert running.client.heard == ["", f"hear me <@{platform.bot.id}>", "to you"]


def test_without_the_intent_no_messages_come_and_a_privileged_one_is_refused(
    platform: Platform, bot: Bot
) -> None:
    platform.say(platform.member, platform.rooms[0], "hello")
    assert find(platform).wait().message.content == "roll 2"
    assert "MESSAGE_CREATE" not in bot.seen
    with (
        pytest.raises(discord.PrivilegedIntentsRequired),
        Running(Bot(discord.Intents(guilds=True, message_content=True)), platform),
    ):
        pass
    assert [violation.code for violation in platform.take_violations(4014)] == [4014]


def test_who_comes_without_the_token_is_not_let_in(platform: Platform) -> None:
    running = Running(Bot(), platform)
    platform.world.settings = replace(platform.world.settings, token="another")
    running.token = "wrong"
    with pytest.raises(discord.LoginFailure), running:
        pass
    assert platform.take_violations(40001)


def test_2500_servers_are_there_within_seconds() -> None:
    began = time.monotonic()
    with Platform(servers=2500) as platform, Running(Bot(), platform) as running:
        assert len(running.client.guilds) == 2500
        assert platform.violations == []
    assert time.monotonic() - began < 30
