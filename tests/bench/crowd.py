"""What a crowd takes: 10,000 groups with a million licks, a million variations and five million votes in one file, over HTTP."""

import asyncio
import contextlib
import itertools
import json
import os
import random
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import httpx
import psutil

from service.clock import stamp, system_clock
from service.groups.weeks import WEEK
from service.store.database import connect, connect_readonly
from tests.bench.baseline import BaselineServer
from tests.bench.crowded import (
    CHALLENGES,
    ENTRIES,
    GROUPS,
    MEMBERS,
    PLATFORM,
    server_of,
    slug_of,
    user_of,
    working_copy,
)
from tests.bench.filled import LIMITLESS, settings_for
from tests.bench.measuring import head, row, told
from tests.bench.paced import Connections, Latencies, Request, one_by_one, paced

STARTS = 5
WARM = 24  # groups that are asked for breaks in turn
DRAWS = 600
LOADED_S = 20
PER_SECOND = 200  # of votes, and of reads
CLAIMS = 100
SETTLED_S = 6  # after a start, until what is made ready in the background is
TUNES = ("heron-ferry", "millers-mitten", "thimble-creek")
OPEN = range(
    (CHALLENGES - 1) * ENTRIES + 1, CHALLENGES * ENTRIES + 1
)  # variations of the challenge that is open
LIBRARIES = "import litestar, uvicorn, uvloop, httptools, aiosqlite, numpy, msgspec"


@dataclass(frozen=True, slots=True)
class Service:
    address: str
    token: str
    process: psutil.Process
    start_s: float  # until it said that it is ready

    @property
    def asking(self) -> tuple[tuple[str, str], ...]:
        return (("Authorization", f"Bearer {self.token}"),)

    def acting(self, group: int, member: int) -> tuple[tuple[str, str], ...]:
        """As a member of a group, whom the bot asks for."""
        who = ("On-Behalf-Of", f"{PLATFORM}:{user_of(member)}"), ("Acting-Server", server_of(group))
        return (*self.asking, *who)


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@contextlib.contextmanager
def running(folder: Path, token: str) -> Iterator[Service]:
    """``breakwright serve`` over a folder, from when it is ready."""
    port = _free_port()
    command = [sys.executable, "-m", "service", "serve", "--data", str(folder), "--port", str(port)]
    began = time.perf_counter()
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, **LIMITLESS}
    )
    try:
        address = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=address) as client:
            while True:
                with contextlib.suppress(httpx.TransportError):
                    if client.get("/v1/health/ready").status_code == 200:
                        break
                time.sleep(0.005)
        yield Service(address, token, psutil.Process(process.pid), time.perf_counter() - began)
    finally:
        process.terminate()
        process.wait()


def _bot(folder: Path) -> str:
    command = [sys.executable, "-m", "service", "token", "--data", str(folder), "--role", "bot"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


def _judge(ms: float, most: float) -> str:
    return told(ms) + (" (missed)" if ms > most else "")


# --- start -----------------------------------------------------------------------------------------------------


def starting(folder: Path, token: str) -> None:
    times = []
    for _ in range(STARTS):
        with running(folder, token) as service:
            times.append(service.start_s * 1000)
    began = time.perf_counter()
    for _ in range(STARTS):
        subprocess.run([sys.executable, "-c", LIBRARIES], check=True)
    bare = (time.perf_counter() - began) * 1000 / STARTS
    ms = statistics.median(times)
    row(
        f"start to ready, {told(min(times))} to {told(max(times))}", _judge(ms, 2000), "≤ 2 s",
        f"importing the libraries: {told(bare)}", ms / bare,
    )  # fmt: skip


# --- breaks ----------------------------------------------------------------------------------------------------


def _draw(service: Service, group: int) -> Request:
    path = f"/v1/groups/{slug_of(group)}/tunes/{TUNES[0]}/breaks/random"
    return Request("POST", path, service.acting(group, 2), b"{}")


async def drawing(service: Service, connections: Connections) -> None:
    groups = random.Random(1).sample(range(1, GROUPS + 1), 2 * WARM)
    warm, others = groups[:WARM], groups[WARM:]
    cold = await one_by_one(connections, (_draw(service, g) for g in groups), len(groups))
    await one_by_one(connections, (_draw(service, g) for g in warm), len(warm))
    _, body = await connections.ask(_draw(service, warm[0]))
    asked = itertools.cycle([_draw(service, group) for group in warm])
    found = await one_by_one(connections, asked, DRAWS)
    with BaselineServer(body) as bare:
        plain = Connections(bare.url)
        base = await one_by_one(plain, itertools.repeat(Request("GET", "/")), DRAWS)
        plain.close()
    against = f"a bare litestar handler, {len(body) // 1000} kB, p99: {told(base.at(0.99))}"
    row(
        f"random break, {WARM} groups in turn, p99 (p50 {told(found.at(0.5))})", _judge(found.at(0.99), 25),
        "≤ 25 ms", against, found.at(0.99) / base.at(0.99),
    )  # fmt: skip
    again = await one_by_one(connections, (_draw(service, g) for g in others), len(others))
    for what, times in (("asked before, forgotten meanwhile", again), ("asked for the first time", cold)):
        row(
            f"the same of a group {what}, p50",
            told(times.at(0.5)),
            "",
            against,
            times.at(0.5) / base.at(0.99),
        )
    _complain(found, again, cold)


def _complain(*answered: Latencies) -> None:
    for found in answered:
        if found.refused:
            print(f"REFUSED: {found.refused}", flush=True)


# --- votes and reads --------------------------------------------------------------------------------------------


def _votes(service: Service, draw: random.Random) -> Iterator[Request]:
    """Votes given and taken back, of members of all groups, none for one's own."""
    while True:
        group, place = draw.randint(1, GROUPS), draw.randrange(ENTRIES)
        voter = draw.choice([member for member in range(1, MEMBERS + 1) if member != place + 2])
        path = f"/v1/groups/{slug_of(group)}/variations/{OPEN[place]}/vote"
        yield Request(draw.choice(("PUT", "DELETE")), path, service.acting(group, voter))


def _reads(service: Service, draw: random.Random) -> Iterator[Request]:
    """Pages of all groups in turn, lists by ten."""
    variations = f"challenges/{CHALLENGES}/variations?limit=10"
    pages = (f"tunes/{TUNES[0]}", "licks?limit=10", f"challenges/{CHALLENGES}", variations)
    for page in itertools.cycle(pages):
        group = draw.randint(1, GROUPS)
        yield Request("GET", f"/v1/groups/{slug_of(group)}/{page}", service.acting(group, 2))


async def voting(service: Service, connections: Connections, folder: Path) -> None:
    draw, votes, reads = random.Random(2), Latencies(), Latencies()
    until = time.perf_counter() + LOADED_S
    before = sum(service.process.cpu_times()[:2])
    await asyncio.gather(
        *(
            paced(connections, asked(service, draw), PER_SECOND, lambda: time.perf_counter() > until, found)
            for asked, found in ((_votes, votes), (_reads, reads))
        )
    )
    busy = (sum(service.process.cpu_times()[:2]) - before) / LOADED_S
    alone = _votes_alone(folder)
    row(
        f"vote, {PER_SECOND}/s beside {PER_SECOND} reads/s, p99 (p50 {told(votes.at(0.5))})",
        _judge(votes.at(0.99), 15), "≤ 15 ms", f"a vote stored by sqlite3 alone, p99: {told(alone.at(0.99))}",
        votes.at(0.99) / alone.at(0.99),
    )  # fmt: skip
    row(
        f"the reads beside them, p99 (p50 {told(reads.at(0.5))}; {busy:.0%} of a core)", told(reads.at(0.99)),
        "", f"a vote stored by sqlite3 alone, p50: {told(alone.at(0.5))}", reads.at(0.99) / alone.at(0.5),
    )  # fmt: skip
    _complain(votes, reads)


def _votes_alone(folder: Path) -> Latencies:
    """The same insert, a transaction of its own on the disk each time, with nobody else there."""
    found, draw = Latencies(), random.Random(3)
    with contextlib.closing(connect(settings_for(folder).database)) as connection:
        for _ in range(500):
            challenge = draw.randint(1, GROUPS) * CHALLENGES
            began = time.perf_counter()
            connection.execute(
                "INSERT INTO votes (challenge_id, variation_id, member_id, given) VALUES (?, ?, ?, '') "
                "ON CONFLICT DO UPDATE SET given = given",
                (challenge, challenge * ENTRIES, draw.randint(1, GROUPS * MEMBERS)),
            )
            found.ms.append((time.perf_counter() - began) * 1000)
    return found


def remembering(service: Service) -> None:
    bare = subprocess.run(
        [sys.executable, "-c", LIBRARIES + ", psutil; print(psutil.Process().memory_info().rss)"],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    base, used = int(bare.stdout) / 1e6, service.process.memory_info().rss / 1e6
    row(
        "resident memory of the service after all this", f"{used:.0f} MB" + (" (missed)" if used > 300 else ""),
        "≤ 300 MB", f"the libraries alone: {base:.0f} MB", used / base,
    )  # fmt: skip


# --- all weeks at once ------------------------------------------------------------------------------------------


def _all_due(folder: Path) -> None:
    """Every group's challenge closes, and its week begins, in the minute that has just passed."""
    now = system_clock()
    weekday = (
        (now - timedelta(days=1)).strftime("%A").lower()
    )  # so that most of the week is left, in any zone
    with contextlib.closing(connect(settings_for(folder).database)) as connection:
        connection.execute("BEGIN")
        connection.execute(
            "UPDATE groups SET settings = json_set(settings, '$.weekday', ?, '$.time', '12:00')", (weekday,)
        )
        connection.execute(
            "UPDATE challenges SET opens = ?, closes = ? WHERE state = 'open'",
            (stamp(now - WEEK), stamp(now)),
        )
        connection.execute("UPDATE due SET at = ?", (stamp(now - timedelta(seconds=1)),))
        connection.execute("COMMIT")


async def rolling(service: Service, connections: Connections, folder: Path, began: float) -> None:
    reads = Latencies()
    with contextlib.closing(connect_readonly(settings_for(folder).database)) as watching:
        asked = "SELECT count(*) FROM due WHERE at <= ?"
        now = stamp(system_clock())
        left, looked = 1, 0.0  # things that are due, and when they were counted

        def over() -> bool:
            nonlocal left, looked
            if time.perf_counter() > looked + 0.25:
                (left,) = watching.execute(asked, (now,)).fetchone()
                looked = time.perf_counter()
            return not left or looked > began + 600

        await paced(connections, _reads(service, random.Random(4)), PER_SECOND, over, reads)
        took = looked - began
        counted = watching.execute(
            "SELECT (SELECT count(*) FROM challenges WHERE number = ? AND state = 'closed' AND group_id IN "
            "(SELECT group_id FROM challenges WHERE number = ? AND state = 'open')), "
            "(SELECT count(*) FROM posts WHERE state = 'waiting')",
            (CHALLENGES, CHALLENGES + 1),
        ).fetchone()
    alone = _rolled_alone(folder)
    row(
        f"{GROUPS:,} weeks at once: {counted[0]:,} challenges closed and drawn, {counted[1]:,} posts",
        f"{took:.1f} s" + (" (missed)" if took > 60 else ""), "≤ 60 s",
        f"as many rows by sqlite3 alone: {alone:.1f} s", took / alone,
    )  # fmt: skip
    row(
        f"{PER_SECOND} reads/s meanwhile, p99 (p50 {told(reads.at(0.5))})",
        _judge(reads.at(0.99), 60),
        "≤ 60 ms",
    )
    _complain(reads)


def _rolled_alone(folder: Path) -> float:
    """Results of variations, two posts and a challenge a group written again, in transactions of 64 groups; seconds."""
    began = time.perf_counter()
    with contextlib.closing(connect(settings_for(folder).database)) as connection:
        for first in range(0, GROUPS, 64):
            connection.execute("BEGIN IMMEDIATE")
            for group in range(first, min(first + 64, GROUPS)):
                own = range(
                    group * CHALLENGES * ENTRIES + OPEN[0], group * CHALLENGES * ENTRIES + OPEN[-1] + 1
                )
                for variation in own:
                    connection.execute("UPDATE variations SET chances = chances WHERE id = ?", (variation,))
                connection.execute(
                    "UPDATE challenges SET drawn = drawn, record = record || ' ' WHERE group_id = ? AND number >= ?",
                    (group + 1, CHALLENGES),
                )
                connection.execute(
                    "UPDATE posts SET params = params || ' ' WHERE group_id = ? AND state = 'waiting'",
                    (group + 1,),
                )
            connection.execute("COMMIT")
    return time.perf_counter() - began


async def claiming(service: Service, connections: Connections, folder: Path) -> None:
    body = json.dumps({"platform": PLATFORM, "most": 10, "lease_s": 60}).encode()
    asked = Request("POST", "/v1/outbox/claims", service.asking, body)
    found = await one_by_one(connections, itertools.repeat(asked), CLAIMS)
    alone = _votes_alone(folder)
    row(
        f"claim of 10 posts of all those, p99 (p50 {told(found.at(0.5))})", told(found.at(0.99)), "",
        f"a vote stored by sqlite3 alone, p99: {told(alone.at(0.99))}", found.at(0.99) / alone.at(0.99),
    )  # fmt: skip
    _complain(found)


# --- all of it --------------------------------------------------------------------------------------------------


async def _busy(service: Service, folder: Path) -> None:
    await asyncio.sleep(SETTLED_S)
    connections = Connections(service.address)
    await drawing(service, connections)
    await voting(service, connections, folder)
    remembering(service)
    connections.close()


async def _rollover(service: Service, folder: Path, began: float) -> None:
    connections = Connections(service.address)
    await rolling(service, connections, folder, began)
    await claiming(service, connections, folder)
    remembering(service)
    connections.close()


def crowd() -> None:
    """The table: it takes some minutes, and twice the room of the file."""
    with tempfile.TemporaryDirectory() as name:
        folder = working_copy(Path(name))
        size = settings_for(folder).database.stat().st_size / 1e9
        print(f"{GROUPS:,} groups in a file of {size:.1f} GB; load of the machine {os.getloadavg()[0]:.1f}\n")
        token = _bot(folder)
        head()
        starting(folder, token)
        with running(folder, token) as service:
            asyncio.run(_busy(service, folder))
        _all_due(folder)
        began = time.perf_counter()
        with running(folder, token) as service:
            asyncio.run(_rollover(service, folder, began))
        print(f"\nload of the machine at the end {os.getloadavg()[0]:.1f}")
