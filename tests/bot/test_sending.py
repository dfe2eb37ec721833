"""Licks sent in, mended, retired, kept and reported, from forms in the chat."""

from typing import Any

import pytest

from bot.book import Sent
from bot.replies import Call, Form, Reply
from tests.bot.asking import GROUP, Asking, labels

TAB = """1|---0-----------0|-----0----------|
2|---------0------|---------1------|
3|-0---0-------0--|---2------------|
4|----------------|-0-------------0|
5|----------------|----------------|"""


def _form(asking: Asking, who: str = "wren", **given: object) -> Form:
    return asking.form(who, "lick send", **given)


def _lick(asking: Asking, number: int) -> dict[str, Any]:
    answer = asking.service.operator.get(f"{GROUP}/licks/{number}")
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_over_a_phrase_of_a_tune_a_name_and_a_tab_are_enough(asking: Asking) -> None:
    """Miller's Mitten is in A; its banjo plays G position, and so the lick is."""
    form = _form(asking, "otter", tune="millers-mitten", phrase=3)
    assert [(blank.name, blank.required) for blank in form.blanks] == [
        ("name", True), ("text", True), ("chords", False), ("key", False), ("source", False),
    ]  # fmt: skip
    reply = asking.fill("otter", form, name="Over the stile", text=TAB)
    assert reply.head == "Lick 185 is in the pool: Over the stile"
    assert any("This is a caution, not legal advice." in note for note in reply.notes)
    made = _lick(asking, 185)
    told = {name: made[name] for name in ("key", "chart", "role", "instrument", "hand_style", "style", "by")}
    assert told == {
        "key": "G", "chart": "| G | D |", "role": "set-up", "instrument": "banjo", "hand_style": "three-finger",
        "style": "roll", "by": "Otter",
    }  # fmt: skip
    assert made["rights"]["origin"] == "own"


@pytest.mark.parametrize(
    ("source", "origin", "told"),
    [
        ("", "own", None),
        (" Traditional ", "traditional", None),
        ("the ferryman's tune book", "adapted", "the ferryman's tune book"),
    ],
)
def test_where_a_lick_is_from_is_said_in_one_blank(
    asking: Asking, source: str, origin: str, told: str | None
) -> None:
    form = _form(asking, tune="millers-mitten", phrase=3)
    asking.fill("wren", form, name="Over the stile", text=TAB, source=source)
    rights = _lick(asking, 185)["rights"]
    assert (rights["origin"], rights["source"]) == (origin, told)


def test_without_a_tune_chords_and_key_are_asked_for(asking: Asking) -> None:
    form = _form(asking, chords="| G | D |", key="G")
    assert [blank.required for blank in form.blanks] == [True, True, True, True, False]
    reply = asking.fill("wren", form, name="Over the stile", text=TAB)
    assert reply.head == "Lick 185 is in the pool: Over the stile"


def test_another_instrument_and_style_go_along(asking: Asking) -> None:
    form = _form(asking, tune="millers-mitten", phrase=3, instrument="mandolin", style="tremolo")
    text = "1|-0---2---|-0-------|\n2|---0---0-|---2---2-|\n3|---------|---------|\n4|---------|---------|"
    reply = asking.fill("wren", form, name="Across", text=text)
    assert not reply.failed, reply
    made = _lick(asking, 185)
    assert (made["instrument"], made["hand_style"], made["style"], made["key"]) == (
        "mandolin", "flatpick", "tremolo", "A",
    )  # fmt: skip


def test_what_cannot_be_read_is_marked_and_nothing_typed_is_lost(asking: Asking) -> None:
    """Wrong, mended, and in the pool, without typing anything twice."""
    form = _form(asking, tune="millers-mitten", phrase=3)
    wrong = TAB.replace("|---0----", "|---z----", 1)
    refused = asking.fill("wren", form, name="Over the stile", text=wrong, source="traditional")
    assert refused.failed
    assert refused.tab.splitlines()[:4] == [
        "# name: Over the stile", "# from: traditional", "1|---z-----------0|-----0----------|", "     ^",
    ]  # fmt: skip
    assert refused.notes[0].startswith("Line 1, column 6: “z” means nothing in a tab row.")
    again = asking.press("wren", refused, "Mend it")
    assert isinstance(again, Form)
    values = {blank.name: blank.value for blank in again.blanks}
    assert values == {
        "name": "Over the stile", "text": wrong, "chords": "", "key": "", "source": "traditional",
    }  # fmt: skip
    sent = asking.fill("wren", again, text=values["text"].replace("z", "0"))
    assert sent.head == "Lick 185 is in the pool: Over the stile"


REFUSED = [
    ({"tune": "nobodys-tune", "phrase": 1}, {}),
    ({"tune": "heron-ferry", "phrase": 500}, {}),
    ({"tune": "millers-mitten", "phrase": 3, "style": "tremolo"}, {}),
    ({"tune": "millers-mitten", "phrase": 3}, {"chords": "| G |"}),
    ({"tune": "millers-mitten", "phrase": 3}, {"chords": "| H | D |"}),
    ({"chords": "| G | D |", "key": "X"}, {}),
]


@pytest.mark.parametrize(("given", "typed"), REFUSED)
def test_whatever_is_refused_the_tab_comes_back(
    reading: Asking, given: dict[str, object], typed: dict[str, str]
) -> None:
    form = _form(reading, **given)
    reply = reading.fill("wren", form, name="Over the stile", text=TAB, **typed)
    assert reply.failed
    again = reading.press("wren", reply, "Mend it")
    assert isinstance(again, Form)
    values = {blank.name: blank.value for blank in again.blanks}
    assert (values["name"], values["text"]) == ("Over the stile", TAB)
    assert values["chords"] == typed.get("chords", given.get("chords", ""))
    assert again.call == form.call


def test_a_style_that_is_none_of_the_instrument_names_those_there_are(reading: Asking) -> None:
    form = _form(reading, tune="millers-mitten", phrase=3, style="tremolo")
    reply = reading.fill("wren", form, name="Over the stile", text=TAB)
    assert reply.head == (
        "“tremolo” is no style of the banjo: choose one of roll, melodic, single-string, downstroke, plain."
    )


def test_a_lick_that_is_only_shown_is_not_what_is_sent(reading: Asking) -> None:
    """Where pictures are not seen, the best lick for the phrase stands in the message as text."""
    given = {"tune": "millers-mitten", "phrase": "3"}
    found = reading.call("wren", Call("lick find", given), pictures=False)
    assert isinstance(found, Reply)
    assert "1|-" in found.tab
    form = reading.press("wren", found, "Send a lick")
    assert isinstance(form, Form)
    assert {blank.value for blank in form.blanks} == {""}


def test_a_form_fits_on_the_wire_whatever_the_tune_is_called(reading: Asking) -> None:
    """Names of tunes have 40 letters at most; held to a chat's limits by ``form``."""
    for instrument, style in (
        ("resonator-guitar", "fingers"),
        ("mandolin", "double-stop"),
        ("banjo", "single-string"),
    ):
        _form(reading, tune="t" * 40, phrase=16, instrument=instrument, style=style)


def _twin(asking: Asking) -> Reply:
    """Wren sends in lick 63 once more: a draft."""
    text = _lick(asking, 63)["tab"]
    return asking.fill("wren", _form(asking, tune="millers-mitten", phrase=3), name="Latch again", text=text)


def test_a_draft_says_why_and_is_mended_from_its_message(asking: Asking) -> None:
    draft = _twin(asking)
    assert draft.private
    assert (
        draft.head
        == "Lick 185, Latch again, is kept as a draft. Mend it, or let an organiser keep it as it is."
    )
    assert draft.notes[0] == "This is lick 63. Change it, or use lick 63."
    form = asking.press("wren", draft, "Mend it")
    assert isinstance(form, Form)
    reply = asking.fill("wren", form, name="Over the stile", text=TAB)
    assert reply.head == "Lick 185 is in the pool: Over the stile"
    assert _lick(asking, 185)["revision"] == 2


def test_two_who_mend_at_once_do_not_overwrite_each_other(asking: Asking) -> None:
    draft = _twin(asking)
    form = asking.press("wren", draft, "Mend it")
    assert isinstance(form, Form)
    asking.fill("wren", form, name="Over the stile", text=TAB)
    late = asking.fill("wren", form, name="Under the stile", text=TAB)
    assert late.failed
    assert "Under the stile" in late.tab
    assert _lick(asking, 185)["name"] == "Over the stile"


def test_mending_a_lick_that_is_there_begins_with_what_it_is(asking: Asking) -> None:
    asking.fill("wren", _form(asking, tune="millers-mitten", phrase=3), name="Over the stile", text=TAB)
    shown = asking.pressed("wren", asking.answer("wren", "lick show", lick=185), "Mend")
    form = asking.press("wren", shown, "Mend it")
    assert isinstance(form, Form)
    values = {blank.name: blank.value for blank in form.blanks}
    assert (values["name"], values["chords"], values["key"]) == ("Over the stile", "| G | D |", "G")
    reply = asking.fill("wren", form, name="Over the style")
    assert reply.head == "Lick 185 is in the pool: Over the style"


def test_nobody_mends_what_somebody_else_sent_in(asking: Asking) -> None:
    asking.fill("wren", _form(asking, tune="millers-mitten", phrase=3), name="Over the stile", text=TAB)
    assert "Mend" not in labels(asking.answer("otter", "lick show", lick=185))
    form = asking.press("otter", asking.answer("otter", "lick mend", lick=185), "Mend it")
    assert isinstance(form, Form)
    reply = asking.fill("otter", form, name="Mine")
    assert reply.failed
    assert _lick(asking, 185)["name"] == "Over the stile"


def test_an_organiser_sees_what_waits_and_keeps_it(asking: Asking) -> None:
    assert asking.answer("kit", "lick waiting").head == "No lick waits for you."
    _twin(asking)
    waiting = asking.answer("kit", "lick waiting")
    assert waiting.private
    shown = asking.pressed("kit", waiting, "Latch again")
    assert shown.head == "185 Latch again · banjo · roll · level 1 · draft"
    kept = asking.pressed("kit", shown, "Into the pool")
    assert kept.head == "Lick 185 is in the pool: Latch again"


def test_members_keep_nothing_and_retire_their_own_alone(asking: Asking) -> None:
    _twin(asking)
    assert asking.answer("wren", "lick keep", lick=185).failed
    assert asking.answer("otter", "lick retire", lick=185).failed
    assert asking.answer("wren", "lick retire", lick=185).head == (
        "Lick 185, Latch again, is retired. Breaks made with it stay."
    )


def test_an_organiser_takes_a_retirement_back(asking: Asking) -> None:
    gone = asking.pressed("kit", asking.answer("kit", "lick show", lick=42), "Retire")
    assert _lick(asking, 42)["state"] == "retired"
    back = asking.pressed("kit", gone, "Take that back")
    assert back.head == "Lick 42 is in the pool: Shadow under the hull"
    assert _lick(asking, 42)["state"] == "pool"


def test_a_report_reaches_organisers_with_its_reason(asking: Asking) -> None:
    asked = asking.pressed("otter", asking.answer("otter", "lick show", lick=42), "Report")
    assert asked.private
    form = asking.press("otter", asked, "It is wrong")
    assert isinstance(form, Form)
    reply = asking.fill("otter", form, text="Measure 2 has no Em.")
    assert reply.head == "Thank you. An organiser will look at lick 42."
    items = asking.service.organiser.get(f"{GROUP}/reports").json()["items"]
    assert [(item["lick"], item["by"], item["reason"], item["text"]) for item in items] == [
        (42, "Otter", "wrong", "Measure 2 has no Em.")
    ]


# --- out of a file -----------------------------------------------------------------------------------------


def _staff(*places: str, more: str = "", beats: int = 4) -> bytes:
    """MusicXML with a tab staff: an eighth for each place, ``3:2`` is string 3, fret 2; C tuning, in measures of 8."""
    tuned = "".join(
        f'<staff-tuning line="{line}"><tuning-step>{name[0]}</tuning-step><tuning-octave>{name[1]}</tuning-octave></staff-tuning>'
        for line, name in enumerate(("G4", "C3", "G3", "B3", "D4"), 1)
    )
    head = (
        "<attributes><divisions>2</divisions><key><fifths>0</fifths><mode>major</mode></key>"
        f"<time><beats>{beats}</beats><beat-type>4</beat-type></time><staff-details>{tuned}</staff-details></attributes>"
    )
    notes = [
        "<note><duration>1</duration><notations><technical><string>{}</string><fret>{}</fret></technical></notations></note>".format(
            *place.split(":")
        )
        for place in places
    ]
    measures = ["".join(notes[at : at + 2 * beats]) for at in range(0, len(notes), 2 * beats)]
    written = "".join(f"<measure>{head if n == 0 else ''}{one}</measure>" for n, one in enumerate(measures))
    return f"<score-partwise><work><work-title>Out of a file</work-title></work><part>{more}{written}</part></score-partwise>".encode()


CHORD = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
ROLL = ("3:0", "2:1", "5:0", "1:2", "4:0", "2:1", "5:0", "1:2")


def _from_file(asking: Asking, data: bytes, name: str = "roll.musicxml", **given: str) -> Reply:
    async def read() -> bytes:
        return data

    files = {"file": Sent(name, len(data), "application/octet-stream", read)}
    reply = asking.call("wren", Call("lick send", {"file": name, **given}), files)
    assert isinstance(reply, Reply)
    return reply


def test_a_lick_comes_out_of_a_file_with_its_tuning_meter_key_and_chords(asking: Asking) -> None:
    data = _staff(*ROLL, *ROLL).replace(b"</attributes>", b"</attributes>" + CHORD.encode(), 1)
    reply = _from_file(asking, data)
    assert (reply.failed, reply.private, reply.notes) == (False, True, ())
    assert reply.head == "Out of a file, as I read it. Look it over, then send it in."
    assert reply.tab.splitlines()[:3] == ["# name: Out of a file", "# chords: | C | . |", "# key: C"]
    form = asking.press("wren", reply, "Send it in")
    assert isinstance(form, Form)
    sent = asking.fill("wren", form, source="traditional")
    assert not sent.failed, sent
    made = _lick(asking, 185)
    assert [made[name] for name in ("name", "tuning", "meter", "key", "chords")] == [
        "Out of a file", "c", "4/4", "C", "C",
    ]  # fmt: skip
    assert [f"{note['string']}:{note['fret']}" for note in made["notes"]] == [*ROLL, *ROLL]
    assert made["rights"]["origin"] == "traditional"


def test_a_meter_that_a_typed_lick_cannot_say_comes_along(asking: Asking) -> None:
    reply = _from_file(asking, _staff(*ROLL[:6], beats=3), chords="| C |")
    form = asking.press("wren", reply, "Send it in")
    assert isinstance(form, Form)
    asking.fill("wren", form)
    assert _lick(asking, 185)["meter"] == "3/4"


def test_over_a_phrase_key_and_chords_of_the_file_are_left_alone(asking: Asking) -> None:
    reply = _from_file(asking, _staff(*ROLL, *ROLL), tune="millers-mitten", phrase="3")
    assert reply.tab.startswith("# name: Out of a file\nC (gCGBD), 4/4\n")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"OggS" + bytes(100), "This is no MusicXML score."),
        (_staff(*ROLL[:-1], "9:0"), "Measure 1: There is no string 9."),
        (_staff(*ROLL)[:-20], "Line 1, column"),
        (b"<score-partwise><part><measure/></part></score-partwise>", "No staff of the file has strings and frets."),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_refused_with_why(asking: Asking, data: bytes, says: str) -> None:
    reply = _from_file(asking, data)
    assert reply.failed
    assert any(note.startswith(says) for note in reply.notes), reply.notes


def test_a_file_without_a_title_is_called_as_it_is_named(asking: Asking) -> None:
    reply = _from_file(asking, _staff(*ROLL).replace(b"Out of a file", b""))
    assert reply.tab.startswith("# name: roll\n")
    assert asking.press("wren", reply, "Send it in").__class__ is Form


def test_a_lick_that_is_too_long_for_a_form_is_refused(asking: Asking) -> None:
    reply = _from_file(asking, _staff(*ROLL * 40))
    assert reply.failed
    assert reply.head == "Its tab is too long for a form: 4000 characters is the most. Send a part of it."


def test_more_chords_than_go_into_a_form_are_typed_anew(asking: Asking) -> None:
    changing = "".join(
        f"<harmony><root><root-step>{root}</root-step></root><kind>major-seventh</kind><offset>{eighths}</offset></harmony>"
        for eighths, root in enumerate("CFGDAEBC")
    )
    data = _staff(*ROLL * 12).replace(b"</attributes>", b"</attributes>" + changing.encode())
    data = data.replace(b"</measure><measure>", b"</measure><measure>" + changing.encode())
    assert not any(line.startswith("# chords") for line in _from_file(asking, data).tab.splitlines())


def test_a_file_that_is_too_large_is_not_even_fetched(asking: Asking) -> None:
    async def read() -> bytes:
        raise AssertionError

    files = {"file": Sent("roll.mxl", 2 << 20, "application/octet-stream", read)}
    reply = asking.call("wren", Call("lick send", {"file": "roll.mxl"}), files)
    assert isinstance(reply, Reply)
    assert reply.head == "That file is too large: 1 MiB is the most. Send one lick."
