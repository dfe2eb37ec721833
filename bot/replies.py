"""What a command answers. Knows no chat platform: an adapter shows it."""

from dataclasses import dataclass

SEPARATOR = " · "  # between the parts of a head


@dataclass(frozen=True, slots=True)
class File:
    """``kind`` is what a player calls it (picture, sheet, sound); ``description`` is for those who cannot see or hear it."""

    kind: str
    name: str
    data: bytes
    description: str = ""


@dataclass(frozen=True, slots=True)
class Reply:
    """``head`` is one line a player needs first; ``tab`` is preformatted; ``files`` are shown beside it; ``notes`` come last.

    ``code`` names the break that is shown. A reply with ``failed`` set is for the asker alone: one sentence and a next step.
    """

    head: str = ""
    tab: str = ""
    notes: tuple[str, ...] = ()
    failed: bool = False
    code: str | None = None
    files: tuple[File, ...] = ()
