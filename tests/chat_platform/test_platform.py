"""The stand-in as the real chat library meets it: sessions, interactions, messages, faults."""

import asyncio
import io
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, cast

import aiohttp
import discord
import pytest
from discord import app_commands

from tests.chat_platform.asked import Asked, Unanswered
from tests.chat_platform.commands import CannotBeAsked
from tests.chat_platform.faults import Fault
from tests.chat_platform.people import Upload
from tests.chat_platform.running import Running
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


async def _at_once(shard: int | None, *, initial: bool = False) -> None:
    """The library waits five seconds between two starts, else."""


@pytest.fixture
def quick(platform: Platform, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bot]:
    """A bot that begins anew without waiting."""
    client = Bot()
    monkeypatch.setattr(client, "before_identify_hook", _at_once)
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
        assert [command["name"] for command in platform.commands] == [
            "find",
            "send",
            "tune",
            "sleep",
            "Read out",
        ]


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
    person = platform.select(message, "who", [platform.organiser], platform.member).wait()
    assert person.message.content == "Marlow"
    assert platform.rooms[1].shown == [message]
    impossible: tuple[Callable[[], Asked], ...] = (
        lambda: platform.press(message, "Off", platform.member),
        lambda: platform.press(message, "Gone", platform.member),
        lambda: platform.select(message, "key", ["D"], platform.member),
        lambda: find(platform, bars=9),
        lambda: find(platform, beats=1),
        lambda: platform.run("find", platform.member, platform.rooms[0]),
        lambda: platform.run("lose", platform.member, platform.rooms[0]),
    )
    for wrong in impossible:
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


def test_options_are_proposed_while_somebody_types(platform: Platform, bot: Bot) -> None:
    asked = platform.type_ahead("tune", "name", "her", platform.member, platform.rooms[0]).wait()
    assert asked.choices == [{"name": "her ferry", "value": "heron-ferry"}]
    with pytest.raises(CannotBeAsked, match="nothing is proposed for words"):
        platform.type_ahead("find", "words", "x", platform.member, platform.rooms[0])


def test_a_message_has_its_own_menu(platform: Platform, bot: Bot) -> None:
    said = platform.say(platform.organiser, platform.rooms[0], "0 2 3")
    asked = platform.menu_command("Read out", said, platform.member, platform.rooms[0]).wait()
    assert asked.message.content == "0 2 3, read out"


# --- sessions ------------------------------------------------------------------------------------------


def test_after_a_drop_the_session_is_resumed_and_what_was_missed_is_replayed(platform: Platform) -> None:
    with Running(Bot(discord.Intents(guilds=True, guild_messages=True)), platform) as running:
        platform.gateway.down = True
        platform.drop_gateway()
        platform.until(lambda: platform.connected == [])
        platform.say(platform.member, platform.rooms[0], f"<@{platform.bot.id}> anybody?")
        assert running.client.heard == []
        platform.gateway.down = False
        platform.until(lambda: running.client.heard == [f"<@{platform.bot.id}> anybody?"])
        assert running.client.seen[-2:] == ["MESSAGE_CREATE", "RESUMED"]
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


def test_an_invalid_session_is_begun_anew(platform: Platform, quick: Bot) -> None:
    platform.invalidate(resumable=True)
    platform.until(lambda: platform.gateway.resumes == 1)
    platform.invalidate(resumable=False)
    platform.until(lambda: quick.readies == 2)
    assert (platform.gateway.identifies, platform.gateway.resumes) == (2, 1)


def test_two_shards_get_their_own_servers(monkeypatch: pytest.MonkeyPatch) -> None:
    with Platform(servers=5, shards=2) as platform:
        client = discord.AutoShardedClient(intents=HERE, guild_ready_timeout=0.1)
        monkeypatch.setattr(client, "before_identify_hook", _at_once)
        with Running(client, platform):
            assert platform.connected == [0, 1]
            found = {guild.name: guild.shard_id for guild in client.guilds}
            assert found == {"Landing 1": 0, "Landing 2": 1, "Landing 3": 0, "Landing 4": 1, "Landing 5": 0}
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


# --- interactions in time ------------------------------------------------------------------------------


def test_who_answers_too_late_is_told_that_the_interaction_is_unknown() -> None:
    with Platform(ack_s=0.3) as platform, Running(Bot(), platform):
        asked = platform.run("sleep", platform.member, platform.rooms[0])
        with pytest.raises(Unanswered):
            asked.wait()
        platform.until(lambda: [refusal.code for refusal in platform.refusals] == [10062])
        assert len(platform.take_violations(10062)) == 1
        assert platform.violations == []
        assert platform.rooms[0].shown == []


def test_a_command_that_nobody_hears_is_nobodys_fault() -> None:
    with Platform(ack_s=0.1) as platform, Running(Bot(), platform):
        platform.gateway.down = True
        platform.drop_gateway()
        platform.until(lambda: platform.connected == [])
        with pytest.raises(Unanswered):
            find(platform).wait()
        assert platform.violations == []


# --- faults and limits ---------------------------------------------------------------------------------


def test_a_too_many_is_waited_out_by_the_library(platform: Platform, bot: Bot) -> None:
    platform.faults.next("POST", "/webhooks/*/*", Fault(status=429, retry_after_s=0.05))
    assert find(platform).wait().message.content == "roll 2"
    posts = [request.status for request in platform.requests if request.path.startswith("/webhooks")]
    assert posts == [429, 200]


def test_a_bucket_is_kept_to_and_tells_when_it_is_full(platform: Platform) -> None:
    platform.limits.set("POST", "/channels/*/messages", 2, 0.4)
    with Running(Bot(), platform) as running:
        room = running.client.get_partial_messageable(platform.rooms[0].id)
        began = time.monotonic()
        for number in range(3):
            running.call(room.send(str(number)))
        assert time.monotonic() - began > 0.4
    assert [message.content for message in platform.rooms[0].shown] == ["0", "1", "2"]
    # The library reads the headers and waits before it is told to.
    assert all(request.status == 200 for request in platform.requests)


def test_a_lost_answer_leaves_the_message_there_and_a_nonce_keeps_it_from_coming_twice(
    platform: Platform, bot: Bot
) -> None:
    with Running(Bot(), platform) as running:
        room = running.client.get_partial_messageable(platform.rooms[0].id)
        platform.faults.next("POST", "/channels/*/messages", Fault(drop=True, after=True))
        with pytest.raises(aiohttp.ClientError):
            running.call(room.send("round-up", nonce="row-7"))
        (stored,) = platform.rooms[0].shown
        again = running.call(room.send("round-up", nonce="row-7"))
        assert again.id == stored.id
        assert platform.rooms[0].shown == [stored]
        other = running.call(room.send("round-up", nonce="row-8"))
        assert other.id != stored.id


@pytest.mark.parametrize(
    ("fault", "raised"),
    [
        (Fault(drop=True), aiohttp.ClientError),
        (Fault(status=503), discord.DiscordServerError),
        (Fault(status=503, html=True), discord.DiscordServerError),
        (Fault(truncated=True), aiohttp.ClientError),
    ],
    ids=["dropped", "unavailable", "a page", "half an answer"],
)
def test_a_fault_reaches_the_bot(platform: Platform, fault: Fault, raised: type[Exception]) -> None:
    with Running(Bot(), platform) as running:
        room = running.client.get_partial_messageable(platform.rooms[0].id)
        platform.faults.next("POST", "/channels/*/messages", fault)
        with pytest.raises(raised):
            running.call(room.send("once"))
        assert len(platform.rooms[0].shown) == int(fault.truncated)
        running.call(room.send("twice"))
        assert platform.faults.left == 0


def test_a_late_answer_is_late(platform: Platform, bot: Bot) -> None:
    platform.faults.next("POST", "/interactions/*/*/callback", Fault(delay_s=0.3))
    asked = find(platform).wait()
    assert asked.acknowledged_after is not None
    assert 0.3 <= asked.acknowledged_after < 3


@pytest.mark.parametrize("cutting", [False, True])
def test_a_gateway_that_says_no_at_first_stops_a_bare_client(platform: Platform, cutting: bool) -> None:
    platform.gateway.cutting = cutting
    platform.gateway.refusing = 1 + cutting  # the HTTP library itself asks again where it was cut off
    # The library wants to resume what never began, and falls over that.
    with pytest.raises(AttributeError, match="sequence"), Running(Bot(), platform):
        pass


@pytest.mark.parametrize(
    ("acks", "silent"), [(False, False), (True, True)], ids=["no confirmation", "silence"]
)
def test_a_gateway_that_seems_dead_is_left(acks: bool, silent: bool) -> None:
    with Platform(heartbeat_s=0.1) as platform, Running(Bot(heartbeat_timeout=0.5), platform):
        platform.gateway.acks, platform.gateway.silent = acks, silent
        platform.until(lambda: platform.connected == [])
        platform.gateway.acks, platform.gateway.silent = True, False
        platform.until(lambda: platform.gateway.resumes >= 1)


# --- what is remembered --------------------------------------------------------------------------------


def test_threads_members_edits_and_deletions_are_remembered(platform: Platform) -> None:
    with Running(Bot(), platform) as running:
        room = running.client.guilds[0].text_channels[0]
        message = running.call(room.send("challenge"))
        thread = running.call(message.create_thread(name="variations"))
        assert thread.id == message.id
        with pytest.raises(discord.HTTPException) as raised:
            running.call(message.create_thread(name="variations"))
        assert raised.value.code == 160004
        running.call(thread.add_user(discord.Object(platform.member.id)))
        running.call(thread.send("in the thread"))
        running.call(message.edit(content="changed"))
        gone = running.call(room.send("gone"))
        running.call(gone.delete())
        kept = running.call(_history(room))
        assert kept == ["changed"]
    first, second = platform.rooms[0].messages
    assert (first.content, first.edits, second.content, second.deleted) == ("changed", 1, "gone", True)
    assert first.thread is not None
    assert first.thread.members == [platform.bot, platform.member]
    assert [message.content for message in first.thread.shown] == ["in the thread"]


async def _history(room: discord.TextChannel) -> list[str]:
    return [message.content async for message in room.history(limit=10)]


def test_whom_a_message_would_ping_is_remembered(platform: Platform) -> None:
    with Running(Bot(), platform) as running:
        room = running.client.get_partial_messageable(platform.rooms[0].id)
        text = f"<@{platform.member.id}> and @everyone"
        running.call(room.send(text, allowed_mentions=discord.AllowedMentions.none()))
        assert platform.pings == []
        running.call(room.send(text))
    assert [(ping.kind, ping.whom) for ping in platform.pings] == [
        ("user", str(platform.member.id)),
        ("everyone", "everyone"),
    ]


def test_a_person_who_takes_no_direct_messages_gets_none(platform: Platform) -> None:
    platform.member.dm_open = False
    with Running(Bot(), platform) as running:
        person = running.call(running.client.create_dm(discord.Object(platform.member.id)))
        with pytest.raises(discord.Forbidden) as raised:
            running.call(person.send("hello"))
    assert raised.value.code == 50007
    assert [refusal.code for refusal in platform.refusals] == [50007]


def test_presence_is_told(platform: Platform) -> None:
    with Running(Bot(activity=discord.CustomActivity("listening")), platform):
        assert platform.presence is not None
        assert platform.presence["game"]["state"] == "listening"
