"""Generated tunes, as readers bring them in, and what of a tune must stay when it is written and read again."""

from collections.abc import Callable
from itertools import pairwise

from hypothesis import strategies as st

from service.errors import MOST_FAULTS, ReadingError
from service.music.harmony import Key, chord_named
from service.music.licks import Change
from service.music.meter import METER_NAMES, Meter, meter_named
from service.music.tunes import UNIT_TICKS, MelodyNote, merged
from service.notation.brought import MODES, Brought, BroughtPart
from service.wording import said

CHORDS = ("G", "C", "D7", "Em", "Bb", "F#m7b5", "C/E", "N.C.", "Am7", "A7sus4", "Eb6")
PASSES = st.lists(st.integers(0, 2), min_size=1, max_size=4)


@st.composite
def tunes(draw: st.DrawFn, *, crooked: bool = True) -> Brought:
    """Melodies of one voice on slots, half slots and triplets; pickups; chords in all parts or none; one crooked measure at most."""
    meter = meter_named(draw(st.sampled_from(METER_NAMES)))
    chords = draw(st.booleans())
    parts = [
        BroughtPart(name, *draw(_part(meter, chords, crooked and name == "B")))
        for name in ("A", "B", "C")[: draw(st.integers(1, 3))]
    ]
    order = [parts[number % len(parts)].name for number in draw(PASSES)]
    mode = draw(st.sampled_from(list(MODES)))
    signs = draw(st.integers(-5, 5))
    return Brought(
        draw(st.sampled_from(["Ferry at low water", "Hay & <straw>", "Übers Wehr"])),
        Key(signs + MODES[mode][0], MODES[mode][1]),
        mode,
        meter,
        tuple(part for part in parts if part.name in order),
        tuple(order),
        draw(st.none() | st.tuples(st.integers(30, 250), st.sampled_from(list(UNIT_TICKS)))),
        draw(st.sampled_from(["", "made up for tests"])),
    )


@st.composite
def _part(
    draw: st.DrawFn, meter: Meter, chords: bool, crooked: bool
) -> tuple[tuple[int, ...], tuple[MelodyNote, ...], tuple[Change, ...]]:
    slot = meter.slot_ticks
    measures = [meter.measure_ticks] * draw(st.integers(3, 5))
    if crooked and draw(st.booleans()):
        measures[draw(st.integers(0, len(measures) - 1))] = draw(st.sampled_from([4, 10])) * slot
    end = sum(measures)
    steps = {-slot * n: slot for n in range(1, draw(st.integers(0, 3)) + 1)}  # of the grid, by onset
    for at in range(0, end, 2 * slot):
        parts = draw(st.sampled_from([1, 2, 2, 4, 3]))
        step = 2 * slot // parts
        steps |= {at + n * step: step for n in draw(st.sets(st.integers(0, parts - 1)))}
    onsets = sorted(onset for onset in steps if onset < end) or [0]
    melody = [
        # each lasts until the next, or for a step
        MelodyNote(
            onset,
            draw(st.sampled_from([until - onset, min(until - onset, steps.get(onset, slot))])),
            draw(st.integers(55, 90)),
        )
        for onset, until in zip(onsets, [*onsets[1:], end], strict=True)
    ]
    changes = []
    if chords:
        places = sorted({0} | draw(st.sets(st.integers(0, end // slot - 1), max_size=4)))
        changes = [Change(place * slot, chord_named(draw(st.sampled_from(CHORDS)))) for place in places]
    return tuple(measures), tuple(melody), merged(changes)


def played(tune: Brought) -> list[tuple[tuple[int, ...], tuple[MelodyNote, ...], tuple[Change, ...]]]:
    """The parts as they are played, whatever they are called."""
    parts = {part.name: part for part in tune.parts}
    return [(part.measures, part.melody, part.changes) for part in map(parts.__getitem__, tune.order)]


def about(tune: Brought) -> tuple[object, ...]:
    return tune.name, tune.key, tune.mode, tune.meter, tune.tempo, tune.source


def check_answer(read: Callable[[], Brought]) -> None:
    """A reader answers with a tune that adds up, or refuses by its own error; all that it says can be said."""
    try:
        tune = read()
    except ReadingError as error:
        faults = error.at
    else:
        assert all(said(remark) for remark in tune.remarks)
        assert len(tune.remarks) <= MOST_FAULTS
        for measures, melody, changes in played(tune):
            assert min(measures) > 0
            assert all(note.duration > 0 and 0 <= note.pitch <= 127 for note in melody)
            assert all(note.onset + note.duration <= after.onset for note, after in pairwise(melody))
            assert all(note.onset + note.duration <= sum(measures) for note in melody)
            assert all(0 <= change.onset < sum(measures) for change in changes)
        return
    assert faults
    assert all(said(fault) for fault in faults)
