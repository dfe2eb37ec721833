"""Tunes to arrange: made of a chart and a melody, or read out of a corpus that is installed for the tests."""

import os
from functools import cache
from pathlib import Path

import music21

from service.music.tunes import Tune
from service.notation.abc_tunes import read_abc
from service.usecases.bringing import USUAL_TEMPI, proposal
from service.usecases.records import TuneRecord, tune_of

CORPUS = Path(os.path.dirname(music21.__file__)) / "corpus" / "ryansMammoth"


def tune(chart: str, melody: str, key: str = "G", meter: str = "2/2", name: str = "Bracken Lane") -> Tune:
    record = TuneRecord(name, key, meter, USUAL_TEMPI[meter], chart, melody=melody)
    return tune_of("bracken-lane", record)


@cache
def corpus() -> tuple[Path, ...]:
    """1,059 dance tunes of the nineteenth century, as music21 brings them along."""
    return tuple(sorted(CORPUS.glob("*.abc")))


def brought(path: Path) -> Tune:
    """A tune of the corpus, its chords proposed from the melody."""
    read = proposal(read_abc(path.read_text(encoding="latin-1")).tunes[0])
    record = TuneRecord(
        read.name or path.stem, read.key, read.meter, read.tempo, read.chart, melody=read.melody or None
    )
    return tune_of("corpus", record)
