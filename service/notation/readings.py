"""What a reader gives back, whichever text it read."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.errors import Fault
from service.music.passages import Passage

MAX_TEXT = 100_000  # characters of one text; a whole evening's tune book is a tenth of it
MAX_MEASURES = 512
LONGEST = 4  # measures' time that one measure may be stated to last


@dataclass(frozen=True, slots=True)
class Reading:
    """``played`` gives, for each measure in playing order, its number in the text (repeats written out)."""

    passage: Passage
    warnings: tuple[Fault, ...]
    played: tuple[int, ...]

    @property
    def measures(self) -> int:
        return len(self.passage.measures)


@dataclass(frozen=True, slots=True)
class Assumption:
    """One thing taken for granted; all of a text's go into a single warning."""

    code: str
    value: object


def assumed(parts: Sequence[Assumption]) -> list[Fault]:
    """At most one warning, naming everything that the text left open."""
    if not parts:
        return []
    return [Fault("assumed", {"parts": [{"what": part.code, "value": part.value} for part in parts]})]
