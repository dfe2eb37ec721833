"""The demo group: read from the fixtures through the public readers and stored like anything else."""

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from sqlite3 import Connection

import msgspec

from service.clock import stamp
from service.judge.facts import facts_of
from service.store.groups import GroupRow, add_group, group_by_slug
from service.store.licks import add_lick
from service.store.tunes import save_tune
from service.usecases.facts import keep_facts
from service.usecases.group_settings import settings_of
from service.usecases.groups import change_group, change_settings
from service.usecases.house import House
from service.usecases.identify import AT_THE_MACHINE
from service.usecases.licks import Submission, read_lick
from service.usecases.people import join
from service.usecases.records import TuneRecord, encode, tune_of
from service.usecases.spots import outline_of

DEMO_GROUP = "ferry-lane"
DEMO_PLATFORM, DEMO_SERVER = "console", "here"  # where the demo group meets: the terminal


@dataclass(frozen=True, slots=True)
class Fixtures:
    """A group's folder of tunes and licks."""

    group: dict[str, str]
    tunes: tuple[tuple[str, TuneRecord], ...]
    licks: tuple[Submission, ...]


def fixtures_folder() -> Traversable:
    """Where the demo data lies: beside the packages in a checkout, inside ``service`` in a wheel."""
    packed = files("service").joinpath("fixtures")
    if packed.is_dir():
        return packed
    return Path(__file__).resolve().parents[2] / "fixtures"


def load_fixtures(slug: str = DEMO_GROUP) -> Fixtures:
    """Everything in a group's folder. Raises msgspec.ValidationError where a file has the wrong shape."""
    folder = fixtures_folder().joinpath(slug)
    group = tomllib.loads(folder.joinpath("group.toml").read_text("utf-8"))
    tunes = []
    for table in _tables(folder.joinpath("tunes")):
        name = table.pop("slug")
        tunes.append((str(name), msgspec.convert(table, TuneRecord)))
    licks = [
        msgspec.convert({"text": lick.pop("tab"), **lick}, Submission)
        for table in _tables(folder.joinpath("licks"))
        for lick in _licks(table)
    ]
    return Fixtures(group, tuple(tunes), tuple(sorted(licks, key=lambda lick: lick.number or 0)))


def _tables(folder: Traversable) -> Iterator[dict[str, object]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".toml"):
            yield tomllib.loads(entry.read_text("utf-8"))


def _licks(table: dict[str, object]) -> Iterator[dict[str, object]]:
    """Licks of a file, each with the fields that the file gives for all."""
    licks = table.pop("lick")
    if isinstance(licks, list):
        for lick in licks:
            yield {**table, **lick}


def session_text() -> str:
    """What happens in the demo when nobody types, as TOML."""
    return fixtures_folder().joinpath(DEMO_GROUP, "session.toml").read_text("utf-8")


async def seed_players(house: House, names: Sequence[str]) -> str:
    """The demo group meets at the terminal and players of these names are in it, the first one as an organiser; what that one is
    called there."""
    group = group_by_slug(house.database.points, DEMO_GROUP)
    if group is None:
        raise RuntimeError("the demo group is not there")
    if group.platform is None:
        server = {"platform": DEMO_PLATFORM, "server_id": DEMO_SERVER}
        group = await change_group(house, AT_THE_MACHINE, DEMO_GROUP, group.revision, server)
        settings = msgspec.structs.replace(settings_of(group), channel=DEMO_SERVER)
        await change_settings(house, AT_THE_MACHINE, DEMO_GROUP, group.revision, settings)
    called = []
    for name in names:
        guest = replace(AT_THE_MACHINE, role="guest", group_id=group.id, user=(DEMO_PLATFORM, name.lower()))
        joined = await join(house, guest, DEMO_GROUP, name, None, name == names[0])
        called.append(joined.name)
    return called[0]


async def seed_demo(house: House) -> None:
    """Store the demo group, whole or not at all; one that is there already is left alone."""
    if group_by_slug(house.database.points, DEMO_GROUP) is not None:
        return
    found = load_fixtures()
    outlines = {slug: outline_of(tune_of(slug, record)) for slug, record in found.tunes}
    licks = [(sent.number, *read_lick(sent)[:2]) for sent in found.licks]
    judged = [facts_of(lick) for _, _, lick in licks]
    now = stamp(house.clock())
    wanted = GroupRow(
        0, language="en", platform=None, server_id=None, revision=1, pool_version=0, **found.group
    )

    def unit(connection: Connection) -> None:
        group_id = add_group(connection, wanted, now)
        if group_id is None:
            return
        for slug, record in found.tunes:
            save_tune(connection, group_id, slug, encode(record).decode(), now, None, outlines[slug])
        for (wished, sent, lick), facts in zip(licks, judged, strict=True):
            number = add_lick(
                connection, group_id, sent.instrument, sent.tuning, encode(sent).decode(), now, wished
            )
            if number is not None:
                keep_facts(connection, group_id, number, 1, lick, facts)

    await house.database.write(unit)
