"""From a timeline to the sum of all players, any stretch of it at a time."""

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from service.music.timeline import Event, Plan, Timeline
from service.sound.characters import FIDDLE
from service.sound.clicks import click_wave
from service.sound.levels import CLICK_DB, FILL_DB, panned, places, player_db, stroke_db, touch
from service.sound.notes import SLIDE_SECONDS, TURNS, NoteCache, NoteKey, damping, t60
from service.sound.strings import RATE

Samples = NDArray[np.float32]
_STRUCK_AGAIN_SECONDS = 0.006  # a string under the next stroke is silent this quickly, without a click; ours
_MOST_BELOW_DB = 4.0  # how far below its own stroke a slide may have died away; ours
_CLICK_PEAK = 0.5  # of a lead's loud notes, near enough; ours


@dataclass(frozen=True, slots=True)
class _Placed:
    """A note or click in place: held for ``held`` samples, then faded out over ``fade``."""

    start: int
    end: int
    key: NoteKey | None
    downbeat: bool
    held: int
    fade: int
    gains: tuple[float, ...]


class Mix:
    """All players together, unmastered; stretches may be asked for in any order and are the same in each."""

    def __init__(self, plan: Plan, timeline: Timeline, cache: NoteCache) -> None:
        self.channels = 2 if plan.stereo else 1
        self.length = timeline.length
        self._cache = cache
        self._placed = sorted((*_strings(plan, timeline), *_clicks(plan, timeline)), key=lambda p: p.start)
        self._starts = [p.start for p in self._placed]
        self._longest = max((p.end - p.start for p in self._placed), default=0)

    def stretch(self, start: int, stop: int) -> Samples:
        """Samples ``start`` to ``stop``, shape (channels, stop - start)."""
        out = np.zeros((self.channels, stop - start), dtype=np.float32)
        index = bisect_left(self._starts, start - self._longest)
        last = bisect_left(self._starts, stop)
        # one place to scale notes in: new memory for each would cost more than the sums
        scratch = np.empty(stop - start, dtype=np.float32)
        for placed in self._placed[index:last]:
            if placed.end > start:
                self._add(out, scratch, placed, start, stop)
        return out

    def _add(self, out: Samples, scratch: Samples, placed: _Placed, start: int, stop: int) -> None:
        length = placed.held + placed.fade
        wave = click_wave(placed.downbeat) if placed.key is None else self._cache.note(placed.key, length)
        at = placed.start - start
        first = max(0, -at)
        last = min(length, len(wave), stop - placed.start)
        if first >= last:
            return
        scaled = scratch[: last - first]
        for channel, gain in enumerate(placed.gains):
            np.multiply(wave[first:last], np.float32(gain), out=scaled)
            if last > placed.held:
                faded = max(first, placed.held)
                scaled[faded - first :] *= _fade(placed.fade)[faded - placed.held : last - placed.held]
            out[channel, at + first : at + last] += scaled


@lru_cache(maxsize=32)
def _fade(samples: int) -> Samples:
    return (0.5 + 0.5 * np.cos(np.pi * np.arange(samples) / samples)).astype(np.float32)


def _clicks(plan: Plan, timeline: Timeline) -> Iterator[_Placed]:
    gain = _CLICK_PEAK * 10 ** (CLICK_DB / 20)
    gains = tuple(gain * side for side in panned(0.0)) if plan.stereo else (gain,)
    for click in timeline.clicks:
        length = min(len(click_wave(click.downbeat)), timeline.length - click.start)
        yield _Placed(click.start, click.start + length, None, click.downbeat, length, 0, gains)


def _strings(plan: Plan, timeline: Timeline) -> list[_Placed]:
    """Strokes with their levels. A slide begins before its time, and the note it comes from ends there."""
    found: list[_Placed] = []
    levels: list[float] = []
    last: dict[tuple[int, int], int] = {}
    strokes: Counter[tuple[int, int, int]] = Counter()  # of a pitch on a string
    stands = [panned(place) if plan.stereo else (1.0,) for place in places(plan.parts)]
    players = [player_db(part) for part in plan.parts]
    struck_again = round(_STRUCK_AGAIN_SECONDS * RATE)
    for event in timeline.events:
        part = plan.parts[event.part]
        instrument = part.passage.instrument.id
        db = stroke_db(event, bool(part.melody))
        on_string = (event.part, event.string)
        before = last.get(on_string)
        place = (event.part, event.string, event.pitch)
        turn = 0 if instrument == FIDDLE.name else strokes[place] % len(TURNS)
        strokes[place] += 1
        key = NoteKey(instrument, event.pitch, event.open, touch(db), event.technique, turn=turn)
        lead_in = 0
        if event.technique == "slide" and event.came_from is not None:
            seconds = _slide_seconds(event)
            key = replace(key, rise=event.pitch - event.came_from, slide=seconds)
            lead_in = round(seconds * RATE)
            if before is not None:
                old = found[before]
                if not part.melody:
                    db = _carried(levels[before], old, event, db)
                elif not event.melody:
                    db = min(FILL_DB, _carried(levels[before], old, event, db))
                held = min(old.held, event.start - lead_in - old.start)
                found[before] = _ended(old, max(0, held), struck_again)
        fade = struck_again if event.cut else round(damping(instrument) * RATE)
        start = max(0, event.start - lead_in)
        held = event.stop - start
        fade = min(fade, max(0, timeline.length - start - held))
        gain = 10 ** ((db + players[event.part]) / 20)
        last[on_string] = len(found)
        levels.append(db)
        gains = tuple(gain * side for side in stands[event.part])
        found.append(_Placed(start, start + held + fade, key, False, held, fade, gains))
    return found


def _ended(placed: _Placed, held: int, fade: int) -> _Placed:
    return _Placed(
        placed.start, placed.start + held + fade, placed.key, placed.downbeat, held, fade, placed.gains
    )


def _slide_seconds(event: Event) -> float:
    """The longest time that is at most half of the note slid from."""
    most = (event.start - event.since) / RATE / 2
    return next((s for s in SLIDE_SECONDS if s <= most), SLIDE_SECONDS[-1])


def _carried(level: float, old: _Placed, event: Event, db: float) -> float:
    """A slide adds nothing to the string, so it is as loud as the string still is, within bounds."""
    left = level
    if old.key is not None and not math.isinf(t60(old.key)):
        left -= 60 * (event.start - old.start) / RATE / t60(old.key)
    return min(max(left, db - _MOST_BELOW_DB), level)
