"""Which licks can fill which phrases.

Licks and stretches of a form are compared by a signature: how many phrases, how many ticks, and which
harmony begins when. Equal signatures and roles that agree make a candidate.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.compose.lattice import Candidate, Lattice
from service.judge.fit import Fit
from service.music.harmony import Chord
from service.music.licks import GATED_ROLES, Change, Lick
from service.music.meter import Meter, stretch
from service.music.setting import Setting
from service.music.tunes import Phrase, Tune, merged, phrases


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
    fit: Fit


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


def form_signature(form: Sequence[Phrase], setting: Setting, tune: Tune) -> Signature:
    return Signature(
        len(form), sum(phrase.ticks for phrase in form), _harmony(changes_over(form, setting, tune))
    )


def _harmony(changes: Sequence[Change]) -> tuple[tuple[int, tuple[int, str] | None], ...]:
    kept: list[tuple[int, tuple[int, str] | None]] = []
    for change in changes:
        family = _family(change.chord)
        if not kept or kept[-1][1] != family:
            kept.append((change.onset, family))
    return tuple(kept)


def _family(chord: Chord | None) -> tuple[int, str] | None:
    return None if chord is None else chord.family


def build_lattice(pool: Sequence[Pooled], tune: Tune, setting: Setting) -> Lattice:
    """Every candidate for every phrase, in order of lick number, which fixes what numbers mean.

    ``pool`` holds licks of the setting's instrument and tuning; those that fail the chord check are
    left out.
    """
    by_signature: dict[Signature, list[Pooled]] = {}
    for pooled in sorted(pool, key=lambda p: p.number):
        signature = lick_signature(pooled.lick, tune.meter)
        if signature is not None and pooled.fit.enough:
            by_signature.setdefault(signature, []).append(pooled)
    spans = sorted({signature.phrases for signature in by_signature})
    form = phrases(tune)
    found: list[list[Candidate]] = []
    for start in range(len(form)):
        here: list[Candidate] = []
        for span in spans:
            stretch_of_form = form[start : start + span]
            if len(stretch_of_form) < span:
                continue
            for pooled in by_signature.get(form_signature(stretch_of_form, setting, tune), ()):
                if role_fits(pooled.lick.role, stretch_of_form[-1].role):
                    here.append(_candidate(pooled, span))
        found.append(sorted(here, key=lambda candidate: candidate.number))
    return Lattice(found)


def _candidate(pooled: Pooled, span: int) -> Candidate:
    lick = pooled.lick
    return Candidate(pooled.number, pooled.revision, span, lick.level, lick.style, pooled.fit.score)
