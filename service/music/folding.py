"""Parts played twice the same, written once: repeats and endings."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from service.music.harmony import Chord
from service.music.licks import Change, Note
from service.music.passages import Passage
from service.music.scores import Repeat, Score, Section, Span

LONGEST_ENDING = (
    2  # measures that may differ the second time; ours: longer ones are easier to read written out
)


def folded(score: Score) -> Score:
    """The score with every part that comes twice running, the same but for its last two measures at most, written once.

    A pickup into a part stands at the end of what comes before it, so it makes endings where it differs.
    """
    passage = score.passage
    starts = list(passage.starts)
    first_of = [starts.index(section.onset) for section in score.sections if section.onset in starts]
    ends = [*first_of[1:], len(starts)]
    kept: list[int] = []
    repeats: list[Repeat] = []
    index = 0
    if first_of and first_of[0] > 0:
        kept.extend(range(first_of[0]))
    while index < len(first_of):
        first, after = first_of[index], ends[index]
        differing = _differing(score, index, first_of, ends)
        if differing is None:
            kept.extend(range(first, after))
            index += 1
            continue
        at = len(kept)
        kept.extend(range(first, after))
        last = len(kept) - 1
        if differing:
            kept.extend(range(ends[index + 1] - differing, ends[index + 1]))
        repeats.append(Repeat(at, last, last + 1 - differing if differing else None))
        index += 2
    return _only(score, kept, repeats) if repeats else score


def _differing(score: Score, index: int, first_of: Sequence[int], ends: Sequence[int]) -> int | None:
    """How many measures at the end differ when section ``index`` is played again at once; None if it is not."""
    if index + 1 >= len(first_of) or score.sections[index].name != score.sections[index + 1].name:
        return None
    one = range(first_of[index], ends[index])
    other = range(first_of[index + 1], ends[index + 1])
    if len(one) != len(other):
        return None
    same = [_measure(score, a) == _measure(score, b) for a, b in zip(one, other, strict=True)]
    differing = len(same) - (same.index(False) if False in same else len(same))
    return differing if differing <= min(LONGEST_ENDING, len(same) - 1) else None


def _measure(score: Score, index: int) -> object:
    """What is played in a measure, onsets from its start. Which fingers pick it may depend on what came before: those of the
    first time are shown."""
    passage = score.passage
    start = passage.starts[index]
    end = start + passage.measures[index]
    notes = [replace(note.moved(-start), finger=None) for note in passage.notes if start <= note.onset < end]
    inside = [(c.onset - start, c.chord) for c in passage.changes if start < c.onset < end]
    labels = [(span.onset - start, span.label) for span in score.phrases if start <= span.onset < end]
    return (passage.measures[index], notes, _chord_at(passage, start), inside, labels)


def _chord_at(passage: Passage, onset: int) -> Chord | None:
    """The chord that sounds there, whether it begins there or goes on."""
    return next((c.chord for c in reversed(passage.changes) if c.onset <= onset), None)


def _only(score: Score, kept: Sequence[int], repeats: Sequence[Repeat]) -> Score:
    """The score with these measures alone, in their order."""
    passage = score.passage
    starts = passage.starts
    onset_of: dict[int, int] = {}
    at = 0
    for index in kept:
        onset_of[index] = at
        at += passage.measures[index]

    def moved(onset: int) -> int | None:
        if onset < 0:
            return onset
        index = max(i for i, start in enumerate(starts) if start <= onset)
        return onset_of[index] + onset - starts[index] if index in onset_of else None

    notes: list[Note] = []
    for note in passage.notes:
        to = moved(note.onset)
        if to is not None:
            notes.append(note.moved(to - note.onset))
    found = {to: c.chord for c in passage.changes if (to := moved(c.onset)) is not None}
    for before, index in pairwise((-1, *kept)):
        # after a leap the chord is named again
        if index != before + 1 and passage.changes:
            found.setdefault(onset_of[index], _chord_at(passage, starts[index]))
    changes = [Change(onset, chord) for onset, chord in sorted(found.items(), key=lambda pair: pair[0])]
    spans = [
        Span(to, min(span.ticks, at - to), span.label, span.rest)
        for span in score.phrases
        if (to := moved(span.onset)) is not None
    ]
    sections: list[Section] = []
    for section in score.sections:
        to = moved(section.onset)
        if to is not None:
            sections.append(Section(to, section.name))
    left = {
        (to, string): finger
        for (onset, string), finger in score.left.items()
        if (to := moved(onset)) is not None
    }
    slim: Passage = replace(
        passage,
        measures=tuple(passage.measures[index] for index in kept),
        notes=tuple(notes),
        changes=tuple(changes),
    )
    melody = frozenset(to for onset in score.melody if (to := moved(onset)) is not None)
    return replace(
        score,
        passage=slim,
        sections=tuple(sections),
        phrases=tuple(spans),
        repeats=tuple(repeats),
        left=left,
        melody=melody,
    )
