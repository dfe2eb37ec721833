"""A tune as a file or a text brings it in, before anybody has said that it is right: what all readers of tunes give."""

from dataclasses import dataclass, field

from service.errors import Fault
from service.music.harmony import Key
from service.music.licks import Change
from service.music.meter import Meter
from service.music.tunes import MelodyNote

# The modes that tunes are written in, each with the steps its tonic lies above that of the major key of the same signature,
# on the line of fifths, and the mode (major or minor third) that chords are matched in. Published, ABC 2.1.
MODES: dict[str, tuple[int, str]] = {
    "major": (0, "major"),
    "mixolydian": (1, "major"),
    "dorian": (2, "minor"),
    "minor": (3, "minor"),
    "phrygian": (4, "minor"),
    "locrian": (5, "minor"),
    "lydian": (-1, "major"),
}
_OTHER_NAMES = {"ionian": "major", "aeolian": "minor"}


def mode_named(name: str | None) -> str | None:
    """The mode of this name, one of MODES; None if it is none."""
    mode = _OTHER_NAMES.get(name or "", name or "")
    return mode if mode in MODES else None


@dataclass(frozen=True, slots=True)
class BroughtPart:
    """A part written once: the length of each measure, melody and changes with onsets from its first bar line, all in ticks.

    A pickup has negative onsets, and the measure that it completes is told as a whole one. ``changes`` is empty where no chords
    are given. Ties are joined, grace notes left out, tuplets exact.
    """

    name: str
    measures: tuple[int, ...]
    melody: tuple[MelodyNote, ...]
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True)
class Brought:
    """``mode`` is one of MODES; ``key`` has its tonic, and major or minor by its third. ``order`` names parts as they are played,
    repeats written out; endings that differ make parts of their own (``A``, ``A2``). ``tempo`` is (beats a minute, unit), None
    where none is given. ``remarks`` say what was read by inference or left out.
    """

    name: str
    key: Key
    mode: str
    meter: Meter
    parts: tuple[BroughtPart, ...]
    order: tuple[str, ...]
    tempo: tuple[int, str] | None = None
    source: str = ""
    remarks: tuple[Fault, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class NotRead:
    """A tune of a book that cannot be read: its place in it, from 1, its name (empty without one), and the first faults in it."""

    place: int
    name: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class BroughtTunes:
    """What a file holds: at least one tune that can be read, and those that cannot, both in their order."""

    tunes: tuple[Brought, ...]
    not_read: tuple[NotRead, ...] = ()

    @property
    def places(self) -> tuple[int, ...]:
        """Of each tune that was read its place in the file, from 1."""
        others = {one.place for one in self.not_read}
        return tuple(n for n in range(1, len(self.tunes) + len(others) + 1) if n not in others)
