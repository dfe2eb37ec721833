"""Sizes: how large everything is drawn, in points, as multiples of one scale. All are ours, tried by eye."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Look:
    """A page ``width`` points wide, everything on it ``scale`` times the base size.

    ``height`` is that of a sheet of paper, None where a page is as high as what stands on it. ``systems`` is the most systems
    on a page.
    """

    width: float
    margin: float
    scale: float = 1.0
    height: float | None = None
    systems: int = 64

    def __post_init__(self) -> None:
        if self.scale <= 0 or self.room <= 0:
            raise ValueError("a page needs room")

    @property
    def room(self) -> float:
        """Width between the margins."""
        return self.width - 2 * self.margin

    @property
    def column(self) -> "Look":
        """A column that lets two licks stand side by side on paper; a screen, and large print, are one column."""
        if self.height is None or self.scale > 1:
            return self
        return Look((self.width - COLUMN_GAP) / 2 + self.margin / 2, self.margin, self.scale * COLUMN_SCALE)

    def of(self, size: float) -> float:
        """A base size at this scale."""
        return size * self.scale


# Base sizes
STRING_GAP = 11.5  # between two strings
DIGIT = 12.0
CHORD = 12.5
NUMBER = 7.5  # measure numbers
LABEL = 8.5  # names of licks
LETTER = 9.0  # fingers, string letters
TITLE = 18.0
FACT = 9.5  # the lines below the title
NOTE = 7.5  # credits, page numbers
SLOT = 14.5  # from one eighth of a roll to the next, before a system is stretched
BAR_LEFT, BAR_RIGHT = (
    10.5,
    4.0,
)  # between a bar line and the first note after it, between the last slot and the bar line
STEM = 15.0
STEM_GAP = 6.0  # below the lowest string
BEAM = 2.6
BEAM_STEP = 4.2
STAFF_SPACE = 6.0  # of standard notation
SYSTEM_GAP = 10.0

# Screens and papers. A phone is 390 points wide (common practice, no source); paper sizes: ISO 216 and ANSI (published).
PHONE = Look(390, 13, 1.0, systems=8)
WIDE = Look(900, 18, 1.0, systems=8)
PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
PRINT_SCALE, LARGE_SCALE = 0.82, 1.45
PAPER_MARGIN = 42.0
COLUMN_GAP, COLUMN_SCALE = 10.0, 0.86


def paper(name: str = "a4", *, large: bool = False) -> Look:
    """A sheet of paper (``a4`` or ``letter``); ``large`` for eyes that need it."""
    width, height = PAPERS[name]
    return Look(width, PAPER_MARGIN, LARGE_SCALE if large else PRINT_SCALE, height)
