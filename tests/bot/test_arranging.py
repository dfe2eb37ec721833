"""A tune of the group's own, typed on a phone: it comes back as a plain break."""

import io

import pytest
from PIL import Image

from bot.book import Sent
from bot.replies import Call, Form, Reply
from tests.bot.asking import Asking, labels

CHART = """A: | G | C | G | D | G | C | D | G |
B: | G | G | C | C | G | Em | D | G |
order: A A B B"""
MELODY = """A: D2 | G2 AB c2 BA | c2 e2 c4 | B2 G2 d2 B2 | A4 A2 D2 | G2 AB c2 BA | c2 e2 c2 B2 | A2 F2 D2 F2 | G4 z2 |
B: | d2 B2 d2 B2 | d2 g2 d4 | e2 c2 e2 c2 | e2 g2 e4 | d2 B2 G2 B2 | e2 d2 B2 G2 | A2 F2 D2 F2 | G6 z2 |"""


def _added(asking: Asking, **typed: str) -> Reply:
    form = asking.form("kit", "tune add")
    return asking.fill(
        "kit", form, **{"name": "Bracken Lane", "key": "G", "chart": CHART, "melody": MELODY, **typed}
    )


def test_a_tune_that_is_typed_in_comes_back_as_a_plain_break(asking: Asking) -> None:
    reply = _added(asking)
    assert not reply.failed, reply
    assert reply.head.startswith("Bracken Lane · key of G · banjo in open G · G position · no capo")
    assert reply.notes[0] == "Bracken Lane is in."
    assert "It recalls 100 % of the melody." in reply.notes
    assert Image.open(io.BytesIO(reply.files[0].data)).format == "PNG"
    heard = asking.pressed("kit", reply, "Sound")
    assert heard.files[0].data[:3] in (b"ID3", b"\xff\xfb\x90")
    assert "Bracken Lane, key of G, A A B B" in asking.answer("otter", "tune list").notes


def test_its_phrases_are_licks_of_the_pool_and_other_breaks_are_made_with_them(asking: Asking) -> None:
    code = _added(asking).code
    licks = asking.answer("otter", "break licks", code=code)
    assert "Bracken Lane A1" in licks.notes[0]
    found = asking.service.member.get("/v1/groups/ferry-lane/licks?q=Bracken").json()["items"]
    assert [lick["name"] for lick in found] == [
        f"Bracken Lane {place}" for place in ("A1", "A2", "A3", "A4", "B1", "B2", "B3")
    ]
    assert {lick["arranged"] for lick in found} == {True}
    assert not asking.answer("otter", "break random", tune="bracken-lane").failed
    assert asking.answer("otter", "tune plain", tune="bracken-lane").code == code


def test_a_slip_in_the_melody_comes_back_with_a_caret_and_nothing_is_lost(asking: Asking) -> None:
    wrong = MELODY.replace("c2 e2 c4", "c2 h2 c4", 1)
    reply = _added(asking, melody=wrong)
    assert reply.failed
    shown = reply.tab.splitlines()
    caret = next(number for number, line in enumerate(shown) if line.strip() == "^")
    assert shown[caret - 1][shown[caret].index("^")] == "h"
    form = asking.press("kit", reply, "Mend it")
    assert isinstance(form, Form)
    assert {blank.name: blank.value for blank in form.blanks} == {
        "name": "Bracken Lane", "key": "G", "chart": CHART, "melody": wrong,
    }  # fmt: skip
    mended = asking.fill("kit", form, melody=MELODY)
    assert not mended.failed, mended
    assert mended.notes[0] == "Bracken Lane is in."


def test_a_melody_without_the_name_of_its_part_is_part_a(asking: Asking) -> None:
    reply = _added(asking, chart="A: | G | D | G | G |", melody="| G2 A2 B4 | A2 F2 D4 | B2 A2 G4 | G6 z2 |")
    assert not reply.failed, reply
    assert "over 32" not in reply.head


def test_without_a_melody_the_tune_is_in_and_says_what_is_missing(asking: Asking) -> None:
    reply = _added(asking, melody="")
    assert reply.head == "Bracken Lane is in."
    assert labels(reply) == ["Mend", "Chart", "Phrases"]
    shown = asking.pressed("kit", reply, "Mend")
    form = asking.press("kit", shown, "Mend it")
    assert isinstance(form, Form)
    mended = asking.fill("kit", form, melody=MELODY)
    assert not mended.failed, mended
    assert mended.notes[0] == "Bracken Lane is in."


def test_a_break_is_made_anew_with_ornaments_or_in_another_position(asking: Asking) -> None:
    reply = _added(asking)
    again = asking.pressed("kit", reply, "With ornaments")
    assert not again.failed, again
    assert again.code != reply.code
    positions = asking.pressed("kit", reply, "Other positions")
    assert positions.notes[0].startswith("G position · no capo · fifth string open: 100 % of the melody")
    other = asking.pressed("kit", positions, "D position")
    assert "D position · capo 5" in other.head


def test_whoever_does_not_organise_sees_what_it_would_be_and_adds_nothing(asking: Asking) -> None:
    _added(asking)
    reply = asking.answer("otter", "tune arrange", tune="bracken-lane", plain=1)
    assert reply.private
    assert reply.tab.startswith("A1 G C\n")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"key": "H"}, "H"),
        ({"chart": "A: | G | X | G | D |"}, "X"),
        ({"name": "Heron Ferry"}, "heron-ferry"),
    ],
)
def test_what_cannot_be_used_is_named(asking: Asking, given: dict[str, str], says: str) -> None:
    reply = _added(asking, **given)
    assert reply.failed
    assert says in " ".join([reply.head, *reply.notes])


def test_the_melody_may_be_one_line_for_a_thumb(asking: Asking) -> None:
    line = "d2; g2 a b c2 b a, c2 e2 c4, b2 g2 d2 >b2, a4 a2 <d2, g2 a b c2 b a, c2 e2 c2 b2, a2 f2 d2 f2, g4 .2;"
    reply = _added(asking, chart="A: | G | C | G | D | G | C | D | G |\norder: A A", melody=line)
    assert not reply.failed, reply
    assert "It recalls 100 % of the melody." in reply.notes
    form = asking.press("kit", asking.pressed("kit", reply, "Mend the tune"), "Mend it")
    assert isinstance(form, Form)
    assert {blank.name: blank.value for blank in form.blanks}["melody"] == f"A: {line}"


ABC = b"""X:1
T:Lantern on the Sill
M:2/2
L:1/8
K:Ador
|: EA AB c2 BA | G2 E2 G4 | EA AB c2 d2 | e2 d2 c2 B2 |
EA AB c2 BA | G2 E2 D2 E2 | G2 A2 B2 G2 | A8 :|
"""


def test_a_tune_comes_out_of_a_file_with_chords_proposed_and_the_mode_minded(asking: Asking) -> None:
    async def read() -> bytes:
        return ABC

    files = {"file": Sent("lantern.abc", len(ABC), "text/vnd.abc", read)}
    reply = asking.call("kit", Call("tune bring", {"file": "lantern.abc"}), files)
    assert isinstance(reply, Reply)
    assert not reply.failed, reply
    assert reply.head.startswith("Lantern on the Sill · key of Am · banjo in open G")
    assert "The chords are proposed from the melody. Mend what you hear otherwise." in reply.notes
    shown = asking.answer("otter", "tune show", tune="lantern-on-the-sill")
    assert shown.tab.startswith("A: | Am |")


def test_what_is_no_file_of_tunes_is_refused_with_what_to_send(asking: Asking) -> None:
    async def read() -> bytes:
        return b"OggS" + bytes(100)

    files = {"file": Sent("take.ogg", 104, "audio/ogg", read)}
    reply = asking.call("kit", Call("tune bring", {"file": "take.ogg"}), files)
    assert isinstance(reply, Reply)
    assert reply.failed
    assert "ABC notation, MusicXML" in reply.head


def test_repeat_signs_may_stand_in_chart_and_melody_alike(asking: Asking) -> None:
    reply = _added(asking, chart="|: G | D | G | G :|", melody="|: G2 A2 B4 | A2 F2 D4 | B2 A2 G4 | G6 z2 :|")
    assert not reply.failed, reply
    once = _added(
        asking,
        name="Once",
        chart="A: | G | D | G | G |\norder: A A",
        melody="|: G2 A2 B4 | A2 F2 D4 | B2 A2 G4 | G6 z2 :|",
    )
    assert not once.failed, once


def test_what_was_arranged_of_a_melody_that_is_no_more_leaves_the_pool(asking: Asking) -> None:
    reply = _added(asking)
    form = asking.press("kit", asking.pressed("kit", reply, "Mend the tune"), "Mend it")
    assert isinstance(form, Form)
    mended = asking.fill("kit", form, melody=MELODY.replace("G2 AB c2 BA", "B2 AB c2 d2"))
    assert not mended.failed, mended
    licks = asking.service.member.get("/v1/groups/ferry-lane/licks?q=Bracken&limit=50").json()["items"]
    assert sorted(lick["name"] for lick in licks) == [
        f"Bracken Lane {place}" for place in ("A1", "A2", "A3", "A4", "B1", "B2", "B3")
    ]
    first = min(lick["number"] for lick in licks) - 1
    assert asking.service.member.get(f"/v1/groups/ferry-lane/licks/{first}").json()["state"] == "retired"


def test_where_there_is_no_plain_break_one_can_be_made(asking: Asking) -> None:
    _added(asking)
    missing = asking.answer("kit", "tune plain", tune="bracken-lane", instrument="fiddle")
    assert missing.failed
    made = asking.pressed("kit", missing, "Make a plain break")
    assert "fiddle in standard" in made.head


def test_a_file_that_cannot_be_read_says_where(asking: Asking) -> None:
    async def read() -> bytes:
        return b"X:1\nT:Slip\nM:2/2\nL:1/8\nK:G\n"

    files = {"file": Sent("slip.abc", 40, "text/vnd.abc", read)}
    reply = asking.call("kit", Call("tune bring", {"file": "slip.abc"}), files)
    assert isinstance(reply, Reply)
    assert reply.failed
    assert reply.notes[0].startswith("Line ")


def test_licks_are_proposed_for_a_phrase_and_an_organiser_puts_one_into_the_pool(asking: Asking) -> None:
    _added(asking)
    found = asking.answer("kit", "lick propose", tune="bracken-lane", phrase=2)
    assert found.private
    assert found.head == "Bracken Lane · proposals for phrase 2: A part, over G D"
    assert found.notes[0].startswith("Proposal 1 of ")
    assert found.tab.startswith("open G")
    following = asking.pressed("kit", found, "Next")
    assert following.notes[0].startswith("Proposal 2 of ")
    name = following.notes[1].partition(":")[0]
    kept = asking.pressed("kit", following, "Into the pool")
    assert not kept.failed, kept
    assert kept.notes[0] == "It is in the pool."
    assert name in kept.head
    number = int(kept.head.split()[0])
    lick = asking.service.member.get(f"/v1/groups/ferry-lane/licks/{number}").json()
    assert (lick["state"], lick["arranged"]) == ("pool", True)
    assert lick["rights"]["source"]
    again = asking.answer("kit", "lick propose", tune="bracken-lane", phrase=2)
    assert all(not label.startswith(name) for label in labels(again))
    gone = asking.pressed("kit", following, "Into the pool")
    assert gone.failed
    assert "no more" in gone.head


def test_a_moved_lick_names_the_one_it_comes_from_and_is_not_for_other_groups(asking: Asking) -> None:
    path = "/v1/groups/ferry-lane/tunes/heron-ferry/phrases/1/proposals"
    items = asking.service.member.get(path).json()["items"]
    assert 1 <= len(items) <= 12
    moved = next(one for one in items if one["how"]["code"] == "proposed-moved")
    number, name = moved["how"]["params"]["lick"], moved["how"]["params"]["name"]
    assert moved["how"]["text"] == f"Lick {number}, {name}, moved from C to G."
    refused = asking.service.member.post(path, json={"key": moved["key"]})
    assert refused.status_code == 403
    made = asking.service.organiser.post(path, json={"key": moved["key"]})
    assert made.status_code == 201, made.text
    lick = made.json()
    assert lick["state"] == "pool"
    assert lick["chords"] == "G"
    assert lick["rights"]["source"].startswith(f"{name} ({number})")
    assert not lick["rights"]["may_share"]
    fits = asking.service.member.get(path.replace("proposals", "licks")).json()["items"]
    assert lick["number"] in {one["number"] for one in fits}
    unknown = asking.service.organiser.post(path, json={"key": "00000000"})
    assert (unknown.status_code, unknown.json()["code"]) == (409, "no-such-proposal")
    beyond = asking.service.member.get(path.replace("phrases/1/", "phrases/500/"))
    assert (beyond.status_code, beyond.json()["code"]) == (404, "no-such-phrase")


def test_whoever_does_not_organise_sees_proposals_and_keeps_none(asking: Asking) -> None:
    _added(asking)
    found = asking.answer("otter", "lick find", tune="bracken-lane", phrase=1)
    proposed = asking.pressed("otter", found, "Propose others")
    assert "An organiser can keep it." in proposed.notes
    assert "Into the pool" not in labels(proposed)


def test_a_tune_without_a_melody_is_proposed_licks_of_the_pool_alone(asking: Asking) -> None:
    _added(asking, melody="")
    path = "/v1/groups/ferry-lane/tunes/bracken-lane/phrases/5/proposals"  # G G: of which the pool has many, over C
    items = asking.service.member.get(path).json()["items"]
    assert {one["how"]["code"] for one in items} == {"proposed-moved"}
    assert {one["melody"] for one in items} == {None}


@pytest.mark.parametrize("kind", ["abc", "musicxml", "midi"])
def test_a_tune_is_taken_along_as_a_file_and_comes_back_from_it(asking: Asking, kind: str) -> None:
    taken = asking.answer("otter", "tune take", tune="heron-ferry", kind=kind)
    sent = taken.files[0]
    assert sent.name == f"heron-ferry.{'mid' if kind == 'midi' else kind}"

    async def read() -> bytes:
        return sent.data

    files = {"file": Sent(sent.name, len(sent.data), "application/octet-stream", read)}
    back = asking.call("kit", Call("tune bring", {"file": sent.name, "name": "Heron Again"}), files)
    assert isinstance(back, Reply)
    assert not back.failed, back
    first, again = (
        asking.service.member.get(f"/v1/groups/ferry-lane/tunes/{slug}").json()
        for slug in ("heron-ferry", "heron-again")
    )
    if kind != "midi":  # which has no chords
        assert [phrase["chords"] for phrase in again["phrases"]] == [
            phrase["chords"] for phrase in first["phrases"]
        ]
    assert len(again["phrases"]) == 16


def test_a_tune_may_be_typed_as_thumbs_type_it(asking: Asking) -> None:
    chart = "A: | g | c | g | d7 |\nB: | em | c/g | d | g |\nA A B B"
    reply = _added(asking, key="g Major", chart=chart, melody="")
    assert not reply.failed, reply
    assert "Bracken Lane, key of G, A A B B" in asking.answer("otter", "tune list").notes
    phrases = asking.service.member.get("/v1/groups/ferry-lane/tunes/bracken-lane").json()["phrases"]
    assert [phrase["chords"] for phrase in phrases] == ["G C", "G D7"] * 2 + ["Em C/G", "D G"] * 2
    shown = asking.pressed("kit", reply, "Mend")
    assert shown.tab.splitlines()[2:] == [f"# chart: {line}" for line in chart.splitlines()]


def test_an_order_that_the_chart_does_not_say_is_put_behind_it_to_be_mended(asking: Asking) -> None:
    body = {
        "slug": "bracken-lane", "name": "Bracken Lane", "key": "A", "meter": "2/2", "order": "AA",
        "tempo": {"low": 60, "high": 120, "start": 80, "unit": "half"}, "chart": "A: | A | A |",
    }  # fmt: skip
    assert asking.service.organiser.post("/v1/groups/ferry-lane/tunes", json=body).status_code == 201
    assert "# chart: order: A A" in asking.answer("kit", "tune mend", tune="bracken-lane").tab


def test_a_key_with_a_mode_is_kept_with_what_it_alters_written_out(asking: Asking) -> None:
    chart, melody = "A: | Am | G | Am | Am |", "a2 b2 c4, d2 f2 g4, e2 f2 d2 b2, <a8"
    reply = _added(asking, key="A dorian", chart=chart, melody=melody)
    assert not reply.failed, reply
    assert reply.notes[1] == "Its key is kept as Am; what the mode alters is written out in the melody."
    kept = asking.service.member.get("/v1/groups/ferry-lane/tunes/bracken-lane").json()
    assert (kept["key"], kept["melody"]) == ("Am", "A: a2 b2 c4, d2 ^f2 g4, e2 ^f2 d2 b2, <a8\n")


@pytest.mark.parametrize("melody", ["g2 Eb c4", "A: g2 Eb c4"])
def test_a_flat_that_may_be_a_note_comes_back_with_a_caret_below_it(asking: Asking, melody: str) -> None:
    reply = _added(asking, chart="A: | G |", melody=melody)
    assert reply.notes == (
        "Line 1, column 7: “Eb” can be one note, flat, or two notes. "
        "Write _E for the flat, or E b for the two notes.",
    )
    *_, line, caret = reply.tab.splitlines()
    assert line[caret.index("^") :] == "Eb c4"
