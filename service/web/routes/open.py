"""Health, metrics, instruments, and reading without keeping."""

import time

from litestar import get, post
from litestar.params import JSONBody

from schemas.base import Response as Struct
from schemas.instruments import InstrumentList
from schemas.readings import ReadingIn, ReadingOut
from service.errors import Busy
from service.music.instruments import all_instruments
from service.usecases.identify import require
from service.usecases.readings import off_the_loop, read_any
from service.web.gate import Measured
from service.web.parts import Asked, caller_of, house_of, language, problems
from service.web.show import instrument_out, reading_out

READY_RETRY_S = 5


class Health(Struct):
    status: str


@get("/v1/health/live", tags=["health"], summary="Is the process there")
async def live() -> Health:
    return Health(status="ok")


@get("/v1/health/ready", tags=["health"], summary="Can it work: database readable, writer at work")
async def ready(request: Asked) -> Health:
    if not house_of(request).database.ready:
        raise Busy("not-ready", retry_after=READY_RETRY_S)
    return Health(status="ok")


@get(
    "/metrics",
    tags=["health"],
    summary="Counters in the Prometheus text format",
    media_type="text/plain",
    responses=problems(),
)
async def metrics(request: Asked) -> str:
    require(caller_of(request), "read-metrics")
    measured: Measured = request.app.state.measured
    lines = [
        "# TYPE breakwright_requests_total counter",
        *(
            f'breakwright_requests_total{{status="{status}"}} {count}'
            for status, count in sorted(measured.requests.items())
        ),
        "# TYPE breakwright_request_seconds_total counter",
        f"breakwright_request_seconds_total {measured.seconds:.6f}",
        "# TYPE breakwright_writes_waiting gauge",
        f"breakwright_writes_waiting {house_of(request).database.waiting}",
        "# TYPE breakwright_uptime_seconds gauge",
        f"breakwright_uptime_seconds {time.monotonic() - measured.started:.0f}",
    ]
    return "\n".join(lines) + "\n"


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
