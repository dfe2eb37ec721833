"""A strict stand-in for the chat platform on loopback: HTTP and gateway, with people who use the bot.

with Platform(servers=2) as platform:
    redirect(platform.address)
    ... start a client with platform.token ...
    asked = platform.run("lick find", platform.member, platform.rooms[0]).wait()
    assert asked.message.content == "..."
    assert platform.violations == []
"""

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine, Iterable, Mapping, Sequence
from types import TracebackType
from typing import Any, Self, TypeVar

import yarl
from aiohttp import web

from tests.chat_platform import answers, rest, routes
from tests.chat_platform.asked import Asked
from tests.chat_platform.faults import Faults, Limits
from tests.chat_platform.gateway import Gateway
from tests.chat_platform.mentions import Ping
from tests.chat_platform.people import People, Upload
from tests.chat_platform.wire import (
    MANAGE_SERVER,
    Channel,
    Json,
    Member,
    Message,
    Person,
    Role,
    Server,
    new_id,
)
from tests.chat_platform.world import Request, Settings, Violation, World

T = TypeVar("T")


def redirect(address: str) -> None:
    """Let every client of this process talk to a stand-in."""
    import discord

    discord.http.Route.BASE = f"{address}{rest.BASE}"
    discord.gateway.DiscordWebSocket.DEFAULT_GATEWAY = yarl.URL(f"{address.replace('http', 'ws')}/gateway/")


class Platform:
    """``organiser`` owns all servers, ``member`` is in all of them. More settings: ``world.Settings``.

    ``more_routes``: to be added before it starts.
    """

    def __init__(self, servers: int = 1, *, port: int = 0, **settings: Any) -> None:
        self.world = World(Settings(**settings))
        self.gateway = Gateway(self.world)
        self.world.gateway = self.gateway
        self.people = People(self.world)
        self.organiser = self.world.person("Marlow")
        self.member = self.world.person("Wren")
        for number in range(servers):
            self.join(self.member, self.world.server(f"Landing {number + 1}", self.organiser))
        self.more_routes: list[tuple[str, str, rest.Handler]] = []
        self._port = port
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._serve, name="chat platform")
        self._ready = threading.Event()
        self._stop = asyncio.Event()
        self._failure: BaseException | None = None

    # --- its life --------------------------------------------------------------------------------------

    def __enter__(self) -> Self:
        self._thread.start()
        self._ready.wait(30)
        if self._failure is not None:
            raise self._failure
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(30)

    def _serve(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._open())
        except BaseException as error:
            self._failure = error
            self._ready.set()
        finally:
            self._loop.run_until_complete(self._loop.shutdown_asyncgens())
            asyncio.set_event_loop(None)
            self._loop.close()

    async def _open(self) -> None:
        app = web.Application(middlewares=[rest.through], client_max_size=rest.LARGEST_REQUEST)
        app[rest.WORLD] = self.world
        for method, path, handler in (*routes.ROUTES, *answers.ROUTES):
            app.router.add_route(method, rest.BASE + path, handler)
        app.router.add_route("*", rest.BASE + "/{rest:.*}", routes.unknown)
        app.router.add_get("/gateway/", self.gateway.handle)
        app.router.add_get("/attachments/{attachment}/{name}", routes.attachment)
        for method, path, handler in self.more_routes:
            app.router.add_route(method, path, handler)
        runner = web.AppRunner(app, shutdown_timeout=0.1, access_log=None)
        await runner.setup()
        site = web.TCPSite(runner, "127.0.0.1", self._port)
        await site.start()
        self.world.address = f"http://127.0.0.1:{runner.addresses[0][1]}"
        self._ready.set()
        await self._stop.wait()
        await self.gateway.drop()
        await runner.cleanup()

    @property
    def address(self) -> str:
        return self.world.address

    @property
    def token(self) -> str:
        return self.world.settings.token

    @property
    def environment(self) -> dict[str, str]:
        """What a bot in a process of its own needs to come here."""
        return {
            "BREAKWRIGHT_BOT_REST": self.address + rest.BASE,
            "BREAKWRIGHT_BOT_GATEWAY": self.address.replace("http", "ws") + "/gateway/",
        }

    def call(self, work: Coroutine[Any, Any, T]) -> T:
        """On the stand-in's own thread."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(30)

    def _do(self, work: Callable[..., T], *args: Any, **more: Any) -> T:
        async def done() -> T:
            return work(*args, **more)

        return self.call(done())

    def until(self, seen: Callable[[], bool], timeout: float = 10.0) -> None:
        """Wait for something; ``TimeoutError`` if it does not come."""
        end = time.monotonic() + timeout
        while not seen():
            with self.world.changed:
                self.world.changed.wait(min(0.05, max(0.0, end - time.monotonic())))
            if time.monotonic() > end and not seen():
                raise TimeoutError(f"waited {timeout} s in vain")

    # --- what is there, and what was done --------------------------------------------------------------

    @property
    def servers(self) -> list[Server]:
        return list(self.world.servers.values())

    @property
    def rooms(self) -> list[Channel]:
        """The channels of the first server."""
        return self.servers[0].channels

    @property
    def bot(self) -> Person:
        return self.world.bot

    @property
    def commands(self) -> list[Json]:
        return self.world.commands.get(None, [])

    @property
    def faults(self) -> Faults:
        return self.world.faults

    @property
    def limits(self) -> Limits:
        return self.world.limits

    @property
    def violations(self) -> list[Violation]:
        return self.world.violations

    @property
    def refusals(self) -> list[Violation]:
        """All that was refused, with what no bot could have known."""
        return self.world.refusals

    @property
    def requests(self) -> list[Request]:
        return self.world.requests

    @property
    def pings(self) -> list[Ping]:
        return self.world.pings

    @property
    def connected(self) -> list[int]:
        """The shards that are connected now."""
        return sorted(s.shard for s in list(self.gateway.sessions.values()) if s.connection is not None)

    @property
    def presence(self) -> Json | None:
        return next((session.presence for session in list(self.gateway.sessions.values())), None)

    def channel(self, number: int) -> Channel:
        return self.world.channels[number]

    def take_violations(self, code: int) -> list[Violation]:
        """Those of a kind that a test meant to bring about: they are taken out of the list."""
        taken = [violation for violation in self.violations if violation.code == code]
        for violation in taken:
            self.violations.remove(violation)
        return taken

    def dm(self, person: Person) -> Channel:
        return self._do(self.world.dm, person) if self._thread.is_alive() else self.world.dm(person)

    # --- people ----------------------------------------------------------------------------------------

    def person(self, name: str, *servers: Server) -> Person:
        made = self.world.person(name)
        for server in servers:
            self.join(made, server)
        return made

    def join(self, person: Person, server: Server, *, organiser: bool = False) -> Member:
        member = server.members[person.id] = Member(person)
        if organiser:
            member.permissions |= MANAGE_SERVER
        return member

    def role(self, server: Server, name: str, *people: Person) -> Role:
        made = Role(new_id(), name)
        server.roles.append(made)
        for person in people:
            server.members[person.id].roles.append(made)
        return made

    def run(
        self, command: str, person: Person, where: Channel, options: Mapping[str, Any] | None = None
    ) -> Asked:
        return self._do(self.people.run, command, person, where, options or {})

    def type_ahead(
        self, command: str, focused: str, text: Any, person: Person, where: Channel,
        options: Mapping[str, Any] | None = None,
    ) -> Asked:  # fmt: skip
        return self._do(self.people.type_ahead, command, focused, text, person, where, options or {})

    def menu_command(self, name: str, target: Message | Person, person: Person, where: Channel) -> Asked:
        return self._do(self.people.menu_command, name, target, person, where)

    def press(self, message: Message, button: str, person: Person) -> Asked:
        return self._do(self.people.press, message, button, person)

    def select(self, message: Message, menu: str, chosen: Sequence[Any], person: Person) -> Asked:
        return self._do(self.people.select, message, menu, chosen, person)

    def submit(self, asked: Asked, texts: Mapping[str, Any], person: Person | None = None) -> Asked:
        return self._do(self.people.submit, asked, texts, person)

    def say(self, person: Person, where: Channel, content: str, uploads: Sequence[Upload] = ()) -> Message:
        return self._do(self.people.say, person, where, content, uploads)

    # --- what happens to servers and channels ----------------------------------------------------------

    def allow(self, channel: Channel, names: Iterable[str]) -> None:
        """What the bot may do in a channel from now on: names of ``wire.PERMISSIONS``."""

        def changed() -> None:
            channel.allowed = frozenset(names)
            self.gateway.dispatch("CHANNEL_UPDATE", channel.wire(self.bot), channel.server)

        self._do(changed)

    def remove_channel(self, channel: Channel) -> None:
        def removed() -> None:
            channel.gone = True
            self.gateway.dispatch("CHANNEL_DELETE", channel.wire(self.bot), channel.server)

        self._do(removed)

    def remove_message(self, message: Message) -> None:
        """A person with the right to it deletes a message."""
        self._do(self.world.delete, message)

    def remove_bot(self, server: Server) -> None:
        def removed() -> None:
            self.gateway.dispatch("GUILD_DELETE", {"id": str(server.id)}, server)
            server.present = False

        self._do(removed)

    def add_bot(self, server: Server) -> None:
        def added() -> None:
            server.present = True
            self.gateway.dispatch("GUILD_CREATE", server.wire(self.bot, unavailable=None), server)

        self._do(added)

    def add_server(self, name: str) -> Server:
        """A server that the bot comes to only now."""

        def added() -> Server:
            server = self.world.server(name, self.organiser)
            self.join(self.member, server)
            self.gateway.dispatch("GUILD_CREATE", server.wire(self.bot, unavailable=None), server)
            return server

        return self._do(added)

    # --- what happens to the gateway -------------------------------------------------------------------

    def close_gateway(self, code: int, shard: int | None = None) -> None:
        self.call(self.gateway.close(code, shard))

    def drop_gateway(self, shard: int | None = None) -> None:
        self.call(self.gateway.drop(shard))

    def ask_to_reconnect(self, shard: int | None = None) -> None:
        self.call(self.gateway.send_op(7, None, shard))

    def invalidate(self, *, resumable: bool, shard: int | None = None) -> None:
        self.call(self.gateway.send_op(9, resumable, shard))

    def ask_for_heartbeat(self, shard: int | None = None) -> None:
        self.call(self.gateway.send_op(1, None, shard))
