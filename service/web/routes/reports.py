"""Reports of licks."""

from collections.abc import Sequence
from typing import Annotated, Literal

from litestar import Response, get, post
from litestar.params import FromPath, JSONBody, QueryParameter

from schemas.reports import AnswerIn, ReportIn, ReportList, ReportOut
from service.store.reports import ReportRow
from service.usecases import reports as usecases
from service.web.judged import sentence
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
from service.web.routes.licks import LickNumber
from service.web.routes.people import Id

StatusFilter = Annotated[
    Literal["open", "answered"] | None, QueryParameter(name="status", description="All without it.")
]


def report_out(row: ReportRow, language: str) -> ReportOut:
    about = None
    if row.reason == "taken-down-at-origin":
        about = sentence("taken-down-at-origin", {"lick": row.lick, "group": row.origin}, language)
    return ReportOut(
        id=row.id,
        lick=row.lick,
        by=row.by,
        reason=row.reason,
        text=row.text,
        about=about,
        created=row.created,
        decision=row.decision,
        answer=row.answer,
        answered=row.answered,
    )


def _listed(request: Asked, found: Sequence[ReportRow], limit: int) -> Response[ReportList]:
    shown, following, headers = page(request, found, limit, lambda row: row.id)
    items = [report_out(row, language(request)) for row in shown]
    return Response(ReportList(items=items, next=following), headers=headers)


@post(
    "/v1/groups/{group:str}/licks/{lick_number:int}/reports",
    tags=["reports"],
    summary="Report a lick, or say the report that is open otherwise; nothing is hidden by it",
    responses=problems(409, 422, 451, 503),
)
async def report(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    data: JSONBody[ReportIn],
    idempotency_key: IdempotencyKey = None,
) -> Response[ReportOut]:
    def made(row: ReportRow) -> tuple[ReportOut, int, dict[str, str]]:
        return report_out(row, language(request)), 201, {}

    return await repeatable(
        request,
        idempotency_key,
        made,
        lambda once: usecases.report(
            house_of(request), caller_of(request), group, lick_number, data.reason, data.text, once
        ),
    )


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/reports",
    tags=["reports"],
    summary="Reports of a lick, newest first; members see their own",
    responses=problems(),
)
async def of_lick(
    request: Asked, group: FromPath[str], lick_number: LickNumber, limit: Limit = PAGE, cursor: Cursor = None
) -> Response[ReportList]:
    found = usecases.reports_of(
        house_of(request),
        caller_of(request),
        group,
        lick_number,
        read_number_cursor(cursor) or None,
        limit + 1,
    )
    return _listed(request, found, limit)


@get(
    "/v1/groups/{group:str}/reports",
    tags=["reports"],
    summary="Reports of all licks, newest first; for organisers",
    responses=problems(),
)
async def every(
    request: Asked,
    group: FromPath[str],
    limit: Limit = PAGE,
    cursor: Cursor = None,
    status: StatusFilter = None,
) -> Response[ReportList]:
    found = usecases.list_reports(
        house_of(request), caller_of(request), group, status, read_number_cursor(cursor) or None, limit + 1
    )
    return _listed(request, found, limit)


@post(
    "/v1/groups/{group:str}/reports/{report:int}/answer",
    tags=["reports"],
    summary="Answer a report: take the lick down, or keep it",
    status_code=200,
    responses=problems(409, 422, 503),
)
async def answer(request: Asked, group: FromPath[str], report: Id, data: JSONBody[AnswerIn]) -> ReportOut:
    row = await usecases.answer(
        house_of(request), caller_of(request), group, report, data.decision, data.text
    )
    return report_out(row, language(request))


ROUTES = [report, of_lick, every, answer]
