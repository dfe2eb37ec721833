"""The routes about the bot, its commands, servers, channels and messages."""

from aiohttp import web

from tests.chat_platform.commands import check_commands
from tests.chat_platform.refusals import Refused, form, length
from tests.chat_platform.rest import WORLD, Handler, answer, body, number, yes
from tests.chat_platform.rules import MESSAGE_FLAGS, File
from tests.chat_platform.wire import DM, PUBLIC_THREAD, TEXT, Channel, Json, Message, Server, new_id
from tests.chat_platform.world import World

# How long threads stay in the list (API reference, "Start Thread from Message").
ARCHIVE_MINUTES = (60, 1440, 4320, 10080)


def channel_of(request: web.Request, *needed: str) -> Channel:
    """The channel of a path, if the bot can see it and may do what is needed."""
    channel = request.app[WORLD].channels.get(number(request, "channel"))
    if channel is None or channel.gone:
        raise Refused(10003)
    if channel.server is not None and (not channel.server.present or not channel.allows("view")):
        raise Refused(50001)
    if channel.kind == DM:
        return channel
    if not channel.allows(*needed):
        raise Refused(50013)
    return channel


def message_of(request: web.Request, channel: Channel) -> Message:
    wanted = number(request, "message")
    for message in reversed(channel.messages):
        if message.id == wanted and not message.deleted:
            return message
    raise Refused(10008)


def server_of(request: web.Request) -> Server:
    server = request.app[WORLD].servers.get(number(request, "guild"))
    if server is None or not server.present:
        raise Refused(10004 if server is None else 50001)
    return server


def told(world: World, message: Message) -> Json:
    """A message as the bot reads it later: the nonce is told at its making only."""
    near = message.author is world.bot or message.channel.kind == DM or world.bot in message.mentions
    granted = near or bool(world.settings.privileged & 1 << 15)
    return message.wire(world.application, with_content=granted)


# --- the bot -------------------------------------------------------------------------------------------


async def me(request: web.Request) -> web.Response:
    return answer(request.app[WORLD].bot.wire() | {"verified": True, "mfa_enabled": False, "locale": "en-US"})


async def application(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    return answer({
        "id": str(world.application), "name": world.bot.name, "description": "", "icon": None, "rpc_origins": [],
        "bot_public": True, "bot_require_code_grant": False, "verify_key": "0" * 64, "team": None, "flags": 0,
        "owner": next(person.wire() for person in world.people.values() if not person.bot), "summary": "",
        "type": None, "flags_new": "0", "redirect_uris": [], "interactions_endpoint_url": None,
        "role_connections_verification_url": None, "approximate_guild_count": len(world.servers),
        "approximate_user_install_count": 0, "approximate_user_authorization_count": 0,
        "explicit_content_filter": 0, "eligible_oauth2_scopes": [],
    })  # fmt: skip


async def gateway(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    found: Json = {"url": world.address.replace("http", "ws") + "/gateway/"}
    if request.path.endswith("/bot"):
        found["shards"] = world.settings.shards
        found["session_start_limit"] = {
            "total": 1000, "remaining": 999, "reset_after": 86_400_000, "max_concurrency": 1,
        }  # fmt: skip
    return answer(found)


async def commands(request: web.Request) -> web.Response:
    """Read, or put in the place of all there were. Which stay keep their ids, as on the platform."""
    world = request.app[WORLD]
    if number(request, "application") != world.application:
        raise Refused(50001)
    server = server_of(request) if "guild" in request.match_info else None
    scope = server.id if server else None
    if request.method == "PUT":
        data, _ = await body(request, list)
        check_commands(data)
        before = {(old["type"], old["name"]): old["id"] for old in world.commands.get(scope, [])}
        world.commands[scope] = [_registered(world, one, before, server) for one in data]
        world.notify()
        return answer(world.commands[scope])
    full = yes(request, "with_localizations")
    hidden = () if full else ("name_localizations", "description_localizations")
    found = world.commands.get(scope, [])
    return answer([{k: v for k, v in one.items() if k not in hidden} for one in found])


def _registered(world: World, one: Json, before: dict[tuple[int, str], str], server: Server | None) -> Json:
    kind = one.get("type") or 1
    unsaid: Json = {
        "options": [], "description": "", "default_member_permissions": None, "nsfw": False, "contexts": None,
        "integration_types": [0], "name_localizations": None, "description_localizations": None,
    }  # fmt: skip
    made: Json = {
        "id": before.get((kind, one["name"])) or str(new_id()), "type": kind, "version": str(new_id()),
        "application_id": str(world.application),
    }  # fmt: skip
    return unsaid | one | made | ({"guild_id": str(server.id)} if server else {})


# --- servers and channels ------------------------------------------------------------------------------


async def guild(request: web.Request) -> web.Response:
    return answer(server_of(request).short())


async def guild_channels(request: web.Request) -> web.Response:
    bot = request.app[WORLD].bot
    return answer([c.wire(bot) for c in server_of(request).channels if c.kind == TEXT and not c.gone])


async def guild_member(request: web.Request) -> web.Response:
    asked = request.match_info["user"]
    member = server_of(request).members.get(
        request.app[WORLD].bot.id if asked == "@me" else number(request, "user")
    )
    if member is None:
        raise Refused(10007)
    return answer(member.wire())


async def user(request: web.Request) -> web.Response:
    person = request.app[WORLD].people.get(number(request, "user"))
    if person is None:
        raise Refused(10013)
    return answer(person.wire())


async def channel(request: web.Request) -> web.Response:
    return answer(channel_of(request).wire(request.app[WORLD].bot))


async def edit_thread(request: web.Request) -> web.Response:
    thread = channel_of(request)
    if thread.kind != PUBLIC_THREAD:
        raise Refused(50013)
    data, _ = await body(request)
    if "name" in data:
        thread.name = length("name", data["name"], 1, 100)
    thread.archived = bool(data.get("archived", thread.archived))
    thread.locked = bool(data.get("locked", thread.locked))
    request.app[WORLD].gateway.dispatch("THREAD_UPDATE", thread.wire(), thread.server)
    return answer(thread.wire())


async def open_dm(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    data, _ = await body(request)
    person = world.people.get(int(data.get("recipient_id") or 0))
    if person is None:
        raise Refused(50033)
    return answer(world.dm(person).wire())


# --- messages ------------------------------------------------------------------------------------------


def _may_write(world: World, channel: Channel, files: list[File]) -> None:
    if channel.kind == DM:
        assert channel.recipient is not None
        # Somebody is reached who allows it and meets the bot in a server.
        met = any(s.present and channel.recipient.id in s.members for s in world.servers.values())
        if not (channel.recipient.dm_open and met):
            raise Refused(50007)
        return
    needed = {"send_in_threads" if channel.kind == PUBLIC_THREAD else "send"} | (
        {"attach"} if files else set()
    )
    if not channel.allows(*needed):
        raise Refused(50013)
    if channel.locked:
        raise Refused(160005)


async def send(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    place = channel_of(request)
    data, files = await body(request)
    _may_write(world, place, files)
    if data.get("message_reference") and not (place.kind == DM or place.allows("history")):
        raise Refused(50013)
    made = world.post(place, world.bot, data, files, flags=MESSAGE_FLAGS)
    return answer(made.wire(world.application, with_nonce=True))


async def history(request: web.Request) -> web.Response:
    """The newest first. Who may not read what was before gets an empty list (API reference, "Get Channel Messages")."""
    place = channel_of(request)
    limit = int(request.query.get("limit", "50"))
    if not 1 <= limit <= 100:
        raise form("limit", "int value should be between 1 and 100.")
    marks = {
        name: int(request.query[name]) for name in ("before", "after", "around") if name in request.query
    }
    if len(marks) > 1:
        raise form("before", "before, after and around exclude each other.")
    shown = place.shown if place.kind == DM or place.allows("history") else []
    if "after" in marks:
        found = [message for message in shown if message.id > marks["after"]][:limit]
    elif "around" in marks:
        older = [message for message in shown if message.id < marks["around"]]
        newer = [message for message in shown if message.id >= marks["around"]]
        half = limit // 2
        found = [*older[len(older) - half if len(older) > half else 0 :], *newer[: limit - half]]
    else:
        found = [message for message in shown if message.id < marks.get("before", 1 << 63)][-limit:]
    return answer([told(request.app[WORLD], message) for message in reversed(found)])


async def one_message(request: web.Request) -> web.Response:
    return answer(told(request.app[WORLD], message_of(request, channel_of(request, "history"))))


async def edit(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    place = channel_of(request)
    message = message_of(request, place)
    if message.author is not world.bot:
        raise Refused(50005)
    data, files = await body(request)
    world.edit(message, data, files)
    return answer(message.wire(world.application))


async def delete(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    message = message_of(request, channel_of(request))
    if message.author is not world.bot:
        raise Refused(50013)
    world.delete(message)
    return web.Response(status=204)


async def open_thread(request: web.Request) -> web.Response:
    world = request.app[WORLD]
    place = channel_of(request, "threads")
    if place.kind != TEXT:
        raise Refused(50024)
    message = message_of(request, place)
    data, _ = await body(request)
    name = length("name", data.get("name"), 1, 100)
    minutes = data.get("auto_archive_duration") or 1440
    if minutes not in ARCHIVE_MINUTES:
        raise form("auto_archive_duration", f"Value must be one of {ARCHIVE_MINUTES}.")
    if message.thread is not None:
        raise Refused(160004)
    return answer(world.open_thread(message, name, minutes).wire(), 201)


async def thread_member(request: web.Request) -> web.Response:
    """Add somebody to a thread, or take him out of it."""
    world = request.app[WORLD]
    thread = channel_of(request)
    if thread.kind != PUBLIC_THREAD:
        raise Refused(50024)
    who = request.match_info["user"]
    person = world.bot if who == "@me" else world.people.get(number(request, "user"))
    if person is None:
        raise Refused(10013)
    thread.members = [member for member in thread.members if member is not person]
    if request.method == "PUT":
        thread.members.append(person)
    return web.Response(status=204)


async def typing(request: web.Request) -> web.Response:
    channel_of(request, "send")
    return web.Response(status=204)


async def attachment(request: web.Request) -> web.Response:
    found = request.app[WORLD].uploads.get(number(request, "attachment"))
    if found is None:
        return web.Response(status=404)
    return web.Response(body=found.data, headers={"Content-Type": found.content_type})


async def unknown(request: web.Request) -> web.Response:
    raise Refused(0)


_APPLICATION = r"/applications/{application}"
_MESSAGE = r"/channels/{channel}/messages/{message}"
ROUTES: tuple[tuple[str, str, Handler], ...] = (
    ("GET", "/users/@me", me),
    ("GET", "/users/{user}", user),
    ("GET", "/oauth2/applications/@me", application),
    ("GET", "/gateway", gateway),
    ("GET", "/gateway/bot", gateway),
    ("GET", f"{_APPLICATION}/commands", commands),
    ("PUT", f"{_APPLICATION}/commands", commands),
    ("GET", _APPLICATION + "/guilds/{guild}/commands", commands),
    ("PUT", _APPLICATION + "/guilds/{guild}/commands", commands),
    ("GET", "/guilds/{guild}", guild),
    ("GET", "/guilds/{guild}/channels", guild_channels),
    ("GET", "/guilds/{guild}/members/{user}", guild_member),
    ("POST", "/users/@me/channels", open_dm),
    ("GET", "/channels/{channel}", channel),
    ("PATCH", "/channels/{channel}", edit_thread),
    ("POST", "/channels/{channel}/messages", send),
    ("GET", "/channels/{channel}/messages", history),
    ("POST", "/channels/{channel}/typing", typing),
    ("GET", _MESSAGE, one_message),
    ("PATCH", _MESSAGE, edit),
    ("DELETE", _MESSAGE, delete),
    ("POST", f"{_MESSAGE}/threads", open_thread),
    ("PUT", "/channels/{channel}/thread-members/{user}", thread_member),
    ("DELETE", "/channels/{channel}/thread-members/{user}", thread_member),
)
