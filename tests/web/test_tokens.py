"""Tokens: shown once, held to scopes and to an end, rotated, revoked."""

import sqlite3
import time
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import httpx
import pytest

from service.clock import system_clock
from tests.web.chat import Chat, Group, running_chat


@pytest.fixture(scope="module")
def chat(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chat]:
    with running_chat(tmp_path_factory.mktemp("chat")) as running:
        yield running


@pytest.fixture
def later(chat: Chat) -> Iterator[Any]:
    """Puts the clock forward by some seconds; it goes right again after the test."""

    def put(seconds: float) -> None:
        chat.service.house.clock = lambda: system_clock() + timedelta(seconds=seconds)

    yield put
    chat.service.house.clock = system_clock


def _refused(answer: httpx.Response, status: int, code: str) -> None:
    assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text


def _made(group: Group, maker: httpx.Client | None = None, **sent: object) -> dict[str, Any]:
    maker = maker or group.client("organiser")
    answer = maker.post(f"{group.path}/tokens", json={"role": "organiser", **sent})
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


# --- shown once ------------------------------------------------------------------------------------


def test_a_token_is_shown_once_and_listed_without_its_secret(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser", "Otter")
    made = _made(group, organiser, role="member", member=1, scopes=["play", "read"], days=30, label="phone")
    assert (made["role"], made["member"], made["scopes"], made["label"]) == (
        "member",
        1,
        ["play", "read"],
        "phone",
    )
    assert chat.holder(made["secret"]).get(group.path).status_code == 200
    listed = organiser.get(f"{group.path}/tokens").json()["items"]
    assert {**made, "secret": None} in listed
    assert made["secret"] not in str(listed)


@pytest.mark.parametrize("how", ["of a group", "of the service", "rotated"])
def test_a_repeated_request_makes_one_token_and_does_not_say_its_secret_again(chat: Chat, how: str) -> None:
    group = chat.group()
    where, sent = {
        "of a group": (f"{group.path}/tokens", {"role": "organiser"}),
        "of the service": ("/v1/tokens", {"role": "bot"}),
        "rotated": (f"{group.path}/tokens/{_made(group)['id']}/rotations", {"overlap_s": 60}),
    }[how]
    ask, headers = chat.service.operator, {"Idempotency-Key": f"token-once {how}"}
    first, again = (ask.post(where, json=sent, headers=headers) for _ in range(2))
    assert first.json()["secret"]
    assert (again.status_code, again.headers["idempotent-replay"]) == (201, "true")
    assert again.json() == {**first.json(), "secret": None}


def test_no_secret_is_kept_anywhere_in_the_database(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    headers = {"Idempotency-Key": "kept-nowhere"}
    made = organiser.post(f"{group.path}/tokens", json={"role": "member"}, headers=headers).json()
    turned = organiser.post(f"{group.path}/tokens/{made['id']}/rotations", json={}, headers=headers | {
        "Idempotency-Key": "kept-nowhere-either"}).json()  # fmt: skip
    kept = "\n".join(chat.service.house.database.points.iterdump())
    assert "kept-nowhere" in kept, "the keys themselves are"
    for secret in (made["secret"], turned["secret"], organiser.headers["authorization"].split()[1]):
        assert secret not in kept
        assert secret.encode() not in b"".join(
            path.read_bytes() for path in chat.service.house.settings.database.parent.glob("*.db*")
        )


# --- scopes ----------------------------------------------------------------------------------------


def test_scopes_hold_a_token_to_some_of_what_its_role_may_do(chat: Chat) -> None:
    group = chat.group()
    reader = chat.holder(_made(group, scopes=["read"])["secret"])
    assert reader.get(group.path).status_code == 200
    _refused(reader.get(f"{group.path}/audit"), 403, "not-allowed")
    _refused(reader.patch(group.path, json={"name": "N"}, headers={"If-Match": "*"}), 403, "not-allowed")
    keeper = chat.holder(_made(group, scopes=["organise"])["secret"])
    assert keeper.get(f"{group.path}/audit").status_code == 200
    _refused(keeper.get(group.path), 403, "not-allowed")


def test_scopes_add_nothing_to_a_role(chat: Chat) -> None:
    group = chat.group()
    member = chat.holder(_made(group, role="member", scopes=["organise", "operate", "read"])["secret"])
    assert member.get(group.path).status_code == 200
    _refused(member.get(f"{group.path}/audit"), 403, "not-allowed")
    _refused(member.get("/metrics"), 403, "not-allowed")


def test_a_bot_held_to_scopes_speaks_within_them(chat: Chat) -> None:
    group = chat.group()
    made = chat.service.operator.post(
        "/v1/tokens", json={"role": "bot", "scopes": ["read", "deliver"]}
    ).json()
    group.joined("wren", manages_server=True)
    speaking = group.speaks("wren")
    assert speaking.get(f"{group.path}/audit").status_code == 200
    speaking.headers["authorization"] = f"Bearer {made['secret']}"
    assert speaking.get(group.path).status_code == 200
    _refused(speaking.get(f"{group.path}/audit"), 403, "not-allowed")


def test_a_maker_gives_no_more_than_its_own_token_holds(chat: Chat) -> None:
    group = chat.group()
    maker = chat.holder(_made(group, scopes=["organise", "read"])["secret"])
    assert _made(group, maker)["scopes"] == ["organise", "read"], "what is not said is the maker's own"
    assert _made(group, maker, scopes=["read"])["scopes"] == ["read"]
    _refused(
        maker.post(f"{group.path}/tokens", json={"role": "organiser", "scopes": ["read", "play"]}),
        403,
        "beyond-own-scopes",
    )


def test_turning_a_wider_token_over_gives_no_wider_one(chat: Chat) -> None:
    group = chat.group()
    wide = _made(group)
    maker = chat.holder(_made(group, scopes=["organise"])["secret"])
    _refused(maker.post(f"{group.path}/tokens/{wide['id']}/rotations", json={}), 403, "beyond-own-scopes")
    assert chat.holder(wide["secret"]).get(group.path).status_code == 200, "it was not touched"
    narrow = _made(group, scopes=["organise"])
    assert maker.post(f"{group.path}/tokens/{narrow['id']}/rotations", json={}).status_code == 201


def test_an_organisers_token_goes_to_organisers_only(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    organiser.post(f"{group.path}/members", json={"name": "Wren", "role": "member"})
    sent = {"role": "organiser", "member": 1}
    _refused(organiser.post(f"{group.path}/tokens", json=sent), 409, "not-an-organiser")
    _refused(organiser.post(f"{group.path}/tokens", json={"role": "member", "member": 9}), 404, "not-found")


def test_nobody_makes_a_token_that_speaks_for_somebody_in_the_chat(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren")
    sent = {"role": "member", "member": 1}
    _refused(group.client("organiser").post(f"{group.path}/tokens", json=sent), 403, "not-your-token")


# --- the end of a token ----------------------------------------------------------------------------


def test_a_token_ends_after_its_days(chat: Chat, later: Any) -> None:
    group = chat.group()
    made = _made(group, days=1)
    holder = chat.holder(made["secret"])
    later(86_390)
    assert holder.get(group.path).status_code == 200
    later(86_405)
    _refused(holder.get(group.path), 401, "bad-token")
    organiser = group.client("organiser")
    assert made["id"] not in [item["id"] for item in organiser.get(f"{group.path}/tokens").json()["items"]]
    _refused(
        organiser.post(f"{group.path}/tokens/{made['id']}/rotations", json={"days": 9}), 404, "not-found"
    )


def test_a_rotated_token_has_the_same_rights_and_the_old_one_ends_at_once(chat: Chat) -> None:
    group = chat.group()
    made = _made(group, scopes=["read"], days=5, label="phone")
    turned = group.client("organiser").post(f"{group.path}/tokens/{made['id']}/rotations", json={}).json()
    assert {**turned, "id": 0, "secret": "", "created": ""} == {**made, "id": 0, "secret": "", "created": ""}
    assert chat.holder(turned["secret"]).get(group.path).status_code == 200
    _refused(chat.holder(made["secret"]).get(group.path), 401, "bad-token")


def test_with_an_overlap_both_hold_for_a_while(chat: Chat, later: Any) -> None:
    group = chat.group()
    made = _made(group)
    where = f"{group.path}/tokens/{made['id']}/rotations"
    turned = group.client("organiser").post(where, json={"overlap_s": 60}).json()
    old, new = chat.holder(made["secret"]), chat.holder(turned["secret"])
    later(55)
    assert [old.get(group.path).status_code, new.get(group.path).status_code] == [200, 200]
    later(65)
    assert [old.get(group.path).status_code, new.get(group.path).status_code] == [401, 200]


def test_an_overlap_makes_no_token_last_longer_than_it_would(chat: Chat, later: Any) -> None:
    group = chat.group()
    made = _made(group, days=1)
    where = f"{group.path}/tokens/{made['id']}/rotations"
    turned = group.client("organiser").post(where, json={"overlap_s": 604_800, "days": 30}).json()
    later(86_405)
    _refused(chat.holder(made["secret"]).get(group.path), 401, "bad-token")
    assert chat.holder(turned["secret"]).get(group.path).status_code == 200


def test_a_revoked_token_is_refused_at_once_and_the_others_hold(chat: Chat) -> None:
    group = chat.group()
    made, other = _made(group), _made(group)
    holder, organiser = chat.holder(made["secret"]), chat.holder(other["secret"])
    assert holder.get(group.path).status_code == 200
    assert organiser.delete(f"{group.path}/tokens/{made['id']}").status_code == 204
    _refused(holder.get(group.path), 401, "bad-token")
    assert organiser.get(group.path).status_code == 200
    _refused(organiser.delete(f"{group.path}/tokens/{made['id']}"), 404, "not-found")


def test_what_another_process_revokes_is_refused_within_five_seconds(chat: Chat) -> None:
    group = chat.group()
    made = _made(group)
    holder = chat.holder(made["secret"])
    assert holder.get(group.path).status_code == 200
    elsewhere = sqlite3.connect(chat.service.house.database.path)
    elsewhere.execute("UPDATE tokens SET revoked = '2026-01-01' WHERE id = ?", (made["id"],))
    elsewhere.commit()
    elsewhere.close()
    began = time.monotonic()
    while holder.get(group.path).status_code == 200:
        assert time.monotonic() - began < 5
        time.sleep(0.05)
    _refused(holder.get(group.path), 401, "bad-token")


def test_another_groups_tokens_are_not_there(chat: Chat) -> None:
    group, other = chat.group(), chat.group()
    made = _made(other)
    organiser = group.client("organiser")
    _refused(organiser.delete(f"{group.path}/tokens/{made['id']}"), 404, "not-found")
    _refused(organiser.post(f"{group.path}/tokens/{made['id']}/rotations", json={}), 404, "not-found")
    _refused(organiser.delete(f"/v1/tokens/{made['id']}"), 403, "not-allowed")
    _refused(chat.service.operator.delete(f"/v1/tokens/{made['id']}"), 404, "not-found")
    assert chat.holder(made["secret"]).get(other.path).status_code == 200


# --- tokens of the whole service -------------------------------------------------------------------


def test_an_operator_makes_bots_and_takes_them_back(chat: Chat) -> None:
    ask = chat.service.operator
    made = ask.post("/v1/tokens", json={"role": "bot", "days": 30, "label": "chat bot"}).json()
    assert {**made, "secret": None} in ask.get("/v1/tokens").json()["items"]
    bot = chat.holder(made["secret"])
    _refused(bot.get("/v1/tokens"), 403, "not-allowed")
    turned = ask.post(f"/v1/tokens/{made['id']}/rotations", json={}).json()
    assert ask.delete(f"/v1/tokens/{turned['id']}").status_code == 204
    _refused(chat.holder(turned["secret"]).get("/v1/instruments"), 401, "bad-token")


def test_the_last_operator_that_holds_stays(chat: Chat, later: Any) -> None:
    ask = chat.service.operator
    ending = ask.post("/v1/tokens", json={"role": "operator", "days": 1}).json()["id"]
    operators = [t["id"] for t in ask.get("/v1/tokens").json()["items"] if t["role"] == "operator"]
    (own,) = set(operators) - {ending}
    later(86_405)
    _refused(ask.delete(f"/v1/tokens/{own}"), 409, "last-operator")  # the other one has ended
    later(0)
    assert ask.delete(f"/v1/tokens/{ending}").status_code == 204
    _refused(ask.delete(f"/v1/tokens/{own}"), 409, "last-operator")
    assert ask.get("/v1/tokens").status_code == 200, "nothing was taken"
