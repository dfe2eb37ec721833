"""Health, metrics, instruments, and reading without keeping."""

from litestar import get, post
from litestar.params import JSONBody

from schemas.base import Response as Struct
from schemas.instruments import InstrumentList
from schemas.readings import ReadingIn, ReadingOut
from service.errors import Busy
from service.music.instruments import all_instruments
from service.usecases.identify import require
from service.usecases.readings import off_the_loop, read_any
from service.web.metrics import MEDIA_TYPE, exposition
from service.web.parts import Asked, caller_of, house_of, language, problems
from service.web.show import instrument_out, reading_out

READY_RETRY_S = 5


class Health(Struct):
    status: str


@get("/v1/health/live", tags=["health"], summary="Is the process there")
async def live() -> Health:
    return Health(status="ok")


@get("/v1/health/ready", tags=["health"], summary="Can it work: the database can be read and written")
async def ready(request: Asked) -> Health:
    if not await house_of(request).database.ready():
        raise Busy("not-ready", retry_after=READY_RETRY_S)
    return Health(status="ok")


@get(
    "/metrics",
    tags=["health"],
    summary="Counters in the Prometheus text format",
    media_type=MEDIA_TYPE,
    responses=problems(),
)
async def metrics(request: Asked) -> str:
    require(caller_of(request), "read-metrics")
    return exposition(house_of(request), request.app.state.measured)


@get("/v1/instruments", tags=["reading"], summary="Instruments, tunings, hand styles", responses=problems())
async def instruments() -> InstrumentList:
    return InstrumentList(items=[instrument_out(instrument) for instrument in all_instruments()])


@post(
    "/v1/tab/readings",
    tags=["reading"],
    summary="Read a tab or a one-line lick, keeping nothing",
    status_code=200,
    responses=problems(422),
)
async def read(request: Asked, data: JSONBody[ReadingIn]) -> ReadingOut:
    def work() -> ReadingOut:
        reading = read_any(
            data.text,
            data.instrument,
            tuning=data.tuning,
            meter=data.meter,
            measures=data.measures,
            columns=data.columns,
        )
        return reading_out(reading, language(request))

    return await off_the_loop(work, data.text)


ROUTES = [live, ready, metrics, instruments, read]
