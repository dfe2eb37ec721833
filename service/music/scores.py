"""A score: a passage with what is shown around it. The one form between the music and pictures, files and sentences."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from service.music.harmony import Key
from service.music.passages import Passage, without
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
    not be shown any more or shall be guessed, the label says so."""

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
    shall stand out in sound; ``credits`` the lines about where it comes from and what may be done with it; ``closes`` is false where
    something follows, as after a kick-off.
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
    closes: bool = True

    @property
    def sounding(self) -> Key:
        """The key that is heard."""
        return sounding_key(self.key, self.passage.capo)

    def hiding(self, onset: int, label: str) -> "Score":
        """With nothing played in the phrase that begins at a tick, and nothing said of it but a label; chords stay."""
        span = next(span for span in self.phrases if span.onset == onset)
        passage = without(self.passage, onset, span.ticks)
        shown = {(note.onset, note.string) for note in passage.notes}
        hidden = replace(span, label=label, rest=True)
        return replace(
            self,
            passage=passage,
            phrases=tuple(hidden if other is span else other for other in self.phrases),
            left={place: finger for place, finger in self.left.items() if place in shown},
            melody=frozenset(at for at in self.melody if not onset <= at < onset + span.ticks),
        )
