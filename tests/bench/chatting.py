"""The bot under a crowd: the real chat library against the stand-in, service and bot as processes of their own."""

import asyncio
import itertools
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import psutil

from bot.settings import BotSettings
from service.app import open_house
from service.settings import load_settings
from service.usecases.identify import make_token
from tests.bench.measuring import head, row, told
from tests.chat.corner import GROUP
from tests.chat.process import BotProcess
from tests.chat_platform.asked import Asked
from tests.chat_platform.stand_in import Platform
from tests.chat_platform.wire import Person
from tests.support import ServedProcess, seeded

PER_SECOND, SECONDS = 20, 30
VOTERS, VOTES_WITHIN_S = 500, 10.0
SERVERS = 2500
SETTLED_S = 10.0
LICKS = range(1, 41)  # shown, each many times: their pictures are kept
LINE = "32514251, 3.2 /4 2 5 1 (15)--"


@dataclass
class Crowd:
    """A group on the first server, with an organiser and members who have joined."""

    platform: Platform
    address: str
    bot: BotProcess
    tokens: tuple[str, str, str]

    def ask(self, method: str, path: str, sent: object = None, user: Person | None = None) -> httpx.Response:
        """As an organiser, or as somebody on the server."""
        organiser, _, bot = self.tokens
        headers = {"Authorization": f"Bearer {organiser if user is None else bot}", "If-Match": "*"}
        if user is not None:
            headers |= {
                "On-Behalf-Of": f"discord:{user.id}",
                "Acting-Server": str(self.platform.servers[0].id),
            }
        answer = httpx.request(method, self.address + path, json=sent, headers=headers, timeout=60)
        answer.raise_for_status()
        return answer

    def member(self, name: str) -> Person:
        made = self.platform.person(name, self.platform.servers[0])
        self.ask("POST", f"{GROUP}/members", {"name": name}, made)
        return made


@contextmanager
def crowd(folder: Path) -> Iterator[Crowd]:
    data = folder / "service"
    data.mkdir()
    (data / "breakwright.sqlite3").write_bytes(seeded().read_bytes())

    async def tokens() -> tuple[str, str, str]:
        async with open_house(load_settings({}, data=str(data), log_level="error")) as house:
            return (
                await make_token(house, "organiser", "ferry-lane", "Kit"),
                await make_token(house, "operator", None, None),
                await make_token(house, "bot", None, None),
            )

    made = asyncio.run(tokens())
    with ServedProcess(data) as service, Platform() as platform:
        settings = BotSettings(
            token=platform.token, service=service.address, service_token=made[2], data=str(folder / "bot"),
            health_port=0, shards=1, log_level="error",
        )  # fmt: skip
        bound = {"platform": "discord", "server_id": str(platform.servers[0].id)}
        operator = {"Authorization": f"Bearer {made[1]}", "If-Match": "*"}
        httpx.patch(service.address + GROUP, json=bound, headers=operator, timeout=60).raise_for_status()
        began = time.perf_counter()
        with BotProcess(platform, settings) as bot:
            platform.until(lambda: platform.connected == [0], 60)
            row("start of the bot, until it is connected", told((time.perf_counter() - began) * 1000))
            here = Crowd(platform, service.address, bot, made)
            here.ask("PUT", f"{GROUP}/settings", {"channel": str(platform.rooms[0].id)})
            yield here


def _percentile(times: list[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def _paced(per_second: float, count: int, ask: Callable[[int], Asked]) -> list[Asked]:
    """So many asks, each at its time whatever became of those before."""
    began, made = time.perf_counter(), []
    for number in range(count):
        time.sleep(max(0.0, began + number / per_second - time.perf_counter()))
        made.append(ask(number))
    return made


def _told_of(asked: list[Asked], what: str) -> None:
    acknowledged = [one.wait_acknowledged(60).acknowledged_after or 0.0 for one in asked]
    row(f"{what}: acknowledged, p50", told(1000 * statistics.median(acknowledged)))
    row(f"{what}: acknowledged, p99", told(1000 * _percentile(acknowledged, 0.99)), "150 ms")
    posted = [one.answered_after for one in asked if one.answered_after is not None]
    row(f"{what}: posted, p50", told(1000 * statistics.median(posted)))
    row(f"{what}: posted, p99", told(1000 * _percentile(posted, 0.99)), "0.6 s")
    row(f"{what}: answered", f"{len(posted)} of {len(asked)}", "all")


def mixed(here: Crowd) -> None:
    """Looking at licks (60 %), a known break again (20 %), licks for a phrase (20 %): their pictures are there."""
    person, room, chance = here.member("Heron"), here.platform.rooms[0], random.Random(1)
    drawn = here.platform.run("break random", person, room, {"tune": "heron-ferry", "seed": 7}).wait(60)
    code = drawn.message.content.split("code ")[1][:8]

    def ask(_: int) -> Asked:
        kind = chance.random()
        if kind < 0.6:
            return here.platform.run("lick show", person, room, {"lick": str(chance.choice(LICKS))})
        if kind < 0.8:
            return here.platform.run("break show", person, room, {"code": code})
        return here.platform.run(
            "lick find", person, room, {"tune": "heron-ferry", "phrase": str(chance.randint(1, 8))}
        )

    for lick in LICKS:
        here.platform.run("lick show", person, room, {"lick": str(lick)}).wait(60)
    for phrase in range(1, 9):
        here.platform.run("lick find", person, room, {"tune": "heron-ferry", "phrase": str(phrase)}).wait(60)
    asked = _paced(PER_SECOND, PER_SECOND * SECONDS, ask)
    for one in asked:
        one.wait(60)
    _told_of(asked, f"{PER_SECOND} asks/s")


def fresh(here: Crowd, per_second: float) -> None:
    """A break nobody has seen: drawn, and two pictures made, each time."""
    person, room = here.member("Otter"), here.platform.rooms[0]
    asked = _paced(
        per_second, int(per_second * SECONDS),
        lambda number: here.platform.run("break random", person, room, {"tune": "heron-ferry"}),
    )  # fmt: skip
    for one in asked:
        one.wait(120)
    _told_of(asked, f"{per_second:g} fresh breaks/s")


def votes(here: Crowd) -> None:
    author = here.member("Author")
    here.ask("POST", f"{GROUP}/challenges", {"tune": "heron-ferry", "phrase": 1})
    here.ask("POST", f"{GROUP}/challenges/1/variations", {"text": LINE, "name": "Bell"}, author)
    people = [here.member(f"Voter {number}") for number in range(VOTERS)]

    def entry() -> list[object]:
        threads = [
            message.thread for message in here.platform.rooms[0].messages if message.thread is not None
        ]
        return [message for thread in threads for message in thread.messages if message.buttons]

    here.platform.until(lambda: bool(entry()), 60)
    message = entry()[0]
    asked = _paced(
        VOTERS / VOTES_WITHIN_S, VOTERS,
        lambda number: here.platform.press(message, "Vote", people[number]),  # type: ignore[arg-type]
    )  # fmt: skip
    for one in asked:
        one.wait(60)
    _told_of(asked, f"{VOTERS} votes in {VOTES_WITHIN_S:g} s")
    time.sleep(4)
    counted = here.ask("GET", f"{GROUP}/variations/1").json()["votes"]
    row("votes counted by the service", str(counted), str(VOTERS))
    edits = [r.at for r in here.platform.requests if r.method == "PATCH" and "/messages/" in r.path]
    gaps = [after - before for before, after in itertools.pairwise(edits)]
    row("edits of the message, least time between", f"{len(edits)}, {min(gaps, default=0):.1f} s", "3 s")


def memory(folder: Path) -> None:
    with Platform(servers=SERVERS) as platform:
        settings = BotSettings(
            token=platform.token, service="http://127.0.0.1:9", service_token="-", data=str(folder),
            health_port=0, shards=1, log_level="error",
        )  # fmt: skip
        with BotProcess(platform, settings) as bot:
            platform.until(lambda: platform.connected == [0], 60)
            time.sleep(SETTLED_S)
            held = psutil.Process(bot.process.pid).memory_info().rss / 2**20
    row(f"memory of the bot at {SERVERS:,} servers", f"{held:.0f} MB", "120 MB")


def chatting() -> None:
    head()
    with tempfile.TemporaryDirectory() as folder:
        with crowd(Path(folder)) as here:
            mixed(here)
            fresh(here, 2)
            votes(here)
        memory(Path(folder) / "idle")
