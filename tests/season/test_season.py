"""A season: four weeks, three groups in three zones over a change of the clock, with everything killed now and then.

Only the public API is used, by a bot that acts for members. Every announcement, reminder and round-up comes exactly once and at
its time, and every submission and vote that was acknowledged is there in the end.
"""

import random
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import httpx

from service.usecases.seeding import load_fixtures
from tests.season.chat import Bot, Platform, WentDown

# Berlin goes back an hour on 25 October 2026, New York on 1 November, Sydney went forward on 4 October [IANA time zone database].
GROUPS = {
    "weir": ("Europe/Berlin", "sunday", "02:30"),  # the hour that comes twice
    "quay": ("America/New_York", "wednesday", "19:00"),
    "shoal": ("Australia/Sydney", "friday", "18:30"),
}
BEGINS = datetime(2026, 10, 9, 12, tzinfo=UTC)
WEEKS = 4
STEP = timedelta(hours=12)
HONOURING = frozenset(
    {"licks-weir", "licks-quay"}
)  # channels of a platform that honours nonces; the third's does not
MEMBERS = ("ann", "ben", "cas", "dot")
TUNE = "heron-ferry"


def _bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


class Season:
    """Three groups, their chat, and a service that is killed and started again."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.random = random.Random(seed)
        self.data, self.clock = folder / "data", folder / "clock"
        self.now = BEGINS
        self.platform = Platform(HONOURING)
        self.bot_falls = 0
        self.kills = 0
        self.tell_time()
        self.process, self.client, operator = self._started()
        made = self.client.post("/v1/tokens", json={"role": "bot"}, headers=_bearer(operator))
        self.bot = _bearer(made.json()["secret"])
        self.entered: dict[str, list[tuple[int, int]]] = {
            slug: [] for slug in GROUPS
        }  # (challenge, variation)
        self.votes: dict[str, set[tuple[int, int, str]]] = {slug: set() for slug in GROUPS}

    def tell_time(self) -> None:
        aside = self.clock.with_suffix(".new")
        aside.write_text(self.now.isoformat())
        aside.replace(self.clock)

    def _started(self) -> tuple[subprocess.Popen[str], httpx.Client, str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.season.serving", str(self.data), str(self.clock)],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert process.stdout is not None
        address, token = process.stdout.readline().strip(), process.stdout.readline().strip()
        return process, httpx.Client(base_url=address, timeout=20), token

    def kill(self) -> None:
        self.client.close()
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(20)
        assert self.process.stdout is not None
        self.process.stdout.close()
        self.kills += 1

    def start_again(self) -> None:
        self.kill()
        self.process, self.client, _ = self._started()

    def ask(self, slug: str, who: str | None, method: str, path: str, **more: Any) -> httpx.Response:
        """As often as it takes until the service answers, with one key: somebody may be killing it."""
        headers = {**self.bot, "If-Match": "*"}
        if who is not None:
            headers |= {"On-Behalf-Of": f"chat:{who}", "Acting-Server": f"server-{slug}"}
        if method == "POST":
            headers["Idempotency-Key"] = f"{self.random.random()}"
        while True:
            try:
                return self.client.request(method, path, headers=headers, **more)
            except httpx.HTTPError:
                self.start_again()

    @contextmanager
    def killed_meanwhile(self, share: float) -> Iterator[None]:
        """Now and then the service is killed while this is going on."""
        if self.random.random() >= share:
            yield
            return
        killing = threading.Timer(self.random.uniform(0, 0.03), self.process.kill)
        killing.start()
        yield
        killing.join()

    def settle(self) -> None:
        """Until nothing is due any more and the bot has brought everything, whoever goes down on the way."""

        def falls(step: str) -> bool:
            fallen = self.random.random() < 0.04
            self.bot_falls += fallen
            return fallen

        quiet = 0
        while quiet < 2:
            time.sleep(0.06)  # the scheduler looks at the clock
            try:
                brought = Bot(self.platform, falls, self.bot).run(self.client, self.now)
                quiet = quiet + 1 if brought == 0 else 0
            except WentDown:
                quiet = 0
                self.now += timedelta(seconds=6)  # what it had claimed is free again
                self.tell_time()
            except httpx.HTTPError:
                quiet = 0
                self.start_again()


def _set_up(season: Season) -> None:
    found = load_fixtures()
    record = dict(found.tunes)[TUNE]
    licks = [lick for lick in found.licks if (lick.number or 0) <= 8]
    for slug, (zone, weekday, at) in GROUPS.items():
        made = season.ask(
            slug, None, "POST", "/v1/groups",
            json={"slug": slug, "name": slug.title(), "platform": "chat", "server_id": f"server-{slug}"},
        )  # fmt: skip
        assert made.status_code == 201, made.text
        for name in MEMBERS:
            joined = season.ask(
                slug, name, "POST", f"/v1/groups/{slug}/members",
                json={"name": name.title(), "manages_server": name == "ann"},
            )  # fmt: skip
            assert joined.json()["role"] == ("organiser" if name == "ann" else "member")
        for lick in licks:
            fields = {
                name: getattr(lick, name)
                for name in ("name", "text", "instrument", "chords", "key", "hand_style", "style", "role")
            }
            assert season.ask(slug, "ann", "POST", f"/v1/groups/{slug}/licks", json=fields).status_code == 201
        tune = {
            "slug": TUNE, "name": record.name, "key": record.key, "meter": record.meter, "chart": record.chart,
            "order": record.order, "plain": record.plain,
            "tempo": {"low": 60, "high": 130, "start": 84, "unit": "half"},
        }  # fmt: skip
        assert season.ask(slug, "ann", "POST", f"/v1/groups/{slug}/tunes", json=tune).status_code == 201
        chosen = season.ask(
            slug, "ann", "PUT", f"/v1/groups/{slug}/settings",
            json={"zone": zone, "weekday": weekday, "time": at, "channel": f"licks-{slug}", "draws": True},
        )  # fmt: skip
        assert chosen.status_code == 200, chosen.text


def _play(season: Season, slug: str) -> None:
    """Members look at the challenge: some enter a variation, some vote."""
    base = f"/v1/groups/{slug}"
    current = season.ask(slug, "ann", "GET", f"{base}/challenges/current")
    if current.status_code == 404:
        return
    number = current.json()["number"]
    for who in MEMBERS:
        dice = season.random.random()
        if dice < 0.15:
            sound = b"OggS" + season.random.randbytes(200)
            path = f"{base}/challenges/{number}/variations/recordings"
            with season.killed_meanwhile(0.1):
                sent = season.ask(slug, who, "POST", path, content=sound)
        elif dice < 0.3:
            roll = " ".join(
                season.random.choice("3214") + season.random.choice(["", ".2"]) for _ in range(16)
            )
            text = " ".join(roll.split()[:8]) + ", " + " ".join(roll.split()[8:])
            with season.killed_meanwhile(0.1):
                sent = season.ask(
                    slug, who, "POST", f"{base}/challenges/{number}/variations", json={"text": text}
                )
        else:
            continue
        assert sent.status_code == 201, sent.text
        season.entered[slug].append((number, sent.json()["number"]))
    for who in MEMBERS[1:]:
        listed = season.ask(slug, who, "GET", f"{base}/challenges/{number}/variations").json()["items"]
        for entry in listed:
            if entry["mine"] or entry["state"] != "entered" or season.random.random() > 0.3:
                continue
            with season.killed_meanwhile(0.01):
                voted = season.ask(slug, who, "PUT", f"{base}/variations/{entry['number']}/vote")
            assert voted.status_code == 200, voted.text
            season.votes[slug].add((number, entry["number"], who))


def _expected(slug: str, moment: datetime) -> list[tuple[str, datetime]]:
    """When announcements, reminders and round-ups are due in a season, by the calendar on the wall."""
    zone, weekday, at = GROUPS[slug]
    there = ZoneInfo(zone)
    days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
    hour, minute = map(int, at.split(":"))
    day = BEGINS.astimezone(there).date()
    found: list[tuple[str, datetime]] = []
    opened = False
    while (midnight := datetime(day.year, day.month, day.day, hour, minute, tzinfo=there)).astimezone(
        UTC
    ) <= moment:
        if midnight.astimezone(UTC) > BEGINS:
            if days[day.weekday()] == weekday:
                if opened:
                    found.append(("round-up", midnight.astimezone(UTC)))
                found.append(("challenge", midnight.astimezone(UTC)))
                opened = True
            elif opened and (day.weekday() - days.index(weekday)) % 7 == 3:
                found.append(("reminder", midnight.astimezone(UTC)))
        day += timedelta(days=1)
    return found


def test_a_season_with_crashes_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    season = Season(tmp_path, seed=1)
    try:
        _set_up(season)
        ends = BEGINS + timedelta(days=7 * WEEKS + 8)
        while season.now < ends:
            season.now += STEP
            season.tell_time()
            season.settle()
            _play(season, season.random.choice(list(GROUPS)))
        season.settle()
        for slug in GROUPS:
            _check(season, slug)
        assert season.kills > 3
        assert season.bot_falls > 3
    finally:
        season.kill()


def _check(season: Season, slug: str) -> None:
    base = f"/v1/groups/{slug}"
    expected = _expected(slug, season.now)
    assert Counter(kind for kind, _ in expected)["round-up"] >= WEEKS
    posted = [
        (message.kind, message.at)
        for message in season.platform.messages
        if message.channel == f"licks-{slug}" and message.kind in ("challenge", "reminder", "round-up")
    ]
    assert [kind for kind, _ in posted] == [kind for kind, _ in expected]
    for (_, at), (_, due) in zip(posted, expected, strict=True):
        assert (
            timedelta(0) <= at - due < STEP + timedelta(minutes=30)
        )  # at the first look at the clock after it
    numbers = [
        (message.kind, message.challenge)
        for message in season.platform.messages
        if message.channel == f"licks-{slug}" and message.kind in ("challenge", "reminder", "round-up")
    ]
    assert len(set(numbers)) == len(numbers)  # each challenge has one of each kind
    challenges = season.ask(slug, "ann", "GET", f"{base}/challenges").json()["items"]
    assert [c["number"] for c in challenges[::-1]] == list(range(1, len(challenges) + 1))
    present = {
        (c["number"], entry["number"]): entry
        for c in challenges
        for entry in season.ask(
            slug, "ann", "GET", f"{base}/challenges/{c['number']}/variations?limit=200"
        ).json()["items"]
    }
    assert sorted(present) == sorted(season.entered[slug])
    assert len(season.entered[slug]) > 3
    votes: Callable[[tuple[int, int]], int] = Counter((c, v) for c, v, _ in season.votes[slug]).__getitem__
    assert {key: entry["votes"] for key, entry in present.items()} == {key: votes(key) for key in present}
    assert sum(entry["votes"] for entry in present.values()) == len(season.votes[slug])
    nonces = [message.nonce for message in season.platform.messages]
    assert len(set(nonces)) == len(nonces)
