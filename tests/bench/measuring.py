"""Medians, and the table they are told in."""

import statistics
import time
from collections.abc import Callable
from functools import partial


def median_ms(
    work: Callable[[], object], rounds: int, clock: Callable[[], float] = time.perf_counter
) -> float:
    """The median of so many rounds; of more than one, a first call that fills what is kept is not counted."""
    if rounds > 1:
        work()
    times = []
    for _ in range(rounds):
        began = clock()
        work()
        times.append((clock() - began) * 1000)
    return statistics.median(times)


# For work of one thread of this process: what else the machine does hardly counts.
processor_ms = partial(median_ms, clock=time.process_time)


def within_ms(work: Callable[[], object], budget_s: float, least: int = 3, most: int = 200) -> float:
    """The median of as many rounds as fit into a budget of time, by the processor's clock."""
    began = time.perf_counter()
    work()
    once = time.perf_counter() - began
    return processor_ms(work, max(least, min(most, int(budget_s / max(once, 1e-6)))))


def for_a_while(work: Callable[[], object], seconds: float) -> None:
    """Again and again, until what is kept is filled."""
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        work()


def told(ms: float) -> str:
    """Milliseconds, or what is read more easily."""
    if ms < 1:
        return f"{ms * 1000:.0f} µs"
    return f"{ms:.1f} ms" if ms < 1000 else f"{ms / 1000:.2f} s"


def head() -> None:
    print("| what | measured | target | baseline of the same run | ratio |")
    print("|---|---:|---:|---|---:|", flush=True)


def row(what: str, measured: str, target: str = "", baseline: str = "", ratio: float | str = "") -> None:
    if isinstance(ratio, float):
        ratio = f"{ratio:,.0f}" if ratio >= 100 else f"{ratio:.2g}"
    print(f"| {what} | {measured} | {target} | {baseline} | {ratio} |", flush=True)


def timed_row(what: str, ms: float, most_ms: float | None, baseline: str, base_ms: float) -> None:
    """A row for a time; one past its target says so."""
    missed = most_ms is not None and ms > most_ms
    target = "" if most_ms is None else f"≤ {told(most_ms)}"
    row(
        what, told(ms) + (" (missed)" if missed else ""), target, f"{baseline}: {told(base_ms)}", ms / base_ms
    )
