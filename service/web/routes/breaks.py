"""Breaks: counted, drawn, numbered, found again."""

from dataclasses import replace
from typing import Annotated, Any

import msgspec
from litestar import Response, get, post
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.breaks import (
    BestIn,
    BestList,
    BreakList,
    BreakOut,
    CountOut,
    Filters,
    RandomIn,
    SwapIn,
    SwapList,
)
from service.errors import DomainError
from service.music.passages import without
from service.usecases import breaks as usecases
from service.usecases.best_breaks import best_breaks
from service.usecases.made_breaks import Break
from service.usecases.once import Answered
from service.usecases.scores import break_passage
from service.usecases.swaps import steps_from_plain, swap, swaps_for
from service.usecases.wishes import Wish
from service.web.options import Capo, Hide, KeyShown
from service.web.parts import (
    Asked,
    IdempotencyKey,
    answered,
    caller_of,
    encode,
    house_of,
    language,
    once_of,
    problems,
)
from service.web.rests import rest_remarks
from service.web.show import break_out, swaps_out
from service.web.subjects import capo_asked
from service.web.tabs import Layout, Width, tab_answer

Number = Annotated[str, PathParameter(pattern=r"^[0-9]{1,4000}$", description="k of N, in decimal digits.")]
Code = Annotated[str, PathParameter(max_length=20, description="A break's code.")]
Snapshot = Annotated[
    str, QueryParameter(name="snapshot", max_length=64, description="The snapshot that the number is of.")
]
InstrumentChoice = Annotated[str | None, QueryParameter(name="instrument", max_length=40)]
TuningChoice = Annotated[str | None, QueryParameter(name="tuning", max_length=40)]


def _wish(sent: Filters) -> Wish:
    return Wish(
        sent.instrument,
        sent.tuning,
        sent.max_level,
        tuple(sent.styles),
        tuple(sent.avoid),
        tuple(sent.must_include),
        sent.bpm,
        sent.melody,
        sent.no_repeats,
        sent.settled,
        tuple(sent.style_most.items()),
        sent.level_sum,
        sent.favour,
        sent.differs_by,
        sent.repeats,
    )


def _answered(request: Asked, group: str, before: Answered) -> Response[Any]:
    """What was answered before; where a lick was taken down since, the break as it is now."""
    code = msgspec.json.decode(before.answer.body)["code"]
    found = usecases.get_break(house_of(request), caller_of(request), group, code)
    if not found.rests:
        return answered(before)
    now = encode(break_out(found, language(request)))
    return answered(Answered(replace(before.answer, body=now)))


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/breaks/count",
    tags=["breaks"],
    summary="How many breaks there are",
    status_code=200,
    responses=problems(422),
)
async def count(
    request: Asked, group: FromPath[str], tune: FromPath[str], data: JSONBody[Filters]
) -> CountOut:
    found = await usecases.count_breaks(house_of(request), caller_of(request), group, tune, _wish(data))
    return CountOut(
        total=None if found.total is None else str(found.total),
        total_with_repeats=str(found.with_repeats) if found.total is None else None,
        per_phrase=list(found.per_phrase),
        snapshot=found.snapshot,
    )


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/breaks/random",
    tags=["breaks"],
    summary="A break drawn evenly from all there are",
    status_code=201,
    responses=problems(409, 422, 503),
)
async def random(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    data: JSONBody[RandomIn],
    idempotency_key: IdempotencyKey = None,
) -> Response[BreakOut]:
    def made(found: Break) -> tuple[BreakOut, int, dict[str, str]]:
        shown = break_out(found, language(request))
        return shown, 201, {"location": shown.links["self"]}

    try:
        found = await usecases.draw_break(
            house_of(request),
            caller_of(request),
            group,
            tune,
            _wish(data),
            data.seed,
            await once_of(request, idempotency_key, made),
        )
    except Answered as before:
        return _answered(request, group, before)
    content, status, headers = made(found)
    return Response(content, status_code=status, headers=headers)


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/breaks/number/{number:str}",
    tags=["breaks"],
    summary="Number k of N within a snapshot",
    responses=problems(409, 422, 503),
)
async def numbered(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    number: Number,
    snapshot: Snapshot,
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
) -> BreakOut:
    found = await usecases.numbered_break(
        house_of(request),
        caller_of(request),
        group,
        tune,
        int(number),
        snapshot,
        Wish(instrument, tuning),
    )
    return break_out(found, language(request))


@get(
    "/v1/groups/{group:str}/breaks/{code:str}",
    tags=["breaks"],
    summary="A break by its code",
    responses=problems(),
)
async def one(
    request: Asked, group: FromPath[str], code: Code, capo: Capo = None, key: KeyShown = None
) -> Response[BreakOut]:
    """With ``capo`` or ``key`` the setting is told as the same hands set up for that."""
    house, caller = house_of(request), caller_of(request)
    if capo is None and key is None:
        body = usecases.shown_break(house, caller, group, code, language(request), _encoded)
    else:
        found = usecases.get_break(house, caller, group, code)
        setting = found.setting.behind(capo_asked(found.setting.position, capo, key))
        body = _encoded(replace(found, setting=setting), language(request))
    return Response(body, media_type="application/json")  # type: ignore[arg-type]


def _encoded(found: Break, spoken: str) -> bytes:
    return encode(break_out(found, spoken))


@get(
    "/v1/groups/{group:str}/breaks/{code:str}/tab.txt",
    tags=["breaks"],
    summary="A break as text tab",
    media_type="text/plain",
    responses=problems(),
)
async def tab(
    request: Asked,
    group: FromPath[str],
    code: Code,
    layout: Layout = "phone",
    width: Width = None,
    hide: Hide = 0,
) -> Response[str]:
    found = usecases.get_break(house_of(request), caller_of(request), group, code)
    passage, hidden = await break_passage(house_of(request), found), found.to_hide(hide)
    if hidden is not None:
        passage = without(passage, hidden.form[0].onset, sum(phrase.ticks for phrase in hidden.form))
    return tab_answer(passage, layout, width, remarks=rest_remarks(found, language(request), hidden))


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/breaks/best",
    tags=["breaks"],
    summary="The best breaks there are, best first",
    status_code=200,
    responses=problems(409, 422, 503),
)
async def best(request: Asked, group: FromPath[str], tune: FromPath[str], data: JSONBody[BestIn]) -> BestList:
    mix: dict[str, int] = {by: times for by, times in data.mix.items() if times}
    if bool(mix) == (data.by is not None):
        raise DomainError("by-or-mix")
    found = await best_breaks(
        house_of(request),
        caller_of(request),
        group,
        tune,
        _wish(data),
        mix or {str(data.by): 1},
        data.how_many,
    )
    return BestList(items=[break_out(made, language(request)) for made in found.breaks], exact=found.exact)


@post(
    "/v1/groups/{group:str}/breaks/{code:str}/swaps",
    tags=["breaks"],
    summary="Another lick at one phrase: the break with it, or alternatives, best first",
    status_code=200,
    responses=problems(409, 422, 503),
)
async def swaps(
    request: Asked,
    group: FromPath[str],
    code: Code,
    data: JSONBody[SwapIn],
    idempotency_key: IdempotencyKey = None,
) -> Response[BreakOut | SwapList]:
    house, caller = house_of(request), caller_of(request)
    if data.lick is None:
        return Response(swaps_out(await swaps_for(house, caller, group, code, data.phrase)))

    def made(found: Break) -> tuple[BreakOut, int, dict[str, str]]:
        shown = break_out(found, language(request))
        return shown, 200, {"location": shown.links["self"]}

    try:
        found = await swap(
            house, caller, group, code, data.phrase, data.lick, await once_of(request, idempotency_key, made)
        )
    except Answered as before:
        return _answered(request, group, before)
    content, status, headers = made(found)
    return Response(content, status_code=status, headers=headers)


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/breaks/steps",
    tags=["breaks"],
    summary="From the plain break on, one lick changed at a time, the tag first",
    status_code=200,
    responses=problems(409, 422, 503),
)
async def steps(
    request: Asked, group: FromPath[str], tune: FromPath[str], data: JSONBody[Filters]
) -> BreakList:
    found = await steps_from_plain(house_of(request), caller_of(request), group, tune, _wish(data))
    return BreakList(items=[break_out(made, language(request)) for made in found])


ROUTES = [count, random, best, steps, numbered, one, swaps, tab]
