"""Members who go for good, with what they sent in or without it; groups that do. Over real HTTP, and in the bytes of the file."""

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.club import GROUP, Club, running_club
from tests.web.test_api import LICK, TUNE, _problem
from tests.web.test_leaving import ANY, GOOD, _files, _ok, _sound

NAME, USER, LICK_NAME = "Zebulon Quickwater", "user-778899", "Moonlit weir"
COMMENT, NOTE, REPORT = "Played it on the bridge.", "A hard one for me.", "That is mine, surely."
LINE = "3 - 2 5 1 - 3.2 4, 3 5 2 1 3 - - -"  # no other lick is this text
ON_BEHALF = {"On-Behalf-Of": f"chat:{USER}", "Acting-Server": "77"}
HERON = f"{GROUP}/tunes/heron-ferry/breaks"
THEIRS = [NAME, USER, COMMENT, NOTE, REPORT]


class Going:
    """A club with somebody in it, through a bot and with a token of their own, who has done all that a member can."""

    def __init__(self, club: Club) -> None:
        self.club = club
        club.bind(draws=False)
        self.acting = club.service.client("bot")
        self.acting.headers.update(ON_BEHALF)
        self.number = _ok(self.acting.post(f"{GROUP}/members", json={"name": NAME}))["number"]
        made = _ok(
            club.service.operator.post(f"{GROUP}/tokens", json={"role": "member", "member": self.number})
        )
        self.own = club.service.client_with(made["secret"])
        lick = LICK | {"name": LICK_NAME, "text": LINE, "rights": {"credit": NAME}}
        keyed = {"Idempotency-Key": "once"}
        self.lick = _ok(self.acting.post(f"{GROUP}/licks", json=lick, headers=keyed))["number"]
        _ok(self.acting.put(f"{GROUP}/licks/{self.lick}", json=lick | {"level": 3}, headers=ANY))
        drawn = {"must_include": [self.lick], "seed": 1}
        self.break_ = _ok(club.wren.post(f"{HERON}/random", json=drawn, headers=keyed))
        assert club.wren.get(f"{GROUP}/breaks/{self.break_['code']}/tab.png").status_code == 200
        _ok(self.acting.post(f"{GROUP}/licks/3/reports", json={"reason": "rights", "text": REPORT}))
        _ok(
            self.own.put(f"{GROUP}/members/{self.number}/practice", json={"shared": False, "reminders": True})
        )
        played = {"lick": 1, "bpm": 60, "clean": True, "passes": 3, "from_memory": True}
        _ok(self.own.post(f"{GROUP}/practice-logs", json=played))
        known = {"standing": "know", "note": NOTE}
        _ok(self.own.put(f"{GROUP}/members/{self.number}/tunes/heron-ferry", json=known))
        lesson = {"member": self.number, "lick": 1, "due": "2026-12-01", "comment": NOTE}
        _ok(club.organiser.post(f"{GROUP}/lessons", json=lesson))
        evening = {
            "day": "2026-11-12", "title": "At the boathouse",
            "tunes": [{"tune": "heron-ferry", "turns": 1, "kick_off": self.number}],
        }  # fmt: skip
        _ok(club.organiser.post(f"{GROUP}/evenings", json=evening))
        club.challenge(lick=self.lick)
        self.variation = club.enter(self.acting, GOOD, name="Low water", comment=COMMENT)["number"]
        played = club.otter.post(f"{GROUP}/challenges/1/variations/recordings?name=Played", content=_sound())
        self.others = _ok(played)["number"]
        self.recorded = _ok(
            self.acting.post(f"{GROUP}/challenges/1/variations/recordings?name=Hm", content=_sound(0.3))
        )["number"]
        _ok(self.own.put(f"{GROUP}/variations/{self.others}/vote"))
        _ok(club.otter.put(f"{GROUP}/variations/{self.variation}/vote"))
        self.sent = club.posts()

    def erase(self, licks: str, who: httpx.Client | None = None) -> None:
        ask = self.own if who is None else who
        answer = ask.post(f"{GROUP}/members/{self.number}/erasure", json={"licks": licks})
        assert answer.status_code == 204, answer.text

    def bytes_on_disk(self) -> bytes:
        """Everything that the service keeps."""
        folder = Path(self.club.service.house.settings.data)
        return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


@pytest.fixture
def going(tmp_path: Path) -> Iterator[Going]:
    with running_club(tmp_path) as club:
        found = Going(club)
        yield found
        found.acting.close()
        found.own.close()


def _found(texts: list[str], content: bytes) -> list[str]:
    return [text for text in texts if text.encode() in content]


@pytest.mark.parametrize("licks", ["keep", "remove"])
def test_nothing_is_left_of_somebody_in_any_file(going: Going, licks: str) -> None:
    texts = THEIRS if licks == "keep" else [*THEIRS, LICK_NAME, LINE, "Low water"]
    if licks == "keep":  # who keeps what they sent in keeps their credit in it
        texts = [text for text in texts if text != NAME]
    before = going.bytes_on_disk()
    assert _found(texts, before) == texts
    assert _sound(0.3)[-2000:] in before
    going.erase(licks)
    after = going.bytes_on_disk()
    assert _found(texts, after) == []
    assert _sound(0.3)[-2000:] not in after
    assert (LINE.encode() in after) == (licks == "keep")


def test_who_is_erased_is_a_former_member_and_comes_in_no_more(going: Going) -> None:
    going.erase("keep")
    _problem(going.own.get(GROUP), 401, "bad-token")
    ask = going.club.organiser
    gone = {row["number"]: row for row in _ok(ask.get(f"{GROUP}/members?gone=true"))["items"]}[going.number]
    assert (gone["name"], gone["user"], gone["role"]) == (f"Former member {going.number}", None, "member")
    assert going.number not in [row["number"] for row in _ok(ask.get(f"{GROUP}/members"))["items"]]
    _problem(going.acting.get(GROUP), 403, "not-joined")
    # somebody of the same name who comes is somebody else
    again = _ok(going.acting.post(f"{GROUP}/members", json={"name": NAME}))
    assert again["number"] > going.number
    assert again["name"] == NAME
    _problem(ask.post(f"{GROUP}/members/{going.number}/erasure", json={"licks": "keep"}), 404, "not-found")


def test_what_is_kept_stands_with_no_name(going: Going) -> None:
    going.erase("keep")
    former = f"Former member {going.number}"
    ask = going.club.otter
    lick = _ok(ask.get(f"{GROUP}/licks/{going.lick}"))
    assert (lick["name"], lick["by"], lick["state"]) == (LICK_NAME, former, "pool")
    variation = _ok(ask.get(f"{GROUP}/variations/{going.variation}"))
    assert (variation["by_name"], variation["comment"], variation["voted"]) == (former, "", True)
    _problem(
        ask.get(f"{GROUP}/variations/{going.recorded}"), 404, "not-found"
    )  # it was nothing but its sound
    evening = _ok(ask.get(f"{GROUP}/evenings/1"))
    assert evening["tunes"][0]["kick_off"]["name"] == former
    assert _ok(going.club.organiser.get(f"{GROUP}/lessons"))["items"] == []
    assert former not in ask.get(f"{GROUP}/tunes/known").text
    told = _ok(going.club.organiser.get(f"{GROUP}/audit"))["items"][0]
    assert (told["action"], told["subject"], told["by"]) == ("erase-member", f"member {going.number}", None)


def test_votes_are_counted_and_the_chat_is_told(going: Going) -> None:
    going.erase("keep")
    posts = {(post["deed"], post["params"].get("variation")): post for post in going.club.posts()}
    edited = posts["edit", going.variation]
    assert f"Former member {going.number}" in edited["text"]
    assert COMMENT not in edited["text"]
    assert ("delete", going.recorded) in posts
    _ok(going.club.organiser.post(f"{GROUP}/challenges/1/close"))
    standings = _ok(going.club.wren.get(f"{GROUP}/challenges/1/round-up"))["standings"]
    assert {row["variation"]: row["votes"] for row in standings} == {going.others: 1, going.variation: 1}


def test_votes_of_a_week_that_is_over_stand_in_its_result(going: Going) -> None:
    _ok(going.club.organiser.post(f"{GROUP}/challenges/1/close"))
    before = _ok(going.club.wren.get(f"{GROUP}/challenges/1/round-up"))["standings"]
    going.erase("keep")
    after = _ok(going.club.wren.get(f"{GROUP}/challenges/1/round-up"))["standings"]
    assert {row["variation"]: row["votes"] for row in before if row["variation"] != going.recorded} == {
        row["variation"]: row["votes"] for row in after
    }


def test_a_lick_that_goes_too_answers_410_on_every_page(going: Going) -> None:
    going.erase("remove")
    ask, where = going.club.organiser, f"{GROUP}/licks/{going.lick}"
    answers = [
        *(
            ask.get(f"{where}{page}")
            for page in ("", "/tab.txt", "/tab.png", "/revisions", "/twins", "/easier")
        ),
        *(ask.get(f"{GROUP}/licks/{path}") for path in (f"{going.lick}/joins/1", f"1/joins/{going.lick}")),
        ask.post(f"{where}/judgements", json={}),
        ask.post(f"{where}/review", json={"decision": "keep"}, headers=ANY),
        ask.put(where, json=LICK, headers=ANY),
        ask.delete(where, headers=ANY),
        ask.put(f"{where}/taken-down", json={"reason": "why"}, headers=ANY),
        ask.get(f"{where}/taken-down"),
        ask.delete(f"{where}/taken-down", headers=ANY),
    ]
    for answer in answers:
        found = _problem(answer, 410, "erased")
        assert LICK_NAME not in answer.text
        assert str(going.lick) in found["detail"]
    for status in ("", "&status=retired", "&status=pool", "&status=draft"):
        items = _ok(ask.get(f"{GROUP}/licks?limit=200{status}"))["items"]
        assert going.lick not in [lick["number"] for lick in items]


def test_breaks_that_held_it_have_a_rest_that_says_so(going: Going) -> None:
    going.erase("remove")
    ask, code = going.club.wren, going.break_["code"]
    shown = _ok(ask.get(f"{GROUP}/breaks/{code}"))
    places = [place for place in shown["phrases"] if place["lick"] is None]
    assert places
    tab = ask.get(f"{GROUP}/breaks/{code}/tab.txt").text
    assert f"lick {going.lick} was erased; a rest stands here." in json.dumps(places)
    assert f"lick {going.lick} was erased" in " ".join(tab.split())
    assert ask.get(f"{GROUP}/breaks/{code}/tab.png").status_code == 200
    filled = _ok(ask.post(f"{GROUP}/breaks/{code}/swaps", json={"phrase": places[0]["phrase"]}))
    assert filled["items"]
    # whoever asks with the key of then gets the break as it is now
    wish = {"must_include": [going.lick], "seed": 1}
    again = ask.post(f"{HERON}/random", json=wish, headers={"Idempotency-Key": "once"})
    assert again.status_code != 201 or LICK_NAME not in again.text


def test_variations_that_go_too_are_gone_and_so_is_the_name_of_the_lick_in_the_challenge(
    going: Going,
) -> None:
    going.erase("remove")
    ask = going.club.wren
    _problem(ask.get(f"{GROUP}/variations/{going.variation}"), 404, "not-found")
    assert _ok(ask.get(f"{GROUP}/challenges/1"))["lick_name"] is None
    deeds = {(post["deed"], post["params"].get("variation")) for post in going.club.posts()}
    assert ("delete", going.variation) in deeds


def test_an_organiser_erases_who_asked_and_nobody_else_does(going: Going) -> None:
    where = f"{GROUP}/members/{going.number}/erasure"
    _problem(going.club.wren.post(where, json={"licks": "keep"}), 403, "not-allowed")
    _problem(going.club.organiser.post(where, json={}), 400, "bad-request")
    going.erase("keep", going.club.organiser)
    told = _ok(going.club.organiser.get(f"{GROUP}/audit"))["items"][0]
    assert (told["action"], told["by"], told["params"]) == ("erase-member", "Kit", {"licks": "keep"})


def test_the_last_organiser_is_not_erased_while_others_are_there(going: Going) -> None:
    ask = going.club.organiser
    number = next(row["number"] for row in _ok(ask.get(f"{GROUP}/members"))["items"] if row["name"] == "Kit")
    _problem(ask.post(f"{GROUP}/members/{number}/erasure", json={"licks": "keep"}), 409, "last-organiser")


def test_a_copy_holds_what_was_erased_as_erased(going: Going, tmp_path: Path) -> None:
    going.erase("remove")
    files = _files(going.club.organiser.get(f"{GROUP}/export"))
    lick = json.loads(files[f"licks/{going.lick}.json"])
    assert {row["body"] for row in lick["lick_revisions"]} == {None}
    assert f"licks/{going.lick}.txt" not in files
    copy = going.club.organiser.get(f"{GROUP}/export").content
    with going.club.service.client("operator") as operator:
        _ok(operator.post("/v1/imports?slug=other", content=copy))
        _problem(operator.get(f"/v1/groups/other/licks/{going.lick}"), 410, "erased")
        code = going.break_["code"]
        assert operator.get(f"/v1/groups/other/breaks/{code}").status_code == 200


# --- a whole group --------------------------------------------------------------------------------------------


def _tables(going: Going) -> dict[str, int]:
    connection = sqlite3.connect(going.club.service.house.settings.database)
    names = [
        row[0]
        for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        if not row[0].startswith("sqlite_")
    ]
    found = {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in names}
    connection.close()
    return found


def test_a_group_that_is_deleted_is_gone_with_everything(going: Going) -> None:
    ask = going.club.organiser
    _problem(ask.delete(GROUP), 422, "confirm-first")
    _problem(ask.delete(f"{GROUP}?confirm=ferry"), 422, "confirm-first")
    _problem(going.own.delete(f"{GROUP}?confirm=ferry-lane"), 403, "not-allowed")
    assert ask.delete(f"{GROUP}?confirm=ferry-lane").status_code == 204
    _problem(ask.get(GROUP), 401, "bad-token")
    left = {name: count for name, count in _tables(going).items() if count}
    assert set(left) == {"tokens", "migrations", "deleted_groups"}  # tokens of the operator and the bots
    texts = [*THEIRS, LICK_NAME, LINE, "Heron Ferry", "Kit"]
    assert _found(texts, going.bytes_on_disk()) == []


def test_an_operator_deletes_too_and_a_new_group_of_the_name_is_another(going: Going) -> None:
    with going.club.service.client("operator") as operator:
        copy = operator.get(f"{GROUP}/export").content
        _problem(operator.delete(GROUP), 422, "confirm-first")
        _ok(operator.delete(f"{GROUP}?confirm=ferry-lane"))
        _problem(operator.get(GROUP), 404, "not-found")
        made = _ok(operator.post("/v1/imports?bind=true", content=copy))
        assert made["group"]["slug"] == "ferry-lane"
        assert operator.get(f"{GROUP}/export").content == copy
        assert _tables(going)["deleted_groups"] == 1
        other = _ok(operator.get(f"{GROUP}/breaks/{going.break_['code']}"))
        assert other["phrases"] == going.break_["phrases"]


def test_what_organisers_do_with_tunes_and_licks_is_noted(club: Club) -> None:
    ask = club.organiser
    deeds: list[tuple[str, httpx.Response]] = [
        ("add-tune", ask.post(f"{GROUP}/tunes", json=TUNE)),
        ("change-tune", ask.put(f"{GROUP}/tunes/eel-pot", json={k: v for k, v in TUNE.items() if k != "slug"}, headers=ANY)),
        ("hide-tune", ask.delete(f"{GROUP}/tunes/eel-pot", headers=ANY)),
        ("change-lick", ask.put(f"{GROUP}/licks/1", json=LICK, headers=ANY)),
        ("take-lick-down", ask.put(f"{GROUP}/licks/2/taken-down", json={"reason": "why"}, headers=ANY)),
        ("put-lick-back", ask.delete(f"{GROUP}/licks/2/taken-down", headers=ANY)),
        ("retire-lick", ask.delete(f"{GROUP}/licks/3", headers=ANY)),
        ("review-lick", ask.post(f"{GROUP}/licks/4/review", json={"decision": "back", "reason": "why"}, headers=ANY)),
        ("change-group", ask.patch(GROUP, json={"name": "Lane"}, headers=ANY)),
        ("add-member", ask.post(f"{GROUP}/members", json={"name": "Teasel", "role": "member"})),
        ("change-role", ask.patch(f"{GROUP}/members/2", json={"role": "organiser"})),
        ("leave", ask.delete(f"{GROUP}/members/2")),
        ("invite", ask.post(f"{GROUP}/invitations", json={})),
        ("withdraw-invitation", ask.delete(f"{GROUP}/invitations/1")),
        ("make-challenge", ask.post(f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1})),
        ("close-challenge", ask.post(f"{GROUP}/challenges/1/close")),
        ("bring-posts-back", ask.post(f"{GROUP}/posts/retries")),
        ("export-group", ask.get(f"{GROUP}/export")),
        ("erase-member", ask.post(f"{GROUP}/members/2/erasure", json={"licks": "keep"})),
    ]  # fmt: skip
    assert [(name, answer.text) for name, answer in deeds if not answer.is_success] == []
    told: list[Any] = _ok(ask.get(f"{GROUP}/audit?limit=200"))["items"]
    assert [row["action"] for row in reversed(told)][-len(deeds) :] == [name for name, _ in deeds]
    assert {row["by"] for row in told} == {"Kit"}
