"""Tunes read out of files, of which nothing is kept, and written as files."""

import asyncio
import hashlib
from typing import Annotated

from litestar import Response, get, post
from litestar.params import FromPath, QueryParameter

from schemas.tunes import TempoIn, TuneNotReadOut, TuneProposalOut, TuneProposals, UnsureChordOut
from service.errors import DomainError
from service.usecases.bringing import TuneProposal, read_tunes
from service.usecases.tune_files import tune_file
from service.web.bodies import sent_as
from service.web.parts import Asked, body_within, caller_of, house_of, language, problems
from service.web.problems import place
from service.web.served import file_answer

Track = Annotated[
    int | None,
    QueryParameter(
        ge=1,
        le=9_999_999,
        description="Of a MIDI file another track, by its number in the remark that names them.",
    ),
]
MOST_BYTES = 2 << 20  # of a file with tunes; ours: a book of hundreds in ABC is smaller


TuneFileOperation = sent_as(
    "application/octet-stream", "A file of ABC notation, MusicXML (plain or .mxl) or MIDI."
)


@post(
    "/v1/groups/{group:str}/tunes/files",
    tags=["tunes"],
    summary="Read the tunes in a file of ABC, MusicXML or MIDI, as they can be sent in",
    status_code=200,
    responses=problems(413, 422),
    operation_class=TuneFileOperation,
    request_max_body_size=None,
)
async def readings(request: Asked, group: FromPath[str], track: Track = None) -> TuneProposals:
    body = await body_within(request, MOST_BYTES, DomainError("too-large", most=MOST_BYTES))
    found = await read_tunes(house_of(request), caller_of(request), group, body, track)
    spoken = language(request)
    return TuneProposals(
        items=[_proposal(number, one, spoken) for number, one in found.tunes],
        not_read=[
            TuneNotReadOut(number=one.place, name=one.name, at=[place(fault, spoken) for fault in one.faults])
            for one in found.not_read
        ],
    )


def _proposal(number: int, one: TuneProposal, spoken: str) -> TuneProposalOut:
    return TuneProposalOut(
        number=number,
        name=one.name,
        key=one.key,
        mode=one.mode,
        meter=one.meter,
        tempo=TempoIn(low=one.tempo.low, high=one.tempo.high, start=one.tempo.start, unit=one.tempo.unit),  # type: ignore[arg-type]
        chart=one.chart,
        melody=one.melody,
        source=one.source,
        chords_proposed=one.proposed,
        unsure=[
            UnsureChordOut(part=two.part, measure=two.measure, proposed=two.proposed, other=two.other)
            for two in one.unsure
        ],
        remarks=[place(fault, spoken) for fault in one.remarks],
    )


@get(
    "/v1/groups/{group:str}/tunes/{tune:str}/files/{suffix:str}",
    tags=["tunes"],
    summary="A tune as a file: abc, musicxml or mid",
    media_type="application/octet-stream",
    responses=problems(422),
)
async def written(
    request: Asked, group: FromPath[str], tune: FromPath[str], suffix: FromPath[str]
) -> Response[bytes]:
    body = await asyncio.to_thread(tune_file, house_of(request), caller_of(request), group, tune, suffix)
    return file_answer(request, body, suffix, tune, hashlib.sha256(body).hexdigest()[:16])


ROUTES = [readings, written]
