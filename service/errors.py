"""The errors of Breakwright. No status codes here: service/web/problems.py maps them.

    BreakwrightError
    ├── DomainError      something about music or the group that cannot be
    │   └── ReadingError     a text that cannot be read: one fault for each place
    ├── NotFound         no such thing, or none that the caller may know of
    ├── TakenDown        a lick that is kept from everybody, for rights' sake or another reason
    ├── Erased           a lick that is gone for good, with whoever sent it in
    ├── Forbidden        the caller is known but may not do this
    ├── Unauthenticated  no token, or one that is not valid
    ├── Conflict         the thing has changed, or exists already
    ├── PreconditionNeeded   an edit without the revision it was made against
    └── Busy             too much at once: try again later

Each carries a ``code`` and parameters; service/wording.py holds the sentences.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

MOST_FAULTS = 50  # shown of one text; nobody mends more at once


@dataclass(frozen=True, slots=True)
class Fault:
    """One place in a text or request that cannot be read, or that was read by inference.

    ``line`` and ``column`` count from 1 and point into the text as it came in;
    ``excerpt`` is the text around; ``measure`` counts from 1 (0 is a pickup).
    """

    code: str
    params: dict[str, object] = field(default_factory=dict)
    line: int | None = None
    column: int | None = None
    excerpt: str | None = None
    measure: int | None = None
    beat: str | None = None
    path: str | None = None


class BreakwrightError(Exception):
    """Base of all; ``code`` names a sentence in service/wording.py."""

    def __init__(self, code: str, *, at: Sequence[Fault] = (), **params: object) -> None:
        self.code = code
        self.params = params
        self.at = tuple(at)
        super().__init__(f"{code} {params}" if params else code)


class DomainError(BreakwrightError):
    pass


class ReadingError(DomainError):
    """A text that cannot be read; ``at`` holds the first faults, in reading order, never empty."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("unreadable", at=faults[:MOST_FAULTS], count=len(faults))


class NotFound(BreakwrightError):
    pass


class TakenDown(BreakwrightError):
    pass


class Erased(BreakwrightError):
    pass


class Forbidden(BreakwrightError):
    pass


class Unauthenticated(BreakwrightError):
    pass


class Conflict(BreakwrightError):
    pass


class PreconditionNeeded(BreakwrightError):
    pass


class Busy(BreakwrightError):
    def __init__(self, code: str, *, retry_after: int, **params: object) -> None:
        super().__init__(code, at=(), retry_after=retry_after, **params)
        self.retry_after = retry_after
