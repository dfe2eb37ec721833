"""Members: how they come in, what they become, how they leave; and the trail of who did what."""

from collections.abc import Iterator
from datetime import timedelta

import httpx
import pytest

from service.clock import system_clock
from tests.web.chat import Chat, Group, running_chat


@pytest.fixture(scope="module")
def chat(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chat]:
    with running_chat(tmp_path_factory.mktemp("chat")) as running:
        yield running


def _refused(answer: httpx.Response, status: int, code: str) -> None:
    assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text


def _names(group: Group, query: str = "") -> list[str]:
    items = group.chat.service.operator.get(f"{group.path}/members{query}").json()["items"]
    return [item["name"] for item in items]


def _invited(group: Group, **sent: object) -> str:
    """The code of an invitation."""
    answer = group.client("organiser").post(f"{group.path}/invitations", json=sent)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["code"])


# --- coming in -------------------------------------------------------------------------------------


def test_whoever_is_on_the_server_joins_through_the_bot(chat: Chat) -> None:
    group = chat.group()
    answer = group.join("wren")
    assert answer.status_code == 201
    assert answer.headers["location"] == f"{group.path}/members/1"
    found = answer.json()
    assert (found["number"], found["name"], found["role"], found["user"]) == (
        1,
        "Wren",
        "member",
        "chat:wren",
    )
    assert group.speaks("wren").get(f"{group.path}/members/1").json() == found


def test_joining_twice_changes_nothing(chat: Chat) -> None:
    group = chat.group()
    first = group.joined("wren")
    assert group.joined("wren", name="Somebody else") == first
    assert _names(group) == ["Wren"]


def test_two_of_a_name_are_told_apart(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren")
    assert group.joined("jenny", name="Wren")["name"] == "Wren 2"


def test_before_joining_a_guest_reads_nothing(chat: Chat) -> None:
    group = chat.group()
    guest = group.speaks("wren")
    _refused(guest.get(group.path), 403, "not-joined")
    group.joined("wren")
    assert guest.get(group.path).status_code == 200


def test_on_another_server_the_group_is_not_there(chat: Chat) -> None:
    group, other = chat.group(), chat.group()
    group.joined("wren")
    for server in (other.server, "nowhere"):
        elsewhere = chat.speaks("wren", server)
        _refused(elsewhere.get(group.path), 404, "not-found")
        _refused(elsewhere.post(f"{group.path}/members", json={"name": "Wren"}), 404, "not-found")
    nowhere = chat.speaks("wren", group.server)
    del nowhere.headers["Acting-Server"]
    _refused(nowhere.get(group.path), 404, "not-found")


@pytest.mark.parametrize("said", ["wren", ":wren", "chat:", "chat:two words", "chat:" + "x" * 81])
def test_for_whom_a_bot_speaks_must_be_platform_and_user(chat: Chat, said: str) -> None:
    group = chat.group()
    speaking = group.speaks("wren")
    speaking.headers["On-Behalf-Of"] = said
    _refused(speaking.get(group.path), 400, "bad-acting")


def test_nobody_but_a_bot_speaks_for_others(chat: Chat) -> None:
    group = chat.group()
    for client in (group.client("organiser"), chat.client("operator")):
        client.headers.update({"On-Behalf-Of": "chat:wren", "Acting-Server": group.server})
        _refused(client.get(group.path), 403, "acting-not-allowed")


def test_a_token_of_nobody_on_the_platform_cannot_join(chat: Chat) -> None:
    group = chat.group()
    _refused(group.client("member").post(f"{group.path}/members", json={"name": "Wren"}), 403, "no-user")


def test_who_manages_the_server_is_the_first_organiser_and_nobody_after(chat: Chat) -> None:
    group = chat.group()
    assert group.joined("wren")["role"] == "member"
    assert group.joined("otter", manages_server=True)["role"] == "organiser"
    assert group.joined("heron", manages_server=True)["role"] == "member"
    assert group.joined("wren", manages_server=True)["role"] == "member"


def test_who_was_a_member_before_there_was_an_organiser_can_still_become_the_first(chat: Chat) -> None:
    group = chat.group()
    assert group.joined("wren")["role"] == "member"
    assert group.joined("wren", manages_server=True)["role"] == "organiser"
    assert _names(group) == ["Wren"]


def test_an_organiser_writes_down_who_is_on_no_platform(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    made = organiser.post(f"{group.path}/members", json={"name": "Old Tom", "role": "member"}).json()
    assert (made["name"], made["user"]) == ("Old Tom", None)
    group.joined("wren")
    _refused(
        group.speaks("wren").post(f"{group.path}/members", json={"name": "Me", "role": "organiser"}),
        403,
        "not-allowed",
    )


# --- invitations -----------------------------------------------------------------------------------


def test_behind_a_closed_door_only_the_invited_come_in(chat: Chat) -> None:
    group = chat.group(door="invited")
    _refused(group.join("wren"), 403, "invited-only")
    _refused(group.join("wren", invitation="no such code"), 404, "no-such-invitation")
    code = _invited(group)
    assert group.joined("wren", invitation=code)["role"] == "member"
    assert group.joined("otter", manages_server=True)["role"] == "organiser", "the first organiser needs none"


def test_an_invitation_lets_in_as_many_as_it_says(chat: Chat) -> None:
    group = chat.group(door="invited")
    code = _invited(group, uses=2)
    group.joined("wren", invitation=code)
    group.joined("wren", invitation=code)  # is in already: no use is spent
    group.joined("otter", invitation=code)
    _refused(group.join("heron", invitation=code), 404, "no-such-invitation")


def test_an_invitation_ends_after_its_days(chat: Chat) -> None:
    group = chat.group(door="invited")
    code = _invited(group, days=2)
    chat.service.house.clock = lambda: system_clock() + timedelta(days=2, seconds=5)
    try:
        _refused(group.join("wren", invitation=code), 404, "no-such-invitation")
        assert group.client("organiser").get(f"{group.path}/invitations").json()["items"] == []
    finally:
        chat.service.house.clock = system_clock
    group.joined("wren", invitation=code)


def test_an_invitation_makes_an_organiser_if_it_says_so(chat: Chat) -> None:
    group = chat.group()
    assert group.joined("wren", invitation=_invited(group, role="organiser"))["role"] == "organiser"


def test_an_invitation_of_another_group_opens_nothing(chat: Chat) -> None:
    group, other = chat.group(door="invited"), chat.group()
    _refused(group.join("wren", invitation=_invited(other)), 404, "no-such-invitation")


def test_a_withdrawn_invitation_lets_nobody_in(chat: Chat) -> None:
    group = chat.group(door="invited")
    code = _invited(group)
    organiser = group.client("organiser")
    (listed,) = organiser.get(f"{group.path}/invitations").json()["items"]
    assert (listed["uses"], listed["role"], listed["code"]) == (1, "member", None)
    assert organiser.delete(f"{group.path}/invitations/{listed['id']}").status_code == 204
    _refused(organiser.delete(f"{group.path}/invitations/{listed['id']}"), 404, "not-found")
    _refused(group.join("wren", invitation=code), 404, "no-such-invitation")


def test_the_code_of_an_invitation_is_said_once_and_kept_nowhere(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    headers = {"Idempotency-Key": "invite-once"}
    first = organiser.post(f"{group.path}/invitations", json={}, headers=headers)
    again = organiser.post(f"{group.path}/invitations", json={}, headers=headers)
    code = first.json()["code"]
    assert again.headers["idempotent-replay"] == "true"
    assert again.json() == {**first.json(), "code": None}
    assert len(organiser.get(f"{group.path}/invitations").json()["items"]) == 1
    assert code not in "\n".join(chat.service.house.database.points.iterdump())


# --- names and roles -------------------------------------------------------------------------------


def test_members_name_themselves_and_nobody_else(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren")
    group.joined("otter")
    wren = group.speaks("wren")
    assert wren.patch(f"{group.path}/members/1", json={"name": "Jenny"}).json()["name"] == "Jenny"
    _refused(wren.patch(f"{group.path}/members/2", json={"name": "Rat"}), 403, "not-allowed")
    _refused(wren.patch(f"{group.path}/members/1", json={"role": "organiser"}), 403, "not-allowed")
    _refused(wren.patch(f"{group.path}/members/1", json={"name": "Otter"}), 409, "exists")


def test_a_role_that_is_taken_away_is_gone_from_their_tokens_at_once(chat: Chat) -> None:
    group = chat.group()
    wren, otter = group.client("organiser", "Wren"), group.client("organiser", "Otter")
    assert wren.get(f"{group.path}/audit").status_code == 200
    assert otter.patch(f"{group.path}/members/1", json={"role": "member"}).json()["role"] == "member"
    _refused(wren.get(f"{group.path}/audit"), 403, "not-allowed")
    assert wren.get(group.path).status_code == 200


def test_the_last_organiser_stays_one(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren", manages_server=True)
    group.joined("otter")
    wren = group.speaks("wren")
    _refused(wren.patch(f"{group.path}/members/1", json={"role": "member"}), 409, "last-organiser")
    _refused(wren.delete(f"{group.path}/members/1"), 409, "last-organiser")
    wren.patch(f"{group.path}/members/2", json={"role": "organiser"})
    assert wren.delete(f"{group.path}/members/1").status_code == 204


def test_the_last_of_all_may_go(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren", manages_server=True)
    assert group.speaks("wren").delete(f"{group.path}/members/1").status_code == 204
    assert _names(group) == []


# --- leaving ---------------------------------------------------------------------------------------


def test_who_leaves_is_a_guest_again_and_no_token_of_theirs_holds(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren")
    held = group.client("member", "Wren")
    assert held.get(group.path).status_code == 200
    assert group.speaks("wren").delete(f"{group.path}/members/1").status_code == 204
    _refused(held.get(group.path), 401, "bad-token")
    _refused(group.speaks("wren").get(group.path), 403, "not-joined")
    _refused(chat.service.operator.get(f"{group.path}/members/1"), 404, "not-found")
    assert (_names(group), _names(group, "?gone=true")) == ([], ["Wren"])


def test_members_show_nobody_out_but_organisers_do(chat: Chat) -> None:
    group = chat.group()
    group.joined("otter", manages_server=True)
    group.joined("wren")
    group.joined("heron")
    _refused(group.speaks("wren").delete(f"{group.path}/members/3"), 403, "not-allowed")
    assert group.speaks("otter").delete(f"{group.path}/members/3").status_code == 204


def test_who_comes_back_has_their_number_and_name_but_neither_role_nor_tokens(chat: Chat) -> None:
    group = chat.group()
    group.joined("wren", manages_server=True)
    group.client("organiser", "Otter")
    held = group.client("organiser", "Wren")
    group.speaks("wren").delete(f"{group.path}/members/1")
    back = group.joined("wren", name="Another name")
    assert (back["number"], back["name"], back["role"], back["left"]) == (1, "Wren", "member", None)
    _refused(held.get(group.path), 401, "bad-token")


# --- what a group has chosen -----------------------------------------------------------------------


def test_settings_are_chosen_as_a_whole_by_organisers(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    before = organiser.get(f"{group.path}/settings")
    chosen = {
        "zone": "Europe/Lisbon",
        "weekday": "sunday",
        "time": "11:30",
        "levels": [2, 4],
        "door": "invited",
    }
    _refused(organiser.put(f"{group.path}/settings", json=chosen), 428, "if-match-needed")
    headers = {"If-Match": before.headers["etag"]}
    after = organiser.put(f"{group.path}/settings", json=chosen, headers=headers)
    assert after.json() | chosen == after.json()
    assert group.client("member").get(f"{group.path}/settings").json() == after.json()
    _refused(organiser.put(f"{group.path}/settings", json={}, headers=headers), 412, "changed")
    _refused(
        group.client("member").put(f"{group.path}/settings", json={}, headers=headers), 403, "not-allowed"
    )


@pytest.mark.parametrize(
    ("sent", "path", "code"),
    [({"zone": "Mars/Olympus"}, "zone", "no-such-zone"), ({"levels": [4, 2]}, "levels", "levels-apart")],
)
def test_settings_that_cannot_be_are_refused_with_the_place(
    chat: Chat, sent: dict[str, object], path: str, code: str
) -> None:
    group = chat.group()
    answer = group.client("organiser").put(f"{group.path}/settings", json=sent, headers={"If-Match": "*"})
    _refused(answer, 422, "bad-settings")
    assert [(place["path"], place["code"]) for place in answer.json()["at"]] == [(path, code)]


# --- the trail -------------------------------------------------------------------------------------


def test_the_trail_says_who_did_what_and_nothing_that_people_wrote(chat: Chat) -> None:
    group = chat.group()
    otter = group.client("organiser", "Otter")
    wrote = "Brambles under the bridge"
    otter.patch(group.path, json={"name": wrote}, headers={"If-Match": "*"})
    otter.post(f"{group.path}/members", json={"name": wrote, "role": "member"})
    otter.patch(f"{group.path}/members/2", json={"name": wrote + "!"})
    otter.patch(f"{group.path}/members/2", json={"role": "organiser"})
    otter.patch(f"{group.path}/members/1", json={"name": "Otto"})  # one's own name is nobody's business
    token = otter.post(f"{group.path}/tokens", json={"role": "member", "member": 2, "label": wrote}).json()[
        "id"
    ]
    turned = otter.post(f"{group.path}/tokens/{token}/rotations", json={}).json()["id"]
    otter.delete(f"{group.path}/tokens/{turned}")
    invitation = otter.post(f"{group.path}/invitations", json={"uses": 3}).json()["id"]
    otter.delete(f"{group.path}/invitations/{invitation}")
    otter.delete(f"{group.path}/members/2")
    assert group.trail() == [
        ("change-group", f"group {group.slug}", {"changed": ["name"]}),
        ("add-member", "member 2", {"role": "member"}),
        ("rename-member", "member 2", {}),
        ("change-role", "member 2", {"role": "organiser"}),
        ("make-token", f"token {token}", {}),
        ("rotate-token", f"token {token}", {}),
        ("revoke-token", f"token {turned}", {}),
        ("invite", f"invitation {invitation}", {"role": "member", "uses": 3}),
        ("withdraw-invitation", f"invitation {invitation}", {}),
        ("leave", "member 2", {}),
    ]
    trail = otter.get(f"{group.path}/audit")
    assert {item["by"] for item in trail.json()["items"]} == {"Otto"}
    assert wrote not in trail.text


def test_the_trail_is_read_page_by_page_newest_first(chat: Chat) -> None:
    group = chat.group()
    organiser = group.client("organiser")
    for uses in (1, 2, 3):
        organiser.post(f"{group.path}/invitations", json={"uses": uses})
    first = organiser.get(f"{group.path}/audit", params={"limit": 2}).json()
    rest = organiser.get(f"{group.path}/audit", params={"limit": 2, "cursor": first["next"]}).json()
    assert [item["params"]["uses"] for item in first["items"] + rest["items"]] == [3, 2, 1]
    assert rest["next"] is None
    _refused(group.client("member").get(f"{group.path}/audit"), 403, "not-allowed")


def test_whoever_was_shown_out_comes_back_by_invitation_alone_and_who_left_just_so(chat: Chat) -> None:
    group = chat.group()
    group.joined("otter", manages_server=True)
    group.joined("wren")
    group.joined("heron")
    wren, heron, otter = group.speaks("wren"), group.speaks("heron"), group.speaks("otter")
    assert otter.delete(f"{group.path}/members/2").status_code == 204
    _refused(wren.post(f"{group.path}/members", json={"name": "Wren"}), 403, "invited-only")
    code = otter.post(f"{group.path}/invitations", json={}).json()["code"]
    again = wren.post(f"{group.path}/members", json={"name": "Wren", "invitation": code})
    assert again.json()["number"] == 2
    assert heron.delete(f"{group.path}/members/3").status_code == 204
    assert heron.post(f"{group.path}/members", json={"name": "Heron"}).status_code == 201
