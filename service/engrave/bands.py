"""What stands above what in a system: the height of each band, and where it lies."""

from dataclasses import dataclass

from service.engrave.looks import LETTER, STEM, STEM_GAP, STRING_GAP, Look
from service.engrave.spacing import System
from service.music.scores import Score

# Base heights of bands, all ours.
PHRASES = 15.0
ENDINGS = 13.0
CHORDS = 22.0
NUMBERS = 9.0  # measure numbers, where no chords give them room
RHYTHM = STEM_GAP + STEM + 4.0
TRIPLETS = 8.0
FINGERS = LETTER + 2.5
NOTATION_ABOVE, NOTATION_BELOW = 16.0, 26.0  # ledger lines around a staff


@dataclass(frozen=True, slots=True)
class Options:
    """What is drawn beside digits: ``notation`` a standard staff above the tab, ``hands`` fingers of the left too."""

    notation: bool = False
    left_fingers: bool = False
    phrase_names: bool = True


@dataclass(frozen=True, slots=True)
class Bands:
    """Heights from the system's top, in points: baselines of text, first and last line of staves."""

    phrases: float
    endings: float
    chords: float
    notation: float | None
    top: float
    bottom: float
    rhythm: float
    fingers: float
    left: float
    height: float

    def moved(self, by: float) -> "Bands":
        """The same bands with the top at ``by``; the height stays."""
        staff = None if self.notation is None else self.notation + by
        return Bands(
            self.phrases + by, self.endings + by, self.chords + by, staff, self.top + by, self.bottom + by,
            self.rhythm + by, self.fingers + by, self.left + by, self.height,
        )  # fmt: skip


def bands(score: Score, system: System, look: Look, options: Options, notation_space: float) -> Bands:
    """Bands of one system; those with nothing in them take no room."""
    of = look.of
    spans = any(span.onset < system.end and span.onset + span.ticks > system.onset for span in score.phrases)
    sections = any(system.onset <= section.onset < system.end for section in score.sections)
    named = sections or (options.phrase_names and spans)
    at = of(PHRASES) if named else 0.0
    phrases = at
    at += of(ENDINGS) if _ends(score, system) else 0.0
    endings = at
    at += of(CHORDS) if score.passage.changes else of(NUMBERS)
    chords = at - of(8.0)
    notation = None
    if options.notation:
        at += of(NOTATION_ABOVE)
        notation = at
        at += 4 * notation_space + of(NOTATION_BELOW)
    top = at
    bottom = top + of(STRING_GAP) * (score.passage.instrument.strings - 1)
    at = bottom + of(RHYTHM)
    columns = [column for placed in system.measures for column in placed.columns]
    if any(column.value.tuplet for column in columns):
        at += of(TRIPLETS)
    if any(note.finger for column in columns for note in column.struck):
        at += of(FINGERS)
    fingers = at
    if options.left_fingers and any(
        (note.onset, note.string) in score.left for column in columns for note in column.struck
    ):
        at += of(FINGERS)
    return Bands(phrases, endings, chords, notation, top, bottom, bottom + of(STEM_GAP), fingers, at, at)


def _ends(score: Score, system: System) -> bool:
    """Whether an ending's bracket stands over this system."""
    numbers = {placed.measure.number - 1 for placed in system.measures}
    return any(
        repeat.ending is not None and numbers & set(range(repeat.ending, 2 * repeat.last + 2 - repeat.ending))
        for repeat in score.repeats
    )
