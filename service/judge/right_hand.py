"""Which finger picks which note, or which way the pick goes: the easiest way through, exactly.

Rules belong to a hand style. Thumb, index and middle (and the ring finger on a guitar) each reach some strings and
need time before they pick again; a flat pick goes down on the beat and up off it, in jigs down, up, down, and pays for crossing
strings.
Other hand styles pay for nothing but speed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

from service.judge.emphasis import place_of
from service.judge.left_hand import Moment
from service.judge.paths import Way, easiest
from service.music.licks import LINKED, Note
from service.music.meter import EIGHTH, Meter, meter_named

CUT_TIME = meter_named("2/2")


@dataclass(frozen=True, slots=True)
class Picking:
    """Fingers from the thumb on, milliseconds that a string costs each, and how soon they can go on.

    ``next_ms`` is needed from any note to the next, ``again_ms`` from a finger's note to its own next one.
    """

    fingers: tuple[str, ...]
    reach: dict[str, dict[int, float]]
    next_ms: float
    again_ms: float


# Thumb 5-2, index 3-2 and at need 4 and 1, middle 1 and at need 2 and 3; in single-string style thumb and index
# take turns anywhere (common practice, no source). The milliseconds are ours: eighths at half = 159 for a roll, a
# finger twice at eighths no faster than half = 88.
_ROLL = {
    "T": {5: 0.0, 4: 0.0, 3: 0.0, 2: 5.0},
    "I": {3: 5.0, 2: 0.0, 4: 10.0, 1: 10.0},
    "M": {1: 0.0, 2: 10.0, 3: 15.0},
}
PICKINGS = {
    "roll": Picking(("T", "I", "M"), _ROLL, 90.0, 170.0),
    "melodic": Picking(("T", "I", "M"), _ROLL, 95.0, 170.0),
    "single-string": Picking(
        ("T", "I", "M"),
        {
            "T": {5: 0.0, 4: 0.0, 3: 0.0, 2: 0.0, 1: 5.0},
            "I": {4: 5.0, 3: 0.0, 2: 0.0, 1: 0.0},
            "M": {1: 5.0, 2: 15.0, 3: 20.0},
        },
        108.0,
        170.0,
    ),
    "fingers": Picking(
        ("p", "i", "m", "a"),
        {
            "p": {6: 0.0, 5: 0.0, 4: 0.0, 3: 5.0, 2: 15.0},
            "i": {3: 0.0, 4: 5.0, 2: 5.0, 1: 15.0},
            "m": {2: 0.0, 3: 5.0, 1: 5.0},
            "a": {1: 0.0, 2: 5.0},
        },
        95.0,
        170.0,
    ),
}
# Flat pick: milliseconds from stroke to stroke, by style; and what is more. Common practice for the directions, ours
# for the numbers. Strokes that go on in their direction to a neighbouring string are one sweep.
PICK_MS = {"flatpick": 90.0, "crosspick": 95.0, "double-stop": 95.0, "tremolo": 50.0}
SAME_WAY_MS = 130.0  # down after down, or up after up, that is no sweep
AGAINST_BEAT_MS = 80.0  # more, for a stroke that goes otherwise than is usual at its place
OF_THREE = ("d", "u", "d")  # strokes of a beat of three eighths: how jigs are picked (common practice)
SKIP_MS = 8.0  # more, for each string passed over
NEUTRAL_MS = 90.0  # from note to note in other hand styles
BRUSH_MS = 20.0  # more, when more strings are struck at once than there are fingers
EASY = 0.45  # milliseconds a tick that count as easy: half = 139
AGAIN_SHARE = 0.05  # of what a finger's own return takes, on top of the worst: less of it is better
FRESH = 2 * EIGHTH  # ticks after which a finger is fresh again
LONG = 4 * EIGHTH  # ticks; more time than that does not help
FASTEST = EIGHTH // 4  # ticks; anything closer counts as this close


@dataclass(frozen=True, slots=True)
class RightHand:
    """``fingers`` by position among the notes: T I M, p i m a, or d u for the pick's way.

    None where the left hand sounds the note, a whole hand brushes, or the style names no fingers.
    """

    fingers: tuple[str | None, ...]
    moments: tuple[Moment, ...]

    @property
    def worst(self) -> float:
        return max((moment.load for moment in self.moments), default=0.0)


_Used = tuple[int | None, ...]  # onset of each finger's last note, in the order of the fingers
_Struck = tuple[int, tuple[int, ...]]  # onset, indexes of the notes picked then


def right_hand(notes: Sequence[Note], styles: Sequence[str], meter: Meter = CUT_TIME) -> RightHand:
    """The easiest fingering of notes (sorted by onset), each in its style. A finger that a note has is kept."""
    struck: dict[int, list[int]] = {}
    for index, note in enumerate(notes):
        if note.technique not in LINKED:
            struck.setdefault(note.onset, []).append(index)
    groups = [(onset, tuple(indexes)) for onset, indexes in sorted(struck.items())]
    fingers: list[str | None] = [None] * len(notes)
    moments: list[Moment] = []
    for machine, run in _runs(groups, styles):
        way = _way(machine, run, notes, styles, meter)
        for (onset, indexes), choice, load in zip(run, way.choices, way.loads, strict=True):
            for index, finger in zip(indexes, choice.fingers, strict=True):
                fingers[index] = finger
            moments.append(Moment(onset, load, choice.why, choice.params))
    return RightHand(tuple(fingers), tuple(moments))


def with_fingers(notes: Sequence[Note], styles: Sequence[str], meter: Meter = CUT_TIME) -> tuple[Note, ...]:
    """The notes with their picking fingers."""
    fingers = right_hand(notes, styles, meter).fingers
    return tuple(
        replace(note, finger=finger) if finger else note for note, finger in zip(notes, fingers, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Choice:
    """Fingers (or the pick's way) for the notes of a moment, what it costs more, and what makes it hard."""

    fingers: tuple[str | None, ...]
    more_ms: float
    why: str = ""
    params: tuple[tuple[str, object], ...] = ()


def _runs(groups: Sequence[_Struck], styles: Sequence[str]) -> Iterator[tuple[str, list[_Struck]]]:
    """Stretches of moments under one kind of hand."""
    run: list[_Struck] = []
    kind = ""
    for group in groups:
        style = styles[group[1][0]]
        here = "fingers" if style in PICKINGS else "pick" if style in PICK_MS else "neutral"
        if run and here != kind:
            yield kind, run
            run = []
        kind = here
        run.append(group)
    if run:
        yield kind, run


def _way(
    kind: str, run: Sequence[_Struck], notes: Sequence[Note], styles: Sequence[str], meter: Meter
) -> Way[_Choice]:
    of = [[notes[i] for i in indexes] for _, indexes in run]
    style = [styles[indexes[0]] for _, indexes in run]
    gaps = [EIGHTH] + [min(LONG, max(FASTEST, b[0] - a[0])) for a, b in pairwise(run)]
    if kind == "fingers":
        picking = [PICKINGS[name] for name in style]
        ways = [list(_ways(struck, hand)) for struck, hand in zip(of, picking, strict=True)]

        def pick(used: _Used, stage: int) -> Iterator[tuple[_Choice, _Used, float]]:
            onset = run[stage][0]
            for way in ways[stage]:
                yield _picked(used, onset, gaps[stage], way, picking[stage])

        fresh: _Used = (None,) * 4
        return easiest(len(run), fresh, pick, EASY)
    if kind == "pick":

        def stroke(state: tuple[str, int], stage: int) -> Iterator[tuple[_Choice, tuple[str, int], float]]:
            onset = run[stage][0]
            place, usual = place_of(onset, meter), _usual_way(onset, meter)
            for way in _asked(of[stage]):
                yield _stroke(state, way, of[stage], gaps[stage], style[stage], place, usual)

        return easiest(len(run), ("", 0), stroke, EASY)

    def free(state: int, stage: int) -> Iterator[tuple[_Choice, int, float]]:
        yield _Choice((None,) * len(of[stage]), 0.0), state, NEUTRAL_MS / gaps[stage]

    return easiest(len(run), 0, free, EASY)


def _ways(struck: Sequence[Note], hand: Picking) -> Iterator[_Choice]:
    """Fingers for notes struck together: the thumb lowest, none across another."""
    found = False
    if len(struck) <= len(hand.fingers):
        for fingers in permutations(hand.fingers, len(struck)):
            pairs = list(zip(fingers, struck, strict=True))
            if any(note.string not in hand.reach[finger] for finger, note in pairs):
                continue
            if any(note.finger in hand.fingers and note.finger != finger for finger, note in pairs):
                continue
            strings = [note.string for _, note in sorted(pairs, key=lambda p: hand.fingers.index(p[0]))]
            if strings == sorted(strings, reverse=True):
                found = True
                yield _Choice(fingers, max(hand.reach[finger][note.string] for finger, note in pairs))
    if not found:  # a brush, or as the player wrote it
        yield _Choice(tuple(note.finger for note in struck), BRUSH_MS)


def _picked(used: _Used, onset: int, gap: int, way: _Choice, hand: Picking) -> tuple[_Choice, _Used, float]:
    again, tired = 0.0, None
    after: list[int | None] = [None] * 4
    for place, finger in enumerate(hand.fingers):
        last = used[place]
        if finger in way.fingers:
            if last is not None and onset - last < FRESH:
                takes = (hand.again_ms + way.more_ms) / max(FASTEST, onset - last)
                if takes > again:
                    again, tired = takes, finger
            after[place] = onset
        elif last is not None and onset - last < FRESH:
            after[place] = last
    onward = (hand.next_ms + way.more_ms) / gap
    load = max(onward, again) + AGAIN_SHARE * again
    if again > onward:
        way = _Choice(way.fingers, way.more_ms, "same-finger", (("finger", tired),))
    return way, tuple(after), load


def _asked(struck: Sequence[Note]) -> tuple[str, ...]:
    """The ways the pick may go: both, or as the player wrote it."""
    written = {note.finger for note in struck if note.finger in ("d", "u")}
    return tuple(finger for finger in written if finger) if len(written) == 1 else ("d", "u")


def _usual_way(onset: int, meter: Meter) -> str:
    """The way of a stroke at an onset: down on the beat and up off it; in beats of three eighths OF_THREE."""
    slots = meter.beat_ticks // meter.slot_ticks
    if slots == len(OF_THREE):
        return OF_THREE[onset // meter.slot_ticks % slots]
    return "d" if place_of(onset, meter) in ("downbeat", "strong", "beat") else "u"


def _stroke(
    state: tuple[str, int], way: str, struck: Sequence[Note], gap: int, style: str, place: str, usual: str
) -> tuple[_Choice, tuple[str, int], float]:
    """A stroke of the pick; down goes towards string 1. ``state`` is the last way and where it ended."""
    last, ended = state
    strings = [note.string for note in struck]
    begins, ends = (max(strings), min(strings)) if way == "d" else (min(strings), max(strings))
    need, why = PICK_MS[style], ""
    if last == way:
        onward = ended - begins if way == "d" else begins - ended
        sweeps = style == "crosspick" and onward == 1
        need, why = (need, "") if sweeps else (max(need, SAME_WAY_MS), "same-way")
    elif ended:
        passed = abs(begins - ended) - 1
        if passed > 0:
            need, why = need + SKIP_MS * passed, "string-skip"
    even = gap % EIGHTH == 0 or gap == LONG  # within triplets strokes just alternate
    if place == "downbeat" or (style != "crosspick" and place != "between" and even):
        need += AGAINST_BEAT_MS if way != usual else 0.0
    letters: tuple[str | None, ...] = (*(None for _ in struck[1:]), way)
    return _Choice(letters, 0.0, why), (way, ends), need / gap
