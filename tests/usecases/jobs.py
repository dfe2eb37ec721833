"""Jobs for render workers, as simple as can be: a worker process imports them by name."""

import os
import signal
import time
from pathlib import Path

from service.errors import DomainError
from service.usecases.renders import Facts, Keep


def written(keep: Keep, text: str, log: str) -> Facts:
    """A file that holds a text; each time it is made a line is added to a log."""
    with Path(log).open("a") as file:
        file.write("made\n")
    keep(text.encode())
    keep(b"second")
    return {"text": text}


def slow(keep: Keep, text: str, log: str) -> Facts:
    time.sleep(0.5)
    return written(keep, text, log)


def large(keep: Keep, kib: int) -> Facts:
    keep(b"x" * (kib << 10))
    return {}


def refusing(keep: Keep) -> Facts:
    keep(b"begun")
    raise DomainError("unknown-key", name="H")


def dies_once(keep: Keep, log: str) -> Facts:
    """Kills its own process the first time."""
    path = Path(log)
    if not path.exists():
        path.write_text("died\n")
        os.kill(os.getpid(), signal.SIGKILL)
    keep(b"alive")
    return {}


def dies(keep: Keep, log: str) -> Facts:
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError


def sleeps(keep: Keep, seconds: float) -> Facts:
    time.sleep(seconds)
    keep(str(os.getpid()).encode())
    return {}


def ready() -> None:
    """Takes as long as reading some modules."""
    time.sleep(0.3)
