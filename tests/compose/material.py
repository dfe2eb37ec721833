"""A lattice of licks as the service makes it: packed, matched to the form, judged over each ground."""

from collections.abc import Mapping
from itertools import chain

from service.compose.candidates import build_lattice, spots
from service.compose.lattice import Lattice
from service.compose.matching import judge_over, over_rows, packed_over
from service.compose.pool import Pool, packed
from service.judge.facts import facts_of
from service.music.licks import Lick
from service.music.setting import Setting
from service.music.tunes import Tune


def lattice_of(licks: Mapping[int, Lick], tune: Tune, setting: Setting) -> Lattice:
    """Every break of these licks, by number."""
    pool = Pool.of([(number, 1, packed(lick, facts_of(lick))) for number, lick in sorted(licks.items())])
    wanted = spots(pool, tune, setting)
    judged: dict[bytes, dict[int, bytes]] = {}
    for spot in chain.from_iterable(wanted):
        there = judged.setdefault(spot.ground.key, {})
        for number in pool.rows["number"][spot.places].tolist():
            if number not in there:
                there[number] = packed_over(judge_over(licks[number], spot.ground, setting, tune.meter))
    over = {ground: over_rows([(n, 1, told) for n, told in of.items()]) for ground, of in judged.items()}
    return build_lattice(pool, tune, wanted, over)
