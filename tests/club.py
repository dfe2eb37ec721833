"""The demo group as a club that meets in a chat: a clock that stands where it is put, a bot, some members."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import httpx

from tests.clocks import SetClock
from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"
MONDAY = "2026-11-02T18:00:00Z"  # 19:00 in Berlin, when the club's week begins
SETTINGS: dict[str, Any] = {
    "zone": "Europe/Berlin", "weekday": "monday", "time": "19:00", "channel": "licks", "draws": True,
}  # fmt: skip


class Club:
    """``wren``, ``otter`` and ``heron`` are members, ``organiser`` is one; ``bot`` speaks for nobody."""

    def __init__(self, service: RunningService, clock: SetClock, clients: ExitStack) -> None:
        self.service, self.clock = service, clock
        member = [
            clients.enter_context(service.client("member", "ferry-lane", name))
            for name in ("Wren", "Otter", "Heron")
        ]
        self.wren, self.otter, self.heron = member
        self.organiser = clients.enter_context(service.client("organiser", "ferry-lane", "Kit"))
        self.bot = clients.enter_context(service.client("bot"))

    def bind(self, **settings: object) -> None:
        """Give the group its server and channel."""
        any_revision = {"If-Match": "*"}
        bound = self.service.operator.patch(
            GROUP, json={"platform": "chat", "server_id": "77"}, headers=any_revision
        )
        assert bound.status_code == 200, bound.text
        self.choose(**settings)

    def choose(self, **settings: object) -> None:
        answer = self.organiser.put(f"{GROUP}/settings", json=SETTINGS | settings, headers={"If-Match": "*"})
        assert answer.status_code == 200, answer.text

    def at(self, text: str) -> int:
        """The clock is put to a moment, and what is due by then is done."""
        self.clock.to(text)
        return self.service.tick()

    def posts(self, most: int = 50) -> list[dict[str, Any]]:
        """What a bot brings into the chat now, each told to be sent."""
        found: list[dict[str, Any]] = []
        while items := self.claimed(most):
            for item in items:
                message = item["message_id"] or f"message-{item['id']}"
                sent = self.bot.put(f"/v1/outbox/{item['id']}/sent", json={"message_id": message})
                assert sent.status_code == 200, sent.text
            found += items
        return found

    def claimed(self, most: int = 50, lease_s: int = 60) -> list[dict[str, Any]]:
        answer = self.bot.post(
            "/v1/outbox/claims", json={"platform": "chat", "most": most, "lease_s": lease_s}
        )
        assert answer.status_code == 200, answer.text
        items: list[dict[str, Any]] = answer.json()["items"]
        return items

    def challenge(self, **wish: object) -> dict[str, Any]:
        """One set by hand: heron-ferry's first phrase without any wish."""
        answer = self.organiser.post(f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1, **wish})
        assert answer.status_code == 201, answer.text
        made: dict[str, Any] = answer.json()
        return made

    def enter(self, who: httpx.Client, text: str, challenge: int = 1, **more: object) -> dict[str, Any]:
        answer = who.post(f"{GROUP}/challenges/{challenge}/variations", json={"text": text, **more})
        assert answer.status_code == 201, answer.text
        made: dict[str, Any] = answer.json()
        return made


@contextmanager
def running_club(folder: Path, moment: str = "2026-11-02T12:00:00Z", **given: object) -> Iterator[Club]:
    clock = SetClock(moment)
    with (
        RunningService(folder, demo=True, clock=clock, **given) as service,
        ExitStack() as clients,
    ):
        yield Club(service, clock, clients)
