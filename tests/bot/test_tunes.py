"""Commands about tunes."""

import pytest

from bot.asks import PHONE_WIDTH
from bot.commands.terms import INSTRUMENTS, PATTERNS
from bot.commands.tunes import folded
from bot.replies import Call, Reply
from service.music.backup_patterns import pattern_names
from tests.bot.asking import Asking, labels


def test_tunes_are_listed_by_name_and_opened(reading: Asking) -> None:
    reply = reading.answer("wren", "tune list")
    assert reply.head == "3 tunes"
    assert reply.notes[0] == "Heron Ferry, key of G, A A B B"
    assert reading.pressed("wren", reply, "Thimble").head.startswith("Thimble Creek · key of D")


def test_words_find_a_tune_and_none_is_said(reading: Asking) -> None:
    assert labels(reading.answer("wren", "tune list", words="mitt")) == ["Miller's Mitten"]
    assert reading.answer("wren", "tune list", words="zzz").failed


def test_a_tune_is_shown_by_its_name_with_form_tempo_and_instruments(reading: Asking) -> None:
    reply = reading.answer("wren", "tune show", tune="Miller's Mitten")
    assert reply.head == "Miller's Mitten · key of A · 2/2"
    assert reply.notes[0] == "Form A A B B, 16 phrases."
    assert reply.notes[1].startswith("Tempo: half = 80, from ")
    assert "banjo: G position, capo 2." in reply.notes
    assert max(len(line) for line in reply.tab.splitlines()) <= PHONE_WIDTH
    assert "4: A part, over A G A" in labels(reply)


def test_a_phrase_of_a_tune_leads_to_licks_for_it(reading: Asking) -> None:
    shown = reading.answer("wren", "tune show", tune="heron-ferry")
    assert reading.pressed("wren", shown, "3:").head == "Heron Ferry · licks for phrase 3: A part, over G"


def test_a_chart_is_a_picture_that_is_also_told(reading: Asking) -> None:
    reply = reading.answer("wren", "tune chart", tune="heron-ferry")
    assert reply.head == "Heron Ferry · key of G · A A B B · half = 84"
    assert reply.files[0].data[:4] == b"\x89PNG"
    assert reply.files[0].description.startswith("Chords of Heron Ferry, as they sound: A: | G | G | C | D |")


@pytest.mark.parametrize(
    ("command", "title"),
    [("tune kick-off", "kick-off"), ("tune ending", "ending"), ("tune behind", "behind a singer")],
)
def test_what_is_played_around_a_tune_is_seen_and_heard(reading: Asking, command: str, title: str) -> None:
    reply = reading.answer("wren", command, tune="heron-ferry", instrument="guitar")
    assert reply.head == f"Heron Ferry · key of G · {title} · half = 84"
    assert "guitar" in reply.files[0].description
    heard = reading.pressed("wren", reply, "Sound")
    assert heard.head.startswith(f"Heron Ferry · {title} · half = 84")
    assert "half = 67" in reading.pressed("wren", heard, "Slower").head


def test_where_pictures_cannot_be_seen_the_same_is_text(reading: Asking) -> None:
    """Six strings for the guitar, which is not the group's own instrument."""
    call = Call("tune behind", {"tune": "heron-ferry", "instrument": "guitar", "pattern": "bass runs"})
    reply = reading.call("wren", call, pictures=False)
    assert isinstance(reply, Reply)
    assert not reply.files
    assert "6|-" in reply.tab
    assert max(len(line) for line in reply.tab.splitlines()) <= PHONE_WIDTH
    chart = reading.call("wren", Call("tune chart", {"tune": "heron-ferry"}), pictures=False)
    assert isinstance(chart, Reply)
    assert chart.tab.splitlines()[:2] == ["A: | G | G | C | D |", "   | G | G | D | G |"]


def test_another_pattern_is_another_picture(reading: Asking) -> None:
    pictures = {
        reading.answer("wren", "tune behind", tune="heron-ferry", instrument="guitar", pattern=pattern)
        .files[0]
        .data
        for pattern in ("behind a singer", "boom-chuck", "bass runs")
    }
    assert len(pictures) == 3


def test_a_pattern_of_another_instrument_names_those_there_are(reading: Asking) -> None:
    reply = reading.answer("wren", "tune behind", tune="heron-ferry", instrument="guitar", pattern="vamp")
    assert reply.failed
    assert "boom-chuck" in reply.head


def test_all_patterns_of_all_instruments_can_be_chosen() -> None:
    assert set(PATTERNS) == {name for instrument in INSTRUMENTS for name in pattern_names(instrument)}


def test_a_tune_that_is_not_there_is_said_in_a_sentence(reading: Asking) -> None:
    assert reading.answer("wren", "tune show", tune="Nobody's Tune").failed


CHARTS = [
    ("A: | G | C |", "A: | G | C |"),
    ("A: | G | G | C | D | G | G | D | G |", "A: | G | G | C | D |\n   | G | G | D | G |"),
    ("| G7 . . D9 | G7 . . D9 | G7 . . D9 |", "| G7 . . D9 | G7 . . D9 |\n| G7 . . D9 |"),
    ("order: A A B B A A B B A A B B", "order: A A B B A A B B A A B B"),
]


@pytest.mark.parametrize(("chart", "expected"), CHARTS)
def test_a_chart_is_broken_at_bars(chart: str, expected: str) -> None:
    assert folded(chart, PHONE_WIDTH) == expected
