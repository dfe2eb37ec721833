"""Which licks can fill which phrases, and what is judged of them there.

Licks and stretches of a form are compared by a signature: how many phrases, how many ticks, and which
harmony begins when. Equal signatures and roles that agree make a candidate. Fit over the phrase's own chords and share
of its melody are judged once for each lick and kind of phrase, and kept.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from service.compose.pool import Signature, signature_of
from service.compose.stock import Column, unpacked
from service.judge.judgement import in_time_of, lick_fit
from service.judge.melody import Sound, evened, recall
from service.judge.moving import OCTAVE, THIRDS
from service.music.licks import GATED_ROLES, Change, Lick
from service.music.meter import METER_NAMES, Meter, meter_named, stretch
from service.music.setting import Setting
from service.music.tunes import UNIT_TICKS, Phrase, Tune, merged

MOST_FREE = 4  # chords of a phrase whose thirds a lick that is moved there may have otherwise; ours: each makes three times as many kinds


@dataclass(frozen=True, slots=True)
class PhraseFacts:
    """A lick over a phrase: ``fit`` 0..1, the ``share`` of it that the notes earn, ``hurts`` notes that hurt there, ``recall`` of
    the melody, and how many of the melody's ``strong`` places it keeps."""

    fit: float
    share: float
    hurts: int
    recall: float
    kept: int
    strong: int


@dataclass(frozen=True, slots=True)
class Ground:
    """What a stretch of a form is to whoever plays over it: changes and melody in the playing position, from its start.

    ``key`` names it: equal ground, equal judgement.
    """

    form: tuple[Phrase, ...]
    changes: tuple[Change, ...]
    melody: tuple[Sound, ...]
    key: bytes


OVER = np.dtype(
    [
        ("fit", "<f8"),
        ("share", "<f8"),
        ("recall", "<f8"),
        ("hurts", "<i2"),
        ("kept", "<i2"),
        ("strong", "<i2"),
    ]
)
LICK_OVER = np.dtype([("number", "<i8"), ("revision", "<i4"), ("over", OVER)])  # by rising number


def role_fits(lick_role: str | None, phrase_role: str) -> bool:
    """Tag and set-up licks fill phrases of their own role only; the rest is a preference."""
    if lick_role is None:
        return True
    if lick_role in GATED_ROLES or phrase_role in GATED_ROLES:
        return lick_role == phrase_role
    return True


def changes_over(form: Sequence[Phrase], setting: Setting, tune: Tune) -> tuple[Change, ...]:
    """The changes of neighbouring phrases in the playing position, from the start of the first."""
    first = form[0].onset
    return merged(
        [
            Change(phrase.onset - first + change.onset, setting.to_position(change.chord, tune.key))
            for phrase in form
            for change in phrase.changes
        ]
    )


def melody_over(form: Sequence[Phrase], setting: Setting, tune: Tune) -> tuple[Sound, ...]:
    """The melody of neighbouring phrases as slots hold it, pitches as the hand thinks of them, from the start of the first."""
    melodies = {
        name: evened([(n.onset, n.duration, n.pitch) for n in notes], tune.meter)
        for name, notes in tune.melody
    }
    first = form[0].onset
    found = []
    for phrase in form:
        start = phrase_start(tune, phrase)
        for begins, lasts, pitch in melodies.get(phrase.part, ()):
            if start <= begins < start + phrase.ticks:
                found.append((begins - start + phrase.onset - first, lasts, pitch - setting.capo))
    return tuple(found)


def phrase_start(tune: Tune, phrase: Phrase) -> int:
    """Where a phrase begins in its part, in ticks."""
    part = tune.part(phrase.part)
    before = sum(part.cuts[: phrase.index - 1])
    return sum(measure.ticks for measure in part.measures[:before])


def kinds_of(form: Sequence[Phrase], setting: Setting, tune: Tune) -> list[int]:
    """The kinds of licks that fill a stretch of a form, one for each meter that they may be written in."""
    return list(_kinds(_asked(form, setting, tune), tune.meter))


def kinds_to_move(phrase: Phrase, setting: Setting, tune: Tune) -> list[int]:
    """The kinds of licks that fill a phrase once they are moved: their chords change when its own do, and their roots lie as far
    from the first one's. Over many chords only those of the same thirds."""
    asked = _asked((phrase,), setting, tune)
    families = list(dict.fromkeys(family for _, family in asked.harmony if family is not None))
    free = len(families) <= MOST_FREE
    thirds = [tuple(THIRDS) if free else (third,) for _, third in families]
    found: set[int] = set()
    for up in range(OCTAVE):
        for chosen in product(*thirds):
            other = {
                family: ((family[0] + up) % OCTAVE, third)
                for family, third in zip(families, chosen, strict=True)
            }
            harmony = tuple((onset, family and other[family]) for onset, family in asked.harmony)
            found.update(_kinds(replace(asked, harmony=harmony), tune.meter))
    return sorted(found.difference(_kinds(asked, tune.meter)))


def _asked(form: Sequence[Phrase], setting: Setting, tune: Tune) -> Signature:
    return signature_of(len(form), sum(phrase.ticks for phrase in form), changes_over(form, setting, tune))


def _kinds(asked: Signature, meter: Meter) -> Iterator[int]:
    """One for each meter in which there is such a signature."""
    for name in METER_NAMES:
        ratio = stretch(meter, meter_named(name))
        own = None if ratio is None else asked.stretched(*ratio)
        if own is not None:
            yield own.kind(name)


def ground_of(form: Sequence[Phrase], setting: Setting, tune: Tune) -> Ground:
    changes, melody = changes_over(form, setting, tune), melody_over(form, setting, tune)
    told = (
        tune.meter.name,
        setting.position.name,
        sum(phrase.ticks for phrase in form),
        [(c.onset, None if c.chord is None else c.chord.name) for c in changes],
        melody,
    )
    return Ground(tuple(form), changes, melody, hashlib.sha256(repr(told).encode()).digest()[:16])


def judge_over(lick: Lick, ground: Ground, setting: Setting, meter: Meter) -> PhraseFacts:
    """A lick over a phrase."""
    changes, melody = in_time_of(lick, meter, ground.changes, ground.melody)
    fit = lick_fit(lick, changes, melody, setting.position)
    recalled = recall(lick.sounding(), melody, lick.meter, lick.ticks)
    return PhraseFacts(
        fit.score, fit.share, len(fit.hurts), recalled.share, recalled.strong_kept, recalled.strong
    )


def packed_over(judged: PhraseFacts) -> bytes:
    """As one record of OVER."""
    record = np.zeros(1, OVER)
    record[0] = (judged.fit, judged.share, judged.recall, judged.hurts, judged.kept, judged.strong)
    return record.tobytes()


def over_rows(judged: Sequence[tuple[int, int, bytes]]) -> Column:
    """Rows of LICK_OVER from (number, revision, one record of OVER); of two for a lick the later one stands."""
    newest = sorted({number: (number, revision, told) for number, revision, told in judged}.values())
    return unpacked(newest, LICK_OVER, "over")


def known_rows(rows: Column) -> list[tuple[int, int, bytes]]:
    """(number, revision, one record of OVER) from rows of LICK_OVER."""
    return [(int(row["number"]), int(row["revision"]), row["over"].tobytes()) for row in rows]


def tempo_of(tune: Tune) -> tuple[float, int]:
    """Where a tune's tempo starts, in its meter's beats a minute, and the ticks of a beat."""
    return tune.tempo.start * UNIT_TICKS[tune.tempo.unit] / tune.meter.beat_ticks, tune.meter.beat_ticks
