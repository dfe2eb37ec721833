"""Logs: one JSON object a line, never the content of messages. No request waits for a line to be written.

Events go through the standard logging module and a writing thread. Request lines, one for every request,
are gathered and written a few times a second: through the logging module they cost more than the request.
"""

import asyncio
import logging
import logging.handlers
import queue
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TextIO

import msgspec

LOGGER = "breakwright"
QUEUE_SIZE = 10_000  # lines that may wait to be written; beyond it lines are lost, never requests
GATHER_S = 0.1  # how long request lines are gathered

_encode = msgspec.json.Encoder(enc_hook=str).encode


def _moment(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="milliseconds")


class JsonLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": _moment(record.created),
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


class RequestLog:
    """Lines about requests, gathered on the event loop and written by a thread."""

    def __init__(self, log: logging.Logger, stream: TextIO | None = None) -> None:
        self._log = log
        self._stream = stream or sys.stderr
        self._lines: list[bytes] = []
        self._writing: asyncio.Future[None] | None = None

    def add(self, fields: dict[str, object]) -> None:
        """Call on the event loop only."""
        if not self._log.isEnabledFor(logging.INFO) or len(self._lines) >= QUEUE_SIZE:
            return
        self._lines.append(
            _encode({"at": _moment(time.time()), "level": "info", "event": "request", **fields})
        )
        if self._writing is None or self._writing.done():
            self._writing = asyncio.ensure_future(self._write())

    async def _write(self) -> None:
        while self._lines:
            await asyncio.sleep(GATHER_S)
            lines, self._lines = self._lines, []
            await asyncio.to_thread(self._out, lines)

    def _out(self, lines: list[bytes]) -> None:
        self._stream.write(b"\n".join(lines).decode() + "\n")
        self._stream.flush()

    async def finish(self) -> None:
        """Write what is left."""
        if self._writing is not None:
            await self._writing


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
