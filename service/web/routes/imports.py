"""Many licks at once: a zip of files."""

from typing import Annotated

import msgspec
from litestar import Response, post
from litestar.params import FromPath, QueryParameter

from schemas.imports import ImportOut
from service.errors import DomainError
from service.usecases.lick_files import files_of_zip
from service.usecases.lick_imports import Import, import_licks, taken_down_since
from service.usecases.once import Answered
from service.web.bodies import sent_as
from service.web.imported import as_submission, import_out
from service.web.parts import (
    Asked,
    IdempotencyKey,
    answered,
    body_within,
    caller_of,
    house_of,
    language,
    once_of,
    problems,
)

Dry = Annotated[bool, QueryParameter(name="dry", description="Report what would become of it, keep nothing.")]
Default = Annotated[
    str | None, QueryParameter(max_length=400, description="For licks that say nothing of it themselves.")
]


ZipOperation = sent_as(
    "application/zip", "A zip of .toml files with [[lick]] tables (the fields of LickIn) and of .txt tabs."
)


@post(
    "/v1/groups/{group:str}/imports",
    tags=["licks"],
    summary="Send in a zip of licks, and hear what became of each",
    status_code=200,
    responses=problems(409, 413, 415, 422, 503),
    operation_class=ZipOperation,
    request_max_body_size=None,  # body_within minds a bound of its own
)
async def imports(
    request: Asked,
    group: FromPath[str],
    dry: Dry = False,
    instrument: Default = None,
    tuning: Default = None,
    meter: Default = None,
    key: Default = None,
    chords: Default = None,
    hand_style: Default = None,
    style: Default = None,
    idempotency_key: IdempotencyKey = None,
) -> Response[ImportOut]:
    house, caller = house_of(request), caller_of(request)
    given = {
        "instrument": instrument, "tuning": tuning, "meter": meter, "key": key, "chords": chords,
        "hand_style": hand_style, "style": style,
    }  # fmt: skip
    most = house.settings.import_mib
    body = await body_within(request, most << 20, DomainError("import-too-large", most=most))

    def made(report: Import) -> tuple[ImportOut, int, dict[str, str]]:
        return import_out(report, language(request)), 200, {}

    # a dry import keeps nothing, its key neither
    once = None if dry else await once_of(request, idempotency_key, made, body)
    try:
        report = await import_licks(
            house,
            caller,
            group,
            lambda: files_of_zip(body),
            {name: value for name, value in given.items() if value is not None},
            as_submission,
            once,
            dry=dry,
        )
    except Answered as before:
        return _answered_again(request, group, before)
    return Response(made(report)[0])


def _answered_again(request: Asked, group: str, before: Answered) -> Response[ImportOut]:
    """The report as it was, without the names of what has been taken down since."""
    report = msgspec.json.decode(before.answer.body, type=ImportOut)
    numbers = [item.number for item in report.items if item.number is not None]
    gone = taken_down_since(house_of(request), caller_of(request), group, numbers)
    for item in report.items:
        if item.number in gone:
            item.name, item.state, item.reasons = None, "taken-down", []
    said = answered(before)
    said.content = report
    return said


ROUTES = [imports]
