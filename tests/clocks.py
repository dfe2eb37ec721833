"""A clock that stands where a test puts it."""

from datetime import UTC, datetime, timedelta


class SetClock:
    """Call it for the time; ``to`` and ``on`` move it."""

    def __init__(self, text: str) -> None:
        self.now = datetime.fromisoformat(text).astimezone(UTC)

    def __call__(self) -> datetime:
        return self.now

    def to(self, text: str) -> None:
        self.now = datetime.fromisoformat(text).astimezone(UTC)

    def on(self, **how_long: float) -> None:
        self.now += timedelta(**how_long)
