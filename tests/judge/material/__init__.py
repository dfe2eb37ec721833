"""What judging is checked against: labelled tunes, everyday patterns, broken licks, and licks by the thousand."""

import random
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import msgspec
import music21

from service.music.harmony import chord_named, key_named
from service.music.instruments import instrument_named
from service.music.licks import Change, Lick, Note
from service.music.meter import meter_named
from service.usecases.licks import Submission, read_lick

HERE = Path(__file__).parent
RYANS = Path(music21.__file__).parent / "corpus" / "ryansMammoth"
E = 240


@dataclass(frozen=True)
class Labelled:
    """A tune read from an installed music21, with chords by an accompanist's ear: one word a measure, ``G|D`` for two."""

    name: str
    key: str
    meter: str
    measures: tuple[
        tuple[tuple[tuple[int, int, int], ...], str], ...
    ]  # notes from the measure's start, its word

    def line(self) -> list[tuple[int, int, int]]:
        """All notes, the measures set one after the other at full length."""
        ticks = meter_named(self.meter).measure_ticks
        return [
            (i * ticks + onset, lasts, pitch)
            for i, (notes, _) in enumerate(self.measures)
            for onset, lasts, pitch in notes
        ]


def notes_of(path: Path) -> list[tuple[int, int, int]]:
    """(onset, duration, pitch) in ticks of a tune as written, repeats not expanded."""
    part = music21.converter.parse(path, format="abc").parts[0].flatten()
    return [
        (
            round(float(n.offset) * 480),
            round(float(n.quarterLength) * 480),
            n.pitch.midi if n.isNote else max(p.midi for p in n.pitches),
        )
        for n in part.notes
        if not n.duration.isGrace
    ]


@lru_cache(maxsize=1)
def labelled() -> tuple[Labelled, ...]:
    found = []
    for tune in tomllib.loads((HERE / "chords_by_ear.toml").read_text())["tune"]:
        ticks = meter_named(tune["meter"]).measure_ticks
        notes = notes_of(RYANS / tune["file"])
        measures = []
        for offset, word in zip(tune["offsets"], tune["chords"].split(), strict=True):
            start = round(offset * 480)
            inside = tuple((o - start, d, p) for o, d, p in notes if start <= o < start + ticks)
            measures.append((inside, word))
        found.append(Labelled(tune["file"], tune["key"], tune["meter"], tuple(measures)))
    return tuple(found)


def written(name: str) -> Iterator[tuple[Lick, int, str | None]]:
    """(lick, half notes a minute, fault) of ``everyday`` or ``broken``."""
    for table in tomllib.loads((HERE / f"{name}.toml").read_text())["lick"]:
        bpm, fault = table.pop("bpm"), table.pop("fault", None)
        sent = msgspec.convert({"text": table.pop("tab"), **table}, Submission)
        yield read_lick(sent)[1], bpm, fault


ROLLS = ("32514251", "32513251", "21521521", "32152152", "12512512", "32151231", "42514251", "31523152")
SHAPES = {  # frets on strings 4 3 2 1, computed against the chords' tones elsewhere
    "G": ((0, 0, 0, 0), (5, 4, 3, 5), (9, 7, 8, 9)),
    "C": ((2, 0, 1, 2), (10, 9, 8, 10), (5, 5, 5, 5)),
    "D": ((4, 2, 3, 4), (0, 2, 1, 0), (7, 7, 7, 7), (12, 11, 10, 12)),
    "Em": ((2, 0, 0, 2), (2, 4, 5, 2)),
    "F": ((3, 2, 1, 3), (3, 2, 1, 0)),
    "Am": ((2, 2, 1, 2),),
}


def made_licks(how_many: int, seed: int = 1) -> list[Lick]:
    """Realistic two-measure banjo licks: rolls over shapes with gaps, neighbours, ends with and without air, pickups."""
    draw = random.Random(seed)
    return [_made(draw, number) for number in range(how_many)]


def _made(draw: random.Random, number: int) -> Lick:
    banjo = instrument_named("banjo")
    chords = [draw.choice(sorted(SHAPES)) for _ in range(2)]
    end = draw.choice((16, 16, 15, 14, 14, 13))
    notes = []
    for measure in (0, 1):
        roll, shape = draw.choice(ROLLS), draw.choice(SHAPES[chords[measure]])
        for place, letter in enumerate(roll):
            string, slot = int(letter), 8 * measure + place
            if slot >= end or (slot and draw.random() < 0.12):
                continue
            fret = 0 if string == 5 else shape[4 - string]
            if string != 5 and draw.random() < 0.1:
                fret = max(0, fret + draw.choice((-2, -1, 1, 2)))
            notes.append(Note(slot * E, string, fret, E))
    if draw.random() < 0.2:
        eighths = draw.choice((1, 2, 3))
        notes += [
            Note(-(eighths - k) * E, draw.choice((3, 4)), draw.choice((0, 2, 4)), E) for k in range(eighths)
        ]
    style = draw.choice(["roll"] * 8 + ["melodic", "single-string"])
    changes = tuple(Change(1920 * i, chord_named(name)) for i, name in enumerate(chords))
    return Lick(f"made {number}", banjo, banjo.tuning("open-g"), "three-finger", style, meter_named("2/2"),
                key_named("G"), 3840, tuple(sorted(notes)), changes)  # fmt: skip
