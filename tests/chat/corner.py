"""The whole of it on loopback: a real service, the real chat library, a strict stand-in for the platform, people who type and press.

with running_corner(folder) as corner:
    asked = corner.ask("break random", corner.wren, tune="heron-ferry")
    corner.press(asked.message, "Easier", corner.wren)
"""

import asyncio
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import httpx
import msgspec

from bot.discord_side.running import redirect, run_until
from bot.settings import BotSettings
from service.usecases.identify import make_token
from tests.chat_platform.asked import Asked
from tests.chat_platform.stand_in import Platform
from tests.chat_platform.wire import Channel, Message, Person
from tests.clocks import SetClock
from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"
MONDAY = "2026-11-02T12:00:00Z"


class RunningBot:
    """The bot in a thread of its own, from its settings to its end."""

    def __init__(self, settings: BotSettings) -> None:
        self._settings = settings
        self._thread = threading.Thread(target=self._run, name="the bot")
        self._started = threading.Event()
        self._loop = asyncio.new_event_loop()
        self._ending: asyncio.Event | None = None
        self.health_port = 0
        self.status: int | None = None

    def __enter__(self) -> Self:
        redirect(self._settings)
        self._thread.start()
        assert self._started.wait(20)
        return self

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self.status = self._loop.run_until_complete(self._live())
        finally:
            self._started.set()
            left = asyncio.all_tasks(self._loop)
            for task in left:
                task.cancel()
            self._loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
            self._loop.run_until_complete(self._loop.shutdown_default_executor())
            self._loop.close()

    async def _live(self) -> int:
        self._ending = asyncio.Event()

        def told(port: int) -> None:
            self.health_port = port
            self._started.set()

        return await run_until(self._settings, self._ending, told)

    def end(self) -> None:
        if self._ending is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._ending.set)
        self.join()

    def join(self) -> None:
        """Until it has ended by itself."""
        self._thread.join(40)
        assert not self._thread.is_alive()

    def health(self) -> httpx.Response:
        return httpx.get(f"http://127.0.0.1:{self.health_port}/health/ready", timeout=10)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()


@dataclass
class Corner:
    """``kit`` manages the server and is the group's organiser; ``wren`` and ``otter`` are members; ``stranger`` has not joined."""

    platform: Platform
    service: RunningService
    clock: SetClock
    bot: RunningBot
    settings: BotSettings

    @property
    def kit(self) -> Person:
        return self.platform.organiser

    @property
    def wren(self) -> Person:
        return self.platform.member

    def __post_init__(self) -> None:
        server = self.platform.servers[0]
        self.room = self.platform.rooms[0]
        self.otter = self.platform.person("Otter", server)
        self.stranger = self.platform.person("Stranger", server)

    def bind(self) -> None:
        """The demo's group meets on the first server, in its first channel."""
        server = str(self.platform.servers[0].id)
        bound = self.service.operator.patch(
            GROUP, json={"platform": "discord", "server_id": server}, headers={"If-Match": "*"}
        )
        assert bound.status_code == 200, bound.text
        for person in (self.kit, self.wren, self.otter):
            self.join(person)
        chosen = {"zone": "Europe/Berlin", "weekday": "monday", "time": "19:00", "channel": str(self.room.id)}
        answer = self.service.organiser.put(f"{GROUP}/settings", json=chosen, headers={"If-Match": "*"})
        assert answer.status_code == 200, answer.text

    def join(self, person: Person) -> None:
        acting = {
            "Authorization": f"Bearer {self.settings.service_token}",
            "On-Behalf-Of": f"discord:{person.id}",
            "Acting-Server": str(self.platform.servers[0].id),
        }
        sent = {"name": person.name, "manages_server": person is self.kit}
        joined = self.service.operator.post(f"{GROUP}/members", json=sent, headers=acting)
        assert joined.status_code == 201, joined.text

    def at(self, text: str) -> int:
        """The clock is put to a moment, and what is due by then is done."""
        self.clock.to(text)
        return self.service.tick()

    # --- what people do -----------------------------------------------------------------------------------------

    def ask(self, command: str, who: Person, wait_s: float = 90, **options: Any) -> Asked:
        given = {name.replace("_", "-"): value for name, value in options.items()}
        return self.platform.run(command, who, self.room, given).wait(wait_s)

    def press(self, message: Message, label: str, who: Person, wait_s: float = 90) -> Asked:
        return self.platform.press(message, label, who).wait(wait_s)

    def quiet(self, seconds: float = 0.3) -> None:
        """Long enough for a second answer to come, if there were one."""
        time.sleep(seconds)

    def posted(self, count: int = 1, wait_s: float = 90) -> list[Message]:
        """So many messages that the bot brought into the channel by itself."""
        self.platform.until(lambda: len(self.posts) >= count, wait_s)
        return self.posts

    @property
    def posts(self) -> list[Message]:
        return self.of_bot(self.room)

    def of_bot(self, channel: Channel) -> list[Message]:
        """What the bot wrote there by itself and still stands."""
        bot = self.platform.bot
        return [
            message
            for message in channel.messages
            if message.author is bot and not message.deleted and message.interaction is None
        ]


def bot_settings(platform: Platform, service: RunningService, folder: Path, **given: Any) -> BotSettings:
    token = service.call(lambda: make_token(service.house, "bot", None, None))
    told = {
        name.removeprefix("BREAKWRIGHT_BOT_").lower(): value for name, value in platform.environment.items()
    }
    settings = BotSettings(
        token=platform.token, service=service.address, service_token=token, data=str(folder / "bot"),
        health_port=0, shards=1, poll_s=0.1, grace_s=5.0, log_level="error", **told,
    )  # fmt: skip
    return msgspec.structs.replace(settings, **given)


@contextmanager
def running_corner(folder: Path, *, servers: int = 1, bound: bool = True, **given: Any) -> Iterator[Corner]:
    clock = SetClock(MONDAY)
    with (
        RunningService(folder / "service", demo=True, clock=clock) as service,
        Platform(servers=servers) as platform,
    ):
        settings = bot_settings(platform, service, folder, **given)
        bot = RunningBot(settings)
        corner = Corner(platform, service, clock, bot, settings)
        if bound:
            corner.bind()
        with bot:
            platform.until(lambda: platform.connected == list(range(settings.shards)))
            yield corner
        assert platform.violations == []
        assert platform.pings == []
