"""The stand-in as the real chat library meets it: interactions, messages, and what is remembered."""

from collections.abc import Callable

import discord
import pytest

from tests.chat_platform.a_bot import Bot, find
from tests.chat_platform.asked import Asked
from tests.chat_platform.commands import CannotBeAsked
from tests.chat_platform.people import Upload
from tests.chat_platform.running import Running
from tests.chat_platform.stand_in import Platform


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
        asked = platform.run("tune", platform.member, platform.channel(thread.id), {"name": "x"}).wait()
        assert asked.message.channel.id == thread.id
        running.call(message.edit(content="changed"))
        gone = running.call(room.send("gone"))
        running.call(gone.delete())
        kept = running.call(_history(room))
        assert kept == ["changed"]
    first, second = platform.rooms[0].messages
    assert (first.content, first.edits, second.content, second.deleted) == ("changed", 1, "gone", True)
    assert first.thread is not None
    assert first.thread.members == [platform.bot, platform.member]
    assert [message.content for message in first.thread.shown] == ["in the thread", "x"]


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
