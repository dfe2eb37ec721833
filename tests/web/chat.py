"""Groups that belong to chat servers, and a bot that speaks for people there."""

import itertools
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import httpx

from service.usecases.identify import make_token
from tests.support import RunningService


class Group:
    """A group of its own on server ``s1``, ``s2`` ...; ``path`` is where it is."""

    def __init__(self, chat: "Chat", number: int, settings: dict[str, Any]) -> None:
        self.chat, self.slug, self.server = chat, f"jam-{number}", f"s{number}"
        self.path = f"/v1/groups/{self.slug}"
        body = {"slug": self.slug, "name": f"Jam {number}", "platform": "chat", "server_id": self.server}
        made = chat.service.operator.post("/v1/groups", json=body)
        assert made.status_code == 201, made.text
        if settings:
            chosen = chat.service.operator.put(
                f"{self.path}/settings", json=settings, headers={"If-Match": "*"}
            )
            assert chosen.status_code == 200, chosen.text

    def client(self, role: str, member: str | None = None) -> httpx.Client:
        """The holder of a token of this group."""
        return self.chat.client(role, self.slug, member)

    def speaks(self, user: str) -> httpx.Client:
        """The bot, on behalf of somebody on the group's server."""
        return self.chat.speaks(user, self.server)

    def join(self, user: str, **sent: object) -> httpx.Response:
        return self.speaks(user).post(f"{self.path}/members", json={"name": user.title(), **sent})

    def joined(self, user: str, **sent: object) -> dict[str, Any]:
        answer = self.join(user, **sent)
        assert answer.status_code == 201, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def trail(self) -> list[tuple[str, str, dict[str, Any]]]:
        """What was done, the first first: action, subject, parameters."""
        items = self.chat.service.operator.get(f"{self.path}/audit").json()["items"]
        return [(item["action"], item["subject"], item["params"]) for item in reversed(items)]


class Chat:
    def __init__(self, service: RunningService, clients: ExitStack) -> None:
        self.service, self.clients = service, clients
        self.bot_token = self.token("bot")
        self._numbers = itertools.count(1)

    def group(self, **settings: object) -> Group:
        return Group(self, next(self._numbers), settings)

    def speaks(self, user: str, server: str) -> httpx.Client:
        client = self.holder(self.bot_token)
        client.headers.update({"On-Behalf-Of": f"chat:{user}", "Acting-Server": server})
        return client

    def token(self, role: str, group: str | None = None, member: str | None = None) -> str:
        return self.service.call(lambda: make_token(self.service.house, role, group, member))

    def client(self, role: str, group: str | None = None, member: str | None = None) -> httpx.Client:
        return self.holder(self.token(role, group, member))

    def holder(self, secret: str) -> httpx.Client:
        """Without certificates, which take 40 ms to read and are not used."""
        headers = {"Authorization": f"Bearer {secret}"}
        client = httpx.Client(base_url=self.service.address, headers=headers, timeout=30, verify=False)
        return self.clients.enter_context(client)


@contextmanager
def running_chat(folder: Path) -> Iterator[Chat]:
    with RunningService(folder, demo=False) as service, ExitStack() as clients:
        yield Chat(service, clients)
