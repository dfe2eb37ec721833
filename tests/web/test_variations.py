"""Variations: sent in, read, judged, mended, withdrawn, reviewed; recordings; votes and the round-up."""

import io
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.usecases.voting import lick_weights
from tests.club import GROUP, Club, running_club

GOOD = "4 - 2 3 5 1 2 1, 3 - 5 2 3 - - -"  # over G G
OTHER = "3 - 2 4 5 1 2 1, 3 - 5 2 3 - - -"
CLASH = "3.1 - 3.1 - 3.1 - 3.1 -, 3.1 - 3.1 - 3.1 - - -"  # A flat over G


@pytest.fixture
def open_club(tmp_path: Path) -> Iterator[Club]:
    """A club whose first challenge, over G, is open."""
    with running_club(tmp_path) as club:
        club.bind(draws=False)
        club.challenge()
        club.posts()
        yield club


def _code(answer: httpx.Response) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


def test_a_variation_in_one_line_comes_back_as_tab_with_what_is_judged_of_it(open_club: Club) -> None:
    made = open_club.enter(open_club.wren, GOOD, name="Wren's first", comment="Thumb on the fourth string.")
    assert (made["state"], made["name"], made["by_name"]) == ("entered", "Wren's first", "Wren")
    assert (made["votes"], made["mine"], made["voted"]) == (0, True, False)
    assert made["tab"].splitlines()[2] == " 1 G"
    assert made["fit"]["score"] > 0.7
    seen = open_club.otter.get(f"{GROUP}/variations/1").json()
    assert (seen["mine"], seen["comment"]) == (False, "Thumb on the fourth string.")


def test_without_a_name_it_is_called_after_its_place(open_club: Club) -> None:
    assert open_club.enter(open_club.wren, GOOD)["name"] == "Heron Ferry A1"


def test_a_tab_is_read_as_well_and_where_it_cannot_be_the_place_is_named(open_club: Club) -> None:
    lick = open_club.wren.get(f"{GROUP}/licks/30").json()
    tab = "1|-------0--------|---0-------0----|\n2|---------q------|----------------|\n"
    tab += "3|-----0-------2--|-0--------------|\n4|-0--------------|-----2---0------|\n5|-----------0----|-------------0--|"
    refused = open_club.wren.post(f"{GROUP}/challenges/1/variations", json={"text": tab})
    assert _code(refused) == (422, "unreadable")
    assert (refused.json()["at"][0]["line"], refused.json()["at"][0]["column"]) == (2, 12)
    assert lick["state"] == "pool"


def test_what_clashes_is_held_and_its_author_told_what_to_mend(open_club: Club) -> None:
    held = open_club.enter(open_club.wren, CLASH)
    assert held["state"] == "held"
    assert any(reason["advice"] for reason in held["reasons"])
    # only its author and organisers know of it
    assert _code(open_club.otter.get(f"{GROUP}/variations/1")) == (404, "not-found")
    assert open_club.otter.get(f"{GROUP}/challenges/1/variations").json()["items"] == []
    assert len(open_club.wren.get(f"{GROUP}/challenges/1/variations").json()["items"]) == 1
    assert len(open_club.organiser.get(f"{GROUP}/challenges/1/variations").json()["items"]) == 1
    assert open_club.posts() == []
    mended = open_club.wren.put(f"{GROUP}/variations/1", json={"text": GOOD}, headers={"If-Match": '"1"'})
    assert (mended.json()["state"], mended.json()["revision"]) == ("entered", 2)
    assert [post["kind"] for post in open_club.posts()] == ["variation"]


def test_the_same_notes_as_another_variation_are_held_as_its_twin(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    twin = open_club.enter(open_club.otter, GOOD)
    assert twin["state"] == "held"
    assert twin["reasons"][-1]["text"] == "This is variation 1, note for note."


def test_the_lick_it_began_from_is_recognised(open_club: Club) -> None:
    line = open_club.wren.get(f"{GROUP}/licks/1").json()["line"]
    held = open_club.enter(open_club.wren, line)
    assert (held["state"], held["reasons"][0]["text"]) == ("held", "This is lick 1.")


def test_on_another_instrument_it_is_read_in_that_ones_setting(open_club: Club) -> None:
    made = open_club.enter(open_club.wren, "6.3 4 3 4 5.2 4 3 4, 6.3 4 3 4 6.3 - - -", instrument="guitar")
    assert (made["state"], made["instrument"]) == ("entered", "guitar")


def test_a_revision_with_other_notes_begins_without_votes(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    renamed = open_club.wren.put(
        f"{GROUP}/variations/1", json={"text": GOOD, "name": "New name"}, headers={"If-Match": "*"}
    )
    assert renamed.json()["votes"] == 1
    changed = open_club.wren.put(f"{GROUP}/variations/1", json={"text": OTHER}, headers={"If-Match": "*"})
    assert changed.json()["votes"] == 0


def test_a_revision_from_an_old_one_is_refused_and_so_is_anybody_elses(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    stale = open_club.wren.put(f"{GROUP}/variations/1", json={"text": OTHER}, headers={"If-Match": '"7"'})
    assert _code(stale) == (412, "changed")
    missing = open_club.wren.put(f"{GROUP}/variations/1", json={"text": OTHER})
    assert _code(missing) == (428, "if-match-needed")
    theirs = open_club.otter.put(f"{GROUP}/variations/1", json={"text": OTHER}, headers={"If-Match": "*"})
    assert _code(theirs) == (403, "not-yours")


def test_a_withdrawn_variation_is_gone_and_its_post_deleted(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    (announced,) = open_club.posts()
    assert _code(open_club.otter.delete(f"{GROUP}/variations/1")) == (403, "not-yours")
    assert open_club.wren.delete(f"{GROUP}/variations/1").status_code == 204
    assert _code(open_club.wren.get(f"{GROUP}/variations/1")) == (404, "not-found")
    (deleted,) = open_club.posts()
    assert (deleted["deed"], deleted["message_id"]) == ("delete", f"message-{announced['id']}")


def test_a_variation_withdrawn_before_it_was_posted_never_is(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.wren.delete(f"{GROUP}/variations/1")
    assert open_club.posts() == []


def test_after_closing_nothing_can_be_entered_revised_withdrawn_or_voted_for(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.organiser.post(f"{GROUP}/challenges/1/close")
    for answer in (
        open_club.otter.post(f"{GROUP}/challenges/1/variations", json={"text": OTHER}),
        open_club.wren.put(f"{GROUP}/variations/1", json={"text": OTHER}, headers={"If-Match": "*"}),
        open_club.wren.delete(f"{GROUP}/variations/1"),
        open_club.otter.put(f"{GROUP}/variations/1/vote"),
        open_club.otter.delete(f"{GROUP}/variations/1/vote"),
    ):
        assert _code(answer) == (409, "challenge-not-open")


def test_a_repeated_submission_is_one_variation(open_club: Club) -> None:
    path, body, key = f"{GROUP}/challenges/1/variations", {"text": GOOD}, {"Idempotency-Key": "k1"}
    first = open_club.wren.post(path, json=body, headers=key)
    again = open_club.wren.post(path, json=body, headers=key)
    assert (first.json(), again.headers["idempotent-replay"]) == (again.json(), "true")
    assert len(open_club.wren.get(path).json()["items"]) == 1


def test_a_token_that_belongs_to_nobody_can_neither_enter_nor_vote(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    with open_club.service.client("member", "ferry-lane") as nobody:
        entered = nobody.post(f"{GROUP}/challenges/1/variations", json={"text": OTHER})
        assert _code(entered) == (403, "no-member")
        assert _code(nobody.put(f"{GROUP}/variations/1/vote")) == (403, "no-member")


# --- review -------------------------------------------------------------------------------------------------


def test_an_organiser_accepts_what_was_held(open_club: Club) -> None:
    open_club.enter(open_club.wren, CLASH)
    accepted = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "accept"})
    assert accepted.json()["state"] == "entered"
    assert open_club.otter.get(f"{GROUP}/variations/1").status_code == 200
    again = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "accept"})
    assert _code(again) == (409, "cannot-review")


def test_a_refused_variation_is_out_and_its_author_reads_why(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.posts()
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    refusal = {"decision": "refuse", "reason": "Somebody else's solo."}
    assert open_club.organiser.post(f"{GROUP}/variations/1/review", json=refusal).status_code == 200
    mine = open_club.wren.get(f"{GROUP}/variations/1").json()
    assert (mine["state"], mine["reason"], mine["votes"]) == ("refused", "Somebody else's solo.", 0)
    assert open_club.otter.get(f"{GROUP}/variations/1").status_code == 404
    assert [post["deed"] for post in open_club.posts()] == ["delete"]


def test_a_variation_taken_into_the_pool_is_a_lick_of_its_author(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD, name="Keeper")
    taken = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "pool"}).json()
    lick = open_club.wren.get(f"{GROUP}/licks/{taken['lick']}").json()
    assert (lick["name"], lick["role"]) == ("Keeper", "opener")
    again = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "pool"})
    assert _code(again) == (409, "pooled-already")
    candidates = open_club.wren.get(f"{GROUP}/tunes/heron-ferry/phrases/1/licks?limit=100").json()["items"]
    assert taken["lick"] in [candidate["number"] for candidate in candidates]


def test_members_review_nothing(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    answer = open_club.otter.post(f"{GROUP}/variations/1/review", json={"decision": "pool"})
    assert _code(answer) == (403, "not-allowed")


# --- recordings ---------------------------------------------------------------------------------------------


def _wav(seconds: float = 0.1) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(b"\0\1" * int(8000 * seconds))
    return out.getvalue()


def test_a_recording_is_a_variation_and_is_played_back_as_it_came(open_club: Club) -> None:
    sound = _wav()
    sent = open_club.wren.post(
        f"{GROUP}/challenges/1/variations/recordings?name=By%20ear", content=sound,
        headers={"Content-Type": "audio/x-whatever"},
    )  # fmt: skip
    assert sent.status_code == 201
    made = sent.json()
    assert (made["state"], made["name"], made["tab"], made["recording"]) == ("entered", "By ear", None, True)
    back = open_club.otter.get(made["links"]["recording"])
    assert (back.content, back.headers["content-type"]) == (sound, "audio/wav")
    assert back.headers["content-disposition"] == 'attachment; filename="variation-1.wav"'
    assert back.headers["x-content-type-options"] == "nosniff"
    part = open_club.otter.get(made["links"]["recording"], headers={"Range": "bytes=0-3"})
    assert (part.status_code, part.content) == (206, b"RIFF")


def test_any_member_may_write_a_recording_down_also_after_closing(open_club: Club) -> None:
    open_club.wren.post(f"{GROUP}/challenges/1/variations/recordings", content=_wav())
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    open_club.organiser.post(f"{GROUP}/challenges/1/close")
    written = open_club.heron.put(
        f"{GROUP}/variations/1", json={"text": GOOD, "name": "Mine now"}, headers={"If-Match": "*"}
    ).json()
    assert (written["by_name"], written["votes"], written["name"]) == ("Wren", 1, "Heron Ferry A1")
    heron = open_club.organiser.get(f"{GROUP}/members").json()["items"]
    assert written["tab_by"] == next(member["number"] for member in heron if member["name"] == "Heron")
    assert "1|" in written["tab"]


@pytest.mark.parametrize(
    ("begins", "media_type"),
    [
        (b"OggS\0\2", "audio/ogg"), (b"fLaC\0\0", "audio/flac"), (b"ID3\4\0", "audio/mpeg"),
        (b"\xff\xfb\x90\x64\0\0", "audio/mpeg"), (b"\xff\xf1\x50\x80\0\0", "audio/aac"),
        (b"\0\0\0\x20ftypM4A \0", "audio/mp4"), (b"\0\0\0\x18ftypisom", "audio/mp4"),
        (b"\x1a\x45\xdf\xa3\x9f\x42", "audio/webm"), (b"#!AMR\n\x3c", "audio/amr"),
    ],
)  # fmt: skip
def test_a_sound_is_known_by_its_first_bytes(open_club: Club, begins: bytes, media_type: str) -> None:
    sent = open_club.wren.post(f"{GROUP}/challenges/1/variations/recordings", content=begins + bytes(200))
    assert sent.status_code == 201
    assert open_club.wren.get(sent.json()["links"]["recording"]).headers["content-type"] == media_type


@pytest.mark.parametrize(
    "content", [b"", b"<html><script>", b"MZ\x90\0", b"%PDF-1.7", b"\x89PNG\r\n", b"RIFF\0\0\0\0AVI "]
)
def test_what_is_no_sound_is_refused_whatever_it_says_it_is(open_club: Club, content: bytes) -> None:
    sent = open_club.wren.post(
        f"{GROUP}/challenges/1/variations/recordings", content=content, headers={"Content-Type": "audio/mpeg"}
    )
    assert _code(sent) == (415, "no-recording")


def test_recordings_have_a_size_and_a_group_so_many_of_them(tmp_path: Path) -> None:
    with running_club(tmp_path, recording_mib=1, recordings_mib=2) as club:
        club.bind(draws=False)
        club.challenge()
        path = f"{GROUP}/challenges/1/variations/recordings"
        assert _code(club.wren.post(path, content=b"OggS" + bytes(1 << 20))) == (413, "too-large")
        fits = b"OggS" + bytes((1 << 20) - 4)
        assert [club.wren.post(path, content=fits).status_code for _ in range(2)] == [201, 201]
        assert _code(club.wren.post(path, content=b"OggS")) == (409, "recordings-full")


def test_another_recording_takes_the_place_of_the_first(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    for sound in (_wav(0.1), _wav(0.2)):
        assert open_club.wren.put(f"{GROUP}/variations/1/recording", content=sound).status_code == 200
        assert open_club.otter.get(f"{GROUP}/variations/1/recording").content == sound
    count = open_club.service.house.database.points.execute("SELECT count(*) FROM recordings").fetchone()
    assert count == (1,)
    assert _code(open_club.otter.put(f"{GROUP}/variations/1/recording", content=_wav())) == (403, "not-yours")


# --- votes --------------------------------------------------------------------------------------------------


def test_a_vote_counts_once_however_often_it_is_given_and_can_be_taken_back(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    for _ in range(3):
        given = open_club.otter.put(f"{GROUP}/variations/1/vote").json()
        assert (given["votes"], given["voted"]) == (1, True)
    open_club.heron.put(f"{GROUP}/variations/1/vote")
    taken = open_club.otter.delete(f"{GROUP}/variations/1/vote").json()
    assert (taken["votes"], taken["voted"]) == (1, False)


def test_nobody_votes_for_their_own(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    assert _code(open_club.wren.put(f"{GROUP}/variations/1/vote")) == (403, "own-variation")


def test_what_is_held_cannot_be_voted_for(open_club: Club) -> None:
    open_club.enter(open_club.wren, CLASH)
    assert _code(open_club.otter.put(f"{GROUP}/variations/1/vote")) == (404, "not-found")
    assert _code(open_club.organiser.put(f"{GROUP}/variations/1/vote")) == (409, "not-entered")


def test_secret_votes_are_seen_by_nobody_before_the_round_up(tmp_path: Path) -> None:
    with running_club(tmp_path) as club:
        club.bind(draws=False)
        club.challenge(secret=True)
        club.enter(club.wren, GOOD)
        voted = club.otter.put(f"{GROUP}/variations/1/vote").json()
        assert (voted["votes"], voted["voted"]) == (None, True)
        assert club.organiser.get(f"{GROUP}/variations/1").json()["votes"] is None
        assert _code(club.organiser.get(f"{GROUP}/challenges/1/round-up")) == (409, "not-closed")
        club.organiser.post(f"{GROUP}/challenges/1/close")
        assert club.wren.get(f"{GROUP}/variations/1").json()["votes"] == 1


def _close(club: Club) -> list[dict[str, Any]]:
    club.organiser.post(f"{GROUP}/challenges/1/close")
    standings: list[dict[str, Any]] = club.wren.get(f"{GROUP}/challenges/1/round-up").json()["standings"]
    return standings


def test_the_round_up_is_fair_to_who_came_late(open_club: Club) -> None:
    with open_club.service.client("member", "ferry-lane", "Plover") as plover:
        open_club.enter(open_club.wren, GOOD)
        for voter in (open_club.heron, plover):
            voter.put(f"{GROUP}/variations/1/vote")
        open_club.clock.on(days=5)
        open_club.enter(open_club.otter, OTHER)
        # of those who look again all like the late one, and one of two likes the early one
        open_club.organiser.put(f"{GROUP}/variations/2/vote")
        open_club.wren.put(f"{GROUP}/variations/2/vote")
        standings = _close(open_club)
    assert [(s["rank"], s["variation"], s["votes"], s["chances"]) for s in standings] == [
        (1, 2, 2, 2),
        (2, 1, 2, 3),
    ]


def test_equals_share_a_rank_in_the_round_up(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.enter(open_club.otter, OTHER)
    for number in (1, 2):
        open_club.heron.put(f"{GROUP}/variations/{number}/vote")
    assert [(s["rank"], s["variation"]) for s in _close(open_club)] == [(1, 1), (1, 2)]
    text = open_club.posts()[-2]["text"]
    assert text.splitlines()[1:] == ["1. Heron Ferry A1, by Wren: 1", "1. Heron Ferry A1, by Otter: 1"]


def test_favourites_of_all_time_make_their_licks_likelier(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD, name="Loved")
    for voter in (open_club.otter, open_club.heron):
        voter.put(f"{GROUP}/variations/1/vote")
    lick = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "pool"}).json()["lick"]
    open_club.enter(open_club.otter, OTHER, name="Less so")
    open_club.wren.put(f"{GROUP}/variations/2/vote")
    _close(open_club)
    favourites = open_club.wren.get(f"{GROUP}/favourites").json()["items"]
    assert [(entry["name"], entry["lick"]) for entry in favourites] == [("Loved", lick), ("Less so", None)]

    usual, weights = lick_weights(open_club.service.house.database.points, 1)
    assert dict(weights)[lick] > usual
    wish = {"favour": "favourites", "max_level": 5, "must_include": []}
    for seed in range(200):
        made = open_club.wren.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={**wish, "seed": seed})
        assert made.status_code == 201, made.text
        if made.json()["phrases"][0]["lick"]["number"] == lick:
            return
    pytest.fail("it was never drawn")


# --- taken down ---------------------------------------------------------------------------------------------

ANY_REVISION = {"If-Match": "*"}
TAKEN = {"reason": "somebody asked"}


def test_of_a_base_lick_that_was_taken_down_the_challenge_tells_nothing(open_club: Club) -> None:
    open_club.organiser.put(f"{GROUP}/licks/1/taken-down", json=TAKEN, headers=ANY_REVISION)
    shown = open_club.wren.get(f"{GROUP}/challenges/current")
    assert (shown.json()["lick"], shown.json()["lick_name"]) == (None, None)
    assert "Push off" not in shown.text
    open_club.organiser.post(f"{GROUP}/challenges/1/close")
    assert "Push off" not in str(open_club.posts())


def test_a_variation_whose_lick_was_taken_down_is_kept_from_everybody(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD, name="Not mine")
    lick = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "pool"}).json()["lick"]
    open_club.organiser.put(f"{GROUP}/licks/{lick}/taken-down", json=TAKEN, headers=ANY_REVISION)
    assert _code(open_club.wren.get(f"{GROUP}/variations/1")) == (451, "taken-down")
    assert open_club.organiser.get(f"{GROUP}/challenges/1/variations").json()["items"] == []
    assert _code(open_club.otter.put(f"{GROUP}/variations/1/vote")) == (451, "taken-down")
    assert _close(open_club) == []
    open_club.organiser.delete(f"{GROUP}/licks/{lick}/taken-down", headers=ANY_REVISION)
    assert open_club.wren.get(f"{GROUP}/variations/1").json()["name"] == "Not mine"


def test_a_variation_can_be_refused_after_its_challenge_too(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    assert len(_close(open_club)) == 1
    refusal = {"decision": "refuse", "reason": "Somebody else's solo."}
    assert open_club.organiser.post(f"{GROUP}/variations/1/review", json=refusal).status_code == 200
    assert open_club.otter.get(f"{GROUP}/challenges/1/round-up").json()["standings"] == []


# --- what was tried to get around the rules -----------------------------------------------------------------


def test_from_the_closing_second_on_no_vote_counts_even_before_the_clock_has_closed(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    open_club.clock.to("2026-11-09T18:00:00Z")
    assert _code(open_club.otter.delete(f"{GROUP}/variations/1/vote")) == (409, "challenge-not-open")
    assert _code(open_club.heron.put(f"{GROUP}/variations/1/vote")) == (409, "challenge-not-open")


def test_a_submission_repeated_with_its_key_after_closing_is_answered_as_before(open_club: Club) -> None:
    path, key = f"{GROUP}/challenges/1/variations", {"Idempotency-Key": "k1"}
    first = open_club.wren.post(path, json={"text": GOOD}, headers=key)
    sound = open_club.wren.post(f"{path}/recordings", content=_wav(), headers={"Idempotency-Key": "k2"})
    _close(open_club)
    assert open_club.wren.post(path, json={"text": GOOD}, headers=key).json() == first.json()
    again = open_club.wren.post(f"{path}/recordings", content=_wav(), headers={"Idempotency-Key": "k2"})
    assert (again.status_code, again.json()) == (201, sound.json())


def test_another_sound_in_the_place_of_a_recording_begins_without_votes(open_club: Club) -> None:
    open_club.wren.post(f"{GROUP}/challenges/1/variations/recordings", content=_wav())
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    changed = open_club.wren.put(f"{GROUP}/variations/1/recording", content=_wav(0.3))
    assert changed.json()["votes"] == 0


def test_whoever_wrote_a_recording_down_wrongly_takes_no_votes_and_no_rights_with_it(open_club: Club) -> None:
    open_club.wren.post(f"{GROUP}/challenges/1/variations/recordings", content=_wav())
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    theirs = {"text": OTHER, "rights": {"origin": "traditional", "credit": "Heron"}}
    written = open_club.heron.put(f"{GROUP}/variations/1", json=theirs, headers={"If-Match": "*"}).json()
    assert (written["rights"]["origin"], written["rights"]["credit"]) == ("own", "Wren")
    _close(open_club)
    mended = open_club.wren.put(
        f"{GROUP}/variations/1", json={"text": GOOD}, headers={"If-Match": "*"}
    ).json()
    assert (mended["votes"], mended["line"][:3]) == (1, "G 4")


def test_what_was_refused_is_held_when_it_is_sent_again_and_goes_into_no_pool(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "refuse", "reason": "no"})
    again = open_club.enter(open_club.wren, GOOD)
    assert (again["state"], again["reasons"][-1]["code"]) == ("held", "refused-before")
    pooled = open_club.organiser.post(f"{GROUP}/variations/1/review", json={"decision": "pool"})
    assert _code(pooled) == (409, "cannot-review")


def test_only_what_is_in_the_challenge_has_twins(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    assert open_club.enter(open_club.otter, GOOD)["state"] == "held"
    open_club.wren.delete(f"{GROUP}/variations/1")
    assert open_club.enter(open_club.wren, GOOD)["state"] == "entered"


def test_a_member_has_ten_variations_in_a_challenge_at_most(open_club: Club) -> None:
    path = f"{GROUP}/challenges/1/variations/recordings"
    for _ in range(10):
        assert open_club.wren.post(path, content=_wav()).status_code == 201
    assert _code(open_club.wren.post(path, content=_wav())) == (409, "entries-enough")
    open_club.wren.delete(f"{GROUP}/variations/3")
    assert open_club.wren.post(path, content=_wav()).status_code == 201


def test_a_variation_of_another_length_is_told_how_long_the_phrase_is(open_club: Club) -> None:
    answer = open_club.wren.post(f"{GROUP}/challenges/1/variations", json={"text": "3 2 1 5 3 2 1 5"})
    assert answer.json()["at"][0]["text"] == "Measures of the phrase: 2; of the variation: 1."


@pytest.mark.parametrize("name", ["%00", "%20%20", "a%E2%80%AEb", "a%0Ab"])
def test_a_recordings_name_is_a_name(open_club: Club, name: str) -> None:
    path = f"{GROUP}/challenges/1/variations/recordings?name={name}"
    assert _code(open_club.wren.post(path, content=_wav())) == (400, "bad-request")


def test_a_recording_beside_a_tab_does_not_keep_votes_for_other_notes(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    open_club.otter.put(f"{GROUP}/variations/1/vote")
    open_club.wren.put(f"{GROUP}/variations/1/recording", content=_wav())
    changed = open_club.wren.put(
        f"{GROUP}/variations/1", json={"text": OTHER}, headers={"If-Match": "*"}
    ).json()
    assert (changed["votes"], changed["tab_by"]) == (0, None)
    clash = open_club.wren.put(f"{GROUP}/variations/1", json={"text": CLASH}, headers={"If-Match": "*"})
    assert clash.json()["state"] == "held"
    _close(open_club)
    late = open_club.wren.put(f"{GROUP}/variations/1", json={"text": GOOD}, headers={"If-Match": "*"})
    assert _code(late) == (409, "challenge-not-open")


# --- to be seen and heard -----------------------------------------------------------------------------------


def test_a_variation_is_seen_and_heard_before_it_is_voted_for(open_club: Club) -> None:
    made = open_club.enter(open_club.wren, GOOD, name="Wren's first")
    for name, begins in (("picture", b"\x89PNG"), ("sheet", b"%PDF"), ("sound", b"\xff\xfb")):
        answer = open_club.otter.get(made["links"][name])
        assert (answer.status_code, answer.content[: len(begins)]) == (200, begins), name
    described = open_club.otter.get(f"{GROUP}/variations/1/alt.txt").text
    assert described.startswith("Wren's first")
    assert open_club.otter.get(f"{GROUP}/variations/1/tab.gif").json()["code"] == "no-such-file"


def test_a_mended_variation_has_another_picture(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD)
    before = open_club.otter.get(f"{GROUP}/variations/1/tab.txt")
    mended = open_club.wren.put(
        f"{GROUP}/variations/1", json={"text": OTHER, "name": "Mended"}, headers={"If-Match": "*"}
    )
    assert mended.status_code == 200
    after = open_club.otter.get(f"{GROUP}/variations/1/tab.txt")
    assert before.text != after.text
    assert before.headers["etag"] != after.headers["etag"]


def test_where_a_variation_comes_from_stands_below_it_without_a_lick_number(open_club: Club) -> None:
    open_club.enter(open_club.wren, GOOD, rights={"origin": "adapted", "source": "the Otter's reel"})
    score = open_club.otter.get(f"{GROUP}/variations/1/break.musicxml").text
    assert "Adapted from the Otter's reel." in score


def test_files_of_what_is_held_are_for_its_author_and_organisers(open_club: Club) -> None:
    open_club.enter(open_club.wren, CLASH)
    picture = f"{GROUP}/variations/1/tab.png"
    assert open_club.wren.get(picture).status_code == 200
    assert open_club.organiser.get(picture).status_code == 200
    assert _code(open_club.otter.get(picture)) == (404, "not-found")


def test_a_recording_that_nobody_has_written_down_has_no_picture(open_club: Club) -> None:
    open_club.wren.post(f"{GROUP}/challenges/1/variations/recordings", content=_wav())
    assert _code(open_club.otter.get(f"{GROUP}/variations/1/tab.png")) == (409, "no-tab-yet")
