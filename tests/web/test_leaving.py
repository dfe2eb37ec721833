"""A group's copy: made, brought in on another service, made again; what is refused; a copy of oneself. Over real HTTP."""

import io
import json
import wave
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.clocks import SetClock
from tests.club import GROUP, Club, running_club
from tests.support import RunningService
from tests.web.test_api import LICK, _problem

GOOD = "4 - 2 3 5 1 2 1, 3 - 5 2 3 - - -"  # over G G
OTHER = "3 - 2 4 5 1 2 1, 3 - 5 2 3 - - -"
ANY = {"If-Match": "*"}
Files = dict[str, bytes]


def _sound(seconds: float = 0.1) -> bytes:
    made = io.BytesIO()
    with wave.open(made, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(b"\x11\x22" * int(8000 * seconds))
    return made.getvalue()


@pytest.fixture
def lively(tmp_path: Path) -> Iterator[Club]:
    """A club with everything in it: a week that is over with votes, one that is open, a recording, breaks, a lick taken down,
    reports, an evening, lessons, practice that is shared and some that is not, a member who left."""
    with running_club(tmp_path / "here") as club:
        _live(club)
        yield club


def _ok(answer: httpx.Response) -> Any:
    assert answer.is_success, answer.text
    return answer.json() if answer.content else None


def _live(club: Club) -> None:
    club.bind(draws=True)
    club.challenge()
    club.enter(club.wren, GOOD, name="Low water", comment="Thumb on the fourth string.")
    club.enter(club.otter, OTHER)
    _ok(club.heron.put(f"{GROUP}/variations/1/vote"))
    _ok(club.wren.put(f"{GROUP}/variations/2/vote"))
    club.posts()
    club.at("2026-11-02T18:00:00Z")
    club.at("2026-11-09T18:00:00Z")  # the round-up, and the next week's challenge
    club.posts()
    current = _ok(club.wren.get(f"{GROUP}/challenges/current"))["number"]
    recording = _ok(
        club.heron.post(f"{GROUP}/challenges/{current}/variations/recordings?name=Played", content=_sound())
    )
    _ok(club.otter.put(f"{GROUP}/variations/{recording['number']}/vote"))
    _ok(club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "pool"}))
    made = _ok(club.wren.post(f"{GROUP}/licks", json=LICK))
    _ok(club.wren.put(f"{GROUP}/licks/{made['number']}", json=LICK | {"name": "Oar again"}, headers=ANY))
    _ok(club.otter.post(f"{GROUP}/licks/3/reports", json={"reason": "wrong", "text": "The third note."}))
    for seed in (1, 2):
        _ok(club.wren.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": seed}))
    _ok(club.wren.post(f"{GROUP}/tunes/thimble-creek/breaks/random", json={}))
    down = {"reason": "It is somebody's recorded solo."}
    _ok(club.organiser.put(f"{GROUP}/licks/8/taken-down", json=down, headers=ANY))
    _ok(club.organiser.delete(f"{GROUP}/tunes/millers-mitten", headers=ANY))
    evening = {
        "day": "2026-11-12",
        "title": "At the boathouse",
        "tunes": [{"tune": "heron-ferry", "turns": 1}],
    }
    _ok(club.organiser.post(f"{GROUP}/evenings", json=evening))
    ask = club.organiser
    number = {row["name"]: row["number"] for row in _ok(ask.get(f"{GROUP}/members"))["items"]}
    for who, shared in ((club.wren, True), (club.otter, False)):
        mine = number["Wren" if who is club.wren else "Otter"]
        lesson = {
            "member": mine,
            "lick": 1,
            "due": "2026-12-01",
            "comment": f"For member {mine}.",
            "level": 3,
        }
        given = _ok(ask.post(f"{GROUP}/lessons", json=lesson))
        _ok(who.patch(f"{GROUP}/lessons/{given['number']}", json={"shared": shared}))
        _ok(who.put(f"{GROUP}/members/{mine}/practice", json={"shared": shared, "reminders": True}))
        played = {"lick": 1, "bpm": 60, "clean": True, "passes": 3, "from_memory": True}
        _ok(who.post(f"{GROUP}/practice-logs", json=played))
        _ok(
            who.put(f"{GROUP}/members/{mine}/tunes/heron-ferry", json={"standing": "know", "sings_in": ["A"]})
        )
    _ok(ask.post(f"{GROUP}/members", json={"name": "Teasel", "role": "member"}))
    _ok(ask.delete(f"{GROUP}/members/{number['Kit'] + 1}"))
    club.posts()


def _files(answer: httpx.Response) -> Files:
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def _zipped(files: Files) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return made.getvalue()


@contextmanager
def _elsewhere(folder: Path, clock: SetClock) -> Iterator[RunningService]:
    with RunningService(folder, demo=False, clock=clock) as other:
        yield other


def test_a_copy_is_the_same_again_and_in_order(lively: Club) -> None:
    first = lively.organiser.get(f"{GROUP}/export")
    names = zipfile.ZipFile(io.BytesIO(first.content)).namelist()
    assert names == sorted(names)
    assert {entry.date_time for entry in zipfile.ZipFile(io.BytesIO(first.content)).infolist()} == {
        (1980, 1, 1, 0, 0, 0)
    }
    assert lively.organiser.get(f"{GROUP}/export").content == first.content
    assert first.headers["content-disposition"] == 'attachment; filename="ferry-lane.zip"'
    assert int(first.headers["content-length"]) == len(first.content)
    told = [row["action"] for row in lively.organiser.get(f"{GROUP}/audit").json()["items"]]
    assert told[:2] == ["export-group", "export-group"]


def test_what_went_elsewhere_comes_back_byte_for_byte(lively: Club, tmp_path: Path) -> None:
    copy = lively.organiser.get(f"{GROUP}/export").content
    with _elsewhere(tmp_path / "there", lively.clock) as other:
        made = other.operator.post("/v1/imports?bind=true", content=copy)
        assert made.status_code == 201, made.text
        again = other.operator.get(f"{GROUP}/export").content
    assert _files_of(again) == _files_of(copy)
    assert again == copy


def _files_of(content: bytes) -> Files:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _rows(files: Files, name: str) -> Any:
    return json.loads(files[name])


def test_under_another_name_only_name_server_and_channel_differ(lively: Club, tmp_path: Path) -> None:
    before = _files(lively.organiser.get(f"{GROUP}/export"))
    with _elsewhere(tmp_path / "there", lively.clock) as other:
        made = _ok(other.operator.post("/v1/imports?slug=new-lane", content=_zipped(before)))
        assert (made["group"]["slug"], made["group"]["server_id"]) == ("new-lane", None)
        assert made["rows"]["licks"] == len([name for name in before if name.startswith("licks/")]) // 2 + 1
        after = _files(other.operator.get("/v1/groups/new-lane/export"))
    assert set(after) == set(before)
    differ = {name for name in before if before[name] != after[name]}
    assert differ == {"group.json", "posts.json"}
    old, new = _rows(before, "group.json")["group"], _rows(after, "group.json")["group"]
    gone = {"slug": "", "platform": None, "server_id": None, "settings": {}}
    assert old | gone == new | gone
    assert old["settings"] | {"channel": None} == new["settings"]
    # what was sent to a server that is left behind cannot be changed there
    assert {row["state"] for row in _rows(after, "posts.json")} == {"lapsed"}


def test_what_comes_in_plays_what_it_played_and_counts_as_it_did(lively: Club, tmp_path: Path) -> None:
    there = "/v1/groups/new-lane"
    drawn = {
        tune: _ok(lively.organiser.post(f"{GROUP}/tunes/{tune}/breaks/random", json={"seed": 11}))
        for tune in ("heron-ferry", "thimble-creek")
    }
    copy = lively.organiser.get(f"{GROUP}/export").content
    with _elsewhere(tmp_path / "there", lively.clock) as other, other.client("operator") as ask:
        _ok(ask.post("/v1/imports?slug=new-lane", content=copy))
        for tune, here in drawn.items():
            new = _ok(ask.post(f"{there}/tunes/{tune}/breaks/random", json={"seed": 11}))
            for told in ("code", "number", "total", "snapshot"):
                assert new[told] == here[told]
            assert [p["lick"]["number"] for p in new["phrases"]] == [
                p["lick"]["number"] for p in here["phrases"]
            ]
        for row in _rows(_files_of(copy), "breaks.json"):
            assert ask.get(f"{there}/breaks/{row['code']}").json()["code"] == row["code"]
        assert ask.get(f"{there}/licks/8").json()["code"] == "taken-down"
        came_out = lively.organiser.get(f"{GROUP}/challenges/1/round-up").json()
        assert ask.get(f"{there}/challenges/1/round-up").json()["standings"] == came_out["standings"]
        assert ask.get(f"{there}/variations/3/recording").content == _sound()
        assert (
            ask.get(f"{there}/members").json()["items"]
            == lively.organiser.get(f"{GROUP}/members").json()["items"]
        )


def test_the_clock_goes_on_where_it_came_to_and_nothing_is_sent_again(lively: Club, tmp_path: Path) -> None:
    _ok(lively.heron.put(f"{GROUP}/variations/3/recording", content=_sound(0.2)))
    copy = lively.organiser.get(f"{GROUP}/export").content  # with a post that waits
    with _elsewhere(tmp_path / "there", lively.clock) as other, other.client("bot") as bot:
        _ok(other.operator.post("/v1/imports?bind=true", content=copy))
        claim = {"platform": "chat", "most": 50, "lease_s": 60}
        assert bot.post("/v1/outbox/claims", json=claim).json()["items"] == []
        lively.clock.to("2026-11-16T18:00:00Z")
        assert other.tick() > 0
        assert other.operator.get(f"{GROUP}/challenges/2").json()["state"] == "closed"
        assert other.operator.get(f"{GROUP}/challenges/current").json()["number"] == 3
        kinds = {item["kind"] for item in bot.post("/v1/outbox/claims", json=claim).json()["items"]}
        assert kinds == {"round-up"}  # the first of them: a group's posts keep their order


def test_nobody_comes_in_with_an_old_token(lively: Club, tmp_path: Path) -> None:
    copy = lively.organiser.get(f"{GROUP}/export").content
    token = lively.wren.headers["authorization"].split()[1]
    assert token.encode() not in copy
    with _elsewhere(tmp_path / "there", lively.clock) as other, other.client_with(token) as wren:
        _ok(other.operator.post("/v1/imports", content=copy))
        _problem(wren.get(GROUP), 401, "bad-token")


def test_what_members_keep_to_themselves_is_in_their_own_copy_alone(lively: Club) -> None:
    whole = _files(lively.organiser.get(f"{GROUP}/export"))
    assert [row["member_id"] for row in _rows(whole, "practice_logs.json")] == [_number(lively, "Wren")]
    lessons = _rows(whole, "lessons.json")
    assert [(row["comment"], row["level"]) for row in lessons] == [("For member 1.", None)]
    otter = _number(lively, "Otter")
    mine = _files(lively.otter.get(f"{GROUP}/members/{otter}/export"))
    assert _rows(mine, "group.json")["format"] == "breakwright-member"
    assert [row["name"] for row in _rows(mine, "members.json")] == ["Otter"]
    assert [(row["comment"], row["level"]) for row in _rows(mine, "lessons.json")] == [
        (f"For member {otter}.", 3)
    ]
    assert len(_rows(mine, "practice_logs.json")) == len(_rows(mine, "reminders.json")) == 1
    assert [row["text"] for row in _rows(mine, "reports.json")] == ["The third note."]
    assert [row["role"] for row in _rows(mine, "tokens.json")] == ["member"]
    assert {row["variation_id"] for row in _rows(mine, "votes.json")} == {3}
    assert {name for name in mine if name.startswith("variations/")} == {"variations/2.json"}
    assert b"Wren" not in b"".join(mine.values())


def _number(club: Club, name: str) -> int:
    items = club.organiser.get(f"{GROUP}/members").json()["items"]
    return next(int(row["number"]) for row in items if row["name"] == name)


def test_licks_and_charts_can_be_read_without_a_program(lively: Club) -> None:
    files = _files(lively.organiser.get(f"{GROUP}/export"))
    tab = lively.organiser.get(f"{GROUP}/licks/1").json()
    assert files["licks/1.txt"].decode().startswith(f"1 {tab['name']}\n\n")
    assert "1|" in files["licks/1.txt"].decode()
    assert "licks/8.json" in files
    assert "licks/8.txt" not in files  # taken down
    assert "A:" in files["tunes/heron-ferry.txt"].decode()


def test_only_organisers_copy_a_group_and_everybody_only_themselves(lively: Club) -> None:
    _problem(lively.wren.get(f"{GROUP}/export"), 403, "not-allowed")
    otter = _number(lively, "Otter")
    for other in (lively.wren, lively.organiser):
        _problem(other.get(f"{GROUP}/members/{otter}/export"), 403, "for-them-alone")
    _problem(lively.organiser.post("/v1/imports", content=b""), 403, "not-allowed")


# --- what is refused ------------------------------------------------------------------------------------------


def _changed(name: str, change: Callable[[Any], Any]) -> Callable[[Files], Files]:
    def with_change(files: Files) -> Files:
        found = json.loads(files[name])
        return files | {name: json.dumps(change(found)).encode()}

    return with_change


def _first(**values: object) -> Callable[[Any], Any]:
    return lambda rows: [rows[0] | values, *rows[1:]]


def _lick(**values: object) -> Callable[[Any], Any]:
    def change(lick: Any) -> Any:
        revision = lick["lick_revisions"][0]
        return lick | {"lick_revisions": [revision | {"body": revision["body"] | values}]}

    return change


WRONG: dict[str, tuple[Callable[[Files], Files], str, str, str]] = {
    "no JSON": (lambda f: f | {"members.json": b"["}, "bad-import", "members.json", "file-unreadable"),
    "nested deeply": (lambda f: f | {"members.json": b"[" * 100_000}, "bad-import", "members.json", "file-unreadable"),
    "a file of another kind": (lambda f: f | {"run.exe": b"MZ"}, "bad-import", "run.exe", "file-unknown"),
    "a path that leads out": (
        lambda f: f | {"../licks/1.json": f["licks/1.json"]}, "bad-import", "../licks/1.json", "file-unknown",
    ),
    "a file under another's name": (
        lambda f: f | {"licks/99.json": f["licks/1.json"]}, "bad-import", "licks/99.json", "not-of-its-form",
    ),
    "a field too few": (
        _changed("members.json", lambda rows: [{"number": 1}]), "bad-import", "members.json[0]", "not-of-its-form",
    ),
    "a field too many": (_changed("votes.json", _first(why="")), "bad-import", "votes.json[0]", "not-of-its-form"),
    "no time": (_changed("members.json", _first(created="then")), "bad-import", "members.json[0]", "no-time"),
    "a name twice": (
        _changed("members.json", lambda rows: [rows[0], rows[1] | {"name": rows[0]["name"]}, *rows[2:]]),
        "bad-import", "members.json[1]", "row-twice",
    ),
    "a name nobody can have": (
        _changed("members.json", _first(name="\x7f9")), "bad-import", "members.json[0]", "not-of-its-form",
    ),
    "a role nobody can have": (
        _changed("members.json", _first(role="king")), "bad-import", "members.json[0]", "row-not-allowed",
    ),
    "a number that is too large": (
        _changed("members.json", _first(number=2**70)), "bad-import", "members.json[0]", "row-not-allowed",
    ),
    "a vote of nobody": (
        _changed("votes.json", _first(member_id=99)), "bad-import", "votes.json[0]", "row-refers-to-none",
    ),
    "a lick on no fret": (
        _changed("licks/1.json", _lick(notes=[[0, 1, 99, 480, None, None]])),
        "bad-import", "licks/1.json lick_revisions[0]", "",
    ),
    "a lick that is none": (
        _changed("licks/1.json", _lick(notes="x")), "bad-import", "licks/1.json lick_revisions[0]", "not-of-its-form",
    ),
    "a break of a lick that is not there": (
        _changed("breaks.json", _first(licks=[[1, 4711, 1]])), "bad-import", "breaks.json[0]", "refers-to-none",
    ),
    "a chart that cannot be read": (
        _changed(
            "tunes/heron-ferry.json",
            lambda tune: tune
            | {"tune_revisions": [r | {"body": r["body"] | {"chart": "A: | H | "}} for r in tune["tune_revisions"]]},
        ),
        "bad-import", "tunes/heron-ferry.json tune_revisions[0]", "",
    ),
    "a recording that is not there": (
        lambda f: {name: f[name] for name in f if name != "recordings/1.wav"},
        "bad-import", "recordings/1.wav", "file-missing",
    ),
    "a recording that is none": (
        lambda f: f | {"recordings/1.wav": b"<html>"}, "bad-import", "recordings/1.wav", "no-recording",
    ),
    "another version": (
        _changed("group.json", lambda head: head | {"version": 2}), "other-version", "", "",
    ),
    "no head": (lambda f: {name: f[name] for name in f if name != "group.json"}, "no-copy", "", ""),
}  # fmt: skip


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Club, Files]]:
    with running_club(tmp_path_factory.mktemp("copied")) as club:
        _live(club)
        yield club, _files(club.organiser.get(f"{GROUP}/export"))


@pytest.mark.parametrize("wrong", WRONG)
def test_a_copy_that_cannot_be_used_is_refused_whole_with_file_and_place(
    copied: tuple[Club, Files], wrong: str
) -> None:
    club, files = copied
    change, code, path, fault = WRONG[wrong]
    with club.service.client("operator") as operator:
        answer = operator.post("/v1/imports?slug=other", content=_zipped(change(files)))
        found = _problem(answer, 422, code)
        if path:
            assert found["at"][0]["path"] == path
            assert found["at"][0]["code"] == fault or not fault
            assert found["at"][0]["text"]
        _problem(operator.get("/v1/groups/other"), 404, "not-found")


def test_everything_that_is_wrong_is_told_at_once(copied: tuple[Club, Files]) -> None:
    club, files = copied
    broken = _changed("licks/2.json", _lick(notes="x"))(_changed("licks/1.json", _lick(notes="x"))(files))
    with club.service.client("operator") as operator:
        found = _problem(operator.post("/v1/imports?slug=other", content=_zipped(broken)), 422, "bad-import")
    assert [place["path"] for place in found["at"]] == [
        f"licks/{number}.json lick_revisions[0]" for number in (1, 2)
    ]


def test_what_is_no_zip_or_a_damaged_one_is_refused(copied: tuple[Club, Files]) -> None:
    club, files = copied
    zipped = bytearray(_zipped(files))
    with club.service.client("operator") as operator:
        for content in (b"", b"PK", b"not a zip", bytes(zipped[: len(zipped) // 2])):
            _problem(operator.post("/v1/imports?slug=other", content=content), 422, "no-copy")
        zipped[200:260] = bytes(60)
        answer = operator.post("/v1/imports?slug=other", content=bytes(zipped))
        assert answer.status_code == 422, answer.text


def test_what_is_too_large_packed_or_unpacked_is_refused(lively: Club, tmp_path: Path) -> None:
    files = _files(lively.organiser.get(f"{GROUP}/export"))
    bomb = files | {"members.json": b"[" + b" " * (20 << 20) + b"]"}
    with RunningService(tmp_path / "there", demo=False, group_import_mib=1) as other:
        _problem(other.operator.post("/v1/imports", content=_zipped(bomb)), 413, "unpacks-too-large")
        stored = files | {"tunes/noise.txt": bytes(range(256)) * 8192}
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w") as archive:
            for name, content in stored.items():
                archive.writestr(name, content)
        _problem(other.operator.post("/v1/imports", content=made.getvalue()), 413, "too-large")


def test_a_name_or_a_server_that_is_taken_is_refused(copied: tuple[Club, Files]) -> None:
    club, files = copied
    with club.service.client("operator") as operator:
        _problem(operator.post("/v1/imports", content=_zipped(files)), 409, "exists")
        _problem(
            operator.post("/v1/imports?slug=other&bind=true", content=_zipped(files)), 409, "server-bound"
        )
        _problem(operator.post("/v1/imports?slug=Other", content=_zipped(files)), 400, "bad-request")
