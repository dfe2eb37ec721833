"""The easiest plain way through a part: which string, fret and finger at every slot, exactly.

A shortest path. A state is what was played in the slot before and where the hand lies; a choice is a melody note at one of its
places, a note or a brush that fills, or nothing. The hand moves no farther than a note needs.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from service.arrange.ground import STRONG, Ground, Slot
from service.arrange.manners import (
    AGAIN,
    BREATHING,
    CUTS_MELODY,
    DRONE,
    DRONE_ON_BEAT,
    FOLDED,
    HIGHEST_FRET,
    JUMP,
    LINKED_AGAIN,
    OFF_ROLL,
    UNHEARD_CHANGE,
    Manner,
    Taste,
)
from service.judge.usual import SCALES
from service.music.fretboard import Fretboard, Place
from service.music.harmony import Chord, Key

COST_UNITS = 1000  # of a cost, counted as whole numbers
HAMMERED = 4  # frets that a hammer-on or pull-off spans at most (common practice)
SLID = 3
TRIADS = {"major": (0, 4, 7), "minor": (0, 3, 7), "dim": (0, 3, 6)}


class Event(NamedTuple):
    """What sounds at a slot: places with the fingers that take them, the first one the melody's if it is one.

    ``technique`` is that of a note sounded from the one before; ``cost`` is what it costs wherever the hand is.
    """

    places: tuple[Place, ...]
    fingers: tuple[str, ...]
    sung: bool
    technique: str | None
    cost: float


NOTHING = Event((), (), False, None, 0.0)


@dataclass(frozen=True, slots=True)
class Wish:
    """How a part is to be played. ``ease`` makes frets and moves dearer and melody notes cheaper to leave out; 1 as it is. ``roll``
    names the fingers slot by slot, by their places in the manner (see ROLLS); none is asked for where it is empty."""

    manner: Manner
    taste: Taste
    ease: float = 1.0
    roll: tuple[int, ...] = ()

    def due(self, slot: Slot) -> str:
        """The finger that the roll has at a slot."""
        return list(self.manner.fingers)[self.roll[slot.column % len(self.roll)]]


@dataclass(frozen=True, slots=True)
class Path:
    """An event for each slot, None where nothing is played; ``cost`` of the whole."""

    events: tuple[Event | None, ...]
    cost: float


# A state, one row of each column: ``string`` and ``fret`` were played a slot ago (string 0: nothing) by ``finger``, and ``before``
# picked the note before that; ``lies`` is the fret where the index lies; ``air`` says that an open note or a gap came since the last
# fretted one; ``sounding`` is the string of the melody note that is held (0: none). Bits that each takes when a state is one number.
_BITS = {"string": 3, "fret": 5, "finger": 3, "before": 3, "lies": 4, "air": 1, "sounding": 3}
_Columns = dict[str, "np.ndarray[Any, np.dtype[np.int64]]"]
SEVERAL = 7  # instead of a finger's number: more than one struck together, and none is free a slot later
_TECHNIQUES = (None, "hammer-on", "pull-off", "slide")
_THUMB = 1  # the number of a manner's first finger; a pick's strokes have it too, so that 0 is a note sounded from the one before


def easiest_path(ground: Ground, board: Fretboard, wish: Wish) -> Path:
    """The cheapest of all ways through the part. There is always one: any slot but a landing may stay empty.

    Costs are counted in thousandths, so that the same part is arranged alike everywhere.
    """
    lies = np.arange(1, HIGHEST_FRET - 2)  # the hand may lie anywhere before it begins
    states = {name: np.zeros(len(lies), np.int64) for name in _BITS} | {
        "lies": lies,
        "air": np.ones_like(lies),
    }
    costs = np.zeros(len(lies), np.int64)
    trail: list[tuple[tuple[Event, ...], Any, Any]] = []
    for index in range(len(ground.slots)):
        events = tuple(_events(ground, index, board, wish))
        states, costs, came, chosen = _onward(states, costs, _told(events, board, wish.manner), wish)
        trail.append((events, came, chosen))
    at = int(costs.argmin())
    cost = int(costs[at]) / COST_UNITS
    found: list[Event | None] = []
    for events, came, chosen in reversed(trail):
        event = events[chosen[at]]
        found.append(event if event.places else None)
        at = came[at]
    return Path(tuple(reversed(found)), cost)


def _told(events: Sequence[Event], board: Fretboard, manner: Manner) -> _Columns:
    """Events as columns, each a row of its own to be laid across the states."""
    short = board.instrument.short_string
    numbers = {name: number for number, name in enumerate(manner.fingers, _THUMB) if name} | {"": 0}
    rows = []
    for event in events:
        stopped = [at.fret for at in event.places if at.fret and (short is None or at.string != short[0])]
        first = event.places[0] if event.places else Place(0, 0)
        rows.append(
            (
                first.string,
                first.fret,
                _by(event, numbers),
                sum(1 << numbers[name] for name in event.fingers if name),
                sum(1 << at.string for at in event.places),
                min(stopped, default=0),
                max(stopped, default=0),
                event.sung,
                _TECHNIQUES.index(event.technique),
                round(COST_UNITS * event.cost),
            )
        )
    names = ("to", "to_fret", "by", "fingers", "strings", "low", "high", "sung", "technique", "cost")
    return dict(zip(names, np.array(rows, np.int64).T[:, None, :], strict=True))


def _by(event: Event, numbers: dict[str, int]) -> int:
    """The number of the finger that picks, SEVERAL for more than one, 0 where none does; a pick's strokes count as one finger's."""
    fingers = [finger for finger in event.fingers if finger]
    if not fingers:
        return int(bool(event.places) and event.technique is None)
    return numbers[fingers[0]] if len(fingers) == 1 else SEVERAL


def _onward(states: _Columns, costs: Any, event: _Columns, wish: Wish) -> tuple[_Columns, Any, Any, Any]:
    """Every state after a slot with its cheapest cost, the state that it came from and the event that led there."""
    manner = wish.manner
    here = {name: column[:, None] for name, column in states.items()}
    by_fingers = "" not in manner.fingers
    played, picked, sung = event["to"] > 0, event["technique"] == 0, event["sung"] > 0
    after_note = played & picked & (here["string"] > 0)
    again = after_note & (event["strings"] >> here["string"] & 1 > 0)
    cuts = played & ~sung & (here["sounding"] > 0) & (event["strings"] >> here["sounding"] & 1 > 0)
    low, high = event["low"], event["high"]
    reach = manner.span - 1
    lies = np.where(
        (high > 0) & (low < here["lies"]),
        low,
        np.where(high > here["lies"] + reach, high - reach, here["lies"]),
    )
    moved = abs(lies - here["lies"])
    air = here["air"] > 0

    can = (picked | _links(here, event, reach)) & ~((moved > JUMP) & ~air)
    total = (
        costs[:, None]
        + event["cost"]
        + _units(CUTS_MELODY) * cuts
        + _units(wish.taste.again * manner.same_string) * again
    )
    total = total + _units(wish.ease * manner.shift) * moved * np.where(air, 1, 2)
    linked_again = ~picked & played & (here["finger"] == 0) & (here["string"] > 0)
    total = total + _units(LINKED_AGAIN) * linked_again
    if manner.same_string:
        can &= sung | ~again
    if by_fingers:
        can &= ~(after_note & (here["finger"] == SEVERAL))
        can &= ~(after_note & (here["finger"] > 0) & (event["fingers"] >> here["finger"] & 1 > 0))
        total = total + _units(AGAIN) * (
            after_note & (event["by"] > _THUMB) & (event["by"] == here["before"])
        )
    else:
        total = total + _units(manner.skip) * after_note * np.maximum(
            0, abs(event["to"] - here["string"]) - 1
        )

    rows, columns = np.nonzero(can)
    shape = can.shape
    after = {
        "string": event["to"],
        "fret": event["to_fret"],
        "finger": event["by"],
        "before": np.where(played & by_fingers, here["finger"], 0),
        "lies": lies,
        "air": (high == 0).astype(np.int64),
        "sounding": np.where(sung, event["to"], np.where(cuts, 0, here["sounding"])),
    }
    flat = {name: np.broadcast_to(column, shape)[rows, columns] for name, column in after.items()}
    code = np.zeros(len(rows), np.int64)
    for name, bits in _BITS.items():
        code = code << bits | flat[name]
    reached = total[rows, columns]
    order = np.lexsort((reached, code))
    best = order[np.unique(code[order], return_index=True)[1]]
    return {name: column[best] for name, column in flat.items()}, reached[best], rows[best], columns[best]


def _units(cost: float) -> int:
    return round(COST_UNITS * cost)


def _links(here: _Columns, event: _Columns, reach: int) -> Any:
    """Where a note can be sounded from the one a slot before, on its string; of two fretted ones both are held at once."""
    apart = event["to_fret"] - here["fret"]
    held = (here["fret"] == 0) | (event["to_fret"] == 0) | (abs(apart) <= reach)
    hammered = (event["technique"] == 1) & (apart > 0) & (apart <= HAMMERED) & held
    pulled = (event["technique"] == 2) & (apart < 0) & (apart >= -HAMMERED) & held
    slid = (
        (event["technique"] == 3)
        & (apart != 0)
        & (abs(apart) <= SLID)
        & (here["fret"] > 0)
        & (event["to_fret"] > 0)
    )
    return (here["string"] == event["to"]) & (hammered | pulled | slid)


def _events(ground: Ground, index: int, board: Fretboard, wish: Wish) -> Sequence[Event]:
    """Everything that may happen at a slot; to leave it empty where a landing has no place on the neck."""
    events = tuple(_possible(ground, index, board, wish)) or (NOTHING,)
    slot = ground.slots[index]
    if not wish.roll or slot.silent or slot.onset < 0:
        return events
    finger = wish.due(slot)
    return tuple(
        event if finger in event.fingers else event._replace(cost=event.cost + OFF_ROLL) for event in events
    )


def _possible(ground: Ground, index: int, board: Fretboard, wish: Wish) -> Iterator[Event]:
    slot = ground.slots[index]
    taste = wish.taste
    missed = taste.drop * slot.weight / wish.ease if slot.melody is not None else 0.0
    if slot.silent:
        yield NOTHING._replace(cost=missed)
        return
    lands = slot.melody is not None and slot.melody[2] % 12 == ground.key.tonic_class
    if slot.melody is not None and (lands or not slot.tonic):
        yield from _sung(slot.melody[2], slot, board, wish)
    if slot.tonic and not lands:
        if slot.melody is not None:
            yield from _pinched(slot.melody[2], ground.key, board, wish)
        yield from _tonic(ground.key, board, wish, missed)
    if slot.tonic:
        return
    strong = slot.place in STRONG
    untold = UNHEARD_CHANGE if strong and _other_chord(slot.chord, ground.key) else 0.0
    on_beat = slot.place != "off"
    breathing = BREATHING[wish.manner.fill]
    gap = 0.0 if slot.onset < 0 else breathing * taste.empty[on_beat]
    last_of_part = index == len(ground.slots) - 1
    yield NOTHING._replace(cost=missed + untold + (0.0 if last_of_part else gap))
    if slot.onset < 0 or last_of_part or slot.chord is None:
        return
    follows = ground.slots[index + 1].melody if index + 1 < len(ground.slots) else None
    yield from _fills(slot, ground, board, wish, missed, untold, follows)


def _sung(pitch: int, slot: Slot, board: Fretboard, wish: Wish) -> Iterator[Event]:
    """A melody note at each of its places, picked or sounded from the note before; an octave away where it has none there."""
    manner, taste = wish.manner, wish.taste
    for folded in (0, 12, -12):
        places = _places(board, pitch + folded, taste.highest if not folded else HIGHEST_FRET)
        for at in places:
            own = _fret_cost(at, board, wish) + (FOLDED if folded else 0.0)
            for finger, strings in manner.fingers.items():
                if at.string in strings:
                    yield Event(
                        (at,), (finger,), True, None, own + strings[at.string] + manner.melody[finger]
                    )
            short = board.instrument.short_string
            if taste.links < 5 and not slot.begins and (short is None or at.string != short[0]):
                wanted = taste.links if slot.place in STRONG or taste.links > 0 else 0.2
                yield Event((at,), ("",), True, "hammer-on", own + wanted)
                yield Event((at,), ("",), True, "pull-off", own + wanted)
                yield Event((at,), ("",), True, "slide", own + wanted + 0.1)
        if places:
            return
    # above all frets of this level: wherever it is
    for at in _places(board, pitch, HIGHEST_FRET):
        for finger, strings in manner.fingers.items():
            if at.string in strings:
                yield Event((at,), (finger,), True, None, _fret_cost(at, board, wish) + FOLDED)


def _pinched(pitch: int, key: Key, board: Fretboard, wish: Wish) -> Iterator[Event]:
    """A melody note on which a tag lands, with the tonic struck below or above it: the lower finger on the lower string."""
    order = list(wish.manner.fingers)
    tonics = _tones(board, frozenset((key.tonic_class,)), wish.taste.highest, short=False)
    for sung in _sung(pitch, _PLAIN_SLOT, board, wish):
        at, finger = sung.places[0], sung.fingers[0]
        for other in tonics:
            for second, strings in wish.manner.fingers.items():
                apart = abs(other.string - at.string)
                crossed = (order.index(second) > order.index(finger)) != (other.string < at.string)
                if (
                    sung.technique
                    or not apart
                    or other.string not in strings
                    or (finger and (crossed or second == finger))
                ):
                    continue
                if not finger and apart > 1:
                    continue
                cost = sung.cost + _fret_cost(other, board, wish) + strings[other.string] + PINCHED
                yield Event((at, other), (finger, second), True, None, cost)


def _tonic(key: Key, board: Fretboard, wish: Wish, missed: float) -> Iterator[Event]:
    for at in _tones(board, frozenset((key.tonic_class,)), wish.taste.highest, short=False):
        for finger, strings in wish.manner.fingers.items():
            if at.string in strings:
                yield Event(
                    (at,), (finger,), False, None, missed + _fret_cost(at, board, wish) + strings[at.string]
                )


def _fills(
    slot: Slot,
    ground: Ground,
    board: Fretboard,
    wish: Wish,
    missed: float,
    untold: float,
    follows: tuple[int, int, int] | None,
) -> Iterator[Event]:
    """Notes of the chord that fill a gap, a brush or a pinch of it, and notes that lead into the next melody note."""
    manner, taste = wish.manner, wish.taste
    if manner.fill == "line" or slot.chord is None:
        return
    on_beat = slot.place != "off"
    base = missed + taste.fills[on_beat]
    short = board.instrument.short_string
    tonic = _triad(ground.key.tonic_class, ground.key.mode)
    if manner.fill == "brush" and on_beat:
        for brush in _brushes(slot.chord, board):
            yield Event(brush, ("",) * len(brush), False, None, base + 0.02 * sum(at.fret for at in brush))
    for at in _tones(board, slot.chord.pitch_classes, min(FILLED_TO, taste.highest), short=True):
        drone = short is not None and at.string == short[0]
        tells = not drone and (at.fret > 0 or board.pitch(at.string, at.fret) % 12 not in tonic)
        cost = base + _fret_cost(at, board, wish) + (0.0 if tells else untold)
        if drone:
            cost += DRONE_ON_BEAT if slot.place in STRONG else -DRONE
        for finger, strings in manner.fingers.items():
            if at.string in strings:
                yield Event((at,), (finger,), False, None, cost + strings[at.string])
    if follows is not None and taste.links < 0:
        yield from _approaches(follows[2], ground.key, board, wish, base + untold)


def _approaches(pitch: int, key: Key, board: Fretboard, wish: Wish, base: float) -> Iterator[Event]:
    """The step of the scale, or the flat third, below a melody note on its own string: to be hammered or slid from."""
    scale = {(key.tonic_class + step) % 12 for step in SCALES[key.mode]} | {(key.tonic_class + 3) % 12}
    for at in _places(board, pitch, wish.taste.highest):
        for below in (1, 2):
            fret = at.fret - below
            short = board.instrument.short_string
            if fret < 0 or (pitch - below) % 12 not in scale or (short and at.string == short[0]):
                continue
            place = Place(at.string, fret)
            for finger, strings in wish.manner.fingers.items():
                if at.string in strings:
                    cost = base + _fret_cost(place, board, wish) + strings[at.string]
                    yield Event((place,), (finger,), False, None, cost)


def _fret_cost(at: Place, board: Fretboard, wish: Wish) -> float:
    short = board.instrument.short_string
    if at.fret == 0:
        return 0.0
    if short is not None and at.string == short[0]:
        return 6.0  # a fretted short string is far from everything else
    return wish.ease * (wish.manner.fret + wish.manner.up * max(0, at.fret - wish.manner.low))


def _other_chord(chord: Chord | None, key: Key) -> bool:
    return chord is not None and chord.family[0] != key.tonic_class


def _triad(root: int, kind: str) -> frozenset[int]:
    return frozenset((root + step) % 12 for step in TRIADS[kind])


@lru_cache(maxsize=4096)
def _places(board: Fretboard, pitch: int, highest: int) -> tuple[Place, ...]:
    """Where a melody note can lie."""
    return tuple(at for at in board.places(pitch) if at.fret <= highest and board.sings(at.string))


@lru_cache(maxsize=4096)
def _tones(board: Fretboard, classes: frozenset[int], highest: int, *, short: bool) -> tuple[Place, ...]:
    """Where some pitch classes lie in the first position; the short string open whatever it sounds, since it is heard as a drone."""
    shorter = board.instrument.short_string
    found = []
    for string in range(1, board.instrument.strings + 1):
        if shorter is not None and string == shorter[0]:
            if short:
                found.append(Place(string, 0))
            continue
        found += [
            Place(string, fret) for fret in range(highest + 1) if board.pitch(string, fret) % 12 in classes
        ]
    return tuple(found)


FILLED_TO = 4  # frets of the notes that fill: the first position (common practice)
PINCHED = 0.2  # what a second note struck with the melody's costs
_PLAIN_SLOT = Slot(0, "downbeat", None, None, 0.0, begins=True)
BRUSHED = 3  # strings of a brush at most: a few, so that the melody stays in front (common practice)


@lru_cache(maxsize=512)
def _brushes(chord: Chord, board: Fretboard) -> tuple[tuple[Place, ...], ...]:
    """A chord's tones on the highest strings, the easiest frets first: two or three neighbours struck together."""
    found = []
    for count in (2, BRUSHED):
        rows = [
            [at for at in _tones(board, chord.pitch_classes, 4, short=False) if at.string == string]
            for string in range(1, count + 1)
        ]
        if all(rows):
            found.append(tuple(min(row, key=lambda at: at.fret) for row in rows))
    return tuple(found)
