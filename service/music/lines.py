"""Single notes in a row: where to play them and with which picking finger, the easiest way through, exactly."""

from collections.abc import Callable, Iterator, Sequence

from service.music.fretboard import Fretboard, Place
from service.music.licks import Note

# Three picking fingers and the strings they take, dearest last (common practice); the costs are ours.
_THREE_FINGERS: dict[str, dict[int, float]] = {
    "T": {5: 0.0, 4: 0.0, 3: 0.1, 2: 0.4},
    "I": {2: 0.0, 3: 0.2, 4: 0.5, 1: 0.5},
    "M": {1: 0.0, 2: 0.5},
}
TRAVEL = 0.2  # each fret between stopped notes
HIGH = 0.1  # each fret up the neck
SKIP = 0.1  # each string passed over
SAME_STRING = 0.6  # a string again straight away, by another finger
_State = tuple[Place, str, Place | None]  # where, with which finger, and where before
Taste = Callable[[int, Place | None, Place | None, Place], float]


def easiest_line(
    onsets: Sequence[int],
    options: Sequence[Sequence[Place]],
    end: int,
    board: Fretboard,
    slot_ticks: int,
    taste: Taste = lambda index, earlier, before, place: 0.0,
    busy: tuple[str, str] = ("", ""),
) -> tuple[Note, ...]:
    """One note at each onset, at one of its places; each lasts to the next onset, the last to ``end``.

    On an instrument with a short string thumb, index and middle pick, none twice at neighbouring slots. ``taste`` adds to the
    cost of a place after the two before it (None where there are none yet). ``busy`` are the fingers that pick right before
    the line and right after it. Empty if there is no way.
    """
    fingers = _THREE_FINGERS if board.instrument.short_string else {"": {}}
    best: dict[_State, tuple[float, tuple[tuple[Place, str], ...]]] = {}
    for index, onset in enumerate(onsets):
        gap = (onset - onsets[index - 1]) // slot_ticks if index else 0
        step: dict[_State, tuple[float, tuple[tuple[Place, str], ...]]] = {}
        for place, finger, own in _picked(options[index], fingers):
            if finger and (
                (not index and finger in busy[0]) or (index == len(onsets) - 1 and finger in busy[1])
            ):
                continue
            if not index:
                step[place, finger, None] = (own + taste(0, None, None, place), ((place, finger),))
                continue
            for (old, old_finger, earlier), (cost, row) in best.items():
                apart = _apart((old, old_finger), (place, finger), gap)
                if apart is None:
                    continue
                total = cost + own + apart + taste(index, earlier, old, place)
                known = step.get((place, finger, old))
                if known is None or total < known[0]:
                    step[place, finger, old] = (total, (*row, (place, finger)))
        best = step
    if not best:
        return ()
    _, row = min(best.values(), key=lambda way: way[0])
    ends = [*onsets[1:], end]
    return tuple(
        Note(onset, place.string, place.fret, until - onset, None, finger or None)
        for onset, until, (place, finger) in zip(onsets, ends, row, strict=True)
    )


def _picked(
    places: Sequence[Place], fingers: dict[str, dict[int, float]]
) -> Iterator[tuple[Place, str, float]]:
    for place in places:
        for finger, strings in fingers.items():
            if not strings or place.string in strings:
                yield place, finger, strings.get(place.string, 0.0) + HIGH * place.fret


def _apart(before: tuple[Place, str], after: tuple[Place, str], gap: int) -> float | None:
    """What going from one note to the next costs; None where one finger would have to pick twice at once."""
    (old, finger), (new, next_finger) = before, after
    near = gap <= 1
    if near and finger and finger == next_finger:
        return None
    cost = SKIP * max(0, abs(old.string - new.string) - 1)
    if near and finger and old.string == new.string:
        cost += SAME_STRING
    if old.fret and new.fret:
        cost += TRAVEL * abs(old.fret - new.fret)
    return cost
