"""Tunes."""

from typing import Annotated

from litestar import Response, delete, get, post, put
from litestar.params import FromPath, JSONBody, QueryParameter

from schemas.tunes import PhraseInHandOut, TuneBody, TuneIn, TuneList, TuneOut
from service.usecases import tunes as usecases
from service.usecases.tune_scores import set_tune
from service.usecases.tunes import KeptTune, phrase_numbered
from service.web.parts import (
    PAGE,
    WORDS_MOST,
    Asked,
    Cursor,
    IdempotencyKey,
    IfMatch,
    Limit,
    caller_of,
    etag,
    house_of,
    page,
    problems,
    read_cursor,
    repeatable,
    revision_from,
)
from service.web.routes.judgements import InstrumentChoice, PhraseNumber, TuningChoice
from service.web.show import phrase_in_hand_out, record_of_tune, tune_out

FitCuts = Annotated[
    bool,
    QueryParameter(
        name="fit_cuts",
        description="Leave out cuts of parts that have another number of measures, with the roles of their phrases.",
    ),
]
TuneWords = Annotated[
    str | None,
    QueryParameter(
        name="q",
        max_length=WORDS_MOST,
        description="Words of the name, or parts of words, in any order.",
    ),
]


@get("/v1/groups/{group:str}/tunes", tags=["tunes"], summary="A group's tunes", responses=problems())
async def every(
    request: Asked, group: FromPath[str], limit: Limit = PAGE, cursor: Cursor = None, q: TuneWords = None
) -> Response[TuneList]:
    found = usecases.list_tunes(
        house_of(request), caller_of(request), group, read_cursor(cursor), limit + 1, q or ""
    )
    shown, following, headers = page(request, found, limit, lambda kept: kept.slug)
    return Response(TuneList(items=[tune_out(kept) for kept in shown], next=following), headers=headers)


@post("/v1/groups/{group:str}/tunes", tags=["tunes"], summary="Add a tune", responses=problems(409, 422, 503))
async def add(
    request: Asked, group: FromPath[str], data: JSONBody[TuneIn], idempotency_key: IdempotencyKey = None
) -> Response[TuneOut]:
    def made(kept: KeptTune) -> tuple[TuneOut, int, dict[str, str]]:
        where = {"location": f"/v1/groups/{group}/tunes/{kept.slug}"}
        return tune_out(kept), 201, {**etag(kept.revision), **where}

    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.save_tune(
            house_of(request), caller_of(request), group, data.slug, record_of_tune(data), None, once
        ),
    )


@get("/v1/groups/{group:str}/tunes/{tune:str}", tags=["tunes"], summary="One tune", responses=problems())
async def one(request: Asked, group: FromPath[str], tune: FromPath[str]) -> Response[TuneOut]:
    kept = usecases.get_tune(house_of(request), caller_of(request), group, tune)
    return Response(tune_out(kept), headers=etag(kept.revision))


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/phrases/{phrase:int}",
    tags=["tunes"],
    summary="A phrase as an instrument plays it: its chords and key in the playing position",
    responses=problems(422),
)
async def phrase_in_hand(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    phrase: PhraseNumber,
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
) -> PhraseInHandOut:
    of = set_tune(house_of(request), caller_of(request), group, tune, instrument, tuning)
    return phrase_in_hand_out(of, phrase_numbered(of.form, phrase))


@put(
    "/v1/groups/{group:str}/tunes/{tune:str}",
    tags=["tunes"],
    summary="Change a tune",
    responses=problems(412, 422, 428, 503),
)
async def change(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    data: JSONBody[TuneBody],
    if_match: IfMatch = None,
    fit_cuts: FitCuts = False,
) -> Response[TuneOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.get_tune(house, caller, group, tune, "change-tunes").revision
    )
    kept = await usecases.save_tune(
        house, caller, group, tune, record_of_tune(data), revision, fit_cuts=fit_cuts
    )
    return Response(tune_out(kept), headers=etag(kept.revision))


@delete(
    "/v1/groups/{group:str}/tunes/{tune:str}",
    tags=["tunes"],
    summary="Take a tune off the list; its breaks keep their codes",
    responses=problems(412, 428, 503),
)
async def hide(request: Asked, group: FromPath[str], tune: FromPath[str], if_match: IfMatch = None) -> None:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(
        if_match, lambda: usecases.get_tune(house, caller, group, tune, "change-tunes").revision
    )
    await usecases.hide_tune(house, caller, group, tune, revision)


ROUTES = [every, add, one, phrase_in_hand, change, hide]
