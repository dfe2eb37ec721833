"""Who plays behind whom, and their parts over a tune: the band for playing along."""

from collections.abc import Sequence

from service.music.backup import backup
from service.music.backup_patterns import pattern_named
from service.music.harmony import Key
from service.music.instruments import Instrument, Tuning, instrument_named
from service.music.licks import Change
from service.music.meter import Meter
from service.music.passages import Passage
from service.music.setting import Setting, make_setting
from service.music.strokes import stretches_of
from service.music.voicings import shapes_along

Member = tuple[str, str, str]  # name of the part, instrument, pattern

# Behind a lead: bass and guitar carry beat and chords, one chop marks the off-beat. Common practice, no source.
_BEHIND: dict[str, tuple[str, ...]] = {
    "banjo": ("guitar", "mandolin", "upright-bass"),
    "guitar": ("mandolin", "upright-bass"),
    "mandolin": ("guitar", "banjo", "upright-bass"),
    "fiddle": ("guitar", "banjo", "upright-bass"),
    "resonator-guitar": ("guitar", "mandolin", "upright-bass"),
    "ukulele": ("guitar", "upright-bass"),
    "upright-bass": ("guitar", "mandolin"),
}
CAPOED = ("guitar", "banjo")  # who plays open shapes behind a capo; common practice, no source
CAPOS = range(8)  # frets where a capo is put before other shapes are taken; common practice, no source
# What a capo and a barre weigh when a player chooses, in fingers, the barre for the whole of the tune. Ours.
BARRE_DISLIKED = 6.0
CAPO_DISLIKED = 0.2  # each fret
FIRST_CAPO = 0.6  # to put one on at all
DRONE_RAISED = 4  # semitones that a fifth string is spiked up without a capo; common practice, no source


def band(lead_instrument: str, meter: Meter) -> tuple[Member, ...]:
    """Who accompanies a lead, and with which pattern. Raises DomainError ``unknown-instrument``."""
    lead = instrument_named(lead_instrument)
    return tuple(
        (instrument_named(member).name, member, pattern_named(member, meter).name)
        for member in _BEHIND[lead.id]
    )


def band_over(
    changes: Sequence[Change], measures: Sequence[int], meter: Meter, lead: Setting
) -> tuple[tuple[str, Passage], ...]:
    """The band's parts over a chart in the lead's playing position: they sound where the lead sounds behind the capo."""
    return _parts(lead.instrument.id, sounding_changes(changes, lead), measures, meter, lead.sounding)


def sounding_changes(changes: Sequence[Change], lead: Setting) -> tuple[Change, ...]:
    """The changes as they are heard: those of the playing position moved up by the capo."""
    by = lead.sounding.tonic - lead.position.tonic
    return tuple(
        Change(change.onset, None if change.chord is None else change.chord.moved(by).respelled())
        for change in changes
    )


def _parts(
    lead: str, changes: Sequence[Change], measures: Sequence[int], meter: Meter, key: Key
) -> tuple[tuple[str, Passage], ...]:
    parts = []
    for name, instrument_id, pattern in band(lead, meter):
        setting = member_setting(instrument_named(instrument_id), changes, sum(measures), meter, key)
        own = tuple(Change(change.onset, setting.to_position(change.chord, key)) for change in changes)
        parts.append((name, backup(own, measures, meter, setting, pattern)))
    return tuple(parts)


def member_setting(
    instrument: Instrument, changes: Sequence[Change], end: int, meter: Meter, key: Key
) -> Setting:
    """How a member of the band plays a chart of sounding chords with its usual pattern: uncapoed, but guitar and banjo in open
    shapes with the capo that makes them easiest; a short string without a capo at the tonic or fifth of the key where it can
    be raised to it."""
    tuning = instrument.tuning()
    if instrument.id in CAPOED and pattern_named(instrument.id, meter).holds == "open":
        return easiest_setting(instrument, tuning, changes, end, meter, key)
    return make_setting(instrument, tuning=tuning.id, sounding=key, stop=_drone(instrument, tuning, key))


def easiest_setting(
    instrument: Instrument, tuning: Tuning, changes: Sequence[Change], end: int, meter: Meter, key: Key
) -> Setting:
    """The capo with which a chart of sounding chords is easiest: few barres, easy shapes, low on the neck."""
    pattern = pattern_named(instrument.id, meter)
    ways: list[tuple[float, int, Setting]] = []
    for capo in CAPOS:
        stop = None if capo else _drone(instrument, tuning, key)
        setting = make_setting(instrument, tuning=tuning.id, sounding=key, capo=capo, stop=stop)
        own = [Change(c.onset, setting.to_position(c.chord, key)) for c in changes]
        stretches = stretches_of(own, end)
        shapes = shapes_along(stretches, setting.fretboard, pattern)
        effort = sum(
            (shape.effort + BARRE_DISLIKED * shape.barre) * (stretch.end - stretch.onset) / end
            for stretch, shape in zip(stretches, shapes, strict=True)
            if shape is not None
        )
        ways.append((effort + CAPO_DISLIKED * capo + FIRST_CAPO * (capo > 0), capo, setting))
    return min(ways, key=lambda way: way[:2])[2]


def _drone(instrument: Instrument, tuning: Tuning, key: Key) -> int | None:
    """Where a player spikes the short string: at the nearest of the key's tonic and fifth above it."""
    if instrument.short_string is None:
        return None
    unstopped = tuning.pitches[instrument.short_string[0] - 1]
    friendly = {key.tonic_class, (key.tonic_class + 7) % 12}
    return next(
        (pitch for pitch in range(unstopped, unstopped + DRONE_RAISED + 1) if pitch % 12 in friendly),
        unstopped,
    )
