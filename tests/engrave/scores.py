"""Scores to be drawn, typed as players type them."""

from dataclasses import replace

from service.music.harmony import key_named
from service.music.meter import meter_named
from service.music.passages import Passage
from service.music.scores import Beat, Score, Section, Span
from service.notation.chart import read_changes
from service.usecases.readings import read_any


def passage_of(text: str, chords: str, meter: str = "2/2", instrument: str = "banjo") -> Passage:
    read = read_any(text, instrument, meter=meter).passage
    changes, _ = read_changes(chords, meter_named(meter), key_named("G"))
    return replace(read, changes=changes)


def score_of(passage: Passage, title: str = "Gate at Low Water", **more: object) -> Score:
    given = {
        "sections": (Section(0, "A"),),
        "phrases": (Span(0, passage.ticks, "7 Lantern on the lock"),),
        "credits": (),
        **more,
    }
    return Score(title, passage, key_named("G"), Beat(84, "half"), **given)  # type: ignore[arg-type]


ROLL = "32514251, 3.2 /4 2 5 1 5 3.h2 2"
