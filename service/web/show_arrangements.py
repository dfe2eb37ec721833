"""Arrangements and proposed settings as they go over the wire, with what is said of them."""

from collections.abc import Iterator, Sequence
from itertools import groupby

from schemas.arrangements import ArrangedPhraseOut, ArrangementOut, ProposedSettingOut, ProposedSettings
from schemas.base import Sentence
from schemas.judgements import TempoOut
from service.arrange.plain import Arranged, LeftOut
from service.arrange.positions import Proposed
from service.music.pitch import nearest_spelling, tone_name
from service.music.tunes import UNIT_TICKS, MelodyNote, Tune, place_name
from service.usecases.arranging import Made
from service.usecases.shown_licks import shown_of
from service.web.charted import chords_line
from service.web.judged import finding_out, sentence
from service.web.show import setting_out

LEFT_OUT = {
    "between": "left-out-between",
    "room": "left-out-room",
    "air": "left-out-air",
    "folded": "left-out-folded",
}

PICKUP = {"folded": "folded-pickup"}
WIDE = 24  # semitones; fiddle tunes span an octave and a half, seldom two (common practice)


def arrangement_out(made: Made, language: str) -> ArrangementOut:
    found = made.arrangement
    numbers = made.licks or (None,) * len(found.phrases)
    return ArrangementOut(
        tune=made.tune.slug,
        revision=made.revision,
        setting=setting_out(found.setting),
        octave=found.octave,
        level=found.level,
        style=found.style,
        melody=round(found.share, 4),
        kept=bool(made.licks),
        phrases=[
            _phrase(one, number, made, language) for one, number in zip(found.phrases, numbers, strict=True)
        ],
        said=list(_said(made, language)),
    )


def _phrase(one: Arranged, number: int | None, made: Made, language: str) -> ArrangedPhraseOut:
    lick, judged = one.lick, one.judged
    top, shown = judged.hands.top_bpm, shown_of(lick)
    reasons = list(_left_out(one, made, language))
    reasons += [finding_out(finding, lick, language) for finding in judged.findings]
    return ArrangedPhraseOut(
        part=one.part,
        phrase=one.index,
        role=lick.role or "body",
        lick=number,
        level=lick.level,
        top=None if top is None else TempoOut(bpm=top, unit=judged.hands.unit),
        melody=None if judged.recall is None else round(judged.recall.share, 4),
        chords=chords_line(lick.changes),
        tab=shown.tab,
        line=shown.line,
        reasons=reasons,
    )


def _left_out(one: Arranged, made: Made, language: str) -> Iterator[Sentence]:
    """What is left out of the melody, by measure and reason; tones as the tune is written, not as a hand with a capo thinks."""
    meter, key, capo = one.lick.meter, made.tune.key, made.arrangement.setting.capo

    def measure(left: LeftOut) -> int:
        return left.onset // meter.measure_ticks + 1

    ordered = sorted(one.left_out, key=lambda left: (measure(left), left.why, left.onset))
    for (number, why), lefts in groupby(ordered, key=lambda left: (measure(left), left.why)):
        tones = ", ".join(tone_name(nearest_spelling(left.pitch + capo, key.signature)) for left in lefts)
        yield sentence(
            LEFT_OUT[why] if number else PICKUP.get(why, "left-out-pickup"),
            {"measure": number, "tones": tones},
            language,
            number,
        )


def _said(made: Made, language: str) -> Iterator[Sentence]:
    found = made.arrangement
    if found.octave:
        code = "melody-moved-down" if found.octave < 0 else "melody-moved-up"
        yield sentence(code, {}, language)
    if any(_span(notes) > WIDE for _, notes in made.tune.melody):
        yield sentence("melody-wide", {}, language)
    with_melody = {name for name, notes in made.tune.melody if notes}
    for part in dict.fromkeys(made.tune.order):
        if part not in with_melody:
            yield sentence("part-without-melody", {"part": part}, language)
    if found.evened:
        yield sentence("melody-evened", {}, language)
    yield sentence("melody-kept-share", {"percent": round(100 * found.share)}, language)
    slow = _slowest(found.phrases)
    if slow is not None:
        yield slow_sentence(slow, made.tune, language)


def _span(notes: Sequence[MelodyNote]) -> int:
    pitches = [note.pitch for note in notes]
    return max(pitches, default=0) - min(pitches, default=0)


def _slowest(phrases: Sequence[Arranged]) -> Arranged | None:
    known = [one for one in phrases if one.judged.hands.top_bpm is not None]
    return min(known, key=lambda one: one.judged.hands.top_bpm or 0, default=None)


def slow_sentence(one: Arranged, tune: Tune, language: str) -> Sentence:
    """The phrase on its own, counted as the tune is."""
    top, unit = one.judged.hands.top_bpm or 0, tune.tempo.unit
    params = {
        "top": top * one.lick.meter.beat_ticks // UNIT_TICKS[unit],
        "unit": unit,
        "phrase": place_name(one.part, one.index),
    }
    return sentence("arranged-top", params, language)


def settings_out(found: Sequence[Proposed], language: str) -> ProposedSettings:
    return ProposedSettings(items=[_proposed(one, language) for one in found])


def _proposed(one: Proposed, language: str) -> ProposedSettingOut:
    reasons = [sentence("setting-low", {"percent": round(100 * one.low)}, language)]
    if one.hard:
        reasons.append(sentence("setting-hard-shapes", {"chords": ", ".join(one.hard)}, language))
    else:
        reasons.append(sentence("setting-open-shapes", {}, language))
    if one.setting.capo:
        reasons.append(sentence("setting-capo", {"fret": one.setting.capo}, language))
    if one.setting.stop_fret:
        reasons.append(sentence("setting-fifth", {"fret": one.setting.stop_fret}, language))
    return ProposedSettingOut(
        setting=setting_out(one.setting),
        octave=one.octave,
        low=round(one.low, 4),
        cost=round(one.cost, 4),
        reasons=reasons,
    )
