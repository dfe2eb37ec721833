"""Lessons and practice over real HTTP: who sees what, what comes next, progress in numbers and as a picture."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from typing import Any

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from service.groups.work_ups import Pass, next_tempo
from service.sentences import SENTENCES
from service.usecases.practice import PLAY_CAUTION_MIN
from tests.support import RunningService
from tests.web.test_api import GROUP, _problem
from tests.web.test_description import _holds

LOGS = f"{GROUP}/practice-logs"
TODAY = date(2026, 3, 6)


@pytest.fixture
def friday(service: RunningService) -> RunningService:
    """A service whose clock stands still on a Friday."""
    service.house.clock = lambda: datetime(2026, 3, 6, 12, tzinfo=UTC)
    return service


@pytest.fixture
def otter(friday: RunningService) -> Iterator[httpx.Client]:
    with friday.client("member", "ferry-lane", "Otter") as client:
        yield client


@pytest.fixture
def teacher(friday: RunningService) -> Iterator[httpx.Client]:
    with friday.client("organiser", "ferry-lane", "Teal") as client:
        yield client


def _number(client: httpx.Client, name: str) -> int:
    members = client.get(f"{GROUP}/members").json()["items"]
    return next(int(member["number"]) for member in members if member["name"] == name)


def _log(client: httpx.Client, **sent: Any) -> dict[str, Any]:
    answer = client.post(LOGS, json={"lick": 1, "bpm": 60, "clean": True, **sent})
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _day(ago: int) -> str:
    return (TODAY - timedelta(ago)).isoformat()


def _code(service: RunningService) -> str:
    drawn = service.member.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 1})
    return str(drawn.json()["code"])


# --- lessons ---------------------------------------------------------------------------------------


def _set(client: httpx.Client, member: int, **sent: Any) -> httpx.Response:
    return client.post(f"{GROUP}/lessons", json={"lick": 1, "due": "2026-03-13", "member": member, **sent})


def test_a_lesson_is_seen_by_its_teacher_and_its_member_until_the_member_shares_it(
    friday: RunningService, teacher: httpx.Client, otter: httpx.Client
) -> None:
    wren = _number(teacher, "Wren")
    made = _set(teacher, wren, comment="Slowly, thumb first.", level=2)
    assert made.status_code == 201, made.text
    lesson = made.json()
    where = made.headers["location"]
    assert (lesson["lick"], lesson["due"], lesson["level"], lesson["shared"]) == (1, "2026-03-13", 2, False)
    with friday.client("organiser", "ferry-lane", "Heron") as other_organiser:
        for client, sees in (
            (teacher, True),
            (friday.member, True),
            (otter, False),
            (other_organiser, False),
        ):
            listed = client.get(f"{GROUP}/lessons?member={wren}").json()["items"]
            assert listed == ([lesson] if sees else [])
            assert client.get(where).status_code == (200 if sees else 404)
        _problem(teacher.patch(where, json={"shared": True}), 403, "own-lesson")
        _problem(other_organiser.patch(where, json={"shared": True}), 404, "not-found")
        shared = friday.member.patch(where, json={"shared": True})
        assert shared.json() == {**lesson, "shared": True}
        for client in (otter, other_organiser):
            assert client.get(where).json() == {**lesson, "shared": True, "level": None}
        done = friday.member.patch(where, json={"done": True, "shared": False}).json()
        assert (done["done"], done["shared"]) == (True, False)
        _problem(other_organiser.get(where), 404, "not-found")
    told = [entry["action"] for entry in teacher.get(f"{GROUP}/audit").json()["items"]]
    assert not any("lesson" in action for action in told)


def test_members_set_lessons_for_themselves_alone(friday: RunningService, otter: httpx.Client) -> None:
    wren = _number(friday.member, "Wren")
    own = _set(friday.member, wren, lick=None, **{"break": _code(friday).lower()}, phrase=16)
    assert (own.json()["break"], own.json()["phrase"]) == (_code(friday), 16)
    assert own.json()["teacher"] == wren
    _problem(_set(otter, wren), 403, "not-allowed")
    _problem(_set(friday.organiser, wren), 403, "no-member")  # a token that belongs to nobody


@pytest.mark.parametrize(
    ("sent", "status", "code"),
    [
        ({"lick": None}, 422, "what-piece"),
        ({"break": "7P5MNCRY"}, 422, "what-piece"),
        ({"phrase": 2}, 422, "what-piece"),
        ({"lick": None, "break": "00000000"}, 404, "not-found"),
        ({"lick": 99999}, 404, "not-found"),
        ({"member": 99}, 404, "not-found"),
        ({"due": "soon"}, 400, "bad-request"),
    ],
)
def test_a_lesson_is_about_something_that_is_there(
    friday: RunningService, teacher: httpx.Client, sent: dict[str, Any], status: int, code: str
) -> None:
    _problem(_set(teacher, **{"member": 1, **sent}), status, code)


def test_a_phrase_that_the_tune_does_not_have_is_refused(friday: RunningService) -> None:
    wren = _number(friday.member, "Wren")
    refused = _set(friday.member, wren, lick=None, phrase=17, **{"break": _code(friday)})
    assert _problem(refused, 404, "no-such-phrase")["detail"].startswith("There is no phrase 17.")


# --- logs ------------------------------------------------------------------------------------------


def test_a_log_says_which_tempo_comes_next_in_the_same_beat(friday: RunningService) -> None:
    """Up a step after three clean passes running, back two after two that were not; a lick is led to the usual tempo, 84."""
    told = [
        _log(friday.member, bpm=bpm, clean=clean, passes=passes)["next"]
        for bpm, clean, passes in ((60, True, 1), (60, True, 2), (64, False, 2), (90, True, 3))
    ]
    assert [(one["bpm"], one["unit"], one["code"]) for one in told] == [
        (60, "half", "stay"), (64, "half", "step-up"), (56, "half", "ease-off"), (84, "half", "goal-reached"),
    ]  # fmt: skip
    assert told[1]["text"] == "Clean three times running: next is half = 64."


@given(
    st.lists(st.builds(Pass, st.integers(40, 100), st.booleans()), max_size=6),
    st.integers(50, 100),
    st.integers(0, 30),
)
def test_whatever_comes_next_can_be_said(passes: list[Pass], goal: int, days: int) -> None:
    assert f"work-up-{next_tempo(passes, goal, goal // 2, days).code}" in SENTENCES


def test_after_a_pause_a_log_of_then_leads_back_a_step_lower(friday: RunningService) -> None:
    following = _log(friday.member, bpm=60, passes=3, day=_day(15))["next"]
    assert (following["bpm"], following["code"]) == (56, "come-back")


def test_a_break_and_its_loop_are_logged_in_the_beat_of_their_tune(friday: RunningService) -> None:
    code = _code(friday)
    whole = _log(friday.member, lick=None, **{"break": code})
    loop = _log(friday.member, lick=None, phrase=3, **{"break": code.lower()})
    assert [(one["break"], one["phrase"], one["unit"]) for one in (whole, loop)] == [
        (code, None, "half"), (code, 3, "half"),
    ]  # fmt: skip


def test_logs_are_ones_own_newest_first_and_can_be_taken_away(
    friday: RunningService, otter: httpx.Client
) -> None:
    first, second = _log(friday.member, bpm=60), _log(friday.member, bpm=64)
    _log(otter, bpm=100)
    page = friday.member.get(f"{LOGS}?limit=1").json()
    older = friday.member.get(f"{LOGS}?limit=1&cursor={page['next']}").json()
    assert [log["bpm"] for log in page["items"] + older["items"]] == [64, 60]
    assert older["next"] is None
    _problem(otter.delete(f"{LOGS}/{first['id']}"), 404, "not-found")
    assert friday.member.delete(f"{LOGS}/{first['id']}").status_code == 204
    assert [log["id"] for log in friday.member.get(LOGS).json()["items"]] == [second["id"]]
    _problem(friday.organiser.get(LOGS), 403, "no-member")


def test_a_log_sent_twice_with_one_key_is_kept_once(friday: RunningService) -> None:
    sent = {"lick": 1, "bpm": 60, "clean": True}
    answers = [
        friday.member.post(LOGS, json=sent, headers={"Idempotency-Key": "once"}).json() for _ in range(2)
    ]
    assert answers[0] == answers[1]
    assert len(friday.member.get(LOGS).json()["items"]) == 1


@pytest.mark.parametrize(
    ("sent", "status", "code"),
    [
        ({"day": "2026-03-07"}, 422, "day-to-come"),
        ({"lick": 99999}, 404, "not-found"),
        ({"lick": None}, 422, "what-piece"),
        ({"passes": 0}, 400, "bad-request"),
        ({"minutes": 1441}, 400, "bad-request"),
    ],
)
def test_a_log_is_of_something_that_was_played(
    friday: RunningService, sent: dict[str, Any], status: int, code: str
) -> None:
    _problem(friday.member.post(LOGS, json={"lick": 1, "bpm": 60, "clean": True, **sent}), status, code)


def test_a_lick_that_was_taken_down_is_not_practised_and_what_was_logged_stays(
    friday: RunningService,
) -> None:
    _log(friday.member, bpm=60)
    friday.organiser.put(f"{GROUP}/licks/1/taken-down", json={"reason": "why"}, headers={"If-Match": "*"})
    refused = friday.member.post(LOGS, json={"lick": 1, "bpm": 60, "clean": True})
    _problem(refused, 451, "taken-down")
    assert friday.member.get(f"{LOGS}/progress?lick=1").json()["pieces"][0]["best"]["bpm"] == 60


def test_a_long_day_brings_a_caution_and_a_long_week_does_not(friday: RunningService) -> None:
    half = PLAY_CAUTION_MIN // 2
    assert _log(friday.member, minutes=half)["cautions"] == []
    assert _log(friday.member, minutes=PLAY_CAUTION_MIN, day=_day(1))["cautions"] == []
    assert _log(friday.member, minutes=half)["cautions"] == []
    over = _log(friday.member, minutes=2)["cautions"]
    assert [caution["code"] for caution in over] == ["caution-long-day"]
    assert over[0]["text"].startswith(f"{2 * half + 2} minutes are logged for that day.")


# --- progress --------------------------------------------------------------------------------------


def test_progress_tells_best_clean_tempos_days_and_minutes(friday: RunningService) -> None:
    for ago, bpm, clean, minutes in (
        (30, 50, True, 10), (9, 60, True, 5), (9, 58, True, 5), (8, 80, False, 20), (2, 66, True, None), (0, 64, True, 7),
    ):  # fmt: skip
        _log(friday.member, bpm=bpm, clean=clean, minutes=minutes, day=_day(ago))
    _log(friday.member, lick=2, bpm=90, clean=False, day=_day(2))
    found = friday.member.get(f"{LOGS}/progress").json()
    first, second = found["pieces"]
    assert first["rises"] == [
        {"day": _day(30), "bpm": 50}, {"day": _day(9), "bpm": 60}, {"day": _day(2), "bpm": 66},
    ]  # fmt: skip
    assert first["best"] == {"day": _day(2), "bpm": 66}
    assert (first["lick"], first["unit"], first["days"]) == (1, "half", 5)
    assert (second["lick"], second["best"], second["rises"]) == (2, None, [])
    assert (found["days_played"], found["of_days"]) == (4, 28)
    assert [week for week in found["weeks"] if week["minutes"]] == [
        {"week": "2026-02-02", "minutes": 10}, {"week": "2026-02-23", "minutes": 30}, {"week": "2026-03-02", "minutes": 7},
    ]  # fmt: skip
    assert len(found["weeks"]) == 12
    assert [caution["code"] for caution in found["cautions"]] == ["caution-playing"]
    one = friday.member.get(f"{LOGS}/progress?lick=2").json()
    assert [piece["lick"] for piece in one["pieces"]] == [2]
    assert one["days_played"] == 1


def test_progress_is_private_until_it_is_shared(friday: RunningService, otter: httpx.Client) -> None:
    wren = _number(otter, "Wren")
    _log(friday.member, bpm=60)
    asked = (f"{LOGS}/progress?member={wren}", f"{LOGS}/progress.png?member={wren}&lick=1")
    for path in asked:
        _problem(otter.get(path), 404, "not-found")
    assert friday.member.get(f"{GROUP}/members/{wren}/practice").json() == {
        "shared": False,
        "reminders": False,
    }
    own = friday.member.put(f"{GROUP}/members/{wren}/practice", json={"shared": True, "reminders": False})
    assert own.json() == {"shared": True, "reminders": False}
    for path in asked:
        assert otter.get(path).status_code == 200
    assert otter.get(asked[0]).json()["pieces"][0]["best"]["bpm"] == 60
    _problem(otter.get(f"{GROUP}/members/{wren}/practice"), 404, "not-found")
    stranger = otter.put(f"{GROUP}/members/{wren}/practice", json={"shared": False, "reminders": False})
    _problem(stranger, 404, "not-found")
    assert otter.get(LOGS).json()["items"] == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_picture_shows_clean_tempos_as_wide_as_a_phone(friday: RunningService, theme: str) -> None:
    for ago, bpm in ((20, 60), (12, 64), (12, 70), (3, 66), (0, 78)):
        _log(friday.member, bpm=bpm, day=_day(ago))
    answer = friday.member.get(f"{LOGS}/progress.png?lick=1&theme={theme}")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/png")
    shown = Image.open(BytesIO(answer.content)).convert("RGB")
    assert shown.width == 878
    paper = {"light": (255, 255, 255), "dark": (25, 27, 30)}[theme]
    accent = {"light": (122, 59, 22), "dark": (240, 168, 120)}[theme]
    colours = {colour: count for count, colour in shown.getcolors(1 << 24)}
    assert colours[paper] > 0.8 * shown.width * shown.height
    assert colours[accent] > 2000  # the line of the best
    same = friday.member.get(
        f"{LOGS}/progress.png?lick=1&theme={theme}", headers={"If-None-Match": answer.headers["etag"]}
    )
    assert same.status_code == 304
    told = friday.member.get(f"{LOGS}/progress?lick=1").json()["picture"]
    assert told == (
        "Lick 1: clean passes from 2026-02-14 to 2026-03-06. The best was 60 at first and is 78 at the last, in half notes "
        "a minute."
    )


def test_a_picture_of_nothing_clean_says_so_and_one_of_everything_is_refused(friday: RunningService) -> None:
    _log(friday.member, clean=False)
    assert friday.member.get(f"{LOGS}/progress.png?lick=1").status_code == 200
    assert (
        friday.member.get(f"{LOGS}/progress?lick=1").json()["picture"] == "Lick 1: No clean pass is logged."
    )
    _problem(friday.member.get(f"{LOGS}/progress.png"), 422, "nothing-to-plot")


# --- reminders -------------------------------------------------------------------------------------


def test_what_is_played_from_memory_comes_up_again_for_who_asked(friday: RunningService) -> None:
    wren = _number(friday.member, "Wren")
    mine = f"{GROUP}/members/{wren}/practice"
    _log(friday.member, from_memory=True, day=_day(90))
    assert friday.member.get(f"{LOGS}/due").json()["items"] == []  # nobody asked
    friday.member.put(mine, json={"shared": False, "reminders": True})
    _log(friday.member, lick=1, day=_day(90))  # with the tab before it
    _log(friday.member, lick=2, from_memory=True, day=_day(90))
    _log(friday.member, lick=3, without_tab=True, clean=True, day=_day(0))
    found = friday.member.get(f"{LOGS}/due").json()["items"]
    assert [(one["lick"], one["due"] <= TODAY.isoformat()) for one in found] == [(2, True)]
    later = _log(friday.member, lick=2, from_memory=True)
    assert later["from_memory"]
    assert friday.member.get(f"{LOGS}/due").json()["items"] == []
    friday.house.clock = lambda: datetime(2027, 3, 6, 12, tzinfo=UTC)
    assert [one["lick"] for one in friday.member.get(f"{LOGS}/due").json()["items"]] == [3, 2]
    friday.member.put(mine, json={"shared": False, "reminders": False})
    assert friday.member.get(f"{LOGS}/due").json()["items"] == []


def test_what_is_lost_comes_up_sooner_than_what_was_kept(friday: RunningService) -> None:
    wren = _number(friday.member, "Wren")
    friday.member.put(f"{GROUP}/members/{wren}/practice", json={"shared": False, "reminders": True})
    for lick in (1, 2):
        for ago in (60, 50, 40):
            _log(friday.member, lick=lick, from_memory=True, day=_day(ago))
    _log(friday.member, lick=1, from_memory=True, clean=False)
    _log(friday.member, lick=2, from_memory=True, clean=True)
    friday.house.clock = lambda: datetime(2027, 3, 6, 12, tzinfo=UTC)
    lost, kept = friday.member.get(f"{LOGS}/due").json()["items"]
    assert (lost["lick"], kept["lick"]) == (1, 2)
    assert lost["step"] < kept["step"]


def test_answers_hold_to_their_schemas(friday: RunningService) -> None:
    description = friday.member.get("/schema/openapi.json").json()
    wren = _number(friday.member, "Wren")
    choices = {"shared": False, "reminders": True}
    for name, answer in {
        "PracticeChoicesOut": friday.member.put(f"{GROUP}/members/{wren}/practice", json=choices).json(),
        "LessonOut": _set(friday.member, wren).json(),
        "LessonList": friday.member.get(f"{GROUP}/lessons").json(),
        "LoggedOut": _log(friday.member, minutes=PLAY_CAUTION_MIN + 1, from_memory=True, day=_day(90)),
        "LogList": friday.member.get(LOGS).json(),
        "ProgressOut": friday.member.get(f"{LOGS}/progress?lick=1").json(),
        "DueList": friday.member.get(f"{LOGS}/due").json(),
    }.items():
        _holds(description, name, answer)
        assert answer.get("items") != []


def test_a_lesson_is_taken_back_by_who_set_it_or_whose_it_is_and_by_nobody_else(
    friday: RunningService, otter: httpx.Client, teacher: httpx.Client
) -> None:
    wren = _number(teacher, "Wren")
    for number in (1, 2):
        lesson = {"member": wren, "lick": number, "due": "2026-03-13"}
        assert teacher.post(f"{GROUP}/lessons", json=lesson).status_code == 201
    _problem(otter.delete(f"{GROUP}/lessons/1"), 404, "not-found")
    friday.member.patch(f"{GROUP}/lessons/1", json={"shared": True})
    _problem(otter.delete(f"{GROUP}/lessons/1"), 403, "own-lesson")
    assert teacher.delete(f"{GROUP}/lessons/1").status_code == 204
    assert friday.member.delete(f"{GROUP}/lessons/2").status_code == 204
    assert friday.member.get(f"{GROUP}/lessons").json()["items"] == []
