"""Chords and licks as the short texts that people type."""

from collections.abc import Sequence

from service.music.harmony import Chord
from service.music.licks import Change, Lick
from service.music.passages import lick_passage


def chord_name(chord: Chord | None) -> str:
    return "N.C." if chord is None else chord.name


def chords_line(changes: Sequence[Change]) -> str:
    return " ".join(chord_name(change.chord) for change in changes)


def chords_by_measure(lick: Lick) -> str:
    """A lick's chords as a chart: ``| G | C D |``."""
    found = []
    for start, ticks in zip((p := lick_passage(lick)).starts, p.measures, strict=True):
        names = [chord_name(c.chord) for c in lick.changes if start <= c.onset < start + ticks]
        found.append(" ".join(names) if names else "%")
    return f"| {' | '.join(found)} |"
