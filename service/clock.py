"""The time, handed in so that tests can hold it still."""

from collections.abc import Callable
from datetime import UTC, datetime

Clock = Callable[[], datetime]


def system_clock() -> datetime:
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """A moment as the database keeps it: UTC, ISO 8601, to the second."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def moment(kept: str) -> datetime:
    """A moment from how the database keeps it."""
    return datetime.fromisoformat(kept)
