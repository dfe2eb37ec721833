"""The week's challenge through the bot: set, looked at, varied, voted for, closed."""

from typing import Any

import pytest

from bot.book import Sent
from bot.replies import Call, Form, Reply
from tests.bot.asking import Asking, labels
from tests.web.test_variations import CLASH, GOOD, OTHER

UNREADABLE = """\
1|-------0--------|---0-------0----|
2|---------q------|----------------|
3|-----0-------2--|-0--------------|
4|-0--------------|-----2---0------|
5|-----------0----|-------------0--|"""


@pytest.fixture
def week(asking: Asking) -> Asking:
    """With a challenge that is open: heron-ferry's first phrase, over G."""
    asking.answer("kit", "challenge set", tune="heron-ferry", phrase=1, note="Mind the thumb.")
    return asking


def _send(week: Asking, who: str, text: str = GOOD, **typed: str) -> Reply:
    return week.fill(who, week.form(who, "variation send"), text=text, **typed)


def _said(reply: Reply) -> str:
    return "\n".join([reply.head, *reply.notes])


# --- the challenge ----------------------------------------------------------------------------------------------


def test_the_challenge_says_phrase_chords_tempos_and_until_when(week: Asking) -> None:
    reply = week.answer("otter", "challenge now")
    assert reply.head == "Challenge 1: Heron Ferry, phrase 1 of part A, over G | G"
    assert "Mind the thumb." in reply.notes
    assert "Aim for half = " in _said(reply)
    assert "at levels 1 to 5" in _said(reply)
    assert "Open until \ue0f0" in _said(reply)
    assert reply.files[0].data[:4] == b"\x89PNG"
    assert labels(reply) == ["Send a variation", "Sound", "Entries"]
    assert labels(week.answer("kit", "challenge now"))[-1] == "Close it"


def test_members_cannot_set_or_close_a_challenge(week: Asking) -> None:
    set_by = week.answer("otter", "challenge set", tune="heron-ferry", phrase=2, opens="next-week")
    assert set_by.failed
    asked = week.answer("otter", "challenge close")
    assert week.pressed("otter", asked, "Close it").failed
    assert not week.answer("otter", "challenge now").failed


def test_without_a_challenge_the_service_says_so_and_what_to_do(asking: Asking) -> None:
    reply = asking.answer("otter", "challenge now")
    assert reply.failed
    assert "No challenge is open just now." in reply.head


def test_a_stranger_is_asked_to_join_and_goes_on_with_what_was_asked(week: Asking) -> None:
    asked = week.answer("rook", "challenge now")
    assert (asked.private, labels(asked)) == (True, ["Join"])
    reply = week.pressed("rook", asked, "Join")
    assert reply.head.startswith("Challenge 1: Heron Ferry")
    assert reply.notes[-1] == "Welcome, Rook: you are in."
    assert not week.answer("rook", "challenge entries").failed


def test_a_form_that_a_stranger_asked_for_comes_after_joining(week: Asking) -> None:
    form = week.form("rook", "variation send")
    asked = week.fill("rook", form, text=GOOD)
    assert labels(asked) == ["Join"]


def test_closing_is_asked_about_once_more_and_ends_in_the_round_up(week: Asking) -> None:
    _send(week, "otter", name="Otter's first")
    week.answer("wren", "variation vote", variation=1)
    asked = week.answer("kit", "challenge close")
    assert asked.head == "Close challenge 1, Heron Ferry, now?"
    over = week.pressed("kit", asked, "Close it")
    assert over.notes[0] == "1. Otter's first, Otter: 1 of 1"
    assert week.answer("wren", "challenge round-up").notes == over.notes
    liked = week.answer("wren", "favourites")
    assert liked.notes[0] == "1. Otter's first, Otter: 1 of 1"
    assert week.pressed("wren", liked, "1. Otter's").head.startswith("Variation 1: Otter's first, by Otter")
    listed = week.answer("wren", "challenge list")
    assert listed.notes == ("1 Heron Ferry, A1: closed",)
    assert "Round-up" in labels(week.pressed("wren", listed, "1 Heron"))


def test_before_anything_closed_there_is_no_round_up_and_no_favourite(week: Asking) -> None:
    assert week.answer("otter", "challenge round-up").failed
    assert week.answer("otter", "favourites").head.startswith("There are no favourites yet")


def test_entries_come_with_votes_unless_they_are_secret(asking: Asking) -> None:
    asking.answer("kit", "challenge set", tune="heron-ferry", phrase=1, secret="yes")
    assert labels(asking.answer("otter", "challenge entries")) == ["Send a variation"]
    _send(asking, "otter", name="Otter's first")
    _send(asking, "kit", OTHER, name="Kit's")
    asking.answer("wren", "variation vote", variation=2)
    reply = asking.answer("wren", "challenge entries")
    assert reply.notes[:2] == ("1 Otter's first, Otter", "2 Kit's, Kit: your vote")
    assert "secret" in reply.notes[2]
    assert "votes" not in asking.answer("wren", "variation show", variation=2).head


# --- sending ----------------------------------------------------------------------------------------------------


def test_what_is_typed_into_the_form_is_sent_in_and_seen(week: Asking) -> None:
    reply = _send(week, "otter", name="Otter's first", comment="Slowly.", source="the Wren's reel")
    assert reply.head == "Variation 1: Otter's first, by Otter · votes: 0"
    assert reply.notes[:2] == ("It is in. The others can see, hear and vote now.", "Slowly.")
    assert reply.files[0].description.startswith("Otter's first")
    assert week.answer("wren", "challenge entries").notes == ("1 Otter's first, Otter: votes: 0",)


def test_what_cannot_be_read_comes_back_marked_and_the_form_again_filled(week: Asking) -> None:
    reply = _send(week, "otter", UNREADABLE, name="First try", comment="Two\nlines")
    assert reply.failed
    assert reply.tab.splitlines()[:3] == ["# name: First try", "# comment: Two", "# comment: lines"]
    assert reply.tab.splitlines()[5] == " " * 11 + "^"
    form = week.press("otter", reply, "Mend it")
    assert isinstance(form, Form)
    assert {blank.name: blank.value for blank in form.blanks} == {
        "text": UNREADABLE, "name": "First try", "comment": "Two\nlines", "source": "",
    }  # fmt: skip
    assert week.fill("otter", form, text=GOOD).head.startswith("Variation 1: First try")


def test_nothing_typed_is_lost_when_the_challenge_has_closed_meanwhile(week: Asking) -> None:
    form = week.form("otter", "variation send", challenge=1)
    week.answer("kit", "challenge close", sure="yes")
    reply = week.fill("otter", form, text=GOOD)
    assert reply.failed
    assert reply.tab == GOOD
    assert labels(reply) == ["Mend it"]


def test_what_is_held_says_what_to_mend_and_is_mended_in_its_place(week: Asking) -> None:
    reply = _send(week, "otter", CLASH, name="Bold")
    assert reply.private
    assert reply.head == "“Bold” waits: mend it, or ask an organiser to accept it."
    assert reply.notes
    assert reply.tab == f"# name: Bold\n{CLASH}"
    form = week.press("otter", reply, "Mend it")
    assert isinstance(form, Form)
    mended = week.fill("otter", form, text=GOOD)
    assert mended.head.startswith("Variation 1: Bold")
    assert len(week.answer("wren", "challenge entries").notes) == 1


def test_others_do_not_see_what_is_held_but_an_organiser_accepts_it(week: Asking) -> None:
    _send(week, "otter", CLASH)
    assert week.answer("wren", "variation show", variation=1).failed
    seen = week.answer("kit", "variation show", variation=1)
    assert labels(seen)[-3:] == ["Accept", "Into the pool", "Refuse"]
    accepted = week.pressed("kit", seen, "Accept")
    assert accepted.notes[0] == "It is in the challenge now."
    assert not week.answer("wren", "variation show", variation=1).failed


def test_one_is_refused_with_a_reason_that_its_author_reads(week: Asking) -> None:
    _send(week, "otter")
    form = week.press("kit", week.answer("kit", "variation show", variation=1), "Refuse")
    assert isinstance(form, Form)
    week.fill("kit", form, reason="Too long.")
    assert "It was refused. Too long." in week.answer("otter", "variation show", variation=1).notes


def test_one_is_taken_into_the_pool(week: Asking) -> None:
    _send(week, "otter")
    reply = week.pressed("kit", week.answer("kit", "variation show", variation=1), "Into the pool")
    assert any(note.startswith("It is in the pool, as lick ") for note in reply.notes)
    assert "Into the pool" not in labels(reply)


def test_ones_own_is_mended_from_its_text_and_withdrawn_when_asked_twice(week: Asking) -> None:
    shown = _send(week, "otter", name="Otter's first")
    assert week.pressed("otter", shown, "Vote").failed
    form = week.press("otter", week.pressed("otter", shown, "Mend"), "Mend it")
    assert isinstance(form, Form)
    assert form.blanks[1].value == "Otter's first"
    assert not week.fill("otter", form, name="Otter's second").failed
    asked = week.pressed("otter", shown, "Withdraw")
    assert asked.head == "Take variation 1, Otter's second, back?"
    assert not week.pressed("otter", asked, "Withdraw").failed
    assert week.answer("wren", "variation show", variation=1).failed


# --- votes ------------------------------------------------------------------------------------------------------


def test_a_vote_is_told_to_the_voter_alone_and_can_be_taken_back(week: Asking) -> None:
    shown = _send(week, "otter", name="Otter's first")
    seen = week.answer("wren", "variation show", variation=1)
    voted = week.pressed("wren", seen, "Vote")
    assert (voted.head, voted.private) == ("Your vote is in: Otter's first.", True)
    assert week.answer("kit", "variation show", variation=1).head.endswith("votes: 1")
    back = week.pressed("wren", voted, "Take it back")
    assert (back.head, back.private) == ("Your vote is taken back: Otter's first.", True)
    assert week.answer("kit", "variation show", variation=1).head.endswith("votes: 0")
    assert shown.head.endswith("votes: 0")


def test_the_vote_button_carries_nothing_but_the_variation(week: Asking) -> None:
    _send(week, "otter")
    (vote,) = [
        b
        for row in week.answer("wren", "variation show", variation=1).buttons
        for b in row
        if b.label == "Vote"
    ]
    assert vote.call == Call("variation vote", {"variation": "1"})


def test_nobody_votes_for_their_own(week: Asking) -> None:
    _send(week, "otter")
    reply = week.answer("otter", "variation vote", variation=1)
    assert reply.failed
    assert "Vote for those of others." in reply.head


# --- recordings -------------------------------------------------------------------------------------------------


def _recording(name: str, kind: str, data: bytes, size: int | None = None) -> tuple[Sent, list[str]]:
    read: list[str] = []

    async def bring() -> bytes:
        read.append(name)
        return data

    return Sent(name, len(data) if size is None else size, kind, bring), read


OGG = b"OggS" + bytes(200)


def _record(week: Asking, sent: Sent, **given: Any) -> Reply:
    reply = week.call("otter", Call("variation record", given), {"file": sent})
    assert isinstance(reply, Reply)
    return reply


def test_a_recording_is_sent_in_heard_as_it_came_and_written_down_by_another(week: Asking) -> None:
    sent, _ = _recording("take.ogg", "audio/ogg; codecs=opus", OGG)
    reply = _record(week, sent, name="Played")
    assert reply.head == "Variation 1: Played, by Otter · votes: 0"
    heard = week.pressed("wren", reply, "Sound")
    assert (heard.files[0].name, heard.files[0].data) == ("variation-1.ogg", OGG)
    assert any("quietly" in note for note in heard.notes)
    form = week.press("wren", reply, "Write it down")
    assert isinstance(form, Form)
    written = week.fill("wren", form, text=GOOD)
    assert written.head.startswith("Variation 1: Played, by Otter")
    assert written.files[0].kind == "picture"
    as_written = week.pressed("wren", week.answer("wren", "variation sound", variation=1), "As it is written")
    assert as_written.files[0].name.endswith(".mp3")
    assert any("quiet" in note or "volume" in note for note in as_written.notes)


@pytest.mark.parametrize(
    ("name", "kind", "size", "said"),
    [
        ("tab.pdf", "application/pdf", None, "is no sound"),
        ("long.wav", "audio/wav", (8 << 20) + 1, "and 8 is the most"),
    ],
)
def test_what_is_no_sound_or_too_long_is_not_even_fetched(
    week: Asking, name: str, kind: str, size: int | None, said: str
) -> None:
    sent, read = _recording(name, kind, OGG, size)
    reply = _record(week, sent)
    assert reply.failed
    assert said in reply.head
    assert read == []


def test_a_sound_of_an_unknown_kind_goes_by_its_name(week: Asking) -> None:
    sent, read = _recording("take.ogg", "application/octet-stream", OGG)
    assert not _record(week, sent).failed
    assert read == ["take.ogg"]
