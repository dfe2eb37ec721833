"""A plain break of the group's own tune: positions proposed, the melody arranged, kept as licks; and licks proposed for a phrase."""

from litestar import Response, get, post
from litestar.params import FromPath, JSONBody

from schemas.arrangements import ArrangeIn, ArrangementOut, KeepProposalIn, LickProposals, ProposedSettings
from schemas.breaks import BreakOut
from schemas.licks import LickOut
from service.usecases import arranging as usecases
from service.usecases.arranging import ArrangeWish, Made
from service.usecases.proposing import keep_offered, offered
from service.web.parts import (
    Asked,
    IdempotencyKey,
    caller_of,
    house_of,
    language,
    problems,
    repeatable,
)
from service.web.routes.breaks import InstrumentChoice, TuningChoice
from service.web.routes.judgements import PhraseNumber
from service.web.routes.licks import sent_in
from service.web.show import break_out
from service.web.show_arrangements import arrangement_out, settings_out
from service.web.show_proposals import proposal_name, proposal_out


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/positions",
    tags=["tunes"],
    summary="Positions and capos in which an instrument can play a tune, the easiest first",
    responses=problems(422),
)
async def positions(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
) -> ProposedSettings:
    found = await usecases.settings_for(
        house_of(request), caller_of(request), group, tune, instrument, tuning
    )
    return settings_out(found, language(request))


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/arrangements",
    tags=["tunes"],
    summary="A plain break out of a tune's melody; kept as licks if you say so",
    status_code=200,
    responses=problems(409, 422, 503),
)
async def arrangements(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    data: JSONBody[ArrangeIn],
    idempotency_key: IdempotencyKey = None,
) -> Response[ArrangementOut]:
    house, caller = house_of(request), caller_of(request)
    wish = ArrangeWish(data.instrument, data.tuning, data.position, data.capo, data.level, data.style)
    if not data.keep:
        made = await usecases.propose(house, caller, group, tune, wish)
        return Response(arrangement_out(made, language(request)))

    def told(kept: Made) -> tuple[ArrangementOut, int, dict[str, str]]:
        return arrangement_out(kept, language(request)), 200, {}

    return await repeatable(
        request,
        idempotency_key,
        told,
        lambda once: usecases.keep(house, caller, group, tune, wish, once, retire=data.retire),
    )


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/breaks/plain",
    tags=["breaks"],
    summary="The tune's plain break on an instrument",
    status_code=200,
    responses=problems(409, 422, 503),
)
async def plain(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
) -> BreakOut:
    made = await usecases.plain_break(house_of(request), caller_of(request), group, tune, instrument, tuning)
    return break_out(made, language(request))


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/phrases/{phrase:int}/proposals",
    tags=["tunes"],
    summary="Licks proposed for a phrase, best first: others moved to its chords, its melody arranged",
    responses=problems(422),
)
async def proposals(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    phrase: PhraseNumber,
    instrument: InstrumentChoice = None,
) -> LickProposals:
    found = await offered(house_of(request), caller_of(request), group, tune, phrase, instrument)
    return LickProposals(items=[proposal_out(one, language(request)) for one in found])


@post(
    "/v1/groups/{group:str}/tunes/{tune:str}/phrases/{phrase:int}/proposals",
    tags=["tunes"],
    summary="Keep a proposal as a lick of the pool",
    responses=problems(409, 422, 451, 503),
)
async def keep_proposal(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    phrase: PhraseNumber,
    data: JSONBody[KeepProposalIn],
    instrument: InstrumentChoice = None,
    idempotency_key: IdempotencyKey = None,
) -> Response[LickOut]:
    house, caller = house_of(request), caller_of(request)
    return await sent_in(
        request,
        group,
        idempotency_key,
        lambda once: keep_offered(
            house,
            caller,
            group,
            tune,
            phrase,
            instrument,
            data.key,
            lambda one: proposal_name(one, language(request)),
            once,
        ),
    )


ROUTES = [positions, arrangements, plain, proposals, keep_proposal]
