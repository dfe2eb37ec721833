"""Where the bot may do what, what is not there, and what every request goes through."""

import httpx
import pytest

from tests.chat_platform.faults import Fault
from tests.chat_platform.refused.plain import client, code, posted
from tests.chat_platform.stand_in import Platform


@pytest.mark.parametrize(
    ("allowed", "method", "path", "expected"),
    [
        ({"send"}, "POST", "messages", (403, 50001)),
        ({"view"}, "POST", "messages", (403, 50013)),
        ({"view", "send"}, "POST", "messages", (200, None)),
        ({"view", "send"}, "GET", "messages/{message}", (403, 50013)),
        ({"view", "history"}, "GET", "messages/{message}", (200, None)),
        ({"view"}, "POST", "messages/{message}/threads", (403, 50013)),
        ({"view", "threads"}, "POST", "messages/{message}/threads", (201, None)),
        ({"view"}, "DELETE", "messages/{message}", (204, None)),
        (set(), "DELETE", "messages/{message}", (403, 50001)),
    ],
)
def test_a_channel_allows_what_it_allows(
    platform: Platform,
    http: httpx.Client,
    allowed: set[str],
    method: str,
    path: str,
    expected: tuple[int, int],
) -> None:
    message = posted(http, platform, {"content": "x"}).json()
    platform.allow(platform.rooms[0], allowed)
    where = f"/channels/{message['channel_id']}/{path.format(message=message['id'])}"
    data = {"content": "x", "name": "x"} if method == "POST" else None
    response = http.request(method, where, json=data)
    platform.allow(platform.rooms[0], {"view", "send", "attach", "history", "threads", "send_in_threads"})
    assert (response.status_code, code(response) if response.status_code >= 400 else None) == expected
    assert platform.violations == []


def test_who_may_not_attach_or_read_what_was_is_held_to_it(platform: Platform, http: httpx.Client) -> None:
    posted(http, platform, {"content": "x"})
    platform.allow(platform.rooms[0], {"view", "send"})
    assert code(posted(http, platform, {}, b"x")) == 50013
    assert http.get(f"/channels/{platform.rooms[0].id}/messages").json() == []
    platform.allow(platform.rooms[0], {"view", "send", "attach", "history", "threads", "send_in_threads"})


@pytest.mark.parametrize(
    ("method", "path", "expected"),
    [
        ("GET", "/channels/5", (404, 10003)),
        ("GET", "/channels/{channel}/messages/5", (404, 10008)),
        ("GET", "/guilds/5", (404, 10004)),
        ("GET", "/guilds/{guild}/members/5", (404, 10007)),
        ("GET", "/channels/x", (400, 50035)),
        ("GET", "/channels/{channel}/messages?limit=101", (400, 50035)),
        ("GET", "/nowhere", (404, 0)),
        ("PUT", "/users/@me", (404, 0)),
    ],
)
def test_what_is_not_there_is_unknown(
    platform: Platform, http: httpx.Client, method: str, path: str, expected: tuple[int, int]
) -> None:
    where = path.format(channel=platform.rooms[0].id, guild=platform.servers[0].id)
    response = http.request(method, where)
    assert (response.status_code, code(response)) == expected
    assert len(platform.refusals) == 1
    assert len(platform.violations) == (expected[1] in (0, 50035))


def test_a_message_of_another_is_not_the_bots_to_change(platform: Platform, http: httpx.Client) -> None:
    said = platform.say(platform.member, platform.rooms[0], "mine")
    path = f"/channels/{said.channel.id}/messages/{said.id}"
    assert code(http.patch(path, json={"content": "yours"})) == 50005
    assert code(http.delete(path)) == 50013
    assert http.get(path).json()["content"] == ""  # no intent for content


def test_history_goes_newest_first_from_where_it_is_asked(platform: Platform, http: httpx.Client) -> None:
    room = platform.servers[0].channel("challenge")
    path = f"/channels/{room.id}/messages"
    ids = [http.post(path, json={"content": str(n), "nonce": f"h{n}"}).json()["id"] for n in range(5)]

    def read(query: str) -> list[str]:
        found = http.get(f"{path}?{query}").json()
        assert not any("nonce" in message for message in found)
        return [message["content"] for message in found]

    assert read("limit=2") == ["4", "3"]
    assert read(f"before={ids[2]}") == ["1", "0"]
    assert read(f"after={ids[1]}&limit=2") == ["3", "2"]
    assert read(f"around={ids[2]}&limit=2") == ["2", "1"]


@pytest.mark.parametrize(
    ("name", "minutes", "expected"),
    [("x" * 100, 60, 201), ("x" * 101, 60, 400), ("", 60, 400), ("x", 61, 400)],
)
def test_a_thread_has_a_name_and_a_known_life(
    platform: Platform, http: httpx.Client, name: str, minutes: int, expected: int
) -> None:
    message = posted(http, platform, {"content": "x"}).json()
    path = f"/channels/{message['channel_id']}/messages/{message['id']}/threads"
    assert http.post(path, json={"name": name, "auto_archive_duration": minutes}).status_code == expected


def test_a_nonce_is_not_taken_twice_by_who_insists(platform: Platform, http: httpx.Client) -> None:
    data = {"content": "x", "nonce": "row-1"}
    first, second = (posted(http, platform, data).json()["id"] for _ in range(2))
    assert first != second
    third = posted(http, platform, data | {"enforce_nonce": True}).json()["id"]
    assert third == second


def test_the_token_is_asked_for_and_the_body_must_be_what_it_says(platform: Platform) -> None:
    with httpx.Client(base_url=f"{platform.address}/api/v10") as stranger:
        assert stranger.get("/users/@me").status_code == 401
    with client(platform) as http:
        path = f"/channels/{platform.rooms[0].id}/messages"
        for content, kind in (("{}", "text/plain"), ("{", "application/json"), ("[]", "application/json")):
            assert code(http.post(path, content=content, headers={"Content-Type": kind})) == 50035


def test_fifty_requests_a_second_are_enough_save_for_answers() -> None:
    with Platform() as platform, client(platform) as http:
        assert platform.limits.everything_per_s == 50
        platform.limits.everything_per_s = 3
        responses = [http.get("/users/@me") for _ in range(4)]
        assert [response.status_code for response in responses] == [200, 200, 200, 429]
        last = responses[-1]
        assert last.json()["global"] is True
        assert 0 < last.json()["retry_after"] <= 1
        assert (last.headers["Via"] != "", last.headers["X-RateLimit-Global"]) == (True, "true")
        assert http.get(f"/webhooks/{platform.bot.id}/nobody/messages/@original").status_code == 401


def test_a_full_bucket_is_one_channels_own(platform: Platform, http: httpx.Client) -> None:
    platform.limits.set("POST", "/channels/*/typing", 2, 30.0)
    first, second = (f"/channels/{room.id}/typing" for room in platform.rooms[:2])
    assert [http.post(first).status_code for _ in range(3)] == [204, 204, 429]
    full = http.post(first)
    assert (full.json()["global"], full.headers["X-RateLimit-Scope"]) == (False, "user")
    assert 29 < full.json()["retry_after"] <= 30
    other = http.post(second)
    assert (other.status_code, other.headers["X-RateLimit-Limit"]) == (204, "2")
    assert (other.headers["X-RateLimit-Remaining"], full.headers["X-RateLimit-Remaining"]) == ("1", "0")
    assert other.headers["X-RateLimit-Bucket"] == full.headers["X-RateLimit-Bucket"]


def test_a_fault_waits_for_its_request(platform: Platform, http: httpx.Client) -> None:
    platform.faults.next("GET", "/channels/*", Fault(status=502, html=True), times=2)
    assert http.get("/users/@me").status_code == 200
    path = f"/channels/{platform.rooms[0].id}"
    first = http.get(path)
    assert (first.status_code, first.headers["Content-Type"].split(";")[0]) == (502, "text/html")
    assert [http.get(path).status_code for _ in range(2)] == [502, 200]
    platform.faults.next("POST", "/channels/*/messages", Fault(status=500, after=True))
    before = len(platform.rooms[0].messages)
    assert posted(http, platform, {"content": "x"}).status_code == 500
    assert len(platform.rooms[0].messages) == before + 1
