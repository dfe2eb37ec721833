"""The bot's logs: one JSON object a line. Who asked what and how it went is told, what they wrote never is."""

import logging
import sys
from datetime import UTC, datetime
from typing import TextIO

import msgspec

LOGGER = "breakwright.bot"
_OWN = frozenset(
    ("command", "user", "server", "outcome", "ms", "post", "kind", "reason", "shard", "count", "wait_s")
)
_encode = msgspec.json.Encoder(enc_hook=str).encode


class _JsonLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **{name: value for name, value in vars(record).items() if name in _OWN},
        }
        if record.exc_info and record.exc_info[0] is not None:
            line["error"] = self.formatException(record.exc_info)
        return _encode(line).decode()


def start_logs(level: str, stream: TextIO | None = None) -> None:
    """The bot's own lines from ``level`` on, the chat library's from warnings on."""
    out = logging.StreamHandler(stream or sys.stderr)
    out.setFormatter(_JsonLines())
    for name, least in ((LOGGER, level.upper()), ("discord", "WARNING")):
        log = logging.getLogger(name)
        log.handlers, log.propagate = [out], False
        log.setLevel(least)
