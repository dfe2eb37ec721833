"""Looking at licks, hearing them, finding them."""

from tests.bot.asking import Asking, labels


def test_a_lick_is_shown_with_what_is_judged_of_it(reading: Asking) -> None:
    reply = reading.answer("wren", "lick show", lick=42)
    assert reply.head == "42 Shadow under the hull · banjo · roll · level 2"
    assert reply.notes[0] == "Key of G, over | G | Em |."
    assert "Comfortable up to half = 148." in reply.notes[1]
    assert reply.files[0].description.startswith("42 Shadow under the hull: tab")
    assert labels(reply) == ["Sound", "Work-up", "Easier versions", "Twins", "Report"]


def test_an_organiser_is_offered_what_organisers_may_do(reading: Asking) -> None:
    assert labels(reading.answer("kit", "lick show", lick=42))[5:] == ["Mend", "Retire"]


def test_a_lick_is_found_by_what_the_list_writes_while_one_types(reading: Asking) -> None:
    reply = reading.answer("wren", "lick show", lick="42 Shadow under the hull, banjo, level 2")
    assert reply.head.startswith("42 Shadow")


def test_a_lick_is_heard_slower_and_worked_up(reading: Asking) -> None:
    heard = reading.pressed("wren", reading.answer("wren", "lick show", lick=42), "Sound")
    assert "half = 84" in heard.head
    slow = reading.pressed("wren", heard, "Slower")
    assert "half = 67" in slow.head
    assert "half = 84" in reading.pressed("wren", slow, "Up to speed").head
    assert "half = 50 to 84" in reading.pressed("wren", slow, "Work-up").head
    assert any("NIOSH" in note for note in slow.notes)


def test_licks_for_a_phrase_come_best_first_with_reasons(reading: Asking) -> None:
    reply = reading.answer("wren", "lick find", tune="millers-mitten", phrase=3)
    assert reply.head == "Miller's Mitten · licks for phrase 3: A part, over A E"
    assert reply.notes[0] == (
        "63 Latch and lean: fits 99\N{NO-BREAK SPACE}%, level 1, recalls 95\N{NO-BREAK SPACE}%."
        " Its role, set-up, is what the phrase asks for."
    )
    assert reply.files[0].description.startswith("63 Latch and lean")
    assert reading.pressed("wren", reply, "Latch").head.startswith("63 Latch and lean")
    assert reading.pressed("wren", reply, "Hear the first").head.startswith("63 Latch and lean")


def test_licks_for_a_phrase_are_no_harder_than_asked(reading: Asking) -> None:
    easy = reading.answer("wren", "lick find", tune="heron-ferry", phrase=3, level=1)
    assert easy.notes
    assert all("level 1" in note for note in easy.notes if not note.startswith("And"))


def test_where_no_lick_goes_somebody_may_send_one(reading: Asking) -> None:
    reply = reading.answer("wren", "lick find", tune="heron-ferry", phrase=3, instrument="fiddle")
    assert reply.failed
    form = reading.press("wren", reply, "Send a lick")
    assert form.call.given == {"tune": "heron-ferry", "phrase": "3", "instrument": "fiddle"}  # type: ignore[union-attr]


def test_licks_are_searched_by_words_style_and_level(reading: Asking) -> None:
    reply = reading.answer("wren", "lick search", words="latch lean")
    assert labels(reply) == ["Latch and lean (63)"]
    hard = reading.answer("wren", "lick search", style="melodic", role="tag")
    assert hard.notes
    assert all(": banjo, melodic, " in note for note in hard.notes if note[0].isdigit())
    assert reading.answer("wren", "lick search", words="zzzz").failed


def test_many_licks_say_that_there_are_more(reading: Asking) -> None:
    reply = reading.answer("wren", "lick search")
    assert len(reply.menus[0].choices) == 25
    assert reply.notes[-1] == "There are more than the 25 in the list: ask for less."


def test_easier_versions_go_on_until_there_are_none(reading: Asking) -> None:
    first = reading.answer("wren", "lick easier", lick=42)
    assert first.head == "Shadow under the hull, simpler: 1 of 2, level 2"
    second = reading.pressed("wren", first, "Easier still")
    assert second.head.startswith("Shadow under the hull, simpler: 2 of 2")
    assert "Easier still" not in labels(second)


def test_an_easier_version_is_sent_in_as_it_stands(asking: Asking) -> None:
    easier = asking.answer("wren", "lick easier", lick=42)
    form = asking.press("wren", easier, "Send it in")
    sent = asking.fill("wren", form, name="Shadow, plain")  # type: ignore[arg-type]
    assert sent.head == "Lick 185 is in the pool: Shadow, plain"


def test_a_lick_without_a_twin_says_so(reading: Asking) -> None:
    assert (
        reading.answer("wren", "lick twins", lick=42).head == "Shadow under the hull has no twin in the pool."
    )


def test_a_lick_that_is_not_there_is_said_in_a_sentence(reading: Asking) -> None:
    assert (
        reading.answer("wren", "lick show", lick=9999).head
        == "There is no such lick here. Check the name or number."
    )
