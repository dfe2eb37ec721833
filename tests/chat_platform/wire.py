"""What the stand-in's people, servers, channels and messages are, and how they look as JSON on the wire."""

import itertools
import mimetypes
import struct
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

Json = dict[str, Any]

# The platform counts the milliseconds of its ids from the start of 2015 (its API reference, "Snowflakes").
ID_EPOCH_MS = 1_420_070_400_000

TEXT, DM, PUBLIC_THREAD = 0, 1, 11
LOADING, EPHEMERAL, HAS_THREAD = 1 << 7, 1 << 6, 1 << 5

# The bits of what a bot may be let do in a channel (API reference, "Permissions").
PERMISSIONS = {
    "view": 1 << 10,
    "send": 1 << 11,
    "embed": 1 << 14,
    "attach": 1 << 15,
    "history": 1 << 16,
    "mention_everyone": 1 << 17,
    "threads": 1 << 35,
    "send_in_threads": 1 << 38,
}
ADMINISTRATOR, MANAGE_SERVER, USE_COMMANDS = 1 << 3, 1 << 5, 1 << 31
ALL_ALLOWED = frozenset(PERMISSIONS)
# What nobody may do where he may not send, and what is left of it where he may not even look.
_SENDING = PERMISSIONS["embed"] | PERMISSIONS["attach"] | PERMISSIONS["mention_everyone"]
EVERYBODY = sum(bit for name, bit in PERMISSIONS.items() if name != "mention_everyone") | USE_COMMANDS

_made = itertools.count()


def new_id(at_ms: int | None = None) -> int:
    """An id that is greater than all before it, if no time is told."""
    at = int(time.time() * 1000) if at_ms is None else at_ms
    return (at - ID_EPOCH_MS) << 22 | next(_made) & 0x3FFFFF


def told(at: float | None) -> str | None:
    """A time in seconds as the wire has it."""
    return None if at is None else datetime.fromtimestamp(at, UTC).isoformat()


@dataclass(eq=False)
class Person:
    """``dm_open`` false: he takes no direct messages."""

    id: int
    name: str
    bot: bool = False
    dm_open: bool = True
    locale: str = "en-US"

    def wire(self) -> Json:
        return {
            "id": str(self.id),
            "username": self.name.lower().replace(" ", "_"),
            "global_name": None if self.bot else self.name,
            "discriminator": "0",
            "avatar": None,
            "banner": None,
            "accent_color": None,
            "avatar_decoration_data": None,
            "primary_guild": None,
            "bot": self.bot,
            "system": False,
            "public_flags": 0,
            "flags": 0,
        }


@dataclass(eq=False)
class Role:
    id: int
    name: str
    permissions: int = EVERYBODY
    mentionable: bool = True
    managed: bool = False

    def wire(self) -> Json:
        return {
            "id": str(self.id), "name": self.name, "color": 0, "colors": {"primary_color": 0, "secondary_color": None, "tertiary_color": None}, "hoist": False,
            "icon": None, "unicode_emoji": None, "position": 0, "permissions": str(self.permissions),
            "managed": self.managed, "mentionable": self.mentionable, "flags": 0,
        }  # fmt: skip


@dataclass(eq=False)
class Attachment:
    id: int
    name: str
    data: bytes
    content_type: str
    description: str | None
    url: str
    ephemeral: bool = False

    @property
    def size(self) -> int:
        return len(self.data)

    def wire(self) -> Json:
        found: Json = {
            "id": str(self.id), "filename": self.name, "size": self.size, "url": self.url, "proxy_url": self.url,
            "content_type": self.content_type, "ephemeral": self.ephemeral, "flags": 0,
        }  # fmt: skip
        if self.description is not None:
            found["description"] = self.description
        if self.data.startswith(b"\x89PNG") and len(self.data) >= 24:
            found["width"], found["height"] = struct.unpack(">II", self.data[16:24])
        return found


def as_shown(rows: list[Json]) -> list[Json]:
    """Rows as messages tell them: whatever had no number has one, counted through the message."""
    counting = itertools.count(1)

    def numbered(part: Json) -> Json:
        choosing = {"min_values": 1, "max_values": 1} if part["type"] in (3, 5, 6, 7, 8) else {}
        found: Json = {"id": next(counting)} | choosing | part
        if "components" in part:
            found["components"] = [numbered(one) for one in part["components"]]
        return found

    return [numbered(row) for row in rows]


def content_type_of(name: str) -> str:
    """What the platform takes a file for: it goes by the name's ending."""
    return mimetypes.guess_type(name)[0] or "application/octet-stream"


@dataclass(eq=False)
class Message:
    """``edits`` counts changes that were seen. ``for_person`` alone sees an ephemeral message."""

    id: int
    channel: "Channel" = field(
        repr=False
    )  # who holds whom is told from above: else a failing test prints without end
    author: Person
    content: str = ""
    embeds: list[Json] = field(default_factory=list)
    attachments: list[Attachment] = field(default_factory=list)
    components: list[Json] = field(default_factory=list)
    flags: int = 0
    nonce: str | None = None
    tts: bool = False
    allowed_mentions: Json | None = None
    mentions: tuple[Person, ...] = ()
    at: float = 0.0
    edited_at: float | None = None
    edits: int = 0
    deleted: bool = False
    for_person: Person | None = None
    thread: "Channel | None" = field(default=None, repr=False)
    reply_to: "Message | None" = None
    interaction: Json | None = None

    @property
    def ephemeral(self) -> bool:
        return bool(self.flags & EPHEMERAL)

    @property
    def loading(self) -> bool:
        return bool(self.flags & LOADING)

    @property
    def items(self) -> list[Json]:
        """Its buttons and menus, row after row."""
        return [item for row in self.components for item in row.get("components", [])]

    @property
    def buttons(self) -> list[Json]:
        return [item for item in self.items if item["type"] == 2]

    def wire(self, application: int, *, with_content: bool = True, with_nonce: bool = False) -> Json:
        """Without the message content intent, content of others comes empty (API reference, "Gateway")."""
        server = self.channel.server
        found: Json = {
            "id": str(self.id),
            "channel_id": str(self.channel.id),
            "type": 20 if self.interaction and self.interaction["type"] == 2 else 19 if self.reply_to else 0,
            "author": self.author.wire(),
            "content": self.content if with_content else "",
            "embeds": self.embeds if with_content else [],
            "attachments": [a.wire() for a in self.attachments] if with_content else [],
            "components": self.components if with_content else [],
            "timestamp": told(self.at),
            "edited_timestamp": told(self.edited_at),
            "tts": self.tts,
            "mention_everyone": "@everyone" in self.content or "@here" in self.content,
            "mentions": [person.wire() for person in self.mentions],
            "mention_roles": [],
            "pinned": False,
            "flags": self.flags,
        }
        if server is not None:
            found["guild_id"] = str(server.id)
        if self.author.bot:
            found["application_id"] = str(application)
        if self.interaction is not None:
            found["webhook_id"] = str(application)
            found["interaction_metadata"] = self.interaction
        if self.thread is not None:
            found["thread"] = self.thread.wire()
        if self.reply_to is not None:
            found["message_reference"] = {
                "type": 0, "message_id": str(self.reply_to.id), "channel_id": str(self.channel.id),
            }  # fmt: skip
            found["referenced_message"] = None
        if with_nonce and self.nonce is not None:
            found["nonce"] = self.nonce
        return found


@dataclass(eq=False)
class Channel:
    """``allowed``: what the bot may do in it. ``messages`` keeps what was deleted, marked so."""

    id: int
    name: str
    kind: int = TEXT
    server: "Server | None" = field(default=None, repr=False)
    parent: "Channel | None" = None
    recipient: Person | None = None
    owner: Person | None = None
    allowed: frozenset[str] = ALL_ALLOWED
    messages: list[Message] = field(default_factory=list)
    members: list[Person] = field(default_factory=list)
    gone: bool = False
    archived: bool = False
    locked: bool = False
    auto_archive_minutes: int = 1440
    at: float = 0.0

    @property
    def shown(self) -> list[Message]:
        """What stands in it, oldest first."""
        return [message for message in self.messages if not message.deleted]

    def allows(self, *names: str) -> bool:
        """Whether the bot may do all of these here. A thread goes by its parent, as on the platform."""
        may = self.parent.allowed if self.parent else self.allowed
        return set(names) <= may

    @property
    def bot_bits(self) -> int:
        if self.kind == DM:
            return EVERYBODY
        allowed = self.parent.allowed if self.parent else self.allowed
        bits = sum(PERMISSIONS[name] for name in allowed) | USE_COMMANDS
        if "view" not in allowed:
            return 0
        return bits if "send" in allowed else bits & ~_SENDING

    def wire(self, bot: Person | None = None) -> Json:
        """With the bot told, as the platform sends a server's channels: with what it may do in them."""
        last = self.shown[-1:] if self.kind != TEXT or len(self.messages) < 1000 else self.messages[-1:]
        found: Json = {
            "id": str(self.id), "type": self.kind, "flags": 0,
            "last_message_id": str(last[0].id) if last else None,
        }  # fmt: skip
        if self.kind == DM:
            assert self.recipient is not None
            return found | {"recipients": [self.recipient.wire()]}
        assert self.server is not None
        found |= {"guild_id": str(self.server.id), "name": self.name, "rate_limit_per_user": 0}
        if self.kind == PUBLIC_THREAD:
            assert self.parent is not None
            assert self.owner is not None
            return found | {
                "parent_id": str(self.parent.id), "owner_id": str(self.owner.id),
                "message_count": len(self.shown), "total_message_sent": len(self.messages),
                "member_count": len(self.members),
                "thread_metadata": {
                    "archived": self.archived, "locked": self.locked, "archive_timestamp": told(self.at),
                    "auto_archive_duration": self.auto_archive_minutes, "create_timestamp": told(self.at),
                },
            }  # fmt: skip
        found |= {"position": 0, "parent_id": None, "topic": None, "nsfw": False, "permission_overwrites": []}
        if bot is not None:
            allow = sum(PERMISSIONS[name] for name in self.allowed)
            deny = sum(PERMISSIONS.values()) & ~allow
            found["permission_overwrites"] = [
                {"id": str(bot.id), "type": 1, "allow": str(allow), "deny": str(deny)}
            ]
        return found


@dataclass(eq=False)
class Member:
    person: Person
    permissions: int = EVERYBODY
    nick: str | None = None
    roles: list[Role] = field(default_factory=list)

    def wire(self, *, with_user: bool = True) -> Json:
        found: Json = {
            "nick": self.nick, "avatar": None, "banner": None, "roles": [str(role.id) for role in self.roles], "flags": 0,
            "joined_at": "2024-01-02T03:04:05.000000+00:00", "premium_since": None, "deaf": False, "mute": False,
            "pending": False, "communication_disabled_until": None,
        }  # fmt: skip
        return found | {"user": self.person.wire()} if with_user else found


@dataclass(eq=False)
class Server:
    """``present`` false: the bot was shown out of it. Its first member is its owner, its last the bot."""

    id: int
    name: str
    channels: list[Channel] = field(default_factory=list)
    members: dict[int, Member] = field(default_factory=dict)
    roles: list[Role] = field(default_factory=list)
    owner: Person | None = None
    locale: str = "en-US"
    present: bool = True

    def shard(self, count: int) -> int:
        return (self.id >> 22) % count

    def channel(self, name: str) -> Channel:
        return next(channel for channel in self.channels if channel.name == name and not channel.gone)

    def wire(self, bot: Person, *, unavailable: bool | None) -> Json:
        """As GUILD_CREATE has it; ``unavailable`` is not told where a bot is new."""
        threads = [c for c in self.channels if c.kind == PUBLIC_THREAD and not c.gone and not c.archived]
        found = self.short() | {
            "joined_at": "2024-01-02T03:04:05.000000+00:00", "large": False, "member_count": len(self.members),
            "voice_states": [], "presences": [], "stage_instances": [], "guild_scheduled_events": [],
            "soundboard_sounds": [], "members": [self.members[bot.id].wire()],
            "channels": [c.wire(bot) for c in self.channels if c.kind == TEXT and not c.gone],
            "threads": [thread.wire() for thread in threads if thread.allows("view")],
        }  # fmt: skip
        return found if unavailable is None else found | {"unavailable": unavailable}

    def short(self) -> Json:
        return {
            "id": str(self.id), "name": self.name, "icon": None, "splash": None, "discovery_splash": None,
            "owner_id": str(self.owner.id) if self.owner else None, "afk_channel_id": None, "afk_timeout": 300,
            "verification_level": 0, "default_message_notifications": 1, "explicit_content_filter": 0,
            "roles": [role.wire() for role in self.roles], "emojis": [], "stickers": [], "features": [],
            "mfa_level": 0, "application_id": None, "system_channel_id": None, "system_channel_flags": 0,
            "rules_channel_id": None, "vanity_url_code": None, "description": None, "banner": None,
            "premium_tier": 0, "premium_subscription_count": 0, "preferred_locale": self.locale,
            "public_updates_channel_id": None, "nsfw_level": 0, "premium_progress_bar_enabled": False,
            "home_header": None, "region": "us-east", "widget_enabled": False, "widget_channel_id": None,
            "max_presences": None, "max_members": 25_000_000, "max_stage_video_channel_users": 50,
            "max_video_channel_users": 25, "safety_alerts_channel_id": None, "nsfw": False,
            "incidents_data": None,
        }  # fmt: skip
