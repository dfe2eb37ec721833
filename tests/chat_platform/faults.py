"""What can go wrong on the way: late, broken and lost answers, and limits on how often may be asked."""

import re
import threading
import time
import zlib
from dataclasses import dataclass, field
from functools import cache


@dataclass(frozen=True)
class Fault:
    """What befalls a request.

    ``after``: it takes effect first, and only its answer is spoilt; otherwise nothing happens on the server.
    ``status``: what is answered instead, with a ``body`` of json or html. ``drop``: the connection is cut.
    ``truncated``: the true answer ends half-way. ``delay_s`` alone only makes it late.
    """

    status: int | None = None
    drop: bool = False
    truncated: bool = False
    after: bool = False
    delay_s: float = 0.0
    html: bool = False
    retry_after_s: float = 0.1
    everything: bool = False

    @property
    def takes_effect(self) -> bool:
        return self.after or self.truncated or (self.status is None and not self.drop)


@cache
def pattern(text: str) -> re.Pattern[str]:
    """``*`` stands for one part of a path: ``/channels/*/messages``."""
    return re.compile("[^/]+".join(re.escape(part) for part in text.split("*")))


@dataclass
class Faults:
    """Faults wait for requests that fit, the oldest first. Paths are told without ``/api/v10``."""

    _waiting: list[list[object]] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def next(self, method: str, path: str, fault: Fault, times: int = 1) -> None:
        with self._lock:
            self._waiting.append([method, path, fault, times])

    def clear(self) -> None:
        with self._lock:
            self._waiting.clear()

    @property
    def left(self) -> int:
        """How many are still to come."""
        return sum(int(str(times)) for *_, times in self._waiting)

    def take(self, method: str, path: str) -> Fault | None:
        with self._lock:
            for entry in self._waiting:
                wanted, where, fault, times = entry
                assert isinstance(fault, Fault)
                assert isinstance(times, int)
                if wanted in (method, "*") and pattern(str(where)).fullmatch(path):
                    entry[3] = times - 1
                    if times == 1:
                        self._waiting.remove(entry)
                    return fault
        return None


@dataclass
class _Bucket:
    began: float
    used: int = 0


@dataclass(frozen=True)
class Verdict:
    """``retry_after_s`` is none where the request may pass."""

    headers: dict[str, str]
    retry_after_s: float | None = None
    everything: bool = False


# Answers to interactions do not count into the limit on all requests (API reference, "Rate Limits").
_FREE_OF_ALL = re.compile(r"/(interactions|webhooks)/.*")


@dataclass
class Limits:
    """``rules``: (method, path) to (how often, in seconds). ``everything_per_s``: 50 is the documented limit."""

    rules: dict[tuple[str, str], tuple[int, float]] = field(default_factory=dict)
    everything_per_s: int = 50
    _buckets: dict[tuple[str, str, str], _Bucket] = field(default_factory=dict)
    _all: _Bucket = field(default_factory=lambda: _Bucket(0.0))

    def set(self, method: str, path: str, often: int, seconds: float) -> None:
        self.rules[method, path] = (often, seconds)

    def ask(self, method: str, path: str) -> Verdict:
        now = time.monotonic()
        if not _FREE_OF_ALL.fullmatch(path):
            if now - self._all.began >= 1.0:
                self._all = _Bucket(now)
            self._all.used += 1
            if self._all.used > self.everything_per_s:
                left = self._all.began + 1.0 - now
                return Verdict({"X-RateLimit-Global": "true", "X-RateLimit-Scope": "global"}, left, True)
        for (wanted, where), (often, seconds) in self.rules.items():
            if wanted == method and pattern(where).fullmatch(path):
                # A channel's, server's or interaction's own id makes a bucket of its own.
                key = (method, where, "/".join(path.split("/")[1:3]))
                bucket = self._buckets.get(key)
                if bucket is None or now - bucket.began >= seconds:
                    bucket = self._buckets[key] = _Bucket(now)
                bucket.used += 1
                left = bucket.began + seconds - now
                headers = {
                    "X-RateLimit-Limit": str(often),
                    "X-RateLimit-Remaining": str(max(0, often - bucket.used)),
                    "X-RateLimit-Reset": f"{time.time() + left:.3f}",
                    "X-RateLimit-Reset-After": f"{left:.3f}",
                    "X-RateLimit-Bucket": f"{zlib.crc32(f'{method} {where}'.encode()):08x}",
                }
                if bucket.used > often:
                    return Verdict(headers | {"X-RateLimit-Scope": "user"}, left)
                return Verdict(headers)
        return Verdict({})
