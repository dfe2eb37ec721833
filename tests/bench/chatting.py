"""The bot under a crowd: the real chat library against the stand-in, service and bot as processes of their own."""

import asyncio
import itertools
import math
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import httpx
import psutil

from bot.calls import read
from bot.commands.book import book
from bot.settings import BotSettings
from service.app import open_house
from service.settings import load_settings
from service.usecases.identify import make_token
from tests.bench.measuring import head, row, timed_row, told
from tests.chat.corner import GROUP
from tests.chat.process import BotProcess
from tests.chat_platform.asked import Asked, Unanswered
from tests.chat_platform.stand_in import Platform
from tests.chat_platform.wire import Message, Person
from tests.support import ServedProcess, seeded

PER_SECOND, SECONDS = 20, 30
VOTERS, VOTES_WITHIN_S = 500, 10.0
SERVERS = 2500
SETTLED_S = 10.0
ACKNOWLEDGED_MS, POSTED_MS = 150.0, 600.0
WAIT_S = 60
TUNE = "heron-ferry"
LICKS = range(1, 41)  # shown, each many times: their pictures are kept
AT_ONCE, DRAWN = 4, 40  # fresh breaks, to see how many a second there can be
SHARE = 0.75  # of that rate: how fast they are asked for then
LINES = (
    "32514251, 3.2 /4 2 5 1 (15)--",
    "32513251, 3.2 /4 2 5 1 (15)--",
)  # the same twice would be held back


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


Ask = tuple[str, Callable[[], Asked]]  # its kind, and how it is asked


@dataclass(frozen=True)
class Taken:
    """Milliseconds from an ask to its acknowledgement, and to the message that answers it, of each kind."""

    acknowledged: list[float]
    posted: dict[str, list[float]]
    answered: int
    asked: int
    pictured: int  # of those that should come with a picture; where none could be made in time, tab as text comes instead

    def of(self, kinds: Collection[str]) -> list[float]:
        return [ms for kind in kinds for ms in self.posted.get(kind, ())]


def _paced(per_second: float, asks: Sequence[Ask]) -> Taken:
    """Each ask at its time, whatever became of those before."""
    began, made = time.perf_counter(), []
    for number, (kind, ask) in enumerate(asks):
        time.sleep(max(0.0, began + number / per_second - time.perf_counter()))
        made.append((kind, ask()))
    posted: dict[str, list[float]] = {}
    answered = 0
    for kind, one in made:
        with suppress(Unanswered, TimeoutError):
            answered += one.wait(WAIT_S).answered
        if one.answered_after is not None:
            posted.setdefault(kind, []).append(1000 * one.answered_after)
    heard = [math.inf if one.acknowledged_after is None else 1000 * one.acknowledged_after for _, one in made]
    pictured = sum(bool(one.messages and one.message.attachments) for kind, one in made if kind in PICTURES)
    return Taken(heard, posted, answered, len(made), pictured)


def _at(times: Sequence[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def _compared(
    what: str, share: float, times: Sequence[float], bare: Sequence[float], most: float | None
) -> None:
    """A row: so much of ours beside the same of the chat library alone."""
    timed_row(
        f"{what}, {'slowest' if share == 1 else f'p{100 * share:.0f}'}",
        _at(times, share),
        most,
        "discord.py alone",
        _at(bare, share),
    )


PICTURES = ("lick show", "break random", "break show", "lick find")
# What is asked, and how often: looking at licks most of all; ours.
MIX = {
    "lick show": 30, "break random": 20, "break show": 10, "lick find": 10, "vote": 20, "typing": 10,
}  # fmt: skip


def mix(here: Crowd, people: Sequence[Person], entry: Message, codes: Sequence[str]) -> list[Ask]:
    """The same asks each time."""
    platform, person, room, chance = here.platform, people[0], here.platform.rooms[0], random.Random(1)
    voters = iter(people)
    tune = {"tune": TUNE}

    def one(kind: str) -> Callable[[], Asked]:
        match kind:
            case "lick show":
                return partial(platform.run, kind, person, room, {"lick": str(chance.choice(LICKS))})
            case "break random":
                return partial(platform.run, kind, person, room, tune)
            case "break show":
                return partial(platform.run, kind, person, room, {"code": chance.choice(codes)})
            case "lick find":
                return partial(
                    platform.run, kind, person, room, {**tune, "phrase": str(chance.randint(1, 8))}
                )
            case "vote":
                return partial(platform.press, entry, vote_of(entry), next(voters))
        text = chance.choice(("h", "he", "fer", "1", "a"))
        return partial(platform.type_ahead, "lick show", "lick", text, person, room)

    kinds = chance.choices(list(MIX), list(MIX.values()), k=PER_SECOND * SECONDS)
    return [(kind, one(kind)) for kind in kinds]


def vote_of(entry: Message) -> str:
    """What its button carries; the label changes with the count."""
    return next(str(item["custom_id"]) for item in entry.buttons if item["label"].startswith("Vote"))


def warmed(here: Crowd, person: Person) -> list[str]:
    """Pictures that are kept from now on; codes of some breaks."""
    platform, room = here.platform, here.platform.rooms[0]
    for lick in LICKS:
        platform.run("lick show", person, room, {"lick": str(lick)}).wait(WAIT_S)
    for phrase in range(1, 9):
        platform.run("lick find", person, room, {"tune": TUNE, "phrase": str(phrase)}).wait(WAIT_S)
    drawn = [platform.run("break random", person, room, {"tune": TUNE}).wait(WAIT_S) for _ in range(10)]
    return [asked.message.content.split("code ")[1][:8] for asked in drawn]


def entries(here: Crowd) -> list[Message]:
    """A challenge and two variations, as posted with the button that votes."""
    author = here.member("Author")
    here.ask("POST", f"{GROUP}/challenges", {"tune": TUNE, "phrase": 1})
    for name, line in zip(("Bell", "Buoy"), LINES, strict=True):
        here.ask("POST", f"{GROUP}/challenges/1/variations", {"text": line, "name": name}, author)

    def posted() -> list[Message]:
        threads = [
            message.thread for message in here.platform.rooms[0].messages if message.thread is not None
        ]
        return [message for thread in threads for message in thread.messages if message.buttons]

    here.platform.until(lambda: len(posted()) == 2, 60)
    return posted()


def fresh(here: Crowd, person: Person) -> tuple[float, Taken]:
    """Breaks that nobody has seen, two pictures each: so many a second when some wait all the time, and what each takes at
    ``SHARE`` of that."""
    ask = partial(here.platform.run, "break random", person, here.platform.rooms[0], {"tune": TUNE})
    began = time.perf_counter()
    with ThreadPoolExecutor(AT_ONCE) as asking:
        list(asking.map(lambda _: ask().wait(WAIT_S), range(DRAWN)))
    rate = DRAWN / (time.perf_counter() - began)
    pace = SHARE * rate
    return rate, _paced(pace, [("break random", ask)] * int(pace * SECONDS))


def _votes(here: Crowd, entry: Message, people: Sequence[Person]) -> Taken:
    asks = [("vote", partial(here.platform.press, entry, vote_of(entry), voter)) for voter in people]
    return _paced(VOTERS / VOTES_WITHIN_S, asks)


def asks(here: Crowd) -> None:
    """The bot first, then the library alone in its place, asked the same."""
    people = [here.member(f"Member {number}") for number in range(VOTERS)]
    first, second = entries(here)
    codes = warmed(here, people[0])
    asked = mix(here, people, first, codes)
    mixed = _paced(PER_SECOND, asked)
    rate, drawn = fresh(here, people[0])
    seen = len(here.platform.requests)
    voted = _votes(here, second, people)
    time.sleep(SETTLED_S)
    edits = [
        request.at
        for request in here.platform.requests[seen:]
        if request.method == "PATCH" and request.path.startswith("/channels/")
    ]
    number = GROUP + f"/variations/{read_variation(second)}"
    counted = here.ask("GET", number).json()["votes"]
    here.bot.kill()
    here.platform.until(lambda: not here.platform.connected, 60)
    with bare_client(here.platform):
        bare = _paced(PER_SECOND, asked)
        bare_fresh = _paced(SHARE * rate, [one for one in asked if one[0] == "break random"])
        bare_voted = _votes(here, second, people)

    row("asks, of a hundred", ", ".join(f"{often} {kind}" for kind, often in MIX.items()))
    said = f"{PER_SECOND} asks/s"
    for share, most in ((0.5, None), (0.99, ACKNOWLEDGED_MS)):
        _compared(f"{said}: acknowledged", share, mixed.acknowledged, bare.acknowledged, most)
    for share, most in ((0.5, None), (0.99, POSTED_MS)):
        _compared(f"{said}: picture posted", share, mixed.of(PICTURES), bare.of(PICTURES), most)
    for kind in (*PICTURES, "vote"):
        _compared(f"of them {kind}: posted", 0.99, mixed.of((kind,)), bare.of((kind,)), None)
    row(f"{said}: answered", f"{mixed.answered} of {mixed.asked}", "all")
    row(f"{said}: with a picture", f"{mixed.pictured} of {len(mixed.of(PICTURES))}", "all")
    row(f"fresh breaks a second, {AT_ONCE} waiting all the time", f"{rate:.1f}")
    said = f"{SHARE * rate:.1f} fresh breaks/s"
    _compared(f"{said}: acknowledged", 0.99, drawn.acknowledged, bare_fresh.acknowledged, ACKNOWLEDGED_MS)
    for share, most in ((0.5, None), (0.99, POSTED_MS)):
        _compared(f"{said}: posted", share, drawn.of(PICTURES), bare_fresh.of(PICTURES), most)
    said = f"{VOTERS} votes in {VOTES_WITHIN_S:g} s"
    _compared(f"{said}: acknowledged", 0.99, voted.acknowledged, bare_voted.acknowledged, ACKNOWLEDGED_MS)
    _compared(f"{said}: acknowledged", 1.0, voted.acknowledged, bare_voted.acknowledged, 3000)
    _compared(f"{said}: answered", 0.99, voted.of(("vote",)), bare_voted.of(("vote",)), None)
    row(f"{said}: answered", f"{voted.answered} of {voted.asked}", "all")
    row(f"{said}: counted by the service", str(counted), str(VOTERS))
    gaps = [after - before for before, after in itertools.pairwise(edits)]
    row(f"{said}: edits, and the least time between", f"{len(edits)}, {min(gaps, default=0):.1f} s", "≥ 3 s")


def read_variation(entry: Message) -> str:
    found = read(vote_of(entry))
    assert found is not None
    return book().long_names(found[0]).given["variation"]


@contextmanager
def bare_client(platform: Platform) -> Iterator[int]:
    """``bare_client.py`` as a process, once it is connected: its id."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.bare_client"],
        env={**os.environ, **platform.environment, "BREAKWRIGHT_BOT_TOKEN": platform.token},
    )
    try:
        platform.until(lambda: platform.connected == [0], 60)
        time.sleep(1)  # until it has heard of its servers
        yield process.pid
    finally:
        process.kill()
        process.wait(20)


def memory(folder: Path) -> None:
    def held(pid: int) -> float:
        time.sleep(SETTLED_S)
        return float(psutil.Process(pid).memory_info().rss) / 1e6

    with Platform(servers=SERVERS) as platform:
        settings = BotSettings(
            token=platform.token, service="http://127.0.0.1:9", service_token="-", data=str(folder),
            health_port=0, shards=1, log_level="error",
        )  # fmt: skip
        with BotProcess(platform, settings) as bot:
            platform.until(lambda: platform.connected == [0], 60)
            ours = held(bot.process.pid)
    with Platform(servers=SERVERS) as platform, bare_client(platform) as pid:
        bare = held(pid)
    row(
        f"memory of the bot at {SERVERS:,} servers", f"{ours:.0f} MB", "≤ 120 MB",
        f"discord.py alone, its own caches: {bare:.0f} MB", ours / bare,
    )  # fmt: skip


def chatting() -> None:
    head()
    row("load of the machine before", f"{os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        with crowd(Path(folder)) as here:
            asks(here)
        memory(Path(folder) / "idle")
