"""From judgements to what goes over the wire: codes become sentences with places, names and notes filled in."""

from collections.abc import Mapping
from functools import lru_cache

from schemas.base import Sentence
from schemas.breaks import JoinOut
from schemas.judgements import (
    CandidateOut,
    FitOut,
    HandsOut,
    JoinJudgementOut,
    LevelOut,
    LickJudgementOut,
    MelodyNoteOut,
    MelodyOut,
    TempoOut,
    TwinOut,
    VersionOut,
)
from service.compose.candidates import NOTES_THAT_HURT
from service.compose.ranking import score
from service.compose.stock import Candidate
from service.judge.easier import Easier
from service.judge.fit import Fit
from service.judge.hands import Hands
from service.judge.joins import Join
from service.judge.judgement import judge_lick
from service.judge.left_hand import Moment
from service.judge.level import Level
from service.judge.melody import Recall
from service.judge.moving import Moved
from service.judge.roles import seeming_role
from service.judge.rules import Finding
from service.judge.twins import Twin, told
from service.music.harmony import chord_named
from service.music.licks import Lick
from service.music.meter import Meter
from service.music.pitch import nearest_spelling, tone_name
from service.music.tunes import UNIT_TICKS, Phrase, Tune
from service.notation.tab_writer import write_tab
from service.usecases.facts import Pooled
from service.usecases.house import PLACED
from service.usecases.judging import Beat, Judged, Seam, tune_beat
from service.usecases.licks import in_hand
from service.usecases.made_breaks import BreakJoin, BreakPhrase
from service.usecases.shown_licks import one_line
from service.web.charted import chords_by_measure
from service.wording import advise, say

# what is said of a lick as a whole
EVERYWHERE = frozenset(
    (
        "does-not-fit", "no-tempo", "too-fast", "twin", "twin-elsewhere", "twin-played-otherwise", "twin-for-another-place", "twin-moved",
        "twin-taken-down", "waits-for-review",
        "tag-does-not-land", "free-of-the-melody", "level-differs",
    )
)  # fmt: skip
HARDEST = 3  # reasons for a level
NAMED_FROM = 0.5  # of the time there is: a seam's travel from here on is worth a word
NAMED_FRETS = 7  # and so is any longer move within a half note


def sentence(
    code: str,
    params: Mapping[str, object],
    language: str,
    measure: int | None = None,
    beat: str | None = None,
) -> Sentence:
    return Sentence(
        code=code,
        params=dict(params),
        text=say(code, params, language),
        advice=advise(code, params, language),
        measure=measure,
        beat=beat,
    )


def count_of(tick: int, meter: Meter) -> str:
    """How players count an onset within its measure: ``2 &``; the syllable alone on a beat."""
    slot = tick // meter.slot_ticks
    beat = tick // meter.beat_ticks + 1
    syllable = meter.counts[slot]
    return syllable if syllable.isdigit() else f"{beat} {syllable}"


def finding_out(finding: Finding, lick: Lick, language: str, beat: Beat | None = None) -> Sentence:
    """What breaks a rule in a lick, with the measure, count and note names that its sentence names."""
    meter, key = lick.meter, lick.key
    measure, within = divmod(finding.onset, meter.measure_ticks)
    params: dict[str, object] = {
        "measure": measure + 1,
        "beat": count_of(within, meter),
        **dict(finding.params),
    }
    params.setdefault("unit", meter.beat_unit if beat is None else beat.unit)
    params["tonic"] = tone_name(key.tonic)
    for name, pitch in (("note", params.get("pitch")), ("mend", params.get("mend"))):
        if isinstance(pitch, int):
            params[name] = tone_name(nearest_spelling(pitch, key.signature))
    chord = params.get("chord")
    if isinstance(chord, str) and (read := chord_named(chord)) is not None:
        params["tones"] = ", ".join(read.tones)
    somewhere = finding.code not in EVERYWHERE
    return sentence(
        finding.code,
        params,
        language,
        measure + 1 if somewhere else None,
        str(params["beat"]) if somewhere and not finding.code.startswith("near-twin") else None,
    )


def fit_out(fit: Fit, lick: Lick, language: str, *, whole: bool = False) -> FitOut:
    """The score and its reasons; with ``whole`` the class of every note."""
    reasons = [sentence("fit-share", {"percent": round(100 * fit.share)}, language)]
    for hurt in fit.hurts:
        params = (("pitch", hurt.pitch), ("chord", hurt.chord), ("mend", hurt.mend))
        reasons.append(finding_out(Finding(hurt.why, hurt.onset, params), lick, language))
    return FitOut(
        score=round(fit.score, 4),
        reasons=reasons,
        share=round(fit.share, 4),
        classes=list(fit.classes) if whole else None,
    )


def melody_notes_out(judged: Judged, recalled: Recall) -> list[MelodyNoteOut]:
    meter, key = judged.lick.meter, judged.lick.key
    found = []
    for index, (onset, _, pitch) in enumerate(judged.melody):
        measure, within = divmod(onset, meter.measure_ticks)
        name = tone_name(nearest_spelling(pitch, key.signature))
        found.append(
            MelodyNoteOut(
                measure=measure + 1, beat=count_of(within, meter), note=name, kept=index in recalled.kept
            )
        )
    return found


def melody_out(recalled: Recall, notes: list[MelodyNoteOut] | None = None) -> MelodyOut:
    return MelodyOut(
        notes=notes,
        share=round(recalled.share, 4),
        kept=recalled.strong_kept,
        strong=recalled.strong,
        keeps=recalled.keeps,
    )


def tempo_out(tune: Tune, bpm: int | None) -> TempoOut | None:
    """A tempo in the meter's beats, in the tune's own unit."""
    if bpm is None:
        return None
    unit = tune.tempo.unit
    return TempoOut(bpm=int(bpm * tune.meter.beat_ticks / UNIT_TICKS[unit]), unit=unit)


def _limit_out(moment: Moment, lick: Lick, language: str) -> Sentence:
    measure, within = divmod(moment.onset, lick.meter.measure_ticks)
    beat = count_of(within, lick.meter)
    params = {"measure": measure + 1, "beat": beat, **dict(moment.params)}
    return sentence(f"limit-{moment.why}", params, language, measure + 1, beat)


def hands_out(hands: Hands, lick: Lick, beat: Beat, language: str) -> HandsOut:
    top = None if hands.top_bpm is None else TempoOut(bpm=beat.shown(hands.top_bpm, lick), unit=beat.unit)
    return HandsOut(
        left=list(hands.left.fingers),
        right=list(hands.right.fingers),
        top=top,
        limits=[_limit_out(moment, lick, language) for _, moment in hands.limits],
    )


def level_out(level: Level, tempo: TempoOut, language: str) -> LevelOut:
    points = {name: round(value, 2) for name, value in level.points}
    harder = sorted(
        (name for name in points if not name.startswith("start")), key=lambda name: -points[name]
    )[:HARDEST]
    return LevelOut(
        level=level.level,
        tempo=tempo,
        points=points,
        reasons=[
            sentence("level", {"level": level.level, "bpm": tempo.bpm, "unit": tempo.unit}, language),
            *(sentence(f"harder-{name}", {}, language) for name in harder),
        ],
    )


def judged_out(judged: Judged, language: str) -> LickJudgementOut:
    lick, judgement, beat = judged.lick, judged.judgement, judged.beat
    tempo = TempoOut(bpm=judged.bpm, unit=beat.unit)
    hands = hands_out(judgement.hands, lick, beat, language)
    reasons = [finding_out(_in_unit(finding, judged), lick, language, beat) for finding in judgement.findings]
    said = {finding.code for finding in judgement.findings}
    if "does-not-fit" not in said:
        reasons.append(sentence("fit-share", {"percent": round(100 * judgement.fit.share)}, language))
    if hands.top is not None and not said & {"too-fast", "no-tempo"}:
        reasons.append(sentence("top-tempo", {"bpm": hands.top.bpm, "unit": hands.top.unit}, language))
    elif hands.top is None:
        reasons.append(sentence("no-hand", {}, language))
    if judgement.recall is not None:
        reasons.append(recall_sentence(judgement.recall, language))
    elif judged.phrase is not None:
        reasons.append(sentence("no-melody", {}, language))
    role = lick.role or seeming_role(lick)
    if judged.phrase is not None:
        reasons.append(_role_sentence(lick, judged.phrase, language))
    elif lick.role is None:
        reasons.append(sentence("seems", {"role": role}, language))
    return LickJudgementOut(
        fit=fit_out(judgement.fit, lick, language, whole=True),
        hands=hands,
        level=level_out(judgement.level, tempo, language),
        melody=None
        if judgement.recall is None
        else melody_out(judgement.recall, melody_notes_out(judged, judgement.recall)),
        role=role,
        reasons=reasons,
    )


def _in_unit(finding: Finding, judged: Judged) -> Finding:
    """A finding with its tempos counted as the answer counts them."""
    params = tuple(
        (
            name,
            judged.beat.shown(value, judged.lick)
            if name in ("bpm", "top") and isinstance(value, int)
            else value,
        )
        for name, value in finding.params
        if name != "unit"
    )
    return Finding(finding.code, finding.onset, params)


def recall_sentence(recalled: Recall, language: str) -> Sentence:
    params = {
        "percent": round(100 * recalled.share),
        "kept": recalled.strong_kept,
        "strong": recalled.strong,
    }
    return sentence("melody-share", params, language)


def _role_sentence(lick: Lick, phrase: Phrase, language: str) -> Sentence:
    code = "role-free" if lick.role is None else "role-agrees" if lick.role == phrase.role else "role-differs"
    role = phrase.role if lick.role is None else lick.role
    return sentence(code, {"role": role, "wished": phrase.role}, language)


def place_reasons(place: BreakPhrase, tune: Tune, language: str) -> list[Sentence]:
    """What is worth saying of a lick in its place in a break."""
    reasons = [recall_sentence(place.recall, language)] if tune.melody else []
    kept = place.lick
    reasons.extend(
        finding_out(finding, kept.lick, language)
        for finding in kept.facts.findings
        if finding.code not in NOTES_THAT_HURT and not finding.code.startswith(("twin", "near-twin", "level"))
    )
    if place.form[0].index == 1 and place.recall.strong and not place.recall.keeps:
        free = {"kept": place.recall.strong_kept, "strong": place.recall.strong}
        reasons.append(sentence("free-of-the-melody", free, language))
    return reasons


@lru_cache(maxsize=PLACED)
def join_out(join: BreakJoin, language: str) -> JoinOut:
    params = {"phrase": join.phrase, "lick": join.after, "before": join.before}
    return JoinOut(
        phrase=join.phrase,
        cost=round(join.share, 3),
        reasons=_seam_reasons(join.join, join.share, join.remarks, params, language),
    )


def seam_out(seam: Seam, language: str) -> JoinJudgementOut:
    params = {"lick": seam.after.number, "before": seam.before.number}
    return JoinJudgementOut(
        cost=round(seam.share, 3),
        tempo=TempoOut(bpm=seam.bpm, unit=seam.before.lick.meter.beat_unit),
        reasons=_seam_reasons(seam.join, seam.share, seam.remarks, params, language),
    )


def _seam_reasons(
    join: Join, share: float, remarks: tuple[Finding, ...], params: Mapping[str, object], language: str
) -> list[Sentence]:
    """Never empty: an easy join is called one."""
    told = [*join.findings, *(f for f in remarks if f.code != "seam-travel" or _is_far(f, share))]
    hard = bool(join.findings) or any(f.code == "seam-travel" for f in told)
    said = [sentence(f.code, {**params, **dict(f.params)}, language) for f in told]
    if share > 1 and not join.findings:
        said.insert(0, sentence("seam-too-fast", params, language))
    elif not hard:
        said.insert(0, sentence("seam-easy", params, language))
    return said


def _is_far(travel: Finding, share: float) -> bool:
    """Whether the left hand's travel at a seam is worth a word."""
    params = dict(travel.params)
    begins, ends = params["from"], params["to"]
    far = isinstance(begins, int) and isinstance(ends, int) and abs(begins - ends) > NAMED_FRETS
    return share >= NAMED_FROM or far


def candidate_out(
    candidate: Candidate, pooled: Pooled, tune: Tune, phrase: Phrase, language: str
) -> CandidateOut:
    lick = pooled.lick
    beat = tune_beat(tune, lick)
    top = pooled.facts.top_bpm(lick.meter)
    shown_top = None if top is None else TempoOut(bpm=beat.shown(top, lick), unit=beat.unit)
    badly = "does-not-fit" in candidate.broken
    fits = {"percent": round(100 * candidate.share)}
    code = "does-not-fit" if badly else "fit-share"
    reasons = [sentence(code, fits, language)]
    kept, strong = candidate.kept
    if tune.melody:
        told = {"percent": round(100 * candidate.recall), "kept": kept, "strong": strong}
        reasons.append(sentence("melody-share", told, language))
    reasons.append(_role_sentence(lick, phrase, language))
    if shown_top is not None:
        reasons.append(sentence("top-tempo", {"bpm": shown_top.bpm, "unit": shown_top.unit}, language))
    findings = [f for f in pooled.facts.findings if f.code in candidate.broken]
    reasons.extend(finding_out(finding, lick, language) for finding in findings)
    if "free-of-the-melody" in candidate.broken:
        reasons.append(sentence("free-of-the-melody", {"kept": kept, "strong": strong}, language))
    if "too-fast" in candidate.broken and shown_top is not None:
        params = {"top": shown_top.bpm, "bpm": tune.tempo.start, "unit": tune.tempo.unit}
        reasons.append(sentence("too-fast", params, language))
    if "hurts" in candidate.broken:
        reasons.append(sentence("hurts", {}, language))
    return CandidateOut(
        number=candidate.number,
        revision=candidate.revision,
        name=lick.name,
        style=lick.style,
        role=lick.role,
        phrases=lick.phrases,
        score=round(score(candidate), 4),
        fit=round(candidate.fit, 4),
        melody=round(candidate.recall, 4),
        level=candidate.level,
        top=shown_top,
        clean=not candidate.broken,
        reasons=reasons,
    )


def twin_out(twin: Twin, lick: Lick, other: Lick, language: str) -> TwinOut:
    finding = told(twin, lick, other)
    return TwinOut(
        number=twin.number,
        changed=twin.changed,
        measures=list(twin.measures),
        moved=twin.moved,
        text=say(finding.code, dict(finding.params), language),
    )


def _version_out(lick: Lick, reasons: list[Sentence], language: str) -> VersionOut:
    judged = judge_lick(lick)
    top = judged.hands.top_bpm
    return VersionOut(
        name=lick.name,
        chords=chords_by_measure(lick),
        tab=write_tab(in_hand(lick), left=left_fingers(lick, judged.hands)),
        line=one_line(in_hand(lick)),
        level=judged.level.level,
        top=None if top is None else TempoOut(bpm=top, unit=lick.meter.beat_unit),
        fit=round(judged.fit.score, 4),
        reasons=[*reasons, *(finding_out(finding, lick, language) for finding in judged.findings)],
    )


def left_fingers(lick: Lick, hands: Hands) -> dict[tuple[int, int], int]:
    """Left-hand fingers by (onset, string), to print under a tab."""
    return {
        (note.onset, note.string): finger
        for note, finger in zip(lick.notes, hands.left.fingers, strict=True)
        if finger
    }


def easier_out(easier: Easier, language: str) -> VersionOut:
    return _version_out(easier.lick, [sentence(step, {}, language) for step in easier.steps], language)


def moved_out(moved: Moved, language: str) -> VersionOut:
    params = {"kept": moved.strings_kept, "notes": len(moved.lick.notes)}
    said = [sentence(f"moved-{moved.how}", params, language)]
    if moved.octave:
        said.append(sentence("moved-octave", {}, language))
    return _version_out(moved.lick, said, language)
