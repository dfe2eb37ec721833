"""The pool."""

from collections.abc import Awaitable, Callable
from typing import Annotated, Literal

import msgspec
from litestar import Response, delete, get, post, put
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.licks import LickIn, LickList, LickOut
from service.judge.hands import lick_hands
from service.judge.level import LEVELS
from service.store.licks import Sought
from service.usecases import licks as usecases
from service.usecases.changed_licks import change_lick, retire_lick
from service.usecases.licks import KeptLick
from service.usecases.once import Answered, Once
from service.web.judged import left_fingers, sentence
from service.web.parts import (
    PAGE,
    WORDS_MOST,
    Asked,
    Cursor,
    IdempotencyKey,
    IfMatch,
    Limit,
    answered,
    caller_of,
    etag,
    house_of,
    language,
    once_of,
    page,
    problems,
    read_number_cursor,
    revision_from,
)
from service.web.show import lick_out, submission
from service.web.tabs import HandsShown, Layout, Width, tab_answer

LickNumber = Annotated[int, PathParameter(ge=1, le=9_999_999, description="A lick's number in its group.")]
InstrumentFilter = Annotated[
    str | None, QueryParameter(name="instrument", max_length=40, description="Licks of one instrument only.")
]

StateFilter = Annotated[
    Literal["pool", "reviewed", "draft", "retired"] | None,
    QueryParameter(name="status", description="Licks in this state only; all but retired ones without it."),
]
LickWords = Annotated[
    str | None,
    QueryParameter(
        name="q",
        max_length=WORDS_MOST,
        description="Words of the name, or parts of words, in any order; or the number.",
    ),
]
RoleFilter = Annotated[
    Literal["opener", "body", "set-up", "tag"] | None,
    QueryParameter(name="role", description="Licks of one role only."),
]
LevelFilter = Annotated[
    int | None, QueryParameter(name="max_level", ge=1, le=LEVELS, description="None that is harder.")
]
StyleFilter = Annotated[
    str | None, QueryParameter(name="style", max_length=40, description="Licks of one style only.")
]


@get("/v1/groups/{group:str}/licks", tags=["licks"], summary="Licks, by number", responses=problems(422))
async def every(
    request: Asked,
    group: FromPath[str],
    limit: Limit = PAGE,
    cursor: Cursor = None,
    instrument: InstrumentFilter = None,
    status: StateFilter = None,
    q: LickWords = None,
    role: RoleFilter = None,
    max_level: LevelFilter = None,
    style: StyleFilter = None,
) -> Response[LickList]:
    found = await usecases.list_licks(
        house_of(request),
        caller_of(request),
        group,
        read_number_cursor(cursor),
        limit + 1,
        Sought(instrument, status, role, max_level, style),
        q or "",
    )
    shown, following, headers = page(request, found, limit, lambda kept: kept.number)
    items = [lick_out(kept, group, language(request)) for kept in shown]
    return Response(LickList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/licks",
    tags=["licks"],
    summary="Submit a lick",
    responses=problems(409, 422, 451, 503),
)
async def add(
    request: Asked, group: FromPath[str], data: JSONBody[LickIn], idempotency_key: IdempotencyKey = None
) -> Response[LickOut]:
    async def work(once: Once[KeptLick] | None) -> KeptLick:
        return await usecases.add_lick(house_of(request), caller_of(request), group, submission(data), once)

    return await sent_in(request, group, idempotency_key, work)


async def sent_in(
    request: Asked, group: str, key: str | None, work: Callable[[Once[KeptLick] | None], Awaitable[KeptLick]]
) -> Response[LickOut]:
    """Do what brings a new lick, and answer with it; or say again what was answered before."""

    def made(kept: KeptLick) -> tuple[LickOut, int, dict[str, str]]:
        where = {"location": f"/v1/groups/{group}/licks/{kept.number}"}
        shown = lick_out(kept, group, language(request))
        shown.cautions.append(sentence("caution-rights", {}, language(request)))
        return shown, 201, {**etag(kept.revision), **where}

    try:
        kept = await work(await once_of(request, key, made))
    except Answered as before:
        number = msgspec.json.decode(before.answer.body)["number"]
        usecases.get_lick(house_of(request), caller_of(request), group, number)  # it may be taken down since
        return answered(before)
    content, status, headers = made(kept)
    return Response(content, status_code=status, headers=headers)


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}",
    tags=["licks"],
    summary="One lick",
    responses=problems(451),
)
async def one(request: Asked, group: FromPath[str], lick_number: LickNumber) -> Response[LickOut]:
    kept = usecases.get_lick(house_of(request), caller_of(request), group, lick_number)
    return Response(lick_out(kept, group, language(request)), headers=etag(kept.revision))


@put(
    "/v1/groups/{group:str}/licks/{lick_number:int}",
    tags=["licks"],
    summary="Give a lick a new revision; organisers any, members what they sent in",
    responses=problems(412, 422, 428, 451, 503),
)
async def change(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    data: JSONBody[LickIn],
    if_match: IfMatch = None,
) -> Response[LickOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.get_lick(house, caller, group, lick_number, "change-own-licks").revision
    )
    kept = await change_lick(house, caller, group, lick_number, revision, submission(data))
    return Response(lick_out(kept, group, language(request)), headers=etag(kept.revision))


@delete(
    "/v1/groups/{group:str}/licks/{lick_number:int}",
    tags=["licks"],
    summary="Retire a lick; breaks made with it stay",
    responses=problems(412, 428, 451, 503),
)
async def retire(
    request: Asked, group: FromPath[str], lick_number: LickNumber, if_match: IfMatch = None
) -> None:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.get_lick(house, caller, group, lick_number, "change-own-licks").revision
    )
    await retire_lick(house, caller, group, lick_number, revision)


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/tab.txt",
    tags=["licks"],
    summary="A lick as text tab",
    media_type="text/plain",
    responses=problems(451),
)
async def tab(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    layout: Layout = "phone",
    width: Width = None,
    hands: HandsShown = "right",
) -> Response[str]:
    kept = usecases.get_lick(house_of(request), caller_of(request), group, lick_number)
    left = left_fingers(kept.lick, lick_hands(kept.lick)) if hands == "both" else None
    return tab_answer(usecases.in_hand(kept.lick), layout, width, left)


ROUTES = [every, add, one, change, retire, tab]
