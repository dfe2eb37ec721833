"""What is kept ready of licks, variations and tunes says what is worked out anew, and old databases come by it."""

import asyncio
from collections.abc import Callable, Coroutine
from pathlib import Path
from sqlite3 import Connection
from typing import Any

import pytest

from service.app import open_house
from service.judge.facts import RULES_VERSION
from service.settings import load_settings
from service.store.groups import GroupRow, group_by_slug
from service.store.licks import lick_by_number
from service.usecases import shown_licks
from service.usecases.facts import fill_facts
from service.usecases.house import House
from service.usecases.licks import kept
from service.usecases.seeding import DEMO_GROUP, seed_demo
from service.usecases.shown_licks import shown_of
from service.usecases.spots import draw_place
from service.web.show import lick_out
from tests.support import RunningService

# as facts were kept before
OLD = "UPDATE lick_facts SET body = json_remove(body, '$.shown') WHERE number <= 3"


def in_house(folder: Path, work: Callable[[House, GroupRow], Coroutine[Any, Any, None]]) -> None:
    """Work in a house that has the demo group."""

    async def go() -> None:
        async with open_house(load_settings({}, data=str(folder), log_level="error")) as house:
            await seed_demo(house)
            group = group_by_slug(house.database.points, DEMO_GROUP)
            assert group is not None
            await work(house, group)

    asyncio.run(go())


def test_a_lick_shows_what_was_kept_and_the_same_where_nothing_was(tmp_path: Path) -> None:
    async def work(house: House, group: GroupRow) -> None:
        def shown() -> object:
            row = lick_by_number(house.database.points, group.id, 3, RULES_VERSION)
            assert row is not None
            lick = kept(row)
            return lick.shown, lick_out(lick, group.slug, "en")

        ready, before = shown()  # type: ignore[misc]
        await house.database.write(lambda connection: connection.execute(OLD) and None)
        missing, after = shown()  # type: ignore[misc]
        assert ready is not None
        assert missing is None
        assert before == after

    in_house(tmp_path, work)


def test_what_another_version_showed_is_not_used(tmp_path: Path, monkeypatch: Any) -> None:
    async def work(house: House, group: GroupRow) -> None:
        row = lick_by_number(house.database.points, group.id, 3, RULES_VERSION)
        assert row is not None
        assert row.facts is not None
        assert shown_licks.read_shown(row.facts) == shown_of(kept(row).lick)
        monkeypatch.setattr(shown_licks, "BEGINS", shown_licks.BEGINS.replace("1.", "2.", 1))
        assert shown_licks.read_shown(row.facts) is None

    in_house(tmp_path, work)


def test_facts_as_they_were_kept_before_are_made_again(tmp_path: Path) -> None:
    async def work(house: House, group: GroupRow) -> None:
        def without(connection: Connection) -> int:
            asked = "SELECT count(*) FROM lick_facts WHERE json_extract(body, '$.shown.by') IS NOT ?"
            return int(connection.execute(asked, (shown_licks.SHOWN,)).fetchone()[0])

        assert await fill_facts(house) == 0
        await house.database.write(lambda connection: connection.execute(OLD) and None)
        assert without(house.database.points) == 3
        assert await fill_facts(house) == 3
        assert without(house.database.points) == 0
        assert await fill_facts(house) == 0

    in_house(tmp_path, work)


def test_a_draw_goes_by_what_was_kept_of_tunes_and_the_same_where_nothing_was(tmp_path: Path) -> None:
    async def work(house: House, group: GroupRow) -> None:
        def drawn() -> object:
            found = draw_place(house.database.points, group)
            assert found is not None
            assert found.lick is not None
            return found.place.row.slug, found.place.phrase, found.place.setting, found.lick

        first = drawn()
        await house.database.write(
            lambda connection: connection.execute("UPDATE tune_revisions SET spots = NULL") and None
        )
        assert drawn() == first

    in_house(tmp_path, work)


@pytest.mark.parametrize("spots", ["spots", "NULL"])
def test_a_tune_that_cannot_be_read_is_passed_over(tmp_path: Path, spots: str) -> None:
    async def work(house: House, group: GroupRow) -> None:
        first = draw_place(house.database.points, group)
        assert first is not None
        other = first.place.row.slug

        def broken(connection: Connection) -> None:  # there is no key of that name
            connection.execute(
                f"UPDATE tune_revisions SET revision = 2, spots = {spots}, body = json_set(body, '$.key', 'H') "
                "WHERE tune_id = ?",
                (first.place.row.id,),
            )
            connection.execute("UPDATE tunes SET revision = 2 WHERE id = ?", (first.place.row.id,))

        await house.database.write(broken)
        drawn = draw_place(house.database.points, group)
        assert drawn is not None
        assert drawn.place.row.slug != other

    in_house(tmp_path, work)


def test_a_vote_is_answered_with_the_variation_as_its_page_shows_it(service: RunningService) -> None:
    voter = service.client("member", "ferry-lane", "Robin")
    challenge = service.organiser.post(
        "/v1/groups/ferry-lane/challenges", json={"tune": "heron-ferry", "phrase": 1}
    ).raise_for_status()
    lick = service.member.get("/v1/groups/ferry-lane/licks/2").json()
    sent = service.member.post(
        f"/v1/groups/ferry-lane/challenges/{challenge.json()['number']}/variations",
        json={"text": lick["tab"], "rights": {"origin": "own"}},
    ).raise_for_status()
    where = f"/v1/groups/ferry-lane/variations/{sent.json()['number']}"
    service.organiser.post(f"{where}/review", json={"decision": "accept", "reason": ""})
    voted = voter.put(f"{where}/vote").raise_for_status().json()
    assert voted["votes"] == 1
    assert voted["voted"]
    assert voted == voter.get(where).json()
    taken = voter.delete(f"{where}/vote").raise_for_status().json()
    assert taken["votes"] == 0
    assert taken == voter.get(where).json()
    voter.put(f"{where}/vote").raise_for_status()
    number = challenge.json()["number"]
    service.organiser.post(f"/v1/groups/ferry-lane/challenges/{number}/close").raise_for_status()
    (placed,) = voter.get(f"/v1/groups/ferry-lane/challenges/{number}/round-up").json()["standings"]
    assert (placed["variation"], placed["votes"]) == (sent.json()["number"], 1)
    voter.close()
