"""Two hundred breaks of each tune, drawn over the demo pool, against a teacher's rules at the tune's own tempo.

Rules R3 to R7 (common practice, no source) are checked on the whole break with its seams, as it would be played, and not
on what the draw was made from.
"""

from dataclasses import replace
from itertools import pairwise

import pytest

from service.judge.facts import first_target, lies_up
from service.judge.fit import Fit
from service.judge.hands import Hands, judge_hands
from service.judge.judgement import lick_fit
from service.judge.melody import recall
from service.judge.rules import Stretch, broken
from service.music.licks import Lick
from service.music.tunes import UNIT_TICKS
from service.usecases.identify import Caller
from service.usecases.made_breaks import Break
from tests.support import RunningService


def _restless(made: Break) -> list[str]:
    """Parts that change their style more than twice, or go up the neck more than once (R8)."""
    parts: list[list[Lick]] = []
    for place in made.phrases:
        if place.form[0].index == 1:
            parts.append([])
        parts[-1].append(place.lick.lick)
    found = []
    for licks in parts:
        styles = [lick.style for lick in licks]
        up = [False, *(lies_up(lick) for lick in licks)]
        changes = sum(a != b for a, b in pairwise(styles))
        stays = sum(b and not a for a, b in pairwise(up))
        if changes > 2 or stays > 1:
            found.append(f"{changes} changes, {stays} stays")
    return found


def _unlike(made: Break) -> list[str]:
    """Repeated phrases that do not share the note on their first strong place (R8)."""
    first: dict[tuple[str, int], int | None] = {}
    found = []
    for place in made.phrases:
        slot = (place.form[0].part, place.form[0].index)
        target = first_target(place.lick.lick)
        if first.setdefault(slot, target) != target:
            found.append(f"{slot}: {first[slot]} and {target}")
    return found


SEEDS, FEWER = 200, 60
NOTHING = Fit(1.0)


def _draw_all(running: RunningService, slug: str, instrument: str | None) -> list[Break]:
    """Breaks by seed, as the service keeps them; fewer where the pool is smaller."""
    from service.usecases.breaks import get_break

    path = f"/v1/groups/ferry-lane/tunes/{slug}/breaks/random"
    sent = {} if instrument is None else {"instrument": instrument}
    codes = [
        running.member.post(path, json={**sent, "seed": seed}).raise_for_status().json()["code"]
        for seed in range(SEEDS if instrument is None else FEWER)
    ]

    async def read() -> list[Break]:
        caller = Caller(1, "operator", None, None)
        return [get_break(running.house, caller, "ferry-lane", code) for code in codes]

    return running.call(read)


def _hands(made: Break) -> tuple[Stretch, Hands]:
    passage = made.passage()
    licks = [p.lick.lick for p in made.phrases]
    starts = [p.form[0].onset for p in made.phrases]
    styles = tuple(
        licks[max(0, max((i for i, s in enumerate(starts) if s <= note.onset), default=0))].style
        for note in passage.notes
    )
    hands = judge_hands(passage.notes, passage.instrument, styles, passage.meter, passage.capo)
    tune = made.tune
    bpm = round(tune.tempo.start * UNIT_TICKS[tune.tempo.unit] / tune.meter.beat_ticks)
    whole = Stretch(
        passage.notes, styles, passage.changes, tune.meter, made.setting.position,
        replace(passage.fretboard, capo=0, stop=None), passage.ticks, bpm, hands, NOTHING,
    )  # fmt: skip
    return whole, hands


@pytest.mark.parametrize(
    ("slug", "instrument"),
    [("heron-ferry", None), ("millers-mitten", None), ("thimble-creek", None),
     ("heron-ferry", "guitar"), ("heron-ferry", "mandolin")],
)  # fmt: skip
def test_two_hundred_draws_keep_to_the_rules(demo: RunningService, slug: str, instrument: str | None) -> None:
    wrong: list[tuple[str, str, object]] = []
    apart = 0
    for made in _draw_all(demo, slug, instrument):
        whole, hands = _hands(made)
        wrong += [(made.code, f.code, (f.onset, f.params)) for f in broken(whole, ("R3", "R4"))]
        if hands.left.impossible is not None or (hands.top_bpm or 0) < whole.bpm:
            wrong.append((made.code, "too-fast", hands.top_bpm))
        # what is said of the whole, from its licks and seams, is about what its own fingering gives
        apart += abs((made.top_bpm or 0) - (hands.top_bpm or 0)) > 0.15 * (hands.top_bpm or 0)
        for place in made.phrases:
            lick: Lick = place.lick.lick
            here = replace(
                whole, notes=lick.notes, styles=(lick.style,) * len(lick.notes), ticks=lick.ticks,
                role=place.form[-1].role, fit=place.fit, board=lick.fretboard, changes=lick.changes,
            )  # fmt: skip
            wrong += [(made.code, f.code, place.lick.number) for f in broken(here, ("R5", "R7"))]
            ground = place.ground
            assert place.fit == lick_fit(lick, ground.changes, ground.melody, made.setting.position)
            kept = recall(lick.sounding(), ground.melody, lick.meter, lick.ticks)
            if place.form[0].index == 1 and not kept.keeps:
                wrong.append((made.code, "R6", place.lick.number))
        wrong += [(made.code, "R8", part) for part in _restless(made)]
        wrong += [(made.code, "R8", place) for place in _unlike(made)]
    assert wrong == []
    assert apart <= 0.1 * SEEDS
