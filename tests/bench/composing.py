"""Composing on generated pools: times, memory, rivals, HTTP; each beside a baseline of the same run, nothing asserted."""

import random
import tempfile
from collections.abc import Callable
from itertools import cycle, repeat
from pathlib import Path
from statistics import median

import httpx

from service.compose.joined import JoinedLattice
from service.compose.lattice import Lattice
from service.usecases.best_breaks import STEPS
from tests.bench import memory
from tests.bench.baseline import BaselineServer
from tests.bench.filled import composed_cold, fill, read_plainly, serving
from tests.bench.load import latency_ms, per_second
from tests.bench.measuring import for_a_while, head, median_ms, processor_ms, row, timed_row, told, within_ms
from tests.bench.pools import EACH, Made, made_pool
from tests.bench.rivals import (
    Rejection,
    any_licks,
    cheapest_of_all_pairs,
    counted_plainly,
    graph_library,
    graph_of,
    solver_of,
)
from tests.bench.subject import Subject, lattice_of

PHRASES = 32
WARM_UP_S, DRAWING_S, DRAWS = 6.0, 3.0, 2000
HTTP_WARM_UP = 300
GRAPH_LIMIT_S = 300.0
FAST_BPM = 130  # the tune's fastest


def composing() -> None:
    made = made_pool()
    subject = Subject(lattice_of(made, PHRASES), PHRASES)
    _tell_pool(made, subject)
    head()
    ready(made, subject)
    counts(subject)
    draws(subject)
    best(subject)
    used_memory(made)
    with tempfile.TemporaryDirectory() as folder:
        cold_and_served(Path(folder), made)
    graphs()
    solver()
    rejection()


def _tell_pool(made: Made, subject: Subject) -> None:
    each = [len(of) for of in subject.lattice.candidates]
    edges, stocks = made.pool.edges, subject.lattice.candidates
    ways_in = median(len(set(of.column("entry").tolist())) for of in stocks)
    ways_out = median(len(set(of.column("exits").ravel().tolist())) for of in stocks)
    print(
        f"A pool of {len(made.pool):,} licks; a tune of {len(each)} phrases with {min(each):,} to {max(each):,} licks each "
        f"(wanted {EACH:,}).\nBoundary classes: {len(edges.entries)} ways in and {len(edges.exits)} ways out in the pool, "
        f"{ways_in:.0f} and {ways_out:.0f} among the licks of a phrase (median).\n"
        f"Breaks: a number of {len(str(subject.lattice.total))} digits.\n"
    )


def ready(made: Made, subject: Subject) -> None:
    ms = processor_ms(lambda: lattice_of(made, PHRASES), 15)
    objects = processor_ms(lambda: [list(of) for of in subject.lattice.candidates], 3)
    timed_row(
        "lattice, facts in memory (32 × 2,000 of 100,000)",
        ms,
        15,
        "its candidates as Python objects",
        objects,
    )


def counts(subject: Subject) -> None:
    def count() -> int:
        return Lattice(subject.lattice.candidates).total

    plain_ms = processor_ms(
        lambda: [sum(1 for _ in of.rows["span"].tolist()) for of in subject.lattice.candidates], 15
    )
    timed_row(
        "count, joins not minded", processor_ms(count, 30), 15, "going through the licks in Python", plain_ms
    )
    ms = processor_ms(subject.joined, 15)
    plainly = []
    base = processor_ms(lambda: plainly.append(counted_plainly(subject)), 3)
    same = "" if plainly[-1] == subject.joined().total else " (ANOTHER TOTAL)"
    timed_row(
        "count of breaks whose every join can be played", ms, 15, f"the same sums in plain Python{same}", base
    )
    edges = subject.lattice.candidates[0].edges
    seams = processor_ms(subject.seams_of_pool, 15)
    pairs = f"judging {len(edges.exits)} × {len(edges.entries)} seams, kept judgements made a table"
    timed_row(pairs, seams, None, "the same sums in plain Python", base)
    default = within_ms(subject.default_draw, 4)
    timed_row(
        "the same for a default draw: rules, manner, targets",
        default,
        None,
        "the same sums in plain Python",
        base,
    )


def draws(subject: Subject) -> None:
    rand = random.Random(5)
    base = processor_ms(lambda: [any_licks(subject.lattice.candidates, rand) for _ in range(100)], 7) / 100
    named = "any lick for each phrase"
    kinds: list[tuple[str, Callable[[], Lattice | JoinedLattice], float | None]] = [
        ("joins not minded", lambda: Lattice(subject.lattice.candidates), 0.2),
        ("joins minded", subject.joined, 0.2),
        ("default draw", subject.default_draw, None),
    ]
    for name, make, most in kinds:
        lattice = make()
        for_a_while(lambda of=lattice: of.path(1 + rand.randrange(of.total)), WARM_UP_S)  # type: ignore[misc]
        some = [lattice.path(1 + rand.randrange(lattice.total)) for _ in range(20)]
        licks = cycle([[(pick.candidate.number, pick.candidate.revision) for pick in path] for path in some])
        numbers = (1 + rand.randrange(number) for number in repeat(lattice.total))
        sample = within_ms(lambda of=lattice: of.path(1 + rand.randrange(of.total)), DRAWING_S, most=DRAWS)  # type: ignore[misc]
        unrank = within_ms(lambda of=lattice, n=numbers: of.path(next(n)), DRAWING_S, most=DRAWS)  # type: ignore[misc]
        rank = within_ms(lambda of=lattice, n=licks: of.number(next(n)), DRAWING_S, most=DRAWS)  # type: ignore[misc]
        for what, ms in (("sample", sample), ("unrank", unrank), ("rank", rank)):
            timed_row(f"one {what}, {name}", ms, most, named, base)


def best(subject: Subject) -> None:
    for by in ("smooth", "melody"):
        pairs: list[int] = []
        base = processor_ms(lambda by=by, to=pairs: to.append(cheapest_of_all_pairs(subject, by)), 1)  # type: ignore[misc]
        same = "" if subject.prices(subject.best(by, 1), by) == pairs else " (ANOTHER COST)"
        named = f"cheapest one, all pairs in numpy{same}"
        ms = processor_ms(lambda by=by: subject.best(by, 10), 9)  # type: ignore[misc]
        timed_row(f"10 best, {by}", ms, 100, named, base)
        found = subject.best(by, 10, no_repeats=True)
        ms = processor_ms(lambda by=by: subject.best(by, 10, no_repeats=True), 3)  # type: ignore[misc]
        what = f"10 best with no lick twice, {by}"
        if not found.exact:
            shown = len(found.paths)
            what += f" (gave up after {STEPS:,} steps with {shown} of them)"
        timed_row(what, ms, 600, named, base)


def used_memory(made: Made) -> None:
    used = memory.measured(made)
    for what, key in (
        ("resident memory of the process", "resident"),
        ("allocated, by tracemalloc", "allocated"),
    ):
        missed = " (missed)" if used[key] > 60 else ""
        row(
            f"peak of all that, {what}", f"{used[key]:.0f} MB{missed}", "≤ 60 MB",
            f"the pool's columns: {used['pool']:.0f} MB", used[key] / used["pool"],
        )  # fmt: skip


def cold_and_served(folder: Path, made: Made) -> None:
    fill(folder, "large", made, PHRASES)
    fill(folder, "usual", made_pool(5_000, 500), 16)
    composed_cold(folder, "large")
    ms = median(composed_cold(folder, "large")[0] for _ in range(5))
    base = median_ms(lambda: read_plainly(folder, "large"), 5)
    timed_row(
        "lattice from a cold database, 32 × 2,000 of 100,000", ms, 400, "the same rows by sqlite3 alone", base
    )
    with serving(folder) as (address, token, _):
        for group, name in (("usual", "16 × 500"), ("large", "32 × 2,000")):
            url = f"{address}/v1/groups/{group}/tunes/bench-reel/breaks/random"
            bearer = {"Authorization": f"Bearer {token}"}
            for _ in range(HTTP_WARM_UP):
                answer = httpx.post(url, json={}, headers=bearer, timeout=60).raise_for_status()
            with BaselineServer(answer.content) as bare:
                p50, base = latency_ms(url, token, b"{}"), latency_ms(bare.url, token)
                rounds = [(per_second(url, token, b"{}"), per_second(bare.url, token)) for _ in range(3)]
            size = f"{len(answer.content) / 1000:.0f} kB"
            timed_row(
                f"random durable break by HTTP, {name}, p50", p50, 4, f"a bare litestar handler, {size}", base
            )
            ours, bare_rate = (median(column) for column in zip(*rounds, strict=True))
            missed = " (missed)" if ours / bare_rate < 0.2 else ""
            row(
                f"random durable breaks by HTTP, {name}, rate", f"{ours:,.0f}/s{missed}", "≥ .2 of the baseline",
                f"a bare litestar handler, {size}: {bare_rate:,.0f}/s", ours / bare_rate,
            )  # fmt: skip


# --- rivals --------------------------------------------------------------------------------------------


def _small(size: int, each: int, bpm: int | None = None) -> Subject:
    return Subject(lattice_of(made_pool(), size), size, bpm).thinned(each)


def _times_row(
    what: str, ours: float, theirs: float, wanted: int, rival: str, *, at_least: bool = False
) -> None:
    times = theirs / ours
    missed = " (missed)" if times < wanted and not at_least else ""
    factor = f"{times:,.0f} ×" if times >= 10 else f"{times:.2g} ×"
    row(
        what, told(ours) + missed, f"{wanted:,} × faster" if wanted else "",
        f"{rival}: {'more than ' if at_least else ''}{told(theirs)}", f"{'at least ' if at_least else ''}{factor}",
    )  # fmt: skip


def graphs() -> None:
    small = _small(8, 50)
    theirs, took, _ = graph_library(graph_of(small, "melody"), 10, GRAPH_LIMIT_S)
    same = (
        "" if theirs == small.prices(small.best("melody", 10), "melody")[: len(theirs)] else " (OTHER COSTS)"
    )
    ours = processor_ms(lambda: small.best("melody", 10), 15)
    _times_row("10 best of 8 × 50", ours, 1000 * took, 0, f"networkx{same}")
    large = _small(16, 500)
    ours = processor_ms(lambda: large.best("melody", 10), 15)
    limit_s = min(GRAPH_LIMIT_S, 1.05 * ours)  # a thousand times as long, and a little more
    theirs, took, whole = graph_library(graph_of(large, "melody"), 10, limit_s)
    same = (
        "" if theirs == large.prices(large.best("melody", 10), "melody")[: len(theirs)] else " (OTHER COSTS)"
    )
    named = f"networkx, {len(theirs)} of 10 found{same}"
    _times_row("10 best of 16 × 500", ours, 1000 * took, 1000, named, at_least=not whole)


def solver() -> None:
    small = _small(8, 50)
    for name, no_repeats in (("best", False), ("best with no lick twice", True)):
        model = solver_of(small, "melody", no_repeats=no_repeats)
        answers = [model.cheapest() for _ in range(3)]
        mine = small.prices(small.best("melody", 1, no_repeats=no_repeats), "melody")
        assert answers[0] is not None
        same = "" if [answers[0][0]] == mine else " (ANOTHER COST)"
        ours = processor_ms(lambda no=no_repeats: small.best("melody", 1, no_repeats=no), 25)  # type: ignore[misc]
        theirs = 1000 * median(answer[2] for answer in answers if answer is not None)
        _times_row(f"{name} of 8 × 50", ours, theirs, 50, f"OR-tools CP-SAT, solving alone{same}")


def rejection() -> None:
    """Drawing from all combinations until it fits: the joins alone at two tempos, then all that a default draw minds."""
    for bpm in (None, FAST_BPM):
        small = _small(8, 50, bpm)
        _rejected(f"one draw of 8 × 50, joins, at {bpm or 84}", small, small.joined(), lambda places: True)
    small = _small(8, 50)
    drawn = small.default_draw()
    stocks = small.lattice.candidates

    def fits(places: list[int]) -> bool:
        licks = [(int(of.rows["number"][place]), 1) for of, place in zip(stocks, places, strict=True)]
        return drawn.number(licks) is not None

    _rejected("one draw of 8 × 50, all that a default draw minds", small, drawn, fits)


def _rejected(what: str, subject: Subject, ours: JoinedLattice, fits: Callable[[list[int]], bool]) -> None:
    rand = random.Random(7)
    for_a_while(lambda: ours.path(1 + rand.randrange(ours.total)), 1)
    ms = within_ms(lambda: ours.path(1 + rand.randrange(ours.total)), DRAWING_S, most=DRAWS)
    acceptance = ours.total / subject.lattice.total
    rival = Rejection(subject)
    rounds = max(3, min(500, int(200_000 * acceptance)))
    began = [processor_ms(lambda: rival.draw(rand, fits), 1) for _ in range(rounds)]
    theirs = sum(began) / len(began)
    _times_row(what, ms, theirs, 100, f"drawing until it fits, {acceptance:.2g} accepted")
