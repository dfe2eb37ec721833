"""What the real chat library makes of late, lost and broken answers."""

import time

import aiohttp
import discord
import pytest

from tests.chat_platform.a_bot import Bot, find
from tests.chat_platform.asked import Unanswered
from tests.chat_platform.faults import Fault
from tests.chat_platform.running import Running
from tests.chat_platform.stand_in import Platform


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
