"""A phrase of a tune arranged otherwise: in a roll that goes through, crosspicked, an octave off, with a run that leads in; and ideas
restated a step or a third away.

Each is the easiest way through the phrase on its own, so that it can follow anything.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from service.arrange.ground import Ground, grounds
from service.arrange.manners import HIGHEST_FRET, MANNERS, ROLLS, ROLLS_IN_THREES, TASTES, Manner, Taste
from service.arrange.path import Wish
from service.arrange.plain import Arranged, arranged_part
from service.arrange.positions import octave_of
from service.errors import DomainError
from service.judge.moving import OCTAVE, STEPS, restate
from service.music.harmony import Key
from service.music.licks import GATED_ROLES, LINKED, Lick
from service.music.setting import Setting
from service.music.tunes import MelodyNote, Part, Phrase, Tune, place_name

FILLED = 2  # the level of plain breaks that variations are made at
RUN = 3  # eighths of a run that leads in: two to four are usual, and none after the third leaves the phrase before it room
ROLLED = 0.7  # of the slots are picked as the roll has it, or the phrase is none in that roll; ours: a full melody leaves no room for one
# How far an idea is restated, in steps of the scale: a step or a third (common practice).
RESTATED = {-2: "third-lower", -1: "step-lower", 1: "step-higher", 2: "third-higher"}


@dataclass(frozen=True, slots=True)
class How:
    """How a lick was made, as a code and what its sentence names; ``kinds`` tell it from others of its name: codes of words (see
    sentences/arranging.py), or the name of a chord. ``number`` is the lick of the pool that it comes from."""

    code: str
    params: tuple[tuple[str, object], ...] = ()
    kinds: tuple[str, ...] = ()
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Way:
    """One way to arrange a phrase: ``octave`` in semitones more than usual; ``run`` is +1 for one that rises into it, -1 for one that
    falls."""

    name: str
    manner: Manner
    taste: Taste = TASTES[FILLED]
    roll: tuple[int, ...] = ()
    octave: int = 0
    run: int = 0

    @property
    def how(self) -> How:
        return How(f"proposed-{self.name}", kinds=(self.name,))


def variations(tune: Tune, phrase: Phrase, setting: Setting) -> list[tuple[Lick, How]]:
    """The phrase of a melody in every way that there is on the instrument; without those where its melody is nowhere in reach."""
    if not dict(tune.melody).get(phrase.part):
        return []
    alone = phrase_alone(tune, phrase)
    usual = MANNERS[setting.instrument.id]
    octave = octave_of(tune, setting, usual)
    found = []
    for way in _ways(alone, usual):
        made = _arranged(alone, setting, octave, way)
        if made is not None and made.notes:
            found.append(
                (replace(made, name=f"{tune.name} {place_name(phrase.part, phrase.index)}"), way.how)
            )
    return found


def sequences(idea: Lick) -> Iterator[tuple[Lick, How]]:
    """The first half of a lick, and again a step or a third away, over its own chords. None of a lick that leads into an ending or makes
    one, nor of one whose half is no whole measure."""
    half = idea.ticks // 2
    if idea.role in GATED_ROLES or idea.lengths or half % idea.meter.measure_ticks or 2 * half != idea.ticks:
        return
    pickup = tuple(note for note in idea.notes if note.onset < 0)  # leads into the first time alone
    notes = tuple(
        replace(note, duration=min(note.duration, half - note.onset))
        for note in idea.notes
        if 0 <= note.onset < half
    )
    if not notes or notes[0].technique in LINKED:
        return
    over = tuple(change for change in idea.changes if change.onset < half)
    first = replace(idea, notes=notes, changes=over, ticks=half)
    for steps, name in RESTATED.items():
        try:
            whole = restate(first, steps)
        except DomainError:  # no hand can play it there
            continue
        if not whole.octave:
            made = replace(
                whole.lick, notes=(*pickup, *whole.lick.notes), changes=idea.changes, phrases=idea.phrases
            )
            yield made, How(f"proposed-{name}", kinds=(name,))


def phrase_alone(tune: Tune, phrase: Phrase) -> Tune:
    """A tune of that phrase alone, its pickup with it if it begins a part."""
    part = tune.part(phrase.part)
    before = sum(part.cuts[: phrase.index - 1])
    measures = part.measures[before : before + part.cuts[phrase.index - 1]]
    start = sum(measure.ticks for measure in part.measures[:before])
    melody = tuple(
        replace(note, onset=note.onset - start)
        for note in dict(tune.melody)[phrase.part]
        if (start or note.onset) <= note.onset < start + phrase.ticks
    )
    return replace(
        tune,
        parts=(Part(phrase.part, measures, (len(measures),)),),
        order=(phrase.part,),
        melody=((phrase.part, melody),),
        roles=(((phrase.part, 1), phrase.role),),
    )


def _ways(alone: Tune, usual: Manner) -> Iterator[Way]:
    slots = alone.meter.slots
    if usual.fill == "roll":
        for name, roll in (ROLLS if slots % len(ROLLS["forward-roll"]) == 0 else ROLLS_IN_THREES).items():
            yield Way(name, usual, roll=roll)
    elif usual.fill == "brush":
        yield Way("crosspicked", replace(usual, fill="roll"))
    yield Way("up-the-neck", usual, replace(TASTES[FILLED], highest=HIGHEST_FRET), octave=OCTAVE)
    yield Way("down-low", usual, octave=-OCTAVE)
    ((_, melody),) = alone.melody
    if melody and not melody[0].onset:
        yield Way("run-up", usual, run=1)
        yield Way("run-down", usual, run=-1)


def _arranged(alone: Tune, setting: Setting, octave: int, way: Way) -> Lick | None:
    """None where the melody cannot be had an octave off without being folded back, or leaves no room for the roll."""
    ((part, melody),) = alone.melody
    if way.run:
        alone = replace(alone, melody=((part, (*_run(alone, melody[0].pitch, way.run), *melody)),))
    (ground,) = grounds(alone, setting, octave + way.octave)
    wish = Wish(way.manner, way.taste, roll=way.roll)
    (made,), _ = arranged_part(alone, setting, ground, wish, FILLED)
    if way.octave and any(left.why == "folded" for left in made.left_out):
        return None
    return None if way.roll and _rolled(made, ground, wish) < ROLLED else made.lick


def _rolled(made: Arranged, ground: Ground, wish: Wish) -> float:
    """The share of slots that are picked by the finger that the roll has there."""
    due = [(slot.onset, wish.due(slot)) for slot in ground.slots if slot.onset >= 0 and not slot.silent]
    fingers = made.judged.hands.right.fingers
    picked = {(note.onset, finger) for note, finger in zip(made.lick.notes, fingers, strict=True)}
    return sum(one in picked for one in due) / len(due)


def _run(tune: Tune, to: int, rising: int) -> Iterator[MelodyNote]:
    """Steps of the scale to a pitch."""
    step = tune.meter.slot_ticks
    pitches = [to]
    while len(pitches) <= RUN:
        pitches.append(_neighbour(pitches[-1], -rising, tune.key))
    for at, pitch in enumerate(reversed(pitches[1:])):
        yield MelodyNote((at - RUN) * step, step, pitch)


def _neighbour(pitch: int, by: int, key: Key) -> int:
    scale = {(key.tonic_class + step) % OCTAVE for step in STEPS[key.mode]}
    pitch += by
    while pitch % OCTAVE not in scale:
        pitch += by
    return pitch
