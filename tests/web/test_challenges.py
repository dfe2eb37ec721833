"""The challenge of the week: set by hand or drawn, announced, reminded of, closed, rounded up, each once."""

from collections import Counter
from pathlib import Path

import pytest

from tests.club import GROUP, MONDAY, Club, running_club
from tests.support import RunningService


def test_a_challenge_by_hand_begins_from_the_plain_lick_and_closes_as_the_next_week_begins(
    club: Club,
) -> None:
    club.bind(draws=False)
    made = club.challenge(note="Keep the first note.")
    assert (made["number"], made["state"], made["drawn"]) == (1, "open", False)
    assert (made["tune_name"], made["part"], made["place"], made["role"]) == ("Heron Ferry", "A", 1, "opener")
    assert (made["lick"], made["lick_name"], made["chords"]) == (1, "Push off from the bank", "| G | G |")
    # noon is too near to the evening's new week: it stays open for that one
    assert (made["opens"], made["closes"]) == ("2026-11-02T12:00:00Z", "2026-11-09T18:00:00Z")
    assert club.wren.get(f"{GROUP}/challenges/current").json() == made


def test_goals_climb_from_the_tunes_lowest_tempo_to_what_the_lick_allows(club: Club) -> None:
    club.bind(draws=False)
    goals = club.challenge()["goals"]
    top = club.wren.get(f"{GROUP}/licks/1").json()["top"]["bpm"]
    assert [goal["tempo"]["bpm"] for goal in goals] == [60, 72, 84, 107, min(130, top)]
    assert all(goal["tempo"]["unit"] == "half" for goal in goals)
    assert goals[2]["ladder"] == [50, 54, 58, 62, 66, 70, 74, 78, 82, 84]


def test_another_lick_or_none_of_the_plain_break_may_be_where_it_begins(club: Club) -> None:
    club.bind(draws=False)
    other = club.wren.get(f"{GROUP}/tunes/heron-ferry/phrases/1/licks").json()["items"][3]["number"]
    assert club.challenge(lick=other)["lick"] == other
    club.organiser.post(f"{GROUP}/challenges/1/close")
    on_guitar = club.challenge(instrument="guitar")
    assert on_guitar["setting"]["instrument"] == "guitar"
    lick = club.wren.get(f"{GROUP}/licks/{on_guitar['lick']}").json()
    assert lick["instrument"] == "guitar"


@pytest.mark.parametrize(
    ("wish", "status", "code"),
    [
        ({"tune": "no-such-tune"}, 404, "not-found"),
        ({"phrase": 99}, 404, "no-such-phrase"),
        ({"lick": 99999}, 404, "not-found"),
        ({"tune": "thimble-creek", "lick": 1}, 422, "not-for-this-phrase"),  # cut time over a waltz
        ({"instrument": "kazoo"}, 422, "unknown-instrument"),
        ({"instrument": "guitar", "lick": 1}, 422, "other-instrument"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_challenge_is_refused(
    demo: RunningService, wish: dict[str, object], status: int, code: str
) -> None:
    answer = demo.organiser.post(f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1, **wish})
    assert (answer.status_code, answer.json()["code"]) == (status, code)


def test_a_lick_that_is_not_in_the_pool_is_no_challenge(club: Club) -> None:
    review = {"decision": "back", "reason": "Its tag again."}
    assert club.organiser.post(f"{GROUP}/licks/14/review", json=review, headers={"If-Match": "*"}).is_success
    wish = {"tune": "heron-ferry", "phrase": 1, "lick": 14}
    answer = club.organiser.post(f"{GROUP}/challenges", json=wish)
    assert (answer.status_code, answer.json()["detail"]) == (
        409, "Lick 14 is not in the pool. Choose another one, or review it first."
    )  # fmt: skip


def test_one_challenge_is_open_at_a_time_and_one_may_be_planned(club: Club) -> None:
    club.bind(draws=False)
    club.challenge()
    second = club.organiser.post(f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 2})
    assert (second.status_code, second.json()["code"]) == (409, "challenge-under-way")
    planned = club.challenge(phrase=2, opens="next-week")
    assert (planned["state"], planned["opens"]) == ("planned", MONDAY)
    third = club.organiser.post(
        f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 3, "opens": "next-week"}
    )
    assert third.json()["code"] == "challenge-under-way"


def test_a_planned_challenge_waits_for_the_open_one_and_then_opens_by_itself(club: Club) -> None:
    club.bind(draws=False)
    club.challenge()  # closes on the 9th
    club.challenge(phrase=2, opens="next-week")  # would open tonight
    club.at(MONDAY)
    assert club.wren.get(f"{GROUP}/challenges/current").json()["number"] == 1
    club.at("2026-11-09T18:00:00Z")
    current = club.wren.get(f"{GROUP}/challenges/current").json()
    assert (current["number"], current["closes"]) == (2, "2026-11-16T18:00:00Z")


def test_a_planned_challenge_can_be_called_off(club: Club) -> None:
    club.bind(draws=False)
    club.challenge(opens="next-week")
    assert club.organiser.post(f"{GROUP}/challenges/1/close").json()["state"] == "cancelled"
    assert club.at(MONDAY) == 0
    assert club.wren.get(f"{GROUP}/challenges/current").json()["code"] == "no-challenge-open"
    again = club.organiser.post(f"{GROUP}/challenges/1/close")
    assert (again.status_code, again.json()["code"]) == (409, "not-under-way")


def test_members_can_neither_set_nor_close_a_challenge(club: Club) -> None:
    made = club.wren.post(f"{GROUP}/challenges", json={"tune": "heron-ferry", "phrase": 1})
    assert (made.status_code, made.json()["code"]) == (403, "not-allowed")
    club.challenge()
    assert club.wren.post(f"{GROUP}/challenges/1/close").status_code == 403


# --- drawn every week ---------------------------------------------------------------------------------------


def test_every_week_a_challenge_is_drawn_announced_reminded_of_and_rounded_up_once(club: Club) -> None:
    club.bind()
    assert club.at(MONDAY) == 1
    assert [post["kind"] for post in club.posts()] == ["challenge"]
    assert club.at(MONDAY) == 0
    assert club.at("2026-11-05T18:00:00Z") == 1
    assert [post["kind"] for post in club.posts()] == ["reminder"]
    assert club.at("2026-11-09T18:00:00Z") == 2
    assert [(post["kind"], post["deed"]) for post in club.posts()] == [
        ("round-up", "send"), ("challenge", "edit"), ("challenge", "send"),
    ]  # fmt: skip
    assert [c["number"] for c in club.wren.get(f"{GROUP}/challenges").json()["items"]] == [2, 1]


def test_drawn_challenges_do_not_repeat_a_phrase_before_all_have_come(club: Club) -> None:
    club.bind(reminds=False)
    spots = Counter[tuple[str, str, int]]()
    club.clock.to("2026-10-26T18:00:00Z")
    for _ in range(24):
        club.clock.on(days=7)
        club.service.tick()
        current = club.wren.get(f"{GROUP}/challenges/current").json()
        spots[current["tune"], current["part"], current["place"]] += 1
    every = {
        (tune, phrase["part"], phrase["index"])
        for tune in ("heron-ferry", "millers-mitten", "thimble-creek")
        for phrase in club.wren.get(f"{GROUP}/tunes/{tune}").json()["phrases"]
    }
    assert len(every) == 24
    assert set(spots) == every


def test_a_groups_levels_decide_which_phrases_are_drawn(club: Club) -> None:
    club.bind(reminds=False, levels=[1, 1])
    levels = set()
    club.clock.to("2026-10-26T18:00:00Z")
    for _ in range(6):
        club.clock.on(days=7)
        club.service.tick()
        lick = club.wren.get(f"{GROUP}/challenges/current").json()["lick"]
        levels.add(club.wren.get(f"{GROUP}/licks/{lick}").json()["level"])
    assert levels == {1}


def test_a_challenge_by_hand_takes_the_place_of_the_drawn_one(club: Club) -> None:
    club.bind()
    club.challenge(phrase=5, opens="next-week")
    club.at(MONDAY)
    current = club.wren.get(f"{GROUP}/challenges/current").json()
    assert (current["number"], current["drawn"]) == (1, False)
    club.at("2026-11-09T18:00:00Z")
    current = club.wren.get(f"{GROUP}/challenges/current").json()
    assert (current["number"], current["drawn"]) == (2, True)


def test_drawing_stops_when_an_organiser_says_so(club: Club) -> None:
    club.bind()
    club.choose(draws=False)
    assert club.at(MONDAY) == 0


def test_a_new_time_for_the_week_holds_from_the_next_one_on(club: Club) -> None:
    club.bind()
    club.at(MONDAY)
    club.choose(weekday="wednesday", time="20:00", zone="America/Chicago")
    current = club.wren.get(f"{GROUP}/challenges/current").json()
    assert current["closes"] == "2026-11-09T18:00:00Z"  # as it was announced
    # Wednesday the 4th, 20:00 in Chicago: one is open, none is drawn
    club.at("2026-11-05T02:00:00Z")
    assert club.wren.get(f"{GROUP}/challenges/current").json()["number"] == 1
    club.at("2026-11-09T18:00:00Z")
    assert club.wren.get(f"{GROUP}/challenges/current").status_code == 404
    club.at("2026-11-12T02:00:00Z")
    assert club.wren.get(f"{GROUP}/challenges/current").json()["number"] == 2


def test_a_group_without_tunes_hears_once_that_nothing_can_be_drawn(club: Club) -> None:
    club.bind()
    for tune in ("heron-ferry", "millers-mitten", "thimble-creek"):
        club.organiser.delete(f"{GROUP}/tunes/{tune}", headers={"If-Match": "*"})
    as_quill = {"On-Behalf-Of": "chat:9", "Acting-Server": "77"}
    joined = club.bot.post(f"{GROUP}/members", json={"name": "Quill"}, headers=as_quill).json()
    club.organiser.patch(f"{GROUP}/members/{joined['number']}", json={"role": "organiser"})
    club.at(MONDAY)
    club.at("2026-11-09T18:00:00Z")
    told = club.posts()
    assert [(post["kind"], post["recipient"], post["channel"]) for post in told] == [
        ("nothing-to-draw", "9", None)
    ]
    assert told[0]["text"].startswith("No challenge could be drawn for ferry-lane")


# --- a service that was down --------------------------------------------------------------------------------


def test_after_three_weeks_down_one_challenge_opens_and_the_old_one_is_rounded_up_once(club: Club) -> None:
    club.bind()
    club.at(MONDAY)
    club.posts()
    club.at("2026-11-24T09:00:00Z")  # a Tuesday three weeks later
    kinds = [(post["kind"], post["params"]["challenge"]) for post in club.posts()]
    assert kinds == [("round-up", 1), ("challenge", 1), ("challenge", 2)]
    current = club.wren.get(f"{GROUP}/challenges/current").json()
    assert (current["opens"], current["closes"]) == ("2026-11-23T18:00:00Z", "2026-11-30T18:00:00Z")


def test_too_late_in_a_week_the_next_one_is_waited_for(club: Club) -> None:
    club.bind()
    club.at("2026-11-08T12:00:00Z")  # a Sunday: a day and six hours are left
    assert club.wren.get(f"{GROUP}/challenges/current").status_code == 404
    club.at("2026-11-09T18:00:00Z")
    assert club.wren.get(f"{GROUP}/challenges/current").json()["number"] == 1


def test_a_reminder_that_would_come_a_day_late_is_left_out(club: Club) -> None:
    club.bind()
    club.at(MONDAY)
    club.posts()
    club.at("2026-11-06T18:00:01Z")
    assert club.posts() == []


def test_an_announcement_that_nobody_posted_lapses_with_its_challenge(club: Club) -> None:
    club.bind()
    club.at(MONDAY)
    club.at("2026-11-09T18:00:00Z")
    assert [(post["kind"], post["params"]["challenge"]) for post in club.posts()] == [
        ("round-up", 1), ("challenge", 2),
    ]  # fmt: skip
    states = {post["kind"]: post["state"] for post in club.organiser.get(f"{GROUP}/posts").json()["items"]}
    assert states["round-up"] == "sent"


def test_what_is_due_is_done_after_a_restart(tmp_path: Path) -> None:
    with running_club(tmp_path) as club:
        club.bind()
    with running_club(tmp_path, MONDAY) as club:
        assert club.service.tick() == 1
        assert [post["kind"] for post in club.posts()] == ["challenge"]
        assert club.service.tick() == 0
