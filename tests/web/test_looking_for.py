"""Licks and tunes looked for as somebody types: by words of their names, by number, by what they are."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from tests.support import RunningService
from tests.web.chat import Chat, Group, running_chat
from tests.web.test_api import LICK, TUNE

NAMES = [
    "Otter's Turn 3",
    "Über den Steg",
    "Turn and turn again",
    "The long gate",
    "ÉTÉ",
    "100 % copper_wire",
]


@pytest.fixture(scope="module")
def chat(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chat]:
    with running_chat(tmp_path_factory.mktemp("looking")) as running:
        yield running


def _add(organiser: httpx.Client, group: Group, name: str, **more: object) -> int:
    answer = organiser.post(f"{group.path}/licks", json={**LICK, "name": name, **more})
    assert answer.status_code == 201, answer.text
    return int(answer.json()["number"])


@pytest.fixture(scope="module")
def named(chat: Chat) -> tuple[Group, httpx.Client]:
    """A group with licks of these names, numbered from 1."""
    group = chat.group()
    organiser = group.client("organiser")
    for name in NAMES:
        _add(organiser, group, name)
    return group, organiser


def _found(client: httpx.Client, group: Group, **query: object) -> list[int]:
    answer = client.get(f"{group.path}/licks", params=query)
    assert answer.status_code == 200, answer.text
    return [item["number"] for item in answer.json()["items"]]


@pytest.mark.parametrize(
    ("typed", "numbers"),
    [
        ("turn", [1, 3]),
        ("TURN ott", [1]),
        ("tur ag", [3]),
        ("uber", []),
        ("über", [2]),
        ("ÜBER St", [2]),
        ("été", [5]),
        ("ong", [4]),
        ("%", [6]),
        ("copper_", [6]),
        ("_", [6]),
        ("3", [1, 3]),  # a word of the first one's name, and the third one's number
        (" 4 ", [4]),
        ("99999999999999999999", []),
        ("turn gate", []),
        ("", [1, 2, 3, 4, 5, 6]),
        ("  ", [1, 2, 3, 4, 5, 6]),
    ],
)
def test_words_or_their_beginnings_find_licks_in_any_order_and_case(
    named: tuple[Group, httpx.Client], typed: str, numbers: list[int]
) -> None:
    group, organiser = named
    assert _found(organiser, group, q=typed) == numbers


def test_what_is_found_comes_page_by_page(named: tuple[Group, httpx.Client]) -> None:
    group, organiser = named
    first = organiser.get(f"{group.path}/licks", params={"q": "t", "limit": 2}).json()
    assert [item["number"] for item in first["items"]] == [1, 2]
    more = organiser.get(f"{group.path}/licks", params={"q": "t", "limit": 2, "cursor": first["next"]})
    assert [item["number"] for item in more.json()["items"]] == [3, 4]


def test_new_names_count_at_once_and_old_ones_no_more(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    number = _add(organiser, group, "Heron takes off")
    assert _found(organiser, group, q="heron") == [number]
    renamed = organiser.put(
        f"{group.path}/licks/{number}", json={**LICK, "name": "Otter dives"}, headers={"If-Match": "*"}
    )
    assert renamed.status_code == 200, renamed.text
    assert _found(organiser, group, q="heron") == []
    assert _found(organiser, group, q="dives") == [number]
    retired = organiser.delete(f"{group.path}/licks/{number}", headers={"If-Match": "*"})
    assert retired.status_code == 204
    assert _found(organiser, group, q="dives") == []
    assert _found(organiser, group, q="dives", status="retired") == [number]


def test_names_that_were_erased_or_taken_down_are_not_found(chat: Chat) -> None:
    group = chat.group()
    organiser, number = group.client("organiser"), group.joined("wren")["number"]
    theirs = _add(group.speaks("wren"), group, "Wren's walk")
    other = _add(organiser, group, "A walk")
    assert _found(organiser, group, q="walk") == [theirs, other]
    erased = organiser.post(f"{group.path}/members/{number}/erasure", json={"licks": "remove"})
    assert erased.is_success, erased.text
    assert _found(organiser, group, q="walk") == [other]
    assert _found(organiser, group, q="walk", status="retired") == []
    down = {"json": {"reason": "somebody asked"}, "headers": {"If-Match": "*"}}
    assert organiser.put(f"{group.path}/licks/{other}/taken-down", **down).is_success
    assert _found(organiser, group, q="walk") == []
    assert _found(organiser, group, q=str(other)) == []


def test_other_groups_names_are_not_found(chat: Chat, named: tuple[Group, httpx.Client]) -> None:
    other = chat.group()
    organiser = other.client("organiser")
    assert _found(organiser, other, q="turn") == []
    _add(organiser, other, "Turn left")
    assert _found(organiser, other, q="turn") == [1]
    assert organiser.get(f"{named[0].path}/licks", params={"q": "turn"}).status_code == 404


def _all(demo: RunningService, **query: object) -> list[dict[str, Any]]:
    answer = demo.member.get("/v1/groups/ferry-lane/licks", params={"limit": 200, **query})
    assert answer.status_code == 200, answer.text
    items: list[dict[str, Any]] = answer.json()["items"]
    return items


def test_licks_are_sorted_out_by_role_level_style_and_instrument(demo: RunningService) -> None:
    every = _all(demo)
    wanted = {"role": "tag", "max_level": 2, "style": "roll", "instrument": "banjo"}
    fitting = [
        lick["number"]
        for lick in every
        if (lick["role"], lick["style"], lick["instrument"]) == ("tag", "roll", "banjo")
        and lick["level"] <= 2
    ]
    assert 0 < len(fitting) < len(every)
    assert [lick["number"] for lick in _all(demo, **wanted)] == fitting
    some = next(lick for lick in every if lick["number"] == fitting[-1])
    word = some["name"].split()[-1]
    named = [n for n in fitting if word.lower() in next(x for x in every if x["number"] == n)["name"].lower()]
    assert [lick["number"] for lick in _all(demo, q=word, **wanted)] == named
    assert _all(demo, q=word, **{**wanted, "role": "set-up"}) == [
        lick for lick in _all(demo, **{**wanted, "role": "set-up"}) if word.lower() in lick["name"].lower()
    ]


@pytest.mark.parametrize("query", [{"role": "solo"}, {"max_level": 6}, {"q": "x" * 101}])
def test_what_cannot_be_looked_for_is_refused(demo: RunningService, query: dict[str, Any]) -> None:
    assert demo.member.get("/v1/groups/ferry-lane/licks", params=query).status_code in (400, 422)


def test_tunes_are_found_by_words_of_their_names_page_by_page(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    for slug, name in (
        ("a", "Heron Ferry"),
        ("b", "Gate Song"),
        ("c", "Ferry at Night"),
        ("d", "Ferry home"),
    ):
        assert organiser.post(f"{group.path}/tunes", json={**TUNE, "slug": slug, "name": name}).is_success

    def found(**query: object) -> tuple[list[str], str | None]:
        answer = organiser.get(f"{group.path}/tunes", params=query).json()
        return [tune["slug"] for tune in answer["items"]], answer["next"]

    assert found(q="FER") == (["a", "c", "d"], None)
    assert found(q="night ferry") == (["c"], None)
    assert found(q="otter") == ([], None)
    first, following = found(q="ferry", limit=2)
    assert first == ["a", "c"]
    assert found(q="ferry", limit=2, cursor=following) == (["d"], None)
