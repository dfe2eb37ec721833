"""A chat platform and its bot, as far as the outbox needs them; both can go down at any step."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import httpx


@dataclass
class Message:
    """What stands in a channel."""

    id: str
    channel: str
    nonce: str
    kind: str
    text: str
    challenge: int | None
    at: datetime
    edits: int = 0
    gone: bool = False


class WentDown(Exception):
    """The bot was killed."""


@dataclass
class Platform:
    """In channels that are ``honouring`` a message with a nonce that was seen is not sent again; in others the bot looks at the
    history."""

    honouring: frozenset[str]
    messages: list[Message] = field(default_factory=list)

    def send(self, post: dict[str, Any], at: datetime) -> str:
        if post["channel"] in self.honouring:
            for message in self.messages:
                if message.nonce == post["nonce"]:
                    return message.id
        made = Message(
            f"m{len(self.messages)}", post["channel"] or f"@{post['recipient']}", post["nonce"], post["kind"],
            post["text"], post["params"].get("challenge"), at,
        )  # fmt: skip
        self.messages.append(made)
        return made.id

    def in_history(self, channel: str, nonce: str) -> str | None:
        return next((m.id for m in self.messages if m.channel == channel and m.nonce == nonce), None)

    def find(self, message_id: str) -> Message:
        return next(message for message in self.messages if message.id == message_id)


class Bot:
    """Claims posts and brings them to the platform; ``falls_at`` decides whether it is killed before a step."""

    def __init__(self, platform: Platform, falls_at: Callable[[str], bool], token: dict[str, str]) -> None:
        self._platform, self._falls_at, self._token = platform, falls_at, token

    def _step(self, name: str) -> None:
        if self._falls_at(name):
            raise WentDown(name)

    def run(self, service: httpx.Client, now: datetime) -> int:
        """Bring everything that can be claimed; how many posts. Raises WentDown, or httpx.HTTPError where the service is down."""
        done = 0
        while True:
            self._step("before claiming")
            answer = service.post(
                "/v1/outbox/claims", json={"platform": "chat", "most": 3, "lease_s": 5}, headers=self._token
            )
            answer.raise_for_status()
            posts = answer.json()["items"]
            if not posts:
                return done
            for post in posts:
                self._step("claimed")
                message_id = self._bring(post, now)
                self._step("brought")
                told = service.put(
                    f"/v1/outbox/{post['id']}/sent", json={"message_id": message_id}, headers=self._token
                )
                told.raise_for_status()
                self._step("acknowledged")
                done += 1

    def _bring(self, post: dict[str, Any], now: datetime) -> str:
        if post["deed"] == "send":
            if post["perhaps_sent"] and post["channel"] not in self._platform.honouring:
                before = self._platform.in_history(post["channel"] or f"@{post['recipient']}", post["nonce"])
                if before is not None:
                    return before
            return self._platform.send(post, now)
        message = self._platform.find(post["message_id"])
        if post["deed"] == "delete":
            message.gone = True
        else:
            message.text = post["text"]
            message.edits += 1
        return message.id
