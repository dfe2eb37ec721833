"""From licks, breaks and loops to scores, which are drawn, written and sounded. Words stay with the web."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from service.judge.left_hand import left_hand
from service.judge.level import USUAL_BPM
from service.music.licks import Lick, Note
from service.music.meter import stretch
from service.music.passages import Passage
from service.music.scores import Beat, Score, Section, Span
from service.music.tunes import Tune
from service.usecases.house import House
from service.usecases.licks import KeptLick, in_hand
from service.usecases.made_breaks import Break, BreakPhrase, Place
from service.usecases.records import Rights


@dataclass(frozen=True, slots=True)
class Scored:
    """A score and the rights in what it holds, by lick number; 0 is the tune, None what has no number among licks."""

    score: Score
    rights: tuple[tuple[int | None, Rights], ...]


def lick_score(kept: KeptLick, bpm: int | None = None) -> Scored:
    """A lick by itself, at a tempo in its meter's beats, else the usual one. Like all of these it takes a while."""
    score = _alone(f"{kept.number} {kept.lick.name}", kept.lick, bpm)
    return Scored(score, ((kept.number, kept.record.rights),))


def variation_score(name: str, lick: Lick, rights: Rights, bpm: int | None = None) -> Scored:
    """A variation by itself, as a lick."""
    return Scored(_alone(name, lick, bpm), ((None, rights),))


def _alone(title: str, lick: Lick, bpm: int | None) -> Score:
    beat = Beat(bpm or USUAL_BPM[lick.meter.name], lick.meter.beat_unit)
    return Score(title, in_hand(lick), lick.key, beat)


def break_score(made: Break, passage: Passage, bpm: int | None = None) -> Scored:
    """A whole break (``passage`` is what it is in hand), at a tempo in the tune's beats, else where the tune's tempo starts."""
    sections = tuple(
        Section(place.form[0].onset, place.form[0].part) for place in made.phrases if place.form[0].index == 1
    )
    spans = tuple(_span(place, place.form[0].onset) for place in made.phrases)
    score = Score(
        made.tune.name,
        passage,
        made.setting.position,
        tune_beat(made.tune, bpm),
        sections,
        spans,
        melody=frozenset(_kept_onsets((place.form[0].onset, place) for place in made.played)),
    )
    return Scored(score, ((0, made.rights), *_rights(made.played)))


def loop_score(made: Break, phrase: int, passage: Passage, bpm: int | None = None) -> Scored:
    """The phrase before and the phrase. Raises NotFound."""
    before, here = made.around(phrase)
    start = sum(p.ticks for p in before.form)
    both = ((0, before), (start, here))
    score = Score(
        made.tune.name,
        passage,
        made.setting.position,
        tune_beat(made.tune, bpm),
        phrases=tuple(_span(place, onset) for onset, place in both),
        melody=frozenset(
            _kept_onsets((onset, place) for onset, place in both if isinstance(place, BreakPhrase))
        ),
    )
    played = [place for _, place in both if isinstance(place, BreakPhrase)]
    return Scored(score, ((0, made.rights), *_rights(played)))


async def break_passage(house: House, made: Break, phrase: int | None = None) -> Passage:
    """A break in hand, or the loop of a phrase of it, from memory where it was looked at a moment ago. Raises NotFound."""
    hidden = tuple(rest.form[0].number for rest in made.rests)
    key = (made.group, made.code, hidden, phrase)
    found = house.fingered.get(key)
    if found is None:
        if phrase is not None:
            made.around(phrase)
        found = await house.think(made.passage if phrase is None else lambda: made.loop(phrase))
        house.fingered.put(key, found)
    return found


def with_left(score: Score) -> Score:
    """With the left hand's fingers; none where no hand could stop the notes."""
    return replace(score, left=hands_of(score.passage))


def tune_beat(tune: Tune, bpm: int | None = None) -> Beat:
    """A tempo in the tune's own beats."""
    return Beat(bpm or tune.tempo.start, tune.tempo.unit)


def _span(place: Place, onset: int) -> Span:
    ticks = sum(phrase.ticks for phrase in place.form)
    if isinstance(place, BreakPhrase):
        return Span(onset, ticks, f"{place.lick.number} {place.lick.lick.name}")
    return Span(onset, ticks, str(place.form[0].number), rest=True)


def _rights(places: Sequence[BreakPhrase]) -> tuple[tuple[int, Rights], ...]:
    found = {place.lick.number: place.lick.record.rights for place in places}
    return tuple(sorted(found.items()))


def hands_of(passage: Passage) -> dict[tuple[int, int], int]:
    """Fingers of the left hand; none where no hand could stop the notes."""
    fingers = left_hand(passage.notes, passage.instrument, passage.capo).fingers
    return {
        (note.onset, note.string): finger
        for note, finger in zip(passage.notes, fingers, strict=True)
        if finger
    }


def _kept_onsets(places: Iterable[tuple[int, BreakPhrase]]) -> Iterable[int]:
    """Onsets of notes that carry the tune: where a lick has a melody note, or one slot early."""
    for start, place in places:
        lick, melody = place.lick.lick, place.ground.melody
        meter = place.tune.meter
        up, down = stretch(lick.meter, meter) or (1, 1)
        heard: dict[int, set[int]] = {}
        for note in lick.notes:
            if note.technique not in ("mute", "tie") and not _drone(lick, note):
                pitch = lick.fretboard.pitch(note.string, note.fret)
                heard.setdefault(note.onset * up // down, set()).add(pitch % 12)
        for onset, _, pitch in melody:
            for at in (onset, onset - meter.slot_ticks):
                if pitch % 12 in heard.get(at, ()):
                    yield start + at
                    break


def _drone(lick: Lick, note: Note) -> bool:
    """Whether a note is the open short string ringing along; in melodic style it is a note of the line like others."""
    short = lick.instrument.short_string
    return short is not None and (note.string, note.fret) == (short[0], 0) and lick.style != "melodic"
