"""Plain breaks of all tunes of a corpus from outside: how many can be played, how much of the melody is left, how long it takes.

    python -m tests.bench.arranging [EVERY]

The tunes are those that come with music21, a printed collection of fiddle tunes; EVERY takes only each so many. Nothing is asserted.
"""

import sys
from collections import Counter, defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import music21

from service.arrange.plain import Arrangement, arrange
from service.arrange.positions import proposed_settings
from service.errors import BreakwrightError
from service.music.instruments import instrument_named
from service.music.tunes import UNIT_TICKS, Tune
from service.notation.abc_tunes import read_abc
from service.usecases.bringing import proposal
from service.usecases.records import TuneRecord, tune_of
from tests.arrange.tunes import brought, corpus
from tests.bench.measuring import median_ms

INSTRUMENTS = ("banjo", "guitar", "mandolin", "fiddle", "resonator-guitar")
LEVELS = {"banjo": (1, 2, 3)}
ONE_MS, FIVE_MS = 1500, 6000
LITTLE = 0.5  # of the melody: a break that recalls less is named


def row(name: str, measured: str, target: str = "", baseline: str = "", ratio: str = "") -> None:
    print(f"| {name} | {measured} | {target} | {baseline} | {ratio} |", flush=True)


def main(every: int = 1) -> None:
    print("| what | measured | target | baseline of the same run | ratio |\n|---|---:|---:|---|---:|")
    times()
    breaks(every)


def times() -> None:
    """Of one tune of 32 measures, from its text to a judged break."""
    path = next(path for path in corpus() if path.stem.startswith("SoldiersJoy"))
    text = path.read_text(encoding="latin-1")
    theirs = median_ms(lambda: music21.converter.parseData(text, format="abc"), 3)
    one = median_ms(lambda: _whole(text, ("banjo",)), 3)
    five = median_ms(lambda: _whole(text, INSTRUMENTS), 3)
    reading = median_ms(lambda: read_abc(text), 9)
    row(
        "32 measures read, arranged and judged, banjo",
        f"{one:.0f} ms",
        f"≤ {ONE_MS} ms",
        f"music21 reads it: {theirs:.0f} ms",
        f"{one / theirs:.1f}",
    )
    row(
        "the same for five instruments",
        f"{five:.0f} ms",
        f"≤ {FIVE_MS} ms",
        "the same",
        f"{five / theirs:.1f}",
    )
    row("read alone, times faster", f"{theirs / reading:.0f} ×", "10 ×", "the same", "")


def _whole(text: str, instruments: tuple[str, ...]) -> None:
    read = proposal(read_abc(text).tunes[0])
    record = TuneRecord(read.name, read.key, read.meter, read.tempo, read.chart, melody=read.melody)
    made = tune_of("bench", record)
    for instrument in instruments:
        _arranged(made, instrument, 2)


def _arranged(made: Tune, instrument: str, level: int) -> Arrangement:
    return arrange(made, proposed_settings(made, instrument_named(instrument))[0].setting, level)


@dataclass(frozen=True)
class Found:
    """What came of a tune: for each instrument and level the share of the melody, top tempo over the tune's own, and findings."""

    name: str
    of: tuple[tuple[str, int, float, float, tuple[str, ...]], ...] = ()
    unread: str = ""


def breaks(every: int) -> None:
    start = perf_counter()
    with ProcessPoolExecutor() as workers:
        found = list(workers.map(_found, corpus()[::every]))
    read = [one for one in found if not one.unread]
    rows: dict[tuple[str, int], list[tuple[str, float, float]]] = defaultdict(list)
    said: Counter[tuple[str, str, int]] = Counter()
    for tune in read:
        for instrument, level, share, top, findings in tune.of:
            rows[instrument, level].append((tune.name, share, top))
            said.update((code, instrument, level) for code in findings)
    for (instrument, level), tunes in sorted(rows.items()):
        slow = [name for name, _, top in tunes if top < 1]
        shares = [share for _, share, _ in tunes]
        row(
            f"{instrument}, level {level}: playable at the tune's tempo",
            f"{len(tunes) - len(slow)} of {len(tunes)}",
            "≥ 99 %",
            ", ".join(slow[:6]),
        )
        row(
            f"{instrument}, level {level}: share of the melody, mean (least)",
            f"{sum(shares) / len(shares):.3f} ({min(shares):.2f})",
            "≥ .8" if level == 1 else "≥ .65",
            ", ".join(name for name, share, _ in tunes if share < LITTLE),
        )
    for (code, instrument, level), times_said in sorted(said.items()):
        row(f"{code}: {instrument}, level {level}", str(times_said))
    unread = [one.name for one in found if one.unread]
    row("files that cannot be read", str(len(unread)), "", ", ".join(unread))
    row("all of it", f"{perf_counter() - start:.0f} s")


def _found(path: Path) -> Found:
    try:
        made = brought(path)
    except BreakwrightError as error:
        return Found(path.stem, unread=type(error).__name__)
    bpm = made.tempo.start * UNIT_TICKS[made.tempo.unit] / made.meter.beat_ticks
    rows = []
    for instrument in INSTRUMENTS:
        for level in LEVELS.get(instrument, (2,)):
            of = _arranged(made, instrument, level)
            top = min((one.judged.hands.top_bpm or 0) / bpm for one in of.phrases)
            codes = tuple(finding.code for one in of.phrases for finding in one.judged.findings)
            rows.append((instrument, level, of.share, top, codes))
    return Found(path.stem, tuple(rows))


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
