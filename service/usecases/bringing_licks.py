"""A lick out of a file: read, and told as what can be sent in as a lick of the group."""

import asyncio
from dataclasses import dataclass, replace

from service.errors import Fault, ReadingError
from service.music.instruments import Instrument, instrument_named
from service.music.passages import Passage
from service.notation.musicxml_licks import BroughtLick, read_lick_musicxml
from service.notation.musicxml_opened import may_be_musicxml
from service.usecases.house import House
from service.usecases.identify import Caller, reach_group
from service.usecases.licks import written_out


@dataclass(frozen=True, slots=True)
class LickProposal:
    """``passage`` is the lick in hand, without capo, its changes empty where the file has none; ``text`` is its tab."""

    name: str
    key: str
    passage: Passage
    text: str
    remarks: tuple[Fault, ...]


async def read_lick_file(
    house: House,
    caller: Caller,
    group_slug: str,
    body: bytes,
    instrument: str | None,
    tuning: str | None,
    meter: str | None,
) -> LickProposal:
    """The lick in a file of MusicXML with a tab staff, for the group's instrument where none is named; nothing is kept.

    Raises ReadingError, or DomainError for an instrument, tuning or meter that is not known and for a lick that no tab can hold.
    """
    group = reach_group(house, caller, group_slug, "read-group")
    of = instrument_named(instrument or group.instrument)
    return await asyncio.to_thread(lambda: proposal(_read(body, of, tuning, meter)))


def _read(body: bytes, instrument: Instrument, tuning: str | None, meter: str | None) -> BroughtLick:
    if not may_be_musicxml(body):
        raise ReadingError([Fault("not-musicxml")])
    return read_lick_musicxml(body, instrument, tuning=tuning, meter=meter)


def proposal(brought: BroughtLick) -> LickProposal:
    """Raises DomainError ``bad-lick`` for one that no tab can hold."""
    passage = replace(brought.reading.passage, capo=0, stop=None)
    return LickProposal(
        brought.name, brought.key.name, passage, written_out(passage), brought.reading.warnings
    )
