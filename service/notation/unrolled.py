"""A score as it is played: repeats written out, rounds one after the other, on one line of time."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from service.music.licks import Note
from service.music.passages import Passage
from service.music.scores import Repeat


@dataclass(frozen=True, slots=True)
class Played:
    """A measure as it comes: its number (from 0) in the score, its onset in what is heard, its length; in ticks."""

    index: int
    onset: int
    ticks: int


def played_order(measures: int, repeats: Sequence[Repeat]) -> tuple[int, ...]:
    """Numbers (from 0) of the measures as they come. A first ending is left out the second time."""
    again = {repeat.last: repeat for repeat in repeats}
    order: list[int] = []
    for index in range(measures):
        order.append(index)
        repeat = again.get(index)
        if repeat is not None:
            order.extend(range(repeat.first, repeat.last + 1 if repeat.ending is None else repeat.ending))
    return tuple(order)


def played(passage: Passage, repeats: Sequence[Repeat], rounds: int) -> tuple[Played, ...]:
    """The measures of all rounds; the first has onset 0, whatever pickup there is."""
    once = played_order(len(passage.measures), repeats)
    order = once * rounds
    lengths = [passage.measures[index] for index in order]
    onsets = accumulate(lengths, initial=0)
    return tuple(Played(*measure) for measure in zip(order, onsets, lengths, strict=False))


def played_notes(passage: Passage, measures: Sequence[Played], rounds: int) -> tuple[tuple[Note, int], ...]:
    """Each note as it is heard, with the onset that it has in the score.

    The pickup comes before every round; from where it begins, what ends the round before is silent, as between licks.
    """
    starts = passage.starts
    pickup = [note for note in passage.notes if note.onset < 0]
    inside: dict[int, list[Note]] = {}
    for note in passage.notes:
        if 0 <= note.onset < passage.ticks:
            inside.setdefault(bisect_right(starts, note.onset) - 1, []).append(note)
    length = len(measures) // rounds
    heard: list[tuple[Note, int]] = []
    for number, measure in enumerate(measures):
        if number % length == 0 and pickup:
            cut = measure.onset + pickup[0].onset
            heard = [(_until(note, cut), onset) for note, onset in heard if note.onset < cut]
            heard.extend((note.moved(measure.onset), note.onset) for note in pickup)
        by = measure.onset - starts[measure.index]
        heard.extend((note.moved(by), note.onset) for note in inside.get(measure.index, ()))
    return tuple(heard)


def _until(note: Note, cut: int) -> Note:
    return note if note.onset + note.duration <= cut else replace(note, duration=cut - note.onset)
