"""The stand-in in a process of its own, and how tests speak to it there.

A post to ``/stand-in/do`` names an action and what it takes as JSON. People and channels go by id or by name, a
channel as ``Landing 1/licks`` or, for direct messages, ``@Wren``. Files are ``{"name": ..., "base64": ...}``.
"""

import asyncio
import base64
import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict
from types import TracebackType
from typing import Any, Self

import httpx
from aiohttp import web

from tests.chat_platform.asked import Asked, Unanswered
from tests.chat_platform.commands import CannotBeAsked
from tests.chat_platform.faults import Fault
from tests.chat_platform.people import Upload
from tests.chat_platform.rest import answer
from tests.chat_platform.stand_in import Platform
from tests.chat_platform.wire import Channel, Json, Message, Person


def described(message: Message) -> Json:
    return {
        "id": message.id, "author": message.author.name, "content": message.content, "embeds": message.embeds,
        "components": message.components, "ephemeral": message.ephemeral, "edits": message.edits,
        "deleted": message.deleted, "nonce": message.nonce, "allowed_mentions": message.allowed_mentions,
        "thread": message.thread.id if message.thread else None,
        "attachments": [
            {"name": a.name, "description": a.description, "size": a.size, "content_type": a.content_type, "url": a.url}
            for a in message.attachments
        ],
    }  # fmt: skip


def _told(asked: Asked) -> Json:
    return {
        "asked": asked.token, "acknowledged_after": asked.acknowledged_after, "deferred": asked.deferred,
        "messages": [described(message) for message in asked.messages], "updates": asked.updates,
        "modal": asked.modal, "choices": asked.choices,
    }  # fmt: skip


class Control:
    """What can be done from outside. ``wait_s`` of what people ask: until something is seen; 0 does not wait."""

    def __init__(self, platform: Platform) -> None:
        self._platform = platform
        self._actions: dict[str, Callable[..., Any]] = {
            "state": self._state,
            "messages": lambda channel: [described(m) for m in self._channel(channel).messages],
            "run": self._run,
            "type_ahead": self._type_ahead,
            "press": self._press,
            "select": self._select,
            "submit": self._submit,
            "asked": lambda asked, wait_s=10.0: self._seen(platform.world.asked[asked], wait_s),
            "say": lambda person, channel, content: described(
                platform.say(self._person(person), self._channel(channel), content)
            ),
            "allow": lambda channel, names: platform.allow(self._channel(channel), names),
            "dm_open": self._dm_open,
            "fault": self._fault,
            "limit": platform.limits.set,
            "gateway": self._gateway,
            "close_gateway": platform.close_gateway,
            "drop_gateway": platform.drop_gateway,
            "invalidate": platform.invalidate,
            "remove_bot": lambda number: platform.remove_bot(platform.servers[number]),
            "add_bot": lambda number: platform.add_bot(platform.servers[number]),
            "take_violations": lambda code: [asdict(one) for one in platform.take_violations(code)],
        }  # fmt: skip

    async def handle(self, request: web.Request) -> web.Response:
        asked = json.loads(await request.read())
        try:
            found = await asyncio.to_thread(self._actions[asked["do"]], **asked.get("with", {}))
        except (CannotBeAsked, Unanswered, TimeoutError) as error:
            return answer({"error": type(error).__name__, "text": str(error)}, 422)
        return answer(found)

    # --- names -----------------------------------------------------------------------------------------

    def _person(self, name: str | int) -> Person:
        people = self._platform.world.people
        return people[name] if isinstance(name, int) else next(p for p in people.values() if p.name == name)

    def _channel(self, name: str | int) -> Channel:
        if isinstance(name, int):
            return self._platform.channel(name)
        if name.startswith("@"):
            return self._platform.dm(self._person(name[1:]))
        server, _, channel = name.partition("/")
        return next(s for s in self._platform.servers if s.name == server).channel(channel)

    def _message(self, number: int) -> Message:
        world = self._platform.world
        every = [
            *world.ephemerals,
            *(m for channel in list(world.channels.values()) for m in channel.messages),
        ]
        return next(message for message in every if message.id == number)

    def _given(self, value: Any) -> Any:
        if isinstance(value, dict) and "base64" in value:
            return Upload(value["name"], base64.b64decode(value["base64"]))
        return value

    def _seen(self, asked: Asked, wait_s: float) -> Json:
        return _told(asked.wait(wait_s) if wait_s else asked)

    # --- actions ---------------------------------------------------------------------------------------

    def _state(self) -> Json:
        platform = self._platform
        return {
            "violations": [asdict(violation) for violation in platform.violations],
            "refusals": [asdict(refusal) for refusal in platform.refusals],
            "requests": [asdict(request) for request in platform.requests],
            "pings": [[ping.kind, ping.whom] for ping in platform.pings],
            "connected": platform.connected, "commands": platform.commands,
            "identifies": platform.gateway.identifies, "resumes": platform.gateway.resumes,
            "servers": [server.name for server in platform.servers if server.present],
        }  # fmt: skip

    def _run(
        self, command: str, person: str, channel: str | int, options: Json | None = None, wait_s: float = 10.0
    ) -> Json:
        given = {name: self._given(value) for name, value in (options or {}).items()}
        asked = self._platform.run(command, self._person(person), self._channel(channel), given)
        return self._seen(asked, wait_s)

    def _type_ahead(self, command: str, focused: str, text: str, person: str, channel: str | int) -> Json:
        asked = self._platform.type_ahead(
            command, focused, text, self._person(person), self._channel(channel)
        )
        return self._seen(asked, 10.0)

    def _press(self, message: int, button: str, person: str, wait_s: float = 10.0) -> Json:
        return self._seen(self._platform.press(self._message(message), button, self._person(person)), wait_s)

    def _select(self, message: int, menu: str, chosen: list[str], person: str, wait_s: float = 10.0) -> Json:
        asked = self._platform.select(self._message(message), menu, chosen, self._person(person))
        return self._seen(asked, wait_s)

    def _submit(self, asked: str, texts: Json, wait_s: float = 10.0) -> Json:
        given = {name: self._given(value) for name, value in texts.items()}
        return self._seen(self._platform.submit(self._platform.world.asked[asked], given), wait_s)

    def _dm_open(self, person: str, is_open: bool) -> None:
        self._person(person).dm_open = is_open

    def _fault(self, method: str, path: str, times: int = 1, **fault: Any) -> None:
        self._platform.faults.next(method, path, Fault(**fault), times)

    def _gateway(self, **flags: Any) -> None:
        """``down``, ``cutting``, ``silent``, ``acks`` or ``refusing``."""
        for name, value in flags.items():
            setattr(self._platform.gateway, name, value)


class Failed(AssertionError):
    """What was asked of the other process did not work out; the text says why."""


class PlatformProcess:
    """``python -m tests.chat_platform`` with such arguments. ``environment``: what a bot's process needs."""

    def __init__(self, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.chat_platform", *arguments], stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        told = json.loads(self.process.stdout.readline())
        self.address: str = told["address"]
        self.token: str = told["token"]
        self.environment: dict[str, str] = os.environ | told["environment"]

    def __enter__(self) -> Self:
        return self

    def do(self, action: str, **given: Any) -> Any:
        response = httpx.post(f"{self.address}/stand-in/do", json={"do": action, "with": given}, timeout=60)
        if response.status_code == 422:
            raise Failed(response.json()["text"])
        response.raise_for_status()
        return response.json()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.process.kill()
        self.process.wait(30)
        assert self.process.stdout is not None
        self.process.stdout.close()
