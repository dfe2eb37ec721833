"""Judging: milliseconds, each beside a baseline of the same run."""

import random
import time
from collections.abc import Callable
from itertools import pairwise, product

import music21

from service.judge.hands import lick_hands
from service.judge.joins import judge_join, lick_edges
from service.judge.judgement import judge_lick
from service.judge.left_hand import left_hand
from service.judge.melody import recall
from service.judge.naming import name_chords
from service.judge.right_hand import PICKINGS
from service.judge.twins import TwinIndex, shape_of
from service.music.licks import Lick
from service.music.meter import meter_named
from service.usecases.licks import read_lick
from service.usecases.seeding import load_fixtures
from tests.judge.material import made_licks, notes_of

Show = Callable[[str, str, str, str], None]
Median = Callable[[Callable[[], object], int], float]


def judging(show: Show, median_ms: Median) -> None:
    licks = [read_lick(sent)[1] for sent in load_fixtures().licks]
    two = [lick for lick in licks if lick.ticks == 2 * lick.meter.measure_ticks]
    ms = median_ms(lambda: [judge_lick(lick) for lick in two], 3) / len(two)
    brute = median_ms(lambda: _all_fingerings(two[0]), 3)
    show(
        "judging a two-measure lick, all of it", f"{ms:.2f} ms",
        f"{ms / brute:.5f} of brute force over its right hand", "at most 2 ms",
    )  # fmt: skip
    line = [(o, d, p) for o, d, p in notes_of(_corpus("SoldiersJoy.abc"))]
    ours = median_ms(lambda: name_chords(line, "2/4", "D", 16), 5)
    theirs = median_ms(lambda: _music21_names(line), 3)
    show(
        "naming the chords of 16 measures", f"{ours:.2f} ms",
        f"{ours / theirs:.3f} of music21 naming each measure's notes", "",
    )  # fmt: skip


def _all_fingerings(lick: Lick) -> int:
    """Every way to give three fingers to the first ten picked notes, the worst repeat of each."""
    notes = [note for note in lick.notes if note.technique is None][:10]
    reach = PICKINGS["roll"].reach
    best = len(notes)
    for fingers in product("TIM", repeat=len(notes)):
        if all(note.string in reach[finger] for finger, note in zip(fingers, notes, strict=True)):
            best = min(best, sum(a == b for a, b in pairwise(fingers)))
    return best


def _corpus(name: str):  # type: ignore[no-untyped-def]
    from tests.judge.material import RYANS

    return RYANS / name


def _music21_names(line: list[tuple[int, int, int]]) -> list[str]:
    found = []
    for measure in range(16):
        pitches = [p for o, _, p in line if measure * 960 <= o < (measure + 1) * 960]
        if pitches:
            found.append(music21.chord.Chord(sorted(set(pitches))).commonName)
    return found


def twins(show: Show, median_ms: Median) -> None:
    """100,000 licks: 4,000 realistic ones, each in 25 variations."""
    made = [shape_of(lick) for lick in made_licks(4000)]
    draw = random.Random(1)
    shapes = {}
    for number in range(100_000):
        shape = bytearray(made[number % len(made)])
        for _ in range(4):
            cell = draw.randrange(len(shape))
            if shape[cell] != 255:
                shape[cell] = draw.randrange(12)
        shapes[number] = bytes(shape)
    began = time.perf_counter()
    index = TwinIndex(shapes)
    loaded = time.perf_counter() - began
    ms = median_ms(lambda: index.nearest(made[0]), 20)
    part = [shapes[number] for number in range(500)]
    plain = median_ms(lambda: [_edit_distance(made[0], other) for other in part], 1) * len(shapes) / len(part)
    show(
        "twins among 100,000 licks", f"{ms:.1f} ms",
        f"{ms / plain:.6f} of plain edit distance (index ready in {loaded:.2f} s)", "at most 50 ms, index 2 s",
    )  # fmt: skip


def _edit_distance(one: bytes, other: bytes) -> int:
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        before, row[0] = row[0], i
        for j, b in enumerate(other, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (a != b))
    return row[-1]


def joins(show: Show, median_ms: Median) -> None:
    licks = made_licks(5000)
    edges = [lick_edges(lick, left_hand(lick.notes, lick.instrument)) for lick in licks]
    scale = licks[0].instrument.scale_mm

    def as_classes() -> int:
        judge_join.cache_clear()
        entries = {e.entry for e in edges}
        exits = {x for e in edges for x in e.exits}
        return sum(judge_join(x, e, scale).load > 0 for x in exits for e in entries)

    ms = median_ms(as_classes, 5)
    part = edges[:100]

    def each() -> int:
        return sum(
            judge_join.__wrapped__(a.exits[min(b.entry.cut, 3)], b.entry, scale).load > 0
            for a in part
            for b in part
        )

    plain = median_ms(each, 1) * (len(edges) / len(part)) ** 2
    kinds = len({e.entry for e in edges}) + len({x for e in edges for x in e.exits})
    show(
        f"all joins of 5,000 licks ({kinds} classes)", f"{ms:.0f} ms",
        f"{ms / plain:.6f} of judging all 25 million pairs", "at most 300 ms",
    )  # fmt: skip
    hands = median_ms(lambda: [lick_hands(lick) for lick in licks[:200]], 1) / 200
    show("both hands of a realistic lick", f"{hands:.2f} ms", "", "")


def likeness(show: Show, median_ms: Median) -> None:
    """The same title in two collections of an installed music21: where the other version ranks by likeness."""
    pairs, others = _same_titles()
    cut = meter_named("2/2")
    ours, plain = [], []
    for one, other in pairs:
        lines = [other, *[line for line in others if line is not other]]
        mine = [_recalled(one, line, cut) for line in lines]
        ours.append(sum(value > mine[0] for value in mine[1:]) + 1)
        steps = [_edit_distance(_intervals(one), _intervals(line)) for line in lines]
        plain.append(sum(value < steps[0] for value in steps[1:]) + 1)
    if not pairs:
        return
    top = sum(rank == 1 for rank in ours) / len(ours)
    base = sum(rank == 1 for rank in plain) / len(plain)
    show(
        f"same tune in two collections first of {len(others)}", f"{top:.2f}",
        f"interval edit distance finds {base:.2f} (median ranks {_median(ours)} and {_median(plain)})", "",
    )  # fmt: skip


def _median(values: list[int]) -> int:
    return sorted(values)[len(values) // 2]


def _recalled(one: list[tuple[int, int, int]], other: list[tuple[int, int, int]], meter) -> float:  # type: ignore[no-untyped-def]
    """The best share over twelve keys."""
    end = max(o + d for o, d, _ in one)
    return max(recall([(o, d, p + by) for o, d, p in other], one, meter, end).share for by in range(12))


def _intervals(line: list[tuple[int, int, int]]) -> bytes:
    pitches = [p for _, _, p in line]
    return bytes((b - a) % 256 for a, b in pairwise(pitches))


def _same_titles() -> tuple[list[tuple[list, list]], list[list]]:  # type: ignore[type-arg]
    """First eight beats of tunes in 4/4, 2/4 or cut time that Ryan's and O'Neill's collections share by title."""
    import re

    from tests.judge.material import RYANS

    oneill: dict[str, str] = {}
    for path in sorted((RYANS.parent / "oneills1850").glob("*.abc")):
        for tune in re.split(r"(?m)^(?=X:)", path.read_text("utf-8", errors="replace")):
            title = re.search(r"(?m)^T:\s*(.+)$", tune)
            if title:
                oneill.setdefault(_key(title.group(1)), tune)
    pairs, others = [], []
    for path in sorted(RYANS.glob("*.abc")):
        title = re.search(r"(?m)^T:\s*(.+)$", path.read_text("utf-8", errors="replace"))
        text = oneill.get(_key(title.group(1))) if title else None
        if text is None:
            continue
        one, other = _opening(path.read_text("utf-8", errors="replace")), _opening(text)
        if one and other:
            pairs.append((one, other))
            others.append(other)
        if len(pairs) == 60:
            break
    return pairs, others


def _key(title: str) -> str:
    import re

    words = re.findall(r"[a-z]+", title.lower())
    return " ".join(w for w in words if w not in ("the", "reel", "hornpipe", "jig", "a"))


def _opening(text: str) -> list[tuple[int, int, int]]:
    """The first 32 notes of a tune, eighths and sixteenths brought to one scale, from its first full measure."""
    try:
        score = music21.converter.parseData(text, format="abc")
        part = (score.parts[0] if score.parts else score).flatten()
    except Exception:
        return []
    signature = next(iter(part.getElementsByClass(music21.meter.TimeSignature)), None)
    if signature is None or signature.ratioString not in ("2/4", "4/4", "2/2"):
        return []
    factor = 960 if signature.ratioString == "2/4" else 480
    notes = [n for n in part.notes if n.isNote and not n.duration.isGrace][:40]
    strong = [n for n in notes if n.beatStrength == 1]
    if not strong:
        return []
    start = strong[0].offset
    return [
        (round(float(n.offset - start) * factor), round(float(n.quarterLength) * factor), n.pitch.midi)
        for n in notes
        if n.offset >= start
    ][:32]
