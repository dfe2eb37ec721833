"""What a command answers. Knows no chat platform: an adapter shows it."""

from dataclasses import dataclass

SEPARATOR = " · "  # between the parts of a head


@dataclass(frozen=True, slots=True)
class Reply:
    """``head`` is one line a player needs first; ``tab`` is preformatted; ``notes`` come last.

    ``code`` names the break that is shown. A reply with ``failed`` set is for the asker alone: one sentence and a next step.
    """

    head: str = ""
    tab: str = ""
    notes: tuple[str, ...] = ()
    failed: bool = False
    code: str | None = None
