"""How each instrument plays a tune plainly, as data: which fingers take which strings, what fills, and what everything costs.

Costs are in one unit, about that of an awkward note. All of them are ours, set by reading and playing what came out; where a cost
stands for a rule of common practice its line says which.
"""

from dataclasses import dataclass, replace
from typing import Literal

Fill = Literal["roll", "brush", "line"]
LOW_FRETS = 4  # of the first position of a long neck (common practice)
HIGHEST_FRET = 12  # of a plain break: beyond it everything comes again (common practice)
LEVELS = (1, 2, 3)


@dataclass(frozen=True, slots=True)
class Manner:
    """``fingers`` maps a picking finger to what each string costs it; one finger ``""`` is a pick, a bow or a bar's hand.

    ``melody`` is what a melody note costs each finger more. ``fill`` says what stands in the gaps. ``span`` is how many frets a
    hand covers without moving; ``fret`` and ``up`` are what a fretted note costs, and each fret of it above the first position;
    ``shift`` what moving the hand costs for each fret. ``as_written`` is what every note costs in another octave than the written one:
    tunes are written where fiddles and mandolins play them (common practice).
    """

    hand_style: str
    style: str
    fingers: dict[str, dict[int, float]]
    melody: dict[str, float]
    fill: Fill
    span: int = 4
    fret: float = 0.14
    up: float = 0.05
    shift: float = 0.14
    same_string: float = 0.9  # the string just played, by another finger: it cuts the note off
    skip: float = 0.06  # each string passed over by a pick
    octaves: tuple[int, ...] = (0, -12, 12)
    as_written: float = 0.0

    @property
    def low(self) -> int:
        """The last fret of the first position."""
        return max(LOW_FRETS, self.span)


# The thumb takes 5 to 2, the index 3 and 2, the middle 1 and 2: common practice; the costs are ours. Melody falls to the thumb
# and the index before the middle finger.
_THREE = {
    "T": {5: 0.0, 4: 0.0, 3: 0.02, 2: 0.2},
    "I": {2: 0.0, 3: 0.05, 4: 0.25, 1: 0.3},
    "M": {1: 0.0, 2: 0.3, 3: 0.5},
}
_PICK = {"": dict.fromkeys(range(1, 7), 0.0)}
_FINGERS = {
    "p": {6: 0.0, 5: 0.0, 4: 0.0, 3: 0.05, 2: 0.2, 1: 0.4},
    "i": {3: 0.0, 4: 0.1, 2: 0.05, 1: 0.2},
    "m": {2: 0.0, 3: 0.1, 1: 0.0},
}
MANNERS: dict[str, Manner] = {
    "banjo": Manner("three-finger", "roll", _THREE, {"T": 0.0, "I": 0.03, "M": 0.06}, "roll"),
    "guitar": Manner("flatpick", "flatpick", _PICK, {"": 0.0}, "brush", same_string=0.0),
    "mandolin": Manner(
        "flatpick", "flatpick", _PICK, {"": 0.0}, "brush", span=7, same_string=0.0, fret=0.05, as_written=0.1
    ),
    "fiddle": Manner(
        "plain", "plain", _PICK, {"": 0.0}, "line", span=7, same_string=0.0, fret=0.03, up=0.1, as_written=0.1
    ),
    "resonator-guitar": Manner(
        "fingers", "fingers", _FINGERS, {"p": 0.0, "i": 0.0, "m": 0.05}, "roll", span=1, shift=0.1
    ),
    "ukulele": Manner("fingers", "fingers", _FINGERS, {"p": 0.0, "i": 0.0, "m": 0.0}, "roll"),
    "upright-bass": Manner(
        "plain", "plain", _PICK, {"": 0.0}, "line", same_string=0.0, octaves=(-24, -12, -36)
    ),
}
# Melodic style on the banjo: neighbouring notes of the scale on different strings, nearly no fill.
MELODIC = replace(
    MANNERS["banjo"],
    style="melodic",
    fingers={
        "T": {5: 0.0, 4: 0.0, 3: 0.0, 2: 0.1},
        "I": {3: 0.0, 2: 0.0, 4: 0.2, 1: 0.2},
        "M": {1: 0.0, 2: 0.1, 3: 0.3},
    },
    up=0.02,
    shift=0.08,
    same_string=1.4,
)


@dataclass(frozen=True, slots=True)
class Taste:
    """What a level wants. ``drop`` is what leaving a melody note out costs, for each point of its weight (see judge/emphasis.py);
    ``empty`` and ``beat`` what a gap costs, on the offbeat and on a beat; ``fills`` what a note that fills one costs there.
    ``links`` is what a hammer-on, pull-off or slide into a melody note costs: below nothing where they are wanted. ``highest`` is the
    last fret. ``again`` is how much of a manner's ``same_string`` counts.
    """

    drop: float
    empty: tuple[float, float]
    fills: tuple[float, float]
    links: float
    highest: int
    again: float = 1.0


TASTES: dict[int, Taste] = {
    1: Taste(drop=6.0, empty=(0.0, 0.3), fills=(3.0, 0.15), links=9.0, highest=5, again=0.15),
    2: Taste(drop=2.4, empty=(0.7, 0.7), fills=(0.05, 0.2), links=0.3, highest=7),
    3: Taste(drop=2.6, empty=(0.8, 0.8), fills=(0.05, 0.2), links=-0.5, highest=9),
}
BREATHING = {  # instruments whose fill is no roll need no note in every gap
    "brush": 0.35,
    "line": 0.0,
    "roll": 1.0,
}
PICKED = 0.5  # what a linked note costs at least in melodic style, whatever the level: it lives on notes that are picked (common practice)
DRONE_ON_BEAT = (
    1.2  # the short string on a strong place where the melody has nothing: an ear hears no change there
)
DRONE = 0.1  # what the short string is worth anywhere else: it makes the sound of a roll (common practice)
UNHEARD_CHANGE = 2.5  # a strong place over another chord than the tonic without a note that tells it (R1)
JUMP = 4  # frets that a hand moves at most from one slot to the next (R4)
FOLDED = 0.8  # a melody note an octave from where the rest of it lies
CUTS_MELODY = 0.25  # a filling note on the string of the melody note that still sounds
LINKED_AGAIN = (
    0.9  # one more note sounded from one that was not picked itself: such chains get weak (common practice)
)
AGAIN = 0.12  # index or middle finger once more after one other note: a roll goes through the fingers (common practice)
# Rolls by their names, slot by slot from the bar line: 0 the thumb, 1 the index, 2 the middle finger (common practice). In measures
# of three or six beats' slots only those that go round in threes.
ROLLS = {
    "forward-roll": (0, 1, 2, 0, 1, 2, 0, 2),
    "backward-roll": (2, 1, 0, 2, 1, 0, 2, 1),
    "forward-reverse-roll": (0, 1, 2, 0, 2, 1, 0, 2),
    "alternating-thumb-roll": (0, 1, 0, 2, 0, 1, 0, 2),
}
ROLLS_IN_THREES = {"forward-roll": (0, 1, 2), "backward-roll": (2, 1, 0)}
OFF_ROLL = 0.6  # a slot where another finger picks than the roll that is asked for, or none
EASING = 1.8  # how much dearer frets and moves become each time that a phrase came out too fast to play
MOST_EASING = 5
