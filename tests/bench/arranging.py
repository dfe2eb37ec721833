"""Plain breaks of all tunes of a corpus from outside: how many can be played, how much of the melody is left, how long it takes.

    python -m tests.bench.arranging [EVERY]

The tunes are those that come with music21, a printed collection of fiddle tunes; EVERY takes only each so many. Nothing is asserted.
"""

import sys
from collections import Counter, defaultdict
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


def breaks(every: int) -> None:
    shares: dict[tuple[str, int], list[float]] = defaultdict(list)
    slow: Counter[tuple[str, int]] = Counter()
    said: Counter[tuple[str, int, str]] = Counter()
    unread: list[str] = []
    start = perf_counter()
    for path in corpus()[::every]:
        made = _read(path, unread)
        if made is None:
            continue
        bpm = made.tempo.start * UNIT_TICKS[made.tempo.unit] / made.meter.beat_ticks
        for instrument in INSTRUMENTS:
            for level in LEVELS.get(instrument, (2,)):
                found = _arranged(made, instrument, level)
                of = (instrument, level)
                shares[of].append(found.share)
                slow[of] += any((one.judged.hands.top_bpm or 0) < bpm for one in found.phrases)
                said.update((*of, finding.code) for one in found.phrases for finding in one.judged.findings)
    for (instrument, level), every_share in sorted(shares.items()):
        tunes = len(every_share)
        playable = tunes - slow[instrument, level]
        row(f"{instrument}, level {level}: playable at the tune's tempo", f"{playable} of {tunes}", "≥ 99 %")
        row(
            f"{instrument}, level {level}: share of the melody, mean (least)",
            f"{sum(every_share) / tunes:.3f} ({min(every_share):.2f})",
            "≥ .8" if level == 1 else "≥ .65",
        )
    for (instrument, level, code), times_said in sorted(said.items()):
        row(f"{instrument}, level {level}: {code}", str(times_said))
    row("files that cannot be read", str(len(unread)), "", ", ".join(unread[:6]))
    row("all of it", f"{perf_counter() - start:.0f} s")


def _read(path: Path, unread: list[str]) -> Tune | None:
    try:
        return brought(path)
    except BreakwrightError as error:
        unread.append(f"{path.stem}: {type(error).__name__}")
        return None


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
