"""What /metrics tells, in the Prometheus text format."""

import time
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from service.usecases.house import House
from service.usecases.posting import waiting

MEDIA_TYPE = "text/plain; version=0.0.4"
BOUNDS_S = (0.005, 0.025, 0.1, 0.5, 2.5, 10.0)  # ours: from a point read to a long render
READING = frozenset({"GET", "HEAD", "OPTIONS"})

Sample = tuple[str, float]  # what follows the family's name, and the value


@dataclass(slots=True)
class Histogram:
    """How often something took up to each bound; the last count is of what took longer."""

    counts: list[int] = field(default_factory=lambda: [0] * (len(BOUNDS_S) + 1))
    seconds: float = 0.0

    def add(self, seconds: float) -> None:
        self.counts[bisect_left(BOUNDS_S, seconds)] += 1
        self.seconds += seconds


@dataclass(slots=True)
class Measured:
    """What the gate counts."""

    requests: Counter[int] = field(default_factory=Counter)  # by status
    reads: Histogram = field(default_factory=Histogram)
    writes: Histogram = field(default_factory=Histogram)
    started: float = field(default_factory=time.monotonic)

    def add(self, method: str, status: int, seconds: float) -> None:
        self.requests[status] += 1
        (self.reads if method in READING else self.writes).add(seconds)


def exposition(house: House, measured: Measured) -> str:
    database, renders = house.database, house.renders
    by_kind = {"read": measured.reads, "write": measured.writes}
    return "".join(
        (
            _family("requests_total", "counter", "Requests answered, by status.", _by("status", measured.requests)),
            _family(
                "request_seconds", "histogram", "Seconds until a request was answered, by kind of method.",
                (sample for kind, took in by_kind.items() for sample in _buckets(kind, took)),
            ),
            _family("commits_total", "counter", "Groups of writes committed.", [("", database.commits)]),
            _family(
                "writes_total", "counter", "Writes, by how they ended: refused for what they met, failed to be stored.",
                _by("ending", {ending: database.units[ending] for ending in ("committed", "refused", "failed")}),
            ),
            _family("writes_waiting", "gauge", "Writes that wait for their turn.", [("", database.waiting)]),
            _family("file_bytes", "gauge", "Bytes of the database's files.", _by("file", database.file_bytes)),
            _family("posts_waiting", "gauge", "Posts still to be brought into a chat.", [("", waiting(house))]),
            _family("renders_total", "counter", "Pictures, sheets and sounds made.", [("", renders.finished)]),
            _family("renders_making", "gauge", "Renders being made or waiting.", [("", renders.making)]),
            _family(
                "uptime_seconds", "gauge", "Seconds since the start.", [("", round(time.monotonic() - measured.started))]
            ),
        )
    )  # fmt: skip


def _family(name: str, kind: str, told: str, samples: Iterable[Sample]) -> str:
    full = f"breakwright_{name}"
    lines = [f"# HELP {full} {told}", f"# TYPE {full} {kind}"]
    lines += [f"{full}{rest} {value}" for rest, value in samples]
    return "\n".join(lines) + "\n"


def _by(label: str, values: Mapping[str, int] | Mapping[int, int]) -> list[Sample]:
    return [(f'{{{label}="{key}"}}', value) for key, value in values.items()]


def _buckets(kind: str, took: Histogram) -> Iterable[Sample]:
    within = 0
    for bound, count in zip((*BOUNDS_S, "+Inf"), took.counts, strict=True):
        within += count
        yield f'_bucket{{kind="{kind}",le="{bound}"}}', within
    yield f'_sum{{kind="{kind}"}}', round(took.seconds, 6)
    yield f'_count{{kind="{kind}"}}', within
