"""The group itself through the bot: begun, joined, set up, left; what organisers look after."""

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.replies import Call, Form, Reply, moments
from tests.bot.asking import GROUP, Asking, labels
from tests.support import RunningService

ELSEWHERE = "99"  # a server of no group


@pytest.fixture
def asking(service: RunningService) -> Iterator[Asking]:
    with Asking(service) as found:
        yield found


def _on(
    asking: Asking, server: str, who: str, command: str, given: dict[str, str] | None = None, **more: object
) -> Reply:
    reply = asking.call(who, Call(command, given or {}), server=server, **more)
    assert isinstance(reply, Reply)
    return reply


# --- begun and joined ---------------------------------------------------------------------------------------------


def test_a_server_gets_its_group_from_whoever_manages_it(asking: Asking) -> None:
    asked = _on(asking, ELSEWHERE, "rook", "challenge now", manages_server=True)
    assert labels(asked) == ["Make our group"]
    begun = _on(asking, ELSEWHERE, "rook", "group begin", manages_server=True, server_name="Düne & Deich!")
    assert begun.head == "Düne & Deich! is here, Rook. You are its organiser."
    assert len(begun.notes) == 3
    assert "Set it up" in labels(begun)
    assert asking.service.operator.get("/v1/groups/d-ne-deich").json()["server_id"] == ELSEWHERE
    again = _on(asking, ELSEWHERE, "rook", "group begin", manages_server=True)
    assert again.head == "Welcome, Rook: you are in."


def test_a_name_that_is_taken_gets_a_number(asking: Asking) -> None:
    for server in ("98", "99"):
        begun = _on(asking, server, "rook", "group begin", manages_server=True, server_name="Ferry Lane")
        assert not begun.failed, begun
    assert asking.service.operator.get("/v1/groups/ferry-lane-2").status_code == 200
    assert asking.service.operator.get("/v1/groups/ferry-lane-3").status_code == 200


@pytest.mark.parametrize("name", ["", "舟", "42 strings", "\u200b\u202e"])
def test_any_name_of_a_server_gives_a_group(asking: Asking, name: str) -> None:
    begun = _on(asking, ELSEWHERE, "rook", "group begin", manages_server=True, server_name=name)
    assert not begun.failed, begun


def test_who_does_not_manage_the_server_begins_nothing(asking: Asking) -> None:
    assert _on(asking, ELSEWHERE, "rook", "group begin").failed
    assert _on(asking, ELSEWHERE, "rook", "group join").failed
    assert "group begin" in _on(asking, ELSEWHERE, "rook", "challenge now").head


def test_a_stranger_of_another_server_sees_nothing_of_the_group(asking: Asking) -> None:
    _on(asking, ELSEWHERE, "rook", "group begin", manages_server=True)
    assert _on(asking, ELSEWHERE, "rook", "group members").notes == ("Rook, organiser",)
    assert _on(asking, ELSEWHERE, "rook", "lick show", {"lick": "1"}).failed


def test_a_closed_door_opens_for_a_code_alone(asking: Asking) -> None:
    asking.answer("kit", "group set-up", door="invited")
    assert asking.answer("rook", "group join").failed
    made = asking.answer("kit", "group invite", uses=1)
    assert made.private
    assert asking.answer("otter", "group invite").failed
    assert asking.answer("rook", "group join", invitation=made.tab).head == "Welcome, Rook: you are in."
    assert asking.answer("crow", "group join", invitation=made.tab).failed


def test_somebody_whose_name_cannot_be_seen_joins_all_the_same(asking: Asking) -> None:
    reply = asking.call("rook", Call("group join"), name="\u200b\u202e")
    assert isinstance(reply, Reply)
    assert reply.head == "Welcome, Somebody: you are in."


def test_somebody_leaves_when_asked_twice_and_comes_back(asking: Asking) -> None:
    asked = asking.answer("otter", "group leave")
    assert "Otter" in asking.answer("kit", "group members").notes
    assert asking.pressed("otter", asked, "Leave").head.startswith("You have left")
    assert "Otter" not in asking.answer("kit", "group members").notes
    assert not asking.answer("otter", "group join").failed


def test_names_and_roles_are_changed_by_whom_they_may(asking: Asking) -> None:
    assert asking.answer("otter", "group name-me", name="Old Otter").head == "You are Old Otter now."
    assert asking.answer("otter", "group role", member="Kit", organiser="no").failed
    assert asking.answer("kit", "group role", member="old otter", organiser="yes").head == (
        "Old Otter organises from now on."
    )
    assert "Old Otter, organiser" in asking.answer("wren", "group members").notes
    assert asking.answer("kit", "group role", member="Nobody", organiser="yes").failed


# --- set up ---------------------------------------------------------------------------------------------------------


def test_a_group_is_set_up_with_buttons_and_menus(asking: Asking) -> None:
    reply = asking.answer("kit", "group set-up")
    assert reply.private
    assert "Posts go nowhere yet: press Post here in the channel you want." in reply.notes
    assert len(moments(reply.head)) > 1
    for label in (
        "Post here",
        "Draw each week",
        "Secret votes",
        "Invited only",
        "friday",
        "fiddle",
        "Deutsch",
    ):
        reply = asking.pressed("kit", reply, label)
        assert not reply.failed, reply
    chosen = [choice.label for menu in reply.menus for choice in menu.choices if choice.note]
    assert chosen == ["friday", "fiddle", "Deutsch"]
    form = asking.press("kit", reply, "Time and zone")
    assert isinstance(form, Form)
    assert [blank.value for blank in form.blanks] == ["18:00", "UTC"]
    reply = asking.fill("kit", form, time="7.30", zone="berlin")
    assert "Posts go to this channel." in reply.notes
    assert "Each friday at 07:30, Europe/Berlin." in reply.notes
    assert "Only those who were invited may join." in reply.notes
    settings = asking.service.organiser.get(f"{GROUP}/settings").json()
    assert (settings["channel"], settings["draws"], settings["secret_votes"]) == ("licks", True, True)
    group = asking.service.organiser.get(GROUP).json()
    assert (group["instrument"], group["tuning"], group["language"]) == ("fiddle", "standard", "de")


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("zone", "Atlantis", "Europe/Berlin"),
        ("time", "25:00", "19:30"),
        ("time", "noon", "19:30"),
        ("weekday", "someday", "monday"),
    ],
)
def test_what_cannot_be_chosen_is_said_with_what_can(
    asking: Asking, option: str, value: str, said: str
) -> None:
    reply = asking.answer("kit", "group set-up", **{option: value})
    assert reply.failed
    assert said in reply.head


def test_levels_are_chosen_one_at_a_time_and_stay_in_order(asking: Asking) -> None:
    asking.answer("kit", "group set-up", most=3)
    assert "Challenges ask for levels 2 to 3." in asking.answer("kit", "group set-up", least=2).notes
    assert "Challenges ask for levels 4 to 4." in asking.answer("kit", "group set-up", least=4).notes
    assert "Challenges ask for levels 1 to 1." in asking.answer("kit", "group set-up", most=1).notes


def test_members_change_nothing_of_the_group(asking: Asking) -> None:
    assert asking.answer("otter", "group set-up", draws="yes").failed


# --- looked after ---------------------------------------------------------------------------------------------------


def _names(reply: Reply) -> list[str]:
    return zipfile.ZipFile(io.BytesIO(reply.files[0].data)).namelist()


def test_copies_come_as_files_for_whom_they_are(asking: Asking) -> None:
    whole = asking.answer("kit", "group export")
    assert (whole.private, whole.files[0].name.endswith(".zip")) == (True, True)
    assert any("lick" in name for name in _names(whole))
    assert asking.answer("otter", "group export").failed
    mine = asking.answer("otter", "group my-data")
    assert mine.private
    assert _names(mine)


def test_somebody_is_erased_only_after_choosing_what_becomes_of_their_licks(asking: Asking) -> None:
    asked = asking.answer("otter", "group erase-me")
    assert labels(asked) == ["Erase me, keep my licks", "Erase me and my licks", "A copy first"]
    assert {button.look for button in asked.buttons[0]} == {"grave"}
    assert len(labels(asking.answer("otter", "group erase-me", licks="keep"))) == 2
    assert "Otter" in asking.answer("kit", "group members").notes
    assert asking.pressed("otter", asked, "Erase me, keep").head.startswith("You are erased.")
    assert "Otter" not in asking.answer("kit", "group members").notes


def test_a_report_is_read_and_answered_by_an_organiser(asking: Asking) -> None:
    assert asking.answer("kit", "group reports").head == "No report is open."
    sent = asking.service.member.post(
        f"{GROUP}/licks/3/reports", json={"reason": "rights", "text": "From a book."}
    )
    assert sent.status_code == 201
    assert asking.answer("otter", "group reports").failed
    listed = asking.answer("kit", "group reports")
    assert listed.notes == (f"{sent.json()['id']}: lick 3, rights: From a book.",)
    form = asking.press("kit", listed, "Report ")
    assert isinstance(form, Form)
    assert asking.fill("kit", form, text="It is traditional.").head == "Lick 3 stays."
    assert asking.answer("kit", "group reports").head == "No report is open."


def test_what_became_of_posts_is_told_to_organisers(asking: Asking) -> None:
    assert asking.answer("kit", "group posts").head == "There were no posts yet."
    asking.answer("kit", "group set-up", channel="here")
    asking.answer("kit", "challenge set", tune="heron-ferry", phrase=1)
    reply = asking.answer("kit", "group posts")
    assert reply.notes[0].startswith("challenge of ")
    assert reply.notes[0].endswith(": waiting")
    assert asking.answer("otter", "group posts").failed
    assert asking.answer("kit", "group posts", again="yes").head == "Posts that are tried again: 0"


# --- help -----------------------------------------------------------------------------------------------------------


def test_help_says_what_to_do_first_and_leads_to_each_family(asking: Asking) -> None:
    reply = asking.answer("rook", "help")
    assert reply.notes[0] == "1. A fresh break of a tune: break random."
    families = [choice.label for choice in reply.menus[0].choices]
    for family in families:
        of_it = asking.pressed("rook", reply, family)
        assert any(note.startswith(family) for note in of_it.notes), family
    assert not any(
        "challenge close" in note for note in asking.answer("otter", "help", about="challenge").notes
    )
    assert any("challenge close" in note for note in asking.answer("kit", "help", about="challenge").notes)


def test_cautions_are_those_of_the_readme(asking: Asking) -> None:
    told = " ".join(asking.answer("rook", "cautions").notes)
    readme = " ".join((Path(__file__).parents[2] / "README.md").read_text().split())
    for part in (
        "Warm up, take breaks, raise the load gradually",
        "top at pain or numbness and see a clinician",
        "where a conversation beside you is still easy",
        "a recorded solo or a printed arrangement usually is not",
        "is medical or legal advice; local rules and licensed practice come first",
    ):
        assert part in told
        assert part in readme
