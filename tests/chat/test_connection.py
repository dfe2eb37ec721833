"""The connection to the chat: refused, dropped, resumed, invalid, shared among shards; and what health says of it."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bot.discord_side.tree import KNOWN_FILE
from tests.chat.corner import Corner, RunningBot, bot_settings, running_corner
from tests.chat.process import BotProcess
from tests.chat_platform.stand_in import Platform
from tests.support import RunningService


@pytest.fixture(scope="module")
def corner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Corner]:
    with running_corner(tmp_path_factory.mktemp("corner")) as running:
        yield running


def _works(corner: Corner) -> None:
    assert corner.ask("break random", corner.wren, tune="heron-ferry").message.content.startswith("**Heron")


DROPS: dict[str, Callable[[Platform], None]] = {
    "the connection is cut": lambda platform: platform.drop_gateway(),
    "it is closed with 4000": lambda platform: platform.close_gateway(4000),
    "it is closed with 4009": lambda platform: platform.close_gateway(4009),
    "it is closed with 1001": lambda platform: platform.close_gateway(1001),
    "it is asked to reconnect": lambda platform: platform.ask_to_reconnect(),
    "its session is invalid and can be resumed": lambda platform: platform.invalidate(resumable=True),
    "its session is invalid for good": lambda platform: platform.invalidate(resumable=False),
}


@pytest.mark.parametrize("drop", DROPS.values(), ids=DROPS)
def test_it_comes_back(corner: Corner, drop: Callable[[Platform], None]) -> None:
    drop(corner.platform)
    corner.platform.until(lambda: corner.platform.connected == [0], 30)
    time.sleep(0.2)
    corner.platform.until(lambda: corner.platform.connected == [0] and corner.bot.health().json()["chat"], 30)
    _works(corner)


def test_what_was_asked_while_it_was_away_is_answered_after_it_resumed(corner: Corner) -> None:
    corner.platform.drop_gateway()
    _works(corner)


def test_health_tells_that_the_service_is_away(tmp_path: Path) -> None:
    with running_corner(tmp_path) as corner:
        corner.platform.until(lambda: corner.bot.health().status_code == 200)
        assert corner.bot.health().json() == {"ready": True, "chat": True, "service": True, "shards_down": []}


def test_without_the_service_people_are_told_in_one_sentence(tmp_path: Path) -> None:
    with Platform() as platform:
        with RunningService(tmp_path / "service", demo=True) as service:
            settings = bot_settings(platform, service, tmp_path)
        with RunningBot(settings) as bot:
            platform.until(lambda: platform.connected == [0])
            asked = platform.run(
                "break random", platform.member, platform.rooms[0], {"tune": "heron-ferry"}
            ).wait(90)
            assert asked.message.content == "**The service does not answer just now. Try again in a minute.**"
            assert asked.message.ephemeral
            assert [button["label"] for button in asked.message.buttons] == ["Try again"]
            assert asked.acknowledged_after is not None
            assert asked.acknowledged_after < 1
            assert bot.health().json()["service"] is False
            assert bot.health().status_code == 503


def test_a_platform_that_is_down_at_first_is_waited_for(tmp_path: Path) -> None:
    with RunningService(tmp_path / "service", demo=True) as service, Platform() as before:
        settings = bot_settings(before, service, tmp_path)
        port = int(before.address.rpartition(":")[2])
        before.__exit__(None, None, None)
        with RunningBot(settings) as bot:
            time.sleep(1.5)
            assert bot.health().json()["chat"] is False
            with Platform(port=port) as platform:
                platform.until(lambda: platform.connected == [0], 30)
                platform.until(lambda: bool(bot.health().json()["chat"]))


def test_a_wrong_token_ends_it_with_a_word(tmp_path: Path) -> None:
    with RunningService(tmp_path / "service", demo=True) as service, Platform() as platform:
        bot = RunningBot(bot_settings(platform, service, tmp_path, token="not.the.one"))
        with bot:
            bot.join()
        assert bot.status == 2


def test_two_shards_share_the_servers(tmp_path: Path) -> None:
    with running_corner(tmp_path, servers=6, shards=2) as corner:
        assert corner.platform.connected == [0, 1]
        shards = {(server.id >> 22) % 2 for server in corner.platform.servers}
        assert shards == {0, 1}
        for server in corner.platform.servers:
            asked = corner.platform.run("help", corner.kit, server.channels[0]).wait(90)
            assert asked.messages
        corner.platform.drop_gateway(1)
        corner.platform.until(lambda: corner.platform.connected == [0, 1], 30)
        _works(corner)


def test_commands_are_made_known_when_they_changed_and_not_else(tmp_path: Path) -> None:
    with RunningService(tmp_path / "service", demo=True) as service, Platform() as platform:
        settings = bot_settings(platform, service, tmp_path)

        def made_known() -> int:
            return sum(r.method == "PUT" and r.path.endswith("/commands") for r in platform.requests)

        for _ in range(2):
            with RunningBot(settings):
                platform.until(lambda: platform.connected == [0])
            platform.until(lambda: platform.connected == [])
        assert made_known() == 1
        (settings.folder / KNOWN_FILE).write_text('{"1": "another tree"}')
        with RunningBot(settings):
            platform.until(lambda: platform.connected == [0])
        assert made_known() == 2
        assert platform.violations == []


def test_sigterm_lets_what_is_under_way_be_answered(tmp_path: Path) -> None:
    with RunningService(tmp_path / "service", demo=True) as service, Platform() as platform:
        settings = bot_settings(platform, service, tmp_path)
        with BotProcess(platform, settings) as bot:
            platform.until(lambda: platform.connected == [0], 30)
            asked = platform.run("help", platform.organiser, platform.rooms[0]).wait_acknowledged(60)
            bot.process.send_signal(signal.SIGTERM)
            assert bot.process.wait(90) == 0
            assert asked.messages
        assert platform.connected == []


def test_without_its_settings_it_says_what_is_missing() -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "bot"], capture_output=True, text=True, env={"PATH": ""}, check=False
    )
    assert ended.returncode == 2
    assert ended.stderr == (
        "breakwright bot: BREAKWRIGHT_BOT_TOKEN is not set: the application's token, from the chat platform\n"
    )
