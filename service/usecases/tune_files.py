"""A tune of the group as a file to take along: ABC notation, MusicXML, MIDI."""

from collections.abc import Callable

from service.errors import NotFound
from service.music.licks import Change
from service.music.tunes import Part, Tune
from service.notation.abc_writer import write_abc
from service.notation.brought import Brought, BroughtPart
from service.notation.midi_tune_writer import write_tune_midi
from service.notation.musicxml_tune_writer import write_tune_musicxml
from service.usecases.house import House
from service.usecases.identify import Caller
from service.usecases.records import Rights
from service.usecases.tunes import get_tune

# By suffix: how it is written.
WRITERS: dict[str, Callable[[Brought], bytes]] = {
    "abc": lambda brought: write_abc(brought).encode(),
    "musicxml": write_tune_musicxml,
    "mid": write_tune_midi,
}


def tune_file(house: House, caller: Caller, group_slug: str, slug: str, suffix: str) -> bytes:
    """Raises NotFound, DomainError where a rhythm cannot be written so."""
    if suffix not in WRITERS:
        raise NotFound("no-route")
    kept = get_tune(house, caller, group_slug, slug)
    return WRITERS[suffix](brought_of(kept.tune, kept.record.rights))


def brought_of(tune: Tune, rights: Rights) -> Brought:
    """A tune as readers of files would give it."""
    return Brought(
        tune.name,
        tune.key,
        tune.key.mode,
        tune.meter,
        tuple(_part(tune, part) for part in tune.parts),
        tune.order,
        (tune.tempo.start, tune.tempo.unit),
        rights.source or rights.credit or "",
    )


def _part(tune: Tune, part: Part) -> BroughtPart:
    changes: list[Change] = []
    at = 0
    for measure in part.measures:
        for change in measure.changes:
            if not changes or changes[-1].chord != change.chord:
                changes.append(Change(at + change.onset, change.chord))
        at += measure.ticks
    melody = dict(tune.melody).get(part.name, ())
    return BroughtPart(part.name, tuple(measure.ticks for measure in part.measures), melody, tuple(changes))
