"""Where on a neck to play given pitches: the easiest row of places, the strings kept where that can be.

Used to move licks: a shortest path over every place of every pitch, with its worst moment first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

from service.judge.paths import NoWay, easiest
from service.music.fretboard import Fretboard, Place
from service.music.licks import LINKED, Note

OTHER_STRING = 0.35  # what leaving a note's own string costs, in hand-travel of one
TRAVEL = 1 / 5  # a move of five frets costs one
SAME_STRING = 0.3  # picking a string again straight away
UP_THE_NECK = 0.02  # for each fret: where two ways are alike, the lower one
EASY_TRAVEL = 0.6  # moves up to three frets are alike


def place_pitches(
    notes: Sequence[Note], pitches: Sequence[int], board: Fretboard, *, same_strings: bool = True
) -> tuple[Note, ...] | int:
    """The notes at places that sound ``pitches`` (MIDI, by note), rhythm and techniques kept.

    Linked notes stay on the string of the note before them. ``same_strings`` prefers each note's own string, for another
    tuning or instrument there is nothing to prefer. Where a moment has no places, its onset is returned.
    """
    moments: list[list[int]] = []
    for index, note in enumerate(notes):
        if moments and notes[moments[-1][0]].onset == note.onset:
            moments[-1].append(index)
        else:
            moments.append([index])
    options = [list(_together(indexes, pitches, board)) for indexes in moments]

    def steps(
        state: tuple[int, tuple[int, ...]], stage: int
    ) -> Iterator[tuple[tuple[Place, ...], tuple[int, tuple[int, ...]], float]]:
        lies, strings = state
        for places in options[stage]:
            load = 0.0
            fretted = [place.fret for place in places if place.fret]
            if lies and fretted:
                load = TRAVEL * max(abs(fret - lies) for fret in fretted)
            for index, place in zip(moments[stage], places, strict=True):
                note = notes[index]
                linked = note.technique in LINKED
                if linked and place.string not in strings:
                    break
                if same_strings and place.string != note.string:
                    load += OTHER_STRING
                if not linked and place.string in strings and note.string not in strings:
                    load += SAME_STRING
                load += (UP_THE_NECK if same_strings else 3 * UP_THE_NECK) * place.fret
            else:
                at = sum(fretted) // len(fretted) if fretted else lies
                yield places, (at, tuple(place.string for place in places)), load

    start: tuple[int, tuple[int, ...]] = (0, ())
    try:
        way = easiest(len(moments), start, steps, EASY_TRAVEL)
    except NoWay as dead:
        return notes[moments[dead.stage][0]].onset
    placed = [
        replace(notes[index], string=place.string, fret=place.fret)
        for indexes, places in zip(moments, way.choices, strict=True)
        for index, place in zip(indexes, places, strict=True)
    ]
    return tuple(sorted(placed))


def _together(
    indexes: Sequence[int], pitches: Sequence[int], board: Fretboard
) -> Iterator[tuple[Place, ...]]:
    """Places for pitches struck together, each on a string of its own, within a hand's reach."""
    for places in product(*(board.places(pitches[index]) for index in indexes)):
        frets = [place.fret for place in places if place.fret]
        if len({place.string for place in places}) == len(places) and (
            not frets or max(frets) - min(frets) <= 5
        ):
            yield places
