"""Licks out of files over HTTP: what comes out can be sent in, and is what went into the file."""

import httpx
import pytest

from tests.support import RunningService
from tests.web.test_api import GROUP, _problem

FILES = f"{GROUP}/licks/files"
OCTETS = {"Content-Type": "application/octet-stream"}


def _sent(service: RunningService, content: bytes, **query: str) -> httpx.Response:
    return service.member.post(FILES, content=content, params=query, headers=OCTETS)


@pytest.mark.parametrize("instrument", ["banjo", "guitar", "mandolin"])
def test_the_files_of_licks_of_the_pool_come_back_as_these_licks(
    demo: RunningService, instrument: str
) -> None:
    """The text that each is told as reads to the same notes, picking fingers too."""
    found = demo.member.get(f"{GROUP}/licks", params={"limit": 200, "instrument": instrument}).json()["items"]
    assert found
    for lick in found[::8]:
        file = demo.member.get(f"{GROUP}/licks/{lick['number']}/break.musicxml").content
        answer = _sent(demo, file, instrument=instrument)
        assert answer.status_code == 200, answer.text
        told = answer.json()
        assert told["name"] == f"{lick['number']} {lick['name']}"
        assert (told["meter"], told["key"], told["chords"]) == (lick["meter"], lick["key"], lick["chart"])
        read = demo.member.post(
            "/v1/tab/readings",
            json={name: told[name] for name in ("text", "instrument", "tuning", "meter")},
        ).json()
        assert read["notes"] == lick["notes"]
        assert {remark["code"] for remark in told["remarks"]} <= {"lick-left-out"}  # fingers of the left hand


def test_what_comes_out_of_a_file_can_be_sent_in(service: RunningService) -> None:
    """The pool knows it for the lick that the file was made of."""
    lick = service.member.get(f"{GROUP}/licks/1").json()
    told = _sent(service, service.member.get(f"{GROUP}/licks/1/break.musicxml").content).json()
    del told["remarks"]
    body = {**told, **{name: lick[name] for name in ("hand_style", "style", "role")}}
    made = service.member.post(f"{GROUP}/licks", json=body)
    assert made.status_code == 201, made.text
    assert (made.json()["state"], made.json()["reasons"][-1]["text"]) == ("draft", "This is lick 1.")


def test_nothing_is_kept(demo: RunningService) -> None:
    def numbers() -> list[int]:
        items = demo.member.get(f"{GROUP}/licks", params={"limit": 200}).json()["items"]
        return [one["number"] for one in items]

    before = numbers()
    assert _sent(demo, demo.member.get(f"{GROUP}/licks/1/break.musicxml").content).status_code == 200
    assert numbers() == before


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "not-musicxml"),
        (b"3|-0--|", "not-musicxml"),
        (b"PK\x03\x04", "mxl-not-unpacked"),
        (b"<score-partwise/>", "lick-no-tab-staff"),
        (b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "xml-entities"),
        (b" " * 1_000_001 + b"<a/>", "tune-file-too-large"),
    ],
)
def test_what_cannot_be_read_is_told_place_by_place(demo: RunningService, content: bytes, code: str) -> None:
    answer = _sent(demo, content)
    problem = _problem(answer, 422, "unreadable")
    assert [place["code"] for place in problem["at"]] == [code]


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ({"instrument": "zither"}, "unknown-instrument"),
        ({"tuning": "zzz"}, "unknown-tuning"),
        ({"meter": "5/4"}, "unknown-meter"),
    ],
)
def test_what_is_asked_for_must_be_known(demo: RunningService, query: dict[str, str], code: str) -> None:
    file = demo.member.get(f"{GROUP}/licks/1/break.musicxml").content
    _problem(_sent(demo, file, **query), 422, code)


def test_too_many_bytes_are_refused(demo: RunningService) -> None:
    _problem(_sent(demo, b"<" * ((1 << 20) + 1)), 413, "too-large")
