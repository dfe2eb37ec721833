"""Pictures, sheets and sound: each against a baseline of the same run, and what all of it does to the service."""

import asyncio
import concurrent.futures
import contextlib
import gc
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from time import perf_counter

import httpx
import psutil

from service.app import open_house
from service.engrave.looks import PHONE, paper
from service.engrave.paint import THEMES
from service.engrave.sheets import Music, Sheet, Tempo, Title, laid_out
from service.engrave.svg import write_svg
from service.engrave.typeset import PNG_SCALE, write_pdf, write_png
from service.music.breaks import part_of
from service.music.scores import Score
from service.notation.musicxml import write_musicxml
from service.sound.encoding import encoded
from service.sound.notes import NoteCache
from service.sound.playing import play
from service.usecases.breaks import draw_break
from service.usecases.identify import Caller
from service.usecases.playing import Wanted, plan_of
from service.usecases.scores import break_score
from service.usecases.seeding import DEMO_GROUP, seed_demo
from service.usecases.wishes import Wish
from tests.bench.filled import settings_for
from tests.bench.measuring import head, median_ms, processor_ms, row, timed_row, told

BREAKS = 24  # different ones, so that nothing is drawn from memory
SVG_MS, FASTER = 3.0, 4.0
PNG_MS, PDF_MS, SOUND_MS = 60.0, 20.0, 3000.0
MINUTE_KIB = 500
BLOCKED_MS, SERVICE_MB, RENDERS = 10.0, 300.0, 500
GROUP = f"/v1/groups/{DEMO_GROUP}"


def rendering() -> None:
    head()
    scores = asyncio.run(_scores())
    halves = [_half(score) for score in scores]
    gc.collect()
    gc.freeze()  # as a worker does
    _pictures(halves, scores)
    _sound(scores[0])
    _service()


async def _scores() -> list[Score]:
    with tempfile.TemporaryDirectory() as folder:
        async with open_house(settings_for(Path(folder))) as house:
            await seed_demo(house)
            caller = Caller(1, "operator", None, None)
            made = [
                await draw_break(house, caller, DEMO_GROUP, "heron-ferry", Wish(), seed)
                for seed in range(BREAKS)
            ]
            return [break_score(each, each.passage()).score for each in made]


def _half(score: Score) -> Score:
    """The first sixteen measures."""
    passage = part_of(score.passage, 0, 16)
    inside = [span for span in score.phrases if span.onset < passage.ticks]
    return replace(
        score,
        passage=replace(passage, changes=tuple(c for c in score.passage.changes if c.onset < passage.ticks)),
        phrases=tuple(inside),
        sections=tuple(s for s in score.sections if s.onset < passage.ticks),
    )


def _sheet(score: Score) -> Sheet:
    return Sheet(score.title, "", "{page} of {pages}", (Title(score.title), Tempo(score.beat), Music(score)))


def _one_by_one(scores: Sequence[Score], work: Callable[[Score], object]) -> Callable[[], object]:
    """Work on another score each time."""
    following = iter(list(scores) * 50)
    return lambda: work(next(following))


def _pictures(halves: Sequence[Score], scores: Sequence[Score]) -> None:
    import verovio

    def svg(score: Score) -> list[str]:
        return [write_svg(page, THEMES["light"]) for page in laid_out(_sheet(score), PHONE)]

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    files = {id(score): write_musicxml(score).decode() for score in halves}

    def rival(score: Score) -> str:
        toolkit.loadData(files[id(score)])
        return str(toolkit.renderToSVG(1))

    rounds = BREAKS - 1
    theirs = processor_ms(_one_by_one(halves, rival), rounds)
    ours = processor_ms(_one_by_one(halves, svg), rounds)
    timed_row("16 measures as SVG", ours, SVG_MS, "verovio", theirs)
    row("the same, how much faster", f"{theirs / ours:.1f} ×", f"{FASTER:g} ×", "verovio", "")
    base = processor_ms(lambda: sum(ord(c) for c in svg(halves[0])[0][-60_000:]), 5)
    for scale, most in (
        (PNG_SCALE, None),
        (1170 / PHONE.width, PNG_MS),
    ):  # as it is sent, and as the target was set for
        png = median_ms(
            _one_by_one(halves, partial(_png, scale=scale)),
            rounds,
        )
        wide = f"{PHONE.width * scale:,.0f}"
        timed_row(f"the same as PNG, {wide} pixels wide", png, most, "going through the SVG's letters", base)
    pdf = median_ms(_one_by_one(scores, lambda s: write_pdf(laid_out(_sheet(s), paper()))), rounds)
    timed_row("32 measures as PDF", pdf, PDF_MS, "going through the SVG's letters", base)


def _png(score: Score, scale: float) -> bytes:
    return write_png(laid_out(_sheet(score), PHONE)[0], THEMES["light"], scale)


def _sound(score: Score) -> None:
    plan = plan_of(score, Wanted((64, 64), click=True))

    def cold() -> bytes:
        return encoded(play(plan, NoteCache()))[0].data

    began = perf_counter()
    data = cold()
    ms = (perf_counter() - began) * 1000
    seconds = float(play(plan, NoteCache()).seconds)
    timed_row(
        f"{seconds:.0f} s of lead, band and click as MP3, no note kept", ms, SOUND_MS * seconds / 120, "its length",
        seconds * 1000,
    )  # fmt: skip
    kib = len(data) / 1024 * 60 / seconds
    row("a minute of it", f"{kib:.0f} KiB", f"≤ {MINUTE_KIB} KiB", "16 bit samples: 5,168 KiB", kib / 5168)


@dataclass
class _Watched:
    client: httpx.Client
    process: psutil.Process
    ask: Callable[[], float]

    def megabytes(self) -> float:
        everybody = [self.process, *self.process.children(recursive=True)]
        return sum(each.memory_full_info().uss for each in everybody) / 1e6


@contextlib.contextmanager
def _watched() -> Iterator[_Watched]:
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "tests.bench.ticking", folder]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as child:
            assert child.stdin is not None
            assert child.stdout is not None
            address, token = child.stdout.readline().split()
            stdin, stdout = child.stdin, child.stdout

            def ask() -> float:
                stdin.write("\n")
                stdin.flush()
                return float(stdout.readline())

            limits = httpx.Limits(max_connections=32)
            bearer = {"Authorization": f"Bearer {token}"}
            with httpx.Client(base_url=address, headers=bearer, timeout=300, limits=limits) as client:
                yield _Watched(client, psutil.Process(child.pid), ask)
            stdin.close()


def _service() -> None:
    with _watched() as watched, concurrent.futures.ThreadPoolExecutor(12) as crowd:
        client = watched.client
        codes = [
            client.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": seed}).json()["code"]
            for seed in range(BREAKS)
        ]
        # workers begin with the service, while breaks are asked for
        began = perf_counter()
        client.get(f"{GROUP}/licks/1/tab.png").raise_for_status()
        row("the first picture after the start", told((perf_counter() - began) * 1000))
        watched.ask()
        asyncio.run(asyncio.sleep(1))
        idle = watched.ask()
        wanted = [f"breaks/{code}/sheet.pdf" for code in codes[:8]]
        wanted += [f"breaks/{code}/break.mp3" for code in codes[:4]]
        for answer in crowd.map(lambda path: client.get(f"{GROUP}/{path}"), wanted):
            answer.raise_for_status()
        late = watched.ask()
        missed = " (missed)" if late > BLOCKED_MS else ""
        row(
            "a tick of the event loop late at worst, 8 sheets and 4 sounds at once",
            f"{late:.1f} ms{missed}", f"≤ {BLOCKED_MS:g} ms", f"idle: {idle:.1f} ms", late / max(idle, 0.01),
        )  # fmt: skip
        before = watched.megabytes()
        files = (
            "tab.png",
            "tab.svg",
            "sheet.pdf",
            "break.mid",
            "break.musicxml",
            "break.mp3?rounds=1",
            "read-out.txt",
        )
        paths = [
            f"breaks/{codes[n % BREAKS]}/{'' if n % 3 else f'loops/{1 + n % 16}/'}{files[n % len(files)]}"
            f"{'&' if '?' in files[n % len(files)] else '?'}tempo={60 + n // BREAKS}"
            for n in range(RENDERS)
        ]
        for answer in crowd.map(lambda path: client.get(f"{GROUP}/{path}"), paths):
            answer.raise_for_status()
        used = watched.megabytes()
        missed = " (missed)" if used > SERVICE_MB else ""
        row(
            f"memory of the service and its workers after {RENDERS} renders",
            f"{used:.0f} MB{missed}", f"< {SERVICE_MB:g} MB", f"after 13: {before:.0f} MB", used / before,
        )  # fmt: skip
