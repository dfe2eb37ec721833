"""What is judged: licks by themselves and in their places, joins, twins, easier and moved versions, mere text."""

from typing import Annotated

from litestar import Response, get, post
from litestar.params import FromPath, JSONBody, PathParameter, QueryParameter

from schemas.judgements import (
    CandidateList,
    JoinJudgementOut,
    JudgementIn,
    LickJudgementOut,
    MoveIn,
    NamedChord,
    TextJudgementIn,
    TextJudgementOut,
    TwinList,
    VersionList,
    VersionOut,
)
from service.notation.tab_writer import write_tab
from service.usecases import judging as usecases
from service.usecases.judging import Move, Sent
from service.usecases.licks import in_hand
from service.web.charted import chords_by_measure
from service.web.judged import (
    candidate_out,
    easier_out,
    judged_out,
    left_fingers,
    moved_out,
    seam_out,
    twin_out,
)
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    Limit,
    caller_of,
    house_of,
    language,
    page,
    problems,
    read_number_cursor,
)

LickNumber = Annotated[int, PathParameter(ge=1, le=9_999_999, description="A lick's number in its group.")]
OtherNumber = Annotated[int, PathParameter(ge=1, le=9_999_999, description="The lick that follows.")]
PhraseNumber = Annotated[
    int, PathParameter(ge=1, le=512, description="A phrase in playing order, repeats written out.")
]
InstrumentChoice = Annotated[str | None, QueryParameter(name="instrument", max_length=40)]
TuningChoice = Annotated[str | None, QueryParameter(name="tuning", max_length=40)]
Tempo = Annotated[int | None, QueryParameter(name="bpm", ge=1, le=400, description="Beats a minute.")]


@post(
    "/v1/groups/{group:str}/licks/{lick_number:int}/judgements",
    tags=["judgements"],
    summary="Judge a lick, by itself or over a phrase of a tune",
    status_code=200,
    responses=problems(422, 451),
)
async def judge(
    request: Asked, group: FromPath[str], lick_number: LickNumber, data: JSONBody[JudgementIn]
) -> LickJudgementOut:
    judged = usecases.judge_kept(
        house_of(request), caller_of(request), group, lick_number, data.tune, data.phrase, data.bpm
    )
    return judged_out(judged, language(request))


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/phrases/{phrase:int}/licks",
    tags=["judgements"],
    summary="Licks for a phrase, best first, with reasons",
    responses=problems(422),
)
async def candidates(
    request: Asked,
    group: FromPath[str],
    tune: FromPath[str],
    phrase: PhraseNumber,
    limit: Limit = PAGE,
    cursor: Cursor = None,
    instrument: InstrumentChoice = None,
    tuning: TuningChoice = None,
) -> Response[CandidateList]:
    skipped = read_number_cursor(cursor)
    found = await usecases.candidates(
        house_of(request), caller_of(request), group, tune, phrase, instrument, tuning, skipped, limit + 1
    )
    rows = list(enumerate(found.ranked, skipped + 1))
    shown, following, headers = page(request, rows, limit, lambda row: row[0])
    items = [
        candidate_out(c, found.of[c.number, c.revision], found.tune, found.phrase, language(request))
        for _, c in shown
    ]
    return Response(CandidateList(items=items, next=following), headers=headers)


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/joins/{other:int}",
    tags=["judgements"],
    summary="The seam from a lick into another",
    responses=problems(422, 451),
)
async def join(
    request: Asked, group: FromPath[str], lick_number: LickNumber, other: OtherNumber, bpm: Tempo = None
) -> JoinJudgementOut:
    found = usecases.join_of(house_of(request), caller_of(request), group, lick_number, other, bpm)
    return seam_out(found, language(request))


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/twins",
    tags=["judgements"],
    summary="Licks of the pool that are this one, or nearly",
    responses=problems(451),
)
async def twins(request: Asked, group: FromPath[str], lick_number: LickNumber) -> TwinList:
    kept, found = await usecases.twins_of(house_of(request), caller_of(request), group, lick_number)
    return TwinList(items=[twin_out(twin, kept.lick, lick, language(request)) for twin, lick in found])


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/easier",
    tags=["judgements"],
    summary="Simpler versions of a lick, hardest first",
    responses=problems(451),
)
async def easier(
    request: Asked, group: FromPath[str], lick_number: LickNumber, bpm: Tempo = None
) -> VersionList:
    found = await usecases.easier_of(house_of(request), caller_of(request), group, lick_number, bpm)
    return VersionList(items=[easier_out(version, language(request)) for version in found])


@post(
    "/v1/groups/{group:str}/licks/{lick_number:int}/moves",
    tags=["judgements"],
    summary="A lick moved to another chord, key, place in the scale, instrument or tuning",
    status_code=200,
    responses=problems(422, 451),
)
async def move(
    request: Asked, group: FromPath[str], lick_number: LickNumber, data: JSONBody[MoveIn]
) -> VersionOut:
    wanted = Move(
        data.chord, data.key, data.semitones, data.steps, data.instrument, data.tuning, data.hand_style
    )
    found = await usecases.moved(house_of(request), caller_of(request), group, lick_number, wanted)
    return moved_out(found, language(request))


@post(
    "/v1/judgements",
    tags=["judgements"],
    summary="Judge a lick as text; nothing is kept",
    status_code=200,
    responses=problems(422),
)
async def judge_text(request: Asked, data: JSONBody[TextJudgementIn]) -> TextJudgementOut:
    judged, named = await usecases.judge_text(
        Sent(
            data.text, data.instrument, data.key, data.chords, data.hand_style, data.style, data.role,
            data.tuning, data.meter, data.measures, data.columns, data.bpm,
        )
    )  # fmt: skip
    return TextJudgementOut(
        judgement=judged_out(judged, language(request)),
        chords=chords_by_measure(judged.lick),
        named=[[NamedChord(name=name, confidence=round(sure, 4)) for name, sure in of] for of in named],
        tab=write_tab(in_hand(judged.lick), left=left_fingers(judged.lick, judged.judgement.hands)),
    )


ROUTES = [judge, candidates, join, twins, easier, move, judge_text]
