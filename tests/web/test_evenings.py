"""Lists of tunes, evenings, breaks shared out, and what was played, over real HTTP."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any

import httpx
import pytest

from service.groups.sharing import Call, share
from tests.support import RunningService
from tests.web.test_api import GROUP, TUNE, _problem
from tests.web.test_description import _holds


def _number(client: httpx.Client, name: str) -> int:
    members = client.get(f"{GROUP}/members").json()["items"]
    return next(int(member["number"]) for member in members if member["name"] == name)


def _list(client: httpx.Client, number: int, tune: str, **sent: Any) -> httpx.Response:
    return client.put(f"{GROUP}/members/{number}/tunes/{tune}", json={"standing": "know", **sent})


def _knows(service: RunningService, name: str, *tunes: str, standing: str = "know") -> int:
    """A member with a token of their own who puts tunes on their list."""
    with service.client("member", "ferry-lane", name) as client:
        number = _number(client, name)
        for tune in tunes:
            assert _list(client, number, tune, standing=standing).status_code == 200
    return number


def _plan(service: RunningService, *tunes: dict[str, Any], day: str = "2026-03-06") -> dict[str, Any]:
    sent = {"day": day, "title": "Friday at the boathouse", "tunes": list(tunes)}
    answer = service.organiser.post(f"{GROUP}/evenings", json=sent)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _today(service: RunningService) -> date:
    """As the group's zone has it: UTC unless it was set."""
    return service.house.clock().astimezone(UTC).date()


# --- lists -----------------------------------------------------------------------------------------


def test_a_member_keeps_a_list_that_the_group_can_read(service: RunningService) -> None:
    wren = _number(service.member, "Wren")
    kept = _list(service.member, wren, "heron-ferry", sings_in=["g major", "A", "G"], note="the low harmony")
    assert kept.json() == {
        "tune": "heron-ferry", "standing": "know", "sings_in": ["G", "A"], "note": "the low harmony",
    }  # fmt: skip
    _list(service.member, wren, "thimble-creek", standing="learning")
    listed = service.organiser.get(f"{GROUP}/members/{wren}/tunes").json()["items"]
    assert [(row["tune"], row["standing"], row["sings_in"]) for row in listed] == [
        ("heron-ferry", "know", ["G", "A"]), ("thimble-creek", "learning", None),
    ]  # fmt: skip
    _list(service.member, wren, "heron-ferry", standing="parked")
    dropped = service.member.delete(f"{GROUP}/members/{wren}/tunes/thimble-creek")
    assert dropped.status_code == 204
    assert service.member.get(f"{GROUP}/members/{wren}/tunes").json()["items"] == [
        {"tune": "heron-ferry", "standing": "parked", "sings_in": None, "note": None}
    ]
    again = service.member.delete(f"{GROUP}/members/{wren}/tunes/thimble-creek")
    _problem(again, 404, "not-found")


def test_a_list_is_read_page_by_page(service: RunningService) -> None:
    wren = _knows(service, "Wren", "heron-ferry", "millers-mitten", "thimble-creek")
    first = service.member.get(f"{GROUP}/members/{wren}/tunes?limit=2").json()
    rest = service.member.get(f"{GROUP}/members/{wren}/tunes?limit=2&cursor={first['next']}").json()
    assert [row["tune"] for row in first["items"] + rest["items"]] == [
        "heron-ferry", "millers-mitten", "thimble-creek",
    ]  # fmt: skip
    assert rest["next"] is None


def test_nobody_writes_on_the_list_of_somebody_who_can_do_so_themselves(service: RunningService) -> None:
    otter = service.organiser.post(f"{GROUP}/members", json={"name": "Otter", "role": "member"}).json()[
        "number"
    ]
    _problem(_list(service.member, otter, "heron-ferry"), 403, "not-allowed")
    assert _list(service.organiser, otter, "heron-ferry").status_code == 200  # who is on no platform
    trail = service.organiser.get(f"{GROUP}/audit").json()["items"][0]
    assert (trail["action"], trail["subject"]) == ("keep-list", f"member {otter}")
    service.operator.patch(GROUP, json={"platform": "chat", "server_id": "7"}, headers={"If-Match": "*"})
    made = service.operator.post("/v1/tokens", json={"role": "bot"}).json()["secret"]
    with service.client_with(made) as bot:
        acting = {"On-Behalf-Of": "chat:11", "Acting-Server": "7"}
        joined = bot.post(f"{GROUP}/members", json={"name": "Teal"}, headers=acting).json()["number"]
        _problem(_list(service.organiser, joined, "heron-ferry"), 403, "own-list")
        own = bot.put(
            f"{GROUP}/members/{joined}/tunes/heron-ferry", json={"standing": "know"}, headers=acting
        )
        assert own.status_code == 200


@pytest.mark.parametrize(
    ("path", "sent", "status", "code"),
    [
        ("heron-ferry", {"standing": "know", "sings_in": ["H"]}, 422, "unknown-key"),
        ("heron-ferry", {"standing": "knows"}, 400, "bad-request"),
        ("no-such-tune", {"standing": "know"}, 404, "not-found"),
    ],
)
def test_a_list_takes_tunes_and_keys_that_are_there(
    service: RunningService, path: str, sent: dict[str, Any], status: int, code: str
) -> None:
    wren = _number(service.member, "Wren")
    _problem(service.member.put(f"{GROUP}/members/{wren}/tunes/{path}", json=sent), status, code)


def test_what_most_know_comes_first_then_what_most_are_learning(service: RunningService) -> None:
    _knows(service, "Wren", "heron-ferry", "thimble-creek")
    _knows(service, "Otter", "heron-ferry")
    _knows(service, "Otter", "millers-mitten", standing="learning")
    _knows(service, "Teal", "millers-mitten", standing="parked")
    found = service.member.get(f"{GROUP}/tunes/known?least=0").json()["items"]
    assert [(tune["tune"], len(tune["know"]), len(tune["learning"])) for tune in found] == [
        ("heron-ferry", 2, 0), ("thimble-creek", 1, 0), ("millers-mitten", 0, 1),
    ]  # fmt: skip
    assert [who["name"] for who in found[0]["know"]] == ["Wren", "Otter"]
    most = service.member.get(f"{GROUP}/tunes/known?least=2").json()["items"]
    assert [tune["tune"] for tune in most] == ["heron-ferry"]
    first = service.member.get(f"{GROUP}/tunes/known?least=0&limit=1").json()
    second = service.member.get(f"{GROUP}/tunes/known?least=0&limit=1&cursor={first['next']}").json()
    assert second["items"] == [found[1]]


def test_tunes_are_asked_for_by_the_key_they_sound_in_and_told_with_the_keys_of_their_singers(
    service: RunningService,
) -> None:
    wren = _number(service.member, "Wren")
    _list(service.member, wren, "millers-mitten", sings_in=["D", "C"])
    with service.client("member", "ferry-lane", "Otter") as otter:
        _list(otter, _number(otter, "Otter"), "millers-mitten", standing="learning", sings_in=["D"])
    found = service.member.get(f"{GROUP}/tunes/known?key=A").json()["items"]
    assert [(tune["tune"], tune["key"]) for tune in found] == [("millers-mitten", "A")]
    assert found[0]["sung"] == [
        {"key": "D", "singers": ["Wren", "Otter"]}, {"key": "C", "singers": ["Wren"]},
    ]  # fmt: skip
    assert service.member.get(f"{GROUP}/tunes/known?key=G").json()["items"] == []
    _problem(service.member.get(f"{GROUP}/tunes/known?key=X"), 422, "unknown-key")


def test_who_has_left_is_not_counted(service: RunningService) -> None:
    otter = _knows(service, "Otter", "heron-ferry")
    service.organiser.delete(f"{GROUP}/members/{otter}")
    assert service.member.get(f"{GROUP}/tunes/known").json()["items"] == []


@pytest.mark.parametrize("slug", ["known", "due"])
def test_a_tune_cannot_be_called_what_a_list_is_called(service: RunningService, slug: str) -> None:
    _problem(service.organiser.post(f"{GROUP}/tunes", json={**TUNE, "slug": slug}), 422, "word-in-use")


# --- evenings --------------------------------------------------------------------------------------


def test_an_evening_is_planned_and_changed_by_organisers_and_read_by_members(
    service: RunningService,
) -> None:
    wren = _number(service.member, "Wren")
    made = _plan(service, {"tune": "heron-ferry", "kick_off": wren}, {"tune": "millers-mitten", "key": "bb"})
    assert [(one["tune"], one["key"], one["turns"], one["kick_off"]) for one in made["tunes"]] == [
        ("heron-ferry", "G", 3, {"member": wren, "name": "Wren"}), ("millers-mitten", "Bb", 3, None),
    ]  # fmt: skip
    where = f"{GROUP}/evenings/{made['number']}"
    assert service.member.get(where).json() == made
    sent = {"day": "2026-03-07", "title": "Saturday", "tunes": [
        {"tune": "thimble-creek", "breaks": [{"member": wren, "instrument": "banjo"}]},
    ]}  # fmt: skip
    _problem(service.member.put(where, json=sent, headers={"If-Match": "*"}), 403, "not-allowed")
    _problem(service.organiser.put(where, json=sent), 428, "if-match-needed")
    changed = service.organiser.put(where, json=sent, headers={"If-Match": f'"{made["revision"]}"'})
    assert changed.headers["etag"] == '"2"'
    by_hand = {"member": wren, "name": "Wren", "instrument": "banjo"}
    assert changed.json()["tunes"][0]["breaks"] == [by_hand]
    late = service.organiser.put(where, json=sent, headers={"If-Match": f'"{made["revision"]}"'})
    _problem(late, 412, "changed")
    _plan(service)
    listed = service.member.get(f"{GROUP}/evenings?limit=1").json()
    older = service.member.get(f"{GROUP}/evenings?limit=1&cursor={listed['next']}").json()
    assert [one["number"] for one in listed["items"] + older["items"]] == [2, 1]
    _problem(service.member.get(f"{GROUP}/evenings/3"), 404, "not-found")


def test_an_evening_planned_twice_with_one_key_is_one_evening(service: RunningService) -> None:
    sent = {"day": "2026-03-06", "title": "Friday", "tunes": []}
    answers = [
        service.organiser.post(f"{GROUP}/evenings", json=sent, headers={"Idempotency-Key": "once"})
        for _ in range(2)
    ]
    assert [answer.json()["number"] for answer in answers] == [1, 1]
    assert len(service.member.get(f"{GROUP}/evenings").json()["items"]) == 1


def test_an_evening_says_everything_that_is_wrong_with_it_at_once(service: RunningService) -> None:
    sent = {"day": "2026-03-06", "title": "Friday", "tunes": [
        {"tune": "no-such-tune"}, {"tune": "heron-ferry", "key": "H", "kick_off": 99},
        {"tune": "heron-ferry", "breaks": [{"member": 1, "instrument": "kazoo"}]},
    ]}  # fmt: skip
    refused = service.organiser.post(f"{GROUP}/evenings", json=sent)
    found = _problem(refused, 422, "bad-evening")["at"]
    assert sorted((place["code"], place["path"]) for place in found) == [
        ("evening-member", "tunes[1].kick_off"), ("evening-tune", "tunes[0].tune"),
        ("unknown-instrument", "tunes[2].breaks[0]"), ("unknown-key", "tunes[1].key"),
    ]  # fmt: skip


def _share(service: RunningService, number: int, *players: dict[str, Any]) -> httpx.Response:
    return service.organiser.post(f"{GROUP}/evenings/{number}/sharing", json={"players": list(players)})


def _banjo(member: int, **more: Any) -> dict[str, Any]:
    return {"member": member, "instrument": "banjo", **more}


def _taken(evening: dict[str, Any]) -> list[list[int]]:
    return [[turn["member"] for turn in tune["breaks"]] for tune in evening["tunes"]]


def test_breaks_are_shared_evenly_among_those_who_know_each_tune(service: RunningService) -> None:
    wren = _knows(service, "Wren", "heron-ferry", "millers-mitten")
    otter = _knows(service, "Otter", "heron-ferry")
    teal = _knows(service, "Teal", "millers-mitten")
    made = _plan(
        service, {"tune": "heron-ferry", "turns": 1}, {"tune": "millers-mitten", "turns": 2, "kick_off": teal}
    )
    shared = _share(
        service, made["number"], _banjo(wren), _banjo(otter), {"member": teal, "instrument": "guitar"}
    )
    assert _taken(shared.json()) == [[otter], [teal, wren]]  # one each, who kicks off first
    assert shared.json()["tunes"][1]["breaks"][0] == {"member": teal, "name": "Teal", "instrument": "guitar"}
    assert shared.headers["etag"] == '"2"'
    again = _share(
        service, made["number"], _banjo(wren), _banjo(otter), {"member": teal, "instrument": "guitar"}
    )
    assert _taken(again.json()) == _taken(shared.json())


def test_an_instrument_without_a_setting_takes_no_break(service: RunningService) -> None:
    wren = _knows(service, "Wren", "heron-ferry")
    made = _plan(service, {"tune": "heron-ferry"})
    shared = _share(service, made["number"], {"member": wren, "instrument": "ukulele"})
    assert _taken(shared.json()) == [[]]


def test_learners_take_turns_only_where_they_ask(service: RunningService) -> None:
    wren = _knows(service, "Wren", "heron-ferry")
    otter = _knows(service, "Otter", "heron-ferry", standing="learning")
    number = _plan(service, {"tune": "heron-ferry", "turns": 2})["number"]
    assert _taken(_share(service, number, _banjo(wren), _banjo(otter)).json()) == [[wren, wren]]
    asked = _share(service, number, _banjo(wren), _banjo(otter, learning=True)).json()
    assert _taken(asked) == [[wren, otter]]


def test_players_are_named_once_and_are_there(service: RunningService) -> None:
    wren = _number(service.member, "Wren")
    number = _plan(service)["number"]
    refused = _share(service, number, _banjo(wren), _banjo(wren), _banjo(99))
    found = _problem(refused, 422, "bad-evening")["at"]
    assert [(place["code"], place["path"]) for place in found] == [
        ("evening-member", "players[2]"), ("player-twice", "players[1]"),
    ]  # fmt: skip
    answer = service.member.post(f"{GROUP}/evenings/{number}/sharing", json={"players": [_banjo(wren)]})
    _problem(answer, 403, "not-allowed")


def test_an_evening_that_is_changed_while_its_breaks_are_shared_stays_as_it_was_changed(
    service: RunningService, monkeypatch: pytest.MonkeyPatch
) -> None:
    wren = _knows(service, "Wren", "heron-ferry")
    number = _plan(service, {"tune": "heron-ferry"})["number"]
    changed = {"day": "2026-03-06", "title": "Moved indoors", "tunes": []}

    def share_slowly(calls: Sequence[Call]) -> list[tuple[int, ...]]:
        answer = service.organiser.put(f"{GROUP}/evenings/{number}", json=changed, headers={"If-Match": "*"})
        assert answer.status_code == 200
        return share(calls)

    monkeypatch.setattr("service.usecases.evenings.share", share_slowly)
    with service.client("organiser", "ferry-lane") as another:
        players = {"players": [_banjo(wren)]}
        _problem(another.post(f"{GROUP}/evenings/{number}/sharing", json=players), 412, "changed")
    assert service.member.get(f"{GROUP}/evenings/{number}").json()["title"] == "Moved indoors"


# --- played ----------------------------------------------------------------------------------------


def test_what_was_played_is_due_again_after_the_days_that_the_group_chose(service: RunningService) -> None:
    today = _today(service)
    service.organiser.put(f"{GROUP}/settings", json={"revisit_days": 30}, headers={"If-Match": "*"})
    for tune, days in (("heron-ferry", 29), ("millers-mitten", 30)):
        day = (today - timedelta(days)).isoformat()
        marked = service.member.post(f"{GROUP}/played", json={"tune": tune, "day": day})
        assert (marked.status_code, marked.json()) == (201, {"tune": tune, "day": day})
    found = service.member.get(f"{GROUP}/tunes/due").json()["items"]
    assert [(tune["tune"], tune["last_played"]) for tune in found] == [
        ("millers-mitten", (today - timedelta(30)).isoformat()), ("thimble-creek", None),
    ]  # fmt: skip
    service.member.post(f"{GROUP}/played", json={"tune": "millers-mitten"})
    after = service.member.get(f"{GROUP}/tunes/due").json()["items"]
    assert [tune["tune"] for tune in after] == ["thimble-creek"]


def test_a_tune_is_marked_as_played_on_its_evening(service: RunningService) -> None:
    made = _plan(service, {"tune": "heron-ferry"})
    where = f"{GROUP}/evenings/{made['number']}"
    for tune in ("heron-ferry", "heron-ferry", "thimble-creek"):  # twice is once, unplanned ones count
        marked = service.member.post(f"{where}/played", json={"tune": tune})
        assert marked.json() == {"tune": tune, "day": "2026-03-06"}
    assert service.member.get(where).json()["played"] == ["heron-ferry", "thimble-creek"]


def test_nothing_is_marked_before_its_day(service: RunningService) -> None:
    to_come = (_today(service) + timedelta(1)).isoformat()
    _problem(
        service.member.post(f"{GROUP}/played", json={"tune": "heron-ferry", "day": to_come}),
        422,
        "day-to-come",
    )
    made = _plan(service, day=to_come)
    early = service.member.post(f"{GROUP}/evenings/{made['number']}/played", json={"tune": "heron-ferry"})
    _problem(early, 422, "day-to-come")


@pytest.mark.parametrize(
    ("zone", "day"), [("Pacific/Kiritimati", "2026-03-07"), ("Pacific/Pago_Pago", "2026-03-05")]
)
def test_a_day_is_that_of_the_groups_zone(service: RunningService, zone: str, day: str) -> None:
    """14 hours east of UTC, and 11 west (IANA)."""
    service.house.clock = lambda: datetime(2026, 3, 6, 10, 30, tzinfo=UTC)
    service.organiser.put(f"{GROUP}/settings", json={"zone": zone}, headers={"If-Match": "*"})
    assert service.member.post(f"{GROUP}/played", json={"tune": "heron-ferry"}).json()["day"] == day


def test_answers_hold_to_their_schemas(service: RunningService) -> None:
    description = service.member.get("/schema/openapi.json").json()
    wren = _knows(service, "Wren", "heron-ferry")
    made = _plan(service, {"tune": "heron-ferry", "kick_off": wren})
    for name, answer in {
        "KnownOut": _list(service.member, wren, "heron-ferry", sings_in=["G"]).json(),
        "KnownList": service.member.get(f"{GROUP}/members/{wren}/tunes").json(),
        "KnownTuneList": service.member.get(f"{GROUP}/tunes/known").json(),
        "EveningOut": _share(service, made["number"], _banjo(wren)).json(),
        "EveningList": service.member.get(f"{GROUP}/evenings").json(),
        "PlayedOut": service.member.post(f"{GROUP}/played", json={"tune": "heron-ferry"}).json(),
    }.items():
        _holds(description, name, answer)


def test_what_was_marked_by_mistake_was_not_played(service: RunningService) -> None:
    today = _today(service).isoformat()
    service.member.post(f"{GROUP}/played", json={"tune": "heron-ferry"})
    assert service.member.delete(f"{GROUP}/played/heron-ferry/{today}").status_code == 204
    _problem(service.member.delete(f"{GROUP}/played/heron-ferry/{today}"), 404, "not-found")
    _problem(service.member.delete(f"{GROUP}/played/heron-ferry/yesterday"), 404, "no-route")


def test_an_evening_that_is_called_off_leaves_what_was_played(service: RunningService) -> None:
    number = _plan(service, {"tune": "heron-ferry"}, day=_today(service).isoformat())["number"]
    service.member.post(f"{GROUP}/evenings/{number}/played", json={"tune": "heron-ferry"})
    assert service.organiser.delete(f"{GROUP}/evenings/{number}").status_code == 204
    _problem(service.organiser.get(f"{GROUP}/evenings/{number}"), 404, "not-found")
    today = _today(service).isoformat()
    assert service.member.delete(f"{GROUP}/played/heron-ferry/{today}").status_code == 204
