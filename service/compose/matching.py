"""Which licks can fill which phrases, and what is judged of them there.

Licks and stretches of a form are compared by a signature: how many phrases, how many ticks, and which
harmony begins when. Equal signatures and roles that agree make a candidate. Fit over the phrase's own chords and share
of its melody are judged once for each lick and kind of phrase, and kept.
"""

import hashlib
from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import dataclass

from service.compose.lattice import Candidate, Lattice
from service.judge.facts import Facts, level_at
from service.judge.fit import FIT_ENOUGH
from service.judge.judgement import lick_fit
from service.judge.melody import KEEPS_FROM, Sound, recall
from service.judge.rules import EIGHTH_MS
from service.music.harmony import Chord
from service.music.licks import GATED_ROLES, Change, Lick
from service.music.meter import Meter, stretch
from service.music.setting import Setting
from service.music.tunes import UNIT_TICKS, Phrase, Tune, merged, phrases


@dataclass(frozen=True, slots=True)
class Signature:
    """What a stretch of music asks for; ``harmony`` is (onset, chord family) with repeats left out."""

    phrases: int
    ticks: int
    harmony: tuple[tuple[int, tuple[int, str] | None], ...]


@dataclass(frozen=True, slots=True)
class Pooled:
    """A lick of the pool with what is judged of it once."""

    number: int
    revision: int
    lick: Lick
    facts: Facts


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


# what a lick breaks wherever it stands; all else that was noticed is worth a word only
RULES_OF_A_LICK = frozenset(
    (
        "change-not-heard", "finger-hops", "same-finger", "jump-without-air", "tag-does-not-land", "tag-without-air",
        "cannot-be-stopped", "too-many-to-stop",
    )
)  # fmt: skip
RESERVE = 0.95  # of its limit that a lick may take at a tune's tempo: seams take a little more
NOTES_THAT_HURT = frozenset(
    ("foreign", "held-against", "blue-held")
)  # over its own chords; the phrase decides anew
PhraseKey = tuple[int, int, bytes]  # lick number, revision, ground key


def role_fits(lick_role: str | None, phrase_role: str) -> bool:
    """Tag and set-up licks fill phrases of their own role only; the rest is a preference."""
    if lick_role is None:
        return True
    if lick_role in GATED_ROLES or phrase_role in GATED_ROLES:
        return lick_role == phrase_role
    return True


def lick_signature(lick: Lick, meter: Meter) -> Signature | None:
    """The signature of a lick as it would be played in a meter; None if it cannot be."""
    ratio = stretch(lick.meter, meter)
    if ratio is None:
        return None
    up, down = ratio
    return Signature(
        lick.phrases,
        lick.ticks * up // down,
        _harmony([Change(change.onset * up // down, change.chord) for change in lick.changes]),
    )


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
    """The melody of neighbouring phrases, pitches as the hand thinks of them, from the start of the first."""
    melodies = dict(tune.melody)
    first = form[0].onset
    found = []
    for phrase in form:
        start = phrase_start(tune, phrase)
        for note in melodies.get(phrase.part, ()):
            if start <= note.onset < start + phrase.ticks:
                onset = note.onset - start + phrase.onset - first
                found.append((onset, note.duration, note.pitch - setting.capo))
    return tuple(found)


def phrase_start(tune: Tune, phrase: Phrase) -> int:
    """Where a phrase begins in its part, in ticks."""
    part = tune.part(phrase.part)
    before = sum(part.cuts[: phrase.index - 1])
    return sum(measure.ticks for measure in part.measures[:before])


def form_signature(form: Sequence[Phrase], setting: Setting, tune: Tune) -> Signature:
    return Signature(
        len(form), sum(phrase.ticks for phrase in form), _harmony(changes_over(form, setting, tune))
    )


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


def _harmony(changes: Sequence[Change]) -> tuple[tuple[int, tuple[int, str] | None], ...]:
    kept: list[tuple[int, tuple[int, str] | None]] = []
    for change in changes:
        family = _family(change.chord)
        if not kept or kept[-1][1] != family:
            kept.append((change.onset, family))
    return tuple(kept)


def _family(chord: Chord | None) -> tuple[int, str] | None:
    return None if chord is None else chord.family


def in_time_of(
    lick: Lick, meter: Meter, changes: Sequence[Change], melody: Sequence[Sound]
) -> tuple[tuple[Change, ...], tuple[Sound, ...]]:
    """A phrase's changes and melody in the time that a lick is written in."""
    up, down = stretch(lick.meter, meter) or (1, 1)
    return (
        tuple(Change(c.onset * down // up, c.chord) for c in changes),
        tuple((onset * down // up, lasts * down // up, pitch) for onset, lasts, pitch in melody),
    )


def judge_over(lick: Lick, ground: Ground, setting: Setting, meter: Meter) -> PhraseFacts:
    """A lick over a phrase."""
    changes, melody = in_time_of(lick, meter, ground.changes, ground.melody)
    fit = lick_fit(lick, changes, melody, setting.position)
    recalled = recall(lick.sounding(), melody, lick.meter, lick.ticks)
    return PhraseFacts(
        fit.score, fit.share, len(fit.hurts), recalled.share, recalled.strong_kept, recalled.strong
    )


def build_lattice(
    pool: Sequence[Pooled],
    tune: Tune,
    setting: Setting,
    known: Mapping[PhraseKey, PhraseFacts],
    fresh: MutableMapping[PhraseKey, PhraseFacts],
) -> Lattice:
    """Every candidate for every phrase, in order of lick number, which fixes what numbers mean.

    ``pool`` holds licks of the setting's instrument and tuning. What is not in ``known`` is judged and put into ``fresh``.
    """
    by_signature: dict[Signature, list[Pooled]] = {}
    for pooled in sorted(pool, key=lambda p: p.number):
        signature = lick_signature(pooled.lick, tune.meter)
        if signature is not None:
            by_signature.setdefault(signature, []).append(pooled)
    spans = sorted({signature.phrases for signature in by_signature})
    form = phrases(tune)
    found: list[list[Candidate]] = []
    for start in range(len(form)):
        here: list[Candidate] = []
        for span in spans:
            of_form = form[start : start + span]
            if len(of_form) < span:
                continue
            matching = by_signature.get(form_signature(of_form, setting, tune), ())
            ground = ground_of(of_form, setting, tune) if matching else None
            for pooled in matching:
                if ground is not None and role_fits(pooled.lick.role, of_form[-1].role):
                    key = (pooled.number, pooled.revision, ground.key)
                    judged = known.get(key) or fresh.get(key)
                    if judged is None:
                        judged = fresh[key] = judge_over(pooled.lick, ground, setting, tune.meter)
                    here.append(_candidate(pooled, judged, of_form, tune))
        found.append(sorted(here, key=lambda candidate: candidate.number))
    return Lattice(found)


def _candidate(pooled: Pooled, judged: PhraseFacts, form: Sequence[Phrase], tune: Tune) -> Candidate:
    lick, facts = pooled.lick, pooled.facts
    bpm, beat = tempo_of(tune)
    up, down = stretch(lick.meter, tune.meter) or (1, 1)
    beat = beat * down // up  # in the lick's own ticks
    top = facts.top_bpm(lick.meter)
    broken = set(facts.broken & RULES_OF_A_LICK)
    if tune.meter.slot_ticks * 60_000 / (bpm * tune.meter.beat_ticks) > EIGHTH_MS:
        broken.discard("jump-without-air")
    if judged.fit < FIT_ENOUGH:
        broken.add("does-not-fit")
    if judged.hurts:
        broken.add("hurts")
    if facts.share_of_limit(bpm, beat) > RESERVE:
        broken.add("too-fast")
    if form[0].index == 1 and judged.kept < KEEPS_FROM * judged.strong:
        broken.add("free-of-the-melody")
    return Candidate(
        pooled.number,
        pooled.revision,
        len(form),
        level_at(lick, facts, bpm, beat),
        lick.style,
        judged.fit,
        judged.share,
        judged.recall,
        (judged.kept, judged.strong),
        lick.role in (None, form[-1].role),
        frozenset(broken),
        None if top is None else int(top * lick.meter.beat_ticks * up / down / UNIT_TICKS[tune.tempo.unit]),
        sum(phrase.ticks for phrase in form),
        lick.name,
        facts.up,
        facts.target,
        facts.edges,
    )


def tempo_of(tune: Tune) -> tuple[float, int]:
    """Where a tune's tempo starts, in its meter's beats a minute, and the ticks of a beat."""
    return tune.tempo.start * UNIT_TICKS[tune.tempo.unit] / tune.meter.beat_ticks, tune.meter.beat_ticks
