"""Which licks can fill which phrases."""

from collections.abc import Sequence

from service.judge.fit import Fit, fit_of
from service.music.breaks import fits_length
from service.music.harmony import same_harmony
from service.music.licks import GATED_ROLES, Change, Lick
from service.music.meter import stretch
from service.music.setting import Setting
from service.music.tunes import Phrase, Tune, merged


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


def same_changes(lick: Lick, wanted: Sequence[Change], tune: Tune) -> bool:
    """Whether a lick was made over these chords: same roots, same kinds of third, at the same times."""
    ratio = stretch(lick.meter, tune.meter)
    if ratio is None:
        return False
    up, down = ratio
    made = _by_family([Change(c.onset * up // down, c.chord) for c in lick.changes])
    asked = _by_family(wanted)
    return len(made) == len(asked) and all(
        one.onset == other.onset and same_harmony(one.chord, other.chord)
        for one, other in zip(made, asked, strict=True)
    )


def _by_family(changes: Sequence[Change]) -> list[Change]:
    """Changes with those left out that stay on the same harmony (G to G7)."""
    kept: list[Change] = []
    for change in changes:
        if not kept or not same_harmony(kept[-1].chord, change.chord):
            kept.append(change)
    return kept


def fit_over(lick: Lick, form: Sequence[Phrase], setting: Setting, tune: Tune) -> Fit | None:
    """How a lick fits neighbouring phrases; None if it cannot fill them at all."""
    if (
        lick.instrument.id != setting.instrument.id
        or lick.tuning.id != setting.tuning.id
        or len(form) != lick.phrases
        or not role_fits(lick.role, form[-1].role)
        or not fits_length(lick, form, tune)
    ):
        return None
    wanted = changes_over(form, setting, tune)
    if not same_changes(lick, wanted, tune):
        return None
    return plain_fit(lick, wanted)


def plain_fit(lick: Lick, wanted: Sequence[Change]) -> Fit:
    """The first plain chord check, in the lick's own meter; the open fifth string fits any chord."""
    short = lick.instrument.short_string
    drone = lick.fretboard.pitch(short[0], 0) if short else None
    chords = [(change.onset, change.chord) for change in lick.changes] or [
        (change.onset, change.chord) for change in wanted
    ]
    return fit_of(lick.sounding(), chords, lick.meter, lick.key, drone)
