"""Logs: one JSON object a line, written by a thread of its own so that no request waits for them.

Never the content of messages: fields are chosen by the caller, one by one.
"""

import logging
import logging.handlers
import queue
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TextIO

import msgspec

LOGGER = "breakwright"
QUEUE_SIZE = 10_000  # lines that may wait to be written; beyond it lines are lost, never requests

_encode = msgspec.json.Encoder(enc_hook=str).encode


class JsonLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, "fields", {}),
        }
        if record.exc_info and record.exc_info[0] is not None:
            line["error"] = self.formatException(record.exc_info)
        return _encode(line).decode()


class _Queue(logging.handlers.QueueHandler):
    def prepare(self, record: logging.LogRecord) -> logging.LogRecord:
        return record  # formatted by the thread that writes

    def enqueue(self, record: logging.LogRecord) -> None:
        try:
            self.queue.put_nowait(record)
        except queue.Full:
            return


def start_logs(level: str, stream: TextIO | None = None) -> tuple[logging.Logger, Callable[[], None]]:
    """The service's logger, and a function that writes out what waits and stops it."""
    log = logging.getLogger(LOGGER)
    log.setLevel(level.upper())
    log.propagate = False
    waiting: queue.Queue[logging.LogRecord] = queue.Queue(QUEUE_SIZE)
    handler = _Queue(waiting)
    out = logging.StreamHandler(stream or sys.stderr)
    out.setFormatter(JsonLines())
    listener = logging.handlers.QueueListener(waiting, out)
    log.handlers = [handler]
    listener.start()

    def stop() -> None:
        listener.stop()
        log.handlers = []

    return log, stop
