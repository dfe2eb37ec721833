"""In which position, behind which capo, with which fifth string does an instrument play a tune most easily? All are tried, best first."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from service.arrange.manners import LOW_FRETS, MANNERS, TASTES, Manner
from service.music.fretboard import Fretboard
from service.music.harmony import Chord, Key, key_named
from service.music.instruments import Instrument, Tuning
from service.music.pitch import pitch_class
from service.music.setting import Setting
from service.music.shapes import shapes
from service.music.tunes import Tune

# The keys that hands think in, by instrument and mode: those whose shapes lie open (common practice, no source). Others play in
# the key itself.
POSITIONS: dict[str, dict[str, tuple[str, ...]]] = {
    "banjo": {"major": ("G", "C", "D"), "minor": ("Em", "Am", "Dm", "Gm", "Bm")},
    "guitar": {"major": ("G", "C", "D", "A", "E"), "minor": ("Am", "Em", "Dm")},
    "resonator-guitar": {"major": ("G", "C", "D"), "minor": ("Em", "Am", "Dm")},
}
EASY_CAPO, MOST_CAPO, LAST_CAPO = (
    2,
    5,
    7,
)  # frets: what everybody has ready, where strings get short, the last resort
CAPO = (0.015, 0.06, 0.15)  # what each fret of a capo costs up to there; ours
CHORDS = 0.06  # what a chord's shape costs, for each finger of effort; ours
FIFTH = 0.08  # what a fifth string costs that is neither tonic nor fifth of the key; ours
# Fret where a fifth string is stopped at most: few banjos have a hook or spike beyond (common practice), so such settings come last.
LAST_STOP = 10
UNUSUAL = 0.15  # what a position costs that is none of POSITIONS: no chord of it rings open; ours
RAISED = 0.01  # what raising it costs, for each fret beyond the capo
# Semitones above the tonic that a fifth string may sound: tonic or fifth, in minor the third too, which is the G that rings in Em (common
# practice).
AT_HOME = {"major": (0, 7), "minor": (0, 7, 3)}
MOST_RAISED = 5  # frets beyond the capo: hooks and spikes lie at few places (common practice)


@dataclass(frozen=True, slots=True)
class Proposed:
    """``octave`` is how far the melody would be moved, in semitones; ``low`` the share of it (by time) on open strings and the first
    LOW_FRETS frets; ``hard`` are chords whose easiest shape is a barre or up the neck; ``cost`` compares proposals."""

    setting: Setting
    octave: int
    low: float
    hard: tuple[str, ...]
    cost: float


def proposed_settings(
    tune: Tune, instrument: Instrument, tuning: Tuning | None = None
) -> tuple[Proposed, ...]:
    """Every position with the capo that makes it sound in the tune's key, the easiest first; never empty."""
    chosen = tuning or instrument.tuning()
    found = [_proposed(tune, setting) for setting in _settings(tune.key, instrument, chosen)]
    return tuple(sorted(found, key=_easiest_first))


def _easiest_first(one: Proposed) -> tuple[bool, float, int]:
    return (one.setting.stop_fret or 0) > LAST_STOP, one.cost, one.setting.capo


def _settings(key: Key, instrument: Instrument, tuning: Tuning) -> Iterator[Setting]:
    for name in POSITIONS.get(instrument.id, {}).get(key.mode, (key.name,)):
        position = key_named(name)
        capo = (key.tonic_class - position.tonic_class) % 12
        if capo <= LAST_CAPO:
            yield Setting(instrument, tuning, position, capo, _stop(instrument, tuning, position, capo))
    if instrument.id in POSITIONS and not _usual(key, instrument):
        yield Setting(instrument, tuning, key, 0, _stop(instrument, tuning, key, 0))


def _usual(position: Key, instrument: Instrument) -> bool:
    return position.name in POSITIONS.get(instrument.id, {}).get(position.mode, (position.name,))


def _stop(instrument: Instrument, tuning: Tuning, position: Key, capo: int) -> int | None:
    """Where the fifth string is stopped: the first fret from the capo's own on at which it is at home, else sounds the third."""
    short = instrument.short_string
    if short is None:
        return None
    unstopped = tuning.pitches[short[0] - 1]
    for wanted in (AT_HOME[position.mode], (4,)):
        for raised in range(MOST_RAISED + 1):
            if (unstopped + raised - pitch_class(position.tonic)) % 12 in wanted:
                return unstopped + raised + capo
    return unstopped + capo


def _proposed(tune: Tune, setting: Setting) -> Proposed:
    manner = MANNERS[setting.instrument.id]
    octave = octave_of(tune, setting, manner)
    total = low = 0
    cost = 0.0
    for _, notes in tune.melody:
        for note in notes:
            pitch = note.pitch + octave - setting.capo
            ease = ease_of_pitch(pitch, setting, manner)
            cost += note.duration * ease
            total += note.duration
            low += note.duration * (_lowest_fret(pitch, setting) <= manner.low)
    chords = _chords(tune, setting)
    effort = sum(ticks * _effort(chord, setting)[0] for chord, ticks in chords)
    length = sum(ticks for _, ticks in chords) or 1
    hard = tuple(dict.fromkeys(chord.name for chord, _ in chords if _effort(chord, setting)[1]))
    cost = cost / (total or 1) + CHORDS * effort / length + _capo(setting.capo) + _fifth(setting)
    cost += UNUSUAL * (not _usual(setting.position, setting.instrument))
    return Proposed(setting, octave, low / (total or 1), hard, cost)


def _capo(fret: int) -> float:
    below = (0, EASY_CAPO, MOST_CAPO)
    return sum(
        cost * min(max(0, fret - start), end - start)
        for cost, start, end in zip(CAPO, below, (EASY_CAPO, MOST_CAPO, LAST_CAPO), strict=True)
    )


def _fifth(setting: Setting) -> float:
    short = setting.instrument.short_string
    if short is None or setting.stop is None:
        return 0.0
    raised = setting.stop - setting.capo - setting.tuning.pitches[short[0] - 1]
    sounds = (setting.stop - setting.capo - setting.position.tonic_class) % 12
    return RAISED * raised + (0.0 if sounds in AT_HOME[setting.position.mode] else FIFTH)


def _chords(tune: Tune, setting: Setting) -> list[tuple[Chord, int]]:
    """Chords in the hand with the ticks that each lasts, the parts once each."""
    found = []
    for part in tune.parts:
        for measure in part.measures:
            ends = [*(change.onset for change in measure.changes[1:]), measure.ticks]
            for change, end in zip(measure.changes, ends, strict=True):
                chord = setting.to_position(change.chord, tune.key)
                if chord is not None:
                    found.append((chord, end - change.onset))
    return found


def _effort(chord: Chord, setting: Setting) -> tuple[float, bool]:
    return _shape_effort(chord, setting.fretboard_in_hand)


@lru_cache(maxsize=1024)
def _shape_effort(chord: Chord, board: Fretboard) -> tuple[float, bool]:
    """Of the easiest shape of a chord, in fingers, and whether it is hard to hold."""
    best = next(iter(shapes(chord, board, first=1)), None)
    return (6.0, True) if best is None else (best.effort, best.barre or best.lies > LOW_FRETS)


def octave_of(tune: Tune, setting: Setting, manner: Manner) -> int:
    """Where the melody lies best: the octave in which most of it is in reach, low on the neck."""

    def dear(octave: int) -> float:
        return sum(
            note.duration
            * (
                ease_of_pitch(note.pitch + octave - setting.capo, setting, manner)
                + manner.as_written * bool(octave)
            )
            for _, notes in tune.melody
            for note in notes
        )

    return min(manner.octaves, key=lambda octave: (dear(octave), abs(octave)))


OUT_OF_REACH = 3.0  # what a pitch costs that has no place


def ease_of_pitch(pitch: int, setting: Setting, manner: Manner) -> float:
    """What a pitch costs at its easiest place, in the hand's own pitches."""
    return _ease(pitch, setting.fretboard_in_hand, manner.fret, manner.up, manner.low)


@lru_cache(maxsize=8192)
def _ease(pitch: int, board: Fretboard, fret: float, up: float, first: int) -> float:
    short = board.instrument.short_string
    costs = [
        (fret + up * max(0, at.fret - first) if at.fret else 0.0)
        + (0.3 if short is not None and at.string == short[0] else 0.0)
        for at in board.places(pitch)
        if at.fret <= TASTES[2].highest
        and board.sings(at.string)
        and not (short is not None and at.string == short[0] and at.fret)
    ]
    return min(costs, default=OUT_OF_REACH)


def _lowest_fret(pitch: int, setting: Setting) -> int:
    return min((at.fret for at in setting.fretboard_in_hand.places(pitch)), default=99)
