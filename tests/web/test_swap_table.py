"""The swap table over real HTTP: what groups share, what others see of it, borrow, and are told."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, _problem

QUAY = "/v1/groups/quay"
TABLE = f"{QUAY}/swap-table"
ANY = {"If-Match": "*"}
SHARED = LICK | {
    "name": "Oar in the lock",
    "rights": {"may_share": True, "credit": "The ferry hands", "licence": "CC BY 4.0"},
}
WHY = {"reason": "It is somebody's recorded solo."}


@pytest.fixture
def quay(service: RunningService) -> Iterator[httpx.Client]:
    """An organiser of another group."""
    service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay Jam"})
    with service.client("organiser", "quay", "Tern") as client:
        yield client


def _sent(client: httpx.Client, sent: dict[str, Any] = SHARED, group: str = GROUP) -> int:
    answer = client.post(f"{group}/licks", json=sent)
    assert (answer.status_code, answer.json()["state"]) == (201, "pool"), answer.text
    return int(answer.json()["number"])


def _share(service: RunningService, lick: int) -> dict[str, Any]:
    answer = service.organiser.post(f"{GROUP}/swap-table", json={"lick": lick})
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def _table(client: httpx.Client, asked: str = "", table: str = TABLE) -> list[dict[str, Any]]:
    answer = client.get(table + asked)
    assert answer.status_code == 200, answer.text
    return list(answer.json()["items"])


def _borrow(quay: httpx.Client, shared: int) -> dict[str, Any]:
    answer = quay.post(f"{TABLE}/{shared}/borrowings")
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


# --- sharing -----------------------------------------------------------------------------------------


def test_a_shared_lick_is_seen_by_all_groups_with_its_rights_and_the_groups_name(
    service: RunningService, quay: httpx.Client
) -> None:
    lick = _sent(service.member)
    own = _share(service, lick)
    assert (own["own"], own["lick"], own["group"]) == (True, lick, "Ferry Lane Jam")
    (seen,) = _table(quay)
    assert seen == own | {"own": False, "lick": None}
    assert seen | {"id": 0, "published": "", "tab": ""} == {
        "id": 0, "group": "Ferry Lane Jam", "own": False, "lick": None, "published": "", "name": "Oar in the lock",
        "instrument": "banjo", "tuning": "open-g", "hand_style": "three-finger", "style": "roll", "meter": "2/2",
        "key": "G", "role": "body", "level": 2, "chords": "G", "tab": "", "origin": "own", "source": None,
        "year": None, "credit": "The ferry hands", "licence": "CC BY 4.0",
    }  # fmt: skip
    assert "1|-------0-------0|" in seen["tab"]
    # neither who sent it in nor the group's short name
    text = quay.get(TABLE).text
    assert "Wren" not in text
    assert "ferry-lane" not in text


def test_organisers_alone_share_and_withdraw(service: RunningService, quay: httpx.Client) -> None:
    lick = _sent(service.member)
    where = f"{GROUP}/swap-table"
    _problem(service.member.post(where, json={"lick": lick}), 403, "not-allowed")
    _share(service, lick)
    _problem(service.member.delete(f"{where}/{lick}"), 403, "not-allowed")
    _problem(quay.delete(f"{where}/{lick}"), 404, "not-found")
    _problem(quay.delete(f"{TABLE}/{lick}"), 404, "not-on-the-table")
    assert len(_table(service.member, table=where)) == 1
    assert service.organiser.delete(f"{where}/{lick}").status_code == 204
    assert _table(quay) == []
    _problem(service.organiser.delete(f"{where}/{lick}"), 404, "not-on-the-table")
    told = service.organiser.get(f"{GROUP}/audit").json()["items"]
    assert [one["action"] for one in told[:2]] == ["withdraw-lick", "share-lick"]


@pytest.mark.parametrize(
    ("change", "decision", "codes"),
    [
        ({"rights": {}}, None, ["no-consent-to-share"]),
        ({}, "retire", ["not-in-the-pool"]),
        ({"rights": {}}, "back", ["not-in-the-pool", "no-consent-to-share"]),
    ],
)
def test_what_cannot_be_shared_says_every_reason(
    service: RunningService, change: dict[str, Any], decision: str | None, codes: list[str]
) -> None:
    lick = _sent(service.member, SHARED | change)
    if decision is not None:
        sent = {"decision": decision, "reason": "Not yet."}
        service.organiser.post(f"{GROUP}/licks/{lick}/review", json=sent, headers=ANY).raise_for_status()
    answer = service.organiser.post(f"{GROUP}/swap-table", json={"lick": lick})
    found = _problem(answer, 409, "not-to-be-shared")
    assert [place["code"] for place in found["at"]] == codes


def test_a_lick_that_is_taken_down_or_not_there_is_not_shared(service: RunningService) -> None:
    lick = _sent(service.member)
    service.organiser.put(f"{GROUP}/licks/{lick}/taken-down", json=WHY, headers=ANY).raise_for_status()
    for number, status, code in ((lick, 451, "taken-down"), (9999, 404, "not-found")):
        _problem(service.organiser.post(f"{GROUP}/swap-table", json={"lick": number}), status, code)


def test_sharing_is_done_once_for_a_key_and_says_nothing_again_of_what_was_taken_down(
    service: RunningService, quay: httpx.Client
) -> None:
    lick, key = _sent(service.member), {"Idempotency-Key": "s-1"}
    where = f"{GROUP}/swap-table"
    first = service.organiser.post(where, json={"lick": lick}, headers=key)
    again = service.organiser.post(where, json={"lick": lick}, headers=key)
    assert (again.json(), again.headers["idempotent-replay"]) == (first.json(), "true")
    assert [one["id"] for one in _table(quay)] == [first.json()["id"]]
    service.organiser.put(f"{GROUP}/licks/{lick}/taken-down", json=WHY, headers=ANY).raise_for_status()
    _problem(service.organiser.post(where, json={"lick": lick}, headers=key), 451, "taken-down")


def test_a_published_revision_stays_what_it_was_until_it_is_shared_anew(
    service: RunningService, quay: httpx.Client
) -> None:
    lick = _sent(service.member)
    before = _share(service, lick)
    changed = service.member.put(f"{GROUP}/licks/{lick}", json=SHARED | {"name": "Oar out"}, headers=ANY)
    assert changed.json()["state"] == "pool"
    assert [one["name"] for one in _table(quay)] == ["Oar in the lock"]
    after = _share(service, lick)
    assert [(one["id"], one["name"]) for one in _table(quay)] == [(after["id"], "Oar out")]
    assert after["id"] > before["id"]


def test_what_leaves_the_pool_or_loses_its_authors_consent_is_off_the_table_at_once(
    service: RunningService, quay: httpx.Client
) -> None:
    lick = _sent(service.member)
    shared, where = _share(service, lick)["id"], f"{GROUP}/licks/{lick}"
    down = f"{where}/taken-down"
    gone: list[tuple[httpx.Response, httpx.Response]] = []
    service.organiser.put(down, json=WHY, headers=ANY).raise_for_status()
    gone.append((quay.get(TABLE), quay.post(f"{TABLE}/{shared}/borrowings")))
    service.organiser.delete(down, headers=ANY).raise_for_status()
    assert len(_table(quay)) == 1
    service.member.put(where, json=LICK, headers=ANY).raise_for_status()
    gone.append((quay.get(TABLE), quay.post(f"{TABLE}/{shared}/borrowings")))
    service.member.put(where, json=SHARED, headers=ANY).raise_for_status()
    assert len(_table(quay)) == 1
    service.member.delete(where, headers=ANY).raise_for_status()
    gone.append((quay.get(TABLE), quay.post(f"{TABLE}/{shared}/borrowings")))
    for listed, borrowed in gone:
        assert listed.json()["items"] == []
        _problem(borrowed, 404, "not-found")


def test_the_table_is_newest_first_by_pages_and_by_what_is_asked(
    service: RunningService, quay: httpx.Client
) -> None:
    easy = _sent(service.member, SHARED | {"level": 1, "name": "Easy"})
    hard = _sent(
        service.member, SHARED | {"level": 3, "name": "Hard", "text": "32514251, 3.2/4 2 5 1 (25)--"}
    )
    for lick in (easy, hard):
        _share(service, lick)
    quay_lick = _sent(quay, SHARED | {"name": "Quay's"}, QUAY)
    quay.post(TABLE, json={"lick": quay_lick}).raise_for_status()
    assert [(one["name"], one["own"]) for one in _table(quay)] == [
        ("Quay's", True), ("Hard", False), ("Easy", False),
    ]  # fmt: skip
    for asked, names in (
        ("?max_level=1", ["Easy"]), ("?max_level=3", ["Quay's", "Hard", "Easy"]), ("?style=melodic", []),
        ("?style=roll&instrument=banjo", ["Quay's", "Hard", "Easy"]), ("?instrument=guitar", []),
    ):  # fmt: skip
        assert [one["name"] for one in _table(quay, asked)] == names
    page = quay.get(f"{TABLE}?limit=2")
    assert [one["name"] for one in quay.get(page.links["next"]["url"]).json()["items"]] == ["Easy"]


# --- borrowing ---------------------------------------------------------------------------------------


def test_a_borrowed_lick_is_a_copy_that_says_where_it_comes_from(
    service: RunningService, quay: httpx.Client
) -> None:
    lick = _sent(service.member)
    copy = _borrow(quay, _share(service, lick)["id"])
    origin = service.member.get(f"{GROUP}/licks/{lick}").json()
    same = ("name", "notes", "line", "level", "chords", "rights", "hand_style", "role")
    assert {k: copy[k] for k in same} == {k: origin[k] for k in same}
    assert (copy["number"], copy["state"], copy["by"]) == (1, "pool", "Tern")
    assert copy["borrowed_from"] | {"borrowed": ""} == {
        "group": "Ferry Lane Jam", "lick": lick, "revision": 1, "borrowed": "", "rights": origin["rights"],
    }  # fmt: skip
    where = f"{QUAY}/licks/1"
    assert quay.get(where).json()["borrowed_from"] == copy["borrowed_from"]
    assert "Wren" not in quay.get(where).text
    # it is the group's own to edit, with the rights as they were beside it, and not to be shared on
    edited = quay.put(where, json=LICK | {"name": "Ours"}, headers=ANY).json()
    assert (edited["name"], edited["borrowed_from"]["rights"]["credit"]) == ("Ours", "The ferry hands")
    quay.put(where, json=SHARED, headers=ANY).raise_for_status()
    found = _problem(quay.post(TABLE, json={"lick": 1}), 409, "not-to-be-shared")
    assert [place["text"] for place in found["at"]] == ["It was borrowed from Ferry Lane Jam."]


def test_borrowing_is_judged_like_sending_in_and_done_once_for_a_key(
    service: RunningService, quay: httpx.Client
) -> None:
    shared = _share(service, _sent(service.member))["id"]
    where, key = f"{TABLE}/{shared}/borrowings", {"Idempotency-Key": "b-1"}
    first = quay.post(where, headers=key)
    again = quay.post(where, headers=key)
    assert (again.json(), again.headers["idempotent-replay"]) == (first.json(), "true")
    twin = quay.post(where).json()
    assert (twin["number"], twin["state"], [r["code"] for r in twin["reasons"]]) == (2, "draft", ["twin"])
    _problem(service.organiser.post(f"{GROUP}/swap-table/{shared}/borrowings"), 409, "own-on-the-table")
    _problem(quay.post(f"{TABLE}/9999/borrowings"), 404, "not-found")
    quay.put(f"{QUAY}/settings", json={"review": True}, headers=ANY).raise_for_status()
    with service.client("member", "quay", "Gull") as gull:
        waiting = gull.post(where).json()
    assert "waits-for-review" in [r["code"] for r in waiting["reasons"]]


def test_an_author_who_wants_no_edits_is_heeded_in_other_groups_too(
    service: RunningService, quay: httpx.Client
) -> None:
    lick = _sent(service.member, SHARED | {"rights": {"may_share": True, "may_edit": False}})
    copy = _borrow(quay, _share(service, lick)["id"])["number"]
    _problem(quay.put(f"{QUAY}/licks/{copy}", json=LICK, headers=ANY), 403, "author-edits")
    assert quay.delete(f"{QUAY}/licks/{copy}", headers=ANY).status_code == 204


def test_what_was_borrowed_stays_and_its_organisers_hear_that_the_origin_took_it_down(
    service: RunningService, quay: httpx.Client
) -> None:
    lick = _sent(service.member)
    copy = _borrow(quay, _share(service, lick)["id"])["number"]
    assert quay.get(f"{QUAY}/reports").json()["items"] == []
    service.organiser.delete(f"{GROUP}/swap-table/{lick}").raise_for_status()
    assert quay.get(f"{QUAY}/reports").json()["items"] == []  # withdrawn is no reason to worry
    for _ in range(2):  # another reason for it is no other report
        service.organiser.put(f"{GROUP}/licks/{lick}/taken-down", json=WHY, headers=ANY).raise_for_status()
    assert quay.get(f"{QUAY}/licks/{copy}").json()["state"] == "pool"
    listed = quay.get(f"{QUAY}/reports?status=open")
    (report,) = listed.json()["items"]
    assert (report["lick"], report["by"], report["reason"], report["text"]) == (
        copy, None, "taken-down-at-origin", "",
    )  # fmt: skip
    assert report["about"]["text"] == "Lick 1 was borrowed from Ferry Lane Jam, which has taken it down."
    assert "solo" not in listed.text  # the reason is the other organisers' to know
    sent = {"decision": "taken-down", "text": "So do we."}
    quay.post(f"{QUAY}/reports/{report['id']}/answer", json=sent).raise_for_status()
    _problem(quay.get(f"{QUAY}/licks/{copy}"), 451, "taken-down")
    assert service.organiser.get(f"{GROUP}/reports").json()["items"] == []


def test_nothing_else_of_a_group_is_seen_from_another(service: RunningService, quay: httpx.Client) -> None:
    lick = _sent(service.member)
    _share(service, lick)
    for path in ("", "/tab.txt", "/revisions", "/revisions/1", "/reports", "/taken-down"):
        _problem(quay.get(f"{GROUP}/licks/{lick}{path}"), 404, "not-found")
    _problem(quay.get(f"{GROUP}/swap-table"), 404, "not-found")
    _problem(quay.post(f"{GROUP}/swap-table", json={"lick": lick}), 404, "not-found")
    _problem(quay.post(TABLE, json={"lick": lick}), 404, "not-found")
    assert quay.get(f"{QUAY}/licks").json()["items"] == []
