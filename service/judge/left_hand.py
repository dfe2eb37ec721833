"""Which finger of the left hand stops which note: the easiest way through, exactly.

A state is what each finger holds, since when, and where the hand lies. A finger that holds a note already costs
nothing; others must be placed, moved or carried with the hand, and each takes milliseconds that must fit into the
ticks there are. Open strings cost nothing and give time. Distances are millimetres at the instrument's own scale,
so a mandolin's fingers cover two frets each without being told.

The form of the time for an aimed movement, a + b log2(distance / width + 1), is Fitts's law (published, 1954; this
variant MacKenzie 1992). Its constants and all others here are ours, set so that the stock examples of a teacher come out right.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, log2

from service.judge.paths import NoWay, easiest
from service.music.instruments import Instrument
from service.music.licks import LINKED, Note
from service.music.meter import EIGHTH

PLACE_MS = 60.0  # put a free finger down in the position it is in
AIM_MS, AIM_MS_PER_BIT, AIM_WIDTH_MM = 50.0, 36.0, 15.0  # an aimed move of a finger or of the hand
LIFT_MS = 40.0  # more, when one finger hops to another string
SLIDE_MS, SLIDE_MS_PER_MM = 15.0, 0.4  # a slide stays on the string and is not aimed from the air
LINK_MS = 45.0  # hammer on, pull off
BARRE_MS = 20.0  # lay a finger that is down over one more string
RELEASE_MS = 30.0  # more, for each finger that must let go of a shape
SQUEEZE_MS = 60.0  # more, where the hand would have to lie behind the first fret
LITTLE_MS = 8.0  # more, for the little finger
STRETCH_MS_PER_MM = 2.0  # more, beyond what is comfortable
CRAMP_MS_PER_MM = (
    2.0  # more, for neighbouring fingers closer than CRAMPED of their usual distance; for others a part of it
)
CRAMPED = 0.75
CROSS_MS = 70.0  # more, to let go of a shape by crossing a finger that was down within CROSS_TICKS
CROSS_TICKS = 3 * EIGHTH
HOLD = 4 * EIGHTH  # ticks for which a finger is thought to stay where it was
FREE = 2 * EIGHTH  # ticks after which a finger that stopped a note can go elsewhere as if it were free
STRING_MM = 10.0  # between neighbouring strings
FINGER_MM = (
    33.0  # between neighbouring fingers of a relaxed hand: a banjo fret in first position, two of a mandolin
)
EASY = 0.25  # milliseconds a tick that count as easy for this hand: half = 250 if it were alone
# Comfortable and greatest distance in mm between two fingers (1 index ... 4 little). Ours, for a grown hand.
SPANS = {
    (1, 2): (42.0, 64.0),
    (1, 3): (75.0, 98.0),
    (1, 4): (106.0, 128.0),
    (2, 3): (38.0, 52.0),
    (2, 4): (72.0, 90.0),
    (3, 4): (38.0, 52.0),
}
NAMES = ("open", "index", "middle", "ring", "little")
NEVER = -(10**6)
SPARE_FRETS = 5  # beyond the last one, so that distances there can be reckoned
_Grip = tuple[int, int, int, int]  # fret, lowest and highest string number covered, onset of the last note
_Held = tuple[_Grip | None, ...]  # by finger, index first
_State = tuple[
    _Held, int, int
]  # what is held, the fret where the index lies (0: nowhere yet), last fretted onset
_Told = tuple[tuple[str, object], ...]
_Stopped = tuple[tuple[int, int], ...]  # (index of the note, finger 0-3)


@dataclass(frozen=True, slots=True)
class Moment:
    """What a moment of a hand takes: ``load`` in milliseconds a tick, and the code of what makes it hard."""

    onset: int
    load: float
    why: str = ""
    params: _Told = ()


@dataclass(frozen=True, slots=True)
class LeftHand:
    """``fingers`` by note: 0 open, 1-4; None where no hand can stop the notes struck at ``impossible``."""

    fingers: tuple[int | None, ...]
    moments: tuple[Moment, ...]
    impossible: int | None = None

    @property
    def worst(self) -> float:
        return max((moment.load for moment in self.moments), default=0.0)


@dataclass(frozen=True, slots=True)
class _Event:
    """Notes struck together: what is fretted (index, string, fret, technique) and which strings sound open."""

    onset: int
    stopped: tuple[tuple[int, int, int, str | None], ...]
    open: frozenset[int]


def travel(notes: Sequence[Note], instrument: Instrument, capo: int = 0) -> float:
    """The worst bare travel from fretted notes to the next ones picked, milliseconds a tick: every distance an aimed move.

    Harder than what a good fingering makes of it, but it can only fall when a note is opened or taken out: moves merge,
    the time an aimed move takes grows less than its distance, and the time there is adds up.
    """
    neck = _neck(instrument.scale_mm, instrument.frets + SPARE_FRETS)
    short = instrument.short_string
    worst = 0.0
    before: tuple[int, set[int]] | None = None
    for event in _events([note for note in notes if note.technique not in LINKED]):
        frets = {fret for _, string, fret, _ in event.stopped if short is None or string != short[0]}
        if not frets:
            continue
        if before is not None:
            apart = max(abs(neck[a + capo] - neck[b + capo]) for a in before[1] for b in frets)
            worst = max(worst, aim_ms(apart) / (event.onset - before[0]))
        before = (event.onset, frets)
    return worst


@lru_cache(maxsize=64)
def _neck(scale_mm: int, frets: int) -> tuple[float, ...]:
    """Distance of each fret from the nut in mm."""
    return tuple(scale_mm * (1 - 2 ** (-fret / 12)) for fret in range(frets + 1))


def left_hand(notes: Sequence[Note], instrument: Instrument, capo: int = 0) -> LeftHand:
    """The easiest fingering of notes sorted by onset."""
    events = _events(notes)
    hand = _hand(instrument.scale_mm, instrument.frets, capo)
    start: _State = ((None,) * 4, 0, NEVER)
    try:
        way = easiest(len(events), start, lambda state, stage: hand.steps(state, events[stage]), EASY)
    except NoWay as dead:
        return LeftHand((None,) * len(notes), (), events[dead.stage].onset)
    fingers: list[int | None] = [0] * len(notes)
    moments = []
    for event, choice, load in zip(events, way.choices, way.loads, strict=True):
        for index, finger in choice[0]:
            fingers[index] = finger + 1
        if event.stopped:
            moments.append(Moment(event.onset, load, choice[1], choice[2]))
    return LeftHand(tuple(fingers), tuple(moments))


def _events(notes: Sequence[Note]) -> list[_Event]:
    found: dict[int, tuple[list[tuple[int, int, int, str | None]], set[int]]] = {}
    for index, note in enumerate(notes):
        stopped, unstopped = found.setdefault(note.onset, ([], set()))
        if note.technique == "mute":
            continue
        if note.fret == 0:
            unstopped.add(note.string)
        else:
            stopped.append((index, note.string, note.fret, note.technique))
    return [
        _Event(onset, tuple(sorted(stopped, key=lambda s: (s[2], -s[1]))), frozenset(unstopped))
        for onset, (stopped, unstopped) in sorted(found.items())
    ]


_Choice = tuple[_Stopped, str, _Told]
_Laid = tuple[_Held, int]  # what is held, and the fret where the index lies


@lru_cache(maxsize=64)
def _hand(scale_mm: int, frets: int, capo: int) -> "_Hand":
    """A hand on such a neck; it remembers what its fingers can reach."""
    return _Hand(_neck(scale_mm, frets + SPARE_FRETS), capo)


class _Hand:
    def __init__(self, neck: Sequence[float], capo: int) -> None:
        self.neck, self.capo = neck, capo
        self.spans: dict[tuple[int, int, int, int], float | None] = {}
        self.resting: dict[tuple[int, int], int] = {}

    def mm(self, fret: int) -> float:
        return self.neck[max(0, fret + self.capo)]

    def lies(self, finger: int, fret: int) -> int:
        """Fret of the index when a finger (0-3) stops a fret in a relaxed hand; below 1 it has no room."""
        known = self.resting.get((finger, fret))
        if known is None:
            known = self.resting[finger, fret] = self._lies(finger, fret)
        return known

    def _lies(self, finger: int, fret: int) -> int:
        if finger == 0:
            return fret
        at = self.mm(fret) - finger * min(FINGER_MM, 2 * (self.mm(fret) - self.mm(fret - 1)))
        place = fret - finger
        while place > 0 and self.mm(place) - at > (self.mm(place) - self.mm(place - 1)) / 2:
            place -= 1
        return place

    def span(self, low: int, high: int, low_fret: int, high_fret: int) -> float | None:
        """Milliseconds of stretch between two fingers (0-3, low < high) at their frets; None if out of reach."""
        key = (low, high, low_fret, high_fret)
        if key not in self.spans:
            apart = self.mm(high_fret) - self.mm(low_fret)
            comfortable, most = SPANS[low + 1, high + 1]
            fret_mm = self.mm(low_fret + 1) - self.mm(low_fret)
            frets_each = max(1, round(0.8 * FINGER_MM / fret_mm)) if fret_mm < FINGER_MM / 1.25 else 1
            usual = CRAMPED * (high - low) * fret_mm * frets_each
            cost = max(0.0, apart - comfortable) * STRETCH_MS_PER_MM
            if apart:
                cost += max(0.0, usual - apart) * CRAMP_MS_PER_MM / (high - low)
            self.spans[key] = cost if 0 <= apart <= most else None
        return self.spans[key]

    def steps(self, state: _State, event: _Event) -> Iterator[tuple[_Choice, _State, float]]:
        held, lies, since = state
        now = event.onset
        kept = tuple(
            None
            if grip is None
            or now - grip[3] > HOLD
            or (event.open and any(grip[1] <= s <= grip[2] for s in event.open))
            else grip
            for grip in held
        )
        if not event.stopped:
            yield ((), "", ()), (kept, lies, since), 0.0
            return
        best: dict[_Laid, tuple[_Choice, float]] = {}
        for fingers, after, load, why, told in self._stop((kept, lies), event, 0, 0, since):
            known = best.get(after)
            if known is None or load < known[1]:
                best[after] = ((fingers, why, told), load)
        for laid, (choice, load) in best.items():
            # strokes repeated quickly on what is held are one long note: the hand may leave during them
            again = load == 0.0 and now - since < EIGHTH
            yield choice, (*laid, since if again else now), load

    def _stop(
        self, begun: _Laid, event: _Event, place: int, used: int, since: int
    ) -> Iterator[tuple[_Stopped, _Laid, float, str, _Told]]:
        """Every way to stop the notes of an event from ``place`` on; ``used`` has a bit for each finger in it."""
        index, string, fret, technique = event.stopped[place]
        for finger, after, load, why, told in self._one(begun, event, string, fret, technique, used, since):
            if place + 1 == len(event.stopped):
                yield ((index, finger),), after, load, why, told
                continue
            for rest, end, more, other, others in self._stop(
                after, event, place + 1, used | 1 << finger, since
            ):
                fingers = ((index, finger), *rest)
                if more > load:
                    yield fingers, end, more, other, others
                else:
                    yield fingers, end, load, why, told

    def _one(
        self,
        begun: _Laid,
        event: _Event,
        string: int,
        fret: int,
        technique: str | None,
        used: int,
        since: int,
    ) -> Iterator[tuple[int, _Laid, float, str, _Told]]:
        """Every finger for one note."""
        held, lies = begun
        now = event.onset
        source, sounding, sounding_fret = None, NEVER, 0
        for finger, grip in enumerate(held):
            if grip is not None and grip[1] <= string <= grip[2]:
                if grip[0] == fret and technique != "slide":
                    again = (fret, grip[1], grip[2], now)
                    yield finger, (_with(held, finger, again), lies), 0.0, "", ()
                    return
                if grip[3] > sounding:
                    source, sounding, sounding_fret = finger, grip[3], grip[0]
        if technique == "slide" and source is not None and not used >> source & 1:
            before = held[source]
            if before is not None:
                apart = abs(self.mm(fret) - self.mm(before[0]))
                load = (SLIDE_MS + SLIDE_MS_PER_MM * apart) / max(1, now - before[3])
                only = _with((None,) * 4, source, (fret, string, string, now))
                yield source, (only, max(1, lies + fret - before[0])), load, "slide", ()
                return
        linked = technique in ("hammer-on", "pull-off") and source is not None
        in_order = False
        for finger, grip in enumerate(held):
            taken = bool(used >> finger & 1)
            if (
                linked
                and source is not None
                and (finger <= source if fret > sounding_fret else finger >= source)
            ):
                continue  # a hammer comes from a higher finger, a pull goes to a lower one
            if grip is not None and grip[0] == fret and (taken or finger == 0):
                low, high = min(grip[1], string), max(grip[2], string)
                # other fingers than the index lie over two neighbouring strings at most
                if (finger == 0 or high - low == 1) and not any(low < s < high for s in event.open):
                    laid = (fret, low, high, now)
                    around = self._around(held, finger, string, laid, used)
                    if around is not None:
                        load = BARRE_MS / HOLD
                        yield finger, (_with(around[0], finger, laid), lies), load, "barre", ()
            if taken:
                continue
            new = (fret, string, string, now)
            around = self._around(held, finger, string, new, used)
            if around is not None:
                in_order = True
                yield self._moved(around, lies, finger, grip, new, technique, source is not None, since)
        if linked and not in_order:
            # more linked notes than fingers: the hand is carried along the string, and any finger takes it
            apart = abs(self.mm(fret) - self.mm(sounding_fret))
            for finger in range(4):
                if not used >> finger & 1:
                    only = _with((None,) * 4, finger, (fret, string, string, now))
                    load = (aim_ms(apart) + LIFT_MS) / max(1, now - since)
                    yield finger, (only, max(1, self.lies(finger, fret))), load, "shift", (
                        ("from", lies), ("to", max(1, self.lies(finger, fret))),
                        ("frets", abs(self.lies(finger, fret) - lies)),
                    )  # fmt: skip

    def _moved(
        self,
        around: tuple[_Held, float, int, bool],
        lies: int,
        finger: int,
        grip: _Grip | None,
        new: _Grip,
        technique: str | None,
        linked: bool,
        since: int,
    ) -> tuple[int, _Laid, float, str, _Told]:
        """A finger put down on a new place, the hand carried there if no finger stays to hold it."""
        others, stretch, released, anchored = around
        fret, string, _, now = new
        need, time, why = PLACE_MS, HOLD, "place"
        told: _Told = ()
        lying = self.lies(finger, fret)
        more = (
            stretch
            + RELEASE_MS * (released + (grip is not None and now - grip[3] < HOLD))
            + (LITTLE_MS if finger == 3 else 0.0)
            + (SQUEEZE_MS if lying < 1 and not anchored else 0.0)
        )
        lying = max(1, lying)
        if grip is not None and now - grip[3] <= FREE:
            lifted = grip[1] != string or grip[2] != string
            apart = hypot(self.mm(fret) - self.mm(grip[0]), STRING_MM * abs(string - grip[1]))
            need, time = aim_ms(apart) + (LIFT_MS if lifted else 0.0), now - grip[3]
            why = "hop" if lifted else "move"
            told = (("finger", NAMES[finger + 1]), ("string", grip[1]), ("to_string", string))
        load = (need + more) / max(1, time)
        if stretch >= need:
            why = "stretch"
        if not anchored and lies and lying != lies:
            shift = (aim_ms(abs(self.mm(lying) - self.mm(lies))) + stretch) / max(1, min(HOLD, now - since))
            if shift > load:
                load, why = shift, "shift"
                told = (("from", lies), ("to", lying), ("frets", abs(lying - lies)))
        if linked and technique in ("hammer-on", "pull-off"):
            quick = LINK_MS / max(1, now - since)
            if quick > load:
                load, why, told = quick, technique, ()
        held = _with(others, finger, new)
        if anchored:
            low, lowest = next((f, g) for f, g in enumerate(held) if g is not None)
            lying = max(1, self.lies(low, lowest[0]))
        return finger, (held, lying), load, why, told

    def _around(
        self, held: _Held, finger: int, string: int, new: _Grip, used: int
    ) -> tuple[_Held, float, int, bool] | None:
        """The other fingers when one takes a place: those in its way are lifted; None if they may not be.

        With them the stretch in milliseconds, how many are lifted, and whether any stays to anchor the hand.
        """
        stretch, released, anchored = 0.0, 0, False
        others = list(held)
        others[finger] = None
        for other, grip in enumerate(held):
            if other == finger or grip is None:
                continue
            if other < finger:
                low, high, low_grip, high_grip = other, finger, grip, new
            else:
                low, high, low_grip, high_grip = finger, other, new, grip
            reach = self.span(low, high, low_grip[0], high_grip[0])
            if reach is not None and grip[0] == new[0]:
                # side by side in one fret: the lower finger on the bass side, three of them at most
                if high - low > 2 or low_grip[1] <= high_grip[2]:
                    reach = None
            elif reach is not None and grip[0] > new[0] and grip[1] <= string <= grip[2]:
                reach = None  # it stops the same string higher up
            elif (
                reach is not None
                and grip[0] < new[0]
                and new[1] < new[2]
                and new[1] <= grip[2]
                and grip[1] <= new[2]
            ):
                reach = None  # the new finger is laid over its string
            if reach is not None:
                anchored = True
                if reach > stretch:
                    stretch = reach
            elif used >> other & 1:
                return None
            else:
                others[other] = None
                released += 1
                crossed = low_grip[0] > high_grip[0] and new[3] - grip[3] <= CROSS_TICKS
                stretch += CROSS_MS if crossed else 0.0
        return tuple(others), stretch, released, anchored


def _with(held: _Held, finger: int, grip: _Grip) -> _Held:
    return (*held[:finger], grip, *held[finger + 1 :])


def aim_ms(apart: float) -> float:
    """Milliseconds of an aimed move of so many mm."""
    return AIM_MS + AIM_MS_PER_BIT * log2(apart / AIM_WIDTH_MM + 1)
