"""Both hands together: the fingering, what limits it, and the tempo at which the worst moment reaches its limit."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.judge.left_hand import LeftHand, Moment, left_hand, travel
from service.judge.right_hand import RightHand, right_hand
from service.music.instruments import Instrument
from service.music.licks import Lick, Note
from service.music.meter import Meter

MOST_BPM = {"half": 240, "quarter": 480, "dotted quarter": 320, "eighth": 960}  # said for what nothing limits
LIMITING = 3  # moments named, hardest first
COORDINATION = (
    0.5  # of what the left hand needs comes on top of the right where both move at once; our choice
)
NAMED_FROM = 0.8  # of the worst load: moments below it limit nothing


@dataclass(frozen=True, slots=True)
class Hands:
    """``top_bpm`` is the comfortable top tempo in beats of ``unit`` a minute; None where a hand cannot do it."""

    left: LeftHand
    right: RightHand
    top_bpm: int | None
    unit: str
    limits: tuple[tuple[str, Moment], ...]  # (left or right, moment), hardest first
    load: float = 0.0  # the worst moment, both hands together, milliseconds a tick
    travel: float = 0.0  # of the left hand, see left_hand.travel


def judge_hands(
    notes: Sequence[Note], instrument: Instrument, styles: Sequence[str], meter: Meter, capo: int = 0
) -> Hands:
    """Fingering and comfortable top tempo of notes sorted by onset, each in its style."""
    left = left_hand(notes, instrument, capo)
    right = right_hand(notes, styles, meter)
    together = _together(left, right)
    worst = max(together.values(), default=0.0)
    moments = [("left", moment) for moment in left.moments] + [("right", moment) for moment in right.moments]
    telling = [
        pair
        for pair in moments
        if together[pair[1].onset] >= NAMED_FROM * worst and pair[1].why not in ("", "place")
    ]
    limits = sorted(telling, key=lambda pair: (-together[pair[1].onset], -pair[1].load, pair[1].onset))
    top = None if left.impossible is not None else top_tempo(worst, meter)
    return Hands(
        left, right, top, meter.beat_unit, tuple(limits[:LIMITING]), worst, travel(notes, instrument, capo)
    )


def _together(left: LeftHand, right: RightHand) -> dict[int, float]:
    """Load of each moment by onset: the harder hand's, or the right hand's with part of what the left does meanwhile."""
    found = {moment.onset: moment.load for moment in right.moments}
    for moment in left.moments:
        picked = found.get(moment.onset)
        both = moment.load if picked is None else max(moment.load, picked + COORDINATION * moment.load)
        found[moment.onset] = both
    return found


def lick_hands(lick: Lick) -> Hands:
    return judge_hands(lick.notes, lick.instrument, [lick.style] * len(lick.notes), lick.meter)


def top_tempo(load: float, meter: Meter) -> int:
    """The tempo in beats a minute at which a load (milliseconds a tick) takes all the time there is."""
    most = MOST_BPM[meter.beat_unit]
    return most if load <= 0 else min(most, int(60_000 / (load * meter.beat_ticks)))


def strain(load: float, bpm: float, beat_ticks: int) -> float:
    """Share of the time there is that a load takes at a tempo; 1 is the limit."""
    return load * bpm * beat_ticks / 60_000
