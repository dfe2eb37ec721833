"""A score: a passage with what is shown around it. The one form between the music and pictures, files and sentences."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.music.harmony import Key
from service.music.passages import Passage
from service.music.setting import sounding_key
from service.music.tunes import UNIT_TICKS


@dataclass(frozen=True, slots=True)
class Beat:
    """A tempo: beats of ``unit`` (half, quarter, dotted quarter, eighth) a minute."""

    bpm: int
    unit: str

    @property
    def ticks(self) -> int:
        """Of one beat."""
        return UNIT_TICKS[self.unit]


@dataclass(frozen=True, slots=True)
class Section:
    """Where a part of the form begins: tick, and its letter."""

    onset: int
    name: str


@dataclass(frozen=True, slots=True)
class Span:
    """A phrase: tick where it begins, length in ticks, the name of what fills it. Of a ``rest``, where what filled it may
    not be shown any more, the label says so."""

    onset: int
    ticks: int
    label: str
    rest: bool = False


@dataclass(frozen=True, slots=True)
class Repeat:
    """Measures ``first`` to ``last`` (from 0) come twice. With an ``ending`` (its first measure) they end differently the
    second time: as many measures after ``last`` are the second ending."""

    first: int
    last: int
    ending: int | None = None


@dataclass(frozen=True, slots=True)
class Score:
    """``key`` is the playing position; chords and frets of the passage count from the capo.

    ``left`` holds left-hand fingers (1-4) by (onset, string); ``melody`` the onsets of notes that carry the tune, for what
    shall stand out in sound; ``credits`` the lines about where it comes from and what may be done with it.
    """

    title: str
    passage: Passage
    key: Key
    beat: Beat
    sections: tuple[Section, ...] = ()
    phrases: tuple[Span, ...] = ()
    repeats: tuple[Repeat, ...] = ()
    left: Mapping[tuple[int, int], int] = field(default_factory=dict)
    melody: frozenset[int] = frozenset()
    credits: tuple[str, ...] = ()

    @property
    def sounding(self) -> Key:
        """The key that is heard."""
        return sounding_key(self.key, self.passage.capo)
