"""A database file as the service keeps it, filled with a generated pool, and the service run over it."""

import asyncio
import contextlib
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from sqlite3 import Connection

from service.app import open_house
from service.clock import stamp
from service.judge.facts import RULES_VERSION
from service.settings import Settings, load_settings
from service.store.database import connect_readonly
from service.store.facts import FactsRow, keep_lick_facts, keep_phrase_facts
from service.store.groups import GroupRow, add_group, group_by_slug
from service.store.licks import add_lick
from service.store.tunes import save_tune
from service.usecases.composing import Composed, compose
from service.usecases.house import House
from service.usecases.records import encode
from tests.bench.pools import Made, tune_record

# the limiter counts, but never refuses
LIMITLESS = {"BREAKWRIGHT_REQUESTS_PER_SECOND": "1000000000", "BREAKWRIGHT_REQUEST_BURST": "1000000000"}


def settings_for(folder: Path) -> Settings:
    return load_settings({}, data=str(folder), log_level="error")


def fill(folder: Path, group: str, made: Made, size: int) -> None:
    """A group with the licks of a pool, their facts and the tune of so many phrases."""
    wanted = GroupRow(0, group, group, "banjo", "open-g", "en", None, None, 1, 0)

    def unit(connection: Connection) -> None:
        now = stamp(house.clock())
        group_id = add_group(connection, wanted, now)
        assert group_id is not None
        save_tune(connection, group_id, "bench-reel", encode(tune_record(size)).decode(), now, None)
        facts = []
        for number, lick in enumerate(made.licks, 1):
            add_lick(connection, group_id, "banjo", "open-g", lick.body, now, number)
            of = lick.facts
            facts.append(FactsRow(number, 1, of.body, of.shape, of.identity, of.packed))
        keep_lick_facts(connection, group_id, RULES_VERSION, facts)
        for ground, known in made.over.items():
            rows = [(int(row["number"]), int(row["revision"]), row["over"].tobytes()) for row in known]
            keep_phrase_facts(connection, group_id, RULES_VERSION, ground, rows)

    house: House

    async def go() -> None:
        nonlocal house
        async with open_house(settings_for(folder)) as house:
            await house.database.write(unit)

    asyncio.run(go())


def composed_cold(folder: Path, group: str) -> tuple[float, Composed]:
    """Milliseconds in which a house that has just been opened composes, and what it composes."""

    async def go() -> tuple[float, Composed]:
        async with open_house(settings_for(folder)) as house:
            row = group_by_slug(house.database.points, group)
            assert row is not None
            began = time.perf_counter()
            found = await compose(house, row, "bench-reel", None, None)
            return (time.perf_counter() - began) * 1000, found

    return asyncio.run(go())


def read_plainly(folder: Path, group: str) -> int:
    """The same rows through the standard library's sqlite3 alone; returns how many."""
    connection = connect_readonly(settings_for(folder).database)
    row = group_by_slug(connection, group)
    assert row is not None
    licks = connection.execute(
        "SELECT number, revision, packed FROM lick_columns WHERE group_id = ? ORDER BY number", (row.id,)
    ).fetchall()
    over = connection.execute(
        "SELECT number, revision, packed FROM phrase_facts WHERE group_id = ?", (row.id,)
    ).fetchall()
    connection.close()
    return len(licks) + len(over)


@contextlib.contextmanager
def serving(folder: Path) -> Iterator[tuple[str, str, int]]:
    """The service as it is run, a process of its own that writes its log: its address, an operator's token, the process's id."""
    command = [sys.executable, "-m", "service"]
    told = subprocess.run(
        [*command, "token", "--data", str(folder), "--role", "operator"],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    process = subprocess.Popen(
        [*command, "serve", "--data", str(folder), "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env={**os.environ, **LIMITLESS},
    )  # fmt: skip
    assert process.stdout is not None
    try:
        yield process.stdout.readline().split()[-1], told.stdout.strip(), process.pid
    finally:
        process.terminate()
        process.wait()
        process.stdout.close()
