"""What a chat's bot asks of the service from its first day on a server on: nothing is made by anybody else."""

from collections.abc import Iterator
from importlib.metadata import version
from typing import Any

import httpx
import pytest

from tests.web.chat import Chat, running_chat
from tests.web.test_api import LICK, TUNE

ANY = {"If-Match": "*"}
GOOD = "4 - 2 3 5 1 2 1, 3 - 5 2 3 - - -"


@pytest.fixture(scope="module")
def chat(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chat]:
    with running_chat(tmp_path_factory.mktemp("chat")) as running:
        yield running


def _done(answer: httpx.Response) -> dict[str, Any]:
    assert answer.is_success, answer.text
    found: dict[str, Any] = answer.json()
    return found


def _make(bot: httpx.Client, slug: str, server: str) -> httpx.Response:
    return bot.post(
        "/v1/groups", json={"slug": slug, "name": slug.title(), "platform": "chat", "server_id": server}
    )


def _posts(bot: httpx.Client, group: str) -> list[dict[str, Any]]:
    """What the bot brings into the chat now for a group; other groups' posts are brought along."""
    found: list[dict[str, Any]] = []
    while items := _done(bot.post("/v1/outbox/claims", json={"platform": "chat", "most": 50}))["items"]:
        for item in items:
            told = {"message_id": item["message_id"] or f"m{item['id']}"}
            _done(bot.put(f"/v1/outbox/{item['id']}/sent", json=told))
        found += items
    return [item for item in found if item["group"] == group]


def test_from_an_unknown_server_to_the_first_round_up(chat: Chat) -> None:
    bot = chat.holder(chat.bot_token)
    kit, wren = chat.speaks("kit", "harbour"), chat.speaks("wren", "harbour")

    # before there is a group: who asks is a guest of none, and cannot make one by themselves
    me = _done(kit.get("/v1/me"))
    assert (me["role"], me["group"], me["member"], me["name"]) == ("guest", None, None, None)
    assert (me["service"], me["speaks"]) == (version("breakwright"), 1)
    refused = _make(kit, "harbour", "harbour")
    assert (refused.status_code, refused.json()["code"]) == (403, "not-joined")

    # the bot makes it for the server, as itself; who manages the server joins as its organiser
    assert _make(bot, "harbour", "harbour").status_code == 201
    me = _done(kit.get("/v1/me"))
    assert (me["role"], me["group"], me["member"]) == ("guest", "harbour", None)
    here = "/v1/groups/harbour"
    first = _done(kit.post(f"{here}/members", json={"name": "Kit", "manages_server": True}))
    assert (first["number"], first["role"]) == (1, "organiser")

    # what the group is called, plays, and where its posts go
    changed = _done(kit.patch(here, json={"name": "Harbour Jam", "language": "de"}, headers=ANY))
    assert (changed["name"], changed["language"], changed["server_id"]) == ("Harbour Jam", "de", "harbour")
    instrument = {"instrument": "mandolin", "tuning": "standard"}
    assert _done(kit.patch(here, json=instrument, headers=ANY))["instrument"] == "mandolin"
    _done(kit.patch(here, json={"instrument": "banjo", "tuning": "open-g", "language": "en"}, headers=ANY))
    settings = {"zone": "Europe/Lisbon", "weekday": "monday", "time": "19:00", "channel": "licks"}
    assert _done(kit.put(f"{here}/settings", json=settings, headers=ANY))["channel"] == "licks"

    # a tune, a lick, a challenge by hand
    _done(kit.post(f"{here}/tunes", json=TUNE))
    lick = _done(kit.post(f"{here}/licks", json=LICK))["number"]
    challenge = _done(kit.post(f"{here}/challenges", json={"tune": "eel-pot", "phrase": 1, "lick": lick}))
    (announced,) = _posts(bot, "harbour")
    assert (announced["kind"], announced["channel"], announced["server_id"]) == (
        "challenge",
        "licks",
        "harbour",
    )
    assert announced["params"]["lick"] == lick

    # a second person, who sends a variation in; the first one votes for it
    assert wren.get(here).json()["code"] == "not-joined"
    second = _done(wren.post(f"{here}/members", json={"name": "Wren", "manages_server": False}))
    assert (second["number"], second["role"]) == (2, "member")
    of_challenge = f"{here}/challenges/{challenge['number']}"
    variation = _done(wren.post(f"{of_challenge}/variations", json={"text": GOOD, "name": "By the weir"}))
    assert variation["state"] == "entered"
    (entry,) = _posts(bot, "harbour")
    assert (entry["kind"], entry["under"]) == ("variation", f"m{announced['id']}")
    assert (entry["params"]["variation"], entry["params"]["by_name"]) == (variation["number"], "Wren")
    assert kit.put(f"{here}/variations/{variation['number']}/vote").is_success
    assert wren.put(f"{here}/variations/{variation['number']}/vote").status_code == 403

    # the round-up
    _done(kit.post(f"{of_challenge}/close"))
    posts = {post["kind"]: post for post in _posts(bot, "harbour")}
    assert posts["round-up"]["under"] == f"m{announced['id']}"
    assert [
        (place["rank"], place["name"], place["by_name"], place["votes"])
        for place in posts["round-up"]["params"]["standings"]
    ] == [(1, "By the weir", "Wren", 1)]
    assert (posts["challenge"]["deed"], posts["challenge"]["message_id"]) == ("edit", f"m{announced['id']}")


def test_somebody_on_two_servers_is_told_both_groups_wherever_they_ask(chat: Chat) -> None:
    bot = chat.holder(chat.bot_token)
    for slug, user, manages in (("mill", "otter", True), ("weir", "heron", True), ("weir", "otter", False)):
        _make(bot, slug, f"{slug}-server")
        joined = {"name": user.title(), "manages_server": manages}
        _done(chat.speaks(user, f"{slug}-server").post(f"/v1/groups/{slug}/members", json=joined))
    mill = {"slug": "mill", "name": "Mill", "server_id": "mill-server", "role": "organiser", "member": 1}
    weir = {"slug": "weir", "name": "Weir", "server_id": "weir-server", "role": "member", "member": 2}

    alone = chat.holder(chat.bot_token)  # a direct message to the bot is on no server
    alone.headers["On-Behalf-Of"] = "chat:otter"
    for asking in (alone, chat.speaks("otter", "mill-server"), chat.speaks("otter", "nowhere")):
        assert _done(asking.get("/v1/me/groups")) == {"items": [mill, weir], "next": None}
    first = _done(alone.get("/v1/me/groups?limit=1"))
    assert first["items"] == [mill]
    assert _done(alone.get(f"/v1/me/groups?limit=1&cursor={first['next']}"))["items"] == [weir]
    assert _done(alone.get("/v1/me"))["group"] is None
    assert alone.get("/v1/groups/mill").status_code == 404  # a server has to be named for that

    # the same user of another platform is somebody else, and who has left is a member no more
    elsewhere = chat.holder(chat.bot_token)
    elsewhere.headers["On-Behalf-Of"] = "other:otter"
    assert _done(elsewhere.get("/v1/me/groups"))["items"] == []
    assert chat.speaks("otter", "weir-server").delete("/v1/groups/weir/members/2").status_code == 204
    assert _done(alone.get("/v1/me/groups"))["items"] == [mill]


def test_whoever_is_no_person_has_no_groups_to_be_told(chat: Chat) -> None:
    group = chat.group()
    bot = chat.holder(chat.bot_token)
    for client, code in (
        (bot, "not-allowed"),
        (chat.service.operator, "not-allowed"),
        (group.client("member"), "no-member"),
    ):
        answer = client.get("/v1/me/groups")
        assert (answer.status_code, answer.json()["code"]) == (403, code)


def test_a_member_with_a_token_is_told_their_own_group(chat: Chat) -> None:
    group = chat.group()
    items = _done(group.client("organiser", "Wren").get("/v1/me/groups"))["items"]
    assert [(item["slug"], item["role"], item["member"]) for item in items] == [(group.slug, "organiser", 1)]


def test_a_server_that_has_a_group_gets_no_second_one(chat: Chat) -> None:
    bot = chat.holder(chat.bot_token)
    assert _make(bot, "ford", "ford-server").status_code == 201
    again = _make(bot, "ford-two", "ford-server")
    assert (again.status_code, again.json()["code"]) == (409, "server-bound")
    taken = _make(bot, "ford", "another-server")
    assert (taken.status_code, taken.json()["code"]) == (409, "exists")


def test_a_bot_that_was_shown_out_and_let_in_again_finds_everything_as_it_was(chat: Chat) -> None:
    bot = chat.holder(chat.bot_token)
    _make(bot, "lock", "lock-server")
    kit, here = chat.speaks("kit", "lock-server"), "/v1/groups/lock"
    _done(kit.post(f"{here}/members", json={"name": "Kit", "manages_server": True}))
    _done(kit.put(f"{here}/settings", json={"channel": "licks"}, headers=ANY))
    _done(kit.post(f"{here}/tunes", json=TUNE))
    _done(kit.post(f"{here}/challenges", json={"tune": "eel-pot", "phrase": 1}))

    # while it is away its channel cannot be reached
    claimed = _done(bot.post("/v1/outbox/claims", json={"platform": "chat", "most": 50}))["items"]
    (post,) = [item for item in claimed if item["group"] == "lock"]
    _done(bot.put(f"/v1/outbox/{post['id']}/failed", json={"reason": "channel-gone"}))

    # back again: the server has its group, the group its people, tunes and challenge; what waited comes
    assert _make(bot, "lock-again", "lock-server").json()["code"] == "server-bound"
    me = _done(kit.get("/v1/me"))
    assert (me["group"], me["role"], me["member"], me["name"]) == ("lock", "organiser", 1, "Kit")
    assert _done(kit.post(f"{here}/members", json={"name": "Kit", "manages_server": True}))["number"] == 1
    assert _done(kit.get(f"{here}/challenges/current"))["number"] == 1
    assert _done(kit.post(f"{here}/posts/retries"))["posts"] == 1
    told = [item["kind"] for item in _posts(bot, "lock") if item["recipient"] is None]
    assert told == ["challenge"]
