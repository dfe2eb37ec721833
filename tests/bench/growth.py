"""How the time of composing grows with phrases, candidates and pool: a table, and plots as PNGs."""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from service.usecases.best_breaks import STEPS
from tests.bench.measuring import for_a_while, told, within_ms
from tests.bench.pools import POOL, Made, made_pool
from tests.bench.subject import Subject, lattice_of

BUDGET_S = 0.6  # for each point
LOOK = {  # colour (told apart by the colour-blind too), mark
    "lattice": ("#0072B2", "o"),
    "count": ("#D55E00", "s"),
    "draw": ("#009E73", "^"),
    "10 best": ("#000000", "D"),
    "10 best, no lick twice": ("#CC79A7", "v"),
}
Times = dict[str, tuple[float, bool]]  # milliseconds by operation, and whether it found all it should


@dataclass(frozen=True, slots=True)
class Growth:
    """``points`` are (how much, times), smallest first."""

    name: str
    axis: str
    title: str
    points: list[tuple[int, Times]]


def times_of(made: Made, size: int) -> Times:
    """What each operation takes for the tune of so many phrases."""
    subject = Subject(lattice_of(made, size), size)
    joined = subject.joined()
    rand = random.Random(1)

    def draw() -> None:
        joined.path(1 + rand.randrange(joined.total))

    for_a_while(draw, 3 * BUDGET_S)
    distinct = subject.best("smooth", 10, no_repeats=True).exact
    return {
        "lattice": (within_ms(lambda: lattice_of(made, size), BUDGET_S), True),
        "count": (within_ms(subject.joined, BUDGET_S), True),
        "draw": (within_ms(draw, BUDGET_S, most=2000), True),
        "10 best": (within_ms(lambda: subject.best("smooth", 10), BUDGET_S), True),
        "10 best, no lick twice": (
            within_ms(lambda: subject.best("smooth", 10, no_repeats=True), BUDGET_S, least=1),
            distinct,
        ),
    }


def growths() -> Iterator[Growth]:
    some = made_pool(POOL, 500)
    points = [(size, times_of(some, size)) for size in (4, 8, 16, 32, 64)]
    yield Growth(
        "phrases", "phrases of the tune", f"500 candidates a phrase, a pool of {POOL:,} licks", points
    )
    points = [(each, times_of(made_pool(POOL, each), 32)) for each in (125, 250, 500, 1000, 2000, 4000)]
    yield Growth("candidates", "candidates a phrase", f"32 phrases, a pool of {POOL:,} licks", points)
    sizes = (1000, 3000, 10_000, 30_000, 100_000, 200_000)
    points = [(size, times_of(made_pool(size, size // 50), 32)) for size in sizes]
    yield Growth("pool", "licks in the pool", "32 phrases, a fiftieth of the pool fits each", points)


def tell(growth: Growth) -> None:
    print(f"\n{growth.title}:\n\n| {growth.axis} | {' | '.join(LOOK)} |\n|---:|{'---:|' * len(LOOK)}")
    for much, times in growth.points:
        cells = [told(ms) + ("" if whole else " (gave up)") for ms, whole in (times[name] for name in LOOK)]
        print(f"| {much:,} | {' | '.join(cells)} |", flush=True)


def plot(growth: Growth, folder: Path) -> Path:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.6), dpi=90, layout="constrained")
    axes = figure.add_subplot()
    axes.set_xscale("log")
    axes.set_yscale("log")
    hollow = False
    for name, (colour, mark) in LOOK.items():
        much, ms = [of for of, _ in growth.points], [times[name][0] for _, times in growth.points]
        axes.plot(much, ms, color=colour, marker=mark, markersize=5, linewidth=1.6, label=name)
        gave_up = [(of, times[name][0]) for of, times in growth.points if not times[name][1]]
        for at in gave_up:
            axes.plot(*at, color=colour, marker=mark, markersize=5, markerfacecolor="white")
        hollow = hollow or bool(gave_up)
    ticks = [much for much, _ in growth.points]
    axes.set_xticks(ticks, [f"{much:,}" for much in ticks])
    axes.minorticks_off()
    _decades(axes, [ms for _, times in growth.points for ms, _ in times.values()])
    axes.set_xlabel(growth.axis)
    axes.set_ylabel("time (median)")
    note = f"\nhollow: the search gave up after {STEPS:,} steps" if hollow else ""
    axes.set_title(growth.title + note, fontsize=10)
    axes.grid(True, which="major", color="#dddddd", linewidth=0.7)
    axes.spines[["top", "right"]].set_visible(False)
    figure.legend(loc="outside lower center", ncols=5, fontsize=9, frameon=False)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{growth.name}.png"
    figure.savefig(path)
    return path


def _decades(axes, times: Sequence[float]) -> None:  # type: ignore[no-untyped-def]
    """A tick for each power of ten that is needed, told in the unit that is read most easily."""
    low, high = min(times), max(times)
    ticks = [10.0**power for power in range(-3, 6) if low / 10 < 10.0**power < high * 10]
    units: Callable[[float], str] = lambda ms: (  # noqa: E731
        f"{ms * 1000:,.0f} µs" if ms < 1 else f"{ms:,.0f} ms" if ms < 1000 else f"{ms / 1000:,.0f} s"
    )
    axes.set_yticks(ticks, [units(ms) for ms in ticks])
    axes.set_ylim(low / 1.6, high * 1.6)


def growing(folder: Path) -> None:
    for growth in growths():
        tell(growth)
        print(f"\n{plot(growth, folder)}")
