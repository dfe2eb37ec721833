"""Tunes and their forms: parts, the order they are played in, phrases and roles."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from service.errors import DomainError, Fault
from service.music.harmony import Chord, Key
from service.music.licks import ROLES, Change
from service.music.meter import Meter

PHRASE_MEASURES = 2  # common practice: a phrase is about two measures
MAX_MEASURES = 512  # of a tune with its repeats written out
UNIT_TICKS = {"half": 960, "quarter": 480, "dotted quarter": 720, "eighth": 240}  # of a tempo's beat


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure of a chart: its length in ticks, and changes with onsets from its start."""

    ticks: int
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A part (A, B ...): measures, and how many measures each of its phrases takes."""

    name: str
    measures: tuple[Measure, ...]
    cuts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Tempo:
    """Beats a minute, low to high, and a place to start; ``unit`` says what a beat is."""

    low: int
    high: int
    start: int
    unit: str


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """Onset in ticks from the start of its part, sounding MIDI pitch."""

    onset: int
    duration: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Phrase:
    """A stretch of the form that one lick fills.

    ``number`` counts from 1 in playing order, repeats written out; ``onset`` and ``ticks`` are in the
    whole tune; changes are in the sounding key, with onsets from the start of the phrase.
    """

    number: int
    part: str
    index: int
    measure: int
    onset: int
    ticks: int
    changes: tuple[Change, ...]
    role: str


@dataclass(frozen=True, slots=True)
class Tune:
    """``roles`` overrides what the harmony proposes, by (part, phrase of the part counted from 1)."""

    slug: str
    name: str
    key: Key
    meter: Meter
    tempo: Tempo
    parts: tuple[Part, ...]
    order: tuple[str, ...]
    melody: tuple[tuple[str, tuple[MelodyNote, ...]], ...] = ()
    roles: tuple[tuple[tuple[str, int], str], ...] = field(default=())

    def part(self, name: str) -> Part:
        return next(part for part in self.parts if part.name == name)

    @property
    def ticks(self) -> int:
        return sum(measure.ticks for name in self.order for measure in self.part(name).measures)


def place_name(part: str, index: int) -> str:
    """``A2`` for the second phrase of part A; ``A2.1`` for the first of part A2."""
    return f"{part}{'.' if part[-1:].isdigit() else ''}{index}"


def usual_cuts(measures: int) -> tuple[int, ...]:
    """Phrases of two measures; an odd one out goes with the last phrase."""
    whole = measures // PHRASE_MEASURES
    if whole == 0:
        return (measures,)
    return (PHRASE_MEASURES,) * (whole - 1) + (PHRASE_MEASURES + measures % PHRASE_MEASURES,)


def check_tune(tune: Tune) -> None:
    """Raise one DomainError ``bad-tune`` with a fault for each thing that does not add up."""
    faults: list[Fault] = []
    names = [part.name for part in tune.parts]
    if not tune.order:
        faults.append(Fault("no-order", path="order"))
    for name in dict.fromkeys(tune.order):
        if name not in names:
            faults.append(Fault("no-such-part", {"part": name, "known": ", ".join(names)}, path="order"))
    for part in tune.parts:
        if min(part.cuts, default=0) < 1 or sum(part.cuts) != len(part.measures):
            faults.append(
                Fault(
                    "cuts-do-not-add-up",
                    {
                        "part": part.name,
                        "measures": len(part.measures),
                        "cuts": ", ".join(map(str, part.cuts)),
                    },
                    path="cuts",
                )
            )
    if not 1 <= tune.tempo.low <= tune.tempo.start <= tune.tempo.high:
        faults.append(Fault("tempo-out-of-order", path="tempo"))
    if tune.tempo.unit not in UNIT_TICKS:
        faults.append(
            Fault(
                "unknown-beat-unit",
                {"unit": tune.tempo.unit, "known": ", ".join(UNIT_TICKS)},
                path="tempo.unit",
            )
        )
    for (name, index), role in tune.roles:
        known = next((len(part.cuts) for part in tune.parts if part.name == name), 0)
        if not 1 <= index <= known or role not in ROLES:
            faults.append(Fault("bad-role", {"part": name, "phrase": index, "role": role}, path="roles"))
    if not faults and sum(len(tune.part(name).measures) for name in tune.order) > MAX_MEASURES:
        faults.append(Fault("tune-too-long", {"most": MAX_MEASURES}, path="order"))
    if faults:
        raise DomainError("bad-tune", at=faults, count=len(faults))


def phrases(tune: Tune) -> tuple[Phrase, ...]:
    """The phrases in playing order, repeats written out, with their roles."""
    wished = dict(tune.roles)
    found: list[Phrase] = []
    onset, measure_number = 0, 1
    for name in tune.order:
        part = tune.part(name)
        stretches = _stretches(part)
        proposed = _proposed_roles(stretches, tune.key, first=name == tune.order[0])
        start = 0
        for index, (length, ticks, changes) in enumerate(stretches, 1):
            found.append(
                Phrase(
                    number=len(found) + 1,
                    part=name,
                    index=index,
                    measure=measure_number,
                    onset=onset + start,
                    ticks=ticks,
                    changes=changes,
                    role=wished.get((name, index), proposed[index - 1]),
                )
            )
            start += ticks
            measure_number += length
        onset += start
    return tuple(found)


def _stretches(part: Part) -> list[tuple[int, int, tuple[Change, ...]]]:
    found: list[tuple[int, int, tuple[Change, ...]]] = []
    measures = iter(part.measures)
    for length in part.cuts:
        taken = [next(measures) for _ in range(length)]
        start = 0
        changes: list[Change] = []
        for measure in taken:
            changes.extend(Change(start + c.onset, c.chord) for c in measure.changes)
            start += measure.ticks
        found.append((length, start, merged(changes)))
    return found


def merged(changes: Sequence[Change]) -> tuple[Change, ...]:
    """Changes with repeats of the chord that already sounds left out."""
    kept: list[Change] = []
    for change in changes:
        if not kept or kept[-1].chord != change.chord:
            kept.append(change)
    return tuple(kept)


def _proposed_roles(
    stretches: Sequence[tuple[int, int, tuple[Change, ...]]], key: Key, *, first: bool
) -> list[str]:
    """Roles the harmony asks for: the last phrase closes on I (tag); before it V or bVII (set-up)."""
    roles = ["body"] * len(stretches)
    ends = [changes[-1].chord for _, _, changes in stretches]
    if len(stretches) > 1 and _is_degree(ends[-1], key, (0,)):
        roles[-1] = "tag"
        if _is_degree(ends[-2], key, (7, 10)):
            roles[-2] = "set-up"
    if roles[0] == "body" and first:
        roles[0] = "opener"
    return roles


def _is_degree(chord: Chord | None, key: Key, degrees: tuple[int, ...]) -> bool:
    return chord is not None and (chord.family[0] - key.tonic_class) % 12 in degrees
