"""The websocket side: sessions, shards, intents, resuming, and everything that can happen to a connection."""

import asyncio
import json
import secrets
import time
import zlib
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from aiohttp import WSMsgType, web

from tests.chat_platform.wire import Json, Server
from tests.chat_platform.world import Violation, World

DISPATCH, BEAT, IDENTIFY, PRESENCE, VOICE, RESUME = 0, 1, 2, 3, 4, 6
RECONNECT, MEMBERS, INVALID, HELLO, ACK = 7, 8, 9, 10, 11
# What a client may send, and how much (API reference, "Gateway": rate limiting, sending events, sharding).
EVENTS_PER_MINUTE, LONGEST_EVENT, SERVERS_ON_A_SHARD = 120, 4096, 2500
KNOWN_INTENTS = (1 << 26) - 1
PRIVILEGED = 1 << 1 | 1 << 8 | 1 << 15
# Which intent lets an event through: in a server, and in direct messages. Interactions need none.
INTENTS = {
    **dict.fromkeys(
        ("GUILD_CREATE", "GUILD_DELETE", "CHANNEL_CREATE", "CHANNEL_UPDATE", "CHANNEL_DELETE", "THREAD_CREATE",
         "THREAD_UPDATE"),
        (1 << 0, 0),
    ),
    **dict.fromkeys(("MESSAGE_CREATE", "MESSAGE_UPDATE", "MESSAGE_DELETE"), (1 << 9, 1 << 12)),
}  # fmt: skip
# After these closes a session cannot be resumed (API reference, "Gateway Close Event Codes").
ENDING = frozenset((1000, 1001, 4003, 4004, 4005, 4007, 4009, 4010, 4011, 4012, 4013, 4014))


class Connection:
    """A socket with its own compression. Frames go out in order, by a task of its own."""

    def __init__(self, socket: web.WebSocketResponse, request: web.Request, *, compressed: bool) -> None:
        self.socket = socket
        self.request = request
        self._deflate = zlib.compressobj() if compressed else None
        self._frames: asyncio.Queue[str] = asyncio.Queue()
        self.session: Session | None = None
        self.closed_here = False
        self.beaten = asyncio.Event()
        self.received: deque[float] = deque(maxlen=EVENTS_PER_MINUTE)

    def put(self, op: int, data: object, *, event: str | None = None, number: int | None = None) -> None:
        self.put_text(json.dumps({"op": op, "d": data, "t": event, "s": number}))

    def put_text(self, text: str) -> None:
        self._frames.put_nowait(text)

    async def write(self) -> None:
        while True:
            text = await self._frames.get()
            if self._deflate is None:
                await self.socket.send_str(text)
            else:
                frame = self._deflate.compress(text.encode()) + self._deflate.flush(zlib.Z_SYNC_FLUSH)
                await self.socket.send_bytes(frame)

    def cut(self) -> None:
        if self.request.transport is not None:
            self.request.transport.abort()


@dataclass(eq=False)
class Session:
    """``kept``: what was dispatched, for who resumes. ``connection`` is none while nobody is there."""

    shard: int
    count: int
    intents: int
    presence: Json | None = None
    id: str = field(default_factory=lambda: secrets.token_hex(16))
    number: int = 0
    kept: deque[tuple[int, str]] = field(default_factory=lambda: deque(maxlen=20_000))
    connection: Connection | None = None
    resumed: int = 0


class Gateway:
    """``acks`` false: heartbeats are not confirmed. ``silent``: nothing is sent any more, though all seems well.

    ``down``: every connection is refused, ``refusing``: the next so many; ``cutting``: it is cut before an answer.
    ``identifies``, ``resumes`` and ``beats`` count what clients sent.
    """

    def __init__(self, world: World) -> None:
        self.world = world
        self.sessions: dict[str, Session] = {}
        self.acks = True
        self.silent = False
        self.down = False
        self.cutting = False
        self.refusing = 0
        self.identifies = 0
        self.resumes = 0
        self.beats = 0
        self._last_identify: dict[int, float] = {}

    # --- sending ---------------------------------------------------------------------------------------

    def dispatch(self, event: str, data: Json | Callable[[int], Json], server: Server | None) -> bool:
        """To every session of the server's shard, or of the first; whether anybody listens now."""
        heard = False
        for session in self.sessions.values():
            shard = server.shard(session.count) if server else 0
            in_server, direct = INTENTS.get(event, (0, 0))
            wanted = in_server if server else direct
            if shard == session.shard and (not wanted or session.intents & wanted):
                self._send(session, event, data(session.intents) if callable(data) else data)
                heard = heard or session.connection is not None
        return heard

    def _send(self, session: Session, event: str, data: Json) -> None:
        session.number += 1
        text = json.dumps({"op": DISPATCH, "d": data, "t": event, "s": session.number})
        session.kept.append((session.number, text))
        if session.connection is not None and not self.silent:
            session.connection.put_text(text)

    # --- a connection ----------------------------------------------------------------------------------

    async def handle(self, request: web.Request) -> web.StreamResponse:
        if self.down or self.refusing:
            self.refusing = max(0, self.refusing - 1)
            if self.cutting and request.transport is not None:
                request.transport.abort()
            return web.Response(status=503)
        socket = web.WebSocketResponse(max_msg_size=0)
        await socket.prepare(request)
        query = request.query
        compressed = query.get("compress") == "zlib-stream"
        connection = Connection(socket, request, compressed=compressed)
        writing = asyncio.create_task(connection.write())
        watching = asyncio.create_task(self._watch(connection))
        try:
            if query.get("v") != "10" or query.get("encoding") != "json":
                await self._end(connection, 4012, "the address asks for another version or encoding")
            else:
                connection.put(HELLO, {"heartbeat_interval": int(self.world.settings.heartbeat_s * 1000)})
                await self._read(connection)
        finally:
            writing.cancel()
            watching.cancel()
            self._left(connection)
        return socket

    async def _watch(self, connection: Connection) -> None:
        """Who sends no heartbeat for two intervals is taken for dead."""
        with suppress(TimeoutError):
            while True:
                async with asyncio.timeout(2 * self.world.settings.heartbeat_s):
                    await connection.beaten.wait()
                connection.beaten.clear()
        await self._end(connection, 4009, "no heartbeat")

    async def _read(self, connection: Connection) -> None:
        async for message in connection.socket:
            if message.type is not WSMsgType.TEXT:
                break
            try:
                frame = json.loads(message.data)
                op, data = frame["op"], frame.get("d")
            except (ValueError, KeyError, TypeError):
                await self._end(connection, 4002, "not JSON with an op")
                return
            now = time.monotonic()
            spent = len(connection.received) == EVENTS_PER_MINUTE and now - connection.received[0] < 60
            connection.received.append(now)
            if spent:
                await self._end(connection, 4008, "too many events a minute")
            elif len(message.data) > LONGEST_EVENT:
                await self._end(connection, 4002, f"an event longer than {LONGEST_EVENT}")
            else:
                await self._take(connection, op, data)

    async def _take(self, connection: Connection, op: int, data: Json) -> None:
        if op == BEAT:
            connection.beaten.set()
            self.beats += 1
            if self.acks and not self.silent:
                connection.put(ACK, None)
        elif op == IDENTIFY:
            await self._identify(connection, data)
        elif op == RESUME:
            await self._resume(connection, data)
        elif connection.session is None:
            await self._end(connection, 4003, f"op {op} before identifying")
        elif op == PRESENCE:
            connection.session.presence = data
            self.world.notify()
        elif op == MEMBERS:
            self._members(connection.session, data)
        elif op != VOICE:
            await self._end(connection, 4001, f"op {op}")

    async def _identify(self, connection: Connection, data: Json) -> None:
        settings = self.world.settings
        shard, count = data.get("shard") or (0, 1)
        intents = data.get("intents")
        mine = [s for s in self.world.servers.values() if s.present and s.shard(max(count, 1)) == shard]
        wrong = {
            4005: connection.session is not None,
            4004: data.get("token") != settings.token,
            4010: not 0 <= shard < count,
            4013: not isinstance(intents, int) or bool(intents & ~KNOWN_INTENTS),
            4014: isinstance(intents, int) and bool(intents & PRIVILEGED & ~settings.privileged),
            4011: len(mine) > SERVERS_ON_A_SHARD,
        }
        for code, is_wrong in wrong.items():
            if is_wrong:
                await self._end(connection, code, "identifying")
                return
        now = time.monotonic()
        if now - self._last_identify.get(0, -1e9) < settings.identify_s:
            connection.put(INVALID, False)
            return
        self._last_identify[0] = now
        assert isinstance(intents, int)
        self.identifies += 1
        session = Session(shard, count, intents, data.get("presence"))
        # Whoever was on this shard and left without a word is not waited for any longer.
        for old in [s for s in self.sessions.values() if s.connection is None and s.shard == shard]:
            del self.sessions[old.id]
        self.sessions[session.id] = session
        session.connection, connection.session = connection, session
        self._send(session, "READY", {
            "v": 10, "user": self.world.bot.wire() | {"verified": True, "mfa_enabled": False},
            "guilds": [{"id": str(server.id), "unavailable": True} for server in mine],
            "session_id": session.id, "session_type": "normal", "private_channels": [], "shard": [shard, count],
            "resume_gateway_url": self.world.address.replace("http", "ws") + "/gateway/",
            "application": {"id": str(self.world.application), "flags": 0},
        })  # fmt: skip
        if intents & 1:
            for server in mine:
                self._send(session, "GUILD_CREATE", server.wire(self.world.bot, unavailable=False))
        self.world.notify()

    async def _resume(self, connection: Connection, data: Json) -> None:
        session = self.sessions.get(data.get("session_id") or "")
        if data.get("token") != self.world.settings.token:
            await self._end(connection, 4004, "resuming")
        elif session is None:
            connection.put(INVALID, False)
        elif not isinstance(data.get("seq"), int) or data["seq"] > session.number:
            await self._end(connection, 4007, "resuming")
        else:
            self.resumes += 1
            session.resumed += 1
            session.connection, connection.session = connection, session
            for number, text in session.kept:
                if number > data["seq"]:
                    connection.put_text(text)
            self._send(session, "RESUMED", {"_trace": []})
            self.world.notify()

    def _members(self, session: Session, data: Json) -> None:
        """Members of a server by ids; lists and searches need the members intent."""
        server = self.world.servers[int(data["guild_id"])]
        wanted = data.get("user_ids") or []
        found = [server.members[int(n)].wire() for n in wanted if int(n) in server.members]
        if session.intents & 1 << 1 and not wanted:
            found = [member.wire() for member in server.members.values()]
        self._send(session, "GUILD_MEMBERS_CHUNK", {
            "guild_id": str(server.id), "members": found, "chunk_index": 0, "chunk_count": 1,
            "not_found": [str(n) for n in wanted if int(n) not in server.members], "nonce": data.get("nonce"),
        })  # fmt: skip

    async def _end(self, connection: Connection, code: int, why: str) -> None:
        """Closed for something that the client did."""
        self.world.violations.append(Violation(code, f"gateway: {why}"))
        await self._close(connection, code)

    async def _close(self, connection: Connection, code: int) -> None:
        if connection.session is not None and code in ENDING:
            self.sessions.pop(connection.session.id, None)
        connection.closed_here = True
        await connection.socket.close(code=code)

    def _left(self, connection: Connection) -> None:
        """A client that says goodbye with 1000 or 1001 ends its session; any other may come back."""
        session = connection.session
        if session is not None and session.connection is connection:
            session.connection = None
            if not connection.closed_here and connection.socket.close_code in (1000, 1001):
                self.sessions.pop(session.id, None)
        self.world.notify()

    # --- what tests let happen (on the stand-in's own thread) ------------------------------------------

    def connections(self, shard: int | None = None) -> list[Connection]:
        return [
            session.connection
            for session in self.sessions.values()
            if session.connection is not None and shard in (None, session.shard)
        ]

    async def close(self, code: int, shard: int | None = None) -> None:
        for connection in self.connections(shard):
            with suppress(ConnectionError):
                await self._close(connection, code)

    async def drop(self, shard: int | None = None) -> None:
        """The line goes dead without a word."""
        for connection in self.connections(shard):
            connection.cut()

    async def send_op(self, op: int, data: object = None, shard: int | None = None) -> None:
        """7: please reconnect; 9: the session is invalid, ``data`` says whether it can be resumed; 1: beat now."""
        for connection in self.connections(shard):
            connection.put(op, data)
            if op == INVALID and not data and connection.session is not None:
                self.sessions.pop(connection.session.id, None)
