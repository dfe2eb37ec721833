"""How a tune is cut into phrases, seen and changed in the chat."""

from sqlite3 import Connection

import pytest

from bot.commands.cutting import cuts_read
from bot.replies import Form, Reply
from tests.bot.asking import GROUP, Asking, labels

CHART = """A: | G | C | G | D | G | C | D | G |
B: | G | G | C | C | G | Em | D | G |
order: A A B B"""
MELODY = """A: D2 | G2 AB c2 BA | c2 e2 c4 | B2 G2 d2 B2 | A4 A2 D2 | G2 AB c2 BA | c2 e2 c2 B2 | A2 F2 D2 F2 | G4 z2 |
B: | d2 B2 d2 B2 | d2 g2 d4 | e2 c2 e2 c2 | e2 g2 e4 | d2 B2 G2 B2 | e2 d2 B2 G2 | A2 F2 D2 F2 | G6 z2 |"""


def _added(asking: Asking, melody: str = MELODY) -> Reply:
    form = asking.form("kit", "tune add")
    return asking.fill("kit", form, name="Bracken Lane", key="G", chart=CHART, melody=melody)


def _tune(asking: Asking) -> dict[str, object]:
    found: dict[str, object] = asking.service.member.get(f"{GROUP}/tunes/bracken-lane").json()
    return found


def _mended(asking: Asking, chart: str, melody: str) -> Reply:
    form = asking.press("kit", asking.answer("kit", "tune mend", tune="bracken-lane"), "Mend it")
    assert isinstance(form, Form)
    return asking.fill("kit", form, chart=chart, melody=melody)


def test_a_tune_that_was_typed_in_shows_how_it_is_cut(asking: Asking) -> None:
    reply = asking.pressed("kit", _added(asking), "Phrases")
    assert reply.head == "Bracken Lane · phrases"
    assert reply.tab.splitlines() == [
        " 1 A.1 2 opener G C",
        " 2 A.2 2 body   G D",
        " 3 A.3 2 body   G C",
        " 4 A.4 2 tag    D G",
        " 9 B.1 2 body   G",
        "10 B.2 2 body   C",
        "11 B.3 2 body   G Em",
        "12 B.4 2 tag    D G",
    ]
    assert "The roles are proposed from the chords." in reply.notes
    assert {"Cut A anew", "Cut B anew", "4: A part, over D G"} <= set(labels(reply))


def test_whoever_does_not_organise_sees_the_phrases_and_changes_none(reading: Asking) -> None:
    shown = reading.answer("wren", "tune show", tune="heron-ferry")
    assert labels(reading.pressed("wren", shown, "Phrases")) == []
    refused = reading.answer("wren", "tune role", tune="heron-ferry", phrase=2, role="tag")
    assert refused.failed


def test_chords_that_have_no_room_stand_below_and_no_line_is_wider_than_a_phone(asking: Asking) -> None:
    chart = "Chorus: | F#m7b5 B7 | Emmaj7 A7 | Dmaj7 G7 | Cmaj7 |"
    asking.fill("kit", asking.form("kit", "tune add"), name="Bracken Lane", key="Em", chart=chart)
    tab = asking.answer("kit", "tune phrases", tune="bracken-lane").tab
    assert tab.splitlines() == [
        "1 Chorus.1 2 opener",
        "  F#m7b5 B7 Emmaj7 A7",
        "2 Chorus.2 2 body",
        "  Dmaj7 G7 Cmaj7",
    ]


def test_an_organiser_gives_a_phrase_another_role_and_takes_it_back(asking: Asking) -> None:
    shown = asking.pressed("kit", _added(asking), "Phrases")
    asked = asking.pressed("kit", shown, "3: A part")
    assert asked.notes[0] == "Its role, as the chords propose it: body."
    assert labels(asked) == ["opener", "set-up", "tag"]
    changed = asking.pressed("kit", asked, "set-up")
    assert changed.notes[0] == "Phrase 3: A part, over G C: set-up."
    assert changed.tab.splitlines()[2] == " 3 A.3 2 set-up* G C"
    assert _tune(asking)["roles"] == [{"part": "A", "phrase": 3, "role": "set-up"}]
    assert "7: A part, over G C" not in labels(changed)  # the second time round it is the same phrase
    back = asking.pressed(
        "kit", asking.answer("kit", "tune role", tune="bracken-lane", phrase=7), "As proposed"
    )
    assert back.tab.splitlines()[2] == " 3 A.3 2 body   G C"
    assert _tune(asking)["roles"] == []


def test_a_part_is_cut_anew_and_arranged_so(asking: Asking) -> None:
    shown = asking.pressed("kit", _added(asking), "Phrases")
    form = asking.press("kit", shown, "Cut A anew")
    assert isinstance(form, Form)
    assert [(blank.name, blank.value) for blank in form.blanks] == [("measures", "2 2 2 2")]
    changed = asking.fill("kit", form, measures="4, 2 2")
    assert not changed.failed, changed
    assert changed.notes[:2] == (
        "Measures of part A: 8, cut 4 2 2. The roles of its phrases are proposed from the chords.",
        "The plain break was made before this: arrange it anew.",
    )
    assert changed.tab.splitlines()[0] == " 1 A.1 4 opener G C G D"
    assert asking.answer("kit", "tune plain", tune="bracken-lane").failed
    arranged = asking.pressed("kit", changed, "Arrange anew")
    assert not arranged.failed, arranged
    assert _tune(asking)["cuts"] == {"A": [4, 2, 2], "B": [2, 2, 2, 2]}
    assert not asking.answer("otter", "tune plain", tune="bracken-lane").failed


@pytest.mark.parametrize(
    ("measures", "says"),
    [
        ("2 2 2", "Measures in 2 2 2: 6. Part A has 8: write numbers that make 8 together."),
        ("two and two", "“two and two” does not say how many measures each phrase has"),
        ("0 8", "“0 8” does not say"),
        ("999999999999", "does not say"),
    ],
)
def test_cuts_that_do_not_make_the_part_are_refused_and_can_be_typed_again(
    asking: Asking, measures: str, says: str
) -> None:
    _added(asking, melody="")
    refused = asking.answer("kit", "tune cut", tune="bracken-lane", part="a", measures=measures)
    assert refused.failed
    assert says in refused.head
    form = asking.press("kit", refused, "Cut A anew")
    assert isinstance(form, Form)
    assert form.blanks[0].value == "2 2 2 2"
    changed = asking.fill("kit", form, measures="4 4")
    assert (changed.failed, "Arrange anew" in labels(changed)) == (False, False)  # it has no melody


def test_a_part_or_a_phrase_that_is_not_there_is_named(asking: Asking) -> None:
    _added(asking, melody="")
    assert asking.answer("kit", "tune cut", tune="bracken-lane", part="C", measures="8").head == (
        "There is no part C. Parts: A, B."
    )
    assert asking.answer("kit", "tune role", tune="bracken-lane", phrase=17).head == (
        "Bracken Lane has no phrase 17: they go from 1 to 16."
    )


def test_mending_the_melody_keeps_cuts_and_roles(asking: Asking) -> None:
    _added(asking)
    asking.answer("kit", "tune cut", tune="bracken-lane", part="A", measures="4 2 2")
    asking.answer("kit", "tune role", tune="bracken-lane", phrase=2, role="set-up")
    mended = _mended(asking, CHART, MELODY.replace("c2 e2 c4", "c2 e2 d4"))
    assert not mended.failed, mended
    assert [note for note in mended.notes if note.startswith("Measures of part ")] == []
    tune = _tune(asking)
    assert tune["cuts"] == {"A": [4, 2, 2], "B": [2, 2, 2, 2]}
    assert tune["roles"] == [{"part": "A", "phrase": 2, "role": "set-up"}]


def test_a_part_that_is_longer_now_is_cut_as_usual_and_it_is_said(asking: Asking) -> None:
    _added(asking, melody="")
    for part, measures in (("A", "4 2 2"), ("B", "4 4")):
        asking.answer("kit", "tune cut", tune="bracken-lane", part=part, measures=measures)
    asking.answer("kit", "tune role", tune="bracken-lane", phrase=2, role="set-up")
    asking.answer("kit", "tune role", tune="bracken-lane", phrase=7, role="body")
    mended = _mended(asking, CHART.replace("D | G |\nB", "D | G | G | G |\nB"), "")
    assert mended.notes[0] == (
        "Measures of part A: 10, cut 2 2 2 2 2. The roles of its phrases are proposed from the chords."
    )
    tune = _tune(asking)
    assert tune["cuts"] == {"A": [2, 2, 2, 2, 2], "B": [4, 4]}
    assert tune["roles"] == [{"part": "B", "phrase": 1, "role": "body"}]


def test_a_part_that_is_gone_takes_its_cuts_along(asking: Asking) -> None:
    _added(asking, melody="")
    asking.answer("kit", "tune cut", tune="bracken-lane", part="B", measures="4 4")
    mended = _mended(asking, "A: | G | C | G | D | G | C | D | G |", "")
    assert not mended.failed, mended
    assert _tune(asking)["cuts"] == {"A": [2, 2, 2, 2]}


def test_what_is_shown_of_a_tune_can_be_sent_in_again_with_its_cuts_and_roles(asking: Asking) -> None:
    """Over the API: what does not fit is refused, or left out if that is asked for."""
    _added(asking, melody="")
    was = _tune(asking)
    path = f"{GROUP}/tunes/bracken-lane"
    sent = {
        **{name: was[name] for name in ("name", "key", "meter", "tempo", "settings", "plain", "rights")},
        "chart": CHART, "cuts": {"A": [4, 4], "B": [3, 3], "C": [2]},
        "roles": [{"part": "A", "phrase": 2, "role": "set-up"}, {"part": "B", "phrase": 1, "role": "tag"}],
    }  # fmt: skip
    organiser, any_revision = asking.service.organiser, {"If-Match": "*"}
    refused = organiser.put(path, json=sent, headers=any_revision)
    assert (refused.status_code, [place["code"] for place in refused.json()["at"]]) == (
        422, ["no-such-cut-part"],
    )  # fmt: skip
    made = organiser.put(f"{path}?fit_cuts=true", json=sent, headers=any_revision).json()
    assert made["cuts"] == {"A": [4, 4], "B": [2, 2, 2, 2]}
    assert made["roles"] == [{"part": "A", "phrase": 2, "role": "set-up"}]


@pytest.mark.parametrize(
    ("text", "cuts"),
    [
        ("2 2 4", [2, 2, 4]),
        ("2+2+4", [2, 2, 4]),
        ("2,2, 4", [2, 2, 4]),
        (" 8 ", [8]),
        ("2 2 four", None),
        ("65", None),
        ("", None),
        ("٢ ٢", None),
    ],
)
def test_cuts_are_typed_as_numbers_between_anything(text: str, cuts: list[int] | None) -> None:
    assert cuts_read(text) == cuts


def test_of_a_melody_that_is_kept_already_nothing_is_asked_back(asking: Asking) -> None:
    """A big letter with a small b was two notes when it came in, and still is."""
    form = asking.form("kit", "tune add")
    asking.fill("kit", form, name="Bracken Lane", key="G", chart="A: | G | D |", melody="g2 E b c4, g8")
    house = asking.service.house

    def unit(connection: Connection) -> None:
        connection.execute("UPDATE tune_revisions SET body = replace(body, 'E b', 'Eb')")

    asking.service.call(lambda: house.database.write(unit))
    assert _tune(asking)["melody"] == "A: g2 Eb c4, g8"
    assert not asking.answer("kit", "tune cut", tune="bracken-lane", part="A", measures="1 1").failed
    mended = _mended(asking, "A: | G | D |", "g2 Eb c4, a8")
    assert (mended.failed, "“Eb” can be one note" in mended.notes[0]) == (True, True)
