"""How the gateway ends a conversation that goes against its rules, over a bare websocket."""

import asyncio
import json
import zlib
from collections.abc import Iterator
from typing import Any

import aiohttp
import pytest

from tests.chat_platform.stand_in import Platform

RIGHT = "v=10&encoding=json"


@pytest.fixture
def platform() -> Iterator[Platform]:
    with Platform(servers=2) as platform:
        yield platform


def identify(**more: Any) -> dict[str, Any]:
    return {"op": 2, "d": {"token": "stand-in-token", "intents": 1, "properties": {}} | more}


def spoken(platform: Platform, *frames: Any, query: str = RIGHT) -> tuple[list[Any], int | None]:
    """What came until half a second of silence, as (op, event or data), and the code of the close."""

    async def speak() -> tuple[list[Any], int | None]:
        heard: list[Any] = []
        address = f"{platform.address}/gateway/?{query}"
        async with aiohttp.ClientSession() as session, session.ws_connect(address) as socket:
            for frame in frames:
                await socket.send_str(frame if isinstance(frame, str) else json.dumps(frame))
            while not socket.closed:
                try:
                    message = await socket.receive(timeout=0.5)
                except TimeoutError:
                    await socket.close(code=4000)  # not a goodbye
                    return heard, None
                if message.type is aiohttp.WSMsgType.TEXT:
                    got = json.loads(message.data)
                    heard.append((got["op"], got["t"] or got["d"]))
        return heard, socket.close_code

    return asyncio.run(speak())


def test_a_session_begins_with_what_the_bot_is_and_where(platform: Platform) -> None:
    heard, code = spoken(platform, {"op": 1, "d": None}, identify())
    assert heard == [
        (10, {"heartbeat_interval": 41250}),
        (11, None),
        (0, "READY"),
        (0, "GUILD_CREATE"),
        (0, "GUILD_CREATE"),
    ]
    assert code is None
    assert platform.violations == []


def test_without_the_intent_for_servers_none_are_told(platform: Platform) -> None:
    heard, _ = spoken(platform, identify(intents=0))
    assert [event for _, event in heard[1:]] == ["READY"]


@pytest.mark.parametrize(
    ("frames", "query", "expected"),
    [
        ((identify(token="x"),), RIGHT, 4004),
        ((identify(), identify()), RIGHT, 4005),
        ((identify(shard=[1, 1]),), RIGHT, 4010),
        ((identify(intents=1 << 30),), RIGHT, 4013),
        ((identify(intents="all"),), RIGHT, 4013),
        ((identify(intents=1 << 15),), RIGHT, 4014),
        (({"op": 3, "d": {}},), RIGHT, 4003),
        ((identify(), {"op": 99, "d": {}}), RIGHT, 4001),
        (("{",), RIGHT, 4002),
        (("[]",), RIGHT, 4002),
        ((identify(properties={"x": "y" * 4096}),), RIGHT, 4002),
        ((identify(), *({"op": 1, "d": None},) * 120), RIGHT, 4008),
        ((), "v=9&encoding=json", 4012),
        ((), "v=10&encoding=etf", 4012),
    ],
)  # fmt: skip
def test_what_goes_against_the_rules_ends_the_connection(
    platform: Platform, frames: tuple[Any, ...], query: str, expected: int
) -> None:
    _, code = spoken(platform, *frames, query=query)
    assert code == expected
    assert [violation.code for violation in platform.violations] == [expected]
    platform.until(lambda: platform.connected == [])


def test_more_than_2500_servers_need_shards() -> None:
    with Platform(servers=2501) as platform:
        assert spoken(platform, identify())[1] == 4011
        heard, code = spoken(platform, identify(shard=[0, 2]))
        assert (len(heard), code) == (1 + 1 + 1251, None)


def test_two_starts_at_once_are_one_too_many() -> None:
    with Platform(identify_s=30.0) as platform:
        assert spoken(platform, identify())[0][1] == (0, "READY")
        assert spoken(platform, identify())[0][1] == (9, False)


@pytest.mark.parametrize("wrong", [{"session_id": "gone"}, {"seq": 99}])
def test_only_what_there_was_can_be_resumed(platform: Platform, wrong: dict[str, Any]) -> None:
    spoken(platform, identify())
    (session,) = platform.gateway.sessions.values()
    asked = {"token": platform.token, "session_id": session.id, "seq": 2}
    heard, _ = spoken(platform, {"op": 6, "d": asked})
    assert heard[1:] == [(0, "GUILD_CREATE"), (0, "RESUMED")]
    heard, code = spoken(platform, {"op": 6, "d": asked | wrong})
    assert (heard[1:], code) == (([], 4007) if "seq" in wrong else ([(9, False)], None))


def test_who_says_goodbye_cannot_come_back_to_his_session(platform: Platform) -> None:
    async def leave(code: int) -> None:
        async with (
            aiohttp.ClientSession() as session,
            session.ws_connect(f"{platform.address}/gateway/?{RIGHT}") as socket,
        ):
            await socket.send_json(identify())
            await socket.receive()
            await socket.receive()
            await socket.close(code=code)

    for code, left in ((4000, 1), (1000, 0)):
        platform.gateway.sessions.clear()
        asyncio.run(leave(code))
        platform.until(lambda: platform.connected == [])
        assert len(platform.gateway.sessions) == left


def test_a_compressed_stream_is_one_stream(platform: Platform) -> None:
    async def read() -> list[str]:
        address = f"{platform.address}/gateway/?{RIGHT}&compress=zlib-stream"
        inflate, events = zlib.decompressobj(), []
        async with aiohttp.ClientSession() as session, session.ws_connect(address) as socket:
            await socket.send_json(identify())
            for _ in range(4):
                frame = await socket.receive_bytes()
                assert frame.endswith(b"\x00\x00\xff\xff")
                events.append(json.loads(inflate.decompress(frame))["t"])
        return events

    assert asyncio.run(read()) == [None, "READY", "GUILD_CREATE", "GUILD_CREATE"]


def test_who_stops_beating_is_let_go() -> None:
    with Platform(heartbeat_s=0.1) as platform:
        assert spoken(platform, identify())[1] == 4009
