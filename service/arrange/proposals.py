"""Licks proposed for a phrase: some over other chords moved to its own, its melody arranged in other ways, and sequences of these.

A proposal is no lick of the pool: it is kept when somebody says so, and made anew whenever it is asked for.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from service.arrange.manners import MELODIC
from service.arrange.plain import Arranged, Arrangement
from service.arrange.variations import How, sequences
from service.errors import DomainError
from service.judge.judgement import Judgement, in_time_of, judge_lick
from service.judge.level import LEVELS
from service.judge.melody import Sound
from service.judge.moving import OCTAVE, move_lick, named_move
from service.judge.twins import compare
from service.music.harmony import Key
from service.music.licks import Change, Lick
from service.music.meter import Meter, stretch

MOST = 12  # proposals; ours: more is a list that nobody hears to its end
# Shares of a proposal's score, ours: as for licks of the pool, belonging and recalling the tune come first; then that nothing is to
# be said against it, and of two that are nearly alike the easier. How it joins others is known only with its neighbours.
RANK = {"fit": 0.4, "melody": 0.35, "clean": 0.2, "easy": 0.05}
OF_A_KIND = 2  # proposals made alike from the melody at most; ours: what differs is worth more to a pool
MOVED = "proposed-moved"
LEVEL_NAMES = {1: "sparse", 2: "filled", 3: "ornamented"}  # of plain breaks
REMEMBERED = 1024  # licks as they were judged: whoever looks at the next proposal has all of them made again
FITS = (
    0.8  # of its chords at least has a sequence to fit, which was made for the chord of its first half; ours
)
IDEAS = 4  # of the best, whose beginnings are restated as sequences

Harmony = tuple[tuple[int, tuple[int, str] | None], ...]  # (onset in ticks, chord family), repeats left out


@dataclass(frozen=True, slots=True)
class Place:
    """A phrase as a hand plays over it: changes and melody in the playing position and the tune's ``meter``, from its start.

    ``key`` is the playing position, ``bpm`` the tempo in the meter's own beats.
    """

    part: str
    index: int
    role: str
    key: Key
    meter: Meter
    bpm: float
    changes: tuple[Change, ...]
    melody: tuple[Sound, ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    lick: Lick
    judged: Judgement
    how: How

    @property
    def score(self) -> float:
        """How well it suits the phrase, 0..1."""
        recalled, level = self.judged.recall, self.lick.level
        return (
            RANK["fit"] * self.judged.fit.score
            + RANK["melody"] * (0.0 if recalled is None else recalled.share)
            + RANK["clean"] * (not self.judged.findings)
            + RANK["easy"] * (LEVELS - level) / (LEVELS - 1)
        )


def proposals(
    place: Place,
    pool: Sequence[tuple[int, Lick]],
    arrangements: Sequence[Arrangement],
    varied: Sequence[tuple[Lick, How]],
    held_back: Collection[str],
) -> list[Proposal]:
    """Best first, no two of them twins: licks of the pool by number moved to the phrase, the phrase out of arrangements of its tune and
    ``varied``, and beginnings of the best as sequences. What has a finding that is ``held_back`` is left out; of sequences, which
    recall less of the melody, what has any.
    """
    made = [moved(place, number, lick) for number, lick in pool]
    made += [_arranged(place, whole, one) for whole in arrangements for one in whole.phrases]
    made += [_judged(place, lick, how) for lick, how in varied]
    good = [
        one
        for one in filter(None, made)
        if not any(finding.code in held_back for finding in one.judged.findings)
    ]
    for idea in sorted(good, key=_best_first)[:IDEAS]:
        number = idea.how.number  # a sequence is as much its author's as the idea
        restated = [
            _judged(place, lick, replace(how, kinds=(*idea.how.kinds, *how.kinds), number=number))
            for lick, how in sequences(idea.lick)
        ]
        good += [one for one in restated if not one.judged.findings and one.judged.fit.score >= FITS]
    return list(_without_twins(sorted(good, key=_best_first)))


def _best_first(one: Proposal) -> tuple[float, int]:
    return -round(one.score, 4), one.lick.level


@lru_cache(maxsize=REMEMBERED)
def moved(place: Place, number: int, lick: Lick) -> Proposal | None:
    """A lick of the pool moved to the phrase's chords; None where it cannot be, or need not: the chords are its own already."""
    if stretch(lick.meter, place.meter) is None:
        return None
    changes, _ = in_time_of(lick, place.meter, place.changes, ())
    own, wanted = harmony_of(lick.changes), harmony_of(changes)
    if own == wanted or _steps(own) != _steps(wanted):
        return None
    chord, to = lick.changes[0].chord, changes[0].chord
    if chord is None or to is None:
        return None
    try:
        found = move_lick(lick, named_move(chord, to), place.key, to).lick
    except DomainError:  # no hand can play it there
        return None
    told = (("lick", number), ("name", lick.name), ("from", chord.name), ("to", to.name))
    return _judged(
        place, replace(found, name=lick.name, changes=changes), How(MOVED, told, (to.name,), number)
    )


def _arranged(place: Place, whole: Arrangement, one: Arranged) -> Proposal | None:
    """The phrase out of an arrangement; None for another phrase, or one of which nothing is played."""
    if (one.part, one.index) != (place.part, place.index) or not one.lick.notes:
        return None
    if whole.style == MELODIC.style:
        code, kind = "proposed-melodic", "melodic"
    else:
        code, kind = "proposed-arranged", LEVEL_NAMES[whole.level]
    return _judged(place, one.lick, How(code, (("plain", whole.level),), (kind,)))


@lru_cache(maxsize=REMEMBERED)
def _judged(place: Place, lick: Lick, how: How) -> Proposal:
    """It takes the phrase's role: it is proposed for that place, and judged there."""
    up, down = stretch(lick.meter, place.meter) or (1, 1)
    changes, melody = in_time_of(lick, place.meter, place.changes, place.melody)
    lick = replace(lick, key=place.key, role=place.role)
    judged = judge_lick(
        lick,
        changes=changes,
        melody=melody or None,
        role=place.role,
        key=place.key,
        bpm=place.bpm * place.meter.beat_ticks * down / up / lick.meter.beat_ticks,
    )
    return Proposal(replace(lick, level=max(1, min(LEVELS, judged.level.level))), judged, how)


def _without_twins(found: Sequence[Proposal]) -> Iterator[Proposal]:
    kept: list[Proposal] = []
    for one in found:
        if not any(is_twin(one.lick, other.lick) for other in kept):
            kept.append(one)
            yield one


def is_twin(lick: Lick, other: Lick) -> bool:
    """Whether two licks over the same chords have the same notes, or nearly, where they sound."""
    if harmony_of(lick.changes) != harmony_of(other.changes):
        return False
    twin = compare(lick, 0, other)
    return twin is not None and not twin.moved


def harmony_of(changes: Sequence[Change]) -> Harmony:
    found: list[tuple[int, tuple[int, str] | None]] = []
    for change in changes:
        family = None if change.chord is None else change.chord.family
        if not found or found[-1][1] != family:
            found.append((change.onset, family))
    return tuple(found)


def _steps(harmony: Harmony) -> list[tuple[int, int | None]]:
    """When the chords change, and how far their roots lie from the first one's, in semitones."""
    first = harmony[0][1] if harmony else None
    if first is None:
        return [(onset, None) for onset, _ in harmony]
    return [(onset, None if family is None else (family[0] - first[0]) % OCTAVE) for onset, family in harmony]
