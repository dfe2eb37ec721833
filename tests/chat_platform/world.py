"""All that the stand-in remembers. Only its own thread changes it; tests read."""

import asyncio
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from tests.chat_platform.asked import Asked
from tests.chat_platform.faults import Faults, Limits
from tests.chat_platform.mentions import BY_DEFAULT, Ping, mentioned, pings_of
from tests.chat_platform.refusals import CIRCUMSTANCES, Refused
from tests.chat_platform.rules import ANSWER_FLAGS, File, check_message, check_not_empty
from tests.chat_platform.wire import (
    ADMINISTRATOR,
    DM,
    EVERYBODY,
    HAS_THREAD,
    LOADING,
    PERMISSIONS,
    Attachment,
    Channel,
    Json,
    Member,
    Message,
    Person,
    Role,
    Server,
    as_shown,
    content_type_of,
    new_id,
)

# A server's shard follows from its id's upper bits: starting from a multiple of 720,720, server i of a list is on
# shard i modulo n for any n up to 16.
_FIRST_SERVER_MS = 720_720 * 200_000
CHANNELS = ("general", "licks", "challenge")
MIB = 1 << 20


@dataclass(frozen=True)
class Settings:
    """``ack_s`` and ``token_s``: how long an interaction may be acknowledged, and answered at all.

    ``nonce_s``: "the past few minutes" in which a nonce is not taken twice; how many, the platform does not tell.
    ``privileged``: intents that were granted of members (1 << 1), presences (1 << 8), content (1 << 15).
    ``identify_s``: one session may start per shard and so many seconds (5 there); 0 lets tests run quickly.
    """

    token: str = "stand-in-token"
    ack_s: float = 3.0
    token_s: float = 900.0
    nonce_s: float = 300.0
    size_limit: int = 10 * MIB
    privileged: int = 0
    shards: int = 1
    heartbeat_s: float = 41.25
    identify_s: float = 0.0


@dataclass(frozen=True)
class Violation:
    """Something that the platform's documents forbid."""

    code: int
    why: str
    method: str = ""
    path: str = ""


@dataclass(frozen=True)
class Request:
    """``status`` is none where the connection was cut instead."""

    method: str
    path: str
    at: float
    status: int | None
    code: int | None = None


class Sender(Protocol):
    """The gateway, as the world knows it."""

    def dispatch(self, event: str, data: Json | Callable[[int], Json], server: Server | None) -> bool: ...


@dataclass
class World:
    settings: Settings
    address: str = ""
    people: dict[int, Person] = field(default_factory=dict)
    servers: dict[int, Server] = field(default_factory=dict)
    channels: dict[int, Channel] = field(default_factory=dict)
    asked: dict[str, Asked] = field(default_factory=dict)
    commands: dict[int | None, list[Json]] = field(default_factory=dict)
    uploads: dict[int, Attachment] = field(default_factory=dict)
    ephemerals: list[Message] = field(default_factory=list)
    nonces: dict[tuple[int, str], tuple[float, Message]] = field(default_factory=dict)
    violations: list[Violation] = field(default_factory=list)
    refusals: list[Violation] = field(default_factory=list)
    requests: list[Request] = field(default_factory=list)
    pings: list[Ping] = field(default_factory=list)
    faults: Faults = field(default_factory=Faults)
    limits: Limits = field(default_factory=Limits)
    changed: threading.Condition = field(default_factory=threading.Condition)
    gateway: Sender = field(init=False)
    bot: Person = field(init=False)

    def __post_init__(self) -> None:
        self.bot = self.person("Breakwright", bot=True)

    # --- who and where ---------------------------------------------------------------------------------

    @property
    def application(self) -> int:
        """The bot's own number is its application's too, as for any application of today."""
        return self.bot.id

    def person(self, name: str, *, bot: bool = False) -> Person:
        made = Person(new_id(), name, bot=bot)
        self.people[made.id] = made
        return made

    def server(self, name: str, owner: Person) -> Server:
        made = Server(_FIRST_SERVER_MS + len(self.servers) << 22, name, owner=owner)
        everyone = Role(made.id, "@everyone")
        bots = Role(new_id(), self.bot.name, EVERYBODY | PERMISSIONS["mention_everyone"], managed=True)
        made.roles = [everyone, bots]
        made.members[owner.id] = Member(owner, EVERYBODY | ADMINISTRATOR)
        made.members[self.bot.id] = Member(self.bot, bots.permissions, roles=[bots])
        self.servers[made.id] = made
        for channel in CHANNELS:
            self.add_channel(Channel(new_id(), channel, server=made))
        return made

    def add_channel(self, channel: Channel) -> Channel:
        self.channels[channel.id] = channel
        if channel.server is not None:
            channel.server.channels.append(channel)
        return channel

    def dm(self, person: Person) -> Channel:
        for channel in self.channels.values():
            if channel.kind == DM and channel.recipient is person:
                return channel
        return self.add_channel(Channel(new_id(), person.name, DM, recipient=person))

    def notify(self) -> None:
        with self.changed:
            self.changed.notify_all()

    # --- what was done wrong ---------------------------------------------------------------------------

    def refused(self, error: Refused, method: str, path: str) -> None:
        told = Violation(error.code, f"{error.where} {error.why}".strip(), method, path)
        self.refusals.append(told)
        if error.code not in CIRCUMSTANCES and not error.known:
            self.violations.append(told)

    def unanswered(self, asked: Asked) -> None:
        """Its time is over: nobody can answer it any more."""
        if asked.acknowledged_after is None and not asked.dead:
            asked.dead = True
            if asked.delivered:
                self.violations.append(Violation(10062, f"{asked} was not acknowledged in time"))
            self.notify()

    # --- messages --------------------------------------------------------------------------------------

    def post(
        self,
        channel: Channel,
        author: Person,
        data: Json,
        files: list[File],
        *,
        flags: int,
        by_default: Json = BY_DEFAULT,
        asked: Asked | None = None,
    ) -> Message:
        """A new message, checked and stored; the one that there is, where its nonce was met before."""
        check_message(data, files, size_limit=self.settings.size_limit, flags=flags, kept=frozenset())
        content = (data.get("content") or "").strip()
        embeds = [{"type": "rich"} | embed for embed in data.get("embeds") or []]
        rows = as_shown(data.get("components") or [])
        check_not_empty(content, embeds, rows, files)
        nonce = None if data.get("nonce") is None else str(data["nonce"])
        if nonce is not None and data.get("enforce_nonce"):
            at, before = self.nonces.get((author.id, nonce), (0.0, None))
            if before is not None and time.monotonic() - at < self.settings.nonce_s:
                return before
        made = Message(
            new_id(), channel, author, content, embeds, self.stored(data, files), rows,
            flags=data.get("flags") or 0, nonce=nonce, tts=bool(data.get("tts")), at=time.time(),
            allowed_mentions=data.get("allowed_mentions"), mentions=mentioned(content, self.people),
            reply_to=self._reply(channel, data.get("message_reference")),
        )  # fmt: skip
        if nonce is not None:
            self.nonces[author.id, nonce] = (time.monotonic(), made)
        if asked is not None:
            made.interaction = asked.metadata()
        self.place(made, asked)
        self.pings += pings_of(made, by_default)
        self.say_created(made)
        return made

    def place(self, message: Message, asked: Asked | None) -> None:
        if message.ephemeral:
            assert asked is not None
            message.for_person = asked.person
            self.ephemerals.append(message)
        else:
            message.channel.messages.append(message)

    def _reply(self, channel: Channel, reference: Json | None) -> Message | None:
        if not reference:
            return None
        found = next((m for m in channel.shown if str(m.id) == str(reference.get("message_id"))), None)
        if found is None and reference.get("fail_if_not_exists", True):
            raise Refused(50035, "message_reference", "Unknown message.")
        return found

    def stored(self, data: Json, files: list[File]) -> list[Attachment]:
        told = {int(one["id"]): one for one in data.get("attachments") or []}
        return [
            self.upload(
                told.get(file.number, {}).get("filename") or file.name,
                file.data,
                told.get(file.number, {}).get("description"),
            )
            for file in files
        ]

    def upload(
        self, name: str, data: bytes, description: str | None = None, kind: str | None = None
    ) -> Attachment:
        number = new_id()
        made = Attachment(
            number,
            name,
            data,
            kind or content_type_of(name),
            description,
            f"{self.address}/attachments/{number}/{name}",
        )
        self.uploads[number] = made
        return made

    def edit(self, message: Message, data: Json, files: list[File], by_default: Json = BY_DEFAULT) -> None:
        """What is not told stays. An edit that says nothing new changes nothing but the time of the edit."""
        kept = frozenset(attachment.id for attachment in message.attachments)
        flags = message.flags | ANSWER_FLAGS
        check_message(data, files, size_limit=self.settings.size_limit, flags=flags, kept=kept)
        content = (data["content"] or "").strip() if "content" in data else message.content
        embeds, rows = message.embeds, message.components
        if "embeds" in data:
            embeds = [{"type": "rich"} | embed for embed in data["embeds"] or []]
        if "components" in data:
            rows = as_shown(data["components"] or [])
        attachments = message.attachments
        if data.get("attachments") is not None:
            told = {int(one["id"]): one for one in data["attachments"]}
            attachments = [one for one in attachments if one.id in told]
            for one in attachments:
                one.description = told[one.id].get("description", one.description)
        attachments = [*attachments, *self.stored(data, files)]
        check_not_empty(content, embeds, rows, attachments)
        before = {(ping.kind, ping.whom) for ping in pings_of(message, by_default)}
        filled = message.loading
        message.content, message.embeds, message.components = content, embeds, rows
        message.attachments = attachments
        message.mentions = mentioned(content, self.people)
        message.allowed_mentions = data.get("allowed_mentions", message.allowed_mentions)
        message.flags &= ~LOADING
        self.pings += [p for p in pings_of(message, by_default) if (p.kind, p.whom) not in before]
        if not filled:
            message.edits += 1
            message.edited_at = time.time()
        self._say("MESSAGE_UPDATE", message)

    def delete(self, message: Message) -> None:
        message.deleted = True
        gone = {"id": str(message.id), "channel_id": str(message.channel.id)}
        server = message.channel.server
        if server is not None:
            gone["guild_id"] = str(server.id)
        self.gateway.dispatch("MESSAGE_DELETE", gone, server)
        self.notify()

    def say_created(self, message: Message) -> None:
        if message.channel.archived:
            message.channel.archived = False
        self._say("MESSAGE_CREATE", message)

    def _say(self, event: str, message: Message) -> None:
        """Content reaches a bot if it may read all, or it is its own, told to it alone, or mentions it."""
        if not message.ephemeral:
            near = (
                message.author is self.bot or message.channel.kind == DM or self.bot in message.mentions
            )  # fmt: skip

            def seen(intents: int) -> Json:
                return message.wire(
                    self.application, with_content=near or bool(intents & 1 << 15), with_nonce=True
                )

            self.gateway.dispatch(event, seen, message.channel.server)
        self.notify()

    def open_thread(self, message: Message, name: str, minutes: int) -> Channel:
        thread = Channel(
            message.id, name, 11, message.channel.server, message.channel, owner=self.bot, members=[self.bot],
            auto_archive_minutes=minutes, at=time.time(),
        )  # fmt: skip
        self.add_channel(thread)
        message.thread = thread
        message.flags |= HAS_THREAD
        self.gateway.dispatch("THREAD_CREATE", thread.wire() | {"newly_created": True}, thread.server)
        self._say("MESSAGE_UPDATE", message)
        return thread

    # --- interactions ----------------------------------------------------------------------------------

    def ask(self, asked: Asked, data: Json) -> None:
        """Send it to the bot; nobody answers where no session listens."""
        self.asked[asked.token] = asked
        asked.delivered = self.gateway.dispatch("INTERACTION_CREATE", data, asked.server)
        asyncio.get_running_loop().call_later(self.settings.ack_s, self.unanswered, asked)
