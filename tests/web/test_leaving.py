"""A group's copy: made, brought in on another service, made again; what is refused; a copy of oneself. Over real HTTP."""

import io
import wave
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.clocks import SetClock
from tests.club import GROUP, Club, running_club
from tests.support import RunningService
from tests.web.test_api import LICK

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
    for who in ("Wren", "Otter"):
        _ok(ask.post(f"{GROUP}/lessons", json={"member": number[who], "lick": 1, "due": "2026-12-01"}))
    _ok(ask.post(f"{GROUP}/members", json={"name": "Teasel", "role": "member"}))
    _ok(ask.delete(f"{GROUP}/members/{number['Kit'] + 1}"))


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
