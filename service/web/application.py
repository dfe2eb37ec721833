"""The web application: routes, error table, gate."""

import logging

from litestar import Litestar
from litestar.datastructures import State

from service.usecases.house import House
from service.web import openapi
from service.web.bodies import StrictRequest
from service.web.gate import Gate
from service.web.metrics import Measured
from service.web.problems import HANDLERS
from service.web.routes import (
    arrangements,
    breaks,
    challenges,
    evenings,
    files,
    groups,
    imports,
    judgements,
    leaving,
    lessons,
    lick_readings,
    licks,
    me,
    outbox,
    people,
    pool_care,
    practice,
    repertoire,
    reports,
    swap_table,
    taken_down,
    tokens,
    tune_files,
    tune_readings,
    tunes,
    variations,
)
from service.web.routes import open as open_routes

ROUTES = (
    *open_routes.ROUTES,
    *groups.ROUTES,
    *people.ROUTES,
    *me.ROUTES,
    *tokens.ROUTES,
    *tunes.ROUTES,
    *licks.ROUTES,
    *pool_care.ROUTES,
    *reports.ROUTES,
    *swap_table.ROUTES,
    *imports.ROUTES,
    *taken_down.ROUTES,
    *breaks.ROUTES,
    *arrangements.ROUTES,
    *files.ROUTES,
    *tune_files.ROUTES,
    *tune_readings.ROUTES,
    *lick_readings.ROUTES,
    *repertoire.ROUTES,
    *evenings.ROUTES,
    *lessons.ROUTES,
    *practice.ROUTES,
    *judgements.ROUTES,
    *challenges.ROUTES,
    *variations.ROUTES,
    *outbox.ROUTES,
    *leaving.ROUTES,
)


def make_web(house: House, log: logging.Logger) -> Gate:
    """The ASGI application over an open house. It owns nothing: closing the house is the caller's part."""
    measured = Measured()
    application = Litestar(
        route_handlers=[*ROUTES, openapi.schema],
        exception_handlers=HANDLERS,
        request_class=StrictRequest,
        request_max_body_size=house.settings.max_body_bytes,
        openapi_config=None,
        logging_config=None,
        state=State({"house": house, "measured": measured, "log": log, "routes": ROUTES}),
    )
    return Gate(application, house, log, measured)
