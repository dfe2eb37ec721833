"""Practice logs, progress in numbers and as a picture, and what comes up again."""

from datetime import date
from typing import Annotated, Any

from litestar import Response, delete, get, post, put
from litestar.params import FromPath, JSONBody, QueryParameter

from schemas.base import Sentence
from schemas.practice import (
    CleanTempo,
    DueList,
    DueOut,
    LoggedOut,
    LogIn,
    LogList,
    LogOut,
    NextTempo,
    PieceProgressOut,
    PracticeChoicesIn,
    PracticeChoicesOut,
    ProgressOut,
    WeekMinutes,
)
from service.engrave.plots import Plot
from service.errors import DomainError
from service.groups.work_ups import DAYS_LOOKED_AT
from service.store.practice import ChoicesRow, LogRow
from service.usecases import practice as usecases
from service.usecases.audited import NEWEST
from service.usecases.pieces import Piece, read_piece, wished_piece
from service.usecases.practice import PLAY_CAUTION_MIN, Logged, Wanted
from service.usecases.progress import PieceProgress, Progress, progress_of
from service.usecases.render_jobs import png_plot
from service.usecases.renders import Order, key_of
from service.web.options import ThemeShown
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    Limit,
    caller_of,
    house_of,
    language,
    page,
    problems,
    read_number_cursor,
    repeatable,
)
from service.web.routes.people import Id, MemberNumber
from service.web.served import file_answer, not_modified
from service.wording import say

OfMember = Annotated[
    int | None,
    QueryParameter(
        name="member", ge=1, le=9_999_999, description="A member who shares it, by number; else yourself."
    ),
]
OfLick = Annotated[int | None, QueryParameter(name="lick", ge=1, le=9_999_999, description="Of one lick.")]
OfBreak = Annotated[
    str | None, QueryParameter(name="break", max_length=20, description="Of one break, by its code.")
]
OfPhrase = Annotated[
    int | None,
    QueryParameter(name="phrase", ge=1, le=512, description="The loop of this phrase of the break."),
]


def log_parts(row: LogRow) -> dict[str, Any]:
    """What is shown of a log."""
    piece = read_piece(row.piece)
    return {
        "id": row.id,
        "lick": piece.lick,
        "break_": piece.code,
        "phrase": piece.phrase,
        "day": date.fromisoformat(row.day),
        "bpm": row.bpm,
        "unit": row.unit,
        "clean": row.clean,
        "passes": row.passes,
        "without_tab": row.without_tab,
        "from_memory": row.from_memory,
        "minutes": row.minutes,
        "created": row.created,
    }


def _long_day(minutes: int, language: str) -> list[Sentence]:
    if minutes <= PLAY_CAUTION_MIN:
        return []
    params = {"minutes": minutes}
    code = "caution-long-day"
    return [Sentence(code=code, params=params, text=say(code, params, language))]


@get(
    "/v1/groups/{group:str}/practice-logs",
    tags=["practice"],
    summary="Your own logs, newest first",
    responses=problems(),
)
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None
) -> Response[LogList]:
    before = read_number_cursor(cursor) or NEWEST
    found = usecases.list_logs(house_of(request), caller_of(request), group, before, limit + 1)
    shown, following, headers = page(request, found, limit, lambda row: row.id)
    items = [LogOut(**log_parts(row)) for row in shown]
    return Response(LogList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/practice-logs",
    tags=["practice"],
    summary="Log practice of a lick, a break or a loop; the answer says which tempo comes next",
    responses=problems(409, 422, 451, 503),
)
async def add(
    request: Asked, group: FromPath[str], data: JSONBody[LogIn], idempotency_key: IdempotencyKey = None
) -> Response[LoggedOut]:
    spoken = language(request)

    def made(logged: Logged) -> tuple[LoggedOut, int, dict[str, str]]:
        advice, unit = logged.next, logged.row.unit
        params = {"bpm": advice.bpm, "unit": unit}
        following = NextTempo(
            bpm=advice.bpm,
            unit=unit,
            code=advice.code,
            text=say(f"work-up-{advice.code}", params, spoken),
        )
        cautions = _long_day(logged.minutes, spoken)
        return LoggedOut(**log_parts(logged.row), next=following, cautions=cautions), 201, {}

    wanted = Wanted(
        wished_piece(data.lick, data.break_, data.phrase),
        data.bpm,
        data.clean,
        data.passes,
        data.without_tab,
        data.from_memory,
        data.minutes,
        data.day,
    )
    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.log_practice(house_of(request), caller_of(request), group, wanted, once),
    )


@delete(
    "/v1/groups/{group:str}/practice-logs/{log:int}",
    tags=["practice"],
    summary="Take a log of your own away",
    responses=problems(503),
)
async def drop(request: Asked, group: FromPath[str], log: Id) -> None:
    await usecases.drop_log(house_of(request), caller_of(request), group, log)


@get(
    "/v1/groups/{group:str}/practice-logs/due",
    tags=["practice"],
    summary="What you asked to be reminded of and is due by today",
    responses=problems(),
)
async def due(request: Asked, group: FromPath[str]) -> DueList:
    items = []
    for row in usecases.due_pieces(house_of(request), caller_of(request), group):
        piece = read_piece(row.piece)
        items.append(
            DueOut(
                lick=piece.lick,
                break_=piece.code,
                phrase=piece.phrase,
                due=date.fromisoformat(row.due),
                step=row.step,
            )
        )
    return DueList(items=items)


def _piece(lick: int | None, code: str | None, phrase: int | None) -> Piece | None:
    """None asks for everything."""
    return None if lick is None and code is None and phrase is None else wished_piece(lick, code, phrase)


def plot_of(piece: Piece, found: PieceProgress | None, language: str) -> Plot:
    """The picture of a piece, with the words on it and those that describe it."""
    if piece.lick is not None:
        title = say("plot-lick", {"lick": piece.lick}, language)
    else:
        kind = "plot-break" if piece.phrase is None else "plot-loop"
        title = say(kind, {"code": piece.code, "phrase": piece.phrase}, language)
    if found is None or not found.clean:
        empty = say("plot-empty", {}, language)
        return Plot(title, empty, f"{title}: {empty}", (), ())
    told = {
        "title": title,
        "first": found.clean[0][0].isoformat(),
        "last": found.clean[-1][0].isoformat(),
        "low": found.clean[0][1],
        "high": found.rises[-1][1],
        "unit": found.unit,
    }
    note, described = (say(code, told, language) for code in ("plot-note", "plot-alt"))
    return Plot(title, note, described, found.clean, found.rises)


def _one(progress: Progress) -> PieceProgress | None:
    """What was practised last of a single piece: one that was put into another meter counts anew."""
    return progress.pieces[-1] if progress.pieces else None


def piece_out(found: PieceProgress) -> PieceProgressOut:
    rises = [CleanTempo(day=day, bpm=bpm) for day, bpm in found.rises]
    return PieceProgressOut(
        lick=found.piece.lick,
        break_=found.piece.code,
        phrase=found.piece.phrase,
        unit=found.unit,
        days=found.days,
        best=rises[-1] if rises else None,
        rises=rises,
    )


@get(
    "/v1/groups/{group:str}/practice-logs/progress",
    tags=["practice"],
    summary="Progress in numbers: your own, or that of a member who shares it",
    responses=problems(422),
)
async def progress(
    request: Asked,
    group: FromPath[str],
    member: OfMember = None,
    lick: OfLick = None,
    code: OfBreak = None,
    phrase: OfPhrase = None,
) -> ProgressOut:
    piece, spoken = _piece(lick, code, phrase), language(request)
    found = await progress_of(house_of(request), caller_of(request), group, member, piece)
    caution = "caution-playing"
    return ProgressOut(
        member=found.member,
        pieces=[piece_out(one) for one in found.pieces],
        days_played=found.days,
        of_days=DAYS_LOOKED_AT,
        weeks=[WeekMinutes(week=week, minutes=minutes) for week, minutes in found.weeks],
        cautions=[
            Sentence(code=caution, params={}, text=say(caution, {}, spoken)),
            *_long_day(found.today, spoken),
        ],
        picture=None if piece is None else plot_of(piece, _one(found), spoken).description,
    )


@get(
    "/v1/groups/{group:str}/practice-logs/progress.png",
    tags=["practice"],
    summary="Clean tempos of one piece over days, as a picture for a phone",
    media_type="image/png",
    responses=problems(422, 503),
)
async def picture(
    request: Asked,
    group: FromPath[str],
    member: OfMember = None,
    lick: OfLick = None,
    code: OfBreak = None,
    phrase: OfPhrase = None,
    theme: ThemeShown = "light",
) -> Response[bytes]:
    piece, house = _piece(lick, code, phrase), house_of(request)
    found = await progress_of(house, caller_of(request), group, member, piece)
    if piece is None:
        raise DomainError("nothing-to-plot")
    plot = plot_of(piece, _one(found), language(request))
    key = key_of("plot", found.member, plot.title, plot.note, plot.clean, theme)
    same = not_modified(request, key)
    if same is not None:
        return same

    async def order() -> Order:
        return Order(png_plot, (plot, theme))

    _, body = await house.renders.part(found.group_id, key, 0, order)
    if body is None:
        raise RuntimeError("a plot has a page")
    return file_answer(request, body, "png", "progress", key)


@get(
    "/v1/groups/{group:str}/members/{member:int}/practice",
    tags=["practice"],
    summary="Whether you share your progress, and are reminded",
    responses=problems(),
)
async def choices(request: Asked, group: FromPath[str], member: MemberNumber) -> PracticeChoicesOut:
    row = usecases.get_choices(house_of(request), caller_of(request), group, member)
    return PracticeChoicesOut(shared=row.shared, reminders=row.reminders)


@put(
    "/v1/groups/{group:str}/members/{member:int}/practice",
    tags=["practice"],
    summary="Share your progress with the group or keep it to yourself; be reminded or not",
    responses=problems(503),
)
async def choose(
    request: Asked, group: FromPath[str], member: MemberNumber, data: JSONBody[PracticeChoicesIn]
) -> PracticeChoicesOut:
    wanted = ChoicesRow(data.shared, data.reminders)
    row = await usecases.choose(house_of(request), caller_of(request), group, member, wanted)
    return PracticeChoicesOut(shared=row.shared, reminders=row.reminders)


ROUTES = [every, add, drop, due, progress, picture, choices, choose]
