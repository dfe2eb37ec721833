"""Licks read out of files, of which nothing is kept."""

from typing import Annotated

from litestar import post
from litestar.params import FromPath, QueryParameter

from schemas.licks import LickProposalOut
from service.errors import DomainError
from service.usecases.bringing_licks import LickProposal, read_lick_file
from service.web.bodies import sent_as
from service.web.charted import chart_of
from service.web.parts import Asked, body_within, caller_of, house_of, language, problems
from service.web.problems import place

MOST_BYTES = 1 << 20  # of a file with one lick; ours: a tab of many pages is a tenth of it

LickFileOperation = sent_as("application/octet-stream", "A file of MusicXML with a tab staff, plain or .mxl.")
OfInstrument = Annotated[
    str | None,
    QueryParameter(
        name="instrument", max_length=40, description="What plays it; the group's own without it."
    ),
]
InTuning = Annotated[
    str | None,
    QueryParameter(name="tuning", max_length=40, description="Its tuning, whatever the file says."),
]
InMeter = Annotated[
    str | None, QueryParameter(name="meter", max_length=40, description="Its meter, whatever the file says.")
]


@post(
    "/v1/groups/{group:str}/licks/files",
    tags=["licks"],
    summary="Read the lick in a file of MusicXML with a tab staff, as it can be sent in",
    status_code=200,
    responses=problems(413, 422),
    operation_class=LickFileOperation,
    request_max_body_size=None,
)
async def reading(
    request: Asked,
    group: FromPath[str],
    instrument: OfInstrument = None,
    tuning: InTuning = None,
    meter: InMeter = None,
) -> LickProposalOut:
    body = await body_within(request, MOST_BYTES, DomainError("too-large", most=MOST_BYTES))
    found = await read_lick_file(
        house_of(request), caller_of(request), group, body, instrument, tuning, meter
    )
    return _proposal(found, language(request))


def _proposal(found: LickProposal, spoken: str) -> LickProposalOut:
    passage = found.passage
    return LickProposalOut(
        name=found.name,
        text=found.text,
        instrument=passage.instrument.id,
        tuning=passage.tuning.id,
        meter=passage.meter.name,
        key=found.key,
        chords=chart_of(passage.changes, passage.measures, passage.meter) if passage.changes else "",
        remarks=[place(fault, spoken) for fault in found.remarks],
    )


ROUTES = [reading]
