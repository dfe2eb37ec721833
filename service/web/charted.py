"""Chords and licks as the short texts that people type."""

from collections.abc import Sequence

from service.music.harmony import Chord
from service.music.licks import Change, Lick
from service.music.meter import Meter
from service.music.passages import lick_passage
from service.music.tunes import Measure
from service.notation.chart import write_measures


def chord_name(chord: Chord | None) -> str:
    return "N.C." if chord is None else chord.name


def chords_line(changes: Sequence[Change]) -> str:
    return " ".join(chord_name(change.chord) for change in changes)


def chart_of(changes: Sequence[Change], lengths: Sequence[int], meter: Meter) -> str:
    """A chart of measures with so many ticks, with nothing lost: ``| G | C . . D |``. Changes count from the first measure."""
    measures, start = [], 0
    for ticks in lengths:
        here = [change for change in changes if start <= change.onset < start + ticks]
        measures.append(Measure(ticks, tuple(Change(c.onset - start, c.chord) for c in here)))
        start += ticks
    return write_measures(measures, meter)


def chords_by_measure(lick: Lick) -> str:
    """A lick's chords as a chart: ``| G | C D |``."""
    found = []
    for start, ticks in zip((p := lick_passage(lick)).starts, p.measures, strict=True):
        names = [chord_name(c.chord) for c in lick.changes if start <= c.onset < start + ticks]
        found.append(" ".join(names) if names else "%")
    return f"| {' | '.join(found)} |"
