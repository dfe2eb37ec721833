"""The API over real HTTP against a real file."""

import json
import threading
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.support import RunningService

GROUP = "/v1/groups/ferry-lane"
LICK: dict[str, Any] = {
    "name": "Oar in the lock", "text": "32514251, 3.2/4 2 5 1 (15)--", "instrument": "banjo",
    "tuning": "open-g", "meter": "2/2", "key": "G", "chords": "| G | G |", "hand_style": "three-finger",
    "style": "roll", "level": 2, "role": "body",
}  # fmt: skip
TUNE: dict[str, Any] = {
    "slug": "eel-pot", "name": "Eel Pot", "key": "A", "meter": "2/2",
    "tempo": {"low": 60, "high": 110, "start": 80, "unit": "half"},
    "chart": "A: | A | A | D | E |\nB: | D | D | A | A |", "order": "AB",
    "settings": [{"instrument": "banjo", "tuning": "open-g", "position": "G", "capo": 2, "stop": 69}],
}  # fmt: skip


def _problem(response: httpx.Response, status: int, code: str) -> dict[str, Any]:
    """The one shape of every error."""
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    found: dict[str, Any] = response.json()
    assert set(found) == {"type", "title", "status", "detail", "code", "at", "request_id"}
    assert (found["status"], found["code"]) == (status, code)
    assert found["type"] == f"urn:breakwright:problem:{code}"
    assert found["detail"]
    assert found["request_id"] == response.headers["x-request-id"]
    return found


# --- who may come in -------------------------------------------------------------------------------


def test_only_health_is_public(demo: RunningService) -> None:
    with demo.client_with(None) as nobody:
        assert nobody.get("/v1/health/live").json() == {"status": "ok"}
        assert nobody.get("/v1/health/ready").json() == {"status": "ok"}
        for path in ("/v1/instruments", "/schema/openapi.json", "/metrics", GROUP, "/nowhere"):
            response = nobody.get(path)
            _problem(response, 401, "no-token")
            assert response.headers["www-authenticate"] == "Bearer"


def test_a_wrong_token_is_refused(demo: RunningService) -> None:
    with demo.client_with("wrong") as stranger:
        _problem(stranger.get("/v1/instruments"), 401, "bad-token")


def test_a_revoked_token_is_refused_within_five_seconds(service: RunningService, tmp_path: Path) -> None:
    import sqlite3
    import time

    assert service.member.get("/v1/instruments").status_code == 200
    elsewhere = sqlite3.connect(service.house.database.path)  # as another process would
    elsewhere.execute("UPDATE tokens SET revoked = '2026-01-01' WHERE role = 'member'")
    elsewhere.commit()
    elsewhere.close()
    began = time.monotonic()
    while service.member.get("/v1/instruments").status_code == 200:
        assert time.monotonic() - began < 5
        time.sleep(0.05)
    _problem(service.member.get("/v1/instruments"), 401, "bad-token")


def test_tokens_are_kept_only_as_hashes(demo: RunningService) -> None:
    token = demo.member.headers["authorization"].split()[1]
    columns = demo.house.database.points.execute("SELECT * FROM tokens").fetchall()
    assert token not in str(columns)


def test_a_group_is_not_there_for_another_groups_member(service: RunningService) -> None:
    service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay"})
    with service.client("organiser", "quay") as stranger:
        paths = (
            "",
            "/tunes",
            "/tunes/heron-ferry",
            "/licks",
            "/licks/1",
            "/licks/1/tab.txt",
            "/breaks/00000000",
        )
        for path in paths:
            _problem(stranger.get(GROUP + path), 404, "not-found")
        for path, content in (("/licks", LICK), ("/tunes", TUNE), ("/tunes/heron-ferry/breaks/random", {})):
            _problem(stranger.post(GROUP + path, json=content), 404, "not-found")


def test_a_member_may_not_retire_what_others_sent_in(service: RunningService) -> None:
    made = service.organiser.post(f"{GROUP}/licks", json=LICK)
    assert made.status_code == 201
    _problem(service.member.delete(made.headers["location"], headers={"If-Match": "*"}), 403, "not-allowed")
    _problem(service.member.post(f"{GROUP}/tunes", json=TUNE), 403, "not-allowed")
    _problem(service.member.get("/v1/groups"), 403, "not-allowed")
    _problem(service.member.get("/metrics"), 403, "not-allowed")


def test_a_bot_without_a_member_to_act_for_reaches_no_group(service: RunningService) -> None:
    with service.client("bot") as bot:
        assert bot.post("/v1/groups", json={"slug": "quay", "name": "Quay"}).status_code == 201
        _problem(bot.get("/v1/groups/quay"), 403, "not-allowed")


# --- what is there ---------------------------------------------------------------------------------


def test_instruments_come_with_tunings_and_styles(demo: RunningService) -> None:
    items = demo.member.get("/v1/instruments").json()["items"]
    assert [i["id"] for i in items] == [
        "banjo", "guitar", "mandolin", "fiddle", "resonator-guitar", "ukulele", "upright-bass",
    ]  # fmt: skip
    banjo = items[0]
    assert banjo["tunings"][0]["pitches"] == [62, 59, 55, 50, 67]
    assert banjo["hand_styles"]["three-finger"] == ["roll", "melodic", "single-string"]
    assert banjo["short_string"] == 5


def test_a_tab_is_read_and_nothing_kept(demo: RunningService) -> None:
    text = """
1|---0|-2--------------|
2|-0--|---0------------|
3|----|-----0----------|
4|----|----------------|
5|----|-------0--------|
"""
    before = demo.member.get(f"{GROUP}/licks?limit=200").json()
    read = demo.member.post("/v1/tab/readings", json={"text": text, "instrument": "banjo", "meter": "2/4"})
    assert read.status_code == 200
    found = read.json()
    assert [(n["measure"], n["onset"], n["string"], n["fret"], n["pitch"]) for n in found["notes"]] == [
        (0, 720, 2, 0, 59), (0, 840, 1, 0, 62),
        (1, 0, 1, 2, 64), (1, 120, 2, 0, 59), (1, 240, 3, 0, 55), (1, 360, 5, 0, 67),
    ]  # fmt: skip
    assert found["measures"] == 1
    assert found["line"] == "2 1; 1.2 2 3 5 - - - -"
    assert [w["code"] for w in found["warnings"]] == ["assumed"]
    again = demo.member.post("/v1/tab/readings", json={"text": found["tidy"], "instrument": "banjo"}).json()
    assert again["notes"] == found["notes"]
    assert demo.member.get(f"{GROUP}/licks?limit=200").json() == before


def test_a_tab_that_cannot_be_read_says_where_why_and_what_to_type(demo: RunningService) -> None:
    text = "1|-0-q-----|\n2|---------|\n3|---------|\n4|---------|\n5|---------|"
    answer = demo.member.post("/v1/tab/readings", json={"text": text, "instrument": "banjo"})
    (place,) = _problem(answer, 422, "unreadable")["at"]
    assert (place["code"], place["line"], place["column"], place["measure"]) == ("unknown-mark", 1, 6, 1)
    assert "q" in place["text"]
    assert place["advice"].startswith("Use frets")
    assert place["excerpt"] == "1|-0-q-----|"


# --- requests that are wrong -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "path"),
    [
        ({"text": "3251"}, "instrument"),
        ({"text": "3251", "instrument": 5}, "instrument"),
        ({"text": "3251", "instrument": "banjo", "colour": 1}, "colour"),
        ({"text": "3251", "instrument": "banjo", "measures": 0}, "measures"),
        ({"text": "", "instrument": "banjo"}, "text"),
    ],
)
def test_a_body_that_is_not_of_its_schema_names_the_field(
    demo: RunningService, content: dict[str, object], path: str
) -> None:
    found = _problem(demo.member.post("/v1/tab/readings", json=content), 400, "bad-request")
    assert path in json.dumps([found["at"], found["detail"]])


@pytest.mark.parametrize(
    ("content", "code", "says"),
    [
        (
            {"text": "3251", "instrument": "banjo", "measures": 0},
            "field-too-small",
            "measures: give 1 or more.",
        ),
        ({"text": "3251"}, "field-not-given", "instrument: it is not given."),
        (
            {"text": "3251", "instrument": "banjo", "colour": 1},
            "field-unknown",
            "colour: nothing of that name is known here.",
        ),
    ],
)
def test_what_is_wrong_with_a_field_is_said_in_words(
    demo: RunningService, content: dict[str, object], code: str, says: str
) -> None:
    found = _problem(demo.member.post("/v1/tab/readings", json=content), 400, "bad-request")
    assert found["detail"] == f"That cannot be used as it is: {says}"
    assert [(place["code"], place["text"]) for place in found["at"]] == [(code, says)]


def test_what_the_framework_refuses_has_the_same_shape(demo: RunningService) -> None:
    _problem(demo.member.get("/v1/nowhere"), 404, "no-route")
    _problem(demo.member.delete("/v1/instruments"), 405, "no-method")
    broken = demo.member.post(
        "/v1/tab/readings", content=b"{not json", headers={"Content-Type": "application/json"}
    )
    _problem(broken, 400, "bad-request")
    _problem(demo.member.get(f"{GROUP}/licks?limit=9999"), 400, "bad-request")
    _problem(demo.member.get(f"{GROUP}/licks/none"), 404, "no-route")
    _problem(demo.member.get(f"{GROUP}/licks?cursor=%FF"), 400, "bad-cursor")
    _problem(demo.member.get(f"{GROUP}/licks?cursor=YWJj"), 400, "bad-cursor")


def test_a_body_over_the_cap_is_refused(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True, max_body_bytes=2000) as small:
        big = small.member.post("/v1/tab/readings", json={"text": "3" * 5000, "instrument": "banjo"})
        _problem(big, 413, "too-large")


def test_errors_come_in_the_language_asked_for_or_english(demo: RunningService) -> None:
    answer = demo.member.get(f"{GROUP}/licks/99999", headers={"Accept-Language": "xx-YY"})
    assert _problem(answer, 404, "not-found")["detail"].startswith("There is no such lick here.")


def test_bodies_that_are_no_plain_json_are_refused(demo: RunningService) -> None:
    path = "/v1/tab/readings"
    _problem(demo.member.post(path, data={"text": "3251"}), 415, "unsupported-type")
    _problem(demo.member.post(path), 400, "bad-request")
    deep = demo.member.post(path, content=b"[" * 100_000, headers={"Content-Type": "application/json"})
    assert deep.status_code == 400
    assert deep.headers["content-type"] == "application/problem+json"
    wrong = demo.member.post(
        path, content=b'{"text":"\xff","instrument":"banjo"}', headers={"Content-Type": "application/json"}
    )
    _problem(wrong, 400, "bad-request")
    allowed = demo.member.delete("/v1/instruments").headers["allow"]
    assert "GET" in allowed


def test_the_frameworks_own_pages_are_not_there(demo: RunningService) -> None:
    for path in ("/schema", "/schema/swagger", "/schema/nonsense", "/framework-schema"):
        _problem(demo.member.get(path), 404, "no-route")


def test_a_database_that_is_gone_is_said_in_the_one_shape(tmp_path: Path) -> None:
    with RunningService(tmp_path, demo=True) as broken:
        broken.house.database.points.close()
        broken.house.database.commits += 1  # nothing looked up before is good any more
        response = broken.member.get("/v1/instruments")
        assert response.headers["retry-after"] == "30"
        _problem(response, 503, "storage-trouble")
        ready = broken.member.get("/v1/health/ready")
        _problem(ready, 503, "not-ready")


# --- groups ----------------------------------------------------------------------------------------


def test_a_group_is_made_read_and_changed(service: RunningService) -> None:
    sent = {"slug": "quay", "name": "Quay", "platform": "chat", "server_id": "12"}
    made = service.operator.post("/v1/groups", json=sent)
    assert made.status_code == 201
    assert made.headers["location"] == "/v1/groups/quay"
    assert made.headers["etag"] == '"1"'
    assert service.operator.get("/v1/groups/quay").json() == made.json()
    changed = service.operator.patch(
        "/v1/groups/quay", json={"name": "The Quay"}, headers={"If-Match": '"1"'}
    )
    assert (changed.json()["name"], changed.headers["etag"]) == ("The Quay", '"2"')
    _problem(
        service.operator.patch("/v1/groups/quay", json={"name": "X"}, headers={"If-Match": '"1"'}),
        412,
        "changed",
    )
    _problem(service.operator.patch("/v1/groups/quay", json={"name": "X"}), 428, "if-match-needed")
    _problem(service.operator.post("/v1/groups", json={"slug": "quay", "name": "Again"}), 409, "exists")
    taken = {"slug": "other", "name": "O", "platform": "chat", "server_id": "12"}
    _problem(service.operator.post("/v1/groups", json=taken), 409, "server-bound")
    names = [group["slug"] for group in service.operator.get("/v1/groups").json()["items"]]
    assert names == ["ferry-lane", "quay"]


def test_a_group_needs_an_instrument_that_exists(demo: RunningService) -> None:
    sent = {"slug": "quay", "name": "Quay", "instrument": "kazoo"}
    found = _problem(demo.operator.post("/v1/groups", json=sent), 422, "unknown-instrument")
    assert "banjo" in found["detail"]


# --- tunes -----------------------------------------------------------------------------------------


def test_a_tune_is_added_read_changed_and_hidden(service: RunningService) -> None:
    organiser = service.organiser
    made = organiser.post(f"{GROUP}/tunes", json=TUNE)
    assert made.status_code == 201, made.text
    shown = made.json()
    assert [p["role"] for p in shown["phrases"]] == ["opener", "body", "body", "tag"]
    assert [p["chords"] for p in shown["phrases"]] == ["A", "D E", "D", "A"]
    assert organiser.get(f"{GROUP}/tunes/eel-pot").json() == shown
    body = {k: v for k, v in TUNE.items() if k != "slug"} | {"order": "AABB"}
    changed = organiser.put(f"{GROUP}/tunes/eel-pot", json=body, headers={"If-Match": made.headers["etag"]})
    assert (changed.json()["revision"], len(changed.json()["phrases"])) == (2, 8)
    _problem(organiser.put(f"{GROUP}/tunes/eel-pot", json=body, headers={"If-Match": '"1"'}), 412, "changed")
    assert organiser.delete(f"{GROUP}/tunes/eel-pot", headers={"If-Match": '"2"'}).status_code == 204
    _problem(organiser.get(f"{GROUP}/tunes/eel-pot"), 404, "not-found")
    assert organiser.post(f"{GROUP}/tunes", json=TUNE).json()["revision"] == 3


@pytest.mark.parametrize(
    ("change", "code", "place"),
    [
        ({"chart": "A: | A | H |"}, "unreadable", "chart-chord"),
        ({"order": "ABC"}, "bad-tune", "no-such-part"),
        ({"cuts": {"A": [2, 3]}}, "bad-tune", "cuts-do-not-add-up"),
        ({"melody": "A: | A4 A4 | A8 | A8 |"}, "bad-tune", "melody-measures"),
        ({"melody": "Z: | A8 |"}, "bad-tune", "melody-part"),
        ({"roles": [{"part": "A", "phrase": 7, "role": "tag"}]}, "bad-tune", "bad-role"),
        (
            {"settings": [{"instrument": "banjo", "position": "G", "capo": 3}]},
            "position-does-not-sound",
            None,
        ),
        ({"key": "Q"}, "unknown-key", None),
        ({"meter": "7/8"}, "unknown-meter", None),
        ({"tempo": {"low": 90, "high": 80, "start": 85, "unit": "half"}}, "bad-tune", "tempo-out-of-order"),
    ],
)
def test_a_tune_that_does_not_hold_together_is_refused_with_the_place(
    demo: RunningService, change: dict[str, Any], code: str, place: str | None
) -> None:
    found = _problem(demo.organiser.post(f"{GROUP}/tunes", json=TUNE | change), 422, code)
    assert place is None or place in [at["code"] for at in found["at"]]
    assert all(at["advice"] for at in found["at"])


# --- licks -----------------------------------------------------------------------------------------


def test_a_lick_is_submitted_read_revised_and_retired(service: RunningService) -> None:
    made = service.organiser.post(f"{GROUP}/licks", json=LICK)
    assert made.status_code == 201, made.text
    where, shown = made.headers["location"], made.json()
    assert (shown["number"], shown["revision"], shown["measures"]) == (185, 1, 2)
    assert shown["fit"]["score"] > 0.9
    assert shown["line"] == "G 3 2 5 1 4 2 5 1, 3.2 /4 2 5 1 (1 5) - -"
    kept = service.member.get(where)
    once = {"warnings": [], "cautions": []}
    assert kept.json() | once == shown | once
    changed = service.organiser.put(
        where, json=LICK | {"level": 3}, headers={"If-Match": kept.headers["etag"]}
    )
    assert (changed.json()["revision"], changed.json()["level"]) == (2, 3)
    revisions = service.member.get(f"{where}/revisions").json()["items"]
    assert [r["revision"] for r in revisions] == [2, 1]
    assert service.organiser.delete(where, headers={"If-Match": '"2"'}).status_code == 204
    assert service.member.get(where).json()["state"] == "retired"
    _problem(service.organiser.delete(where, headers={"If-Match": '"2"'}), 404, "not-found")


def test_a_lick_has_a_tab_for_phones_and_for_wide_screens(demo: RunningService) -> None:
    phone = demo.member.get(f"{GROUP}/licks/1/tab.txt")
    assert phone.headers["content-type"].startswith("text/plain")
    assert max(len(line) for line in phone.text.splitlines()) <= 28
    wide = demo.member.get(f"{GROUP}/licks/1/tab.txt?layout=wide&width=100")
    assert len(wide.text.splitlines()) < len(phone.text.splitlines())
    sent = {"text": wide.text, "instrument": "banjo"}
    read = demo.member.post("/v1/tab/readings", json=sent).json()
    assert read["notes"] == demo.member.get(f"{GROUP}/licks/1").json()["notes"]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"text": "3251425, 32514251"}, "measure-length"),
        ({"chords": "| G | G | G |"}, "chords-length"),
        ({"hand_style": "flatpick"}, "wrong-hand-style"),
        ({"style": "tremolo"}, "wrong-style"),
        ({"text": "3214; 32514251, 32514251"}, "pickup-too-long"),
        ({"text": "5.3 1------, 1-------", "chords": "| G | G |", "tuning": "nowhere"}, "unknown-tuning"),
        ({"chords": "| G | J |"}, "chart-chord"),
    ],
)
def test_a_lick_that_cannot_stand_is_refused_with_its_reason(
    demo: RunningService, change: dict[str, Any], code: str
) -> None:
    response = demo.member.post(f"{GROUP}/licks", json=LICK | change)
    assert response.status_code == 422
    found = response.json()
    assert code in [found["code"], *(at["code"] for at in found["at"])]


@pytest.mark.parametrize(
    "text", ["; 3'; 32514251", "; 32514 2' ; 32514251", "32514251, 3 2 5';", "3 2 5 1 4 2 5 1', 32514251"]
)
def test_a_lick_with_measures_that_cannot_be_printed_is_refused_and_not_stored(
    demo: RunningService, text: str
) -> None:
    for chords in ("| (1/16) G | G |", "| G | G |", "| (1/2) G | G |"):
        answer = demo.member.post(f"{GROUP}/licks", json=LICK | {"text": text, "chords": chords})
        assert answer.status_code == 422
    assert demo.member.get(f"{GROUP}/licks?limit=200").json()["items"][-1]["number"] == 184


def test_a_lick_may_begin_with_half_a_measure_and_keeps_its_bars(service: RunningService) -> None:
    sent = LICK | {"text": "; 3251; 32514251", "chords": "| (1/2) G | G |"}
    made = service.member.post(f"{GROUP}/licks", json=sent)
    assert made.status_code == 201, made.text
    assert made.json()["line"] == "; G 3 2 5 1; 3 2 5 1 4 2 5 1"
    assert [n["onset"] for n in made.json()["notes"] if n["measure"] == 2][:2] == [0, 240]


def test_an_edit_names_its_revision_as_the_standard_says(service: RunningService) -> None:
    made = service.organiser.post(f"{GROUP}/licks", json=LICK)
    where = made.headers["location"]

    def edit(tag: str) -> int:
        return service.organiser.put(where, json=LICK, headers={"If-Match": tag}).status_code

    assert [edit('W/"1"'), edit('"*"'), edit("1"), edit('"7"')] == [412] * 4
    assert edit('"9", "1"') == 200
    assert edit("*") == 200
    service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay"})
    with service.client("organiser", "quay") as stranger:
        _problem(stranger.delete(where), 404, "not-found")


def test_the_pool_comes_in_pages_that_follow_each_other(demo: RunningService) -> None:
    numbers: list[int] = []
    path: str | None = f"{GROUP}/licks?limit=40&instrument=banjo"
    pages = 0
    while path:
        response = demo.member.get(path)
        numbers += [item["number"] for item in response.json()["items"]]
        following = response.links.get("next")
        assert (following is None) == (response.json()["next"] is None)
        path = following["url"] if following else None
        pages += 1
    assert numbers == list(range(1, 131))
    assert pages == 4


# --- doing a thing once ----------------------------------------------------------------------------


def test_repeating_a_submission_with_its_key_makes_one_lick(service: RunningService) -> None:
    key = {"Idempotency-Key": "a1"}
    first = service.member.post(f"{GROUP}/licks", json=LICK, headers=key)
    again = service.member.post(f"{GROUP}/licks", json=LICK, headers=key)
    assert (again.status_code, again.json(), again.headers["location"]) == (
        201,
        first.json(),
        first.headers["location"],
    )
    assert again.headers["idempotent-replay"] == "true"
    _problem(service.member.post(f"{GROUP}/licks", json=LICK | {"level": 1}, headers=key), 409, "key-reused")
    assert service.organiser.post(f"{GROUP}/licks", json=LICK, headers=key).json()["number"] == 186


def test_the_same_key_sent_many_times_at_once_still_makes_one(service: RunningService) -> None:
    numbers: list[int] = []

    def send() -> None:
        with service.client_with(service.member.headers["authorization"].split()[1]) as client:
            answer = client.post(f"{GROUP}/licks", json=LICK, headers={"Idempotency-Key": "b2"})
            numbers.append(answer.json()["number"])

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert numbers == [185] * 8


def test_a_key_that_failed_may_be_used_again(service: RunningService) -> None:
    key = {"Idempotency-Key": "c3"}
    _problem(service.member.post(f"{GROUP}/licks", json=LICK | {"key": "Q"}, headers=key), 422, "unknown-key")
    assert service.member.post(f"{GROUP}/licks", json=LICK, headers=key).status_code == 201
