"""A stretch of a passage left out."""

from service.music.instruments import instrument_named
from service.music.licks import Note
from service.music.meter import meter_named
from service.music.passages import Passage, without

BANJO = instrument_named("banjo")


def _passage(*notes: Note) -> Passage:
    return Passage(BANJO, BANJO.tuning("open-g"), meter_named("2/2"), (1920, 1920, 1920), notes)


def test_what_sounds_in_the_stretch_is_gone_and_measures_stay() -> None:
    before, inside, after = Note(1680, 1, 0, 240), Note(1920, 2, 1, 240), Note(3840, 3, 0, 240)
    left = without(_passage(before, inside, after), 1920, 1920)
    assert left.notes == (before, after)
    assert left.measures == (1920, 1920, 1920)


def test_what_was_sounded_from_a_note_that_is_gone_is_plucked() -> None:
    hidden, slid, on = (
        Note(3600, 3, 2, 240),
        Note(3840, 3, 4, 240, "slide"),
        Note(4080, 3, 5, 240, "hammer-on"),
    )
    assert without(_passage(hidden, slid, on), 1920, 1920).notes == (Note(3840, 3, 4, 240), on)


def test_what_only_held_on_a_note_that_is_gone_is_gone_too() -> None:
    hidden, held, next_one = (
        Note(3600, 3, 2, 240),
        Note(3840, 3, 2, 240, "tie"),
        Note(4080, 3, 0, 240, "pull-off"),
    )
    assert without(_passage(hidden, held, next_one), 1920, 1920).notes == (Note(4080, 3, 0, 240),)


def test_a_link_from_another_string_is_left_as_it_is() -> None:
    hidden, low = Note(3600, 3, 2, 240), Note(1680, 4, 0, 240)
    linked = Note(3840, 4, 2, 240, "hammer-on")
    assert without(_passage(low, hidden, linked), 1920, 1920).notes == (low, linked)
