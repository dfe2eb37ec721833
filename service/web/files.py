"""Every file that a subject can be asked for, by its name."""

from bisect import bisect_right
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl, urlencode

import msgspec
from litestar import Response

from schemas.sounds import SoundFileOut, SoundOut, WorkUpTempo
from service.engrave.sheets import Sheet
from service.errors import NotFound
from service.music.passages import Passage
from service.music.scores import Score
from service.notation.midi import write_midi
from service.notation.musicxml import write_musicxml
from service.notation.tab_writer import PHONE_WIDTH, WIDE_WIDTH, write_tab
from service.usecases.house import House
from service.usecases.playing import LEAD, Wanted, plan_of
from service.usecases.render_jobs import pdf_sheet, png_pages, sound_files, svg_pages
from service.usecases.renders import Made, Order, Ordering, key_of
from service.usecases.scores import with_left
from service.web.drawn import sheet_of
from service.web.options import Drawing, Sounding
from service.web.parts import Asked, house_of, language
from service.web.read_out import described, read_out_text
from service.web.served import file_answer, not_modified
from service.web.subjects import Load, Shown, Subject, behind_capo, capo_of, credits
from service.wording import say

SOUNDS = ("mp3", "ogg", "flac", "wav")
LONG_S = (
    180.0  # seconds of sound: longer ones take longer than somebody who wants a picture waits gladly; ours
)


@dataclass(frozen=True, slots=True)
class Ask:
    """A request for a file of what is shown. ``load`` makes the score that most files need; sheets of tunes have none."""

    request: Asked
    shown: Shown
    what: str
    drawing: Drawing
    sounding: Sounding
    load: Load | None = None

    @property
    def suffix(self) -> str:
        return self.what.rpartition(".")[2]

    @property
    def language(self) -> str:
        return language(self.request)

    @property
    def house(self) -> House:
        return house_of(self.request)

    async def subject(self) -> Subject:
        """At the tempo and behind the capo that were asked for, with the left hand's fingers where they are wanted."""
        if self.load is None:
            raise TypeError("a sheet without a score has no other files")
        found = await self.load()
        score = replace(
            behind_capo(found.score, capo_of(found.score, self.drawing)),
            credits=credits(found.rights, self.language),
        )
        if self.drawing.hands == "both":
            score = await self.house.think(lambda: with_left(score))
        return replace(found, score=score)


async def answer(ask: Ask) -> Response[bytes]:
    """The file. Raises NotFound ``no-such-file`` or ``no-such-page``, and what making it raises."""
    make = FILES.get(ask.what)
    if make is None:
        raise NotFound("no-such-file", what=ask.what, known=", ".join(FILES))
    return await make(ask)


async def sheet_answer(ask: Ask, sheet: Callable[[], Awaitable[Sheet]]) -> Response[bytes]:
    """A sheet as picture or PDF, made by a worker."""
    drawing = ask.drawing
    told = (ask.shown.identity, ask.what, drawing.told, ask.language)

    async def order() -> Order:
        drawn = await sheet()
        if ask.suffix == "pdf":
            return Order(pdf_sheet, (drawn, drawing.paper, drawing.large))
        job = svg_pages if ask.suffix == "svg" else png_pages
        return Order(job, (drawn, drawing.layout, drawing.theme, drawing.large))

    return await _made(ask, told, 0 if ask.suffix == "pdf" else drawing.page - 1, order)


async def _made(ask: Ask, told: tuple[object, ...], number: int, order: Ordering) -> Response[bytes]:
    """One file of what a worker makes; neighbours are named in a Link header (RFC 8288)."""
    key = key_of(told)
    tag = f"{key}-{number + 1}"
    same = not_modified(ask.request, tag)
    if same is not None:
        return same
    made, body = await ask.house.renders.part(ask.shown.group_id, key, number, order)
    if body is None:
        raise NotFound("no-such-page", page=number + 1, pages=len(made.sizes))
    return file_answer(
        ask.request, body, ask.suffix, _name(ask, number, made), tag, _neighbours(ask, number, made)
    )


def _stem(ask: Ask) -> str:
    """What a file is called: after what it shows, and what of it that is where it is not plain."""
    kind = ask.what.rpartition(".")[0]
    return f"{ask.shown.name}-{kind}" if kind in ("work-up", "read-out", "alt") else ask.shown.name


def _name(ask: Ask, number: int, made: Made) -> str:
    stem = _stem(ask)
    return stem if len(made.sizes) == 1 else f"{stem}-{number + 1}"


def _neighbours(ask: Ask, number: int, made: Made) -> dict[str, str]:
    links = []
    for relation, page in (("prev", number), ("next", number + 2)):
        if 1 <= page <= len(made.sizes):
            links.append(f'<{_on_page(ask, ask.request.url.path, page)}>; rel="{relation}"')
    return {"link": ", ".join(links)} if links else {}


def _on_page(ask: Ask, path: str, page: int) -> str:
    """The same question for another page."""
    asked = [pair for pair in parse_qsl(ask.request.url.query) if pair[0] != "page"]
    return f"{path}?{urlencode([*asked, ('page', page)])}"


async def _sheet(ask: Ask) -> Response[bytes]:
    async def sheet() -> Sheet:
        subject = await ask.subject()
        paper = ask.suffix == "pdf"
        return await ask.house.think(lambda: sheet_of(subject, ask.drawing, ask.language, paper=paper))

    return await sheet_answer(ask, sheet)


async def _written(ask: Ask, write: Callable[[Score], bytes], *more: object) -> Response[bytes]:
    """A small file, written on the spot but off the loop; ``more`` is what else decides its bytes."""
    key = key_of(ask.shown.identity, ask.what, ask.drawing.told, ask.language, *more)
    same = not_modified(ask.request, key)
    if same is not None:
        return same
    score = (await ask.subject()).score
    body = await ask.house.think(lambda: write(score))
    return file_answer(ask.request, body, ask.suffix, _stem(ask), key)


async def _tab(ask: Ask) -> Response[bytes]:
    phone = ask.drawing.layout == "phone"

    def write(score: Score) -> bytes:
        left = score.left if ask.drawing.hands == "both" else None
        width = PHONE_WIDTH if phone else WIDE_WIDTH
        remarks = {
            bisect_right(score.passage.starts, span.onset): span.label for span in score.phrases if span.rest
        }
        return write_tab(score.passage, width=width, phone=phone, left=left, remarks=remarks).encode()

    return await _written(ask, write)


async def _midi(ask: Ask) -> Response[bytes]:
    rounds = ask.sounding.rounds or 1
    return await _written(
        ask,
        lambda score: write_midi(score, _band(score, ask.sounding), rounds=rounds),
        ask.sounding.told,
    )


async def _musicxml(ask: Ask) -> Response[bytes]:
    return await _written(ask, lambda score: write_musicxml(with_left(score)))


async def _read_out(ask: Ask) -> Response[bytes]:
    return await _written(ask, lambda score: read_out_text(score, ask.language).encode())


async def _alt(ask: Ask) -> Response[bytes]:
    """What a picture shows, as long as chats take for a description."""
    return await _written(ask, lambda score: described(score, ask.language).encode())


def _band(score: Score, sounding: Sounding) -> list[tuple[str, Passage]]:
    """The band's parts for a file of notes, but for those that are muted."""
    plan = plan_of(score, Wanted((score.beat.bpm,), sounding.mute - {LEAD}))
    return [(part.name, part.passage) for part in plan.parts if not part.lead and part.name not in plan.muted]


def _work_up(what: str) -> bool:
    return what.startswith("work-up.")


def _sound_order(ask: Ask, kind: str) -> Ordering:
    async def order() -> Order:
        score = (await ask.subject()).score
        wanted = ask.sounding.wanted(score.beat.bpm, str(ask.shown.identity[0]), work_up=_work_up(ask.what))
        limit = ask.house.settings.file_limit_mib << 20
        seconds = sum(score.passage.ticks / score.beat.ticks * 60 / bpm for bpm in wanted.rounds)
        return Order(sound_files, (score, wanted, kind, limit), long=seconds > LONG_S)

    return order


def _sound_told(ask: Ask, kind: str) -> tuple[object, ...]:
    drawing = ask.drawing
    limit = ask.house.settings.file_limit_mib
    return (
        ask.shown.identity, _work_up(ask.what), kind, limit, drawing.tempo, drawing.capo, drawing.key, drawing.hide,
        ask.sounding.told,
    )  # fmt: skip


async def _sound(ask: Ask) -> Response[bytes]:
    return await _made(ask, _sound_told(ask, ask.suffix), ask.drawing.page - 1, _sound_order(ask, ask.suffix))


async def _sound_list(ask: Ask) -> Response[bytes]:
    """What the MP3 is like: its files, how long they last, where each tempo begins, and cautions."""
    key = key_of(_sound_told(ask, "mp3"))
    made = await ask.house.renders.made(ask.shown.group_id, key, _sound_order(ask, "mp3"))
    path = ask.request.url.path.removesuffix("json") + "mp3"
    files = [
        SoundFileOut(
            link=_on_page(ask, path, number),
            bytes=size,
            seconds=seconds,
            first_round=rounds[0],
            last_round=rounds[1],
        )
        for number, (size, seconds, rounds) in enumerate(
            zip(made.sizes, made.facts["seconds"], made.facts["rounds"], strict=True), 1
        )
    ]
    told = SoundOut(
        files=files,
        unit=made.facts["unit"],
        tempos=[WorkUpTempo(bpm=bpm, starts=at) for bpm, at in made.facts["tempos"]],
        seconds=round(sum(made.facts["seconds"]), 3),
        cautions=[say(code, {}, ask.language) for code in ("caution-hearing", "caution-playing")],
    )
    return Response(msgspec.json.encode(told), media_type="application/json")


FILES: dict[str, Callable[[Ask], Awaitable[Response[bytes]]]] = {
    "tab.txt": _tab,
    "tab.svg": _sheet,
    "tab.png": _sheet,
    "sheet.pdf": _sheet,
    "break.mid": _midi,
    "break.musicxml": _musicxml,
    **{f"break.{kind}": _sound for kind in SOUNDS},
    **{f"work-up.{kind}": _sound for kind in SOUNDS},
    "break.json": _sound_list,
    "work-up.json": _sound_list,
    "read-out.txt": _read_out,
    "alt.txt": _alt,
}
