"""kill -9 of the bot or the service at each step of a post: it stands in the channel once, and the service knows it."""

import asyncio
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from bot.settings import BotSettings
from service.app import open_house
from service.settings import load_settings
from service.usecases.identify import make_token
from tests.chat.corner import GROUP
from tests.chat.process import BotProcess
from tests.chat_platform.faults import Fault
from tests.chat_platform.stand_in import Platform
from tests.chat_platform.wire import Message
from tests.support import ServedProcess, seeded

SEND = ("POST", "/channels/*/messages")
SLOWLY_S = 2.0  # long enough to be killed in


class Scene:
    """A group with a challenge to announce, a service and a bot that can be killed and come again."""

    def __init__(self, folder: Path, platform: Platform) -> None:
        self.platform = platform
        self._data, self._bot_data = folder / "service", folder / "bot"
        self._data.mkdir()
        (self._data / "breakwright.sqlite3").write_bytes(seeded().read_bytes())
        self.organiser, self.operator, self.bot_token = asyncio.run(self._tokens())
        self.service = ServedProcess(self._data)
        self.port = self.service.address.rpartition(":")[2]
        self.room = platform.rooms[0]
        self._ask(
            self.operator, "PATCH", GROUP, {"platform": "discord", "server_id": str(platform.servers[0].id)}
        )
        self._ask(self.organiser, "PUT", f"{GROUP}/settings", {"channel": str(self.room.id)})
        self.bot: BotProcess | None = None

    async def _tokens(self) -> list[str]:
        async with open_house(load_settings({}, data=str(self._data), log_level="error")) as house:
            return [
                await make_token(house, "organiser", "ferry-lane", "Kit"),
                await make_token(house, "operator", None, None),
                await make_token(house, "bot", None, None),
            ]

    def _ask(
        self, token: str, method: str, path: str, sent: dict[str, object] | None = None
    ) -> httpx.Response:
        headers = {"Authorization": f"Bearer {token}", "If-Match": "*"}
        answer = httpx.request(method, self.service.address + path, json=sent, headers=headers, timeout=30)
        assert answer.status_code in (200, 201), answer.text
        return answer

    def announce(self) -> None:
        self._ask(self.organiser, "POST", f"{GROUP}/challenges", {"tune": "heron-ferry", "phrase": 1})

    def start_bot(self) -> None:
        settings = BotSettings(
            token=self.platform.token, service=self.service.address, service_token=self.bot_token,
            data=str(self._bot_data), health_port=0, shards=1, poll_s=0.1, lease_s=5, log_level="error",
        )  # fmt: skip
        self.bot = BotProcess(self.platform, settings)

    def kill_bot(self) -> None:
        assert self.bot is not None
        self.bot.kill()

    def kill_service(self) -> None:
        self.service.__exit__(None, None, None)

    def start_service(self) -> None:
        """At the address where it was before."""
        self.service = ServedProcess(self._data, port=self.port)

    @property
    def messages(self) -> list[Message]:
        return [m for m in self.room.messages if m.author is self.platform.bot and not m.deleted]

    def states(self) -> list[str]:
        return [post["state"] for post in self._ask(self.organiser, "GET", f"{GROUP}/posts").json()["items"]]

    def sending(self) -> None:
        """Until the bot is about to send."""
        self.platform.until(lambda: self.platform.faults.left == 0, 40)

    def settled(self) -> None:
        end = time.monotonic() + 60
        while self.states() != ["sent"] or len(self.messages) != 1:
            assert time.monotonic() < end, (self.states(), self.messages)
            time.sleep(0.1)
        time.sleep(0.5)
        assert len(self.messages) == 1
        assert self.states() == ["sent"]

    def end(self) -> None:
        if self.bot is not None and self.bot.process.poll() is None:
            self.bot.kill()
        self.service.__exit__(None, None, None)


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    with Platform() as platform:
        made = Scene(tmp_path, platform)
        try:
            yield made
        finally:
            made.end()
        assert platform.violations == []


def test_the_bot_is_killed_before_it_sent(scene: Scene) -> None:
    scene.platform.faults.next(*SEND, Fault(delay_s=SLOWLY_S, drop=True))
    scene.announce()
    scene.start_bot()
    scene.sending()
    scene.kill_bot()
    scene.start_bot()
    scene.settled()


def test_the_bot_is_killed_after_it_sent_and_before_it_heard(scene: Scene) -> None:
    scene.platform.faults.next(*SEND, Fault(delay_s=SLOWLY_S, drop=True, after=True))
    scene.announce()
    scene.start_bot()
    scene.platform.until(lambda: len(scene.messages) == 1, 40)
    scene.kill_bot()
    scene.start_bot()
    scene.settled()


def test_a_nonce_that_the_platform_has_forgotten_is_found_in_the_history(scene: Scene) -> None:
    scene.platform.faults.next(*SEND, Fault(delay_s=SLOWLY_S, drop=True, after=True))
    scene.announce()
    scene.start_bot()
    scene.platform.until(lambda: len(scene.messages) == 1, 40)
    scene.kill_bot()
    scene.platform.world.nonces.clear()
    scene.start_bot()
    scene.settled()


def test_the_service_is_killed_while_the_bot_sends(scene: Scene) -> None:
    scene.platform.faults.next(*SEND, Fault(delay_s=SLOWLY_S))
    scene.announce()
    scene.start_bot()
    scene.sending()
    scene.kill_service()
    scene.platform.until(lambda: len(scene.messages) == 1, 40)
    time.sleep(4)  # longer than the bot repeats what was not heard
    scene.start_service()
    scene.settled()


def test_both_are_killed_after_it_was_sent(scene: Scene) -> None:
    scene.platform.faults.next(*SEND, Fault(delay_s=SLOWLY_S, after=True))
    scene.announce()
    scene.start_bot()
    scene.platform.until(lambda: len(scene.messages) == 1, 40)
    scene.kill_service()
    scene.kill_bot()
    scene.start_service()
    scene.start_bot()
    scene.settled()
