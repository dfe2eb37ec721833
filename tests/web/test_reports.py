"""Reports of licks over real HTTP: who may write, read and answer them, and that they hide nothing."""

from typing import Any

import httpx

from tests.support import RunningService
from tests.web.test_api import GROUP, _problem

RIGHTS = {"reason": "rights", "text": "That is note for note from a record."}


def _report(client: httpx.Client, lick: int, sent: dict[str, Any] = RIGHTS) -> dict[str, Any]:
    answer = client.post(f"{GROUP}/licks/{lick}/reports", json=sent)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _answer(service: RunningService, report: int, decision: str, text: str = "We looked.") -> httpx.Response:
    sent = {"decision": decision, "text": text}
    return service.organiser.post(f"{GROUP}/reports/{report}/answer", json=sent)


def _open(service: RunningService) -> list[int]:
    return [one["id"] for one in service.organiser.get(f"{GROUP}/reports?status=open").json()["items"]]


def test_a_report_hides_nothing_and_repeating_it_says_it_otherwise(service: RunningService) -> None:
    first = _report(service.member, 8)
    assert first | {"id": 0, "created": ""} == {
        "id": 0, "lick": 8, "by": "Wren", "reason": "rights", "text": RIGHTS["text"], "about": None, "created": "",
        "decision": None, "answer": None, "answered": None,
    }  # fmt: skip
    assert service.member.get(f"{GROUP}/licks/8").json()["state"] == "pool"
    again = _report(service.member, 8, {"reason": "wrong", "text": "The third note."})
    assert (again["id"], again["reason"], again["text"]) == (first["id"], "wrong", "The third note.")
    with service.client("member", "ferry-lane", "Sorrel") as other:
        second = _report(other, 8, {"reason": "unkind"})
        assert second["id"] != first["id"]
        # members see their own
        seen = other.get(f"{GROUP}/licks/8/reports").json()["items"]
        assert [one["id"] for one in seen] == [second["id"]]
        _problem(other.get(f"{GROUP}/reports"), 403, "not-allowed")
        _problem(
            other.post(f"{GROUP}/reports/{first['id']}/answer", json={"decision": "kept", "text": "No."}),
            403,
            "not-allowed",
        )
    seen = service.organiser.get(f"{GROUP}/licks/8/reports").json()["items"]
    assert [one["id"] for one in seen] == [second["id"], first["id"]] == _open(service)
    page = service.organiser.get(f"{GROUP}/reports?limit=1")
    following = service.organiser.get(page.links["next"]["url"]).json()
    assert [one["id"] for one in following["items"]] == [first["id"]]


def test_a_token_of_nobody_reports_nothing(service: RunningService) -> None:
    with service.client("member", "ferry-lane") as nobody:
        _problem(nobody.post(f"{GROUP}/licks/8/reports", json=RIGHTS), 403, "no-member")
    _problem(service.member.post(f"{GROUP}/licks/9999/reports", json=RIGHTS), 404, "not-found")
    _problem(service.member.post(f"{GROUP}/licks/8/reports", json={"reason": "dull"}), 400, "bad-request")


def test_an_answer_that_keeps_the_lick_closes_the_report_and_the_next_one_is_new(
    service: RunningService,
) -> None:
    first = _report(service.member, 8)["id"]
    kept = _answer(service, first, "kept", "It is traditional.").json()
    assert (kept["decision"], kept["answer"]) == ("kept", "It is traditional.")
    assert kept["answered"].endswith("Z")
    assert service.member.get(f"{GROUP}/licks/8").json()["state"] == "pool"
    assert _open(service) == []
    _problem(_answer(service, first, "taken-down"), 409, "report-answered")
    assert service.member.get(f"{GROUP}/licks/8").json()["state"] == "pool"
    mine = service.member.get(f"{GROUP}/licks/8/reports").json()["items"]
    assert [one["answer"] for one in mine] == ["It is traditional."]
    assert _report(service.member, 8)["id"] != first
    answered = service.organiser.get(f"{GROUP}/reports?status=answered").json()["items"]
    assert [one["id"] for one in answered] == [first]


def test_an_answer_may_take_the_lick_down_in_one_go(service: RunningService) -> None:
    report = _report(service.member, 8)["id"]
    made = _answer(service, report, "taken-down", "It is a record's.")
    assert (made.status_code, made.json()["decision"]) == (200, "taken-down")
    _problem(service.member.get(f"{GROUP}/licks/8"), 451, "taken-down")
    why = service.organiser.get(f"{GROUP}/licks/8/taken-down").json()
    assert why["reason"] == "It is a record's."
    _problem(service.member.post(f"{GROUP}/licks/8/reports", json=RIGHTS), 451, "taken-down")
    seen = service.organiser.get(f"{GROUP}/licks/8/reports").json()["items"]
    assert [one["id"] for one in seen] == [report]
    told = service.organiser.get(f"{GROUP}/audit").json()["items"]
    assert [(one["action"], one["subject"]) for one in told[:2]] == [
        ("take-lick-down", "lick 8"), ("answer-report", f"report {report}"),
    ]  # fmt: skip
    assert "record" not in str(told)


def test_reports_are_no_other_groups(service: RunningService) -> None:
    report = _report(service.member, 8)["id"]
    service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay"})
    with service.client("organiser", "quay") as stranger:
        for path in ("/reports", "/licks/8/reports"):
            _problem(stranger.get(GROUP + path), 404, "not-found")
        sent = {"decision": "kept", "text": "No."}
        for group in (GROUP, "/v1/groups/quay"):
            _problem(stranger.post(f"{group}/reports/{report}/answer", json=sent), 404, "not-found")
        assert stranger.get("/v1/groups/quay/reports").json()["items"] == []
    assert _open(service) == [report]


def test_a_report_is_written_once_for_a_key(service: RunningService) -> None:
    key = {"Idempotency-Key": "r-1"}
    first = service.member.post(f"{GROUP}/licks/8/reports", json=RIGHTS, headers=key)
    _answer(service, first.json()["id"], "kept")
    again = service.member.post(f"{GROUP}/licks/8/reports", json=RIGHTS, headers=key)
    assert (again.json(), again.headers["idempotent-replay"]) == (first.json(), "true")
    assert _open(service) == []
