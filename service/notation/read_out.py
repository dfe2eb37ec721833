"""A tab for players who listen instead of look: what to play, in the order of playing, as codes for sentences.

Nothing is said twice that still holds: a chord only where it changes, a beat's number once, a measure like an earlier one by
that one's number, a part that comes again in one sentence.
"""

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from service.music.meter import Meter
from service.music.passages import Passage
from service.music.rhythm import written
from service.music.scores import Repeat, Score, Span
from service.notation.spelling import spelled, written_key
from service.notation.spoken import (
    Part,
    Parts,
    chord_said,
    key_said,
    ordinal,
    part,
    tone,
)
from service.notation.telling import Telling, Told

Sayer = Callable[[str, Mapping[str, object]], str]
_METERS = {
    "2/2": "meter-2-2", "4/4": "meter-4-4", "2/4": "meter-2-4", "3/4": "meter-3-4",
    "6/8": "meter-6-8", "9/8": "meter-9-8", "12/8": "meter-12-8",
}  # fmt: skip
_BEATS = {
    "half": "unit-half",
    "quarter": "unit-quarter",
    "dotted quarter": "unit-dotted-quarter",
    "eighth": "unit-eighth",
}
# of one measure or of several: the sentence, and the one with a chord
_RESTS = {
    True: ("read-measure-rest", "read-measure-rest-over"),
    False: ("read-measures-rest", "read-measures-rest-over"),
}
_SLOTS = {240: "unit-eighths", 120: "unit-sixteenths"}


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence: its code and parameters. ``through`` is the last measure (from 1) told when it has been said."""

    code: str
    params: Mapping[str, object] = field(default_factory=dict)
    through: int = 0


def read_out(score: Score) -> tuple[Line, ...]:
    """Everything: what to tune, how to count, and each measure. Raises DomainError ``rhythm-too-fine``."""
    return (*_head(score), *_body(score))


def alt_text(score: Score, limit: int, say: Sayer) -> str:
    """A description of the tab in at most ``limit`` characters, said with ``say`` (code and parameters to a sentence).

    Title, key, measures and chords, then the read-out as far as whole measures fit, and how many measures are left.
    """
    count, capo = len(score.passage.measures), score.passage.capo
    named = {
        "title": score.title,
        "instrument": score.passage.instrument.name,
        "key": key_said(score.sounding),
        "measures": _counted(count),
    }
    if capo:
        head = say("alt-head-capo", {**named, "position": key_said(score.key), "fret": ordinal(capo)})
    else:
        head = say("alt-head", named)
    chords = say("alt-chords", {"chords": _chords_by_part(score)})
    begun = f"{head} {chords}" if score.passage.changes else head
    best = next((text for text in (begun, head) if len(text) <= limit), f"{head[: limit - 1]}…")
    if best != begun:
        return best
    text, told = begun, 0
    for line in _body(score):
        text = f"{text} {say(line.code, line.params)}"
        if len(text) > limit:
            break
        rest = count - line.through
        whole = text if not rest else f"{text} {_more(rest, say)}"
        if line.through > told and len(whole) <= limit:
            best = whole
        told = line.through
    return best


def _more(measures: int, say: Sayer) -> str:
    return say("alt-one-more", {}) if measures == 1 else say("alt-more", {"measures": measures})


# --- before the music --------------------------------------------------------------------------------------


def _head(score: Score) -> list[Line]:
    passage = score.passage
    lines = [
        Line("read-title", {"title": score.title, "instrument": passage.instrument.name}),
        Line(
            "read-tuning",
            {"tuning": passage.tuning.name.split(" (")[0], "strings": ", ".join(_labels(passage))},
        ),
    ]
    if passage.capo:
        shapes = {"position": key_said(score.key), "key": key_said(score.sounding)}
        lines.append(Line("read-capo", {"fret": ordinal(passage.capo), **shapes}))
    else:
        lines.append(Line("read-no-capo", {"key": key_said(score.key)}))
    lines.extend(_fifth_string(score))
    lines.append(Line(_METERS[passage.meter.name]))
    lines.append(Line("read-tempo", {"bpm": score.beat.bpm, "unit": part(_BEATS[score.beat.unit])}))
    lines.append(Line("read-length", {"measures": _counted(len(passage.measures))}))
    lines.extend(_repeated(repeat) for repeat in score.repeats)
    lines.extend(Line("read-credit", {"credit": credit}) for credit in score.credits)
    return lines


def _labels(passage: Passage) -> list[str]:
    """Letters of the open strings, first string first, as they are spoken: a small letter sounds like a large one."""
    return [label[0].upper() + label[1:] for label in passage.tuning.labels]


def _fifth_string(score: Score) -> list[Line]:
    passage = score.passage
    short = passage.instrument.short_string
    if short is None:
        return []
    pitch = passage.fretboard.pitch(short[0], 0)
    raised = pitch - passage.tuning.pitches[short[0] - 1]
    params = {
        "string": ordinal(short[0]),
        "tone": tone(spelled(pitch, written_key(score.sounding), None)),
    }
    if not raised:
        return [Line("read-short-open", params)]
    return [Line("read-short-stopped", {**params, "fret": ordinal(short[1] + raised)})]


def _repeated(repeat: Repeat) -> Line:
    first, last = repeat.first + 1, repeat.last + 1
    if repeat.ending is None:
        return Line("read-repeat", {"span": _span(first, last)})
    begin = repeat.ending + 1
    endings = {"ending": _span(begin, last), "second": _span(last + 1, 2 * last + 1 - begin)}
    return Line("read-repeat-endings", {"span": _span(first, last), **endings})


def _span(first: int, last: int) -> Parts:
    if first == last:
        return part("span-one", measure=first)
    return part("span-many", first=first, last=last)


def _counted(measures: int) -> Parts:
    return part("measures-one") if measures == 1 else part("measures-many", measures=measures)


# --- the music -------------------------------------------------------------------------------------------


def _body(score: Score) -> list[Line]:
    measures = written(score.passage)
    told = Telling(score).measures(measures)
    lines: list[Line] = []
    if measures[0].number == 0:
        lines.append(Line("read-pickup", {"events": told[0].events}))
        told, measures = told[1:], measures[1:]
    starts = score.passage.starts
    heads = _headings(score)
    bounds = [max(0, bisect_right(starts, section.onset) - 1) for section in score.sections]
    ends = pairwise([*bounds, len(told)])
    sections = [(section, a, b) for section, (a, b) in zip(score.sections, ends, strict=True) if a < b]
    index = 0
    over: Parts | None = None
    while index < len(told):
        section = next(((s, a, b) for s, a, b in sections if a == index), None)
        if section is not None:
            again = _again(section[1], section[2], told, heads, [(a, b) for _, a, b in sections])
            if again is not None:
                params = _span_params(index, section[2], again)
                lines.append(Line("read-part-again", {"part": section[0].name, **params}, section[2]))
                index, over = section[2], None
                continue
            lines.append(Line("read-part", {"part": section[0].name}, index))
        for span, end in heads.get(index, ()):
            lines.append(_phrase(span, index, end))
        stop = min((n for n in (*heads, *bounds, len(told)) if n > index), default=len(told))
        if told[index].ticks != score.passage.meter.measure_ticks:
            lines.append(_crooked(index, told[index].ticks, score.passage.meter))
        line, index, over = _next(told, index, stop, over)
        lines.append(line)
    return lines


def _crooked(index: int, ticks: int, meter: Meter) -> Line:
    """A measure of another length is told before it comes."""
    unit = part(_SLOTS[meter.slot_ticks])
    params = {"measure": index + 1, "count": ticks // meter.slot_ticks, "usual": meter.slots, "unit": unit}
    return Line("read-crooked", params, index)


def _headings(score: Score) -> dict[int, list[tuple[Span, int]]]:
    """Phrases by the measure (from 0) that they begin in, with the measure after their last."""
    starts = score.passage.starts
    found: dict[int, list[tuple[Span, int]]] = {}
    for span in score.phrases:
        if span.label:
            first = max(0, bisect_right(starts, span.onset) - 1)
            end = bisect_right(starts, span.onset + span.ticks - 1)
            found.setdefault(first, []).append((span, max(end, first + 1)))
    return found


def _phrase(span: Span, first: int, end: int) -> Line:
    if span.rest:
        return Line("read-remark", {"remark": span.label}, first)
    if end - first == 1:
        return Line("read-phrase-measure", {"label": span.label, "measure": end}, first)
    return Line("read-phrase", {"label": span.label, "first": first + 1, "last": end}, first)


def _again(
    first: int,
    end: int,
    told: Sequence[Told],
    heads: Mapping[int, Sequence[tuple[Span, int]]],
    sections: Sequence[tuple[int, int]],
) -> int | None:
    """Where an earlier part begins that is the same, phrase by phrase."""

    def labels(start: int, stop: int) -> list[tuple[int, str]]:
        return [(n - start, span.label) for n in range(start, stop) for span, _ in heads.get(n, ())]

    for start, stop in sections:
        if start >= first:
            break
        if told[start:stop] == told[first:end] and labels(start, stop) == labels(first, end):
            return start
    return None


def _span_params(first: int, end: int, like: int) -> dict[str, object]:
    return {"first": first + 1, "last": end, "from": like + 1, "to": like + end - first}


def _next(told: Sequence[Told], index: int, stop: int, over: Parts | None) -> tuple[Line, int, Parts | None]:
    """The sentence for a measure or for several, the measure after, and the chord that was said last."""
    measure = told[index]
    params: dict[str, object]
    if measure.silent:
        end = next((n for n in range(index, stop) if told[n] != measure), stop)
        many = {"measure": end} if end - index == 1 else {"first": index + 1, "last": end}
        plain, with_chord = _RESTS[end - index == 1]
        if measure.chord and measure.chord != over:
            # whoever rests may well play the chord behind others
            return Line(with_chord, {**many, "chord": measure.chord}, end), end, measure.chord
        return Line(plain, many, end), end, over
    if measure in told[:index]:
        like = told.index(measure)
        end = next((n for n in range(index, stop) if told[n] != measure), stop)
        if end - index > 1:
            params = {"first": index + 1, "last": end, "same": like + 1}
            return Line("read-measures-all-same", params, end), end, None
        while end < stop and like + end - index < index and told[end] == told[like + end - index]:
            end += 1
        if end - index == 1:
            return Line("read-measure-same", {"measure": end, "same": like + 1}, end), end, None
        return Line("read-measures-same", _span_params(index, end, like), end), end, None
    params = {"measure": index + 1, "events": measure.events}
    last = _last_chord(measure)
    if measure.chord and measure.chord != over:
        return Line("read-measure-over", {**params, "chord": measure.chord}, index + 1), index + 1, last
    return Line("read-measure", params, index + 1), index + 1, last


def _last_chord(measure: Told) -> Parts:
    changed = [event["chord"] for event in measure.events if "chord" in event]
    last = changed[-1] if changed else measure.chord
    return last if isinstance(last, tuple) else measure.chord


def _chords_by_part(score: Score) -> Parts:
    """The chords of each measure, part by part where there are parts; a part that comes again is left out."""
    passage = score.passage
    bounds = [max(0, bisect_right(passage.starts, section.onset) - 1) for section in score.sections]
    if not bounds or bounds[0]:
        return _chords_by_measure(passage, 0, len(passage.measures))
    found: list[Part] = []
    ends = [*bounds[1:], len(passage.measures)]
    for section, first, end in zip(score.sections, bounds, ends, strict=True):
        chords = _chords_by_measure(passage, first, end)
        (one,) = part("chords-of-part", part=section.name, chords=chords)
        if one not in found:
            found.append(one)
    return tuple(found)


def _chords_by_measure(passage: Passage, first: int, end: int) -> Parts:
    """The chords of measures ``first`` (from 0) to before ``end``; like ones in a row are counted."""
    changes = sorted(passage.changes, key=lambda change: change.onset)
    onsets = [change.onset for change in changes]
    runs: list[tuple[Parts, int]] = []
    for start, ticks in list(zip(passage.starts, passage.measures, strict=True))[first:end]:
        at = bisect_right(onsets, start)
        inside = changes[at : bisect_right(onsets, start + ticks - 1)]
        measure = chord_said(changes[at - 1].chord if at else None)
        for change in inside:
            measure = part("chord-then", one=measure, two=chord_said(change.chord))
        if runs and runs[-1][0] == measure:
            runs[-1] = (measure, runs[-1][1] + 1)
        else:
            runs.append((measure, 1))
    return tuple(
        piece
        for chord, count in runs
        for piece in (chord if count == 1 else part("chord-times", chord=chord, count=count))
    )
