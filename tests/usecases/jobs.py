"""Jobs for render workers, as simple as can be: a worker process imports them by name."""

import os
import signal
import time
from pathlib import Path

from service.errors import DomainError
from service.usecases.renders import Files


def written(text: str, log: str) -> Files:
    """A file that holds a text; each time it is made a line is added to a log."""
    with Path(log).open("a") as file:
        file.write("made\n")
    return Files((text.encode(), b"second"), {"text": text})


def slow(text: str, log: str) -> Files:
    time.sleep(0.5)
    return written(text, log)


def large(kib: int) -> Files:
    return Files((b"x" * (kib << 10),))


def refusing() -> Files:
    raise DomainError("unknown-key", name="H")


def dies_once(log: str) -> Files:
    """Kills its own process the first time."""
    path = Path(log)
    if not path.exists():
        path.write_text("died\n")
        os.kill(os.getpid(), signal.SIGKILL)
    return Files((b"alive",))


def dies(log: str) -> Files:
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError
