"""Every candidate for every phrase of a tune, from a pool in columns and what was judged of its licks over each ground."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.compose.lattice import Lattice
from service.compose.matching import Ground, ground_of, kinds_of, role_fits, tempo_of
from service.compose.pool import STYLE_NAMES, Pool
from service.compose.stock import BROKEN, NONE, ROW, Column, Mask, Stock, bits
from service.judge.fit import FIT_ENOUGH
from service.judge.hands import MOST_BPM
from service.judge.level import EASY_SHARE, LEVELS, POINTS, USUAL_BPM
from service.judge.melody import KEEPS_FROM
from service.judge.rules import EIGHTH_MS
from service.music.licks import ROLES
from service.music.meter import METER_NAMES, meter_named, stretch
from service.music.setting import Setting
from service.music.tunes import UNIT_TICKS, Phrase, Tune, phrases

# what a lick breaks wherever it stands; all else that was noticed is worth a word only
RULES_OF_A_LICK = frozenset(
    (
        "change-not-heard", "finger-hops", "same-finger", "jump-without-air", "tag-does-not-land", "tag-without-air",
        "cannot-be-stopped", "too-many-to-stop", "too-empty",
    )
)  # fmt: skip
JUMPS = frozenset(("jump-without-air",))  # which need air only from a certain tempo on
RESERVE = 0.95  # of its limit that a lick may take at a tune's tempo: seams take a little more
NOTES_THAT_HURT = frozenset(
    ("foreign", "held-against", "blue-held")
)  # over its own chords; the phrase decides anew
# by a phrase's role: whether licks of each role fit it, those of none (NONE) last
_ROLES_THAT_FIT = {
    phrase: np.array([role_fits(lick, phrase) for lick in (*ROLES, None)], np.bool_) for phrase in ROLES
}


_Like = tuple[
    bytes, int, str, bool
]  # ground, phrases filled, role, whether it opens a part: what makes spots alike


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """Phrases in a row that licks of the pool fill: the places of those licks in it, and what they are played over."""

    form: tuple[Phrase, ...]
    places: NDArray[np.intp]
    ground: Ground


def spots(pool: Pool, tune: Tune, setting: Setting) -> list[list[Spot]]:
    """For each phrase the spots that begin there and have licks."""
    form = phrases(tune)
    roles = pool.columns["role"]
    by_kinds: dict[tuple[int, ...], NDArray[np.intp]] = {}
    found: list[list[Spot]] = []
    for start in range(len(form)):
        here = []
        for span in pool.phrases:
            of_form = form[start : start + span]
            if len(of_form) < span:
                continue
            kinds = tuple(kinds_of(of_form, setting, tune))
            if kinds not in by_kinds:
                by_kinds[kinds] = pool.of_kinds(kinds)
            places = by_kinds[kinds]
            places = places[_ROLES_THAT_FIT[of_form[-1].role][roles[places]]]
            if len(places):
                here.append(Spot(of_form, places, ground_of(of_form, setting, tune)))
        found.append(here)
    return found


def unjudged(pool: Pool, spot: Spot, known: Column | None) -> NDArray[np.intp]:
    """Places of the licks of a spot that are not among those judged over its ground."""
    if known is None:
        return spot.places
    licks = {name: pool.columns[name][spot.places] for name in ("number", "revision")}
    return spot.places[~_found(licks, known)[1]]


def _found(licks: Mapping[str, Column], known: Column) -> tuple[NDArray[np.intp], Mask]:
    """Where licks stand among those judged, and which of them do."""
    if not len(known):
        return np.zeros(len(licks["number"]), np.intp), np.zeros(len(licks["number"]), np.bool_)
    at = np.minimum(np.searchsorted(known["number"], licks["number"]), len(known) - 1)
    return at, (known["number"][at] == licks["number"]) & (known["revision"][at] == licks["revision"])


def build_lattice(
    pool: Pool, tune: Tune, of: Sequence[Sequence[Spot]], over: Mapping[bytes, Column]
) -> Lattice:
    """Every candidate for every phrase, in order of lick number, which fixes what numbers mean.

    ``pool`` holds licks of the setting's instrument and tuning, ``over`` what was judged of them (LICK_OVER) by ground.
    """
    made: dict[_Like, Column] = {}
    stocks: dict[tuple[_Like, ...], Stock] = {}
    found = []
    for here in of:
        keys = tuple((s.ground.key, len(s.form), s.form[-1].role, s.form[0].index == 1) for s in here)
        if keys not in stocks:
            for key, one in zip(keys, here, strict=True):
                if key not in made:
                    made[key] = _rows(pool, one, tune, over[one.ground.key])
            rows = np.concatenate([made[key] for key in keys]) if keys else np.zeros(0, ROW)
            if len(keys) > 1:
                rows = rows[np.argsort(rows["number"], kind="stable")]
            stocks[keys] = Stock(rows, STYLE_NAMES, pool.edges)
        found.append(stocks[keys])
    return Lattice(found)


def _rows(pool: Pool, spot: Spot, tune: Tune, known: Column) -> Column:
    """The licks of a spot as rows of a stock: what is judged of each there."""
    licks = pool.picked(spot.places)
    over = known["over"][_found(licks, known)[0]]
    bpm, _ = tempo_of(tune)
    slow = tune.meter.slot_ticks * 60_000 / (bpm * tune.meter.beat_ticks) > EIGHTH_MS
    times = _Times(licks, tune)
    broken = licks["broken"] & np.uint32(bits(RULES_OF_A_LICK - (JUMPS if slow else frozenset())))
    opens = spot.form[0].index == 1
    for code, fails in (
        ("does-not-fit", over["fit"] < FIT_ENOUGH),
        ("hurts", over["hurts"] > 0),
        ("too-fast", times.share_of_limit > RESERVE),
        ("free-of-the-melody", opens & (over["kept"] < KEEPS_FROM * over["strong"])),
    ):
        broken |= fails.astype(np.uint32) << np.uint32(BROKEN.index(code))
    rows = np.zeros(len(spot.places), ROW)
    for name in ("fit", "share", "recall", "kept", "strong"):
        rows[name] = over[name]
    for name in ("number", "revision", "style", "up", "target"):
        rows[name] = licks[name]
    rows["span"] = len(spot.form)
    rows["level"] = times.level
    rows["role_agrees"] = (licks["role"] == NONE) | (licks["role"] == ROLES.index(spot.form[-1].role))
    rows["broken"] = broken
    rows["top"] = times.top
    rows["ticks"] = sum(phrase.ticks for phrase in spot.form)
    rows["entry"] = pool.entry[spot.places]
    rows["exits"] = pool.exits[spot.places]
    return rows


class _Times:
    """What depends on the tempo, lick by lick: the arithmetic of Facts.top_bpm, share_of_limit and facts.level_at."""

    def __init__(self, facts: Mapping[str, Column], tune: Tune) -> None:
        bpm, beat = tempo_of(tune)
        meters = [meter_named(name) for name in METER_NAMES]
        ratios = [stretch(meter, tune.meter) or (1, 1) for meter in meters]
        own = facts["meter"]

        def by_meter(values: Sequence[float]) -> Column:
            found: Column = np.array(values)[own]
            return found

        load, level_load, points = facts["load"], facts["level_load"], facts["points"]
        beats = by_meter([beat * down // up for up, down in ratios])  # in the lick's own ticks
        own_beats = by_meter([meter.beat_ticks for meter in meters])
        usual_bpm = by_meter([USUAL_BPM[meter.name] for meter in meters])
        most = by_meter([MOST_BPM[meter.beat_unit] for meter in meters])
        playable = ~np.isnan(load)
        with np.errstate(divide="ignore", invalid="ignore"):
            limit = np.minimum(most, np.floor(60_000 / (load * own_beats)))
            top = np.where(load <= 0, most, limit)
            ups, downs = (by_meter(values) for values in zip(*ratios, strict=True))
            top = np.floor(top * own_beats * ups / downs / UNIT_TICKS[tune.tempo.unit])
        self.top = np.where(playable, top, NONE).astype(np.int32)
        self.share_of_limit = np.where(playable, load * bpm * beats / 60_000, np.inf)
        usual = _level(points, level_load * usual_bpm * own_beats / 60_000, playable)
        here = _level(points, level_load * bpm * beats / 60_000, playable)
        self.level = np.clip(facts["level"] + here - usual, 1, LEVELS).astype(np.int8)


def _level(points: Column, share: Column, playable: Mask) -> Column:
    """judge.level.whole_level of points with those for the strain."""
    hurried = POINTS["strain"] * np.maximum(0.0, share - EASY_SHARE)
    level: Column = np.clip(np.trunc(points + hurried + 0.5), 1, LEVELS)
    level[~playable] = LEVELS
    return level
