"""Commands around playing a break."""

import io

import pytest
from PIL import Image
from pypdf import PdfReader

from bot.asks import PHONE_WIDTH
from bot.commands.hearing import lasting, slower
from bot.replies import Reply
from tests.bot.asking import Asking, labels


@pytest.fixture(scope="module")
def made(reading: Asking) -> Reply:
    """A break of Miller's Mitten, always the same."""
    return reading.answer("wren", "break random", tune="millers-mitten", seed=3)


def test_a_break_is_heard_at_a_tempo_with_its_unit_and_cautions(reading: Asking, made: Reply) -> None:
    reply = reading.pressed("wren", made, "Sound")
    assert reply.head == f"Miller's Mitten · break {made.code} · half = 80 · 0:56"
    assert [file.kind for file in reply.files] == ["sound"]
    assert reply.files[0].data[:3] == b"ID3" or reply.files[0].data[0] == 0xFF
    assert reply.files[0].description == reply.head
    assert any("NIOSH" in note for note in reply.notes)
    assert any("stop at pain" in note for note in reply.notes)


def test_slower_is_four_fifths_and_up_to_speed_is_the_tunes_tempo(reading: Asking, made: Reply) -> None:
    slow = reading.pressed("wren", reading.pressed("wren", made, "Sound"), "Slower")
    assert "half = 64" in slow.head
    assert "half = 80" in reading.pressed("wren", slow, "Up to speed").head
    assert "Up to speed" not in labels(reading.pressed("wren", slow, "Up to speed"))


def test_whoever_plays_along_is_left_out_and_comes_back(reading: Asking, made: Reply) -> None:
    heard = reading.pressed("wren", made, "Sound")
    alone = reading.pressed("wren", heard, "Without me")
    assert labels(alone)[:3] == ["Slower", "All of us", "Only me"]
    assert (
        len({reply.files[0].data for reply in (heard, alone, reading.pressed("wren", alone, "Only me"))}) == 3
    )
    assert reading.pressed("wren", alone, "All of us").files[0].data == heard.files[0].data


def test_the_tempo_and_capo_that_a_break_was_asked_at_stay_with_it(reading: Asking) -> None:
    made = reading.answer("wren", "break random", tune="millers-mitten", seed=3, tempo=60)
    assert "half = 60" in reading.pressed("wren", made, "Sound").head
    made = reading.answer("wren", "break random", tune="heron-ferry", seed=3, capo=2)
    assert "key of A · banjo in open G · G position · capo 2 · fifth string at 7" in made.head
    swapped = reading.press("wren", reading.pressed("wren", made, "Swap a lick"), "")
    assert isinstance(swapped, Reply)
    assert "key of A · banjo in open G · G position · capo 2" in swapped.head
    quiz = reading.answer("wren", "break quiz", code=made.code, phrase=2, key="A")
    assert "the capo at the second fret" in quiz.files[0].description
    solved = reading.pressed("wren", quiz, "Show it")
    assert solved.private
    assert "loop of phrase 2" in solved.head


def test_a_loop_asks_for_a_phrase_and_offers_the_tag_first(reading: Asking, made: Reply) -> None:
    asked = reading.pressed("wren", made, "Loop")
    assert labels(asked)[:2] == ["16: B part, over G", "1: A part, over G"]
    assert asked.private
    loop = reading.pressed("wren", asked, "16")
    assert loop.head == "Miller's Mitten · loop of phrase 16: B part, over G"
    assert "phrases 15 and 16" in loop.files[0].description
    assert Image.open(io.BytesIO(loop.files[0].data)).format == "PNG"


def test_a_loop_goes_on_to_the_next_phrase_and_round(reading: Asking, made: Reply) -> None:
    loop = reading.answer("wren", "break loop", code=made.code, phrase=16)
    assert "phrase 1:" in reading.pressed("wren", loop, "Next phrase").head


def test_a_loop_is_heard_and_worked_up(reading: Asking, made: Reply) -> None:
    loop = reading.answer("wren", "break loop", code=made.code, phrase=16)
    heard = reading.pressed("wren", loop, "Sound")
    assert heard.head == "Miller's Mitten · loop of phrase 16: B part, over G · half = 80 · 0:53"
    assert "half = 48 to 80" in reading.pressed("wren", loop, "Work-up").head


def test_a_work_up_goes_from_one_tempo_to_another(reading: Asking, made: Reply) -> None:
    reply = reading.answer("wren", "break work-up", code=made.code, phrase=1, start=60, tempo=72)
    assert "half = 60 to 72" in reply.head


def test_a_sheet_is_a_pdf_to_print(reading: Asking, made: Reply) -> None:
    reply = reading.answer("wren", "break sheet", code=made.code)
    assert [file.kind for file in reply.files] == ["sheet"]
    assert "Miller" in PdfReader(io.BytesIO(reply.files[0].data)).pages[0].extract_text()


def test_text_keeps_within_a_phones_columns(reading: Asking, made: Reply) -> None:
    reply = reading.answer("wren", "break text", code=made.code)
    assert max(len(line) for line in reply.tab.splitlines()) <= PHONE_WIDTH


def test_a_long_read_out_is_a_file_to_be_listened_to(reading: Asking, made: Reply) -> None:
    reply = reading.answer("wren", "break read-out", code=made.code)
    assert "first string open, middle" in reply.files[0].data.decode()


def test_one_phrase_is_read_out_in_the_message_itself(reading: Asking, made: Reply) -> None:
    reply = reading.answer("wren", "break read-out", code=made.code, phrase=12)
    assert reply.head == "Miller's Mitten · loop of phrase 12: B part, over G"
    assert not reply.files
    assert any(
        note.startswith("Measure 1, over C. 1: first string, second fret, middle;") for note in reply.notes
    )


def test_more_is_private_and_every_button_of_it_leads_on(reading: Asking, made: Reply) -> None:
    more = reading.pressed("wren", made, "More")
    assert more.private
    for label in labels(more):
        answer = reading.pressed("wren", more, label)
        assert not answer.failed, (label, answer)


def test_a_quiz_hides_a_phrase_and_shows_it_when_asked(reading: Asking, made: Reply) -> None:
    whole = reading.answer("wren", "break show", code=made.code)
    quiz = reading.answer("wren", "break quiz", code=made.code, phrase=3)
    assert quiz.head == "Hidden: phrase 3: A part, over G D. Can you play it?"
    assert [file.data for file in quiz.files] != [file.data for file in whole.files]
    assert "Latch and lean" not in quiz.files[0].description
    assert "loop of phrase 3" in reading.pressed("wren", quiz, "Show it").head
    another = reading.pressed("wren", quiz, "Hide another")
    assert another.head.startswith("Hidden: phrase")
    assert another.head != quiz.head


def test_learning_goes_from_the_plain_break_one_lick_at_a_time(reading: Asking) -> None:
    reply = reading.answer("wren", "break learn", tune="millers-mitten", level=2)
    assert reply.notes[0] == "1 The plain break, level 3"
    assert reply.notes[1].startswith("2 Phrase 16: ")
    steps = [reading.pressed("wren", reply, f"{number} ") for number in (1, 2)]
    licks = [reading.answer("wren", "break licks", code=step.code).notes for step in steps]
    changed = [
        place for place in zip(*licks, strict=True) if place[0] != place[1] and not place[0].startswith(" ")
    ]
    assert len(changed) == 1


@pytest.mark.parametrize("command", ["break sound", "break loop", "break quiz", "break sheet", "break more"])
def test_a_code_that_is_none_is_said_in_a_sentence(reading: Asking, command: str) -> None:
    reply = reading.answer("wren", command, code="00000000")
    assert reply.failed
    assert reply.head


@pytest.mark.parametrize(("bpm", "expected"), [(80, 64), (85, 68), (36, 30), (30, 30)])
def test_slower_is_never_slower_than_can_be_asked_for(bpm: int, expected: int) -> None:
    assert slower(bpm) == expected


@pytest.mark.parametrize(
    ("seconds", "expected"), [(0, "0:00"), (59.6, "1:00"), (125, "2:05"), (3600, "60:00")]
)
def test_a_length_is_minutes_and_seconds(seconds: float, expected: str) -> None:
    assert lasting(seconds) == expected
