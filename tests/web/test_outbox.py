"""The outbox: claimed with a lease, sent with a nonce that never changes, answered late or not at all."""

from importlib.metadata import version
from pathlib import Path

import httpx

from tests.club import GROUP, MONDAY, Club, running_club

GOOD = "4 - 2 3 5 1 2 1, 3 - 5 2 3 - - -"


def _announce(club: Club) -> None:
    club.bind(draws=False)
    club.challenge()


def _sent(club: Club, post: int, message: str) -> httpx.Response:
    return club.bot.put(f"/v1/outbox/{post}/sent", json={"message_id": message})


def _failed(club: Club, post: int, reason: str, **more: object) -> httpx.Response:
    return club.bot.put(f"/v1/outbox/{post}/failed", json={"reason": reason, **more})


def _state(club: Club) -> list[tuple[str, str, str | None]]:
    items = club.organiser.get(f"{GROUP}/posts").json()["items"]
    return [(post["kind"], post["state"], post["reason"]) for post in items]


def test_a_claim_says_where_to_post_what(club: Club) -> None:
    _announce(club)
    (post,) = club.claimed()
    assert (post["kind"], post["deed"], post["group"]) == ("challenge", "send", "ferry-lane")
    assert (post["platform"], post["server_id"], post["channel"]) == ("chat", "77", "licks")
    assert (post["message_id"], post["recipient"], post["perhaps_sent"]) == (None, None, False)
    assert post["lease_until"] == "2026-11-02T12:01:00Z"
    assert 0 < len(post["nonce"]) <= 25
    assert post["text"] == (
        "Challenge 1: Heron Ferry, part A, phrase 1 (opener), over | G | G |. Until 2026-11-09 19:00 (Europe/Berlin).\n"
        f"Aim for half = 60 to {post['params']['goals'][-1][1]}, and go up only after clean passes."
    )


def test_while_a_claim_holds_nobody_else_gets_the_post(club: Club) -> None:
    _announce(club)
    assert len(club.claimed()) == 1
    assert club.claimed() == []


def test_a_claim_that_was_never_answered_is_handed_out_again_as_perhaps_sent(club: Club) -> None:
    _announce(club)
    (first,) = club.claimed()
    club.clock.on(seconds=61)
    (again,) = club.claimed()
    assert (again["id"], again["nonce"], again["perhaps_sent"]) == (first["id"], first["nonce"], True)


def test_an_answer_after_the_lease_is_taken(club: Club) -> None:
    _announce(club)
    (post,) = club.claimed()
    club.clock.on(hours=3)
    assert _sent(club, post["id"], "m1").json()["state"] == "sent"
    assert club.claimed() == []


def test_a_second_message_for_one_post_is_told_to_be_the_double(club: Club) -> None:
    _announce(club)
    (post,) = club.claimed()
    assert _sent(club, post["id"], "m1").status_code == 200
    assert _sent(club, post["id"], "m1").status_code == 200
    double = _sent(club, post["id"], "m2")
    assert (double.status_code, double.json()["code"]) == (409, "sent-already")
    assert "m1" in double.json()["detail"]


def test_what_was_not_claimed_cannot_be_answered(club: Club) -> None:
    _announce(club)
    assert _sent(club, 1, "m1").json()["code"] == "not-claimed"
    assert _failed(club, 1, "refused").json()["code"] == "not-claimed"
    assert _sent(club, 99, "m1").status_code == 404


def test_what_fails_for_now_waits_longer_each_time_and_is_parked_in_the_end(club: Club) -> None:
    _announce(club)
    waits = []
    for _ in range(7):
        (post,) = club.claimed()
        due = _failed(club, post["id"], "try-again").json()["due"]
        before = club.clock.now
        club.clock.to(due)
        waits.append((club.clock.now - before).total_seconds())
    assert waits == [30, 60, 120, 240, 480, 960, 1920]
    (post,) = club.claimed()
    _failed(club, post["id"], "try-again")
    assert _state(club) == [("challenge", "parked", "try-again")]


def test_a_chat_that_says_how_long_to_wait_is_listened_to(club: Club) -> None:
    _announce(club)
    (post,) = club.claimed()
    assert _failed(club, post["id"], "try-again", retry_after_s=900).json()["due"] == "2026-11-02T12:15:00Z"


def test_where_the_channel_is_gone_posts_are_parked_and_each_organiser_on_the_platform_told_once(
    club: Club,
) -> None:
    _announce(club)
    as_quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    quill = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=as_quill).json()
    club.organiser.patch(f"{GROUP}/members/{quill['number']}", json={"role": "organiser"})
    club.enter(club.wren, GOOD)
    (first,) = club.claimed()
    _failed(club, first["id"], "channel-gone")
    items = {post["kind"]: post for post in club.claimed()}
    assert set(items) == {"variation", "channel-trouble"}
    assert (items["channel-trouble"]["recipient"], items["channel-trouble"]["channel"]) == ("9", None)
    _failed(club, items["variation"]["id"], "channel-gone")
    assert [kind for kind, state, _ in _state(club) if state == "parked"] == ["variation", "challenge"]
    assert [kind for kind, _, _ in _state(club)].count("channel-trouble") == 1


def test_in_a_new_channel_parked_posts_that_are_still_of_use_are_tried_again(club: Club) -> None:
    _announce(club)
    (post,) = club.claimed()
    _failed(club, post["id"], "channel-gone")
    club.choose(draws=False, channel="new-licks")
    (again,) = club.claimed()
    assert (again["id"], again["channel"], again["nonce"]) == (post["id"], "new-licks", post["nonce"])
    _failed(club, again["id"], "not-permitted")
    assert club.organiser.post(f"{GROUP}/posts/retries").json() == {"posts": 1}
    assert len(club.claimed()) == 1


def test_a_groups_posts_keep_their_order(club: Club) -> None:
    _announce(club)
    club.enter(club.wren, GOOD)
    (first,) = club.claimed()
    assert first["kind"] == "challenge"
    assert club.claimed() == []  # the variation waits for the announcement
    _sent(club, first["id"], "m1")
    (second,) = club.claimed()
    assert second["kind"] == "variation"


def test_an_edit_names_the_message_it_is_about(club: Club) -> None:
    _announce(club)
    (post,) = club.claimed()
    _sent(club, post["id"], "m1")
    club.organiser.post(f"{GROUP}/challenges/1/close")
    (round_up,) = club.claimed()
    _sent(club, round_up["id"], "m2")
    (edit,) = club.claimed()
    assert (edit["kind"], edit["deed"], edit["message_id"], edit["channel"]) == (
        "challenge",
        "edit",
        "m1",
        "licks",
    )
    assert edit["nonce"] != post["nonce"]
    assert edit["text"].startswith("Challenge 1, Heron Ferry, is over.")


def test_what_changes_before_it_is_posted_is_posted_as_it_is_then(club: Club) -> None:
    _announce(club)
    club.enter(club.wren, GOOD, name="First name")
    club.wren.put(
        f"{GROUP}/variations/1", json={"text": GOOD, "name": "Second name"}, headers={"If-Match": "*"}
    )
    texts = [post["text"] for post in club.posts()]
    assert len(texts) == 2
    assert "Second name, by Wren" in texts[1]


def test_posts_say_members_by_the_names_they_have_when_it_is_claimed(club: Club) -> None:
    _announce(club)
    club.enter(club.wren, GOOD)
    number = club.wren.get(f"{GROUP}/variations/1").json()["by"]
    club.wren.patch(f"{GROUP}/members/{number}", json={"name": "Wren of the Weir"})
    assert "by Wren of the Weir" in club.posts()[1]["text"]


def test_without_a_channel_posts_wait_and_lapse_when_they_are_of_no_use(club: Club) -> None:
    club.bind(draws=False, channel=None)
    club.challenge()
    assert club.claimed() == []
    club.at("2026-11-09T18:00:00Z")
    club.choose(draws=False)
    assert [post["kind"] for post in club.posts()] == ["round-up"]
    assert ("challenge", "lapsed", None) in _state(club)


def test_a_bot_gets_posts_of_its_own_platform_only(club: Club) -> None:
    _announce(club)
    answer = club.bot.post("/v1/outbox/claims", json={"platform": "elsewhere"})
    assert answer.json()["items"] == []


def test_nobody_but_a_bot_claims_and_members_do_not_see_the_outbox(club: Club) -> None:
    _announce(club)
    for client in (club.organiser, club.wren, club.service.operator):
        assert client.post("/v1/outbox/claims", json={"platform": "chat"}).status_code == 403
    assert club.wren.get(f"{GROUP}/posts").status_code == 403


def test_the_same_post_has_the_same_nonce_after_a_restart(tmp_path: Path) -> None:
    with running_club(tmp_path) as club:
        _announce(club)
        (before,) = club.claimed()
    with running_club(tmp_path, MONDAY) as club:
        (after,) = club.claimed()
    assert (after["id"], after["nonce"], after["perhaps_sent"]) == (before["id"], before["nonce"], True)


def test_what_a_member_keeps_by_heart_comes_up_in_a_message_to_them_once(club: Club) -> None:
    club.bind(draws=False)
    quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    number = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=quill).json()["number"]
    wanted = {"shared": False, "reminders": True}
    club.bot.put(f"{GROUP}/members/{number}/practice", json=wanted, headers=quill)
    for lick in (1, 2):
        log = {"lick": lick, "bpm": 70, "clean": True, "passes": 3, "from_memory": True}
        assert club.bot.post(f"{GROUP}/practice-logs", json=log, headers=quill).status_code == 201
    assert club.at("2026-11-03T17:59:00Z") == 0
    assert club.at("2026-11-03T18:00:00Z") == 1
    (told,) = club.posts()
    assert (told["kind"], told["recipient"], told["params"]) == (
        "practice",
        "9",
        {
            "pieces": "lick 1, lick 2",
            "each": [
                {"lick": 1, "break": None, "phrase": None},
                {"lick": 2, "break": None, "phrase": None},
            ],
        },
    )
    assert club.at("2026-11-20T18:00:00Z") == 0
    # kept: it comes up again after three days
    again = {"lick": 1, "bpm": 70, "clean": True, "passes": 1, "from_memory": True}
    club.bot.post(f"{GROUP}/practice-logs", json=again, headers=quill)
    club.at("2026-11-23T18:00:00Z")
    assert [post["params"]["pieces"] for post in club.posts()] == ["lick 2, lick 1"]


def test_without_reminders_nothing_is_told(club: Club) -> None:
    club.bind(draws=False)
    quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    number = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=quill).json()["number"]
    practice = f"{GROUP}/members/{number}/practice"
    club.bot.put(practice, json={"shared": False, "reminders": True}, headers=quill)
    log = {"lick": 1, "bpm": 70, "clean": True, "passes": 3, "from_memory": True}
    club.bot.post(f"{GROUP}/practice-logs", json=log, headers=quill)
    club.bot.put(practice, json={"shared": False, "reminders": False}, headers=quill)
    assert club.at("2026-11-20T18:00:00Z") == 0


def test_a_post_withdrawn_while_a_bot_had_it_is_not_sent_when_it_is_tried_again(club: Club) -> None:
    _announce(club)
    club.posts()
    club.enter(club.wren, GOOD)
    (post,) = club.claimed()
    club.wren.delete(f"{GROUP}/variations/1")
    _failed(club, post["id"], "not-permitted")
    assert club.claimed() == []  # the deletion changes the post itself
    assert club.organiser.post(f"{GROUP}/posts/retries").json() == {"posts": 0}


def test_a_variation_that_comes_back_is_posted_anew(club: Club) -> None:
    _announce(club)
    club.posts()
    club.enter(club.wren, GOOD)
    club.posts()
    lick = club.wren.get(f"{GROUP}/licks/1").json()["line"]
    club.wren.put(f"{GROUP}/variations/1", json={"text": lick}, headers={"If-Match": "*"})
    assert [post["deed"] for post in club.posts()] == ["delete"]
    club.wren.put(f"{GROUP}/variations/1", json={"text": GOOD}, headers={"If-Match": "*"})
    assert [post["deed"] for post in club.posts()] == ["send"]


def test_a_reminder_that_failed_until_it_was_of_no_use_lapses(club: Club) -> None:
    club.bind(draws=False)
    club.challenge()
    (post,) = club.claimed()
    _failed(club, post["id"], "try-again", retry_after_s=86_400)
    club.clock.to("2026-11-10T00:00:00Z")
    assert club.claimed() == []
    assert _state(club) == [("challenge", "lapsed", "try-again")]


def test_a_post_that_nobody_ever_answers_for_is_parked_and_lets_others_pass(club: Club) -> None:
    _announce(club)
    club.enter(club.wren, GOOD)
    for _ in range(16):
        assert [post["kind"] for post in club.claimed()] == ["challenge"]
        club.clock.on(seconds=61)
    club.claimed()
    assert [post["kind"] for post in club.claimed()] == ["variation"]
    assert ("challenge", "parked", "no-answer") in _state(club)


def test_an_organiser_does_not_bind_a_server(club: Club) -> None:
    answer = club.organiser.patch(
        GROUP, json={"platform": "chat", "server_id": "99"}, headers={"If-Match": "*"}
    )
    assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")


def test_a_lesson_is_told_to_whom_it_is_for(club: Club) -> None:
    club.bind(draws=False)
    quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    number = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=quill).json()["number"]
    lesson = {"member": number, "lick": 2, "due": "2026-11-20"}
    assert club.organiser.post(f"{GROUP}/lessons", json=lesson).status_code == 201
    (told,) = club.posts()
    assert (told["recipient"], told["channel"]) == ("9", None)
    assert told["text"] == "Kit has set you something until 2026-11-20: lick 2. It is between the two of you."


def test_a_bot_asks_which_group_a_server_has_and_who_somebody_is_there(club: Club) -> None:
    club.bind(draws=False)
    quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    guest = {"role": "guest", "group": "ferry-lane", "member": None, "name": None, "scopes": None}
    guest |= {"service": version("breakwright"), "speaks": 1}
    assert club.bot.get("/v1/me", headers=quill).json() == guest
    number = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=quill).json()["number"]
    joined = guest | {"role": "member", "member": number, "name": "Quill"}
    assert club.bot.get("/v1/me", headers=quill).json() == joined
    nowhere = club.bot.get("/v1/me", headers=quill | {"Acting-Server": "78"}).json()
    assert (nowhere["role"], nowhere["group"]) == ("guest", None)


def test_in_the_far_east_it_comes_up_on_its_day_too(club: Club) -> None:
    club.bind(draws=False, zone="Pacific/Kiritimati", time="00:00")
    quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    number = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=quill).json()["number"]
    club.bot.put(
        f"{GROUP}/members/{number}/practice", json={"shared": False, "reminders": True}, headers=quill
    )
    log = {"lick": 1, "bpm": 70, "clean": True, "passes": 3, "from_memory": True}
    club.bot.post(f"{GROUP}/practice-logs", json=log, headers=quill)  # on the 3rd, there
    assert club.at("2026-11-03T09:59:00Z") == 0
    assert club.at("2026-11-03T10:00:00Z") == 1


def test_a_round_up_waits_two_weeks_for_a_channel(club: Club) -> None:
    club.bind(draws=False, channel=None)
    club.challenge()
    club.at("2026-11-09T18:00:00Z")
    club.at("2026-11-23T18:00:00Z")
    club.choose(draws=False)
    assert club.posts() == []
    assert ("round-up", "lapsed", None) in _state(club)


# --- what a chat makes threads and buttons of -------------------------------------------------------------


def test_entries_reminders_and_the_round_up_belong_under_the_announcement(club: Club) -> None:
    club.bind(draws=False)
    club.at(MONDAY)
    club.challenge(secret=True)
    (announced,) = club.claimed()
    assert announced["under"] is None
    assert announced["language"] == "en"
    _sent(club, announced["id"], "m1")
    club.enter(club.wren, GOOD)
    (entry,) = club.posts()
    assert (entry["kind"], entry["under"], entry["channel"]) == ("variation", "m1", "licks")
    club.at("2026-11-05T18:00:00Z")
    (reminder,) = club.posts()
    assert (reminder["kind"], reminder["under"]) == ("reminder", "m1")
    club.at("2026-11-09T18:00:00Z")
    told = {(post["kind"], post["deed"]): post["under"] for post in club.posts()}
    assert told == {("round-up", "send"): "m1", ("challenge", "edit"): None}


def test_nothing_belongs_under_a_message_in_another_channel(club: Club) -> None:
    _announce(club)
    club.posts()
    club.choose(draws=False, channel="elsewhere")
    club.enter(club.wren, GOOD)
    (entry,) = club.posts()
    assert (entry["channel"], entry["under"]) == ("elsewhere", None)


def test_nothing_belongs_under_an_announcement_that_could_not_be_sent(club: Club) -> None:
    _announce(club)
    (announced,) = club.claimed()
    _failed(club, announced["id"], "refused")
    club.enter(club.wren, GOOD)
    assert [post["under"] for post in club.posts() if post["kind"] == "variation"] == [None]


def test_posts_are_in_the_groups_language(club: Club) -> None:
    club.bind(draws=False)
    changed = club.organiser.patch(GROUP, json={"language": "de"}, headers={"If-Match": "*"})
    assert changed.status_code == 200
    club.challenge()
    (post,) = club.claimed()
    assert post["language"] == "de"


def test_a_post_of_a_challenge_tells_what_buttons_need(club: Club) -> None:
    club.bind(draws=False)
    made = club.challenge(secret=True)
    (post,) = club.posts()
    told = {name: post["params"][name] for name in ("challenge", "tune", "phrase", "lick", "secret")}
    assert told == {
        "challenge": 1,
        "tune": "heron-ferry",
        "phrase": 1,
        "lick": made["lick"],
        "secret": True,
    }
    assert (post["params"]["opens"], post["params"]["closes"]) == (
        "2026-11-02T12:00:00Z",
        "2026-11-09T18:00:00Z",
    )
    club.enter(club.wren, GOOD)
    (entry,) = club.posts()
    told = {
        name: entry["params"][name]
        for name in ("variation", "in_challenge", "tune", "phrase", "secret", "tab", "recording", "closes")
    }
    assert told == {
        "variation": 1,
        "in_challenge": 1,
        "tune": "heron-ferry",
        "phrase": 1,
        "secret": True,
        "tab": True,
        "recording": False,
        "closes": "2026-11-09T18:00:00Z",
    }


def test_a_post_of_a_lesson_tells_which_and_what_it_is_about(club: Club) -> None:
    club.bind(draws=False)
    quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    number = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=quill).json()["number"]
    drawn = club.wren.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 1}).json()["code"]
    lesson = {"member": number, "break": drawn, "phrase": 3, "due": "2026-11-20"}
    assert club.organiser.post(f"{GROUP}/lessons", json=lesson).status_code == 201
    (post,) = club.posts()
    assert (post["kind"], post["recipient"], post["under"]) == ("lesson", "9", None)
    told = {name: post["params"][name] for name in ("lesson", "lick", "break", "phrase", "due")}
    assert told == {"lesson": 1, "lick": None, "break": drawn, "phrase": 3, "due": "2026-11-20"}


def test_a_claimed_post_can_be_shown_with_what_it_is_about(club: Club) -> None:
    _announce(club)
    unclaimed = club.bot.get("/v1/outbox/1/tab.png")
    assert (unclaimed.status_code, unclaimed.json()["code"]) == (404, "not-found")
    (announced,) = club.posts()
    lick = announced["params"]["lick"]
    shown = club.bot.get(f"/v1/outbox/{announced['id']}/tab.png")
    assert shown.content == club.wren.get(f"{GROUP}/licks/{lick}/tab.png").content
    club.enter(club.wren, GOOD, name="Ferry bell")
    (entry,) = club.posts()
    assert "Ferry bell" in club.bot.get(f"/v1/outbox/{entry['id']}/alt.txt").text
    refused = club.organiser.get(f"/v1/outbox/{entry['id']}/tab.png")
    assert (refused.status_code, refused.json()["code"]) == (403, "not-allowed")


def test_a_post_about_nothing_that_can_be_drawn_has_no_picture(club: Club) -> None:
    _announce(club)
    club.posts()
    assert club.organiser.post(f"{GROUP}/challenges/1/close").status_code == 200
    over = next(post for post in club.posts() if post["kind"] == "round-up")
    assert club.bot.get(f"/v1/outbox/{over['id']}/tab.png").status_code == 404


def test_what_was_taken_down_since_is_not_shown(club: Club) -> None:
    _announce(club)
    (announced,) = club.posts()
    lick = announced["params"]["lick"]
    down = club.organiser.put(
        f"{GROUP}/licks/{lick}/taken-down", json={"reason": "Somebody's solo."}, headers={"If-Match": "*"}
    )
    assert down.status_code == 200
    assert club.bot.get(f"/v1/outbox/{announced['id']}/tab.png").status_code == 451
