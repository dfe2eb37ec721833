"""``breakwright demo``: the invented group, served on this machine alone to whatever is shown of it."""

import argparse
import asyncio
import contextlib
import os
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from service.app import Server, address_of, listen, open_house
from service.jobs.scheduler import Scheduler
from service.settings import load_settings
from service.store.database import remove_database
from service.usecases.identify import make_token
from service.usecases.render_jobs import ready
from service.usecases.seeding import DEMO_GROUP, seed_demo, seed_players

DEMO_FOLDER = "ferry-lane-demo"
# what of the demo's options has no meaning beside another
ALONE = {
    "number": ("best", "swap", "seed", "max_level", "repeats", "no_repeats", "melody", "favour"),
    "swap": ("best", "seed", "max_level", "repeats", "no_repeats", "melody", "favour", "instrument"),
    "best": ("seed", "favour"),
}


def not_together(given: argparse.Namespace) -> str | None:
    """What is wrong with options that were given together."""
    for name, others in ALONE.items():
        beside = [
            other for other in others if getattr(given, name) and getattr(given, other) not in (None, False)
        ]
        if beside:
            return f"--{name} and --{beside[0].replace('_', '-')} do not go together; leave one out"
    return None


@dataclass(frozen=True, slots=True)
class Served:
    """The demo's service: where it is, a token for whoever tries it, one for a bot that acts for its players, where files go."""

    address: str
    token: str
    bot_token: str
    folder: Path


@contextlib.asynccontextmanager
async def served(given: argparse.Namespace, players: Sequence[str]) -> AsyncIterator[Served]:
    """The demo group with its players, made if it is not there yet. Raises OSError, sqlite3.Error."""
    settings = load_settings(data=given.data or demo_folder(), port=given.port, log_level="warning")
    if given.fresh:
        remove_database(settings.database)
    async with open_house(settings) as house:
        await seed_demo(house)
        you = await seed_players(house, players)
        token = await make_token(house, "organiser", DEMO_GROUP, you)
        bot_token = await make_token(house, "bot", None, None)
        server = Server(house, listen("127.0.0.1", settings.port, or_free=True))
        address = address_of(server.listening)
        await server.start()
        scheduler = Scheduler(house)
        scheduler.start()
        warming = None if given.no_files else asyncio.create_task(house.renders.warm(ready), name="warming")
        try:
            folder = Path(given.files) if given.files else Path(settings.data) / "files"
            yield Served(address, token, bot_token, folder)
        finally:
            if warming is not None:
                warming.cancel()
            await scheduler.stop()
            await server.stop()


def demo_folder() -> str:
    """A folder of the demo's own in the user's data folder."""
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return str(Path(base) / "breakwright" / DEMO_FOLDER)
